"""Days that are known to fit, offered to the season model: a free day may be one of them, or a guess.

A guess is told by shares of idle time (``season_people.add_work``); a known day says exactly
who is needed how long, and how many minutes are left for packing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from scheduler.models.day_packing import SHORTEST_STRETCH, STRETCHES
from scheduler.models.facts import Facts
from scheduler.models.pack_in import break_of, free_in, jobs_of
from scheduler.models.season import Board, Expression
from scheduler.models.season_people import packing_seconds, working
from scheduler.plan.types import DayPlan


def add_known(board: Board, known: Mapping[int, Sequence[DayPlan]]) -> None:
    """For each free day: one of the known days at most; then no more batches, and no shorter shifts, than there.

    make <= batches of the day chosen; shift >= its shift; packing seconds <= 60 * (idle minutes
    in it + minutes by which shifts are longer). Example: a day of 5 batches with 40 idle
    minutes and Ana 30 minutes longer: 70 minutes of packing.
    """
    for t in board.free:
        if t in known and known[t]:
            _one_of(board, t, known[t])


def _one_of(board: Board, t: int, days: Sequence[DayPlan]) -> None:
    model = board.model
    use = [model.new_bool_var(f"known {t} {k}") for k in range(len(days))]
    board.known[t] = model.new_bool_var(f"any known {t}")
    board.uses[t] = list(zip(days, use, strict=True))
    model.add(sum(use) == board.known[t])
    counts = [Counter(b.design for b in day.batches) for day in days]
    for (design, d), var in board.make.items():
        if d == t:
            there = sum(count[design] * x for count, x in zip(counts, use, strict=True) if count[design])
            most = max(c[design] for c in counts)
            top = int(list(var.proto.domain)[-1])
            model.add(var <= there + max(top, most) * (1 - board.known[t]))
    minutes: dict[str, Expression] = {}
    for day, x in zip(days, use, strict=True):
        for shift in day.shifts:
            minutes[shift.person] = minutes.get(shift.person, 0) + (shift.ends - shift.starts) * x
    for name, least in minutes.items():
        model.add(board.shift[name, t] >= least)
    for (d, _show), held in board.held.items():
        if d == t:
            model.add(held <= 1 - sum(x for day, x in zip(days, use, strict=True) if day.missed_shows))
    _packing(board, t, days, use)


def _packing(board: Board, t: int, days: Sequence[DayPlan], use: Sequence[Expression]) -> None:
    """Packing on a known day: idle stretches in it, and what shifts are longer than there."""
    facts = board.facts
    seconds = packing_seconds(board, t)
    if not seconds:
        return
    packers = facts.skilled(t, facts.season.kitchen.packing_skill)
    time = sum(working(board, name, t) for name in sorted(packers))
    taken = sum(_taken(facts, day, packers) * x for day, x in zip(days, use, strict=True))
    board.model.add(sum(seconds) <= 60 * (time - taken)).only_enforce_if(board.known[t])


def _taken(facts: Facts, day: DayPlan, packers: frozenset[str]) -> int:
    """Packers' working minutes of a day that packing can't have: jobs, and gaps too short to use."""
    jobs: dict[str, list[tuple[int, int]]] = {}
    for name, span in jobs_of(replace(day, packing=())):
        jobs.setdefault(name, []).append(span)
    packed = Counter[str]()
    for run in day.packing:
        packed[run.person] += run.ends - run.starts
    taken = 0
    for shift in day.shifts:
        if shift.person in packers:
            gaps = free_in(shift.starts, shift.ends, [*jobs.get(shift.person, []), *break_of(shift)])
            idle = sorted((e - s for s, e in gaps if e - s >= 2 * SHORTEST_STRETCH), reverse=True)[:STRETCHES]
            taken += facts.work_of(shift.ends - shift.starts) - max(packed[shift.person], sum(idle) * 19 // 20)
    return taken
