"""Seasons drawn whole: sound, no better than HiGHS proves, the same on every run; pins: test_sketch_pins.py."""

from __future__ import annotations

import pickle
import time
from random import Random

import pytest
from ortools.math_opt.python import mathopt
from scheduler.audit import audit
from scheduler.models.caps.limits import DayLimits, most_in
from scheduler.models.counts import part
from scheduler.models.counts.relaxation import SeasonRelaxation
from scheduler.models.search import first_plan, loop
from scheduler.models.search.drawn import Drawn, _merged, _rounder, drawn, leave_out_hard_mixes, leave_time_in_weeks
from scheduler.models.search.first_plan import FirstPlan
from scheduler.models.search.fitting import Fitter
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.models.search.rounded import Rounder
from scheduler.models.search.sketch import add_slack, keep_pins
from scheduler.season.types import Season
from tests.benchmarks.generate import generated


def small(seed: int) -> Season:
    """Two weeks, four people, four designs, more wanted than can be made."""
    return generated(2, 4, 4, 12, 1, load=1.6, seed=seed)


def rounder_of(season: Season, missed: int | None = None) -> Rounder:
    facts = facts_of(season, PlanOptions())
    found = _rounder(pickle.dumps((facts, DayLimits(facts).copy(), missed)), None)
    assert found is not None
    return found


@pytest.mark.parametrize("seed", range(4))
def test_rounded_batches_are_no_better_than_highs_proves(seed: int) -> None:
    """Checked with HiGHS' own branch and bound on the same model, which knows nothing of minutes."""
    season = small(seed)
    facts = facts_of(season, PlanOptions())
    relaxation = SeasonRelaxation(facts, DayLimits(facts), None)
    relaxation.build()
    add_slack(relaxation, 1)
    leave_time_in_weeks(relaxation)
    leave_out_hard_mixes(relaxation)
    assert keep_pins(relaxation)
    proven = mathopt.solve(relaxation.model, mathopt.SolverType.HIGHS).dual_bound()
    rounder, random = Rounder(relaxation), Random(seed)
    best = rounder.first()
    assert best is not None and best.value >= proven - 1e-4 * max(1.0, proven)
    for _ in range(8):
        better = rounder.better(best, sorted(rounder.on), random)
        assert better is None or proven - 1e-4 * max(1.0, proven) <= better.value < best.value
        best = better or best


@pytest.mark.parametrize("seed", range(4))
def test_exchanged_batches_gain_and_keep_every_day(seed: int) -> None:
    """What is exchanged is less short, by the model solved anew, and each of its days is still found by hand."""
    rounder, random = rounder_of(generated(3, 4, 6, 30, 1, load=1.0, seed=seed)), Random(seed)
    best = first = rounder.first()
    assert best is not None and first is not None
    for _ in range(6):
        after = rounder.exchanged(best, sorted(rounder.on), random)
        assert after is None or after.value < best.value
        best = after or best
    assert len(rounder.plans(best)) == len(best.days)
    changed = [t for t in best.days if best.days[t] != first.days[t]]
    assert changed and all(len(best.days[t]) == len(first.days[t]) for t in changed)
    again = rounder_of(generated(3, 4, 6, 30, 1, load=1.0, seed=seed)).told(best.days, best.orders)
    assert again is not None and again.value == pytest.approx(best.value)


def test_prices_bound_what_an_exchange_gains() -> None:
    """By duality: the season of broken batches, with a batch exchanged, is no less short than its prices say."""
    rounder = rounder_of(generated(3, 4, 6, 30, 1, load=1.0, seed=2))
    best = rounder.first()
    assert best is not None and rounder.told(best.days, best.orders) is not None
    price = rounder.relaxed.duals()[1]
    for move in rounder._moves(best.days, sorted(best.days))[:40]:
        least = best.value
        for t, less, more in move:
            day = list(best.days[t])
            day[day.index(less)] = more
            rounder._fix(t, tuple(day))
            least += price[rounder.make[more, t]] - price[rounder.make[less, t]]
        found = rounder.relaxed.solve()
        assert least < best.value and (found is None or found[0] >= least - 1e-6 * best.value)
        for t, *_ in move:
            rounder._fix(t, best.days[t])
        rounder.relaxed.solve()


