"""Filling up with a way round: where no day takes a batch, another batch moves to a day that takes that one.

What a planner does with a finished calendar: the hare could as well be made on the Sunday, then the tulip
has its place. Candy that somebody draws on moves only where it is still made in time and fresh enough.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

from scheduler.demand.lines import Line
from scheduler.models.counts.days import Book
from scheduler.models.search.fill_up import Filler
from scheduler.plan.lots import Allocation
from scheduler.plan.types import Batch, DayPlan, Fill

REFUSALS = 2  # designs of which a day took no batch more; a third is not tried
MOVES = 8  # of other batches, for the sake of one, at most


@dataclass
class RoomMaker(Filler):
    """A ``Filler`` that moves other batches, too, and asks a day no more that took no batch of two designs."""

    refused: dict[tuple[int, int], set[str]] = field(default_factory=dict)  # by day and its number of batches
    _by_lot: dict[str, list[Fill]] = field(default_factory=dict)
    _drawn_of: Allocation | None = None

    def _add_batch(self, trial: Book, design: str, first: int, last: int) -> int | None:
        t = super()._add_batch(trial, design, first, last)
        return self._swap(trial, design, first, last) if t is None and not self.over else t

    def _room(self, trial: Book, design: str, t: int) -> bool:
        if not super()._room(trial, design, t):
            return False
        no = self.refused.get((t, _batches(trial, t)), ())
        return design not in no and len(no) < REFUSALS

    def _refit(
        self, trial: Book, t: int, designs: tuple[str, ...], packing: tuple[tuple[str, int], ...],
        show: str = "",
    ) -> bool:  # fmt: skip
        fits = super()._refit(trial, t, designs, packing, show)
        if not fits:
            self.refused.setdefault((t, _batches(trial, t)), set()).update(designs)
        return fits

    def _swap(self, trial: Book, design: str, first: int, last: int) -> int | None:
        """One more batch in the place of another that is made on another day; the latest days first."""
        moves, rooms = MOVES, dict[str, list[int]]()
        for t in reversed(self.facts.makeable.get(design, ())):
            if not first <= t <= last or t not in trial.days or trial.days[t] is not self.days.get(t):
                continue  # of a day that changed in this trial it is not known who draws on what
            for batch in self._movable(trial.days[t], design):
                for to in self._places(trial, batch, t, rooms):
                    before = dict(trial.days)
                    moves -= 1
                    if self._refit(trial, to, (batch.design,), ()) and self._instead(trial, t, batch, design):
                        return t
                    trial.days = before
                    if moves <= 0:
                        return None
        return None

    def _movable(self, day: DayPlan, design: str) -> list[Batch]:
        """One batch of each other design of which pins hold fewer to the day. Two kites, one pinned: the last."""
        pinned, t = self.facts.pinned, self.facts.season.index(day.day)
        made = Counter(day.designs)
        spare = {d for d, count in made.items() if d != design and count > pinned.get((d, t), 0)}
        return list({b.design: b for b in day.batches if b.design in spare}.values())

    def _places(self, trial: Book, batch: Batch, t: int, rooms: dict[str, list[int]]) -> Iterator[int]:
        """Days that may take a batch, so that all who draw on it still have it in time and fresh.

        ``rooms``: the days with room for one more of a design, as far as they are known.
        """
        if batch.design not in rooms:
            days = reversed(self.facts.makeable.get(batch.design, ()))
            rooms[batch.design] = [to for to in days if self._room(trial, batch.design, to)]
        if not rooms[batch.design]:
            return
        spans = [self._span(fill, batch) for fill in self._drawn.get(batch.id, ())]
        first, last = max((s for s, _ in spans), default=0), min((e for _, e in spans), default=t)
        for to in rooms[batch.design]:
            if first <= to <= last and to != t and self._room(trial, batch.design, to):
                yield to

    @property
    def _drawn(self) -> dict[str, list[Fill]]:
        """Who draws on each lot."""
        if self._drawn_of is not self.given:
            self._drawn_of, self._by_lot = self.given, {}
            for fill in self.given.fills:
                for lot in {d.lot for d in fill.draws}:
                    self._by_lot.setdefault(lot, []).append(fill)
        return self._by_lot

    @cached_property
    def _lines(self) -> dict[str, Line]:
        return {line.id: line for line in self.facts.demand.lines}

    def _span(self, fill: Fill, batch: Batch) -> tuple[int, int]:
        """The days on which a batch may be made for one who draws on it."""
        season = self.facts.season
        line = self._lines[fill.line]
        windows = line.late.windows if fill.late and line.late is not None else line.windows
        window = next(w for w in windows if w.design == batch.design)
        assert fill.packed is not None
        return window.first, min(window.last, season.index(fill.packed) - season.kitchen.packing_from_days)

    def _instead(self, trial: Book, t: int, batch: Batch, design: str) -> bool:
        """A batch on a day in the place of another."""
        old = trial.days[t]
        trial.days[t] = replace(old, batches=tuple(b for b in old.batches if b is not batch))
        return self._refit(trial, t, (design,), ())


def _batches(trial: Book, t: int) -> int:
    return len(trial.days[t].batches) if t in trial.days else 0
