"""A first sketch of a season: the bound's easier season with air to breathe, made whole and taken as a plan.

Counts of batches alone, on days that are found by hand; who comes in and what is packed when follows. Its days
are fitted to the minute as any others.
"""

from __future__ import annotations

import pickle
import time
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import inf
from random import Random
from uuid import uuid4

from ortools.math_opt.python import mathopt
from scheduler.models.bound import EasierSeason
from scheduler.models.facts import Facts
from scheduler.models.limits import DayLimits
from scheduler.models.rounded import Day, Rounded, Rounder, held_with
from scheduler.models.season import Wish
from scheduler.models.spread import spread
from scheduler.models.thumb import ROOM_PERCENT, call_everyone
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan

AIR_PERCENT = 160  # hours for each hour of batch work: the rest is waiting and packing (measured, not proven)
MORE = 1  # batches than days usually take: some mixes are easy days
SEARCHES, TRIES = 2, 6  # side by side, and tries of each, after which they hear of each other
BLOCK, SHIFT = 9, 5  # days in a row that are one search's, the next the other's, and so on; elsewhere in each round
STALL = 2  # rounds in vain, then enough
WHOLE = 1e-6


@dataclass(frozen=True)
class Sketch:
    """What a season is to be made of, and the days that were found on the way."""

    wish: Wish
    days: tuple[DayPlan, ...]


def sketch(
    facts: Facts, limits: DayLimits, missed: int | None, until: float = inf, processes: int = 1
) -> Sketch | None:
    """Counts that miss at most so many of the shows that can be held (None: no matter); None where none is found.

    ``until``: a reading of the monotonic clock; the best by then is told. Two search side by side, where there are
    ``processes``, and hear of each other after some tries.
    """
    token, season, vain = str(uuid4()), pickle.dumps((facts, limits.copy(), missed)), tuple[DayRequest, ...]()
    best: _Told | None = None
    days, both, stalled, number = dict[tuple[date, Day], DayPlan](), None, 0, 0
    while stalled < STALL:
        left = None if until == inf else until - time.monotonic()
        if best is not None and left is not None and left <= 0:
            break
        starts = [] if best is None else [best.found.days, *([] if both is None else [both])]
        rounds = [_Round(token, season, starts, vain, SEARCHES * number + k, left) for k in range(SEARCHES)]
        told = dict(spread(_go_on, rounds, processes))
        news = sorted((one for k in sorted(told) if (one := told[k]) is not None), key=lambda one: one.found.value)
        if not news:
            break
        for one in news:
            vain += one.vain
            days |= one.days
        both = None if best is None else _merged(best.found.days, [one.found.days for one in news])
        stalled = stalled + 1 if best is not None and news[0].found.value >= best.found.value else 0
        best, number = news[0] if best is None or not stalled else best, number + 1
    _kept.clear()
    return None if best is None else Sketch(best.wish, tuple(days.values()))


@dataclass(frozen=True)
class _Round:
    """Some tries from the best of what is there to start from; those of one ``token`` are of one season."""

    token: str
    season: bytes
    starts: Sequence[Mapping[int, Day]]
    vain: tuple[DayRequest, ...]
    seed: int
    seconds: float | None


@dataclass(frozen=True)
class _Told:
    """The best of a round; all days of the better solutions on the way; days that were looked for in vain."""

    found: Rounded
    wish: Wish
    days: Mapping[tuple[date, Day], DayPlan]
    vain: tuple[DayRequest, ...]


_kept: dict[str, Rounder | None] = {}  # in each process: the last season, ready to go on


