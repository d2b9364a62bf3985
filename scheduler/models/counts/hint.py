"""Complete hints: every variable of the season model from a plan that is known to work."""

from __future__ import annotations

from collections import Counter

from ortools.sat.python import cp_model
from scheduler.models.counts.board import Board
from scheduler.plan.lots import Allocation
from scheduler.plan.types import DayPlan, in_time_and_late


def hints_from(board: Board, days: tuple[DayPlan, ...], given: Allocation) -> dict[cp_model.IntVar, int]:
    """Values of all main variables from fitted days and what they give to whom."""
    facts, season = board.facts, board.facts.season
    hints: dict[cp_model.IntVar, int] = {}
    batches: Counter[tuple[str, int]] = Counter()
    packs: Counter[tuple[str, int]] = Counter()
    shifts: dict[tuple[str, int], int] = {}
    for day in days:
        t = season.index(day.day)
        for batch in day.batches:
            batches[batch.design, t] += 1
        for pack in day.packing:
            packs[pack.product, t] += pack.packs
        for shift in day.shifts:
            shifts[shift.person, t] = shift.ends - shift.starts
    _count(hints, board, batches, packs)
    for key, shift_there in board.shift.items():
        minutes = shifts.get(key, 0)
        hints[shift_there] = minutes
        if key in board.comes:
            hints[board.comes[key]] = int(minutes > 0)
        if key in board.rests:
            hints[board.rests[key]] = int(minutes > season.kitchen.break_after_minutes)
    there = {season.index(d.day): d for d in days}
    for t, uses in board.uses.items():
        chosen = [day is there.get(t) for day, _ in uses]
        hints.update({var: int(it) for (_, var), it in zip(uses, chosen, strict=True)})
        guesses = {key: var for key, var in board.guess.items() if key[1] == t}
        hints.update({var: 0 if any(chosen) else hints[board.make[key]] for key, var in guesses.items()})
    held = {(season.index(d.day), b.show) for d in days for b in d.batches if b.show}
    for (t, show), var in board.held.items():
        hints[var] = int((t, show) in held)
    in_time, late = in_time_and_late(given.fills)
    for line in facts.demand.lines:
        hints[board.fill[line.id]] = in_time[line.id]
        if line.id in board.late:
            hints[board.late[line.id]] = late[line.id]
        if line.id in board.whole:
            hints[board.whole[line.id]] = int(in_time[line.id] + late[line.id] == line.packs)
    return hints


def _count(
    hints: dict[cp_model.IntVar, int], board: Board, batches: Counter[tuple[str, int]], packs: Counter[tuple[str, int]]
) -> None:
    facts = board.facts
    for key, var in board.make.items():
        hints[var] = batches[key]
    for t, var in board.making.items():
        hints[var] = int(any(n for (_, day), n in batches.items() if day == t))
    for key, var in board.pack.items():
        hints[var] = packs[key]
    for design, totals in board.made.items():
        total = 0
        for t, running in totals:
            total += batches[design, t]
            if isinstance(running, cp_model.IntVar):
                hints[running] = total
    for design, packed in board.packed.items():
        users = [(p, inside[design]) for p, inside in facts.season.contents_of.items() if inside.get(design)]
        for t, running in packed:
            hints[running] = sum(
                n * count for p, n in users for (q, day), count in packs.items() if q == p and day <= t
            )

