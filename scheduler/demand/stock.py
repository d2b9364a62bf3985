"""What is on hand: opening stock and recorded facts, settled day by day.

Batches made add loose pieces; packs packed turn the oldest usable pieces into finished
packs; packs shipped leave the shelf. First expired, first out throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from scheduler.season.types import PackedPacks, Season, ShippedPacks


@dataclass(slots=True)
class LoosePieces:
    """Pieces of one design that are left of a lot."""

    lot: str
    design: str
    made: date
    sell_by: date
    pieces: int


@dataclass(slots=True)
class FinishedPacks:
    """Packs of one product on the shelf; ``made`` and ``sell_by`` are those of the oldest candy inside."""

    lot: str
    product: str
    ready: date  # packed on this day; opening stock is ready from the start
    made: date
    sell_by: date
    packs: int


def on_hand(season: Season) -> tuple[list[LoosePieces], list[FinishedPacks]]:
    """Loose pieces and finished packs after all facts, each first expired first; empty lots left out."""
    pieces = sorted(_loose(season), key=lambda lot: (lot.sell_by, lot.made, lot.lot))
    shelf = [_stock_packs(season, lot.lot, lot.product, lot.quantity, lot.made) for lot in season.stock if lot.product]
    facts: list[PackedPacks | ShippedPacks] = [*season.packed, *season.shipped]
    for fact in sorted(facts, key=lambda f: (f.day, isinstance(f, ShippedPacks))):
        if isinstance(fact, PackedPacks):
            _pack(season, fact, pieces, shelf)
        else:
            _ship(season, fact, pieces, shelf)
    shelf.sort(key=lambda p: (p.sell_by, p.made, p.lot))
    return [p for p in pieces if p.pieces > 0], [p for p in shelf if p.packs > 0]


def _loose(season: Season) -> list[LoosePieces]:
    """Stock lots of pieces, and the saleable pieces of batches that were made."""
    lots = [(s.lot, s.design, s.made, s.quantity) for s in season.stock if s.design]
    lots += [(m.batch, m.design, m.day, m.pieces) for m in season.made if m.outcome == "made"]
    return [LoosePieces(lot, d, made, made + _life(season, d), pieces) for lot, d, made, pieces in lots]


def _life(season: Season, design: str) -> timedelta:
    return timedelta(days=season.design_by_name[design].sell_by_days)


def _stock_packs(season: Season, lot: str, product: str, packs: int, made: date) -> FinishedPacks:
    """Opening stock of packs: made day plus the shortest sell-by of the designs inside."""
    sell_by = min(made + _life(season, d) for d in season.contents_of[product])
    return FinishedPacks(lot, product, min(made, season.kitchen.first_day), made, sell_by, packs)


def _pack(season: Season, fact: PackedPacks, pieces: list[LoosePieces], shelf: list[FinishedPacks]) -> None:
    """Take the pieces of a packed fact off the lots; packs with the same oldest candy are one shelf lot.

    Candy that is rested and in date goes first, then whatever was made by that day: what
    was packed was packed. Pieces that the books don't have count as made just in time.
    """
    rested = timedelta(days=season.kitchen.packing_from_days)
    usable = [p for p in pieces if p.made + rested <= fact.day <= p.sell_by]
    usable += [p for p in pieces if p.made <= fact.day and not p.made + rested <= fact.day <= p.sell_by]
    today = f"packed {fact.day.isoformat()} {fact.product}"
    number = sum(p.lot.startswith(today) for p in shelf)
    packed: list[FinishedPacks] = []
    for _ in range(fact.packs):
        made, sell_by = _oldest_inside(season, fact, usable, rested)
        if packed and (packed[-1].made, packed[-1].sell_by) == (made, sell_by):
            packed[-1].packs += 1
        else:
            number += 1
            name = today if number == 1 else f"{today} ({number})"
            packed.append(FinishedPacks(name, fact.product, fact.day, made, sell_by, 1))
    shelf += packed


def _oldest_inside(
    season: Season, fact: PackedPacks, usable: list[LoosePieces], rested: timedelta
) -> tuple[date, date]:
    """Draw one pack's pieces; made day and sell-by of the candy in it that expires first."""
    inside: list[tuple[date, date]] = []
    for design, need in season.contents_of[fact.product].items():
        for lot in usable:
            if lot.design == design and lot.pieces > 0 and need > 0:
                taken = min(need, lot.pieces)
                lot.pieces -= taken
                need -= taken
                inside.append((lot.sell_by, lot.made))
        if need > 0:
            made = fact.day - rested
            inside.append((made + _life(season, design), made))
    sell_by, made = min(inside)
    return made, sell_by


def _ship(season: Season, fact: ShippedPacks, pieces: list[LoosePieces], shelf: list[FinishedPacks]) -> None:
    """Take shipped packs off the shelf: with the life that the line asks for first, then any.

    Packs that the shelf does not have were packed without a note: their candy comes off the lots.
    """
    product, until = _shipped_line(season, fact)
    left = fact.packs
    for lot in sorted(shelf, key=lambda p: (p.sell_by < until, p.sell_by, p.made, p.lot)):
        if lot.product == product and lot.ready <= fact.day:
            taken = min(left, lot.packs)
            lot.packs -= taken
            left -= taken
    if left > 0:
        _pack(season, PackedPacks(fact.day, product, left), pieces, [])


def _shipped_line(season: Season, fact: ShippedPacks) -> tuple[str, date]:
    """Product of the order or forecast that was shipped, and the day until which it must last."""
    order = season.order_by_id.get(fact.order)
    if order is None:
        forecast = next(f for f in season.forecasts if f.id == fact.order)
        return forecast.product, forecast.shelf_day + timedelta(days=season.kitchen.least_life_days)
    life = season.kitchen.least_life_days if order.least_life_days is None else order.least_life_days
    return order.product, order.due + timedelta(days=life)