def _go_on(asked: _Round) -> _Told | None:
    """A round: the same whatever this process did before."""
    until = inf if asked.seconds is None else time.monotonic() + asked.seconds
    if asked.token not in _kept:
        _kept.clear()
        _kept[asked.token] = _rounder(asked.season, asked.seconds)
    rounder = _kept[asked.token]
    if rounder is None:
        return None
    rounder.begin(asked.vain, until)
    random, plans = Random(asked.seed), list[DayPlan]()
    starts = [rounder.told(days) for days in asked.starts] or [rounder.first(random if asked.seed else None)]
    best = min((found for found in starts if found is not None), key=lambda found: found.value, default=None)
    if best is None:
        return None
    plans += rounder.plans(best)
    turn, which = divmod(asked.seed, SEARCHES)
    mine = [t for n, t in enumerate(sorted(rounder.on), start=SHIFT * turn) if n // BLOCK % SEARCHES == which]
    for _ in range(TRIES):
        if time.monotonic() > until:
            break
        if better := rounder.better(best, mine, random):
            best = better
            plans += rounder.plans(best)
    days = {(plan.day, plan.designs): plan for plan in plans}
    wish = wish_of(rounder.easier, dict(zip(rounder.names, best.values, strict=True)))
    return _Told(best, wish, days, tuple(rounder.vain))


def _rounder(season: bytes, seconds: float | None) -> Rounder | None:
    """The easier season with air, ready to be rounded; None where it knows nothing of a pin."""
    easier = EasierSeason(*pickle.loads(season))
    easier.build()
    leave_air(easier, MORE)
    leave_out_hard_mixes(easier)
    return Rounder(easier, seconds) if keep_pins(easier) else None


def _merged(before: Mapping[int, Day], found: Sequence[Mapping[int, Day]]) -> Mapping[int, Day]:
    """The days of all that was found, where they are new; those of the first where several are."""
    out = dict(before)
    for days in reversed(found):
        out |= {t: day for t, day in days.items() if day != before[t]}
    return out


def leave_air(easier: EasierSeason, more: int = 0) -> None:
    """No more batches a day than usually fit, or so many ``more``, and air in the hours that their work takes."""
    facts = easier.facts
    for t in facts.days:
        today = {d: variable for (d, day), variable in easier.make.items() if day == t}
        if today:
            work = mathopt.fast_sum(facts.minutes_of(d) * variable for d, variable in today.items())
            hours = sum(facts.work_of(s.longest) for s in facts.hands[t].values())
            easier.model.add_linear_constraint(mathopt.fast_sum(today.values()) <= easier.limits.usual(t) + more)
            easier.model.add_linear_constraint(AIR_PERCENT * work <= 100 * hours)


def leave_out_hard_mixes(easier: EasierSeason) -> None:
    """No more batches of each family of designs that are as hard a day than are found by hand."""
    for t in easier.facts.days:
        for designs, most in easier.limits.caps(t)[1:]:
            usual = easier.limits.usual(t, designs)
            if usual < most:
                easier.mix(t, dict.fromkeys(designs, 1), usual)


def keep_pins(easier: EasierSeason) -> bool:
    """At least the batches that pins ask for; False where the easier season knows nothing of one of them."""
    asked = {key: count for key, count in easier.facts.pinned.items() if key[1] in easier.facts.hands}
    for key in sorted(asked.keys() & easier.make.keys()):
        easier.model.add_linear_constraint(easier.make[key] >= asked[key])
    return asked.keys() <= easier.make.keys()


def wish_of(easier: EasierSeason, values: Mapping[int, float]) -> Wish:
    """Batches as counted; packing as late as it may be; everyone called in; shows where there are batches for them."""
    facts, batches = easier.facts, defaultdict[int, list[str]](list)
    for (design, t), variable in easier.make.items():
        batches[t] += [design] * round(values[variable.id])
    packs: dict[bool, Counter[str]] = {False: Counter(), True: Counter()}
    for (line, late), variable in easier.fill.items():
        packs[late][line] = int(values[variable.id] + WHOLE)
    made = {t: tuple(sorted(names)) for t, names in sorted(batches.items()) if names}
    packing = _late_packing(facts, packs[False], packs[True], made)
    people = call_everyone(facts, sorted({*made, *packing}))
    held = {t: held_with(facts, t, made.get(t, ())) for t in facts.shows}
    return Wish(made, packing, people, held, packs[False], packs[True])


def _late_packing(
    facts: Facts, in_time: Mapping[str, int], late: Mapping[str, int], batches: Mapping[int, tuple[str, ...]]
) -> dict[int, tuple[tuple[str, int], ...]]:
    """Each line's packs on the latest days with time beside the batches, lines with the latest candy first.

    What finds no time is left out: on a day that is full it would cost batches.
    """
    room = {t: _spare_seconds(facts, t, batches.get(t, ())) for t in facts.days}
    packing: dict[int, Counter[str]] = defaultdict(Counter)
    for first, last, product, packs in sorted(_jobs(facts, in_time, late), reverse=True):
        each = facts.season.product_by_name[product].packing_seconds
        for t in reversed([t for t in facts.days if first <= t <= last]):
            count = min(packs, max(0, room[t]) // each if each else packs)
            if count > 0:
                packing[t][product] += count
                room[t] -= count * each
                packs -= count
    return {t: tuple(sorted(packs.items())) for t, packs in sorted(packing.items())}


def _spare_seconds(facts: Facts, t: int, designs: tuple[str, ...]) -> int:
    """Three quarters of the hours of everyone in, as the rule of thumb has it, less the batches and duties."""
    hours = sum(facts.work_of(s.longest) for s in facts.hands[t].values()) * ROOM_PERCENT // 100
    work = sum(facts.minutes_of(d) for d in designs)
    duties = sum(p * m for p, m in facts.duties()) if designs else 0
    return 60 * (hours - work - duties)


def _jobs(facts: Facts, in_time: Mapping[str, int], late: Mapping[str, int]) -> list[tuple[int, int, str, int]]:
    """(first day, last day, product, packs) of what is to be packed."""
    lead = facts.season.kitchen.packing_from_days
    jobs = []
    for line in facts.demand.lines:
        first = max((w.first for w in line.windows), default=0) + lead
        if in_time.get(line.id):
            jobs.append((first, line.pack_by, line.product, in_time[line.id]))
        if line.late is not None and late.get(line.id):
            first = max((w.first for w in line.late.windows), default=0) + lead
            jobs.append((max(first, line.due + 1), line.late.pack_by, line.product, late[line.id]))
    return jobs
