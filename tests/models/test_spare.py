"""Spare batches: put on where there is room when all who asked have what there is, and there when a batch fails."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from scheduler.answers.as_it_stands import as_it_stands
from scheduler.answers.facts import Moment
from scheduler.answers.promise import promise
from scheduler.audit import audit
from scheduler.audit.readings import Reading
from scheduler.audit.wall.margins import spare_batches as spare_batches_again
from scheduler.audit.wall.plan import Wall
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.paper.figures import Figures
from scheduler.paper.margins import spare_batches
from scheduler.paper.promise_words import answer
from scheduler.plan.types import Plan
from scheduler.season.types import Design, MadeBatch, Order, Season, StockLot
from tests.handmade import OPENS, day, paper
from tests.seasons import small_random


def one_order(days: int = 3, wished: int = 1, **changes: object) -> Season:
    """A Kite bag, one batch, due on the last day, and so many spare batches of Kite; packed from the day after."""
    designs = (Design("Kite", 1, 10, 30, spare_batches=wished), Design("Moon", 1, 10, 30))
    order = Order("A", "Kite bag", 1, day(days - 1))
    return replace(paper(days, clock_step=1, **changes), designs=designs, orders=(order,))


def said(season: Season, plan: Plan) -> str:
    """What is said of spare batches, the same from the sheet's code and the audit's."""
    words = spare_batches(Figures(season, plan))
    assert words == spare_batches_again(Wall(Reading(season, (plan.from_day, plan.from_minute)), plan))
    return words.removeprefix("In case one fails, candy that nobody gets: ")


def made(plan: Plan) -> list[str]:
    return [design for day_plan in plan.days for design in day_plan.designs]


def cents(plan: Plan) -> int:
    return next(stage.value for stage in plan.stages if stage.name == "cost")


def test_one_batch_more_than_anybody_asked_for() -> None:
    """Half an hour of Ada's beside the other: 6.00. Without the wish one batch, and nothing said."""
    season, without = one_order(), one_order(wished=0)
    plan, before = plan_season(season), plan_season(without)
    assert (made(plan), said(season, plan)) == (["Kite", "Kite"], "1 of 1 of Kite.")
    assert (made(before), said(without, before)) == (["Kite"], "")
    assert cents(plan) - cents(before) == 600
    assert audit(season, plan) == () == plan.shortfalls


def test_two_are_two() -> None:
    season = one_order(wished=2)
    plan = plan_season(season)
    assert (made(plan), said(season, plan)) == (["Kite"] * 3, "2 of 2 of Kite.")


def test_orders_come_first() -> None:
    """Two days with time for one batch each, the last for packing: with two bags asked for nothing is to spare."""
    season = one_order(closes=OPENS + 31)
    plan = plan_season(season)
    assert (made(plan), said(season, plan)) == (["Kite", "Kite"], "1 of 1 of Kite.")
    full = replace(season, orders=(replace(season.orders[0], packs=2),))
    plan = plan_season(full)
    assert (made(plan), said(full, plan)) == (["Kite", "Kite"], "0 of 1 of Kite.")
    assert plan.shortfalls == ()


def test_candy_that_is_left_over_anyway_is_to_spare() -> None:
    """20 pieces in stock, 10 asked for: nothing is made. Too old for the delivery, they are no spare, nor served."""
    stock = (StockLot("S", 20, day(0), design="Kite"),)
    season = replace(one_order(), stock=stock)
    plan = plan_season(season)
    assert (made(plan), said(season, plan)) == ([], "1 of 1 of Kite.")
    old = replace(season, orders=(replace(season.orders[0], least_life_days=29),))
    plan = plan_season(old)
    assert (made(plan), said(old, plan)) == (["Kite", "Kite"], "1 of 1 of Kite.")


def test_made_after_the_last_delivery_it_is_none() -> None:
    """Two weeks, the only bag due on the third day: it is made before that, though all days after it are free."""
    season = one_order(14)
    season = replace(season, orders=(replace(season.orders[0], due=day(2)),))
    plan = plan_season(season)
    assert said(season, plan) == "1 of 1 of Kite."
    assert max(season.index(d.day) for d in plan.days if d.batches) <= 1


def test_nothing_is_short_when_a_batch_fails() -> None:
    """The first batch is lost: with one to spare the bag goes out all the same, else it is short."""
    for wished, short in ((1, 0), (0, 1)):
        season = one_order(wished=wished)
        plan = plan_season(season)
        first = next(batch for d in plan.days for batch in d.batches)
        done = next(d.day for d in plan.days if d.batches)
        fact = MadeBatch(done, first.id, "Kite", "failed")
        after = as_it_stands(replace(season, made=(fact,)), plan, Moment(done + timedelta(days=1)))
        assert after is not None
        assert sum(missing.packs for missing in after[1].shortfalls) == short
        assert said(*after) == ("0 of 1 of Kite." if wished else "")


def test_a_promise_says_when_it_takes_what_was_to_spare() -> None:
    """A bag for the last day from the spare batch: nothing to spare is left. Of two, one."""
    for wished in (1, 2):
        season = one_order(wished=wished, closes=OPENS + 62)
        plan = plan_season(season)
        told = answer(season, promise(season, plan, "Kite bag", 1, now=day(2)))
        assert f"Spare batches left then: {wished - 1} of {wished} of Kite." in told.splitlines()
    assert "Spare" not in answer(season, promise(season, plan, "Moon bag", 1))


@pytest.mark.parametrize("seed", range(12))
def test_nobody_gets_less(seed: int) -> None:
    """With a spare batch of everything wished for as much is short as without, and every rule is kept."""
    season = small_random(seed)
    wished = replace(season, designs=tuple(replace(design, spare_batches=1) for design in season.designs))
    before, after = (plan_season(s, PlanOptions(effort=0.1)) for s in (season, wished))
    assert audit(wished, after) == ()
    assert [stage.value for stage in after.stages[:2]] == [stage.value for stage in before.stages[:2]]
    assert len(made(after)) >= len(made(before))
    assert said(season, before) == ""
    assert said(wished, after)
