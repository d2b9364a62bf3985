"""Packing brought forward: the same season with days to spare, and nobody stays longer for it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from scheduler.audit import audit
from scheduler.models import loop
from scheduler.models.earlier import brought_forward
from scheduler.models.loop import PlanOptions, facts_of, plan_season
from scheduler.models.result import labour_cost, late_cost
from scheduler.plan.lots import Allocation
from scheduler.plan.types import Plan
from scheduler.season.types import Season
from tests.seasons import small_random


def packed_last(season: Season, plan: Plan | Allocation) -> int:
    """Packs that are packed on the last open day that is in time, or later."""
    last = {line.id: line.pack_by for line in facts_of(season, PlanOptions()).demand.lines}
    return sum(f.packs for f in plan.fills if f.packed and season.index(f.packed) >= last[f.line])


@pytest.mark.parametrize("seed", range(12))
def test_days_to_spare_cost_nothing(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """As much is short, pay and packing on the last day are no more, and who is in is in within the hours of before."""
    season = small_random(seed)
    with monkeypatch.context() as without:
        without.setattr(loop, "brought_forward", lambda _facts, given, _until: given)
        plan = plan_season(season, PlanOptions(effort=0.1))
    facts = facts_of(season, PlanOptions())
    given = Allocation(plan.lots, plan.fills, plan.shortfalls, plan.days)
    after = brought_forward(facts, given)
    assert after.weighted == given.weighted
    assert packed_last(season, after) <= packed_last(season, given)
    assert labour_cost(facts, after.days) <= labour_cost(facts, given.days)
    assert late_cost(facts, after) <= late_cost(facts, given)
    before = {(day.day, s.person): s for day in given.days for s in day.shifts}
    for day in after.days:
        for shift in day.shifts:
            old = before[day.day, shift.person]
            assert old.starts <= shift.starts <= shift.ends <= old.ends
    assert [day.designs for day in after.days] == [day.designs for day in given.days]
    whole = plan_season(season, PlanOptions(effort=0.1))
    assert audit(season, whole) == ()
    assert packed_last(season, whole) == packed_last(season, after)


def test_idle_minutes_of_the_day_before_are_used(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of these seasons some have people idle at the bench on the day before: with them less is left to the last day."""
    gained = 0
    monkeypatch.setattr(loop, "brought_forward", lambda _facts, given, _until: given)
    for seed in (2, 5, 8, 11):
        season = small_random(seed)
        plan = plan_season(season, PlanOptions(effort=0.1))
        given = Allocation(plan.lots, plan.fills, plan.shortfalls, plan.days)
        after = brought_forward(facts_of(season, PlanOptions()), given)
        gained += packed_last(season, given) - packed_last(season, after)
    assert gained > 0


def test_no_candy_is_packed_before_it_may_be() -> None:
    """Each pack's candy was made at least a day before, or as many as the kitchen asks for."""
    for seed in (3, 4):
        season = small_random(seed)
        plan = plan_season(season, PlanOptions(effort=0.1))
        made = {lot.id: lot.made for lot in plan.lots}
        waits = timedelta(days=season.kitchen.packing_from_days)
        days: list[tuple[date, date]] = [
            (fill.packed, made[draw.lot]) for fill in plan.fills if fill.packed for draw in fill.draws
        ]
        assert days and all(packed >= lot + waits for packed, lot in days)
