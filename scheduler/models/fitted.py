"""Days that fit to the minute, and what they give to whom."""

from __future__ import annotations

import math
import time
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from scheduler.models.day_by_hand import TRIES
from scheduler.models.days import Book
from scheduler.models.deal import dealt_roughly, repacked
from scheduler.models.facts import Facts
from scheduler.models.fitting import FEW, Fitter
from scheduler.models.make_room import RoomMaker
from scheduler.models.pack_in import idle_minutes
from scheduler.models.season import Wish
from scheduler.plan.lots import Allocation, Deal, allocate
from scheduler.plan.types import DayPlan

SHARE = 0.25  # of the time that is left, for filling up
STAYING = 60  # minutes of a day for which somebody stays, or comes, to pack


@dataclass(frozen=True)
class Fitted:
    """Days that fit to the minute, and what they give to whom."""

    days: tuple[DayPlan, ...]
    given: Allocation
    missed: int

    @property
    def worth(self) -> tuple[int, int]:
        """Smaller is better: missed shows, weighted shortfall."""
        return self.missed, self.given.weighted


def fit_whole(
    facts: Facts, fitter: Fitter, wish: Wish, learn: bool = True, settled: Mapping[int, DayPlan] | None = None,
    by_hand: bool = False, tries: int = TRIES, deal: Deal = dealt_roughly,
) -> Fitted:  # fmt: skip
    """Fit the days of a wish that are not settled, give out what all yield."""
    book = fitter.fit(wish, learn, settled, by_hand, tries)
    return give_out(facts, book, wish, deal)


def fit_counted(facts: Facts, fitter: Fitter, wish: Wish, tries: int = TRIES) -> Fitted:
    """The days of a wish that counts batches alone, by hand: first these, then packs where there is time for them.

    That is what packers' idle minutes hold, with a little more for which somebody stays or comes, or what is wished
    for. Measured on 13 weeks: a day that is asked for packs that it has no time for loses a batch, 4 to 20 in all.
    """
    packing = facts.season.kitchen.packing_skill
    each = {product.name: product.packing_seconds for product in facts.season.products}
    bare = fitter.fit(replace(wish, packing={}), False, by_hand=True, tries=tries).days
    room = {}
    for t in facts.days:
        wished = sum(packs * each[product] for product, packs in wish.packing.get(t, ()))
        packers = facts.skilled(t, packing)
        idle = idle_minutes(bare[t], packers) if t in bare else 0
        room[t] = max(wished, 60 * (idle + STAYING)) if packers else 0
    made = {t: bare[t].designs for t in facts.days if t in bare}
    counted = repacked(facts, replace(wish, batches=made), room=room)
    return fit_whole(facts, fitter, counted, False, by_hand=True, tries=tries)


def give_out(facts: Facts, book: Book, wish: Wish, deal: Deal = dealt_roughly) -> Fitted:
    """What the days give to whom: as it was meant, or dealt out where that falls short."""
    days = tuple(book.days[t] for t in sorted(book.days))
    given = allocate(facts.season, facts.demand, days, wish.fills, wish.late, patient=False)
    if given.weighted:
        again = allocate(facts.season, facts.demand, days, wish.fills, wish.late, deal=deal)
        given = min(given, again, key=lambda g: g.weighted)
    return Fitted(days, given, missed_shows(facts, given.days))


def filled(facts: Facts, fitter: Fitter, best: Fitted, tries: int, served: Collection[str] | None = None) -> Fitted:
    """The same plan with more on its days, where something gets less short by it; ``served``: who may get more.

    In a share of the time that is left, where there is a limit.
    """
    if best.worth == (0, 0):
        return best
    days = {facts.season.index(d.day): d for d in best.given.days}
    fitter.tries = FEW
    until = math.inf if fitter.left is None else time.monotonic() + SHARE * fitter.left
    given = RoomMaker(facts, fitter, days, best.given, tries, served, until).run()
    return Fitted(given.days, given, missed_shows(facts, given.days))


def missed_shows(facts: Facts, days: tuple[DayPlan, ...]) -> int:
    """Shows of free days that could be held and that nobody holds."""
    by_day = {facts.season.index(d.day): d for d in days}
    missed = 0
    for t, today in facts.shows.items():
        missed += sum(t not in by_day or show.name in by_day[t].missed_shows for show in today)
    return missed
