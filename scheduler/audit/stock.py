"""What stands in the kitchen before planning: opening stock and facts, first expired first out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from scheduler.plan.types import Lot
from scheduler.season.types import Season


@dataclass(frozen=True, slots=True)
class PackLot:
    """Finished packs of a product that stand ready from a day on."""

    id: str
    product: str
    packs: int
    ready: date
    made: date
    sell_by: date


def candy_on_hand(season: Season) -> list[Lot]:
    """Opening stock and made batches, less the pieces of the packs that were packed since."""
    books = _Books(season)
    return [Lot(x.id, x.design, x.made, books.left[x.id], x.sell_by) for x in books.candy]


def packs_on_hand(season: Season) -> dict[str, PackLot]:
    """Opening stock of packs and packs packed since, less what was shipped; by lot."""
    books = _Books(season)
    return {
        lot.id: PackLot(lot.id, lot.product, books.packs_left[lot.id], lot.ready, lot.made, lot.sell_by)
        for lot in books.packs
    }


def later(day: date, days: int) -> date:
    """A day so many days later, held inside the calendar."""
    return date.fromordinal(min(max(day.toordinal() + days, 1), date.max.toordinal()))


class _Books:
    """The season's facts entered one after another, by day, packing before shipping."""

    def __init__(self, season: Season) -> None:
        self.season = season
        self.candy: list[Lot] = []
        self.packs: list[PackLot] = []
        for s in season.stock:
            if s.design:
                self.candy.append(Lot(s.lot, s.design, s.made, s.quantity, self._sell_by(s.design, s.made)))
            else:
                ends = [self._sell_by(d, s.made) for d in season.contents_of.get(s.product, {})]
                ready = min(s.made, season.kitchen.first_day)
                self.packs.append(PackLot(s.lot, s.product, s.quantity, ready, s.made, min(ends, default=s.made)))
        for m in season.made:
            if m.outcome == "made":
                self.candy.append(Lot(m.batch, m.design, m.day, m.pieces, self._sell_by(m.design, m.day)))
        self.candy.sort(key=lambda lot: (lot.sell_by, lot.made, lot.id))
        self.left = {lot.id: lot.pieces for lot in self.candy}
        self.packs_left = {lot.id: lot.packs for lot in self.packs}
        for day in sorted({p.day for p in season.packed} | {s.day for s in season.shipped}):
            for packed in season.packed:
                if packed.day == day:
                    self._enter(day, packed.product, self._take(day, packed.product, packed.packs))
            for shipped in season.shipped:
                if shipped.day == day:
                    self._ship(day, shipped.order, shipped.packs)

    def _sell_by(self, design: str, made: date) -> date:
        known = self.season.design_by_name.get(design)
        return later(made, known.sell_by_days if known is not None else 0)

    def _take(self, day: date, product: str, packs: int) -> list[tuple[date, date]]:
        """Take candy for packs off the lots; (sell-by, made) of the first to expire in each pack.

        Rested candy in date first, then anything made by that day; what the books lack
        counts as made just in time.
        """
        rest = self.season.kitchen.packing_from_days
        first: list[tuple[date, date]] = [(date.max, date.max)] * packs
        for design, pieces in self.season.contents_of.get(product, {}).items():
            there = [lot for lot in self.candy if lot.design == design and lot.made <= day]
            good = [lot for lot in there if (day - lot.made).days >= rest and day <= lot.sell_by]
            queue = good + [lot for lot in there if lot not in good]
            for i in range(packs):
                need = pieces
                while need > 0 and queue:
                    lot = queue[0]
                    taken = min(need, self.left[lot.id])
                    need -= taken
                    self.left[lot.id] -= taken
                    if taken:
                        first[i] = min(first[i], (lot.sell_by, lot.made))
                    if self.left[lot.id] == 0:
                        queue.pop(0)
                if need > 0:
                    made = later(day, -rest)
                    first[i] = min(first[i], (self._sell_by(design, made), made))
        return first

    def _enter(self, day: date, product: str, inside: list[tuple[date, date]]) -> None:
        """Packs with the same oldest candy, one after another, are one lot of the shelf."""
        before: tuple[date, date] | None = None
        name = f"packed {day.isoformat()} {product}"
        number = sum(lot.id.startswith(name) for lot in self.packs)
        for oldest in inside:
            if oldest != before:
                number += 1
                lot = name if number == 1 else f"{name} ({number})"
                self.packs.append(PackLot(lot, product, 0, day, oldest[1], oldest[0]))
                self.packs_left[lot] = 0
                before = oldest
            self.packs_left[self.packs[-1].id] += 1

    def _ship(self, day: date, line: str, packs: int) -> None:
        """Take packs off the shelf, those that last as asked first; the rest was packed unnoted."""
        product, until = self._line(line)
        shelf = [lot for lot in self.packs if lot.product == product and lot.ready <= day]
        for lot in sorted(shelf, key=lambda x: (x.sell_by < until, x.sell_by, x.made, x.id)):
            taken = min(packs, self.packs_left[lot.id])
            self.packs_left[lot.id] -= taken
            packs -= taken
        if packs > 0:
            self._take(day, product, packs)

    def _line(self, name: str) -> tuple[str, date]:
        """Product of an order or forecast, and the day until which it must last."""
        usual = self.season.kitchen.least_life_days
        order = self.season.order_by_id.get(name)
        if order is not None:
            return order.product, later(order.due, usual if order.least_life_days is None else order.least_life_days)
        for forecast in self.season.forecasts:
            if forecast.id == name:
                return forecast.product, later(forecast.shelf_day, usual)
        return "", date.max
