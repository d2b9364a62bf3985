"""What stands in the kitchen after facts, by the audit's own books and by the demand room's: equal."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest
from scheduler.audit.stock import candy_on_hand, packs_on_hand
from scheduler.demand.stock import on_hand
from scheduler.season.types import MadeBatch, PackedPacks, Season, ShippedPacks, StockLot
from tests.audit.sabotage import add
from tests.handmade import MONDAY, TUESDAY, WEDNESDAY, handmade_season


def test_packed_packs_take_the_oldest_candy() -> None:
    """12 lemon jars of 20: 200 pieces of S1, then 40 of the batch made on Monday with 870 counted."""
    season = add(
        made=MadeBatch(MONDAY, "0302-1", "lemon", "made", 870), packed=PackedPacks(TUESDAY, "lemon jar", 12)
    )(handmade_season())
    assert {lot.id: lot.pieces for lot in candy_on_hand(season)} == {"S1": 0, "0302-1": 830}
    packs = packs_on_hand(season)
    assert {name: lot.packs for name, lot in packs.items()} == {
        "P1": 5,
        "packed 2026-03-03 lemon jar": 10,
        "packed 2026-03-03 lemon jar (2)": 2,
    }
    assert packs["packed 2026-03-03 lemon jar (2)"].sell_by == MONDAY + timedelta(days=180)


def test_failed_batches_are_no_stock() -> None:
    """A batch that failed, or was not started, is candy for nobody."""
    season = add(made=MadeBatch(MONDAY, "0302-1", "lemon", "failed", 0))(handmade_season())
    assert [lot.id for lot in candy_on_hand(season)] == ["S1"]


def test_shipped_packs_leave_the_shelf_and_then_the_lots() -> None:
    """7 jars shipped, 5 on the shelf: two were packed without a note and their 40 pieces come off S1."""
    season = add(shipped=ShippedPacks(TUESDAY, "O1", 7))(handmade_season())
    assert packs_on_hand(season)["P1"].packs == 0
    assert {lot.id: lot.pieces for lot in candy_on_hand(season)} == {"S1": 160}


@pytest.mark.parametrize("seed", range(60))
def test_two_sets_of_books_agree(seed: int) -> None:
    """Random facts: the audit's books and the demand room's, written apart, say the same."""
    season = _with_facts(handmade_season(), random.Random(seed))
    pieces, packs = on_hand(season)
    audited = [(lot.id, lot.made, lot.sell_by, lot.pieces) for lot in candy_on_hand(season) if lot.pieces]
    assert audited == [(lot.lot, lot.made, lot.sell_by, lot.pieces) for lot in pieces]
    shelf = {(x.id, x.product, x.ready, x.made, x.sell_by, x.packs) for x in packs_on_hand(season).values() if x.packs}
    assert shelf == {(x.lot, x.product, x.ready, x.made, x.sell_by, x.packs) for x in packs}


def _with_facts(season: Season, rng: random.Random) -> Season:
    days = (MONDAY, TUESDAY, WEDNESDAY)
    designs, outcomes = ("lemon", "heart", "nut"), ("made", "made", "failed")
    products, lines = ("lemon jar", "mixed bag", "nut jar"), ("O1", "O2", "O3", "F1")
    made = tuple(
        MadeBatch(rng.choice(days), f"B{i}", rng.choice(designs), rng.choice(outcomes), rng.randint(0, 500))
        for i in range(rng.randint(0, 5))
    )
    packed = tuple(
        PackedPacks(rng.choice(days), rng.choice(products), rng.randint(0, 25)) for _ in range(rng.randint(0, 5))
    )
    shipped = tuple(
        ShippedPacks(rng.choice(days), rng.choice(lines), rng.randint(0, 20)) for _ in range(rng.randint(0, 5))
    )
    stock = tuple(
        StockLot(f"T{i}", rng.randint(1, 200), date(2025, 9, 1) + timedelta(days=rng.randint(0, 180)), design="lemon")
        for i in range(rng.randint(0, 3))
    )
    return replace(season, made=made, packed=packed, shipped=shipped, stock=(*season.stock, *stock))
