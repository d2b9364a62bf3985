"""Packing brought forward: what is packed on the last day that is in time goes into idle minutes of days before.

What a planner does when the season stands: nobody stays longer, nobody else comes, the batches stay; who has nothing
to do goes to the bench for tomorrow's boxes, and tomorrow has a day to spare. No solver, an instant; costs nothing.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from math import inf

from scheduler.models.day_packing import packing_minutes
from scheduler.models.days import held_on
from scheduler.models.facts import Facts
from scheduler.models.pack_in import pack_in
from scheduler.models.shifts import trimmed
from scheduler.plan.lots import Allocation, allocate, without_packs
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.types import DayPlan, Draw, Fill, in_time_and_late

TRIES = 4000  # days that are looked at for a place at the bench
Portion = tuple[int, int]  # day, packs


def brought_forward(facts: Facts, given: Allocation, until: float = inf) -> Allocation:
    """The same plan with fewer packs packed on the last day that is in time, or later.

    Nothing more is moved after ``until``, a reading of the monotonic clock. Example: 40 boxes are due on Tuesday, their
    candy is made by Friday, and Ana is idle for an hour on Monday: she packs them then.
    """
    moving = _Moving(facts, given)
    for fill in sorted(_last_minute(facts, given), key=lambda f: (-moving.lines[f.line].weight, f.packed, f.line)):
        if time.monotonic() > until or moving.tries <= 0:
            break
        moving.move(fill)
    moved = replace(given, days=tuple(moving.days[t] for t in sorted(moving.days)), fills=moving.fills())
    again = allocate(facts.season, facts.demand, moved.days, *in_time_and_late(moved.fills))  # the oldest candy first
    return min(again, moved, given, key=lambda g: (g.weighted, sum(f.packs for f in _last_minute(facts, g))))


def _last_minute(facts: Facts, given: Allocation) -> Iterator[Fill]:
    """Fills that are packed on free days, on the last one that is in time or later."""
    last = {line.id: line.pack_by for line in facts.demand.lines}
    for fill in given.fills:
        if fill.packed is not None:
            t = facts.season.index(fill.packed)
            if t in facts.hands and t >= last[fill.line]:
                yield fill


class _Moving:
    """The days and fills while packs are moved."""

    def __init__(self, facts: Facts, given: Allocation) -> None:
        self.facts, self.given, self.tries = facts, given, TRIES
        self.days = {facts.season.index(d.day): d for d in given.days}
        self.lines = {line.id: line for line in facts.demand.lines}
        self.lots = {lot.id: lot for lot in given.lots}
        self.moved: dict[Fill, list[Portion]] = {}

    def move(self, fill: Fill) -> None:
        """Pack a fill on the latest days before its own that have room for all of it; else it stays."""
        season = self.facts.season
        own, lead = season.index(fill.packed or season.kitchen.first_day), season.kitchen.packing_from_days
        first = max((season.index(self.lots[draw.lot].made) + lead for draw in fill.draws), default=0)
        latest = min(own - 1, self.lines[fill.line].pack_by)
        days, portions, left = dict[int, DayPlan](), list[Portion](), fill.packs
        for t in (t for t in sorted(self.days, reverse=True) if first <= t <= latest and t in self.facts.hands):
            if not left or self.tries <= 0:
                break
            self.tries -= 1
            day = self._with(t, fill.product, left)
            packs = 0 if day is None else day.packs[fill.product] - self.days[t].packs[fill.product]
            if day is not None and packs:
                days[t] = day
                portions.append((t, packs))
                left -= packs
        if not left:
            days[own] = self._without(own, fill.product, fill.packs)
            self.days |= days
            self.moved[fill] = portions

    def _with(self, t: int, product: str, packs: int) -> DayPlan | None:
        """A day with as many more packs as idle minutes hold; its people stay as long as they do."""
        day = self.days[t]
        hands = tuple(Hand(s.person, s.starts, s.ends, s.ends - s.starts, 0, True) for s in day.shifts)
        asked = DayRequest(day.day, day.designs, ((product, packs),), hands, held_on(day))
        return pack_in(self.facts.season, asked, day, partly=True)

    def _without(self, t: int, product: str, packs: int) -> DayPlan:
        """A day with so many packs less, its last runs first; nobody stays for nothing."""
        season, day = self.facts.season, self.days[t]
        fewer = without_packs(day.packing, {product: packs}, day.packing)
        runs = tuple(
            replace(run, ends=min(run.ends, run.starts + packing_minutes(season, ((run.product, run.packs),))))
            for run in fewer
        )
        hands = (
            Hand(s.person, s.starts, s.ends, s.ends - s.starts, 0, (s.person, t) in self.facts.called)
            for s in day.shifts
        )
        return trimmed(season, replace(day, packing=runs), hands)

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
