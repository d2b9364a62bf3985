"""Integer batches from fractional ones: dives in the relaxation, each day found by hand, then neighbourhoods of days.

A dive rounds up what is nearest above, lets the dual simplex go on, and so on until nothing is fractional. A day that
is not found by hand has a batch exchanged, as the reduced costs say, until it is. Then some days are set free, dived
for again, and kept where that gains (large neighbourhood search, Shaw 1998), or batches of theirs are exchanged, those
of least reduced cost first (they bound what an exchange can gain).
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from random import Random

from scheduler.models.caps.limits import request_with_all
from scheduler.models.caps.oracle import undated_shows
from scheduler.models.caps.too_much import TooMuch
from scheduler.models.counts.relaxation import SeasonRelaxation
from scheduler.models.day.fit import fit_day
from scheduler.models.search.fitting import FEW
from scheduler.models.search.sketch import held_with
from scheduler.models.solvers.warm_lp import WarmLp
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan

WHOLE = 1e-5  # what is this near to a whole number is one
STEP = 0.15  # of what is fractional, rounded up at once
NOISE = 0.3  # at most, added to what is over a whole number where all dives would go the same way
GAIN = 1e-6  # of the value: less is none
MANY = 3, 6, 12  # sizes of neighbourhoods, in days (measured: larger ones gain less in the same time)
DIVES = 2  # with the days that had to be exchanged; after the last all others stay as they are
EXCHANGES = 12  # tries at a day that is not found; then it has a batch less
STEPS = 20_000  # of the simplex, from one dive to the next

Solution = tuple[float, Sequence[float]]
SOME, MOVES = 20, 30  # days among which batches are exchanged, and exchanges that are tried each time

Ends = Mapping[int, float] | Sequence[float]  # what columns are at least, or at most
Day = tuple[str, ...]  # designs of its batches, in order
Move = tuple[tuple[int, str, str], ...]  # for each day that changes: a batch less, a batch more


@dataclass(frozen=True)
class Rounded:
    """``value``: what is short, in the season's weights; the batches of each day; which whole orders (by column) are
    served, 1 or 0; ``values`` of all columns."""

    value: float
    days: Mapping[int, Day]
    orders: Mapping[int, float]
    values: Sequence[float]

    @property
    def cutoff(self) -> float:
        """What is short of this gains on it."""
        return self.value - GAIN * max(1.0, abs(self.value))


class Rounder:
    """A relaxation under way to integer batches."""

    def __init__(self, relaxation: SeasonRelaxation, seconds: float | None = None) -> None:
        model = relaxation.model.export_model()
        self.relaxation = relaxation
        self.names = list(model.variables.ids)
        column = {name: k for k, name in enumerate(self.names)}
        self.make = {key: column[variable.id] for key, variable in relaxation.make.items()}
        self.on: dict[int, list[tuple[str, int]]] = {}
        for (design, t), k in self.make.items():
            self.on.setdefault(t, []).append((design, k))
        self.whole = [k for k, whole in enumerate(model.variables.integers) if whole]  # batches and whole orders
        self.beside = {k: [k] for k in self.whole}  # the columns of the same day; an order has none beside it
        for some in self.on.values():
            self.beside |= {k: [other for _, other in some] for _, k in some}
        self.orders = sorted(set(self.whole) - set(self.make.values()))
        self.least, self.most = list(model.variables.lower_bounds), list(model.variables.upper_bounds)
        self.relaxed = WarmLp(model, seconds=seconds, steps=STEPS, first="simplex")
        self.root = self.relaxed.basis()
        self.known: dict[object, DayPlan | None] = {}
        self.begin()

    def begin(self, vain: Iterable[DayRequest] = (), until: float = math.inf) -> None:
        """Forget what was learnt but for days that were looked for in ``vain``: what follows is the same on every run.

        ``until``: a reading of the monotonic clock, after which no dive is ended.
        """
        self.until, self.vain, self.there = until, list[DayRequest](), set[tuple[int, Day]]()
        self.too_much = TooMuch(self.relaxation.facts, self.relaxation.limits)
        for asked in vain:
            self.too_much.add(asked)
        self.relaxed.go_back(self.root)

    def first(self, random: Random | None = None) -> Rounded | None:
        """All batches made whole; None where there are none such, or not in time."""
        return self._again({}, self.on, math.inf, random)

    def told(self, days: Mapping[int, Day], orders: Mapping[int, float]) -> Rounded | None:
        """A solution found before, by its batches, and by the whole orders that it serves, if that is known.

        None where that breaks a rule of the relaxation, as a plan from elsewhere may.
        """
        days = {t: days.get(t, ()) for t in self.on}
        self.there.update(days.items())
        return self._solved(days, math.inf, orders)

    def better(self, best: Rounded, days: Sequence[int], random: Random) -> Rounded | None:
        """Some of these days, in a row or any, set free and rounded again; None where it does not gain."""
        many = min(random.choice(MANY), len(days))
        first, in_a_row = random.randrange(-(many // 2), max(1, len(days) - many // 2)), random.random() < 0.5
        free = days[max(0, first) : first + many] if in_a_row else random.sample(days, many)
        return self._again(best.days, free, best.cutoff, random if random.random() < 0.5 else None)

    def exchanged(self, best: Rounded, days: Sequence[int], random: Random) -> Rounded | None:
        """Batches of some of these days exchanged, on one day or between two; None where nothing gains."""
        if self._dive(best.days, math.inf, None, best.orders) is None:
            return None
        found, changed = best, set[int]()
        for move in self._moves(best.days, random.sample(days, min(SOME, len(days))))[:MOVES]:
            touched = {t for t, *_ in move}
            if not touched & changed and (gained := self._moved(found, move)) is not None:
                found = gained
                changed |= touched
        return None if found is best else self._solved(found.days, found.value, {}) or found

    def plans(self, found: Rounded) -> list[DayPlan]:
        """The days of a solution, to the minute, without packing: those that are found by hand."""
        plans = (self._by_hand(t, day) for t, day in found.days.items())
        return [plan for plan in plans if plan is not None]

    def _again(
        self, days: Mapping[int, Day], free: Iterable[int], limit: float, random: Random | None
    ) -> Rounded | None:
        """What is free made whole beside the other days, until all days that changed are found by hand."""
        loose = set(free)
        fixed = {t: day for t, day in days.items() if t not in loose}
        for dives in reversed(range(DIVES if days else 1)):
            found = self._dive(fixed, limit, random)
            if found is None:
                return None
            made = {t: self._day(t, found[1]) for t in self.on}
            misfits = [t for t in sorted(loose) if not self._fits(t, made[t])]
            if not misfits:
                return self._rounded(made, found)
            for t in self.on:
                self._fix(t, made[t])
            self._set(self.orders, self.least, self.most)  # a batch less may mean an order less
            for t in misfits:
                other = self._settled(t, made[t])
                if other is None and days:
                    return None
                made[t] = fixed[t] = made[t] if other is None else other
                loose.remove(t)
            if not dives:
                return self._solved(made, limit, {})
        return None

    def _day(self, t: int, values: Sequence[float]) -> Day:
        return tuple(sorted(Counter({design: round(values[k]) for design, k in self.on[t]}).elements()))

    def _solved(self, days: Mapping[int, Day], limit: float, orders: Mapping[int, float]) -> Rounded | None:
        """A solution by its batches, whole orders settled, if it is short by less than so much."""
        found = self._dive(days, limit, None, orders)
        return None if found is None else self._rounded(days, found)

    def _rounded(self, days: Mapping[int, Day], found: Solution) -> Rounded:
        return Rounded(found[0], dict(days), {k: float(round(found[1][k])) for k in self.orders}, found[1])

    def _fix(self, t: int, day: Day) -> None:
        there = {k: float(day.count(design)) for design, k in self.on[t]}
        self._set(list(there), there, there)

    def _dive(
        self, fixed: Mapping[int, Day], limit: float, random: Random | None, orders: Mapping[int, float] | None = None
    ) -> Solution | None:
        """Everything that is not fixed rounded up step by step; None where that can't be, or is no better."""
        there = {k: float(day.count(design)) for t, day in fixed.items() for design, k in self.on[t]}
        there |= orders or {}
        least, most = ({k: there.get(k, ends[k]) for k in self.whole} for ends in (self.least, self.most))
        self._set(self.whole, least, most)
        found = self.relaxed.solve()
        while found is not None and found[0] < limit and time.monotonic() < self.until:
            over = {k: found[1][k] - math.floor(found[1][k] + WHOLE) for k in self.whole}
            fractional = [k for k in self.whole if over[k] > WHOLE]
            if not fractional:
                return found
            rank = {k: over[k] + (random.random() * NOISE if random else 0.0) for k in fractional}
            ranked = sorted(fractional, key=lambda k: -rank[k])
            found = self._step(ranked[: math.ceil(STEP * len(ranked))], found[1], least, most)
        return None

    def _step(
        self, some: Sequence[int], values: Sequence[float], least: dict[int, float], most: dict[int, float]
    ) -> Solution | None:
        """The solution with some columns rounded up; the first of them alone where not all can be; else that down.

        With it all of its day: where there is no room for one batch, there is mostly none for another. What is whole of
        them stays.
        """
        beside = self.beside[some[0]]
        down = {k: math.floor(values[k] + WHOLE) for k in {*some, *beside}}
        least |= {k: down[k] for k in some}
        for up in (some, some[:1]) if len(some) > 1 else (some,):
            if found := self._tried(least, {k: down[k] + 1.0 for k in up}, least, most):
                return found
        for shut in (beside, some[:1]) if len(beside) > 1 else (beside,):
            if found := self._tried(most, {k: down[k] for k in shut}, least, most):
                return found
        return None

    def _tried(
        self, ends: dict[int, float], new: Mapping[int, float], least: dict[int, float], most: dict[int, float]
    ) -> Solution | None:
        """The solution with some ends, ``least`` or ``most``, moved; None where there is none: they are moved back."""
        before = {k: ends[k] for k in new}
        ends |= new
        self._set(list(new), least, most)
        if found := self.relaxed.solve():
            return found
        ends |= before
        self._set(list(new), least, most)
        return None

    def _set(self, columns: Sequence[int], least: Ends, most: Ends) -> None:
        self.relaxed.bound(columns, [least[k] for k in columns], [most[k] for k in columns])

    def _settled(self, t: int, day: Day) -> Day | None:
        """A day like one that is not found by hand, which is: a batch exchanged, the cheapest first; else fewer.

        All other days are as they are. None where none such is found, or keeps the rules of the season.
        """
        self.relaxed.solve()
        price = self.relaxed.duals()[1]
        cost = {design: price[k] for design, k in self.on[t]}
        for other in islice(self._exchanges(t, day, cost), EXCHANGES):
            if self._fits(t, other) and self._keeps(t, other):
                return other
        fewer: Day | None = day
        while fewer:
            spare = sorted(self._spare(t, fewer), key=lambda design: (-cost[design], design))
            ways = [_without(fewer, less) for less in spare]
            for other in ways:
                if self._fits(t, other) and self._keeps(t, other):
                    return other
            fewer = next((way for way in ways if self._keeps(t, way)), None)  # not the batch of a show
        self._fix(t, day)
        return None

    def _keeps(self, t: int, day: Day) -> bool:
        """Whether a day keeps the rules of the season beside all others as they are."""
        self._fix(t, day)
        return self.relaxed.solve() is not None

    def _spare(self, t: int, day: Day) -> set[str]:
        """Designs of which pins hold fewer batches to a day."""
        pinned = self.relaxation.facts.pinned_on(t)
        return {design for design, count in Counter(day).items() if count > pinned[design]}

    def _moves(self, days: Mapping[int, Day], some: Sequence[int]) -> list[Move]:
        """Exchanges that may gain as the prices have it, those that may gain most first."""
        price = self.relaxed.duals()[1]
        cost = {t: {design: price[k] for design, k in self.on[t]} for t in some}
        spare = {t: sorted(self._spare(t, days[t]) & cost[t].keys()) for t in some}
        moves = list[tuple[float, Move]]()
        for n, t in enumerate(some):
            for less in spare[t]:
                gains = {more: cost[t][more] - cost[t][less] for more in cost[t] if more != less}
                moves += [(gain, ((t, less, more),)) for more, gain in gains.items()]
                for u in (u for u in some[:n] if less in cost[u]):
                    for more in (more for more in spare[u] if more in gains):
                        moves.append((gains[more] + cost[u][less] - cost[u][more], ((t, less, more), (u, more, less))))
        return [move for gain, move in sorted(moves) if gain < 0]

    def _moved(self, found: Rounded, move: Move) -> Rounded | None:
        """A solution with batches exchanged, the whole orders as they are; None where that gains nothing."""
        new = {t: tuple(sorted((*_without(found.days[t], less), more))) for t, less, more in move}
        if time.monotonic() > self.until or not all(self._fits(t, day) for t, day in new.items()):
            return None
        for t, day in new.items():
            self._fix(t, day)
        there = self.relaxed.solve()
        if there is not None and there[0] < found.cutoff:
            return Rounded(there[0], {**found.days, **new}, found.orders, there[1])
        for t in new:
            self._fix(t, found.days[t])
        return None

    def _exchanges(self, t: int, day: Day, cost: Mapping[str, float]) -> Iterator[Day]:
        """Days that are not too much: each batch for one of what is best, then for one of what is next best."""
        there = sorted(self._spare(t, day), key=lambda d: (-cost[d], d))
        for more in sorted(cost, key=lambda d: (cost[d], d)):
            for less in there:
                other = tuple(sorted((*_without(day, less), more)))
                if less != more and not self._is_too_much(t, other, self._asked(t, other)):
                    yield other

    def _fits(self, t: int, day: Day) -> bool:
        return self._by_hand(t, day) is not None

    def _asked(self, t: int, day: Day) -> DayRequest:
        """A day with everyone who can be in, its shows held."""
        return replace(request_with_all(self.relaxation.facts, t, day), held=held_with(self.relaxation.facts, t, day))

    def _is_too_much(self, t: int, day: Day, asked: DayRequest) -> bool:
        """Whether a day asks for as much as one that was looked for in vain, and was not found before."""
        return (t, day) not in self.there and self.too_much.covers(asked)

    def _by_hand(self, t: int, day: Day) -> DayPlan | None:
        """The day that is asked for, or one like it, if it is found by hand."""
        facts, asked = self.relaxation.facts, self._asked(t, day)
        if self._is_too_much(t, day, asked):
            return None
        key = self.relaxation.limits.signature(t), undated_shows(facts.season, facts.season.days[t]), asked.held, day
        if key not in self.known:
            self.known[key] = fit_day(facts.season, asked, want="by hand", tries=FEW).plan
        if self.known[key] is None:
            self.too_much.add(asked)
            self.vain.append(asked)
        else:
            self.there.add((t, day))  # whatever is looked for in vain later
        return self.known[key]


def _without(day: Day, design: str) -> Day:
    at = day.index(design)
    return (*day[:at], *day[at + 1 :])
