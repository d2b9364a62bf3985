"""A part of the season planned anew: what stands is counted once, what is given back is asked again."""

from __future__ import annotations

from scheduler.models.loop import PlanOptions, facts_of, plan_season
from scheduler.models.part import part_of
from scheduler.plan.lots import allocate
from tests.seasons import small_random


def shaped(seed: int):
    season = small_random(seed)
    facts = facts_of(season, PlanOptions())
    plan = plan_season(season, PlanOptions(effort=0.2))
    given = allocate(season, facts.demand, plan.days)
    return season, facts, {season.index(d.day): d for d in given.days}, given


def test_all_weeks_free_is_the_whole_season():
    """With every week free nothing stands: the part is as short as the plan, and all candy is made anew."""
    season, facts, days, given = shaped(3)
    part = part_of(facts, days, given, frozenset(facts.weeks))
    assert part.short() == given.weighted
    assert not part.settled and not part.stay
    assert {s.lot for s in part.facts.demand.supplies} <= {s.lot for s in facts.demand.supplies}


def test_what_stands_is_neither_lost_nor_counted_twice():
    """Packs that stay and packs given back are all packs; candy that stands is offered less what is drawn from it."""
    season, facts, days, given = shaped(3)
    for week in sorted(facts.weeks):
        part = part_of(facts, days, given, frozenset([week]))
        anew = sum(f.packs for f in part.fills)
        stay = sum(f.packs for f in part.stay)
        assert anew + stay == sum(f.packs for f in given.fills if f.packed is not None)
        free = {t for t in facts.days if facts.week(t) == week}
        assert free <= set(part.facts.days)
        assert all(s.made not in free and s.pieces > 0 for s in part.facts.demand.supplies)
        for line in part.facts.demand.lines:
            whole = next(n for n in facts.demand.lines if n.id == line.id)
            assert line.packs == whole.packs - sum(f.packs for f in part.stay if f.line == line.id)
