"""A season drawn whole, a primal heuristic: diving, then large neighbourhood search over days, by two processes.

The relaxation, with slack in its hours, is made integer (``rounded.py``); the batches of each day are found by hand at
once. Each search sets days free, in large seasons of its own, block by block; after some tries they exchange their
incumbents, and go on from the best, or from all that is new of both where that is better. Where nothing is found any
more they go on without slack: then more days are not found by hand, but the best may be among those that are.
"""

from __future__ import annotations

import pickle
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import count
from math import inf
from random import Random
from uuid import uuid4

from ortools.math_opt.python import mathopt
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Wish
from scheduler.models.counts.part import is_large
from scheduler.models.counts.relaxation import SeasonRelaxation
from scheduler.models.facts import Facts
from scheduler.models.search.rounded import Day, Rounded, Rounder
from scheduler.models.search.sketch import add_slack, keep_pins, wish_of
from scheduler.models.solvers.spread import kept, let_go, spread
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan

# Of a week's hours: for each hour of batch work, for each hour of packing, and how much of them is used at most (as
# measured on plans of 13 weeks: people are not always there when they are wanted).
WAITING_PERCENT, PACKING_PERCENT, USED_PERCENT = 150, 50, 88
MORE = 1  # batches than days usually take: some mixes are easy days
SEARCHES, TRIES = 2, 6  # side by side, and tries of each, after which they hear of each other
EXCHANGED = 0.5  # of the tries exchange batches; the others set days free
BLOCK, SHIFT = 9, 5  # in large seasons: days in a row that are one search's, the next the other's; elsewhere each round
STALL = 4  # rounds in vain, then enough

Start = tuple[Mapping[int, Day], Mapping[int, float]]  # batches by day; whole orders that are served, if that is known


@dataclass(frozen=True)
class Drawn:
    """What a season is to be made of, and the days that were found on the way."""

    wish: Wish
    days: tuple[DayPlan, ...]


def drawn(
    facts: Facts, limits: DayLimits, missed: int | None, until: float = inf, processes: int = 1,
    say: Callable[[str], None] = lambda _line: None, start: Mapping[int, Day] | None = None, slack: bool = True,
) -> Drawn | None:  # fmt: skip
    """Counts that miss at most so many of the shows that can be held (None: no matter); None where none is found.

    ``until``: a reading of the monotonic clock; the best by then is told. Two search side by side, where there are
    ``processes``, and hear of each other after some tries. One begins at ``start``, the batches of a plan, if there
    is one (measured: better than both). Without ``slack`` from the first both do.
    """
    token, season, vain = str(uuid4()), pickle.dumps((facts, limits.copy(), missed)), tuple[DayRequest, ...]()
    best: _Told | None = None
    starts: list[Start] = [] if start is None else [(start, {})]
    days, stalled = dict[tuple[date, Day], DayPlan](), 0
    for number in count():
        left = None if until == inf else until - time.monotonic()
        if best is not None and (best.found.value <= 0 or (left is not None and left <= 0)):
            break
        if stalled == STALL:
            if not slack:
                break
            slack, stalled = False, 0
        from_here = [starts if best or not slack or not k else [] for k in range(SEARCHES)]
        kind, first = f"{token} {slack}", SEARCHES * number
        rounds = [_Round(kind, season, some, vain, first + k, left, slack) for k, some in enumerate(from_here)]
        told = dict(spread(_go_on, rounds, processes))
        news = sorted((one for k in sorted(told) if (one := told[k]) is not None), key=lambda one: one.found.value)
        if not news:
            break
        for one in news:
            vain += one.vain
            days |= one.days
        before = best
        if best is None or news[0].found.value < best.found.value:
            best, stalled = news[0], 0
        else:
            stalled += 1
        starts = [(best.found.days, best.found.orders)]
        if before is not None:
            starts.append((_merged(before.found.days, [one.found.days for one in news]), {}))
        say(f"drawing the season, {round(best.found.value)} short")
    let_go()
    return None if best is None else Drawn(best.wish, tuple(days.values()))


