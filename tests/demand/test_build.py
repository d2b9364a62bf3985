"""Orders, forecasts, stock and facts to lines: windows, weights and netting computed by hand.

Three weeks from Monday 1 February 2027 (day 0), open Monday to Friday, so the last open
day is Friday, day 18. Daisy keeps 45 days, Kite 30; a jar holds 10 Daisy, a mix 4 Daisy and 6 Kite.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.demand.build import build_demand
from scheduler.demand.lines import Line, Window
from scheduler.season.types import (
    Content,
    Design,
    Forecast,
    Hours,
    MadeBatch,
    Order,
    PackedPacks,
    Product,
    Season,
    ShippedPacks,
    SpecialDay,
    StockLot,
)
from tests.handmade import day, paper

MONDAY = day(0)


def season(**changes: object) -> Season:
    plain = paper(
        21,
        hours=tuple(Hours(d, 480, 1020) for d in range(5)),
        designs=(Design("Daisy", 1, 100, 45), Design("Kite", 1, 100, 30)),
        products=(Product("jar", 500), Product("mix", 600)),
        contents=(Content("jar", "Daisy", 10), Content("mix", "Daisy", 4), Content("mix", "Kite", 6)),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def only_line(asked: Season, from_index: int = 0) -> Line:
    (line,) = build_demand(asked, from_index).lines
    return line


@pytest.mark.parametrize(
    ("due", "pack_by", "window"),
    [
        (16, 16, (1, 15)),  # Wednesday: first 16 + 30 - 45, last the day before
        (20, 18, (5, 17)),  # Sunday, closed: packed on Friday; life still counts from Sunday
        (25, 18, (10, 17)),  # after the season: packed by its last open day
        (0, 0, (-15, -1)),  # the first day: only from stock
    ],
)
def test_window_of_an_order_due_on_a_day(due: int, pack_by: int, window: tuple[int, int]) -> None:
    """Window = [due + least life - sell-by days, last open day by then - packing_from_days]."""
    line = only_line(season(orders=(Order("A", "jar", 3, day(due), least_life_days=30),)))
    assert line.pack_by == pack_by
    assert line.windows == (Window("Daisy", 10, *window),)


def test_each_design_of_an_assortment_has_its_own_window() -> None:
    """Kite keeps 15 days less than Daisy, so it may be made from 15 days later."""
    line = only_line(season(orders=(Order("A", "mix", 3, day(16), least_life_days=20),)))
    assert line.windows == (Window("Daisy", 4, -9, 15), Window("Kite", 6, 6, 15))
    assert line.pieces == 10


def test_closed_days_and_longer_rests_end_the_window_sooner() -> None:
    """Packed two days after making, and Wednesday closed: due Wednesday 16, packed Tuesday 15, made by 13."""
    asked = season(orders=(Order("A", "jar", 3, day(16)),), special_days=(SpecialDay(day(16), "closed"),))
    asked = replace(asked, kitchen=replace(asked.kitchen, packing_from_days=2, least_life_days=10))
    assert only_line(asked).windows == (Window("Daisy", 10, 16 + 10 - 45, 13),)


def test_what_was_due_before_today_has_no_window() -> None:
    """On day 10 an order due on day 9 can't be packed in time any more; one due today can."""
    line = only_line(season(orders=(Order("A", "jar", 3, day(9)),)), from_index=10)
    assert line.pack_by == -1
    assert line.windows[0].last < line.windows[0].first
    today = only_line(season(orders=(Order("A", "jar", 3, day(10)),)), from_index=10)
    assert (today.pack_by, today.windows[0].last) == (10, 9)


def test_sell_by_shorter_than_the_life_asked_for_leaves_no_window() -> None:
    """45 days of life of candy that keeps 45: it would have to be made on the due day itself."""
    line = only_line(season(orders=(Order("A", "jar", 3, day(16), least_life_days=45),)))
    assert line.windows[0].last < line.windows[0].first
    twin = only_line(season(orders=(Order("A", "jar", 3, day(16), least_life_days=44),)))
    assert twin.windows == (Window("Daisy", 10, 15, 15),)


def test_late_offer_reaches_to_the_latest_day_with_the_life_of_that_day() -> None:
    """Due Wednesday 9, at the latest Sunday 13: packed by Friday 11, life counted from Sunday."""
    order = Order("A", "jar", 3, day(9), least_life_days=40, latest=day(13), late_cents=25)
    line = only_line(season(orders=(order,)))
    assert line.late is not None
    assert (line.late.pack_by, line.late.cents) == (11, 25)
    assert line.late.windows == (Window("Daisy", 10, 8, 10),)
    assert only_line(season(orders=(replace(order, latest=day(9)),))).late is None


def test_weight_of_a_missing_pack() -> None:
    """Kind (firm 10, standing 5, forecast 1) x priority (4, 2, 1) x pieces in the pack; all: 400 + 50 + 2 x 20."""
    demand = build_demand(
        season(
            orders=(
                Order("A", "jar", 1, day(4), priority=1),
                Order("B", "jar", 1, day(5), kind="standing", priority=3),
            ),
            forecasts=(Forecast("F", "mix", day(6), 1, 2, 3, priority=2),),
        )
    )
    assert [(n.id, n.weight) for n in demand.lines] == [("A", 400), ("B", 50), ("F", 20)]
    assert demand.weight == 490


@pytest.mark.parametrize(("level", "packs"), [("low", 3), ("likely", 5), ("high", 8)])
def test_forecast_is_planned_at_the_kitchens_level(level: str, packs: int) -> None:
    asked = season(forecasts=(Forecast("F", "jar", day(9), 3, 5, 8),))
    line = only_line(replace(asked, kitchen=replace(asked.kitchen, plan_for=level)))  # type: ignore[arg-type]
    assert (line.kind, line.asked, line.due, line.partial) == ("forecast", packs, 9, True)


