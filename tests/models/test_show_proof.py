"""Missed shows: proven where nobody could hold them, never where somebody could."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.models.caps.show_proof import fewest_missed
from scheduler.models.no_plan import Contradiction
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.plan.types import DayPlan
from scheduler.season.types import Pin, Season, Show
from tests.models.day_kitchen import DAY, kitchen
from tests.seasons import small_random

NOON = Show("Noon", 12 * 60, weekday=0, extra_people=0, extra_minutes=0)
LATER = replace(NOON, name="Later", starts=12 * 60 + 20)


def missing(season: Season, *names: str) -> int:
    """Of the shows that a plan misses, how many are proven."""
    return fewest_missed(facts_of(season, PlanOptions()), [DayPlan(DAY, missed_shows=names)])


@pytest.mark.parametrize(("starts", "proven"), [(16 * 60 + 15, 0), (16 * 60 + 16, 1)])
def test_a_show_too_late_to_be_over_by_closing(starts: int, proven: int) -> None:
    """A batch takes 45 minutes and the kitchen closes at 17:00: 16:15 can be held, 16:16 can't."""
    season = kitchen(shows=(replace(NOON, starts=starts),))
    season = replace(season, kitchen=replace(season.kitchen, last_pour=17 * 60))
    assert missing(season, "Noon") == proven


@pytest.mark.parametrize(("people", "proven"), [(("Ada", "Ben"), 1), (("Ada", "Ben", "Cleo"), 0)])
def test_extra_people_who_are_not_there(people: tuple[str, ...], proven: int) -> None:
    """Two shape the candy while one more stays with the visitors: three are needed."""
    season = kitchen(people=people, shows=(replace(NOON, extra_people=1, extra_minutes=60),))
    assert missing(season, "Noon") == proven


def test_nothing_that_fits_may_be_made() -> None:
    """A pin against making on the day leaves nobody a show to hold."""
    season = kitchen(shows=(NOON,))
    assert missing(season, "Noon") == 0
    assert missing(replace(season, pins=(Pin("no making", DAY),)), "Noon") == 1


def test_two_shows_that_are_too_close() -> None:
    """The table takes 30 minutes: shows 20 minutes apart can't both be held, so one is missed in every plan."""
    season = kitchen(people=("Ada", "Ben", "Cleo", "Dov"), shows=(NOON, LATER))
    assert missing(season, "Later") == 1
    assert missing(season, "Noon", "Later") == 1
    apart = replace(season, shows=(NOON, replace(LATER, starts=12 * 60 + 30)))
    assert missing(apart, "Later") == 0


def test_what_is_not_missed_is_not_looked_into() -> None:
    """No show missed, nothing proven."""
    assert missing(kitchen(shows=(NOON,))) == 0


@pytest.mark.parametrize("seed", [3, 5, 9])
def test_never_more_than_a_plan_misses(seed: int) -> None:
    """Of any plan's missed shows at most all are proven, and those of facts that can be held may be unproven."""
    season = small_random(seed)
    try:
        plan = plan_season(season, PlanOptions(effort=0.1))
    except Contradiction:
        return
    missed = sum(len(d.missed_shows) for d in plan.days)
    everything = [
        DayPlan(d, missed_shows=tuple(s.name for s in season.shows if s.weekday == d.weekday())) for d in season.days
    ]
    facts = facts_of(season, PlanOptions())
    assert fewest_missed(facts, plan.days) <= missed
    assert fewest_missed(facts, everything) <= missed
