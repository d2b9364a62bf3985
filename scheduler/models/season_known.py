"""Days that are known to fit, offered to the season model: a free day is one of them, or a guess.

A guess is told by shares of idle time (``season_people.add_work``); a known day says exactly
who is needed how long, and how many minutes are left for packing. What a known day does not
account for is the guess's part, so that the relaxation of the model mixes days, not conditions.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from ortools.sat.python import cp_model
from scheduler.models.limits import DayLimits
from scheduler.models.pack_in import idle_minutes
from scheduler.models.season import Board, Expression
from scheduler.plan.summary import pulls_by_person
from scheduler.plan.types import DayPlan, Shift


def add_known(board: Board, known: Mapping[int, Sequence[DayPlan]]) -> None:
    """For each free day at most one of the known days: its batches and guessed ones, its shifts at least.

    make <= batches of the day chosen + guess; guess = 0 where one is chosen; shift >= its shift.
    Example: a day of 5 batches with Ana in for 8 hours, or no more than a guess.
    """
    for t in board.free:
        if known.get(t) or not board.guesses:
            _one_of(board, t, known.get(t, ()))


def _one_of(board: Board, t: int, days: Sequence[DayPlan]) -> None:
    model = board.model
    use = [model.new_bool_var(f"known {t} {k}") for k in range(len(days))]
    board.uses[t] = list(zip(days, use, strict=True))
    model.add(sum(use) <= 1)
    counts = [Counter(b.design for b in day.batches) for day in days]
    for (design, d), var in board.make.items():
        if d == t:
            there = sum(count[design] * x for count, x in zip(counts, use, strict=True) if count[design])
            if not board.guesses:
                board.worth[design, t] = model.add(var <= there)
                continue
            top = int(list(var.proto.domain)[-1])
            board.guess[design, t] = model.new_int_var(0, top, f"guess {design} {t}")
            model.add(var <= there + board.guess[design, t])
            model.add(board.guess[design, t] <= top * (1 - sum(use)))
    if board.guesses:
        for name, least in _minutes_there(board, t).items():
            model.add(board.shift[name, t] >= least)
    for (d, show), held in board.held.items():
        if d == t:
            model.add(held <= 1 - sum(x for day, x in board.uses[t] if show in day.missed_shows))


def _minutes_there(board: Board, t: int) -> dict[str, Expression]:
    """Minutes of the shifts of the known day chosen, by person."""
    return {
        name: sum((s.ends - s.starts) * x for s, x in shifts) for name, shifts in _shifts_there(board, t).items()
    }  # fmt: skip


def _shifts_there(board: Board, t: int) -> Mapping[str, Sequence[tuple[Shift, cp_model.IntVar]]]:
    """By person, the shifts of known days, with the day's choice."""
    if t not in board.shifts_there:
        out: dict[str, list[tuple[Shift, cp_model.IntVar]]] = {}
        for day, x in board.uses.get(t, ()):
            for shift in day.shifts:
                out.setdefault(shift.person, []).append((shift, x))
        board.shifts_there[t] = out
    return board.shifts_there[t]


def add_people_there(board: Board) -> None:
    """Without guesses people come with the day that is chosen; packers may stay longer, or be called in.

    shift >= its shift; what it pulls. Example: a day with Ana in for 8 hours: Ana is in for 8 hours or more.
    """
    facts = board.facts
    packing = facts.season.kitchen.packing_skill
    charges: dict[int, Mapping[str, int]] = {}  # a known day is offered to many days
    for t in facts.days:
        there, packers = _minutes_there(board, t), facts.skilled(t, packing)
        for name, stretch in facts.hands[t].items():
            shift = board.shift[name, t] = board.model.new_int_var(0, stretch.longest, f"shift {name} {t}")
            if t not in board.settled:
                board.model.add(shift >= there.get(name, 0))
                if name not in packers:
                    board.model.add(shift <= there.get(name, 0))
        chosen = [(board.settled[t], 1)] if t in board.settled else board.uses.get(t, ())
        pulled: dict[str, list[Expression]] = {}
        for day, x in chosen:
            if id(day) not in charges:
                charges[id(day)] = pulls_by_person(facts.season, day)
            for name, pulls in charges[id(day)].items():
                pulled.setdefault(name, []).append(pulls * x)
        board.pulls |= {(name, t): sum(terms) for name, terms in pulled.items()}


def add_packing_there(board: Board, limits: DayLimits) -> None:
    """Packing fits the idle minutes of the day that is chosen, and what packers stay longer."""
    facts, products = board.facts, board.facts.season.product_by_name
    for t in board.free:
        packers = facts.skilled(t, facts.season.kitchen.packing_skill)
        seconds = [products[p].packing_seconds * var for (p, day), var in board.pack.items() if day == t]
        if seconds:
            there = _minutes_there(board, t)
            longer = sum(board.shift[name, t] - there.get(name, 0) for name in sorted(packers))
            useful = 100 - limits.idle_percent(t)
            board.model.add(5 * sum(seconds) <= 3 * useful * longer + 300 * idle_there(board, t, packers))


def known_presence(board: Board, name: str, t: int) -> Expression:
    """1 where the day that is chosen has a person in."""
    if t in board.settled:
        return int(any(s.person == name for s in board.settled[t].shifts))
    return sum(x for _, x in _shifts_there(board, t).get(name, ()))


def breaks_there(board: Board, name: str, t: int) -> Expression:
    """Minutes of a person's break on the day that is chosen."""
    facts = board.facts
    if t in board.settled:
        return sum(facts.break_of(s.ends - s.starts) for s in board.settled[t].shifts if s.person == name)
    return sum(facts.break_of(s.ends - s.starts) * x for s, x in _shifts_there(board, t).get(name, ()))


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
    known, uses = board.facts.idle, board.uses.get(t, ())
    for day, _ in uses:
        if (id(day), packers) not in known:
            known[id(day), packers] = day, idle_minutes(day, packers)
    return sum(known[id(day), packers][1] * x for day, x in uses)
