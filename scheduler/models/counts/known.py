"""Known days as columns of the season model: a free day is one of them, or a guess of what it holds.

A guess is calibrated by shares of idle time (``people.add_work``); a known day says exactly
who is needed how long, and how many minutes are left for packing. What a known day does not
account for is the guess's part, so that the relaxation of the model mixes days, not conditions.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from scheduler.models.counts.board import Board, Expression
from scheduler.models.day.pack_in import idle_of
from scheduler.plan.types import DayPlan


def add_known(board: Board, known: Mapping[int, Sequence[DayPlan]]) -> None:
    """For each free day at most one of the known days: its batches and guessed ones, its shifts at least.

    make <= batches of the day chosen + guess; guess = 0 where one is chosen; shift >= its shift.
    Example: a day of 5 batches with Ana in for 8 hours, or no more than a guess.
    """
    for t in board.free:
        if known.get(t):
            _one_of(board, t, known[t])


def _one_of(board: Board, t: int, days: Sequence[DayPlan]) -> None:
    model = board.model
    use = [model.new_bool_var(f"known {t} {k}") for k in range(len(days))]
    board.uses[t] = list(zip(days, use, strict=True))
    model.add(sum(use) <= 1)
    counts = [Counter(b.design for b in day.batches) for day in days]
    for (design, d), var in board.make.items():
        if d == t:
            there = sum(count[design] * x for count, x in zip(counts, use, strict=True) if count[design])
            top = int(list(var.proto.domain)[-1])
            board.guess[design, t] = model.new_int_var(0, top, f"guess {design} {t}")
            model.add(var <= there + board.guess[design, t])
            model.add(board.guess[design, t] <= top * (1 - sum(use)))
    for name in sorted({s.person for day in days for s in day.shifts}):
        least = sum((s.ends - s.starts) * x for day, x in board.uses[t] for s in day.shifts if s.person == name)
        model.add(board.shift[name, t] >= least)
    for (d, show), held in board.held.items():
        if d == t:
            model.add(held <= 1 - sum(x for day, x in board.uses[t] if show in day.missed_shows))


def guessed_time(board: Board, name: str, t: int) -> Expression:
    """Working minutes of a person on a day beyond those of the known day chosen: shift less break, less those there."""
    facts = board.facts
    total: Expression = board.shift[name, t]
    if (name, t) in board.rests:
        total = total - facts.season.kitchen.break_minutes * board.rests[name, t]
    for day, x in board.uses.get(t, ()):
        for shift in day.shifts:
            if shift.person == name:
                minutes = shift.ends - shift.starts
                total = total - (minutes - facts.break_of(minutes)) * x
    return total


def guessed_heads(board: Board, t: int) -> Expression:
    """People in beyond those of the known day chosen."""
    there = sum(len(day.shifts) * x for day, x in board.uses.get(t, ()))
    return sum(board.comes[n, t] for n in board.facts.hands[t]) - there


def guessed_making(board: Board, t: int) -> Expression:
    """1 where batches are made that no known day accounts for."""
    return board.making[t] - sum(x for day, x in board.uses.get(t, ()) if day.batches)


def guessed_show(board: Board, t: int, show: str) -> Expression:
    """1 where a show is held that no known day accounts for."""
    held = sum(x for day, x in board.uses.get(t, ()) if any(b.show == show for b in day.batches))
    return board.held[t, show] - held


def idle_there(board: Board, t: int, packers: frozenset[str]) -> Expression:
    """Minutes for packing inside the shifts of the known day chosen."""
    return sum(idle_of(board.facts, day, packers) * x for day, x in board.uses.get(t, ()))