def test_each_day_that_is_drawn_is_found_by_hand() -> None:
    """Every day of the batches that were told is there to the minute."""
    rounder = rounder_of(small(1))
    best = rounder.first()
    assert best is not None
    assert len(rounder.plans(best)) == len(best.days)
    assert sorted(p.designs for p in rounder.plans(best)) == sorted(best.days.values())


@pytest.mark.parametrize("people, designs, seed", [(4, 6, 1), (5, 8, 0), (5, 8, 4), (5, 8, 6)])
def test_a_day_with_a_show_that_is_too_full_loses_another_batch(people: int, designs: int, seed: int) -> None:
    """With all shows held each day is found by hand, too: the batch of a show stays, though it gains least."""
    rounder = rounder_of(generated(3, people, designs, 30, 1, load=1.0, seed=seed), missed=0)
    best = rounder.first()
    assert best is not None
    assert len(rounder.plans(best)) == len(best.days)


def test_a_solution_that_was_told_comes_to_the_same() -> None:
    """By its batches and the whole orders that it serves, whatever was done in between."""
    rounder = rounder_of(small(2))
    best = rounder.first()
    assert best is not None
    rounder.better(best, sorted(rounder.on), Random(1))
    rounder.begin()
    told = rounder.told(best.days, best.orders)
    assert told is not None and told.value == pytest.approx(best.value)


@pytest.mark.parametrize("processes", [1, 2])
def test_a_season_is_drawn_the_same_on_every_run(processes: int) -> None:
    """In one process or in two: without a clock the batches are those of the first run."""
    facts = facts_of(small(3), PlanOptions())
    first = drawn(facts, DayLimits(facts), None)
    again = drawn(facts, DayLimits(facts), None, processes=processes)
    assert isinstance(first, Drawn) and again is not None
    assert again.wish == first.wish
    assert {d.designs for d in first.days} == {d.designs for d in again.days}


def test_nothing_is_drawn_when_the_clock_is_over() -> None:
    """The rule of thumb stands then."""
    facts = facts_of(small(1), PlanOptions())
    assert drawn(facts, DayLimits(facts), None, until=time.monotonic()) is None


def test_what_is_new_of_both_is_put_together() -> None:
    """Days that only one changed are taken over; of a day that both changed the first's."""
    before = {0: ("A",), 1: ("A",), 2: ("A",), 3: ("A",)}
    one, other = before | {1: ("B",), 2: ("B",)}, before | {2: ("C",), 3: ("C",)}
    assert _merged(before, [one, other]) == {0: ("A",), 1: ("B",), 2: ("B",), 3: ("C",)}


def test_a_family_of_designs_takes_no_more_than_its_cap() -> None:
    """What is usual of some designs alone: one batch at least where their cap allows one, never more than it."""
    facts = facts_of(small(2), PlanOptions())
    limits = DayLimits(facts)
    for t in facts.days:
        for designs, most in limits.caps(t):
            assert min(1, most) <= limits.usual(t, designs) <= most_in(limits.caps(t), designs) <= most


