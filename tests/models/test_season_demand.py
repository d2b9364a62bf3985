"""Rules about orders and candy over days: what is just in time, fresh and enough, and the same one short.

The paper kitchen: a batch gives ten pieces, a bag holds ten and takes a minute to pack on a later day.
"""

from __future__ import annotations

from typing import Any

import pytest
from scheduler.season.types import (
    Availability,
    Content,
    Design,
    Order,
    Person,
    Pin,
    Product,
    Season,
    SpecialDay,
    StockLot,
)
from tests.handmade import OPENS, day, paper
from tests.models.season_kitchen import delivers, hoped, order, planned, stage


def no_making(*days: int) -> tuple[Pin, ...]:
    return tuple(Pin("no making", day(t)) for t in days)


def asks(*orders: Order, days: int = 2, **changes: Any) -> Season:
    """A season of so many days for these orders."""
    return paper(days, orders=orders, **changes)


@pytest.mark.parametrize(("minutes", "packs"), [(10, 10), (9, 9)])
def test_packed_before_due(minutes: int, packs: int) -> None:
    """`packed before due`: ten bags of one piece take ten minutes on the due day, which is the last day."""
    hours = (Availability("Ada", 0, OPENS, 1020), Availability("Ada", 1, OPENS, OPENS + minutes))
    season = asks(order(10, 1), contents=(Content("Kite bag", "Kite", 1),), availability=hours)
    assert delivers(season)["A"] == packs


@pytest.mark.parametrize(("due", "packs"), [(0, 0), (1, 0), (2, 1), (3, 1)])
def test_packed_before_due_where_days_are_closed(due: int, packs: int) -> None:
    """`packed before due`: made on Monday, Tuesday closed; due on Wednesday in time, on Tuesday not."""
    season = asks(order(1, due), days=4, special_days=(SpecialDay(day(1), "closed"),), pins=no_making(2, 3))
    assert delivers(season)["A"] == packs


def test_two_due_days_share_the_packer() -> None:
    """`packed before due`: a minute on Tuesday, two on Wednesday: one bag due on Tuesday, three in all."""
    hours = tuple(Availability("Ada", t, OPENS, OPENS + m) for t, m in ((0, 120), (1, 1), (2, 2)))
    orders = (order(2, 1, id="early"), order(3, 2, id="last day", priority=3))
    assert delivers(asks(*orders, days=3, availability=hours)) == {"early": 1, "last day": 2}


@pytest.mark.parametrize(("days", "wait", "packs"), [(1, 1, 0), (2, 1, 1), (2, 2, 0), (3, 2, 1)])
def test_candy_before_packing(days: int, wait: int, packs: int) -> None:
    """`candy before packing`: due on the last day, which must lie so many days after the first."""
    assert delivers(asks(order(1, days - 1), days=days, packing_from_days=wait))["A"] == packs


def test_candy_before_packing_from_stock() -> None:
    """`candy before packing`: what was made yesterday is packed on the first day, which is also the last."""
    stock = (StockLot("S", 10, day(-1), design="Kite"),)
    assert delivers(asks(order(1, 0), days=1, stock=stock))["A"] == 1
    assert delivers(asks(order(1, 0), days=1, stock=stock, packing_from_days=2))["A"] == 0


@pytest.mark.parametrize(("life", "packs"), [(28, 1), (29, 0)])
def test_remaining_life(life: int, packs: int) -> None:
    """`remaining life`: made on Monday it keeps 30 days, 28 of them from Wednesday, the last day, on."""
    season = asks(order(1, 2, least_life_days=life), days=3, pins=no_making(1, 2))
    assert delivers(season)["A"] == packs


def test_remaining_life_made_later() -> None:
    """`remaining life`: what Monday's candy is too old for, Tuesday's is fresh for."""
    assert delivers(asks(order(1, 2, least_life_days=29), days=3))["A"] == 1
    assert delivers(asks(order(1, 2, least_life_days=30), days=3))["A"] == 0


@pytest.mark.parametrize(("life", "packs"), [(20, 1), (21, 0)])
def test_remaining_life_of_the_kitchen_and_of_stock(life: int, packs: int) -> None:
    """`remaining life`: stock made ten days ago has 20 days left; the kitchen's own least life counts."""
    stock = (StockLot("S", 10, day(-10), design="Kite"),)
    assert delivers(asks(order(1, 0), days=1, stock=stock, least_life_days=life))["A"] == packs


def test_windows_share_the_batches() -> None:
    """`remaining life`: one batch a day; two bags want Tuesday's candy, so one of them is short (Hall)."""
    orders = tuple(order(1, 2, id=name, least_life_days=29) for name in "AB")
    assert sum(delivers(asks(*orders, days=3, closes=OPENS + 59)).values()) == 1
    assert sum(delivers(asks(*orders, days=3, closes=OPENS + 60)).values()) == 2


@pytest.mark.parametrize(("partial", "closes", "packs"), [(True, 59, 1), (False, 59, 0), (False, 60, 2)])
@pytest.mark.parametrize("days", [2, 4])
def test_whole_order(days: int, partial: bool, closes: int, packs: int) -> None:
    """`whole order`: two bags need two batches of 30 minutes; with 59 minutes one or none is delivered."""
    season = asks(
        order(2, days - 1, partial=partial), days=days, closes=OPENS + closes, pins=no_making(*range(1, days))
    )
    assert delivers(season)["A"] == packs


