"""A season that has begun: days that lie behind count in the week, in the row, and in what is made and packed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from scheduler.audit import audit
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.types import DayPlan, Plan, Shift
from scheduler.season.types import Person, Pin, Role, Season
from tests.handmade import OPENS, day, paper
from tests.models.season_kitchen import hoped, order, stage


def by(person: Person, days: int = 2, packs: int = 1, **changes: Any) -> Season:
    """Bags due on the last day, by this person alone."""
    return paper(days, crew=(person,), orders=(order(packs, days - 1),), **changes)


def goes_on(season: Season, before: Plan, first: int) -> int:
    """Packs that a plan delivers when the days before ``first`` are kept, by the planner and the season model."""
    options = PlanOptions(from_day=day(first), keep=before)
    plan = plan_season(season, options)
    assert [d for d in plan.days if d.day < day(first)] == [d for d in before.days if d.day < day(first)]
    short = sum(s.packs for s in plan.shortfalls)
    assert hoped(season, options).shortfall == stage(plan).value
    return sum(o.packs for o in season.orders) - short


@pytest.mark.parametrize(("limit", "packs"), [(31, 1), (30, 0)])
def test_week_hours_behind(limit: int, packs: int) -> None:
    """`week hours`: 30 minutes on Monday are behind; a minute of packing fits into 31 and not into 30."""
    before = plan_season(by(Person("Ada", 2400, 2400, 1)))
    assert goes_on(by(Person("Ada", limit, limit, 1)), before, 1) == packs


@pytest.mark.parametrize(("limit", "packs"), [(255 + 31, 1), (255 + 30, 0)])
def test_a_shift_behind_that_was_cut_counts_with_its_break(limit: int, packs: int) -> None:
    """`week hours`: in from 8:00 to 12:45, the break from 12:00 was had: 255 paid, though 285 need no break."""
    cut = DayPlan(day(0), shifts=(Shift("Ada", OPENS, OPENS + 285, OPENS + 240, OPENS + 270),))
    season = by(Person("Ada", limit, limit, 1), 3)
    assert season.kitchen.break_after_minutes == 300 and not season.kitchen.break_paid
    assert goes_on(season, replace(plan_season(season), days=(cut,)), 1) == packs


@pytest.mark.parametrize(("allowed", "short"), [(2, 0), (1, 200)])
def test_days_in_a_row_behind(allowed: int, short: int) -> None:
    """`days in a row`: in on Monday, so not on Tuesday where one day in a row is the most; a bag weighs 200."""
    before = plan_season(by(Person("Ada", 2400, 2400, 1)))
    season = by(Person("Ada", 2400, 2400, 1), days_in_a_row=allowed)
    assert hoped(season, PlanOptions(from_day=day(1), keep=before)).shortfall == short


def test_days_in_a_row_behind_by_the_planner() -> None:
    """`days in a row`: the planner keeps it, too, when days before are kept."""
    before = plan_season(by(Person("Ada", 2400, 2400, 1)))
    assert goes_on(by(Person("Ada", 2400, 2400, 1), days_in_a_row=1), before, 1) == 0


def test_rest_behind() -> None:
    """`rest`: who was in on Monday and must rest for two days is not in on Tuesday."""
    before = plan_season(by(Person("Ada", 2400, 2400, 1), 3))
    worked = [d.day for d in before.days if d.shifts]
    season = by(Person("Ada", 2400, 2400, 1), 3, rest_minutes=2880)
    plan = plan_season(season, PlanOptions(from_day=worked[0] + timedelta(1), keep=before))
    assert audit(season, plan) == ()


@pytest.mark.parametrize(("limit", "packs"), [(150, 2), (149, 1)])
def test_pulls_a_week_behind(limit: int, packs: int) -> None:
    """`pulls a week`: 75 pulls on Monday are behind, 75 more on Tuesday are 150."""

    def season(week: int) -> Season:
        return by(Person("Ada", 2400, 2400, 1, pulls_day=75, pulls_week=week), 3, packs=2,
                  roles=(Role("build", "puller", pulls=True),))  # fmt: skip

    assert goes_on(season(limit), plan_season(season(900)), 1) == packs


@pytest.mark.parametrize(("made", "packs"), [(True, 1), (False, 0)])
def test_candy_behind(made: bool, packs: int) -> None:
    """`candy before packing`, `lots`: Monday's batch is packed on Tuesday; with none there is nothing to pack."""
    pins = () if made else (Pin("no making", day(0)),)
    before = plan_season(by(Person("Ada", 2400, 2400, 1), pins=pins))
    assert goes_on(by(Person("Ada", 2400, 2400, 1)), before, 1) == packs


@pytest.mark.parametrize("first", [1, 2])
def test_packs_behind_count_once(first: int) -> None:
    """`packed before due`, `lots`: Monday's batch, packed on Tuesday, serves one order and not another one, too."""
    late = (Pin("no making", day(1)), Pin("off", day(2), person="Ada"))
    season = by(Person("Ada", 2400, 2400, 1), 3, pins=late)
    before = plan_season(season)
    assert goes_on(season, before, first) == 1
    more = replace(season, orders=(*season.orders, order(1, 2, id="B")))
    assert goes_on(more, before, first) == 1
