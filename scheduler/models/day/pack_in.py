"""Packing put into a day that is there: idle minutes first, then longer shifts, then more people.

What a planner does by hand when the batches stand: no solver, an instant. Where it finds no
room the day model still may.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container
from dataclasses import dataclass, field, replace

from scheduler.models.day.packing import (
    SHORTEST_STRETCH,
    STRETCHES,
    PackPiece,
    Stretch,
    fill_stretches,
    packing_minutes,
)
from scheduler.models.day.read import first_free
from scheduler.models.day.shifts import (
    Span,
    break_of,
    break_within,
    busy_of,
    crowded,
    free_in,
    on_steps,
    shortest_of,
    trimmed,
)
from scheduler.models.facts import Facts
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.types import DayPlan, PackRun, Shift, StageRun
from scheduler.season.rules import step_from, step_until
from scheduler.season.types import Season

STAYING_PERCENT = 30  # of what packers may be in beyond their shifts, for which one of them stays or comes (measured)
COMING_PERCENT = 60  # of the time that packers may be in on a day without batches: week hours are wanted elsewhere


def pack_in(
    season: Season, request: DayRequest, bare: DayPlan, partly: bool = False, first: Container[str] = ()
) -> DayPlan | None:  # fmt: skip
    """The day with the request's packs as well, batches and jobs as they stand; None where no room is found.

    ``bare`` fits the same request without these packs; what it packs already stays. ``partly``: as many as there is
    room for; ``first`` are asked before all others. Example:
    Ana is in from 8:00 to 13:00 with 40 idle minutes; 90 packs of 50 s take those and her
    next 35 minutes, until 13:35.
    """
    if not request.packing:
        return bare
    bench = season.kitchen.packing_station
    if any(task.station == bench for task in bare.tasks):
        return None
    skill = season.kitchen.packing_skill
    able = [on_steps(season, h) for h in request.hands if not skill or (h.person, skill) in season.level_of]
    # Whoever can do little else first.
    able.sort(key=lambda h: (h.person not in first, sum(s.person == h.person for s in season.skills)))
    desk = Desk(season, request, bare)
    for grow in (desk.idle, desk.longer, desk.newcomer):
        for hand in able:
            grow(hand)
            if desk.enough():
                return desk.plan()
    if not partly:
        return None
    desk.pieces, _ = fill_stretches(season, request.packing, desk.chosen)
    return desk.plan()


@dataclass
class Desk:
    """The day under way: everyone's jobs and shift, the bench's free places, stretches chosen for packing."""

    season: Season
    request: DayRequest
    bare: DayPlan
    shifts: dict[str, Shift] = field(default_factory=dict)
    jobs: dict[str, list[Span]] = field(default_factory=dict)
    bench: list[Span] = field(default_factory=list)  # batches at the packing station
    chosen: list[Stretch] = field(default_factory=list)
    pieces: list[PackPiece] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.shifts = {s.person: s for s in self.bare.shifts}
        self.jobs = {s.person: busy_of(self.bare, s.person) for s in self.bare.shifts}
        station = self.season.kitchen.packing_station
        self.bench = [(r.starts, r.ends) for b in self.bare.batches for r in b.runs if r.station == station]
        self.bench += [(p.starts, p.ends) for p in self.bare.packing]
        self.needed = packing_minutes(self.season, self.request.packing)

    @property
    def missing(self) -> int:
        return self.needed - sum(s.ends - s.starts for s in self.chosen)

    def enough(self) -> bool:
        """Whether the chosen stretches hold all packs, which products do not share to the minute."""
        if self.missing > 0:
            return False
        self.pieces, left = fill_stretches(self.season, self.request.packing, self.chosen)
        self.needed += left
        return left == 0

    def idle(self, hand: Hand) -> None:
        """Idle minutes inside the shift as it stands."""
        if hand.person in self.shifts:
            self._use(hand.person)

    def longer(self, hand: Hand) -> None:
        """A longer shift: first a later end, then an earlier start, a break where one is due."""
        shift = self.shifts.get(hand.person)
        if shift is None:
            return
        room = min(hand.longest - (shift.ends - shift.starts), self._wanted())
        later = max(0, min(room, hand.to_minute - shift.ends))
        earlier = max(0, min(room - later, shift.starts - hand.from_minute))
        self._grow(hand.person, shift.starts - earlier, shift.ends + later)

    def newcomer(self, hand: Hand) -> None:
        """Somebody who is not in yet comes in to pack."""
        if hand.person in self.shifts:
            return
        shortest = shortest_of(self.season, hand.person)
        length = min(hand.longest, hand.to_minute - hand.from_minute, max(shortest, self._wanted()))
        if length >= shortest:
            self.shifts[hand.person] = Shift(hand.person, hand.from_minute, hand.from_minute)
            if not self._grow(hand.person, hand.from_minute, hand.from_minute + length):
                del self.shifts[hand.person]

    def _wanted(self) -> int:
        """Minutes by which a shift may grow for what is still to be packed, with a break."""
        return step_from(self.season.kitchen, self.missing + self.season.kitchen.break_minutes)

    def _grow(self, name: str, starts: int, ends: int) -> bool:
        """Stretch a shift, its break moved where that helps, and choose the person's packing anew."""
        kitchen, old = self.season.kitchen, self.shifts[name]
        jobs, rest = self.jobs.get(name, []), old.break_starts
        if ends - starts > kitchen.break_after_minutes:
            moved = break_within(kitchen, jobs, starts, ends)
            if moved is not None:
                rest = moved
            elif rest is None:
                starts = old.starts
                ends = max(old.ends, min(ends, step_until(kitchen, starts + kitchen.break_after_minutes)))
            else:
                starts = max(starts, step_from(kitchen, rest - kitchen.break_after_minutes))
                ends = min(ends, step_until(kitchen, rest + kitchen.break_minutes + kitchen.break_after_minutes))
        shift = Shift(name, starts, ends, rest, None if rest is None else rest + kitchen.break_minutes)
        if shift == old:
            return False
        self.shifts[name] = shift
        self._use(name)
        return True

    def _use(self, name: str) -> None:
        """Give a person the longest free stretches in which the bench has a place, as many as are sensible."""
        shift, station = self.shifts[name], self.season.kitchen.packing_station
        self.chosen = [s for s in self.chosen if s.person != name]
        slack = max(self.season.product_by_name[p].packing_seconds for p, _ in self.request.packing) // 60 + 2
        for _ in range(STRETCHES):
            here = [(s.starts, s.ends) for s in self.chosen if s.person == name]
            bench = self.bench + [(s.starts, s.ends) for s in self.chosen]
            full = crowded(bench, self.season.places.get(station, 0))
            gaps = free_in(shift.starts, shift.ends, [*self.jobs.get(name, []), *break_of(shift), *here, *full])
            starts, ends = max(gaps, key=lambda g: (g[1] - g[0], -g[0]), default=(0, 0))
            if self.missing <= 0 or ends - starts < min(SHORTEST_STRETCH, self.needed):
                return
            ends = min(ends, starts + self.missing + slack * len(self.request.packing))
            self.chosen.append(Stretch(name, starts, ends))

    def plan(self) -> DayPlan:
        """The day with pack runs, shifts no longer than they must be, and places at the bench given out anew."""
        station = self.season.kitchen.packing_station
        runs = [
            (r.starts, r.ends, b, k) for b, batch in enumerate(self.bare.batches) for k, r in enumerate(batch.runs)
            if r.station == station
        ]  # fmt: skip
        packed = [PackPiece(p.product, p.packs, p.person, p.starts, p.ends) for p in self.bare.packing]
        pieces = [*packed, *self.pieces]
        if self.request.frozen is None:  # else a run that has begun stays as it is
            pieces = joined(pieces)
        spans = [(s, e) for s, e, _, _ in runs] + [(p.starts, p.ends) for p in pieces]
        places = lowest_free(spans)
        where = {(b, k): place for (_, _, b, k), place in zip(runs, places, strict=False)}
        batches = tuple(
            replace(batch, runs=tuple(_at(r, where.get((b, k), r.place)) for k, r in enumerate(batch.runs)))
            for b, batch in enumerate(self.bare.batches)
        )
        packing = [
            PackRun(p.product, p.packs, p.person, place, p.starts, p.ends)
            for p, place in zip(pieces, places[len(runs) :], strict=True)
        ]
        day = replace(
            self.bare,
            batches=batches,
            packing=tuple(sorted(packing, key=lambda p: (p.starts, p.place))),
            shifts=tuple(self.shifts[n] for n in sorted(self.shifts, key=self._order)),
            proven=False,
        )
        return trimmed(self.season, day, self.request.hands)

    def _order(self, name: str) -> int:
        return [h.person for h in self.request.hands].index(name)


