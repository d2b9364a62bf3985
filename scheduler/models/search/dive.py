"""The master problem made integer: a dive, then large neighbourhood search, both by workers that exchange incumbents.

A dive fixes the day that is nearest to integer, lets the dual simplex go on, and so on until all are fixed (diving
heuristics; Sadykov and others 2019 for models of many columns, from memory). Then some days are set free, dived for
again, and kept where that gains (Shaw 1998). Where that does not come near enough to the relaxation, in a small season,
HiGHS goes on from it by branch and bound. Whole orders may be fractional meanwhile: they are settled when the days
are chosen, and cost little then (measured on M: 1 per cent of what is short).
"""

from __future__ import annotations

import math
import time
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from random import Random
from uuid import uuid4

from ortools.math_opt import model_pb2
from ortools.math_opt.python import mathopt
from scheduler.models.solvers.spread import kept, spread
from scheduler.models.solvers.warm_lp import Start, WarmLp

WHOLE = 1e-3  # a share that is this near to nothing, or to all, is so
GAIN = 1e-6  # of the value: less is none
SHARES, FEWEST = (0.15, 0.25, 0.4), 4  # of the days that are set free, and how many at least
NEAREST = 3  # of which every other worker takes any, so that they do not all find the same
TRIES = 6  # dives for some of the days in a round, after which workers hear of each other's best
ROUNDS, STALL = 60, 12  # in all, and how many of them without a gain are enough


@dataclass(frozen=True)
class Options:
    """A season of known days: for each free day the columns of its days; ``now``: that of the plan so far, if any.

    ``model``: in MathOpt's form. ``start``: where the simplex begins. ``gap``: of the goal, between plan and
    relaxation, that is near enough; ``nodes``: of HiGHS' tree at most, where the dives end further away. A run that
    hits ``seconds`` is not repeatable.
    """

    model: bytes
    days: tuple[tuple[int, ...], ...]
    now: tuple[int | None, ...]
    start: Start | None = None
    gap: float = 0.0
    seconds: float | None = None
    nodes: int = 0


@dataclass(frozen=True)
class Incumbent:
    """What a season comes to with one column for each day, or none; whether that is enough."""

    value: float
    days: tuple[int | None, ...]
    enough: bool = False


def dive_and_search(options: Options, workers: int) -> Incumbent | None:
    """The best choice found by so many workers, each in a process of its own; None where none keeps the rules."""
    began, best, stalled, token = time.monotonic(), None, 0, str(uuid4())
    for number in range(ROUNDS):
        left = None if options.seconds is None else options.seconds - (time.monotonic() - began)
        if stalled == STALL or (best is not None and (best.enough or (left is not None and left <= 0))):
            break
        asked = replace(options, seconds=left)
        rounds = [_Round(token, asked, best, number * workers + k) for k in range(workers)]
        told = dict(spread(_best_of, rounds, workers))
        found = [one for k in sorted(told) if (one := told[k]) is not None]
        if not found:
            break
        best, before = min(found, key=lambda one: one.value), best
        stalled = stalled + 1 if best == before else 0
    if best is None or best.enough or not options.nodes:
        return best
    return _by_tree(options, best, None if options.seconds is None else options.seconds - (time.monotonic() - began))


def _by_tree(options: Options, best: Incumbent, left: float | None) -> Incumbent:
    """A better choice, if HiGHS finds one by branch and bound from the best so far."""
    if left is not None and left <= 0:
        return best
    model = mathopt.Model.from_model_proto(model_pb2.ModelProto.FromString(options.model))
    shares = {column: model.get_variable(column) for columns in options.days for column in columns}
    for share in shares.values():
        share.integer = True
    hint = {share: float(column in best.days) for column, share in shares.items()}
    params = mathopt.SolveParameters(
        node_limit=options.nodes, time_limit=None if left is None else timedelta(seconds=left)
    )  # fmt: skip
    start = mathopt.ModelSolveParameters(solution_hints=[mathopt.SolutionHint(variable_values=hint)])
    result = mathopt.solve(model, mathopt.SolverType.HIGHS, params=params, model_params=start)
    if not result.has_primal_feasible_solution() or result.objective_value() >= best.value:
        return best
    values = result.variable_values()
    days = (next((c for c in columns if values[shares[c]] > 1 - WHOLE), None) for columns in options.days)
    return Incumbent(result.objective_value(), tuple(days), best.enough)


@dataclass(frozen=True)
class _Round:
    """Some tries from the best so far; those of one ``token`` are of one season."""

    token: str
    options: Options
    best: Incumbent | None
    seed: int


def _best_of(asked: _Round) -> Incumbent | None:
    began = time.monotonic()
    return kept(asked.token, lambda: _DivingLns(asked.options)).run(asked, began)


