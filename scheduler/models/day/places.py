"""The stations of a day planned by hand: when there is a place, and what lies beside a batch where one cleans."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.models.day.floor import Block, Floor
from scheduler.models.day.minutes import bits, clear

ALL_DAY = bits(0, 2000)
Taken = tuple[dict[str, list[int]], dict[str, list[list["Visit"]]]]


@dataclass(frozen=True)
class Visit:
    """A batch's time on one place of a station that is cleaned between batches."""

    starts: int
    ends: int
    design: str


class Places:
    """What is taken of each station."""

    def __init__(self, floor: Floor) -> None:
        self.floor = floor
        places = floor.season.places
        self.used: dict[str, list[int]] = {  # station -> minutes at which one place is taken, two are, and so on
            s: [0] * n for s, n in places.items() if s not in floor.cleaned
        }
        self._open: dict[tuple[str, int], int] = {}  # minutes from which on a place of a station is free for so long
        self.visits: dict[str, list[list[Visit]]] = {s: [[] for _ in range(places[s])] for s in sorted(floor.cleaned)}

    def mark(self) -> Taken:
        """How things stand, for ``back``."""
        return {s: u.copy() for s, u in self.used.items()}, {s: [p.copy() for p in v] for s, v in self.visits.items()}

    def back(self, mark: Taken) -> None:
        """Forget what was taken since."""
        self.used, self.visits = mark
        self._open.clear()

    def may_start(self, block: Block, design: str) -> int:
        """Minutes at which a block may start as far as places, and minutes for cleaning, are there."""
        out = -1
        for station, offset, minutes, _ in block.visits:
            if station in self.visits:
                here = 0
                for place in self.visits[station]:
                    here |= self._between(station, place, design, minutes)
                out &= here >> offset
            else:
                out &= self._clear(station, minutes) >> offset
        return out

    def _clear(self, station: str, minutes: int) -> int:
        """Minutes from which on a place of a station without cleaning is free for so long."""
        found = self._open.get((station, minutes))
        if found is None:
            full = self.used[station][-1] if self.used.get(station) else -1
            found = self._open[station, minutes] = clear(ALL_DAY & ~full, minutes)
        return found

    def _between(self, station: str, place: list[Visit], design: str, minutes: int) -> int:
        """Minutes at which a visit may start on a place, with time to clean before and after."""
        out = ALL_DAY
        for visit in place:
            due = self.floor.clean(station, design, visit.design)
            after = self.floor.clean(station, visit.design, design)
            low = visit.starts - minutes - (due.minutes if due else 0)
            out &= ~bits(low + 1, visit.ends + (after.minutes if after else 0))
        return out

    def take(self, station: str, visit: Visit) -> tuple[int, list[Visit]] | None:
        """Give a visit the first place that has room: its number, and the visit with those right before and after."""
        for number, place in enumerate(self.visits[station], start=1):
            if self._between(station, place, visit.design, visit.ends - visit.starts) >> visit.starts & 1:
                place.append(visit)
                place.sort(key=lambda v: v.starts)
                at = place.index(visit)
                return number, place[max(0, at - 1) : at + 2]
        return None

    def give_back(self, station: str, visit: Visit) -> None:
        """Take a visit out again."""
        for place in self.visits[station]:
            if visit in place:
                place.remove(visit)
                return

    def use(self, station: str, starts: int, ends: int) -> None:
        """Take a place of a station without cleaning."""
        more = bits(starts, ends)
        self._open.clear()
        for level, taken in enumerate(self.used[station]):
            self.used[station][level], more = taken | more, taken & more
