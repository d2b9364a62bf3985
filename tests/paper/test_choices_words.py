"""What is said of choices after news: why one is worth showing that changes more and has as many packs short."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import Choice, Rebalance
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.paper.changes_words import changes_table, choice_title, choices_table, summary
from scheduler.paper.words import day_short
from scheduler.plan.changes import compare
from scheduler.plan.types import Plan, Shortfall
from tests.seasons import tiny


def choice(before: Plan, after: Plan) -> Choice:
    season = tiny(3, days=5, people=3, orders=6)
    orders = [replace(o, confirmed=number == 0) for number, o in enumerate(season.orders)]
    season = replace(season, orders=tuple(orders))
    packs = sum(s.packs for s in after.shortfalls)
    lost = tuple((s.line, s.packs) for s in after.shortfalls)
    return Choice(after, season, compare(before, after, before.first_day), 0, packs, packs, lost, 0, 0)


@pytest.fixture(scope="module")
def plan() -> Plan:
    season = tiny(3, days=5, people=3, orders=6)
    return replace(plan_season(season, PlanOptions(effort=0.3)), shortfalls=())


def said(plan: Plan, first: tuple[Shortfall, ...], second: tuple[Shortfall, ...], missed: bool = False) -> str:
    one = choice(plan, replace(plan, shortfalls=first))
    if missed:
        days = (replace(plan.days[0], missed_shows=("a show",)), *plan.days[1:])
        one = replace(one, plan=replace(one.plan, days=days))
    two = choice(plan, replace(plan, shortfalls=second))
    found = Rebalance(one.season, plan, Moment(plan.first_day, 0), (one, two), True, False)
    words = str(summary(found)["choices"][1]["why"])  # type: ignore[index]
    assert not words or words in choices_table(found, "EUR")
    return words


def after(one: Choice, plan: Plan) -> Rebalance:
    return Rebalance(one.season, plan, Moment(plan.first_day, 0), (one,), True, False)


def test_what_comes_late_now_is_told_and_whom_to_call(plan: Plan) -> None:
    """Two packs of an order that were in time come after the due day: said of the choice, and whom to call."""
    fill = next(f for f in plan.fills if f.packed is not None and f.line in {o.id for o in tiny(3).orders})
    late = replace(fill, packs=2, late=True)
    one = choice(plan, replace(plan, fills=(*(f for f in plan.fills if f is not fill), late)))
    found = after(one, plan)
    assert f"Later than the due day: 2 packs ({fill.line} {fill.product} 2)." in choices_table(found, "EUR")
    text = changes_table(one, found)
    assert f", {fill.line}, due " in text.partition("Customers to call:")[2]
    assert f": 2 {fill.product} come later than the due day, the last on {day_short(fill.packed)}" in text
    same = choice(one.plan, one.plan)
    assert "Later than" not in choices_table(after(same, one.plan), "EUR")


def test_customers_who_get_less_are_named_with_what_to_say(plan: Plan) -> None:
    """Whose order has more short, the first due first; how much of it is new; forecasts are nobody to call."""
    orders = tiny(3, days=5, people=3, orders=6).orders
    first = min(orders, key=lambda o: (o.due, o.id))
    one = choice(plan, replace(plan, shortfalls=(Shortfall(first.id, 2, 20, 20),)))
    text = changes_table(one, after(one, plan))
    assert text.startswith("Nothing changes.\n\nCustomers to call:\n  whoever ordered it, ")
    assert f"{first.id}, due " in text and f": 2 of {first.packs} {first.product} can't be ready" in text
    assert "1 more than before" in changes_table(replace(one, lost=((first.id, 1),)), after(one, plan))
    assert "Customers" not in changes_table(replace(one, lost=()), after(one, plan))


def test_who_loses_is_not_hidden_by_who_gains(plan: Plan) -> None:
    """The title of a choice tells both; and a longer search is advised than the one that was made."""
    one = choice(plan, plan)
    assert choice_title(replace(one, lost=(("O1", 5),), more_short_packs=0)).endswith(
        "5 packs more short, 5 packs fewer short for others"
    )
    assert choice_title(replace(one, lost=(), more_short_packs=-5)).endswith("5 packs fewer short")
    assert choice_title(replace(one, lost=(("O1", 5),), more_short_packs=5)).endswith("5 packs more short")
    assert choice_title(one).endswith("nothing more is short")
    found = Rebalance(one.season, plan, Moment(plan.first_day, 0), (one,), True, False, effort=3)
    assert "(--effort 9 --seconds 180)" in choices_table(found, "EUR")


def test_what_speaks_for_a_choice_that_looks_beaten(plan: Plan) -> None:
    first, second = (o.id for o in tiny(3, days=5, people=3, orders=6).orders[:2])
    five, light, four = Shortfall(first, 5, 50, 500), Shortfall(second, 5, 50, 100), Shortfall(second, 4, 40, 80)
    assert said(plan, (five,), (light,)) == "What speaks for it: 5 packs fewer of confirmed orders short than in 1."
    assert said(plan, (light,), (light,), missed=True) == "What speaks for it: 1 show more held than in 1."
    assert said(plan, (light,), (light,)).startswith("What speaks for it: what is short weighs less than in 1 (by kind")
    assert said(plan, (five,), (four,)) == ""  # fewer packs short: that is seen
