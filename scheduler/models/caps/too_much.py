"""Heuristic nogoods: what asks for as much work and cleaning as a day that was looked for in vain is not looked for.

No proof: such a day might be found all the same.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from scheduler.models.caps.limits import DayLimits
from scheduler.models.facts import Facts
from scheduler.plan.request import DayRequest, Hand
from scheduler.season import rules
from scheduler.season.types import Design, Season

Sort = tuple[object, tuple[Hand, ...], frozenset[str]]


@dataclass(frozen=True)
class Work:
    """What the batches of a day ask for, in minutes."""

    alone: dict[frozenset[str], int]  # that nobody outside of a group of people can do
    cleaning: int

    def asks_as_much_as(self, other: Work) -> bool:
        """Whether it is no less in anything."""
        return self.cleaning >= other.cleaning and all(
            self.alone.get(group, 0) >= minutes for group, minutes in other.alone.items()
        )


@dataclass
class TooMuch:
    """The least work that was too much for a sort of day with the same people and shows."""

    facts: Facts
    limits: DayLimits
    _vain: dict[Sort, list[Work]] = field(default_factory=dict)
    _cleaning: dict[frozenset[object], int] = field(default_factory=dict)  # least minutes, by sorts of batches

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
        return any(work.asks_as_much_as(one) for one in vain)

    def _sort(self, asked: DayRequest) -> Sort:
        return self.limits.signature(self.facts.season.index(asked.day)), asked.hands, asked.held

    def _work(self, asked: DayRequest) -> Work:
        """Minutes of the batches by group: Ana's alone 90, of those who build 300, of all 900."""
        alone = Counter[frozenset[str]]()
        for design in asked.designs:
            for load in self.facts.loads_of(design, self.facts.season.index(asked.day)):
                alone[load.able] += load.minutes
        by_group = {group: sum(m for able, m in alone.items() if able <= group) for group in alone}
        return Work(by_group, self._least_cleaning(asked.designs))

    def _least_cleaning(self, designs: tuple[str, ...]) -> int:
        by_name = self.facts.season.design_by_name
        sorts = {rules.cleaned_alike(by_name[d]): by_name[d] for d in designs}
        key = frozenset[object](sorts)
        if key not in self._cleaning:
            self._cleaning[key] = least_cleaning(self.facts.season, [sorts[sort] for sort in sorted(sorts, key=repr)])
        return self._cleaning[key]


def least_cleaning(season: Season, designs: list[Design]) -> int:
    """Minutes of cleaning between batches of some designs on one day, over all stations, in an order that has few.

    The next batch is the one that needs least cleaning after the last, from the best to begin with; each further
    place of a station saves the longest cleaning that is left. Example: dark to light 10, light to dark 5, a light
    and a dark one: 5.
    """
    return sum(_at_a_station(season, station, designs) for station in {c.station for c in season.changeovers})


def _at_a_station(season: Season, station: str, designs: list[Design]) -> int:
    minutes = rules.cleaning_minutes(season, station, designs)
    return min((_in_a_row(minutes, first, season.places[station]) for first in range(len(designs))), default=0)


def _in_a_row(minutes: list[list[int]], first: int, places: int) -> int:
    here, left, steps = first, set(range(len(minutes))) - {first}, list[int]()
    while left:
        before, here = here, min(left, key=lambda k: (minutes[here][k], k))
        left.remove(here)
        steps.append(minutes[before][here])
    return sum(sorted(steps)[: max(0, len(steps) - places + 1)])
