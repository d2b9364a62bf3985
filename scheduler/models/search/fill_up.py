"""Filling up: batches and packs added one by one to fitted days, as long as something gets less short.

What a planner does with a finished calendar: where is still room for what is missing?
Every step is fitted to the minute, so the plan never gets worse.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, field
from itertools import chain

from scheduler.demand.lines import Line, Window
from scheduler.models.counts.days import Book
from scheduler.models.counts.deal import dealt
from scheduler.models.counts.demand import in_late, in_time
from scheduler.models.facts import Facts
from scheduler.models.search.fitting import CAREFULLY, Care, Fitter
from scheduler.plan.lots import Allocation, allocate
from scheduler.plan.types import DayPlan, in_time_and_late, pieces_drawn

MAKING_DAYS = 5  # days tried for a batch
PACKING_DAYS = 12  # days tried for the packs of a line


@dataclass
class Filler:
    """The days so far and what they give to whom.

    ``tries``: days that may still be fitted with one batch more, until some ``time.monotonic()``; ``served``: lines
    that may get more, None: all; ``care``: how days are looked for.
    """

    facts: Facts
    fitter: Fitter
    days: dict[int, DayPlan]
    given: Allocation
    tries: int
    served: Collection[str] | None = None
    until: float = math.inf
    care: Care = CAREFULLY
    _full: dict[int, tuple[DayPlan | None, frozenset[str]]] = field(default_factory=dict)  # designs without room

    @property
    def over(self) -> bool:
        """Whether no more days may be fitted with one batch more."""
        return self.tries <= 0 or time.monotonic() > self.until

    def run(self) -> Allocation:
        """Serve the lines that are short, the weightiest first, until nothing more fits."""
        self._hold_shows()
        lines = {line.id: line for line in self.facts.demand.lines}
        for short in sorted(self.given.shortfalls, key=lambda s: (-s.weighted, s.line)):
            if time.monotonic() > self.until:
                break
            if self.served is not None and short.line not in self.served:
                continue
            line = lines[short.line]
            packs = short.packs if line.partial else line.packs
            done = False
            if in_time(line):
                done = self._serve(line, packs, line.windows, line.pack_by, -1)
            if not done and line.late is not None and in_late(line):
                self._serve(line, packs, line.late.windows, line.late.pack_by, line.due)
        return self.given

    def _hold_shows(self) -> None:
        """Hold missed shows: with the batches that are there, or with one more that fits."""
        facts = self.facts
        wanted = {d: sum(n.weight * n.packs for n in lines) for d, lines in facts.wanted.items()}
        for t, shows in facts.shows.items():
            for show in shows:
                if t in self.days and show.name not in self.days[t].missed_shows:
                    continue
                fitting = [d.name for d in facts.season.designs if facts.can_hold(t, d, show)]
                trial = Book(facts, dict(self.days))
                more = sorted(fitting, key=lambda d: (-wanted.get(d, 0), d))[:2]
                for designs in [(), *((d,) for d in more)]:
                    if self._refit(trial, t, designs, (), show.name):
                        self._keep_show(trial)
                        break

    def _keep_show(self, trial: Book) -> None:
        given = self._given(trial, *in_time_and_late(self.given.fills))
        if given.weighted <= self.given.weighted:
            self._take(given)

    def _given(self, trial: Book, wanted: Counter[str], late: Counter[str]) -> Allocation:
        """What a trial's days give to whom."""
        days = tuple(trial.days[t] for t in sorted(trial.days))
        return allocate(self.facts.season, self.facts.demand, days, wanted, late, deal=dealt, patient=False)

    def _take(self, given: Allocation) -> None:
        self.given = given
        self.days = {self.facts.season.index(d.day): d for d in given.days}

    def _serve(self, line: Line, packs: int, windows: tuple[Window, ...], pack_by: int, after: int) -> bool:
        """Make and pack more for one line; everything is put back if the season is no less short."""
        trial = Book(self.facts, dict(self.days))
        left = self._left()
        earliest = after + 1
        for window in windows:
            last = min(window.last, pack_by - self.facts.season.kitchen.packing_from_days)
            inside = [n for (d, made), n in left.items() if d == window.design and window.first <= made <= last]
            have = sum(inside)
            while have < packs * window.pieces:
                t = self._add_batch(trial, window.design, window.first, last)
                if t is None:
                    break
                have += self.facts.season.design_by_name[window.design].pieces
                earliest = max(earliest, t + self.facts.season.kitchen.packing_from_days)
            packs = min(packs, have // window.pieces)
            if packs <= 0 or (not line.partial and packs < line.packs):
                return False
        packed = self._add_packing(trial, line.product, packs, earliest, pack_by)
        if packed <= 0:
            return False
        return self._keep_if_better(trial, line, packed, after >= 0)

    def _keep_if_better(self, trial: Book, line: Line, packed: int, late: bool) -> bool:
        wanted, after_due = in_time_and_late(self.given.fills)
        (after_due if late else wanted)[line.id] += packed
        given = self._given(trial, wanted, after_due)
        if given.weighted >= self.given.weighted:
            return False
        self._take(given)
        return True

    def _left(self) -> Counter[tuple[str, int]]:
        """Pieces that nobody draws, by design and day made."""
        left: Counter[tuple[str, int]] = Counter()
        used = pieces_drawn(self.given.fills)
        for lot in self.given.lots:
            left[lot.design, self.facts.season.index(lot.made)] += lot.pieces - used[lot.id]
        return left

    def _add_batch(self, trial: Book, design: str, first: int, last: int) -> int | None:
        """One more batch on a day that takes it: of the emptiest the latest."""
        days = [t for t in self.facts.makeable.get(design, ()) if first <= t <= last and self._room(trial, design, t)]
        days.sort(key=lambda t: (len(trial.days[t].batches) if t in trial.days else 0, -t))
        for t in days[:MAKING_DAYS]:
            if self._refit(trial, t, (design,), ()):
                return t
        return None

    def _room(self, trial: Book, design: str, t: int) -> bool:
        """Whether the proven caps of the day leave room."""
        day = trial.days.get(t)
        if t not in self._full or self._full[t][0] is not day:
            today = Counter(b.design for b in day.batches) if day is not None else Counter[str]()
            full = (names for names, most in self.fitter.limits.caps(t) if sum(today[d] for d in names) >= most)
            self._full[t] = day, frozenset(chain.from_iterable(full))
        return design not in self._full[t][1]

    def _add_packing(self, trial: Book, product: str, packs: int, first: int, last: int) -> int:
        """More packs on the latest days that take them."""
        done = 0
        days = [t for t in self.facts.days if first <= t <= last]
        for t in list(reversed(days))[:PACKING_DAYS]:
            for count in (packs - done, (packs - done) // 2):
                if count > 0 and self._refit(trial, t, (), ((product, count),)):
                    done += count
                    break
            if done == packs:
                break
        return done

    def _refit(
        self, trial: Book, t: int, designs: tuple[str, ...], packing: tuple[tuple[str, int], ...],
        show: str = "",
    ) -> bool:  # fmt: skip
        """Fit a day with more work, or one more show, and whoever can still come; True if it goes in."""
        if self.over and (designs or show):
            return False
        self.tries -= bool(designs or show)
        return self.fitter.add_to(trial, t, trial.hands(t), self.care, designs, packing, show)