def test_cancelled_and_shipped_packs_are_wanted_no_more() -> None:
    """10 packs less 4 shipped are 6; shipped in full or cancelled: no line."""
    orders = (
        Order("A", "jar", 10, day(9)),
        Order("B", "jar", 5, day(9), cancelled=True),
        Order("C", "jar", 2, day(9)),
    )
    shipped = (ShippedPacks(day(1), "A", 1), ShippedPacks(day(2), "A", 3), ShippedPacks(day(2), "C", 2))
    line = only_line(season(orders=orders, shipped=shipped), 3)
    assert (line.id, line.asked, line.packs) == ("A", 6, 6)


def test_finished_packs_go_to_the_weightiest_line_then_the_earliest_due() -> None:
    """12 packs: the priority-1 order takes its 5, then the earlier due of the two others, then the last."""
    orders = (
        Order("late", "jar", 5, day(10)),
        Order("soon", "jar", 4, day(8)),
        Order("first", "jar", 5, day(15), priority=1),
    )
    demand = build_demand(season(orders=orders, stock=(StockLot("K", 12, day(-3), product="jar"),)))
    assert [(g.line, g.packs) for g in demand.given] == [("first", 5), ("soon", 4), ("late", 3)]
    assert {n.id: n.packs for n in demand.lines} == {"soon": 0, "late": 2, "first": 0}
    assert demand.given[0].sell_by == -3 + 45


def test_finished_packs_first_expired_first_out_with_the_life_asked_for() -> None:
    """Old packs (sell by day 15) suit an order due on day 10 with 5 days of life, not with 6."""
    stock = (StockLot("old", 4, day(-30), product="jar"), StockLot("new", 4, day(-2), product="jar"))
    plain = build_demand(season(orders=(Order("A", "jar", 6, day(10), least_life_days=5),), stock=stock))
    assert [(g.lot, g.packs) for g in plain.given] == [("old", 4), ("new", 2)]
    strict = build_demand(season(orders=(Order("A", "jar", 6, day(10), least_life_days=6),), stock=stock))
    assert [(g.lot, g.packs) for g in strict.given] == [("new", 4)]
    assert strict.lines[0].packs == 2


def test_pieces_on_hand_are_stock_and_batches_made_not_failed_ones() -> None:
    """A lot of pieces is dated by its making, and a made batch counts as counted, not as nominal."""
    demand = build_demand(
        season(
            stock=(StockLot("P", 70, day(-5), design="Kite"),),
            made=(
                MadeBatch(day(1), "0202-1", "Daisy", "made", 93, 4),
                MadeBatch(day(1), "0202-2", "Daisy", "failed"),
                MadeBatch(day(2), "0203-1", "Daisy", "not started"),
            ),
        )
    )
    assert [(s.lot, s.made, s.pieces, s.last_day) for s in demand.supplies] == [
        ("P", -5, 70, 25),
        ("0202-1", 1, 93, 46),
    ]


def test_packed_facts_take_the_oldest_usable_candy_and_become_shelf_lots() -> None:
    """5 jars of 10 on day 3: 3 from the old lot of 30, 2 from the new one; two shelf lots by sell-by."""
    asked = season(
        orders=(Order("A", "jar", 9, day(9)),),
        stock=(StockLot("new", 50, day(1), design="Daisy"), StockLot("old", 30, day(-9), design="Daisy")),
        packed=(PackedPacks(day(3), "jar", 5),),
    )
    demand = build_demand(asked, 4)
    assert [(s.lot, s.pieces) for s in demand.supplies] == [("new", 30)]
    assert [(g.lot, g.packs, g.sell_by) for g in demand.given] == [
        ("packed 2027-02-04 jar", 3, 36),
        ("packed 2027-02-04 jar (2)", 2, 46),
    ]
    assert demand.lines[0].packs == 4


def test_shipped_packs_leave_the_shelf_and_unnoted_packing_takes_candy() -> None:
    """3 on the shelf, 5 shipped: the shelf is empty, 2 x 10 pieces came off the lot."""
    asked = season(
        orders=(Order("A", "jar", 5, day(2)), Order("B", "jar", 1, day(9))),
        stock=(StockLot("P", 50, day(-1), design="Daisy"), StockLot("K", 3, day(-3), product="jar")),
        shipped=(ShippedPacks(day(2), "A", 5),),
    )
    demand = build_demand(asked, 3)
    assert demand.given == ()
    assert [(s.lot, s.pieces) for s in demand.supplies] == [("P", 30)]


def test_packs_packed_after_the_due_day_are_not_given_to_it() -> None:
    """Packed on day 4: in time for an order due on day 4, not for one due on day 3."""
    asked = season(
        orders=(Order("A", "jar", 2, day(3), priority=1), Order("B", "jar", 2, day(4))),
        stock=(StockLot("P", 20, day(-1), design="Daisy"),),
        packed=(PackedPacks(day(4), "jar", 2),),
    )
    assert [(g.line, g.packs) for g in build_demand(asked, 5).given] == [("B", 2)]


def test_order_of_rows_does_not_matter() -> None:
    asked = season(
        orders=tuple(Order(f"A{i}", "jar", i + 1, day(5 + i % 3)) for i in range(6)),
        stock=tuple(StockLot(f"K{i}", 2, day(-i), product="jar") for i in range(4)),
    )
    turned = replace(asked, orders=asked.orders[::-1], stock=asked.stock[::-1])
    assert build_demand(asked) == build_demand(turned)
