"""What has happened by a moment: recorded facts, and where nobody counted, the plan as it stood.

Facts are rows of the season (tables made, packed, shipped). ``as_planned`` writes down
what the plan says for everything before now that nobody recorded, so that planning,
lots and audit need no special case for a plan that is half over.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduler.plan.begun import packed_by
from scheduler.plan.types import Fill, Plan
from scheduler.season.types import AS_PLANNED, MadeBatch, PackedPacks, Season, ShippedPacks


@dataclass(frozen=True, slots=True, order=True)
class Moment:
    """A day and a clock minute: what comes before it is past."""

    day: date
    minute: int = 0

    def passed(self, day: date, minute: int) -> bool:
        """Whether a minute of a day lies before this moment (a run that ends now has passed)."""
        return (day, minute) < (self.day, self.minute)

    def __str__(self) -> str:
        return f"{self.day:%A} {self.day.day} {self.day:%B}, {self.minute // 60:02d}:{self.minute % 60:02d}"


def as_planned(season: Season, plan: Plan, now: Moment, cut: bool = False) -> Season:
    """The season with a fact for everything that the plan puts before now.

    With ``cut`` a pack run that is in progress now counts as far as it got; otherwise it
    is still to come.

    A batch poured before now is made with its design's pieces, a pack run ended by now is
    packed as far as the candy was there, a delivery due before today is shipped as far as
    the packs were there. Counted facts stand as they are; rows marked "as planned" are
    worked out anew. A plan that follows another has its days but not its deliveries: those
    are taken from the rows that were written then. Example: batch 0301-1 recorded with 870
    pieces keeps 870; 0301-2, poured and not recorded, gets its 900.
    """
    told = counted(season)
    before = [s for s in season.shipped if s.remark == AS_PLANNED and s.day < plan.from_day]
    made = (*told.made, *_made(told, plan, now))
    told = replace(told, made=_by_day(made))
    packed = (*told.packed, *_packed(told, plan, now, cut))
    told = replace(told, packed=tuple(sorted(packed, key=lambda p: (p.day, p.product, p.packs))))
    shipped = (*told.shipped, *_shipped(told, plan, now, before))
    return replace(told, shipped=tuple(sorted(shipped, key=lambda s: (s.day, s.order, s.packs))))


def counted(season: Season) -> Season:
    """The season with only those facts that somebody recorded."""
    return replace(
        season,
        made=tuple(m for m in season.made if m.remark != AS_PLANNED),
        packed=tuple(p for p in season.packed if p.remark != AS_PLANNED),
        shipped=tuple(s for s in season.shipped if s.remark != AS_PLANNED),
    )


def _by_day(made: tuple[MadeBatch, ...]) -> tuple[MadeBatch, ...]:
    return tuple(sorted(made, key=lambda m: (m.day, m.batch)))


def under_way(season: Season) -> date | None:
    """The last day on which anything was made or packed; None where the season has not begun."""
    days = [m.day for m in season.made] + [p.day for p in season.packed]
    return max((day for day in days if day >= season.kitchen.first_day), default=None)


def _made(season: Season, plan: Plan, now: Moment) -> Iterator[MadeBatch]:
    known = {m.batch for m in season.made}
    for day in plan.days:
        for batch in day.batches:
            if batch.id not in known and now.passed(day.day, batch.pour):
                pieces = season.design_by_name[batch.design].pieces
                yield MadeBatch(day.day, batch.id, batch.design, "made", pieces, 0, AS_PLANNED)


def _packed(season: Season, plan: Plan, now: Moment, cut: bool) -> Iterator[PackedPacks]:
    """Packs of runs ended by now, a count for each day and product, as far as candy was there."""
    known: dict[date, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for fact in season.packed:
        known[fact.day][fact.product] += fact.packs
    planned: dict[date, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for day in plan.days:
        for run in day.packing:
            if day.day < now.day or (day.day == now.day and run.ends <= now.minute):
                planned[day.day][run.product] += run.packs
            elif day.day == now.day and cut and (part := packed_by(season, run, now.minute)):
                planned[day.day][run.product] += part
    candy = Candy(season)
    for day_ in sorted(set(known) | set(planned)):
        for product, packs in known[day_].items():
            candy.take(day_, product, packs)
        for product, packs in sorted(planned[day_].items()):
            if product not in known[day_]:
                there = min(packs, candy.packs(day_, product))
                candy.take(day_, product, there)
                yield PackedPacks(day_, product, there, AS_PLANNED)


def _shipped(season: Season, plan: Plan, now: Moment, before: Iterable[ShippedPacks]) -> Iterator[ShippedPacks]:
    """Deliveries due before today, a row for each line and day, as far as the packs were there.

    ``before``: those of earlier plans, which are in this one's fills no more.
    """
    known = {s.order for s in season.shipped}
    left: dict[str, int] = defaultdict(int)
    for lot in season.stock:
        if lot.product:
            left[lot.product] += lot.quantity
    for fact in season.packed:
        left[fact.product] += fact.packs
    products = {o.id: o.product for o in season.orders} | {f.id: f.product for f in season.forecasts}
    for row in season.shipped:
        left[products.get(row.order, "")] -= row.packs
    due: dict[tuple[date, str], int] = defaultdict(int)
    for row in before:
        if row.order not in known and row.day < now.day:
            due[row.day, row.order] += row.packs
    for fill in plan.fills:
        when = leaves(season, fill)
        if fill.line not in known and when is not None and when < now.day:
            due[when, fill.line] += fill.packs
    for (when, line), packs in sorted(due.items()):
        product = products.get(line, "")
        there = max(0, min(packs, left[product]))
        left[product] -= there
        yield ShippedPacks(when, line, there, AS_PLANNED)


def leaves(season: Season, fill: Fill) -> date | None:
    """The day on which a delivery leaves: the due day, or the packing day where that is later."""
    order = season.order_by_id.get(fill.line)
    if order is not None:
        if order.cancelled:
            return None
        due = order.due
    else:
        shelf = [f.shelf_day for f in season.forecasts if f.id == fill.line]
        if not shelf:
            return None
        due = shelf[0]
    return due if fill.packed is None else max(due, fill.packed)


class Candy:
    """Loose pieces by lot, taken oldest first: how many packs could be packed on a day."""

    def __init__(self, season: Season) -> None:
        self.season = season
        self.lots: dict[str, list[tuple[date, int]]] = defaultdict(list)
        for lot in season.stock:
            if lot.design:
                self.lots[lot.design].append((lot.made, lot.quantity))
        for batch in season.made:
            if batch.outcome == "made" and batch.pieces > 0:
                self.lots[batch.design].append((batch.day, batch.pieces))
        for lots in self.lots.values():
            lots.sort()

    def usable(self, day: date, design: str) -> int:
        """Pieces made early enough to be packed on a day, and not past their sell-by."""
        return sum(pieces for made, pieces in self.lots[design] if self._good(day, design, made))

    def packs(self, day: date, product: str) -> int:
        """Packs of a product that the pieces of a day allow: the scarcest design decides."""
        contents = self.season.contents_of[product]
        return min((self.usable(day, design) // pieces for design, pieces in contents.items()), default=0)

    def take(self, day: date, product: str, packs: int) -> None:
        """Take the pieces of packs from the oldest usable lots, as far as there are any."""
        for design, pieces in self.season.contents_of[product].items():
            wanted, kept = packs * pieces, []
            for made, there in self.lots[design]:
                taken = min(wanted, there) if self._good(day, design, made) else 0
                wanted -= taken
                if there > taken:
                    kept.append((made, there - taken))
            self.lots[design] = kept

    def _good(self, day: date, design: str, made: date) -> bool:
        life = timedelta(self.season.design_by_name[design].sell_by_days)
        return made + timedelta(self.season.kitchen.packing_from_days) <= day <= made + life
