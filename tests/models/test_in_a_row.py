"""PourSequences of pours: what is proven of a day is never less than a real day holds, and on paper exactly that."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from random import Random

import pytest
from scheduler.models.caps.in_a_row import PourSequences
from scheduler.models.caps.limits import DayLimits
from scheduler.models.caps.most import most
from scheduler.models.counts import bound
from scheduler.models.counts.bound import shortfall_bound_of
from scheduler.models.counts.in_rows import limits_of_rows
from scheduler.models.counts.relaxation import SeasonRelaxation
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.models.solvers.engine import Limits
from scheduler.plan.types import Plan
from scheduler.season.types import Changeover, Season, Stage, Station
from tests.benchmarks.generate import generated
from tests.models.day_kitchen import DAY, kitchen, request
from tests.seasons import small_random

CROWD = tuple(f"Hand {n}" for n in range(9))


def changing(minutes: int, **changes: object) -> Season:
    """The paper kitchen with a light and a dark design, a table that is cleaned between them, and hands enough."""
    season = kitchen(people=CROWD, changeovers=(Changeover("light to dark", "table", minutes),
                                                Changeover("dark to light", "table", minutes)), **changes)  # fmt: skip
    kite = season.designs[0]
    return replace(season, designs=(replace(kite, colour=1), replace(kite, name="Night", colour=3)))


def test_a_row_on_paper() -> None:
    """Pour 15, shape 30, from 8:00 to 17:00, one table: a batch every 30 minutes, the last from 16:15: 17 batches."""
    season = kitchen(people=CROWD)
    value, batches = PourSequences(season).most([DAY], [{"Kite": 2.0}])[0]
    assert (value, batches) == (34.0, {"Kite": 17})
    whole = request(season)
    found = most(season, replace(whole, designs=()), {"Kite": 2}, Limits(effort=5))
    assert found.limit == 34


def test_cleaning_between_light_and_dark_on_paper() -> None:
    """30 minutes for each change: 17 batches of one design, which are made alone, whichever is worth more."""
    rows = PourSequences(changing(30))
    assert rows.apart == [[30, 60], [60, 30]]
    assert rows.most([DAY], [{"Kite": 1.0, "Night": 1.0}])[0][0] == 17
    assert rows.most([DAY], [{"Kite": 1.0, "Night": 2.0}])[0] == (34.0, {"Night": 17})


def test_nothing_is_told_where_two_may_start_at_once() -> None:
    """Two kettles, two tables: no distance follows, and no limit."""
    two = kitchen(stations=(Station("kettle", 2), Station("table", 2), Station("packing bench", 1)))
    rows = PourSequences(two)
    assert not rows.tells
    assert rows.most([DAY], [{"Kite": 1.0}]) == [(0.0, {})]


def test_after_a_wait_that_may_be_longer_nothing_is_certain() -> None:
    """Shaping may wait for up to two hours: the table says nothing of how close two pours are, the kettle does."""
    waits = (Stage("pour", "kettle", 15), Stage("shape", "table", 30, wait_from=0, wait_to=120))
    assert PourSequences(kitchen(stages=waits)).apart == [[15]]


@cache
def plan_of(seed: int) -> tuple[Season, Plan]:
    if seed > 100:
        season = generated(2, 8, 12, 40, 1, load=1.6, seed=seed - 100)
        return season, plan_season(season, PlanOptions(seconds=4))
    season = small_random(seed)
    season = replace(season, orders=tuple(replace(o, packs=3 * o.packs) for o in season.orders))
    return season, plan_season(season, PlanOptions(effort=0.1))


@pytest.mark.parametrize("seed", [*range(5), 101])
def test_every_day_of_a_plan_is_a_row(seed: int) -> None:
    """Days that fit to the minute, weighted at random: never more than the most of a row."""
    season, plan = plan_of(seed)
    rows, random = PourSequences(season), Random(seed)
    assert rows.tells
    days = [day for day in plan.days if day.batches]
    for _ in range(25):
        worth = [{d.name: float(random.randint(0, 20)) for d in season.designs} for _ in days]
        for day, some, (limit, batches) in zip(days, worth, rows.most([d.day for d in days], worth), strict=True):
            assert sum(some[design] for design in day.designs) <= limit
            assert sum(some[design] * count for design, count in batches.items()) == limit


@pytest.mark.parametrize("seed", [101])
def test_rows_prove_more_than_mixes(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """The limits hold on each day of a plan, the plan is not below the bound, and the bound is higher than without."""
    season, plan = plan_of(seed)
    facts = facts_of(season, PlanOptions())
    relaxation = SeasonRelaxation(facts, DayLimits(facts))
    relaxation.build()
    found = limits_of_rows(relaxation)
    by_day = {season.index(day.day): day for day in plan.days}
    assert found
    for t, limit in found.items():
        if t in by_day:
            assert sum(limit.weights.get(design, 0) for design in by_day[t].designs) <= limit.most
    short = next(s.value for s in plan.stages if s.name == "shortfall")
    proven = shortfall_bound_of(facts, DayLimits(facts)).value
    monkeypatch.setattr(bound, "limits_of_rows", lambda *_: {})
    assert shortfall_bound_of(facts, DayLimits(facts)).value < proven <= short
