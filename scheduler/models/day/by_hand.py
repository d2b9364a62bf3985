"""A day built by hand: batch after batch at the earliest minute at which stations and people are free.

What a planner does with pencil and paper, some dozen times over with other orders and other people
first. Finds most days in milliseconds; where it finds none the day model still may.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from scheduler.models.day.crew import Crew, Filled
from scheduler.models.day.floor import Block, Floor
from scheduler.models.day.minutes import apart, bits, bits_at, lowest
from scheduler.models.day.places import Places, Visit
from scheduler.models.day.read import first_free
from scheduler.plan.request import DayRequest
from scheduler.plan.types import Batch, DayPlan, StageRun
from scheduler.season.rules import begins, fits_show, opening, recipe, work_hours
from scheduler.season.types import Season, Show

TRIES = 24
POURS = 12  # minutes tried for one batch before the try is given up
SOON = 60  # minutes: what may wait no longer than this is placed at once with its batch


def by_hand(season: Season, request: DayRequest, tries: int = TRIES) -> Iterator[DayPlan]:
    """Days with the request's batches, without packing: as many as so many tries bring.

    Example: a batch with its duties from 8:00, the next one as soon as the table is clean and
    two people are free.
    """
    hours, work = opening(season, request.day), work_hours(season, request.day)
    if hours is None or work is None or not all(recipe(season, season.design_by_name[d]) for d in request.designs):
        return
    floor, late = Floor(season, request, *hours, *work), Counter[str]()
    if not floor.all_called_in():
        return
    for number in range(tries):
        day = Trial(floor, number, late)
        if day.build():
            yield day.plan()


@dataclass
class Boil:
    """A batch as far as it is placed: minutes, crew and places by run."""

    design: str
    show: str = ""
    starts: dict[int, int] = field(default_factory=dict)
    crew: Filled = field(default_factory=dict)
    places: dict[int, int] = field(default_factory=dict)
    leader: int | None = None
    ends: int = 0
    blocks: int = 0  # that are placed


class Trial:
    """One try at a day; ``late`` counts the designs that found no room in the tries before."""

    def __init__(self, floor: Floor, number: int, late: Counter[str]) -> None:
        self.floor, self.season, self.late = floor, floor.season, late
        self.luck, self.noise = random.Random(number), 0.0 if number == 0 else 1.0
        self.crew = Crew(floor, self.luck, self.noise, (1.0, 0.3, 2.0)[number % 3])
        self.places = Places(floor)
        self.held = [s for s in floor.shows if s.name in floor.request.held or number % 2 == 0]
        self.left = Counter(floor.request.designs)
        self.boils: list[Boil] = []

    def build(self) -> bool:
        """Place everything; False where something finds no room."""
        return (
            self._shows() and self._pours() and self._opening() and self._what_may_wait()
            and self._last_cleans() and self._closing()
        )  # fmt: skip

    def _shows(self) -> bool:
        """The batches of the shows first, with the extra hands."""
        return all(self._show(show) for show in self.held)

    def _show(self, show: Show) -> bool:
        fitting = [d for d, n in sorted(self.left.items()) if n and fits_show(self.floor.designs[d], show)]
        if not fitting:
            return False
        boil = Boil(self.luck.choice(fitting), show.name)
        possible = self._pour_at(boil.design)
        start = begins(self.season, show)
        if not possible >> start & 1 or not self._begin(boil, start):
            return False
        self._pour(boil)
        ends = show.starts + show.extra_minutes
        if show.extra_people <= 0 or show.extra_minutes <= 0:
            return True
        if ends > self.floor.closes:
            return False
        return self.crew.task("show", show.starts, ends, show.extra_people, show.extra_skill, show.name)

    def _pours(self) -> bool:
        """Always the batch that can be poured first, with some luck in the order."""
        shows = bits_at({begins(self.season, s) for s in self.held})
        head_start = {d: self.noise * self.luck.uniform(0, 60) + 5 * self.late[d] for d in self.floor.designs}
        while self.left.total():
            possible = {d: self._pour_at(d) & ~shows for d, n in sorted(self.left.items()) if n}
            design = min(possible, key=lambda d: lowest(possible[d]) - head_start[d] if possible[d] else -1000)
            boil = Boil(design)
            if not any(self._begin(boil, at) for at in apart(possible[design], POURS)):
                self.late[design] += 1
                return False
            self._pour(boil)
        return True

    def _pour(self, boil: Boil) -> None:
        self.left[boil.design] -= 1
        self.boils.append(boil)

    def _pour_at(self, design: str) -> int:
        """Minutes at which one more batch may be poured, as far as stations and numbers of people tell."""
        blocks = self.floor.blocks[design]
        last = min(self.season.kitchen.last_pour, self.floor.ends_work - self.floor.lengths[design])
        return self._start_at(blocks[0], design, self.floor.starts_work, last) & self.floor.starts

    def _start_at(self, block: Block, design: str, low: int, high: int) -> int:
        possible = bits(low, high + 1) & self.places.may_start(block, design)
        return possible and possible & self.crew.may_start(block)

    def _begin(self, boil: Boil, at: int) -> bool:
        """Place a batch from its pour on, as far as its stages wait little; nothing has changed where that can't be."""
        people, places = self.crew.mark(), self.places.mark()
        blocks = self.floor.blocks[boil.design]
        placed = self._place(boil, 0, at)
        while placed and boil.blocks < len(blocks) and blocks[boil.blocks].waits <= SOON:
            placed = self._later(boil, boil.blocks)
        if not placed:
            self.crew.back(people)
            self.places.back(places)
            boil.blocks, boil.leader = 0, None
        return placed

    def _place(self, boil: Boil, number: int, at: int) -> bool:
        """Give a block of a batch its minutes, people and cleans; nothing has changed where that can't be."""
        block, mark = self.floor.blocks[boil.design][number], self.crew.mark()
        for leader in [boil.leader] if number and boil.leader is not None else self.crew.leaders(block, at):
            filled = self.crew.fill(block, at, leader)
            places = None if filled is None else self._visit(boil.design, block, at)
            if filled is not None and places is not None:
                boil.leader, boil.ends, boil.blocks = leader, at + block.minutes, number + 1
                boil.crew |= filled
                boil.places |= places
                boil.starts |= {k: at + offset for k, offset, _ in block.runs}
                return True
            self.crew.back(mark)
        return False

    def _visit(self, design: str, block: Block, at: int) -> dict[int, int] | None:
        """Places for a block's runs, with somebody to clean before and after; None, and nothing taken, otherwise."""
        numbers: dict[int, int] = {}
        visits: list[tuple[str, Visit]] = []
        for station, offset, minutes, runs in block.visits:
            if station in self.places.visits:
                visit = Visit(at + offset, at + offset + minutes, design)
                taken = self.places.take(station, visit)
                if taken is not None:
                    visits.append((station, visit))
                if taken is None or not self._clean_around(station, *taken):
                    for place, one in visits:
                        self.places.give_back(place, one)
                    return None
                numbers |= dict.fromkeys(runs, taken[0])
        for station, offset, minutes, _ in block.visits:
            if station not in self.places.visits:
                self.places.use(station, at + offset, at + offset + minutes)
        return numbers

    def _clean_around(self, station: str, place: int, near: list[Visit]) -> bool:
        """Cleans between visits that follow each other, instead of those that were there."""
        for task in [t for t in self.crew.tasks if (t.station, t.place) == (station, place)]:
            if near[0].ends <= task.starts < near[-1].starts:
                self.crew.undo(task)
        return all(self._clean(station, place, *pair) for pair in zip(near, near[1:], strict=False))

    def _clean(self, station: str, place: int, before: Visit, after: Visit | None) -> bool:
        """The clean that is due between two visits; at the day's end before the closing duty."""
        until = self.floor.ends_work if after is None else after.starts
        due = self.floor.clean(station, before.design, None if after is None else after.design)
        if due is None:
            return True
        note = f"{before.design}, end of day" if after is None else f"{before.design} to {after.design}"
        possible = self.crew.when(due.people, due.skill, due.minutes) & bits(before.ends, until - due.minutes + 1)
        return any(
            self.crew.task("clean", at, at + due.minutes, due.people, due.skill, note, station, place)
            for at in apart(possible, step=1)
        )

    def _last_cleans(self) -> bool:
        """The cleans at the day's end."""
        return all(
            self._clean(station, number, place[-1], None)
            for station, places in self.places.visits.items()
            for number, place in enumerate(places, start=1)
            if place
        )

    def _opening(self) -> bool:
        kitchen = self.season.kitchen
        if not self.boils or kitchen.opening_people <= 0 or kitchen.opening_minutes <= 0:
            return True
        latest = min(b.starts[0] for b in self.boils) - kitchen.opening_minutes
        return any(
            self.crew.task("opening", at, at + kitchen.opening_minutes, kitchen.opening_people)
            for at in range(latest, self.floor.opens - 1, -5)
        )

    def _closing(self) -> bool:
        kitchen = self.season.kitchen
        if not self.boils or kitchen.closing_people <= 0 or kitchen.closing_minutes <= 0:
            return True
        last = max([b.ends for b in self.boils] + [t.ends for t in self.crew.tasks if t.kind == "clean"])
        return any(
            self.crew.task("closing", at, at + kitchen.closing_minutes, kitchen.closing_people)
            for at in range(last, self.floor.closes - kitchen.closing_minutes + 1, 5)
        )

    def _what_may_wait(self) -> bool:
        """The blocks that may wait longer, after all batches: whichever is due first."""
        most = max((len(blocks) for blocks in self.floor.blocks.values()), default=0)
        return all(
            self._later(boil, number)
            for number in range(1, most)
            for boil in sorted(self.boils, key=lambda b: b.ends)
            if boil.blocks <= number < len(self.floor.blocks[boil.design])
        )

    def _later(self, boil: Boil, number: int) -> bool:
        """A block at the minute that makes somebody's shift grow least."""
        blocks = self.floor.blocks[boil.design]
        block = blocks[number]
        after = sum(b.wait_from + b.minutes for b in blocks[number + 1 :])
        low = boil.ends + block.wait_from
        high = min(boil.ends + block.wait_to, self.floor.ends_work - block.minutes - after)
        possible = self._start_at(block, boil.design, low, high)
        able = {n for _, _, need in block.runs for role in need.roles for n in self.floor.able(role)}

        def grows(at: int) -> int:
            return min((self.crew.workers[n].grows(at, at + block.minutes) for n in able), default=0)

        ways = sorted(apart(possible, POURS, max(5, (high - low) // POURS)), key=grows)
        return any(self._place(boil, number, at) for at in ways)

    def plan(self) -> DayPlan:
        """The day, with places and batch ids."""
        day, order = self.floor.request.day, sorted(self.boils, key=lambda b: b.starts[0])
        needs = [recipe(self.season, self.floor.designs[b.design]) for b in order]
        places = {(n, k): place for n, boil in enumerate(order) for k, place in boil.places.items()}
        for station in self.places.used:
            spans = [
                (boil.starts[k], boil.starts[k] + need.minutes, (n, k), -1)
                for n, boil in enumerate(order) for k, need in enumerate(needs[n]) if need.station == station
            ]  # fmt: skip
            first_free(sorted(spans), places, [], 0)
        batches = tuple(
            Batch(f"{day:%m%d}-{n + 1}", boil.design, tuple(
                StageRun(need.name, need.station, places[n, k], at, at + need.minutes, tuple(boil.crew[k]))
                for k, need in enumerate(needs[n]) for at in (boil.starts[k],)
            ), boil.show)
            for n, boil in enumerate(order)
        )  # fmt: skip
        shifts = [w.shift() for w in self.crew.workers if w.busy or w.hand.must]
        tasks = sorted(self.crew.tasks, key=lambda t: (t.starts, t.ends, t.kind, t.station, t.place))
        missed = tuple(show.name for show in self.floor.shows if show not in self.held)
        return DayPlan(day, batches, tuple(tasks), (), tuple(s for s in shifts if s is not None), missed)
