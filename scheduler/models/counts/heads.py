"""How much batch work so many people get done in a day: a guide, from days built by hand.

Fewer people wait for each other longer: where five get six batches done, three do not get
four done, though their hours would do. Not proven, so no bound reads it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from scheduler.models.caps.limits import DayLimits, request_with_all
from scheduler.models.counts.board import Board
from scheduler.models.counts.known import guessed_heads
from scheduler.models.facts import Facts

Point = tuple[int, int]  # people in, minutes of batch work
SPARE_PERCENT = 20  # of a batch: others are somewhat longer than those that were tried


@dataclass
class Heads:
    """Rooms of days by how many people are in, worked out once for days of the same hours."""

    facts: Facts
    limits: DayLimits
    _room: dict[tuple[int, int] | None, tuple[Point, ...]] = field(default_factory=dict)

    def room(self, t: int) -> tuple[Point, ...]:
        """Corners of the most work by people in; between them a line holds. Example: (0, 0), (4, 1150), (5, 1350).

        That of the day with the same hours on which most people can be in.
        """
        hours = self.facts.hours(t)
        if hours not in self._room:
            alike = [d for d in self.facts.days if self.facts.hours(d) == hours]
            fullest = max(alike, key=lambda d: sum(s.longest for s in self.facts.hands[d].values()))
            self._room[hours] = hull(self._points(fullest))
        return self._room[hours]

    def _points(self, t: int) -> list[Point]:
        facts, everyone, most = self.facts, request_with_all(self.facts, t, ()), self.limits.usual(t)
        if most == 0:  # nothing is wanted: a show may still be held
            return []
        order = self.limits.wanted_first(t, most)
        each = sum(facts.minutes_of(d) for d in order) / max(1, len(order))
        people = sorted(facts.hands[t], key=lambda n: (-self._use(n), n))
        out = []
        for heads in range(len(people), 0, -1):
            hands = tuple(h for h in everyone.hands if h.person in people[:heads])
            while heads < len(people) and most:
                asked = replace(everyone, designs=tuple(sorted(order[:most])), hands=hands)
                if self.limits.by_hand(asked):
                    break
                most -= 1
            out.append((heads, round(each * (most + SPARE_PERCENT / 100)) if most else 0))
        return [(0, 0), *reversed(out)]

    def _use(self, name: str) -> int:
        """How much a person can do: levels of all skills."""
        return sum(s.level for s in self.facts.season.skills if s.person == name)


def hull(points: Iterable[Point]) -> tuple[Point, ...]:
    """The upper hull of points with rising first figures. (0, 0), (1, 0), (2, 4), (3, 5): without (1, 0)."""
    out: list[Point] = []
    for x, y in points:
        while len(out) > 1 and (out[-1][1] - out[-2][1]) * (x - out[-2][0]) <= (y - out[-2][1]) * (
            out[-1][0] - out[-2][0]
        ):
            out.pop()
        out.append((x, y))
    return tuple(out)


def add_heads_room(board: Board, heads: Heads) -> None:
    """Batch work of a guessed day is no more than so many people get done.

    For corners (x, y) and (x', y') that follow: work <= y + (y' - y) / (x' - x) * (people in - x).
    """
    for t in board.free:
        corners = heads.room(t)
        work = sum(
            board.facts.minutes_of(d) * board.guessed(t, [d]) for d, day in board.make if day == t
        )
        people = guessed_heads(board, t)
        for (x, y), (x2, y2) in zip(corners, corners[1:], strict=False):
            board.model.add((x2 - x) * work <= (x2 - x) * y + (y2 - y) * (people - x))
        if corners:
            board.model.add(work <= corners[-1][1])
