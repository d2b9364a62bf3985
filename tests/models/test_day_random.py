"""Days of random small kitchens: every plan is clean in the eyes of the audit, answers agree and repeat."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from scheduler.models.caps.limits import request_with_all
from scheduler.models.caps.most import most
from scheduler.models.caps.oracle import DayOracle, dated
from scheduler.models.day.fit import DayAnswer, fit_day
from scheduler.models.search.loop import PlanOptions, facts_of
from scheduler.models.solvers.engine import Limits, Status
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.types import DayPlan
from scheduler.season import rules
from scheduler.season.types import Changeover, Season, Stage, StageException
from tests.benchmarks.generate import generated
from tests.models.day_kitchen import DAY, OPENS, assert_sound, fits, kitchen, request
from tests.seasons import small_random


def hands_of(season: Season, day: date, must: frozenset[str] = frozenset()) -> tuple[Hand, ...]:
    """Everyone who can come on a day."""
    out = []
    for person in season.crew:
        stretch = rules.presence(season, person, day)
        if stretch is not None:
            longest = rules.longest_shift(season, person)
            out.append(Hand(person.name, *stretch, longest, person.pulls_day, person.name in must))
    return tuple(out)


def random_day(season: Season, seed: int) -> DayRequest:
    """A day of up to four batches and two products, with some people called in."""
    rng = random.Random(seed)
    day = rng.choice([d for d in season.days if rules.opening(season, d)])
    usable = [d.name for d in season.designs if d.from_day is None or d.from_day <= day]
    usable = [d for d in usable if not any(p.day == day and p.kind == "do not make" for p in season.pins)]
    batches = 0 if any(p.day == day and p.kind == "no making" for p in season.pins) else rng.randint(0, 4)
    designs = tuple(sorted(rng.choice(usable) for _ in range(batches if usable else 0)))
    products = rng.sample([p.name for p in season.products], rng.randint(0, 2))
    must = frozenset(p.name for p in season.crew if rng.random() < 0.2)
    off = {p.person for p in season.pins if p.kind == "off" and p.day == day}
    hands = tuple(h for h in hands_of(season, day, must) if h.person not in off)
    packing = tuple(sorted((p, rng.randint(1, 60)) for p in products))
    held = frozenset(s.name for s in rules.shows_on(season, day) if rng.random() < 0.5)
    return DayRequest(day, designs, packing, hands, held)


def wages(season: Season, day: DayPlan) -> int:
    """Cents that a day's shifts cost, without overtime."""
    sixtieths = 0
    for shift in day.shifts:
        minutes = shift.ends - shift.starts
        if shift.break_starts is not None and not season.kitchen.break_paid:
            minutes -= season.kitchen.break_minutes
        sixtieths += minutes * season.person_by_name[shift.person].wage_cents
    return (sixtieths + 30) // 60


@pytest.mark.parametrize("seed", range(40))
def test_any_day_is_sound(seed: int) -> None:
    """Whatever day is found keeps every rule; pins that ask for work are the season's matter."""
    season = small_random(seed)
    season = replace(season, pins=tuple(p for p in season.pins if p.kind not in ("make", "works")))
    asked = random_day(season, seed)
    answer = fit_day(season, asked, Limits(effort=1), "any")
    assert (answer.plan is not None) == answer.status.solved
    if answer.plan is not None:
        assert_sound(season, asked, answer.plan)


@pytest.mark.parametrize("seed", range(60, 68))
def test_cheapest_day_is_sound_and_bounded(seed: int) -> None:
    """The cheapest day is sound, costs what its shifts cost, and not less than its bound."""
    season = small_random(seed)
    season = replace(season, pins=())
    asked = random_day(season, seed)
    answer = fit_day(season, asked, Limits(effort=0.6))
    if answer.plan is None:
        assert fit_day(season, asked, Limits(effort=1), "any").status is not Status.OPTIMAL
        return
    assert_sound(season, asked, answer.plan)
    assert answer.cost is not None
    assert wages(season, answer.plan) <= answer.cost
    assert answer.bound is None or answer.bound <= answer.cost


@pytest.mark.parametrize("seed", range(60, 76))
def test_a_day_gets_cheaper_from_where_it_is(seed: int) -> None:
    """From a day that does what is asked: another one that is sound and costs no more; no start, no answer."""
    season = replace(small_random(seed), pins=())
    asked = random_day(season, seed)
    start = fit_day(season, asked, Limits(effort=1), "any").plan
    if start is None:
        return
    answer = fit_day(season, asked, Limits(effort=0.1), "cheapest", start)
    assert answer.plan is not None
    assert_sound(season, asked, answer.plan)
    assert answer.cost is not None
    assert answer.cost <= wages(season, start)
    less = replace(start, shifts=start.shifts[:-1])
    if start.shifts:
        assert fit_day(season, asked, Limits(effort=0.1), "cheapest", less).plan is None


def test_same_day_twice_is_the_same_plan() -> None:
    """Limits in effort, one worker: the same question has the same answer."""
    season = small_random(3)
    asked = random_day(season, 3)
    assert fit_day(season, asked, Limits(effort=0.5)) == fit_day(season, asked, Limits(effort=0.5))


@pytest.fixture
def fitted(monkeypatch: pytest.MonkeyPatch) -> list[DayRequest]:
    """The days that an oracle really has fitted."""
    days: list[DayRequest] = []

    def noted(season: Season, request: DayRequest, *more: Any) -> DayAnswer:
        days.append(request)
        return fit_day(season, request, *more)

    monkeypatch.setattr("scheduler.models.caps.oracle.fit_day", noted)
    return days


