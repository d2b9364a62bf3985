"""Days that were looked for in vain, by the work they ask of whom: what asks for at least as much is not looked for.

A guide: such a day might be found all the same (on one season of 13 weeks: 5 of 103 days that are found are left
out, and 703 of 918 that are not).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from scheduler.models.facts import Facts
from scheduler.models.limits import DayLimits
from scheduler.plan.request import DayRequest, Hand

Work = dict[frozenset[str], int]  # minutes that nobody outside of a group of people can do
Sort = tuple[object, tuple[Hand, ...], frozenset[str]]


@dataclass
class TooMuch:
    """The least work that was too much for a sort of day with the same people and shows."""

    facts: Facts
    limits: DayLimits
    _vain: dict[Sort, list[Work]] = field(default_factory=dict)

    def add(self, asked: DayRequest) -> None:
        """Remember a day that was looked for in vain."""
        if not self.covers(asked):
            self._vain.setdefault(self._sort(asked), []).append(self._work(asked))

    def covers(self, asked: DayRequest) -> bool:
        """Whether a day asks for as much of every group as one that was looked for in vain."""
        vain = self._vain.get(self._sort(asked))
        if not vain:
            return False
        work = self._work(asked)
        return any(all(work.get(group, 0) >= minutes for group, minutes in one.items()) for one in vain)

    def _sort(self, asked: DayRequest) -> Sort:
        return self.limits.signature(self.facts.season.index(asked.day)), asked.hands, asked.held

    def _work(self, asked: DayRequest) -> Work:
        """Minutes of the batches by group: Ana's alone 90, of those who build 300, of all 900."""
        alone = Counter[frozenset[str]]()
        for design in asked.designs:
            for load in self.facts.loads_of(design, self.facts.season.index(asked.day)):
                alone[load.able] += load.minutes
        return {group: sum(m for able, m in alone.items() if able <= group) for group in alone}
