"""What stands in the kitchen before planning: opening stock and facts, first expired first out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from scheduler.plan.types import Lot
from scheduler.season.types import Season


@dataclass(frozen=True, slots=True)
class PackLot:
    """Finished packs of a product that stand ready."""

    id: str
    product: str
    packs: int
    made: date
    sell_by: date


def candy_on_hand(season: Season) -> list[Lot]:
    """Opening stock and made batches, less the pieces of the packs that were packed since."""
    return _used(season)[0]


def packs_on_hand(season: Season) -> dict[str, PackLot]:
    """Opening stock of packs and packs packed since, less what was shipped; by lot."""
    lots = [
        PackLot(s.lot, s.product, s.quantity, s.made, _packs_sell_by(season, s.product, s.made))
        for s in season.stock
        if s.product
    ]
    lots += _used(season)[1]
    for fact in sorted(season.shipped, key=lambda f: f.day):
        order = season.order_by_id.get(fact.order)
        left = fact.packs
        for i in sorted(range(len(lots)), key=lambda i: (lots[i].sell_by, lots[i].made, lots[i].id)):
            if order is not None and lots[i].product == order.product and left > 0:
                taken = min(left, lots[i].packs)
                lots[i] = replace(lots[i], packs=lots[i].packs - taken)
                left -= taken
    return {lot.id: lot for lot in lots}


def _used(season: Season) -> tuple[list[Lot], list[PackLot]]:
    """Candy left after the packed facts, and the packs that they made."""
    lots = []
    for s in season.stock:
        if s.design:
            lots.append(Lot(s.lot, s.design, s.made, s.quantity, _sell_by(season, s.design, s.made)))
    for m in season.made:
        if m.outcome == "made":
            lots.append(Lot(m.batch, m.design, m.day, m.pieces, _sell_by(season, m.design, m.day)))
    packed = []
    for fact in sorted(season.packed, key=lambda f: f.day):
        made, sell_bys = [fact.day], []
        for design, pieces in season.contents_of.get(fact.product, {}).items():
            left = pieces * fact.packs
            usable = [
                i
                for i, lot in enumerate(lots)
                if lot.design == design
                and (fact.day - lot.made).days >= season.kitchen.packing_from_days
                and lot.sell_by >= fact.day
            ]
            for i in sorted(usable, key=lambda i: (lots[i].sell_by, lots[i].made, lots[i].id)):
                taken = min(left, lots[i].pieces)
                if taken > 0:
                    lots[i] = replace(lots[i], pieces=lots[i].pieces - taken)
                    left -= taken
                    made.append(lots[i].made)
                    sell_bys.append(lots[i].sell_by)
        sell_by = min(sell_bys, default=_packs_sell_by(season, fact.product, fact.day))
        packed.append(PackLot(f"packed {fact.day} {fact.product}", fact.product, fact.packs, min(made), sell_by))
    return lots, packed


def _sell_by(season: Season, design: str, made: date) -> date:
    known = season.design_by_name.get(design)
    return later(made, known.sell_by_days if known is not None else 0)


def _packs_sell_by(season: Season, product: str, made: date) -> date:
    """Sell-by of a pack: the earliest of its designs, counted from the day made."""
    return min((_sell_by(season, design, made) for design in season.contents_of.get(product, {})), default=made)


def later(day: date, days: int) -> date:
    """A day so many days later, held inside the calendar."""
    return date.fromordinal(min(max(day.toordinal() + days, 1), date.max.toordinal()))
