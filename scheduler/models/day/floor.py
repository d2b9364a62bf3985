"""What is known before a day is planned by hand: recipes in blocks, who can do what, what is cleaned between whom."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.models.day.minutes import bits_at
from scheduler.models.day.shifts import comes, on_steps, shortest_of
from scheduler.plan.request import DayRequest
from scheduler.season.rules import (
    Cleaning,
    RoleNeed,
    StageNeed,
    can_fill,
    cleaning,
    recipe,
    shortest_length,
    shows_on,
    start_minutes,
)
from scheduler.season.types import Season


@dataclass(frozen=True, eq=False)
class Ask:
    """So many of the able people for so long; equal asks are one object."""

    minutes: int
    people: int
    pulls: int
    able: tuple[int, ...]
    leads: bool


@dataclass(frozen=True)
class Block:
    """Runs of a batch at fixed offsets; it starts so long after the block before it has ended."""

    wait_from: int
    wait_to: int
    minutes: int
    runs: tuple[tuple[int, int, StageNeed], ...]  # (number in the recipe, offset, what it needs)
    visits: tuple[tuple[str, int, int, tuple[int, ...]], ...]  # (station, offset, minutes, numbers of its runs)

    @property
    def waits(self) -> int:
        """Minutes between the earliest and the latest start."""
        return self.wait_to - self.wait_from


def blocks_of(needs: Sequence[StageNeed]) -> tuple[Block, ...]:
    """A recipe cut where a stage may wait more or less."""
    cut = [0, *(k for k in range(1, len(needs)) if needs[k].wait_to > needs[k].wait_from), len(needs)]
    out = []
    for first, end in zip(cut, cut[1:], strict=False):
        offset, runs, visits = 0, [], list[tuple[str, int, int, tuple[int, ...]]]()
        for k in range(first, end):
            need = needs[k]
            offset += need.wait_from if k > first else 0
            if k > first and need.wait_to == 0 and need.station == needs[k - 1].station:
                station, at, minutes, numbers = visits.pop()
                visits.append((station, at, minutes + need.minutes, (*numbers, k)))
            else:
                visits.append((need.station, offset, need.minutes, (k,)))
            runs.append((k, offset, need))
            offset += need.minutes
        out.append(Block(needs[first].wait_from, needs[first].wait_to, offset, tuple(runs), tuple(visits)))
    return tuple(out)


@dataclass
class Floor:
    """What all tries for one day share."""

    season: Season
    request: DayRequest
    opens: int
    closes: int
    starts_work: int
    ends_work: int

    def __post_init__(self) -> None:
        season = self.season
        self.designs = {d: season.design_by_name[d] for d in sorted(set(self.request.designs))}
        self.lengths = {d: shortest_length(recipe(season, design)) for d, design in self.designs.items()}
        one: dict[Block, Block] = {}  # equal blocks are one object: what is known of one is known of all
        self.blocks = {
            d: tuple(one.setdefault(b, b) for b in blocks_of(recipe(season, design)))
            for d, design in self.designs.items()
        }
        self.shows = shows_on(season, self.request.day)
        self.starts = bits_at(start_minutes(season, self.request.day, self.opens, self.closes))
        hands = [on_steps(season, h, self.opens, self.closes) for h in self.request.hands]
        self.hands = [h for h in hands if comes(h, shortest_of(season, h.person))]
        skills = Counter(s.person for s in season.skills for _ in range(s.level))
        self.use = [skills[h.person] for h in self.hands]  # how much each can do
        self._able: dict[int, list[int]] = {}  # by the role of a block
        self._asks: dict[int, tuple[tuple[int, Ask], ...]] = {}
        self._one_ask: dict[tuple[int, int, int, tuple[int, ...], bool], Ask] = {}
        self._cleans: dict[tuple[str, str, str | None], Cleaning | None] = {}
        self.cleaned = {
            station for station in season.places
            if any(self.clean(station, a, b) for a in self.designs for b in (*self.designs, None))
        }  # fmt: skip

    def all_called_in(self) -> bool:
        """Whether everyone who must come can."""
        here = {h.person for h in self.hands}
        return all(h.person in here for h in self.request.hands if h.must)

    def able(self, role: RoleNeed) -> list[int]:
        """Numbers of the hands that may fill a role."""
        if id(role) not in self._able:
            people = self.season.person_by_name
            self._able[id(role)] = [
                n for n, h in enumerate(self.hands)
                if h.pulls >= role.pulls and can_fill(self.season, people[h.person], role, self.request.day)
            ]  # fmt: skip
        return self._able[id(role)]

    def asks(self, block: Block) -> tuple[tuple[int, Ask], ...]:
        """(offset, people asked for) of a block: for each role of each run, and for all roles of a run together."""
        if id(block) not in self._asks:
            out = []
            for _, offset, need in block.runs:
                for role in need.roles:
                    able = tuple(self.able(role))
                    out.append((offset, self._ask(need.minutes, role.people, role.pulls, able, role.leads)))
                if len(need.roles) > 1:
                    able = tuple(sorted({n for role in need.roles for n in self.able(role)}))
                    out.append((offset, self._ask(need.minutes, sum(r.people for r in need.roles), 0, able, False)))
            self._asks[id(block)] = tuple(out)
        return self._asks[id(block)]

    def _ask(self, *what: *tuple[int, int, int, tuple[int, ...], bool]) -> Ask:
        return self._one_ask.setdefault(what, Ask(*what))

    def skilled(self, skill: str) -> list[int]:
        level = self.season.level_of
        return [n for n, h in enumerate(self.hands) if not skill or level.get((h.person, skill), 0) >= 1]

    def clean(self, station: str, before: str, after: str | None) -> Cleaning | None:
        """What is cleaned at a station between two designs, or at the day's end."""
        key = (station, before, after)
        if key not in self._cleans:
            design = self.designs
            self._cleans[key] = cleaning(self.season, station, design[before], None if after is None else design[after])
        return self._cleans[key]
