"""Packing laid out anew on days that stand: the same packs, nobody in for longer, no more runs and no more pay."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.models.day.pack_in import pack_in
from scheduler.models.search import loop
from scheduler.models.search.cheaper import wages
from scheduler.models.search.fewer_runs import in_fewer_runs
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.plan.types import DayPlan
from tests.models.day_kitchen import assert_sound, kitchen, plan_of, request
from tests.seasons import small_random


def test_packs_put_in_a_few_at_a_time_become_one_run() -> None:
    """One batch, 9 packs put in by threes where a minute was idle: one run of 9, the batch as it was."""
    season = kitchen()
    asked = request(season, "Kite")
    day: DayPlan | None = plan_of(season, asked)
    for first in ("Ada", "Ben", "Ada"):
        assert day is not None
        day = pack_in(season, replace(asked, packing=(("Kite bag", 3),)), day, first=(first,))
    assert day is not None
    assert len(day.packing) > 1
    after = in_fewer_runs(facts_of(season, PlanOptions()), day)
    assert [run.packs for run in after.packing] == [9]
    assert after.batches == day.batches
    assert_sound(season, replace(asked, packing=(("Kite bag", 9),)), after)


def test_who_is_in_to_pack_begins_when_they_come() -> None:
    """A day of packing alone that lost what was packed first to another day: no waiting before the first pack."""
    season = kitchen()
    asked = request(season, packing=(("Kite bag", 9),))
    day = pack_in(season, asked, replace(plan_of(season, request(season)), shifts=()))
    assert day is not None
    (shift,), (run,) = day.shifts, day.packing
    late = replace(day, packing=(replace(run, starts=run.starts + 30, ends=run.ends + 30),))
    late = replace(late, shifts=(replace(shift, ends=shift.ends + 30),))
    after = in_fewer_runs(facts_of(season, PlanOptions()), late)
    assert after.packing[0].starts == shift.starts


@pytest.mark.parametrize("seed", range(10))
def test_nobody_is_in_for_longer_and_no_pack_is_lost(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """Against the same season as it was planned before: packs, batches and shifts of every day, pay and runs."""
    season = small_random(seed)
    with monkeypatch.context() as without:
        without.setattr(loop, "in_fewer_runs", lambda _facts, day: day)
        plan = plan_season(season, PlanOptions(effort=0.1))
    facts = facts_of(season, PlanOptions())
    for day in plan.days:
        after = in_fewer_runs(facts, day)
        assert after.packs == day.packs
        assert after.designs == day.designs
        assert (wages(facts, after), len(after.packing)) <= (wages(facts, day), len(day.packing))
        before = {s.person: s for s in day.shifts}
        for shift in after.shifts:
            assert before[shift.person].starts <= shift.starts <= shift.ends <= before[shift.person].ends
