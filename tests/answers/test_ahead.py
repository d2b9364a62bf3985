"""Remedies of a plan that follows another: what is past stays, and nothing that is packed counts twice."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.answers.ahead import demand_of, facts_ahead
from scheduler.answers.explain import with_bound, with_certificates
from scheduler.answers.facts import Moment
from scheduler.answers.mending import place
from scheduler.answers.onward import given_anew, plan_onward
from scheduler.answers.promise import ASKED, promise
from scheduler.answers.rebalance import rebalance
from scheduler.answers.remedies import find_remedies
from scheduler.audit import audit
from scheduler.models.no_plan import NoPlan
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.types import Fill, Plan
from scheduler.season.types import Order, Product, Season, Skill, StockLot
from tests.answers.hand import day, kitchen, plan_short

CARE = PlanOptions(effort=0.3, workers=1)


def order(name: str, packs: int, due: int, **more: object) -> Order:
    return Order(name, "Kite jar", packs, day(due), **more)  # type: ignore[arg-type]


def going_on(minute: int) -> tuple[Season, Plan]:
    """Seven days of two batches, six of them in time; on day 4 an order for 4 more comes in: 14 of 12 are wanted."""
    season = replace(kitchen(7), orders=(order("A", 4, 4), order("B", 6, 7)))
    before = plan_season(season, CARE)
    assert not before.shortfalls
    news = replace(season, orders=(*season.orders, order("C", 4, 7, priority=3)))
    found = rebalance(news, before, Moment(day(4), minute))
    choice = min(found.choices, key=lambda c: c.short)
    assert audit(choice.season, choice.plan) == ()
    return choice.season, choice.plan


@pytest.fixture(scope="module", params=[0, 500], ids=["before it opens", "in the middle of the day"])
def begun(request: pytest.FixtureRequest) -> tuple[Season, Plan]:
    return going_on(request.param)


def shortfall(plan: Plan) -> int:
    return next(s.value for s in plan.stages if s.name == "shortfall")


def packs(plan: Plan) -> dict[str, int]:
    return {f.line: sum(x.packs for x in plan.fills if x.line == f.line) for f in plan.fills}


def test_planned_onward_the_past_stays_and_the_rest_is_sound(begun: tuple[Season, Plan]) -> None:
    """A second bench from day 4 on: sound, the days before to the letter, the hours gone by too, less short."""
    season, plan = begun
    assert shortfall(plan) > 0
    more = place(season, "bench").apply(season)
    after = plan_onward(more, plan, CARE)
    assert audit(more, after) == ()
    assert [d for d in after.days if d.day < day(4)] == [d for d in plan.days if d.day < day(4)]
    assert (after.from_day, after.from_minute) == (plan.from_day, plan.from_minute)
    assert shortfall(after) < shortfall(plan)


def test_the_same_season_gives_nobody_more_than_there_is(begun: tuple[Season, Plan]) -> None:
    """Nothing changed: what was packed on the days before is not packed and given out a second time."""
    season, plan = begun
    after = plan_onward(season, plan, CARE)
    assert audit(season, after) == ()
    assert shortfall(after) <= shortfall(plan)
    assert sum(packs(after).values()) <= 14


def test_packing_gone_by_is_not_given_out_again() -> None:
    """Candy enough in stock, 16 jars a day packed by two: 112 in seven days, 130 wanted."""
    base = kitchen(7)
    season = replace(
        base,
        products=(Product("Kite jar", packing_seconds=900),),
        stock=(StockLot("S", 14000, day(-1), design="Kite"),),
        orders=(order("A", 40, 4), order("B", 60, 7)),
    )
    before = plan_season(season, CARE)
    assert sum(packs(before).values()) == 100
    news = replace(season, orders=(*season.orders, order("C", 30, 7, priority=3)))
    choice = min(rebalance(news, before, Moment(day(4))).choices, key=lambda c: c.short)
    given = given_anew(facts_ahead(choice.season, choice.plan), choice.plan).given
    assert given.weighted == shortfall(choice.plan) > 0


def test_remedies_of_a_plan_that_follows_another(begun: tuple[Season, Plan]) -> None:
    """They are found, each from the same shortage and against a bound of what lies ahead."""
    season, plan = begun
    told = with_bound(season, with_certificates(season, plan))
    least = next(s.bound for s in told.stages if s.name == "shortfall")
    assert least is not None and 0 < least <= shortfall(plan)
    assert audit(season, told) == ()
    found = find_remedies(season, told, options=CARE, workers=1, singles=3, pairs=0).remedies
    assert found
    assert {r.short_before for r in found if "dropped order" not in r.kinds} == {shortfall(plan)}


def test_where_the_plan_breaks_a_rule_nothing_is_planned_from_scratch(begun: tuple[Season, Plan]) -> None:
    """AA may not build any more: what is on the wall for the days to come does not hold, and that is said."""
    season, plan = begun
    people = {p for d in plan.days if d.day >= day(4) for b in d.batches for r in b.runs for _, p in r.crew}
    other = ({"AA", "BB"} - people) or {"BB"}
    less = replace(season, skills=tuple(Skill(name, "building", 5) for name in sorted(other)))
    if people - other:
        with pytest.raises(NoPlan, match="can't go on as it stands"):
            plan_onward(less, plan, CARE)


def test_finished_packs_stay_with_whom_the_plan_gives_them() -> None:
    """Two jars stand ready for B, the lighter order: B has them in what lies ahead, not the weightier A."""
    season = replace(
        kitchen(4),
        orders=(order("A", 2, 4, priority=1), order("B", 2, 4, priority=3)),
        stock=(StockLot("P", 2, day(-1), product="Kite jar"),),
    )
    given = replace(plan_short(season, {}), fills=(Fill("B", "Kite jar", 2, None, False, pack_lot="P"),))
    assert {n.id: n.packs for n in demand_of(season, given).lines} == {"A": 2, "B": 0}


def test_a_promise_within_a_plan_that_follows_another(begun: tuple[Season, Plan]) -> None:
    """Nobody loses, no rule is broken, and the hours gone by are not used."""
    season, plan = begun
    made = promise(season, plan, "Kite jar", 1)
    if made.plan is not None:
        assert audit(made.season, made.plan) == ()
        assert packs(made.plan)[ASKED] == 1
        assert all(packs(made.plan).get(line, 0) >= n for line, n in packs(plan).items())
