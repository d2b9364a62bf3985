"""The proven bound of the shortfall: below every plan, lifted by limits of mixes and by shows that are held."""

from __future__ import annotations

import time
from dataclasses import replace
from functools import cache

import pytest
from scheduler.models.caps.limits import DayLimits
from scheduler.models.caps.mixes import Mixes, _separate
from scheduler.models.caps.most import most
from scheduler.models.counts import bound
from scheduler.models.counts.bound import shortfall_bound_of
from scheduler.models.facts import Facts
from scheduler.models.search.fitted import missed_shows
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.models.solvers.engine import Limits
from scheduler.season.types import Season, SpecialDay, StageException, StockLot
from tests.benchmarks.generate import generated
from tests.handmade import OPENS, day, paper
from tests.models.day_kitchen import fits, kitchen, request
from tests.models.season_kitchen import order
from tests.models.season_kitchen import planned as planned_well
from tests.seasons import small_random, tiny


def asking(season: Season, times: int) -> Season:
    """The season with so many times the packs ordered."""
    return replace(season, orders=tuple(replace(o, packs=times * o.packs) for o in season.orders))


@cache
def planned(seed: int) -> tuple[Facts, int, int]:
    """Facts of an overloaded small season, what its plan is short, and shows missed that could be held."""
    season = asking(small_random(seed), 2 + seed % 4)
    plan = plan_season(season, PlanOptions(effort=0.2))
    facts = facts_of(season, PlanOptions())
    short = next(s.value for s in plan.stages if s.name == "shortfall")
    return facts, short, missed_shows(facts, plan.days)


@pytest.mark.parametrize("seed", [1, 7, 20])
def test_no_plan_is_below(seed: int) -> None:
    """Whatever the plan, it is no less short than the bound; nor than that of plans which hold as many shows."""
    facts, short, missed = planned(seed)
    assert shortfall_bound_of(facts, DayLimits(facts)).value <= short
    assert shortfall_bound_of(facts, DayLimits(facts), missed=missed).value <= short


@pytest.mark.parametrize("seed", range(6))
def test_tiny_seasons_are_proven(seed: int) -> None:
    """A season of brute-force size: never above the plan, and mostly the same."""
    season = asking(tiny(seed), 3)
    plan = plan_season(season, PlanOptions(effort=0.2))
    facts = facts_of(season, PlanOptions())
    short = next(s.value for s in plan.stages if s.name == "shortfall")
    found = shortfall_bound_of(facts, DayLimits(facts)).value
    assert 0.95 * short <= found <= short


@pytest.mark.parametrize(
    ("days", "allowed", "closed", "packs", "proven"),
    [
        (5, 1, None, 30, 30), (4, 1, None, 20, 20), (4, 3, None, 30, 30), (7, 6, None, 60, 60), (7, 2, None, 50, 50),
        (5, 2, 2, 40, 40), (5, 5, None, 50, 50), (8, 1, None, 40, 50),
    ],
    ids=["every other day", "last day off", "one day off", "a week", "two of three", "closed between", "all", "weeks"],
)  # fmt: skip
def test_days_in_a_row_bind(days: int, allowed: int, closed: int | None, packs: int, proven: int) -> None:
    """`days in a row`: Ada packs ten bags of ready candy a day; plans pack as many as the bound leaves.

    From Monday on; eight days are two weeks, of which the bound sees each alone.
    """
    season = paper(
        days, closes=OPENS + 10, days_in_a_row=allowed, orders=(order(100, days - 1),),
        stock=(StockLot("S", 1000, day(-1), design="Kite"),),
        special_days=() if closed is None else (SpecialDay(day(closed), "closed"),),
    )  # fmt: skip
    facts = facts_of(season, PlanOptions())
    assert facts.season.days[0].weekday() == 0
    weight = facts.demand.lines[0].weight
    assert shortfall_bound_of(facts, DayLimits(facts)).value == weight * (100 - proven)
    assert sum(f.packs for f in planned_well(season).fills) == packs


def test_limits_of_mixes_lift_the_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """Families alone leave room for a plan that no day can hold; its mixes prove the plan as good as can be.

    So do rows of pours, here left out.
    """
    facts, short, _ = planned(20)
    assert shortfall_bound_of(facts, DayLimits(facts), effort=0).value == short
    monkeypatch.setattr(bound, "limits_of_rows", lambda *_: {})
    families, mixes = (shortfall_bound_of(facts, DayLimits(facts), effort=effort).value for effort in (0, 1))
    assert families < mixes == short