def watch(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """The start of each drawing that is asked for from now on."""
    asked: list[object] = []

    def watched(*args: object) -> Drawn | None:
        asked.append(args[-1])
        return drawn(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(first_plan, "drawn", watched)
    return asked


@pytest.mark.parametrize("share, asked", [(1.0, 1), (0.0, 0)])
def test_a_small_season_is_drawn_from_its_sketch_where_little_is_short(
    share: float, asked: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Little is what the share says; the plan that comes of it is sound, and no worse than the rule of thumb."""
    starts = watch(monkeypatch)
    monkeypatch.setattr(first_plan, "LITTLE", share)
    season = small(1)
    plan = plan_season(season, PlanOptions(effort=0.2))
    assert len(starts) == asked and all(starts)
    assert not audit(season, plan)
    assert sum(s.weighted for s in plan.shortfalls) <= plan.rule_of_thumb_weighted


@pytest.mark.parametrize(("least", "most", "enough"), [(0, 10**6, True), (10**6, 10**6, False), (0, 0, False)])
def test_a_season_between_small_and_large_is_not_drawn_all_the_time(
    least: int, most: int, enough: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It has its seconds by its size; a small or a large one a share of the clock that is left."""
    monkeypatch.setattr(part, "PART", least)
    monkeypatch.setattr(part, "LARGEST", most)
    facts = facts_of(small(1), PlanOptions())
    ends = list[float]()
    monkeypatch.setattr(first_plan, "drawn", lambda *args: ends.append(args[3]))
    limits = DayLimits(facts)
    fitter = Fitter(facts, limits)
    fitter.until = time.monotonic() + 1000
    FirstPlan(facts, limits, fitter, lambda _: 0, print, print)._drawn()
    share = part.size_of(facts) / first_plan.DRAWN_ENOUGH_IN_A_SECOND if enough else 1000 * first_plan.DRAWING
    assert ends[0] == pytest.approx(time.monotonic() + share, abs=5)


def test_a_drawing_from_a_plan_is_no_worse_than_its_days() -> None:
    """As short as the days of the start at most: here those that the rounder itself found, and some it knows not of."""
    facts = facts_of(small(0), PlanOptions())
    best = rounder_of(small(0)).first()
    assert best is not None
    lines: list[str] = []
    start = dict(best.days) | {999: ("Nothing",)}
    assert drawn(facts, DayLimits(facts), None, say=lines.append, start=start) is not None
    assert int(lines[0].split()[-2]) <= round(best.value)


def test_what_is_too_much_is_not_looked_for_in_place_of_a_day() -> None:
    """A day of one design was looked for in vain: others have a batch exchanged, also for a design they have."""
    rounder = rounder_of(generated(2, 4, 6, 30, 1, seed=2))
    facts, t = rounder.relaxation.facts, min(rounder.on)
    easy, other, *_ = sorted((d for d, _ in rounder.on[t]), key=lambda d: (facts.minutes_of(d), d))
    day = tuple(sorted((easy, easy, other)))
    cost = {design: float(n) for n, (design, _) in enumerate(rounder.on[t])}
    before = list(rounder._exchanges(t, day, cost))
    assert (easy,) * 3 in before and len(before) == 2 * (len(cost) - 1)
    rounder.too_much.add(rounder._asked(t, (easy,) * 3))
    after = list(rounder._exchanges(t, day, cost))
    assert after == [d for d in before if not rounder.too_much.covers(rounder._asked(t, d))]
    assert len(after) < len(before)


@pytest.mark.parametrize("seed", range(3))
def test_a_plan_drawn_again_is_no_worse(seed: int) -> None:
    """From its days, without slack: no more short than before, each day that changes found by hand."""
    season = generated(3, 4, 6, 30, 1, load=1.0, seed=seed)
    facts, best = facts_of(season, PlanOptions()), rounder_of(season).first()
    assert best is not None
    lines: list[str] = []
    found = drawn(facts, DayLimits(facts), None, say=lines.append, start=best.days, slack=False)
    assert found is not None
    assert int(lines[-1].split()[-2]) <= round(best.value)
    changed = {d for t, d in found.wish.batches.items() if d != best.days[t]}
    assert changed <= {day.designs for day in found.days}


def test_a_season_that_is_drawn_again_is_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    """After a turn of a season planned as one of thirteen weeks: drawn again from its days; the audit finds nothing."""
    asked: list[object] = []

    def watched(*args: object, **more: object) -> Drawn | None:
        asked.append(more)
        return drawn(*args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(loop, "drawn", watched)
    monkeypatch.setattr(part, "PART", 20)
    monkeypatch.setattr(loop, "WORTH_PROCESSES", 0)
    season = small(1)
    plan = plan_season(season, PlanOptions(effort=0.2))
    assert asked and all(more == {"slack": False} for more in asked)
    assert audit(season, plan) == ()


def test_a_plan_that_breaks_the_rules_of_the_drawing_is_no_start() -> None:
    """More batches on a day than it may hold: the drawing begins from nothing."""
    season = small(2)
    facts = facts_of(season, PlanOptions())
    full = {t: (season.designs[0].name,) * 99 for t in facts.days}
    assert rounder_of(season).told(full, {}) is None
    assert drawn(facts, DayLimits(facts), None, start=full) is not None


def test_a_season_planned_as_the_largest_are_is_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    """A small season planned as one of half a year is: drawn after the rule of thumb, and no worse than that."""
    monkeypatch.setattr(part, "PART", 20)
    monkeypatch.setattr(part, "LARGEST", 20)
    monkeypatch.setattr(loop, "WORTH_PROCESSES", 0)
    asked, season = watch(monkeypatch), small(1)
    plan = plan_season(season, PlanOptions(effort=0.2))
    assert asked == [None]
    assert not audit(season, plan)
    assert sum(s.weighted for s in plan.shortfalls) <= plan.rule_of_thumb_weighted
