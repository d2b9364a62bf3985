"""A changed season planned onward from a plan: the bound is that from scratch, nobody loses, every rule is kept."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.answers import onward
from scheduler.answers.onward import given_anew, plan_onward
from scheduler.audit import audit
from scheduler.models.no_plan import NoPlan
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.plan.types import Plan
from scheduler.season.types import Order, Season, Skill, Station
from tests.answers.hand import day, kitchen
from tests.trust.answers import overloaded

CARE = PlanOptions(effort=0.3, workers=1)
PLACES = (Station("bench", 2), Station("packing bench", 2))


def order(name: str, packs: int, due: int) -> Order:
    return Order(name, "Kite jar", packs, day(due))


def three_weeks() -> Season:
    """Seventeen making days of two batches in three weeks make 34; 40 are wanted."""
    return replace(kitchen(18), orders=(order("A", 30, 18), order("B", 10, 12)))


@pytest.fixture(scope="module")
def planned() -> tuple[Season, Plan]:
    season = three_weeks()
    return season, plan_season(season, CARE)


def stage(plan: Plan, name: str) -> tuple[int, int]:
    found = next(s for s in plan.stages if s.name == name)
    return found.value, found.bound or 0


def test_the_bound_is_that_of_a_fresh_plan_and_the_figure_within_its_gap(planned: tuple[Season, Plan]) -> None:
    """A second bench: both prove the same bound; neither is below it; what is short gets less."""
    season, plan = planned
    assert stage(plan, "shortfall")[0] > 0
    more = replace(season, stations=PLACES)
    after, fresh = plan_onward(more, plan, CARE), plan_season(more, CARE)
    (short, least), (fresh_short, fresh_least) = stage(after, "shortfall"), stage(fresh, "shortfall")
    assert least == fresh_least
    assert abs(short - fresh_short) <= max(short, fresh_short) - least
    assert short < stage(plan, "shortfall")[0]
    assert audit(more, after) == ()


def test_what_changes_nothing_leaves_everybody_as_they_were(planned: tuple[Season, Plan]) -> None:
    """The same season again: nobody gets less, and days that gain nothing stay as they are."""
    season, plan = planned
    given = given_anew(facts_of(season, CARE), plan)
    assert given.given.weighted <= stage(plan, "shortfall")[0]
    after = plan_onward(season, plan, CARE)
    assert stage(after, "shortfall")[0] <= stage(plan, "shortfall")[0]


def test_days_that_no_longer_hold_are_planned_from_scratch(planned: tuple[Season, Plan]) -> None:
    """Somebody's whole skill is gone: the old days break rules, the audit says so, and all is planned anew."""
    season, plan = planned
    less = replace(season, skills=(Skill("BB", "building", 1),))
    after = plan_onward(less, plan, CARE)
    assert audit(less, after) == ()


def test_a_short_season_is_planned_from_scratch(planned: tuple[Season, Plan], monkeypatch: pytest.MonkeyPatch) -> None:
    """Two weeks are one turn of the search: nothing would stay."""
    season = replace(kitchen(6), orders=(order("A", 20, 6),))
    monkeypatch.setattr(onward, "_fuller", None)  # not even looked at
    assert plan_onward(season, planned[1], CARE) == plan_season(season, CARE)


def test_time_that_runs_out_ends_it_with_what_is_there(planned: tuple[Season, Plan]) -> None:
    """No time for any day more: sound, nobody has less, and no batch is added."""
    season, plan = planned
    more = replace(season, stations=PLACES)
    after = plan_onward(more, plan, replace(CARE, seconds=0.0))
    assert audit(more, after) == ()
    assert stage(after, "shortfall")[0] <= stage(plan, "shortfall")[0]
    assert sum(len(d.batches) for d in after.days) == sum(len(d.batches) for d in plan.days)


@pytest.fixture(scope="module")
def keeps_longer() -> tuple[Season, Plan]:
    """Daisy that keeps longer may be made while there is room, if others move: filling up alone mends none of it."""
    season = overloaded(8)
    plan = plan_season(season, CARE)
    designs = tuple(replace(d, sell_by_days=d.sell_by_days + 30 * (d.name == "Daisy")) for d in season.designs)
    return replace(season, designs=designs), plan


def test_weeks_are_planned_anew_where_the_plan_is_far_from_its_bound(
    keeps_longer: tuple[Season, Plan], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where moving one batch is not enough the season's search moves more; the bound is the same."""
    longer, plan = keeps_longer
    after = plan_onward(longer, plan, CARE)
    assert audit(longer, after) == ()
    monkeypatch.setattr(onward, "_spans", lambda _search: [])
    filled = plan_onward(longer, plan, CARE)
    assert stage(after, "shortfall")[0] < stage(filled, "shortfall")[0]
    assert stage(after, "shortfall")[1] == stage(filled, "shortfall")[1]


def test_what_the_bound_rules_out_is_told_at_once(planned: tuple[Season, Plan]) -> None:
    """No plan below what is short already: nothing is planned."""
    season, plan = planned
    with pytest.raises(NoPlan, match="mends nothing"):
        plan_onward(season, plan, CARE, below=stage(plan, "shortfall")[1])
