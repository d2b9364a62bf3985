"""One person's day while it is planned by hand: jobs taken, and whether a shift with its break still holds them."""

from __future__ import annotations

from dataclasses import dataclass, field

from scheduler.models.day.minutes import bits, clear, lowest, nearest
from scheduler.plan.request import Hand
from scheduler.plan.types import Shift

State = tuple[int, int, int, int, int]


@dataclass
class Worker:
    """One person's day so far."""

    hand: Hand  # in whole steps of the clock
    shortest: int
    step: int  # of the kitchen's clock
    after: int  # minutes without a break at most
    rest: int  # of a break
    around: int  # minutes at work before and after it at least
    pull_rest: int
    busy: int = 0
    first: int = 10_000  # of the jobs
    last: int = 0
    pulls: int = 0
    pulled: int = 0  # minutes of pulls, with rest around
    changes: int = 0  # how often anything of this has changed
    _open: dict[int, int] = field(default_factory=dict)  # by minutes; of work without pulls by minutes below 0

    def save(self) -> State:
        return self.busy, self.first, self.last, self.pulls, self.pulled

    def restore(self, state: State) -> None:
        if state != self.save():
            self.busy, self.first, self.last, self.pulls, self.pulled = state
            self._changed()

    def _changed(self) -> None:
        self.changes += 1
        self._open.clear()

    def open(self, pulls: int, minutes: int) -> int:
        """Minutes from which on this person is free for so long; none where so many pulls more are too many."""
        if self.pulls + pulls > self.hand.pulls:
            return 0
        key = minutes if pulls else -minutes
        found = self._open.get(key)
        if found is None:
            found = self._open[key] = clear(self._free(pulls > 0), minutes)
        return found

    def _free(self, pulling: bool) -> int:
        """Minutes that another job may take, the longest shift heeded."""
        return bits(*self._reach()) & ~(self.busy | self.pulled if pulling else self.busy)

    def _reach(self) -> tuple[int, int]:
        """The first and the last minute of any job, the longest shift heeded."""
        low, high, longest = self.hand.from_minute, self.hand.to_minute, self.hand.longest
        if self.busy:
            if self.last - longest > low:
                low = self.last - longest
            if self.first + longest < high:
                high = self.first + longest
        return low, high

    def grows(self, starts: int, ends: int) -> int:
        """Minutes by which a job makes the shift longer."""
        if not self.busy:
            return max(self.shortest, ends - starts)
        return (self.first - starts if starts < self.first else 0) + (ends - self.last if ends > self.last else 0)

    def take(self, starts: int, ends: int, pulls: int = 0) -> bool:
        """Do a job if there is room for it, and still for a break."""
        low, high = self._reach()
        if starts < low or ends > high or self.pulls + pulls > self.hand.pulls:
            return False
        mask = bits(starts, ends)
        if mask & (self.busy | self.pulled if pulls else self.busy):
            return False
        before = self.busy, self.first, self.last
        self.busy |= mask
        self.first, self.last = min(self.first, starts), max(self.last, ends)
        if self._shortest_around() is None:
            self.busy, self.first, self.last = before
            return False
        if pulls:
            self.pulls += pulls
            self.pulled |= bits(starts - self.pull_rest, ends + self.pull_rest)
        self._changed()
        return True

    def drop(self, starts: int, ends: int) -> None:
        """Be free of a duty again."""
        self.busy &= ~bits(starts, ends)
        self.first, self.last = (lowest(self.busy), self.busy.bit_length()) if self.busy else (10_000, 0)
        self._changed()

    def shift(self) -> Shift | None:
        """The shortest shift around the jobs, with a break where one is due; None where there is no room for it."""
        found = self._shortest_around()
        if found is None:
            return None
        starts, ends, rest = found
        return Shift(self.hand.person, starts, ends, rest, None if rest is None else rest + self.rest)

    def _shortest_around(self) -> tuple[int, int, int | None] | None:
        """Start, end and start of the break of that shift."""
        starts, ends = (self.first, self.last) if self.busy else (self.hand.from_minute, self.hand.from_minute)
        starts -= starts % self.step  # as ``step_until`` and ``step_from``, without a call: asked for each job tried
        ends += -ends % self.step
        if ends - starts < self.shortest:
            ends = min(self.hand.to_minute, starts + self.shortest)
            starts = ends - self.shortest
        if ends - starts > self.hand.longest:
            return None
        if ends - starts <= self.after:
            return starts, ends, None
        low = max(starts + self.around, ends - self.rest - self.after)
        high = min(ends - self.rest - self.around, starts + self.after)
        if low > high:
            return None
        at = nearest(clear(bits(starts, ends) & ~self.busy, self.rest) & bits(low, high + 1), (low + high) // 2)
        return None if at is None else (starts, ends, at)
