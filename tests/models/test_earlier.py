"""Packing brought forward: the same season with days to spare, in idle minutes or in the hours of contracts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from scheduler.audit import audit
from scheduler.models.counts.days import Book
from scheduler.models.counts.result import labour_cost, late_cost
from scheduler.models.search import loop
from scheduler.models.search.earlier import _Moving, brought_forward
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.plan.lots import Allocation
from scheduler.plan.types import Plan
from scheduler.season.types import Season
from tests.seasons import small_random


def packed_last(season: Season, plan: Plan | Allocation, days: int = 1) -> int:
    """Packs that are packed on one of so many last open days that are in time, or later."""
    facts = facts_of(season, PlanOptions())
    last = {line.id: [t for t in facts.days if t <= line.pack_by][-days:] for line in facts.demand.lines}
    return sum(f.packs for f in plan.fills if f.packed and season.index(f.packed) >= min(last[f.line], default=0))


def as_planned(monkeypatch: pytest.MonkeyPatch, season: Season) -> Allocation:
    """A plan before packing is brought forward."""
    with monkeypatch.context() as without:
        without.setattr(loop, "brought_forward", lambda _facts, given, _until: given)
        plan = plan_season(season, PlanOptions(effort=0.1))
    return Allocation(plan.lots, plan.fills, plan.shortfalls, plan.days)


@pytest.mark.parametrize("seed", range(12))
def test_days_to_spare_cost_nothing(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """As much is short, pay and packing on the last day are no more, and who is in is in within the hours of before."""
    season = small_random(seed)
    facts, given = facts_of(season, PlanOptions()), as_planned(monkeypatch, season)
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
    for seed in (2, 5, 8, 11):
        season = small_random(seed)
        given = as_planned(monkeypatch, season)
        after = brought_forward(facts_of(season, PlanOptions()), given)
        gained += packed_last(season, given) - packed_last(season, after)
    assert gained > 0


@pytest.mark.parametrize("seed", range(8))
def test_contracts_are_used_for_days_to_spare(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """As much is short, nobody else comes in, no week is longer than the contract for it, and no rule is broken."""
    season = small_random(seed)
    wanted = replace(season, kitchen=replace(season.kitchen, spare_days=2))
    facts, given = facts_of(wanted, PlanOptions()), as_planned(monkeypatch, season)
    after = brought_forward(facts, given)
    assert after.weighted == given.weighted
    for days in (1, 2):
        assert packed_last(season, after, days) <= packed_last(season, given, days)
    for old, new in zip(given.days, after.days, strict=True):
        assert {s.person for s in new.shifts} <= {s.person for s in old.shifts}
    before, paid = (Book(facts, {season.index(d.day): d for d in days}) for days in (given.days, after.days))
    for person in season.crew:
        for week in facts.weeks:
            most = max(person.contracted_minutes, before.paid_in(person.name, week, -1))
            assert paid.paid_in(person.name, week, -1) <= most
    assert audit(wanted, plan_season(wanted, PlanOptions(effort=0.1))) == ()


def test_contracts_leave_more_to_spare_than_idle_minutes(monkeypatch: pytest.MonkeyPatch) -> None:
    """These seasons have hours of contracts left on days before: with them less is packed on the last day."""
    idle = contracts = 0
    for seed in (36, 38, 58, 59):
        season = small_random(seed)
        given = as_planned(monkeypatch, season)
        wanted = replace(season, kitchen=replace(season.kitchen, spare_days=1))
        idle += packed_last(season, brought_forward(facts_of(season, PlanOptions()), given))
        contracts += packed_last(season, brought_forward(facts_of(wanted, PlanOptions()), given))
    assert contracts < idle


def test_hours_of_a_contract_are_given_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where somebody stays longer on one day of a week for packs, another day of it has those hours no more."""
    found = 0
    for seed in range(6):
        season = small_random(seed)
        wanted = replace(season, kitchen=replace(season.kitchen, spare_days=1))
        facts, given = facts_of(wanted, PlanOptions()), as_planned(monkeypatch, season)
        moving = _Moving(facts, given, 1)
        pairs = [(t, u) for t in moving.days for u in moving.days if t < u and facts.week(t) == facts.week(u)]
        for one, other in pairs:
            for shift in moving.days[one].shifts:
                length = {s.person: s.ends - s.starts for s in moving.days[other].shifts}.get(shift.person)
                before = {h.person: h.longest for h in moving._hands(other, moving.days)}.get(shift.person)
                if length is None or before is None or before == length:
                    continue
                longer = replace(shift, ends=shift.ends + facts.person(shift.person).contracted_minutes)
                shifts = tuple(longer if s is shift else s for s in moving.days[one].shifts)
                days = moving.days | {one: replace(moving.days[one], shifts=shifts)}
                after = {h.person: h.longest for h in moving._hands(other, days)}
                assert after[shift.person] == length
                found += 1
    assert found


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