class _DivingLns:
    """The relaxation under way, and the best choice so far."""

    def __init__(self, options: Options) -> None:
        self.options = options
        self.best: Incumbent | None = None
        self.model = WarmLp(model_pb2.ModelProto.FromString(options.model), options.start, options.seconds)
        found = self.model.solution()
        self.enough = math.inf if found is None else found[0] + options.gap
        self.root = self.model.basis()

    @property
    def cutoff(self) -> float:
        """Dives that come to more are given up."""
        return math.inf if self.best is None else self.best.value - GAIN * max(1.0, abs(self.best.value))

    def run(self, asked: _Round, began: float) -> Incumbent | None:
        """Some tries from the best so far; the same ones whatever this process did before."""
        seconds = asked.options.seconds
        self.until = math.inf if seconds is None else began + seconds
        self.best, self.random, self.randomised = asked.best, Random(asked.seed), bool(asked.seed % 2)
        self.model.go_back(self.root)
        if self.enough == math.inf:
            return None
        if self.best is None:
            self._keep(self._dive({}))
            self._keep(self._value(self.options.now))
        for _ in range(TRIES):
            if self.best is None or self.best.value <= self.enough or time.monotonic() > self.until:
                break
            self._keep(self._again(self.best.days))
        return self.best and replace(self.best, enough=self.best.value <= self.enough)

    def _keep(self, found: Incumbent | None) -> None:
        if found is not None and found.value < self.cutoff:
            self.best = found

    def _value(self, days: Sequence[int | None]) -> Incumbent | None:
        """What a choice comes to."""
        for number, column in enumerate(days):
            self._fix(number, column)
        found = self.model.solve()
        return None if found is None else Incumbent(found[0], tuple(days))

    def _again(self, days: Sequence[int | None]) -> Incumbent | None:
        """Some days in a row, or anywhere, set free and dived for again; the others stay."""
        count = len(days)
        many = max(FEWEST, round(count * self.random.choice(SHARES)))
        if self.random.random() < 0.5:
            first = self.random.randrange(-many // 2, max(1, count - many // 2))
            free = set(range(max(0, first), min(count, first + many)))
        else:
            free = set(self.random.sample(range(count), min(many, count)))
        for number, column in enumerate(days):
            if number not in free:
                self._fix(number, column)
        return self._dive({k: column for k, column in enumerate(days) if k not in free})

    def _dive(self, fixed: Mapping[int, int | None]) -> Incumbent | None:
        """All other days made whole one after the other, the nearest first; None where that can't be, or is no better.

        A day with which the rest can't be is not tried again.
        """
        whole, barred = dict(fixed), dict[int, set[int]]()
        pace = _Pace(self.until)
        for number in range(len(self.options.days)):
            if number not in whole:
                self._free(number, ())
        found = self.model.solve()
        while found is not None and found[0] < self.cutoff and time.monotonic() < self.until:
            value, shares = found
            if len(whole) == len(self.options.days):
                return Incumbent(value, tuple(whole[k] for k in range(len(whole))))
            top = {k: self._nearest(k, shares) for k in range(len(self.options.days)) if k not in whole}
            share = {k: shares[column] for k, column in top.items() if column is not None}
            fractional = {k: part for k, part in share.items() if part < 1 - WHOLE}
            some = self._next(fractional, pace.at_once(len(fractional))) if fractional else list(top)
            for k in some:
                self._fix(k, top[k])
            whole |= {k: top[k] for k in some}
            found = self.model.solve()
            if found is None and fractional:
                alone = len(some) == 1
                pace.hurried = pace.hurried and alone
                for k in some:
                    column = whole.pop(k)
                    if alone and column is not None:
                        barred.setdefault(k, set()).add(column)
                    self._free(k, barred.get(k, ()))
                found = self.model.solve()
        return None

    def _next(self, shares: Mapping[int, float], many: int) -> list[int]:
        """The days that are nearest to whole; with ``loose`` one of the nearest."""
        order = sorted(shares, key=lambda k: -shares[k])
        return [self.random.choice(order[:NEAREST])] if self.randomised and many == 1 else order[:many]

    def _nearest(self, number: int, shares: Sequence[float]) -> int | None:
        """The column of a day with the largest share, if it has any."""
        best = max(self.options.days[number], key=lambda column: shares[column], default=None)
        return best if best is not None and shares[best] > WHOLE else None

    def _fix(self, number: int, column: int | None) -> None:
        columns = self.options.days[number]
        ends = [float(one == column) for one in columns]
        self.model.bound(columns, ends, ends)

    def _free(self, number: int, barred: Collection[int]) -> None:
        columns = self.options.days[number]
        self.model.bound(columns, [0.0] * len(columns), [float(one not in barred) for one in columns])


class _Pace:
    """Days made whole in a step, so that a dive ends in half of the time that is left: one, without a clock."""

    def __init__(self, until: float) -> None:
        self.until, self.began, self.steps, self.hurried = until, time.monotonic(), 0, until < math.inf

    def at_once(self, days: int) -> int:
        """Of so many days that are fractional; one where several at once could not be."""
        self.steps += 1
        if not self.hurried:
            return 1
        now = time.monotonic()
        return max(1, math.ceil(2 * days * (now - self.began) / self.steps / max(1e-3, self.until - now)))
