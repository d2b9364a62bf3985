"""Do a plan and a season belong together: what the plan names and the season does not know, and what is past."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from scheduler.audit.belongs import past_that_fits_no_more, strangers
from scheduler.plan.types import Plan
from scheduler.season.types import Absence, Season
from tests.handmade import MONDAY, TUESDAY, handmade_plan, handmade_season


def later(season: Season) -> Season:
    return replace(season, kitchen=replace(season.kitchen, first_day=TUESDAY))


def without_stage(season: Season) -> Season:
    return replace(season, stages=season.stages[1:])


def test_a_plan_belongs_to_its_own_season() -> None:
    """Nothing strange in it, and its past is as the tables say."""
    season, plan = handmade_season(), handmade_plan()
    assert strangers(season, plan) == ()
    assert past_that_fits_no_more(season, plan, date.max) == ""


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda s: replace(s, crew=s.crew[1:]), "is in the plan and not in crew: leave its row"),
        (lambda s: replace(s, designs=s.designs[1:]), "is made in the plan and not in designs: leave its row"),
        (lambda s: replace(s, products=s.products[1:]), "is packed in the plan and not in products: leave its row"),
        (lambda s: replace(s, orders=s.orders[1:]), "not in orders or forecasts: leave its row"),
        (later, f"{MONDAY} is in the plan, and the season runs from {TUESDAY} to"),
        (without_stage, "is in the plan and not in stages: leave its row in the season"),
        (lambda s: replace(s, kitchen=replace(s.kitchen, name="Elsewhere")), "the season is of Elsewhere."),
    ],
)
def test_what_the_season_does_not_know_is_named(change: Callable[[Season], Season], says: str) -> None:
    """Rows that were deleted instead of marked, another season, another kitchen."""
    found = strangers(change(handmade_season()), handmade_plan())
    assert any(says in sentence for sentence in found), found


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda p: replace(p, days=(p.days[1], p.days[0], *p.days[2:])), f"The plan has {MONDAY} after {TUESDAY}."),
        (lambda p: replace(p, days=(p.days[0], *p.days)), f"The plan has {MONDAY} after {MONDAY}."),
        (lambda p: replace(p, stages=()), "does not say what is short"),
        (
            lambda p: replace(p, days=(replace(p.days[0], batches=(replace(p.days[0].batches[0], runs=()),)),)),
            "Batch 0302-1 of the plan has no stages.",
        ),
    ],
)  # fmt: skip
def test_a_plan_that_no_command_writes_is_named(change: Callable[[Plan], Plan], says: str) -> None:
    """Days out of order or twice, no figures, a batch of nothing."""
    assert any(says in sentence for sentence in strangers(handmade_season(), change(handmade_plan())))


def test_only_the_past_is_held_against_tables_that_changed() -> None:
    """Shorter hours: named where a day is past, left to rebalancing where it lies ahead; an absence is no fault."""
    season, plan = handmade_season(), handmade_plan()
    shorter = replace(season, hours=tuple(replace(h, opens=h.opens + 60) for h in season.hours))
    assert past_that_fits_no_more(shorter, plan, TUESDAY).startswith(f"opening hours, {MONDAY}: ")
    assert past_that_fits_no_more(shorter, plan, MONDAY) == ""
    ill = replace(season, absences=(Absence(plan.days[0].shifts[0].person, TUESDAY, TUESDAY),))
    assert past_that_fits_no_more(ill, plan, TUESDAY) == ""
