"""Days that fit to the minute, and what they give to whom."""

from __future__ import annotations

import math
import time
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from scheduler.models.counts.board import Wish
from scheduler.models.counts.days import Book
from scheduler.models.counts.deal import PackingTime, dealt_roughly, repacked
from scheduler.models.counts.part import Part
from scheduler.models.day.pack_in import idle_minutes, longer_minutes
from scheduler.models.facts import Facts
from scheduler.models.search.fitting import BY_HAND, CAREFULLY, QUICKLY, Care, Fitter
from scheduler.models.search.make_room import RoomMaker
from scheduler.models.search.wished import fit_days
from scheduler.plan.lots import Allocation, Deal, allocate
from scheduler.plan.types import DayPlan
from scheduler.season import rules

SHARE = 0.25  # of the time that is left, for filling up


@dataclass(frozen=True)
class Fitted:
    """Days that fit to the minute, and what they give to whom; ``failed``: how many were asked for more than fits."""

    days: tuple[DayPlan, ...]
    given: Allocation
    missed: int
    failed: int = 0

    @property
    def worth(self) -> tuple[int, int]:
        """Smaller is better: missed shows, weighted shortfall."""
        return self.missed, self.given.weighted


def fit_whole(
    facts: Facts, fitter: Fitter, wish: Wish, care: Care = CAREFULLY, learn: bool = False,
    settled: Mapping[int, DayPlan] | None = None, deal: Deal = dealt_roughly, fewer: bool = True,
) -> Fitted:  # fmt: skip
    """Fit the days of a wish that are not settled (see ``fit_days``), give out what all yield."""
    book, failed = fit_days(fitter, wish, care, learn, settled, fewer)
    return give_out(facts, book, wish, deal, failed)


def fit_counted(
    facts: Facts, fitter: Fitter, wish: Wish, care: Care = BY_HAND, part: Part | None = None
) -> Fitted:
    """The days of a wish that counts batches alone, by hand: first these, then packs where there is time for them.

    Measured on 13 weeks: a day that is asked for packs that it has no time for loses a batch, 4 to 20 in all.
    ``part``: the weeks of the wish, where it is not one for the whole season.
    """
    here, settled, kept = (facts, {}, {}) if part is None else (part.facts, part.settled, part.stand)
    book, _ = fit_days(fitter, replace(wish, packing={}), care, False, kept)
    made = {t: book.days[t].designs for t in here.days if t in book.days and t not in settled}
    counted = repacked(here, replace(wish, batches=made), settled, time_to_pack(here, book))
    if part is None:
        return fit_whole(facts, fitter, counted, care, fewer=False)
    return fit_whole(facts, fitter, part.whole(counted), care, settled=kept, deal=part.deal, fewer=False)


def time_to_pack(facts: Facts, book: Book) -> PackingTime:
    """Packers' idle minutes, and those for which one of them stays or comes, as what is left of their weeks allows."""
    packers = {t: facts.skilled(t, facts.season.kitchen.packing_skill) for t in facts.days}
    idle = {t: idle_minutes(book.days[t], packers[t]) if t in book.days else 0 for t in facts.days}
    spare = {}
    for week, days in facts.weeks.items():
        people = [facts.person(name) for name in sorted({name for t in days for name in packers[t]})]
        spare[tuple(days)] = sum(max(0, rules.week_limit(p) - book.paid_in(p.name, week, -1)) for p in people)
    more = {t: longer_minutes(facts, t, book.days.get(t), packers[t]) for t in facts.days}
    return PackingTime(idle, more, spare)


def give_out(facts: Facts, book: Book, wish: Wish, deal: Deal = dealt_roughly, failed: int = 0) -> Fitted:
    """What the days give to whom: as it was meant, or dealt out where that falls short."""
    days = tuple(book.days[t] for t in sorted(book.days))
    given = allocate(facts.season, facts.demand, days, wish.fills, wish.late, patient=False)
    if given.weighted:
        again = allocate(facts.season, facts.demand, days, wish.fills, wish.late, deal=deal)
        given = min(given, again, key=lambda g: g.weighted)
    return Fitted(days, given, missed_shows(facts, given.days), failed)


def filled(
    facts: Facts, fitter: Fitter, best: Fitted, tries: int, served: Collection[str] | None = None, care: Care = QUICKLY
) -> Fitted:  # fmt: skip
    """The same plan with more on its days, where something gets less short by it; ``served``: who may get more.

    In a share of the time that is left, where there is a limit. ``care``: how days are looked for.
    """
    if best.worth == (0, 0):
        return best
    days = {facts.season.index(d.day): d for d in best.given.days}
    until = math.inf if fitter.left is None else time.monotonic() + SHARE * fitter.left
    given = RoomMaker(facts, fitter, days, best.given, tries, served, until, care).run()
    return Fitted(given.days, given, missed_shows(facts, given.days))


def missed_shows(facts: Facts, days: tuple[DayPlan, ...]) -> int:
    """Shows of free days that could be held and that nobody holds."""
    by_day = {facts.season.index(d.day): d for d in days}
    missed = 0
    for t, today in facts.shows.items():
        missed += sum(t not in by_day or show.name in by_day[t].missed_shows for show in today)
    return missed
