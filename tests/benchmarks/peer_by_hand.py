"""A competent planner by hand: the rule of thumb, then one more batch here, another picture there.

Every step is tried to the minute and kept only if less is short; when a whole round over the
short orders changes nothing, or the time is over, the plan stands.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from scheduler.demand.lines import Line, Window
from scheduler.models.counts.days import Book
from scheduler.models.search.fitted import Fitted, fit_whole, missed_shows
from scheduler.plan.lots import allocate
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan, Plan
from tests.benchmarks.ground import Ground, by_rule_of_thumb, plan_of

DAYS_TRIED = 3  # of making and of packing, the latest first


def by_hand(ground: Ground) -> Plan:
    """The rule of thumb fitted, then made better until nothing helps or the time is over."""
    wish = by_rule_of_thumb(ground)
    got = Counter(wish.fills) + Counter(wish.late)
    ground.step(sum(line.weight * (line.packs - got[line.id]) for line in ground.facts.demand.lines))
    hand = _Hand(ground, fit_whole(ground.facts, ground.fitter, wish))
    ground.step(hand.best.given.weighted, fitted=True)
    while ground.left > 0 and hand.round():
        pass
    return plan_of(ground, hand.best)


@dataclass
class _Hand:
    """The plan so far."""

    ground: Ground
    best: Fitted

    def round(self) -> bool:
        """Try to help every order that is short, the weightiest first; whether any was helped."""
        lines = {line.id: line for line in self.ground.facts.demand.lines}
        helped = False
        for short in sorted(self.best.given.shortfalls, key=lambda s: (-s.weighted, s.line)):
            if self.ground.left <= 0:
                return False
            helped |= any(self._better(trial) for trial in self._trials(lines[short.line], short.packs))
        return helped

    def _trials(self, line: Line, packs: int) -> Iterator[Book]:
        """Plans with more for one order: packs of candy that is left, else batches added, else swapped in."""
        for swap in (False, True):
            book = Book(self.ground.facts, {self.ground.season.index(d.day): d for d in self.best.given.days})
            made = [self._make(book, window, packs, swap) for window in line.windows]
            if all(made) and self._pack(book, line, packs):
                yield book

    def _make(self, book: Book, window: Window, packs: int, swap: bool) -> bool:
        """One more batch of a design inside a window, unless there is candy enough."""
        if self._left(window) >= packs * window.pieces:
            return True
        facts = self.ground.facts
        days = [t for t in facts.makeable.get(window.design, ()) if window.first <= t <= window.last]
        for t in list(reversed(days))[:DAYS_TRIED]:
            today = Counter(b.design for b in book.days[t].batches) if t in book.days else Counter[str]()
            for out in (sorted(set(today) - {window.design}, key=self._wanted) if swap else [""]):
                more = today - Counter([out]) + Counter([window.design])
                if self._refit(book, t, more, Counter()):
                    return True
        return False

    def _left(self, window: Window) -> int:
        """Pieces in time for a window that nobody draws."""
        given, season = self.best.given, self.ground.season
        inside = [
            lot for lot in given.lots
            if lot.design == window.design and window.first <= season.index(lot.made) <= window.last
        ]  # fmt: skip
        names = {lot.id for lot in inside}
        drawn = sum(draw.pieces for fill in given.fills for draw in fill.draws if draw.lot in names)
        return sum(lot.pieces for lot in inside) - drawn

    def _wanted(self, design: str) -> tuple[int, str]:
        """How much hangs on a design: the least wanted is swapped out first."""
        lines = self.ground.facts.wanted.get(design, ())
        return max((line.weight // max(1, line.pieces) for line in lines), default=0), design

    def _pack(self, book: Book, line: Line, packs: int) -> bool:
        """The packs of an order on the latest days that take them."""
        first = max((w.first for w in line.windows), default=0) + self.ground.season.kitchen.packing_from_days
        days = [t for t in self.ground.facts.days if first <= t <= line.pack_by]
        return any(
            self._refit(book, t, Counter(), Counter({line.product: packs})) for t in list(reversed(days))[:DAYS_TRIED]
        )

    def _refit(self, book: Book, t: int, batches: Counter[str], packs: Counter[str]) -> bool:
        """A day with other batches (none given: as they are) or more packs, if it fits to the minute."""
        if self.ground.left <= 0:
            return False
        day = self.ground.season.days[t]
        old = book.days.get(t, DayPlan(day))
        for run in old.packing:
            packs[run.product] += run.packs
        batches = batches or Counter(b.design for b in old.batches)
        held = frozenset(b.show for b in old.batches if b.show)
        asked = DayRequest(day, tuple(sorted(batches.elements())), tuple(sorted(packs.items())), book.hands(t), held)
        plan = self.ground.fitter.find(asked)
        if plan is None or len(plan.missed_shows) > len(old.missed_shows):
            return False
        book.days[t] = plan
        return True

    def _better(self, book: Book) -> bool:
        """Keep a plan if less is short and no more shows are missed."""
        facts = self.ground.facts
        days = tuple(book.days[t] for t in sorted(book.days))
        given = allocate(facts.season, facts.demand, days)
        found = Fitted(given.days, given, missed_shows(facts, given.days))
        if found.worth >= self.best.worth:
            return False
        self.best = found
        self.ground.step(given.weighted, fitted=True)
        return True