@dataclass(frozen=True)
class _Round:
    """Some tries from the best of what is there to start from; those of one ``token`` are of one season."""

    token: str
    season: bytes
    starts: Sequence[Start]
    vain: tuple[DayRequest, ...]
    seed: int
    seconds: float | None
    slack: bool


@dataclass(frozen=True)
class _Told:
    """The best of a round; all days of the better solutions on the way; days that were looked for in vain."""

    found: Rounded
    wish: Wish
    days: Mapping[tuple[date, Day], DayPlan]
    vain: tuple[DayRequest, ...]


def _go_on(asked: _Round) -> _Told | None:
    """A round: the same whatever this process did before."""
    until = inf if asked.seconds is None else time.monotonic() + asked.seconds
    rounder = kept(asked.token, lambda: _rounder(asked.season, asked.seconds, asked.slack))
    if rounder is None:
        return None
    rounder.begin(asked.vain, until)
    random, plans = Random(asked.seed), list[DayPlan]()
    starts = [found for start in asked.starts if (found := rounder.told(*start)) is not None]
    best = min(starts, key=lambda found: found.value, default=None)
    if best is None and asked.slack:
        best = rounder.first(random if asked.seed else None)
    if best is None:
        return None
    plans += rounder.plans(best)
    mine = sorted(rounder.on)
    if is_large(rounder.relaxation.facts):
        turn, which = divmod(asked.seed, SEARCHES)
        mine = [t for n, t in enumerate(mine, start=SHIFT * turn) if n // BLOCK % SEARCHES == which]
    for _ in range(TRIES):
        if time.monotonic() > until:
            break
        search = rounder.exchanged if random.random() < EXCHANGED else rounder.better
        if better := search(best, mine, random):
            best = better
            plans += rounder.plans(best)
    days = {(plan.day, plan.designs): plan for plan in plans}
    wish = wish_of(rounder.relaxation, dict(zip(rounder.names, best.values, strict=True)))
    return _Told(best, wish, days, tuple(rounder.vain))


def _rounder(season: bytes, seconds: float | None, slack: bool = True) -> Rounder | None:
    """The relaxation, mostly with slack, ready to be rounded; None where it knows nothing of a pin."""
    relaxation = SeasonRelaxation(*pickle.loads(season))
    relaxation.build()
    if slack:
        add_slack(relaxation, MORE)
        leave_time_in_weeks(relaxation)
        leave_out_hard_mixes(relaxation)
    return Rounder(relaxation, seconds) if keep_pins(relaxation) else None


def _merged(before: Mapping[int, Day], found: Sequence[Mapping[int, Day]]) -> Mapping[int, Day]:
    """The days of all that was found, where they are new; those of the first where several are."""
    out = dict(before)
    for days in reversed(found):
        out |= {t: day for t, day in days.items() if day != before[t]}
    return out


def leave_time_in_weeks(relaxation: SeasonRelaxation) -> None:
    """Air in the week's hours of everyone: waiting between jobs, half of which packing fills."""
    facts = relaxation.facts
    for days in facts.weeks.values():
        work = [facts.minutes_of(d) * variable for (d, t), variable in relaxation.make.items() if t in days]
        packing = [relaxation.seconds[t] / 60 for t in days]
        hours = sum(relaxation.week_minutes(p.name, days) for p in facts.season.crew)
        spent = WAITING_PERCENT * mathopt.fast_sum(work) + PACKING_PERCENT * mathopt.fast_sum(packing)
        relaxation.model.add_linear_constraint(spent <= USED_PERCENT * hours)


def leave_out_hard_mixes(relaxation: SeasonRelaxation) -> None:
    """No more batches of each family of designs that are as hard a day than are found by hand."""
    for t in relaxation.facts.days:
        for designs, most in relaxation.limits.caps(t)[1:]:
            usual = relaxation.limits.usual(t, designs)
            if usual < most:
                relaxation.mix(t, dict.fromkeys(designs, 1), usual)
