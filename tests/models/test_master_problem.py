"""The relaxation made of known days: rules of people that go beyond a day, and who is served."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from scheduler.models.caps.limits import DayLimits
from scheduler.models.search.column_generation import known_days
from scheduler.models.search.fitting import BY_HAND, Fitter
from scheduler.models.search.loop import PlanOptions, facts_of, fit_whole
from scheduler.models.search.master_problem import MasterProblem
from scheduler.models.search.thumb import rule_of_thumb
from scheduler.plan.summary import pulls_by_person
from scheduler.plan.types import DayPlan
from scheduler.season.types import Pin, Season
from tests.benchmarks.generate import generated


def known(season: Season) -> tuple[MasterProblem, dict[int, DayPlan]]:
    """The season of all days that are known after a plan by rule of thumb, and that plan."""
    facts = facts_of(season, PlanOptions())
    limits = DayLimits(facts)
    fitter = Fitter(facts, limits)
    thumb = fit_whole(facts, fitter, rule_of_thumb(facts, limits), BY_HAND)
    now = {season.index(d.day): d for d in thumb.given.days}
    return MasterProblem(facts, limits, known_days(facts, now, fitter, 40)), now


@pytest.mark.parametrize("seed", range(4))
def test_what_is_chosen_keeps_the_weeks_of_people(seed: int) -> None:
    """Added up from the days themselves: paid minutes and pulls of each ISO week, and days in a row."""
    season = generated(3, 4, 6, 30, 1, load=1.6, seed=seed)
    board, now = known(season)
    answer = board.chosen(now, 0.0, None, 1)
    assert answer.wish is not None
    by_day = {t: [day for day, use in uses if use.lower_bound == 1] for t, uses in board.columns.items()}
    paid, pulls, present = Counter[tuple[str, int]](), Counter[tuple[str, int]](), set[tuple[str, int]]()
    for t, days in by_day.items():
        week = season.days[t].isocalendar().week
        for shift in (s for day in days for s in day.shifts):
            rest = 0 if shift.break_starts is None or season.kitchen.break_paid else season.kitchen.break_minutes
            paid[shift.person, week] += shift.ends - shift.starts - rest
            present.add((shift.person, t))
        for day in days:
            pulls.update({(person, week): count for person, count in pulls_by_person(season, day).items()})
    for person in season.crew:
        for week in {w for n, w in paid if n == person.name}:
            most = person.longest_minutes if person.overtime else person.contracted_minutes
            assert paid[person.name, week] <= min(most, person.longest_minutes)
            assert pulls[person.name, week] <= person.pulls_week
        row = season.kitchen.days_in_a_row + 1
        assert not any(all((person.name, t + k) in present for k in range(row)) for t in range(len(season.days)))


@pytest.mark.parametrize("seed", range(3))
def test_whole_days_are_no_better_than_broken_ones(seed: int) -> None:
    """As short as the broken season at least, and no shorter than the plan that is among the choices."""
    board, now = known(generated(3, 4, 6, 30, 1, load=1.3, seed=seed))
    broken = board.solve_lp()
    answer = board.chosen(now, 0.0, None, 1)
    assert broken is not None and answer.shortfall is not None and answer.wish is not None
    paid = sum(board.costs[use.id] for uses in board.columns.values() for _, use in uses if use.lower_bound == 1)
    assert broken.value <= answer.shortfall + paid + 1
    weights = {line.id: line for line in board.facts.demand.lines}
    got = Counter(answer.wish.fills) + Counter(answer.wish.late)
    short = sum(n.weight * (n.packs - got[n.id]) for n in weights.values() if n.partial)
    short += sum(n.whole_weight * (got[n.id] < n.packs) for n in weights.values() if not n.partial and n.packs)
    assert short >= answer.shortfall - 1


def test_pins_are_kept_or_there_is_no_season() -> None:
    """A batch that is pinned on a day of which none is known with it: no prices; else it is among what is chosen."""
    season = generated(2, 4, 6, 30, 1, load=1.3, seed=1)
    board, now = known(season)
    t = next(t for t in now if now[t].batches)
    inside = {d for day, _ in board.columns[t] for d in day.designs}
    there, away = now[t].designs[0], next((d.name for d in season.designs if d.name not in inside), None)
    pinned = replace(season, pins=(Pin("make", season.days[t], design=there, batches=1),))
    board, now = known(pinned)
    answer = board.chosen(now, 0.0, None, 1)
    assert answer.wish is not None and there in answer.wish.batches[t]
    if away is not None:
        facts = facts_of(replace(season, pins=(Pin("make", season.days[t], design=away, batches=1),)), PlanOptions())
        assert MasterProblem(facts, board.limits, {t: [now[t]]}).solve_lp() is None


def test_a_season_with_other_known_days_starts_where_one_stopped() -> None:
    """All variables but the shares of days are called the same in both."""
    board, now = known(generated(2, 4, 6, 30, 1, load=1.3, seed=2))
    fewer = MasterProblem(board.facts, board.limits, {t: days[:2] for t, days in board.known.items()})
    assert {name for name in fewer.names() if not isinstance(name, tuple)} == {
        name for name in board.names() if not isinstance(name, tuple)
    }
    assert len(set(board.names())) == len(board.names())
    first, again = fewer.solve_lp(), board.solve_lp(basis=fewer.solve_lp().basis)  # type: ignore[union-attr]
    assert first is not None and again is not None and again.value <= first.value + 1e-6