def test_shows_that_are_held_take_their_batch() -> None:
    """A show takes a batch of a picture that nobody ordered; a plan that misses it need not make it."""
    facts, _, missed = planned(7)
    assert (missed, sum(map(len, facts.shows.values()))) == (0, 1)
    held, given_up = (shortfall_bound_of(facts, DayLimits(facts), missed=n).value for n in (0, 1))
    assert held > given_up == shortfall_bound_of(facts, DayLimits(facts)).value


def test_the_same_bound_twice() -> None:
    """Limits are in effort, not in seconds: the same question has the same answer."""
    facts, _, _ = planned(20)
    assert shortfall_bound_of(facts, DayLimits(facts)) == shortfall_bound_of(facts, DayLimits(facts))


@pytest.mark.parametrize("seed", [7, 20])
def test_a_bound_cut_short_by_the_clock_is_lower_and_holds(seed: int) -> None:
    """With no time left nothing but the last search is done: a bound still, and the whole one is no lower."""
    facts, short, _ = planned(seed)
    cut = shortfall_bound_of(facts, DayLimits(facts), until=time.monotonic())
    assert 0 <= cut.value <= shortfall_bound_of(facts, DayLimits(facts)).value <= short


def test_where_nothing_is_proven_in_time_broken_batches_tell(monkeypatch: pytest.MonkeyPatch) -> None:
    """A season too large for whole batches has a bound that is no higher, and not called exact."""
    facts, _, _ = planned(20)
    whole = shortfall_bound_of(facts, DayLimits(facts))
    monkeypatch.setattr(bound, "LARGE", 0)
    broken = shortfall_bound_of(facts, DayLimits(facts))
    assert (0 < broken.value <= whole.value, broken.exact) == (True, False)


def test_weights_tell_a_mix_apart() -> None:
    """Known are two of one or two of the other: one and a half of each is more, one of each is made up of them."""
    known = [{"Kite": 2.0}, {"Moon": 2.0}]
    assert _separate({"Kite": 1.5, "Moon": 1.5}, known) == {"Kite": 1, "Moon": 1}
    assert _separate({"Kite": 1.0, "Moon": 1.0}, known) == {}


def test_a_limit_is_of_all_days_that_offer_no_more() -> None:
    """Two batches of 45 minutes of two people fit from 8:00 to 9:45, not 2.3; until 10:15 there is room for three."""
    short, long = kitchen(8 * 60 + 105), kitchen(8 * 60 + 135)
    for season, limited in ((short, True), (long, False)):
        limits = DayLimits(facts_of(season, PlanOptions()))
        found = Mixes(limits).beyond(0, {"Kite": 2.3})
        assert (found is not None) == limited
        assert found is None or (found.most, found.weights["Kite"]) == (2, 1)


def test_designs_with_other_narrow_stations_share_a_day() -> None:
    """One design is long at the kettle, the other at the table: together they are more than either alone."""
    season = kitchen(
        10 * 60,
        people=("Ada", "Ben", "Cleo"),
        exceptions=(StageException("Moon", "pour", minutes=30), StageException("Moon", "shape", minutes=15)),
    )
    alone = [most(season, request(season), {d: 1}, Limits(effort=1)).limit for d in ("Kite", "Moon")]
    both = most(season, request(season), {"Kite": 1, "Moon": 1}, Limits(effort=1)).limit
    assert both > max(alone)
    assert fits(season, request(season, *["Kite"] * 2, *["Moon"] * 2))


def test_shows_that_no_plan_can_all_hold_prove_nothing() -> None:
    """Nothing is proven of plans that miss fewer shows than can be held: 0, which is true of every plan."""
    facts = facts_of(generated(2, 4, 4, 12, 1, load=1.6, seed=1), PlanOptions())
    assert facts.shows
    found = shortfall_bound_of(facts, DayLimits(facts), missed=0)
    assert (found.value, found.exact) == (0, False)
    assert shortfall_bound_of(facts, DayLimits(facts), missed=1).value > 0