def test_whole_order_partly_from_ready_packs() -> None:
    """`whole order`: a bag on hand and one made are two; where none can be made the bag on hand stays, too."""
    stock = (StockLot("S", 1, day(-5), product="Kite bag"),)
    assert delivers(asks(order(2, 1, partial=False), stock=stock))["A"] == 2
    assert delivers(asks(order(2, 1, partial=False), stock=stock, pins=no_making(0)))["A"] == 0


MIXED = {
    "products": (Product("Mixed bag"),),
    "contents": (Content("Mixed bag", "Kite", 5), Content("Mixed bag", "Moon", 5)),
}


@pytest.mark.parametrize(
    ("pins", "packs"), [((), 2), ((Pin("do not make", day(0), design="Moon"),), 0), (no_making(0), 0)]
)
def test_contents(pins: tuple[Pin, ...], packs: int) -> None:
    """`contents`: a batch of each fills two mixed bags; without Moon more Kite adds nothing."""
    assert delivers(asks(order(4, 1, "Mixed bag"), pins=pins, closes=OPENS + 60, **MIXED))["A"] == packs


def test_contents_on_the_last_day() -> None:
    """`contents`: the second picture made on the day before the last is in time, on the last day not."""
    for made, packs in ((2, 2), (3, 0)):
        pins = tuple(Pin("do not make", day(t), design="Moon") for t in range(4) if t != made)
        assert delivers(asks(order(2, 3, "Mixed bag"), days=4, pins=pins, **MIXED))["A"] == packs


@pytest.mark.parametrize("first", ["Kite", "Moon"])
@pytest.mark.parametrize(("made", "packs"), [(1, 1), (0, 0)])
def test_contents_keep_by_design(first: str, made: int, packs: int) -> None:
    """`contents`, `remaining life`: Moon keeps 3 days, 2 are asked for on Wednesday: made on Tuesday, not on Monday."""
    second = "Moon" if first == "Kite" else "Kite"
    season = asks(
        order(1, 2, "Mixed bag", least_life_days=2), days=3, products=(Product("Mixed bag"),),
        designs=(Design("Kite", 1, 10, 30), Design("Moon", 1, 10, 3)),
        contents=(Content("Mixed bag", first, 5), Content("Mixed bag", second, 5)),
        pins=(Pin("do not make", day(1 - made), design="Moon"),),
    )  # fmt: skip
    assert delivers(season)["A"] == packs


@pytest.mark.parametrize(("stock", "packs"), [(0, 2), (1, 2), (2, 3)])
def test_lots(stock: int, packs: int) -> None:
    """`lots`: ten pieces are two bags of four; with two pieces on hand three; nothing is drawn twice."""
    lots = (StockLot("S", stock, day(-2), design="Kite"),) if stock else ()
    season = asks(order(3, 1), contents=(Content("Kite bag", "Kite", 4),), stock=lots, closes=OPENS + 30)
    assert delivers(season)["A"] == packs


def test_lots_are_given_to_one_line_only() -> None:
    """`lots`: one batch for two orders goes to the dearer one, whichever is due first; due on the last day."""
    one_batch = {"closes": OPENS + 30, "pins": no_making(1)}
    orders = (order(1, 1, id="first", kind="standing"), order(1, 2, id="last"))
    assert delivers(asks(*orders, days=3, **one_batch)) == {"last": 1}


@pytest.mark.parametrize(("latest", "packs"), [(None, 0), (0, 0), (1, 1), (5, 1)])
def test_latest_day(latest: int | None, packs: int) -> None:
    """Due on Monday it can't be in time; late by Tuesday, the last day, it can, where that is agreed."""
    agreed = order(1, 0, latest=None if latest is None else day(latest), late_cents=70)
    season = asks(agreed)
    assert delivers(season)["A"] == packs
    plan = planned(season)
    assert [f.late for f in plan.fills] == [True] * packs
    # 31 minutes at 12.00 an hour, late delivery 0.70
    assert stage(plan, "cost").value == (620 + 70 if packs else 0)


def test_in_time_before_late() -> None:
    """A line that can be had in time is not late, though late would be possible; late may not be free."""
    season = asks(order(1, 1, latest=day(3), late_cents=70), days=4)
    assert [f.late for f in planned(season).fills] == [False]
    assert delivers(season)["A"] == 1


@pytest.mark.parametrize(("cents", "late"), [(21, 0), (19, 1)])
def test_late_where_it_is_cheaper(cents: int, late: int) -> None:
    """Cost: a minute of Ben on Tuesday is 40 cents, of Ada on Wednesday 20; late delivery is worth up to the rest."""
    season = asks(
        order(1, 1, latest=day(2), late_cents=cents), days=3,
        crew=(Person("Ada", 2400, 2400, 1, wage_cents=1200), Person("Ben", 2400, 2400, 1, wage_cents=2400)),
        pins=(Pin("off", day(1), person="Ada"),),
    )  # fmt: skip
    wish = hoped(season).wish
    assert wish is not None and wish.late == {"A": late}


@pytest.mark.parametrize(("life", "packs"), [(29, 1), (30, 0)])
def test_late_candy_is_as_fresh_as_asked(life: int, packs: int) -> None:
    """`remaining life` late: packed on Tuesday from Monday's candy, 29 of 30 days are left."""
    assert delivers(asks(order(1, 0, latest=day(1), least_life_days=life)))["A"] == packs


def test_whole_order_may_be_partly_late() -> None:
    """`whole order`: a bag in time from stock and one late are the whole; with no late day there is none."""
    stock = (StockLot("S", 10, day(-2), design="Kite"),)
    assert delivers(asks(order(2, 0, partial=False, latest=day(1)), stock=stock))["A"] == 2
    assert delivers(asks(order(2, 0, partial=False), stock=stock))["A"] == 0