def _at(run: StageRun, place: int) -> StageRun:
    return run if run.place == place else replace(run, place=place)


def joined(pieces: list[PackPiece]) -> list[PackPiece]:
    """Pieces of one product that follow each other without a gap in one person's hands are one piece.

    Example: 7 jars 13:30 to 13:37 and 3 more to 13:40, both Tobias's: 10 jars 13:30 to 13:40.
    """
    out: list[PackPiece] = []
    for piece in sorted(pieces, key=lambda p: (p.person, p.starts)):
        last = out[-1] if out else None
        if last and (last.person, last.product, last.ends) == (piece.person, piece.product, piece.starts):
            out[-1] = replace(last, packs=last.packs + piece.packs, ends=piece.ends)
        else:
            out.append(piece)
    return out


def lowest_free(spans: list[Span]) -> list[int]:
    """A place number for each span, the lowest that is free when it starts."""
    places = [0] * len(spans)
    first_free(sorted((s, e, (-1, n), n) for n, (s, e) in enumerate(spans)), {}, places, 0)
    return places


def idle_minutes(day: DayPlan, packers: Container[str]) -> int:
    """Packers' minutes of a day that packing can have: what it had, or gaps that are long enough."""
    bare = replace(day, packing=())
    packed = Counter[str]()
    for run in day.packing:
        packed[run.person] += run.ends - run.starts
    idle = 0
    for shift in day.shifts:
        if shift.person in packers:
            gaps = free_in(shift.starts, shift.ends, [*busy_of(bare, shift.person), *break_of(shift)])
            long = sorted((e - s for s, e in gaps if e - s >= SHORTEST_STRETCH), reverse=True)[:STRETCHES]
            idle += max(packed[shift.person], sum(long) * 19 // 20)
    return idle


def longer_minutes(facts: Facts, t: int, day: DayPlan | None, packers: frozenset[str]) -> int:
    """Minutes for which packers stay or come on a day beyond its shifts, as is likely to be found.

    A share of the time that they may be in beyond their shifts, smaller beside batches: two for 8 hours each, one of
    whom is in for 4: 30 per cent of 12 hours; on a day without batches 60 per cent of 16.
    """
    if not packers:
        return 0
    there = {shift.person: shift.ends - shift.starts for shift in day.shifts} if day is not None and day.batches else {}
    left = sum(max(0, s.longest - there.get(n, 0)) for n, s in facts.hands[t].items() if n in packers)
    return (STAYING_PERCENT if there else COMING_PERCENT) * left // 100


def idle_of(facts: Facts, day: DayPlan, packers: frozenset[str]) -> int:
    """``idle_minutes`` of a known day, worked out once."""
    known = facts.idle
    if (id(day), packers) not in known:
        known[id(day), packers] = day, idle_minutes(day, packers)
    return known[id(day), packers][1]