def test_oracle_remembers_alike_days(fitted: list[DayRequest]) -> None:
    """Two days with the same work, and hands in another order, are one solve."""
    season = small_random(1)
    season = replace(season, absences=(), availability=(), shows=(), special_days=(), pins=())
    oracle = DayOracle(season)
    design = season.designs[0].name
    first, second = season.days[0], season.days[1]
    assert oracle.fits(DayRequest(first, (design,), (), hands_of(season, first))) is Status.OPTIMAL
    assert oracle.fits(DayRequest(second, (design,), (), hands_of(season, second)[::-1])) is Status.OPTIMAL
    assert len(fitted) == 1


def test_a_day_on_another_date_has_its_ids() -> None:
    """Batch ids begin with the month and day on which they are made."""
    season = kitchen()
    plan = fit_day(season, request(season, "Kite"), Limits(effort=0.5), "any").plan
    assert plan is not None and plan.batches[0].id == f"{DAY:%m%d}-1"
    later = dated(plan, DayRequest(date(2027, 2, 9), ("Kite",), (), ()))
    assert (later.day, later.batches[0].id) == (date(2027, 2, 9), "0209-1")


def test_oracle_tells_hands_apart(fitted: list[DayRequest]) -> None:
    """One skill less is another day."""
    season = kitchen()
    oracle = DayOracle(season)
    asked = request(season, "Kite")
    assert oracle.fits(asked) is Status.OPTIMAL
    assert oracle.fits(replace(asked, hands=asked.hands[:1])) is Status.INFEASIBLE
    assert len(fitted) == 2


@pytest.mark.parametrize(("closes", "held"), [(8 * 60 + 90, 2), (8 * 60 + 89, 1)])
def test_most_by_hand(closes: int, held: int) -> None:
    """With two people who both shape, a batch takes 45 minutes: two in an hour and a half."""
    season = kitchen(closes)
    assert most(season, request(season), {"Kite": 1, "Moon": 1}).limit == held
    assert most(season, request(season), {"Kite": 3, "Moon": 1}).limit == 3 * held


def test_most_waits_for_nothing_before_the_first_stage_that_a_design_has() -> None:
    """Shaping may start 3 minutes after the pour, which Kite does without: two Kites in an hour, not one."""
    stages = (Stage("pour", "kettle", 15), Stage("shape", "table", 30, wait_from=3, wait_to=3))
    season = kitchen(OPENS + 60, people=("Ada", "Ben"), stages=stages, exceptions=(StageException("Kite", "pour", 0),))
    assert most(season, request(season), {"Kite": 1}).limit == 2
    assert fits(season, request(season, "Kite", "Kite"))


@pytest.mark.parametrize("seed", range(8))
def test_most_is_never_less_than_a_real_day(seed: int) -> None:
    """Whatever a real day holds is within the bound."""
    season = replace(small_random(seed), pins=())
    asked = replace(random_day(season, seed), packing=(), held=frozenset())
    if fit_day(season, asked, Limits(effort=1), "any").plan is not None:
        weights = {d.name: i + 1 for i, d in enumerate(season.designs)}
        for cleaned in (False, True):
            found = most(season, asked, weights, Limits(effort=0.5), cleaned)
            assert found.limit >= sum(weights[d] for d in asked.designs)


@pytest.mark.parametrize("seed", range(6))
def test_most_with_cleaning_is_never_less_than_a_real_day(seed: int) -> None:
    """Days of five people in which batches come back to the table: what fits is within it; with cleaning no more."""
    season = generated(2, 5, 8, 12, 1, seed=seed)
    facts = facts_of(season, PlanOptions())
    rng, t = random.Random(seed), facts.days[1]
    weights = {d.name: rng.randint(1, 9) for d in season.designs}
    everyone = request_with_all(facts, t, ())
    limit = most(season, everyone, weights, Limits(effort=1), cleaned=True).limit
    assert limit <= most(season, everyone, weights, Limits(effort=1)).limit
    for _ in range(60):
        asked = request_with_all(facts, t, rng.choices(sorted(facts.wanted), k=rng.randint(4, 7)))
        if fit_day(season, asked, want="by hand").plan is not None:
            assert sum(weights[d] for d in asked.designs) <= limit


@pytest.mark.parametrize(("minutes", "best"), [(10, 4), (11, 3)])
def test_most_with_cleaning_by_hand(minutes: int, best: int) -> None:
    """Pour 15, a light one on the table for 30, a dark one for 45: of 100 minutes 10 are left to clean between them."""
    designs = tuple(replace(d, colour=n) for n, d in enumerate(kitchen().designs, start=1))
    changes = tuple(Changeover(kind, "table", minutes) for kind in ("light to dark", "dark to light"))
    longer = (StageException("Moon", "shape", 45),)
    people = ("Ada", "Ben", "Cleo", "Dov")
    season = kitchen(OPENS + 100, people, designs=designs, changeovers=changes, exceptions=longer)
    asked, weights = request(season, "Kite", "Moon"), {"Kite": 1, "Moon": 3}
    assert fits(season, asked) is (best == 4)
    assert most(season, asked, weights).limit == 4
    assert most(season, asked, weights, cleaned=True).limit == best


def test_closed_day_holds_nothing() -> None:
    """No batch on a closed day."""
    season = kitchen()
    assert most(season, replace(request(season), day=date(2027, 2, 2)), {"Kite": 1}).limit == 0
    assert most(season, request(season), {"Kite": 0}).limit == 0
    assert season.days[0] == DAY
