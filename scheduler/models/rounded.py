"""Whole batches from broken ones: the easier season of the bound made whole by dives, each day tried by hand.

A dive rounds up what is nearest to it, lets the simplex go on, and so on until nothing is broken (diving heuristics).
A day that is not found by hand has a batch exchanged, as the prices of batches say, until it is. Then some
days are set free, dived for again, and kept where that gains (large neighbourhood search, Shaw 1998).
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from scheduler.models.bound import EasierSeason
from scheduler.models.day import fit_day
from scheduler.models.day_oracle import undated_shows
from scheduler.models.facts import Facts
from scheduler.models.limits import request_with_all
from scheduler.models.relaxed import Relaxed
from scheduler.models.too_much import TooMuch
from scheduler.plan.types import DayPlan

WHOLE = 1e-5  # what is this near to a whole number is one
STEP = 0.06  # of what is broken, rounded up at once
NOISE = 0.3  # at most, added to what is over a whole number where all dives would go the same way
GAIN = 1e-6  # of the value: less is none
MANY = 3, 6, 12  # days that are set free
DIVES = 2  # with the days that had to be exchanged; after the last all others stay as they are
FEW = 8  # tries at a day by hand
EXCHANGES = 12  # tries at a day that is not found; then it has a batch less
STEPS = 20_000  # of the simplex, from one dive to the next

Solution = tuple[float, Sequence[float]]
Day = tuple[str, ...]  # designs of its batches, in order


@dataclass(frozen=True)
class Rounded:
    """``value``: what is short, whole orders broken or not; ``batches`` by column; ``values`` of all columns."""

    value: float
    batches: Mapping[int, float]
    values: Sequence[float]


def held_with(facts: Facts, t: int, day: Sequence[str]) -> frozenset[str]:
    """The shows that a day with these batches holds: all, where there are batches for them."""
    shows = facts.shows.get(t, ())
    return frozenset(s.name for s in shows) if len(day) >= len(shows) else frozenset()


class Rounder:
    """An easier season under way to whole batches."""

    def __init__(self, easier: EasierSeason, until: float = math.inf) -> None:
        """``until``: a reading of the monotonic clock, after which no dive is ended."""
        model = easier.model.export_model()
        self.easier, self.until = easier, until
        self.names = list(model.variables.ids)
        column = {name: k for k, name in enumerate(self.names)}
        self.make = {key: column[variable.id] for key, variable in easier.make.items()}
        batches = set(self.make.values())
        self.orders = [k for k, whole in enumerate(model.variables.integers) if whole and k not in batches]
        self.least, self.most = list(model.variables.lower_bounds), list(model.variables.upper_bounds)
        self.on: dict[int, list[tuple[str, int]]] = {}
        for (design, t), k in self.make.items():
            self.on.setdefault(t, []).append((design, k))
        self.relaxed = Relaxed(model, seconds=None if until == math.inf else until - time.monotonic(), steps=STEPS)
        self.known: dict[object, DayPlan | None] = {}
        self.too_much = TooMuch(easier.facts, easier.limits)

    def first(self) -> Rounded | None:
        """All batches made whole; None where there are none such, or not in time."""
        return self._again({}, self.make.values(), math.inf)

    def better(self, best: Rounded, random: Random) -> Rounded | None:
        """Some days in a row, or any, set free and rounded again; None where it does not gain."""
        free = self._some(random)
        limit = best.value - GAIN * max(1.0, abs(best.value))
        return self._again(best.batches, free, limit, random if random.random() < 0.5 else None)

    def _some(self, random: Random) -> Collection[int]:
        """Columns to set free."""
        days = sorted(self.on)
        many = min(random.choice(MANY), len(days))
        first = random.randrange(-(many // 2), max(1, len(days) - many // 2))
        in_a_row = random.random() < 0.5
        chosen = days[max(0, first) : first + many] if in_a_row else random.sample(days, many)
        return [k for t in chosen for _, k in self.on[t]]

    def _again(
        self, batches: Mapping[int, float], free: Collection[int], limit: float, random: Random | None = None
    ) -> Rounded | None:
        """What is free made whole beside the other batches, until all days that changed are found by hand."""
        loose = set(free)
        fixed = {k: n for k, n in batches.items() if k not in loose}
        for dives in reversed(range(DIVES if batches else 1)):
            found = self._dive(fixed, limit, random)
            if found is None:
                return None
            made = {k: float(round(found[1][k])) for k in self.make.values()}
            misfits = [(t, day) for t, day in self._changed(made, loose) if not self._fits(t, day)]
            self._fix(made)
            for t, day in misfits:
                other = self._settled(t, day)
                if other is None and batches:
                    return None
                settled = {k: float((other or day).count(design)) for design, k in self.on[t]}
                made, fixed, loose = made | settled, fixed | settled, loose - settled.keys()
            if not misfits or not dives:
                self._fix(made)
                found = self.relaxed.solve()
                return Rounded(found[0], made, found[1]) if found is not None and found[0] < limit else None
        return None

    def _changed(self, made: Mapping[int, float], loose: Collection[int]) -> Iterator[tuple[int, Day]]:
        """Days with anything free on them, and their batches."""
        for t, here in self.on.items():
            if any(k in loose for _, k in here):
                yield t, tuple(sorted(Counter({design: int(made[k]) for design, k in here}).elements()))

    def _dive(self, fixed: Mapping[int, float], limit: float, random: Random | None) -> Solution | None:
        """Everything that is not fixed rounded up step by step; None where that can't be, or is no better."""
        columns = [*self.make.values(), *self.orders]
        least, most = ({k: fixed.get(k, ends[k]) for k in columns} for ends in (self.least, self.most))
        self._set(columns, least, most)
        found = self.relaxed.solve()
        while found is not None and found[0] < limit and time.monotonic() < self.until:
            over = {k: found[1][k] - math.floor(found[1][k] + WHOLE) for k in columns}
            broken = [k for k in columns if over[k] > WHOLE]
            if not broken:
                return found
            rank = {k: over[k] + (random.random() * NOISE if random else 0.0) for k in broken}
            some = sorted(broken, key=lambda k: -rank[k])[: math.ceil(STEP * len(broken))]
            found = self._up(some, found[1], least, most)
        return None

    def _up(
        self, some: list[int], values: Sequence[float], least: dict[int, float], most: dict[int, float]
    ) -> Solution | None:
        """The solution with some columns rounded up; the first of them alone where not all can be; else that down."""
        for up in (some, some[:1]) if len(some) > 1 else (some,):
            least |= {k: math.floor(values[k] + WHOLE) + 1.0 for k in up}
            self._set(some, least, most)
            if found := self.relaxed.solve():
                return found
            least |= {k: least[k] - 1.0 for k in up}
        most[some[0]] = math.floor(values[some[0]] + WHOLE)
        self._set(some, least, most)
        return self.relaxed.solve()

    def _set(self, columns: Sequence[int], least: Mapping[int, float], most: Mapping[int, float]) -> None:
        self.relaxed.bound(columns, [least[k] for k in columns], [most[k] for k in columns])

    def _fix(self, batches: Mapping[int, float]) -> None:
        self._set(list(batches), batches, batches)

    def _settled(self, t: int, day: Day) -> Day | None:
        """A day like one that is not found by hand, which is: a batch exchanged, the cheapest first; else fewer.

        All other days are as they are. None where none such is found, or keeps the rules of the season.
        """
        cost = {design: self.relaxed.duals()[1][k] for design, k in self.on[t]}
        for less, more in self._exchanges(t, day, cost):
            other = tuple(sorted((Counter(day) - Counter([less]) + Counter([more])).elements()))
            if self._fits(t, other) and self._keeps(t, other):
                return other
        fewer = day
        while spare := sorted(self._spare(t, fewer), key=lambda design: (-cost[design], design)):
            ways = [tuple(sorted((Counter(fewer) - Counter([out])).elements())) for out in spare]
            for other in ways:
                if self._fits(t, other) and self._keeps(t, other):
                    return other
            fewer = ways[0]
        self._keeps(t, day)
        return None

    def _keeps(self, t: int, day: Day) -> bool:
        """Whether a day keeps the rules of the season beside all others as they are."""
        self._fix({k: float(day.count(design)) for design, k in self.on[t]})
        return self.relaxed.solve() is not None

    def _spare(self, t: int, day: Day) -> set[str]:
        """Designs of which pins hold fewer batches to a day."""
        pinned = self.easier.facts.pinned_on(t)
        return {design for design, count in Counter(day).items() if count > pinned[design]}

    def _exchanges(self, t: int, day: Day, cost: Mapping[str, float]) -> list[tuple[str, str]]:
        """(batch of the day, design in its place): each batch for what is best, then for what is next best."""
        others = sorted((d for d in cost if d not in day), key=lambda d: (cost[d], d))
        there = sorted(self._spare(t, day), key=lambda d: (-cost[d], d))
        return [(less, more) for more in others for less in there][:EXCHANGES]

    def days(self, found: Rounded) -> list[DayPlan]:
        """The days of a solution, to the minute, without packing: those that are found by hand."""
        plans = (self._by_hand(t, day) for t, day in self._changed(found.batches, found.batches))
        return [plan for plan in plans if plan is not None]

    def _fits(self, t: int, day: Day) -> bool:
        return self._by_hand(t, day) is not None

    def _by_hand(self, t: int, day: Day) -> DayPlan | None:
        """A day with everyone who can be in, its shows held, or one like it, if it is found by hand."""
        facts = self.easier.facts
        held = held_with(facts, t, day)
        key = self.easier.limits.signature(t), undated_shows(facts.season, facts.season.days[t]), held, day
        if key not in self.known:
            asked = replace(request_with_all(facts, t, day), held=held)
            vain = self.too_much.covers(asked)
            self.known[key] = None if vain else fit_day(facts.season, asked, want="by hand", tries=FEW).plan
            if self.known[key] is None:
                self.too_much.add(asked)
        return self.known[key]
