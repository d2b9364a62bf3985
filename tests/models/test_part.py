"""A part of the season planned anew: what stands is counted once, what is given back is asked again."""

from __future__ import annotations

import pytest
from scheduler.models.counts import part
from scheduler.models.counts.part import part_of
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.plan.lots import allocate
from tests.seasons import small_random, tiny


def shaped(seed: int):
    season = small_random(seed)
    facts = facts_of(season, PlanOptions())
    plan = plan_season(season, PlanOptions(effort=0.2))
    given = allocate(season, facts.demand, plan.days)
    return season, facts, {season.index(d.day): d for d in given.days}, given


def test_all_weeks_free_is_the_whole_season():
    """With every week free nothing stands: the part is as short as the plan, and all candy is made anew."""
    season, facts, days, given = shaped(3)
    here = part_of(facts, days, given, frozenset(facts.weeks))
    assert here.short() == given.weighted
    assert not here.settled and not here.stay
    assert {s.lot for s in here.facts.demand.supplies} <= {s.lot for s in facts.demand.supplies}


def test_what_stands_is_neither_lost_nor_counted_twice():
    """Packs that stay and packs given back are all packs; candy that stands is offered less what is drawn from it."""
    season, facts, days, given = shaped(3)
    for week in sorted(facts.weeks):
        here = part_of(facts, days, given, frozenset([week]))
        anew = sum(f.packs for f in here.fills)
        stay = sum(f.packs for f in here.stay)
        assert anew + stay == sum(f.packs for f in given.fills if f.packed is not None)
        free = {t for t in facts.days if facts.week(t) == week}
        assert free <= set(here.facts.days)
        assert all(s.made not in free and s.pieces > 0 for s in here.facts.demand.supplies)
        for line in here.facts.demand.lines:
            whole = next(n for n in facts.demand.lines if n.id == line.id)
            assert line.packs == whole.packs - sum(f.packs for f in here.stay if f.line == line.id)


def test_a_large_season_is_planned_from_its_end_and_then_between(monkeypatch: pytest.MonkeyPatch) -> None:
    """Six weeks, two at a time: first each week once, the last first, then those that lie across."""
    season = tiny(0, days=42, people=2, designs=1)
    facts = facts_of(season, PlanOptions())
    weeks = sorted(facts.weeks)
    monkeypatch.setattr(part, "LARGEST", 1)
    monkeypatch.setattr(part, "PART", len(facts.days) * len(season.designs) // 3)
    spans = [sorted(weeks.index(week) + 1 for week in span) for span in part.spans_of(facts)]
    assert spans == [[5, 6], [3, 4], [1, 2], [4, 5], [2, 3]]
    monkeypatch.setattr(part, "LARGEST", 10_000)
    assert part.spans_of(facts) == [frozenset(weeks)]
