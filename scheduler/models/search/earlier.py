"""Packing brought forward: what is packed on the last day that is in time goes to days before.

What a planner does when the season stands: nobody else comes, the batches stay; who has nothing to do goes to the
bench for tomorrow's boxes, and tomorrow has a day to spare. Where the kitchen asks for days to spare, whoever is in
stays longer for that, too, within the hours of the contract. No solver, an instant.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from math import inf

from scheduler.demand.build import last_open
from scheduler.models.counts.days import Book, as_they_are, held_on
from scheduler.models.day.pack_in import pack_in
from scheduler.models.day.packing import packing_minutes
from scheduler.models.day.shifts import trimmed
from scheduler.models.facts import Facts
from scheduler.plan.lots import Allocation, allocate, without_packs
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.types import DayPlan, Draw, Fill, in_time_and_late

TRIES = 4000  # days that are looked at for a place at the bench
Portion = tuple[int, int]  # day, packs


def brought_forward(facts: Facts, given: Allocation, until: float = inf) -> Allocation:
    """The same plan with fewer packs packed late, then fewer on the last day that is in time, and so on, for as many
    days as the kitchen wants to spare.

    Nothing more is moved after ``until``, a reading of the monotonic clock. Example: 40 boxes are due on Tuesday, their
    candy is made by Friday, and Ana is idle for an hour on Monday: she packs them then.
    """
    for days in range(max(1, facts.season.kitchen.spare_days) + 1):
        moving = _Moving(facts, given, days)
        if tight := moving.tight(given):
            for fill in sorted(tight, key=lambda f: (-moving.lines[f.line].weight, f.packed, f.line)):
                if time.monotonic() > until or moving.tries <= 0:
                    break
                moving.move(fill)
            given = moving.better()
    return given


class _Moving:
    """The days and fills while packs are moved, so that so many open days are left before they are due."""

    def __init__(self, facts: Facts, given: Allocation, spare: int) -> None:
        self.facts, self.given, self.tries = facts, given, TRIES
        self.days = {facts.season.index(d.day): d for d in given.days}
        self.lines = {line.id: line for line in facts.demand.lines}
        self.latest = {line.id: last_open(facts.days, line.pack_by, spare) for line in facts.demand.lines}
        self.lots = {lot.id: lot for lot in given.lots}
        self.moved: dict[Fill, list[Portion]] = {}

    def tight(self, given: Allocation) -> list[Fill]:
        """Fills that are packed on free days with fewer days to spare."""
        packed = ((fill, self.facts.season.index(fill.packed)) for fill in given.fills if fill.packed is not None)
        return [fill for fill, t in packed if t in self.facts.hands and t > self.latest[fill.line]]

    def better(self) -> Allocation:
        """The plan with what was moved, or as it was; the oldest candy first where that leaves as much to spare."""
        moved = replace(self.given, days=tuple(self.days[t] for t in sorted(self.days)), fills=self.fills())
        again = allocate(self.facts.season, self.facts.demand, moved.days, *in_time_and_late(moved.fills))
        return min(again, moved, self.given, key=lambda g: (g.weighted, sum(f.packs for f in self.tight(g))))

    def move(self, fill: Fill) -> None:
        """Pack a fill on the latest days with enough to spare that have room for all of it; else it stays."""
        season = self.facts.season
        own, lead = season.index(fill.packed or season.kitchen.first_day), season.kitchen.packing_from_days
        first = max((season.index(self.lots[draw.lot].made) + lead for draw in fill.draws), default=0)
        latest = self.latest[fill.line]
        days, portions, left = dict[int, DayPlan](), list[Portion](), fill.packs
        for t in (t for t in sorted(self.days, reverse=True) if first <= t <= latest and t in self.facts.hands):
            if not left or self.tries <= 0:
                break
            self.tries -= 1
            day = self._with(t, fill.product, left, self.days | days)
            packs = 0 if day is None else day.packs[fill.product] - self.days[t].packs[fill.product]
            if day is not None and packs:
                days[t] = day
                portions.append((t, packs))
                left -= packs
        if not left:
            days[own] = self._without(own, fill.product, fill.packs)
            self.days |= days
            self.moved[fill] = portions

    def _with(self, t: int, product: str, packs: int, days: dict[int, DayPlan]) -> DayPlan | None:
        """A day with as many more packs as there is time for beside all other days."""
        day, hands = self.days[t], self._hands(t, days)
        asked = DayRequest(day.day, day.designs, ((product, packs),), hands, held_on(day))
        return pack_in(self.facts.season, asked, day, partly=True)

    def _hands(self, t: int, days: dict[int, DayPlan]) -> tuple[Hand, ...]:
        """Those who are in, for as long as they are; where days to spare are wanted, as the contract's hours go."""
        in_now = [Hand(s.person, s.starts, s.ends, s.ends - s.starts, 0, True) for s in self.days[t].shifts]
        if not self.facts.season.kitchen.spare_days:
            return tuple(in_now)
        book = Book(self.facts, days)
        may = {hand.person: hand for hand in book.hands(t)}
        return tuple(self._longer(now, may.get(now.person, now), book, t) for now in in_now)

    def _longer(self, now: Hand, may: Hand, book: Book, t: int) -> Hand:
        """Somebody who is in, and who may be in for as long as that, within what is left of the contract."""
        left = self.facts.person(now.person).contracted_minutes - book.paid_in(now.person, self.facts.week(t), t)
        longest = max(now.longest, min(may.longest, book.longest_for(left)))
        starts, ends = min(now.from_minute, may.from_minute), max(now.to_minute, may.to_minute)
        return replace(now, from_minute=starts, to_minute=ends, longest=longest)

    def _without(self, t: int, product: str, packs: int) -> DayPlan:
        """A day with so many packs less, its last runs first; nobody stays for nothing."""
        season, day = self.facts.season, self.days[t]
        fewer = without_packs(day.packing, {product: packs}, day.packing)
        runs = tuple(
            replace(run, ends=min(run.ends, run.starts + packing_minutes(season, ((run.product, run.packs),))))
            for run in fewer
        )
        return trimmed(season, replace(day, packing=runs), as_they_are(self.facts, t, day))

    def fills(self) -> tuple[Fill, ...]:
        """All fills, those that were moved in their portions; a line's of one day are one."""
        out: dict[tuple[object, ...], Fill] = {}
        for fill in self.given.fills:
            for part in self._parts(fill):
                key = part.line, part.packed, part.late, part.pack_lot
                out[key] = _both(out[key], part) if key in out else part
        return tuple(sorted(out.values(), key=lambda f: (f.line, f.packed is not None, f.packed, f.pack_lot)))

    def _parts(self, fill: Fill) -> Iterator[Fill]:
        """A fill as it was, or in the portions that were moved, each with its share of the candy."""
        if fill not in self.moved:
            yield fill
            return
        season, candy = self.facts.season, list(fill.draws)
        inside = season.contents_of[fill.product]
        for t, packs in self.moved[fill]:
            draws, candy = _taken(candy, {design: packs * pieces for design, pieces in inside.items()})
            day = season.kitchen.first_day + timedelta(days=t)
            sell_by = min((self.lots[draw.lot].sell_by for draw in draws), default=fill.sell_by)
            yield replace(fill, packs=packs, packed=day, late=False, draws=draws, sell_by=sell_by)


def _taken(candy: Iterable[Draw], need: Mapping[str, int]) -> tuple[tuple[Draw, ...], list[Draw]]:
    """So many pieces of each design from the first draws that have them, and what is left."""
    took, left, need = list[Draw](), list[Draw](), dict(need)
    for draw in candy:
        pieces = min(draw.pieces, need.get(draw.design, 0))
        need[draw.design] = need.get(draw.design, 0) - pieces
        took += [replace(draw, pieces=pieces)] if pieces else []
        left += [replace(draw, pieces=draw.pieces - pieces)] if pieces < draw.pieces else []
    return tuple(took), left


def _both(one: Fill, other: Fill) -> Fill:
    """Two fills of one line and day as one."""
    pieces = Counter[tuple[str, str]]()
    for draw in (*one.draws, *other.draws):
        pieces[draw.lot, draw.design] += draw.pieces
    draws = tuple(Draw(lot, design, count) for (lot, design), count in pieces.items())
    sell_by = min((day for day in (one.sell_by, other.sell_by) if day is not None), default=None)
    return replace(one, packs=one.packs + other.packs, draws=draws, sell_by=sell_by)
