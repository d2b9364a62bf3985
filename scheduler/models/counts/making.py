"""Making: batches on days, what is known of a day's limits, shows and pins about designs."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

from ortools.sat.python import cp_model
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Board
from scheduler.season import rules


def add_making(board: Board, limits: DayLimits, shows_only: frozenset[str] = frozenset()) -> None:
    """Batch counts: make[design, day] from 0 to what the day can hold at most.

    Only designs that someone wants, that a pin asks for or that a show needs get a variable.
    Example: a day that holds 5 batches: 0 to 5.
    """
    facts, model = board.facts, board.model
    useful = set(facts.wanted) | {design for design, _ in facts.pinned} | set(shows_only)
    for design in facts.season.designs:
        if design.name not in useful:
            continue
        for t in facts.makeable[design.name]:
            most = limits.most_of(t, design.name)
            if most > 0:
                board.make[design.name, t] = model.new_int_var(0, most, f"make {design.name} {t}")
    for t in facts.days:
        any_batch = model.new_bool_var(f"making {t}")
        board.making[t] = any_batch
        total = board.batches(t)
        model.add(total <= limits.most_at(t) * any_batch)
        model.add(any_batch <= total)


def add_day_limits(board: Board, limits: DayLimits) -> None:
    """What days are known to hold: batches at least as hard as some kind, at most so many.

    sum of make over designs at least as hard <= most. Example: 3 with lettering a day, 5 in all.
    Proven by the day model; valid for every plan.
    """
    for t in board.free:
        for designs, most in limits.caps(t):
            board.model.add(board.batches(t, designs) <= most)
        if limits.batch_idle:  # a guide, left out where a bound must be proven
            board.model.add(board.guessed(t) <= limits.usual(t) + 1)


def add_cuts(board: Board, limits: DayLimits) -> None:
    """Sets of batches that were found not to fit on a day, nor anything harder.

    For a set with so many of each of its kinds, at least one of the counts stays below.
    Example: 2 lettering with 2 plain fit not: fewer than 2 lettering, or fewer than 4 in all.
    """
    for t in board.free:
        for clause in limits.cuts(t):
            board.model.add_bool_or([_fewer(board, t, designs, count) for designs, count in clause])


def add_crew_cuts(board: Board, limits: DayLimits) -> None:
    """Sets of batches that did not fit with some people: more people of some group, or fewer batches.

    Example: 5 batches with 4 people of whom one builds fit not: 5 in, or a second builder, or 4 batches.
    """
    model = board.model
    for t in board.free:
        for more, clause in limits.crew_cuts(t):
            ways = [_fewer(board, t, designs, count) for designs, count in clause]
            ways += [_more(board, t, group, count) for group, count in more]
            model.add_bool_or(ways)


def _fewer(board: Board, t: int, designs: tuple[str, ...], count: int) -> cp_model.IntVar:
    """True only where fewer batches of these designs than so many are made on a day."""
    key = ("fewer", t, designs, count)
    if key not in board.flags:
        flag = board.flags[key] = board.model.new_bool_var(f"fewer {t} {count}")
        board.model.add(board.guessed(t, designs) <= count - 1).only_enforce_if(flag)
    return board.flags[key]


def _more(board: Board, t: int, group: frozenset[str], count: int) -> cp_model.IntVar:
    """True only where at least so many people of a group are in on a day."""
    key = ("more", t, group, count)
    if key not in board.flags:
        flag = board.flags[key] = board.model.new_bool_var(f"more {t} {count}")
        present = sum(board.comes[n, t] for n in board.facts.hands[t] if n in group)
        board.model.add(present >= count).only_enforce_if(flag)
    return board.flags[key]


def add_settled(board: Board) -> None:
    """Settled days: the same batches, people, shifts and shows; no more packing than there was."""
    model = board.model
    for t, day in board.settled.items():
        batches = Counter(b.design for b in day.batches)
        packs = day.packs
        shifts = {s.person: s.ends - s.starts for s in day.shifts}
        held = {b.show for b in day.batches if b.show}
        for (design, d), var in board.make.items():
            if d == t:
                model.add(var == batches[design])
        for (product, d), var in board.pack.items():
            if d == t:
                model.add(var <= packs[product])
        for name in board.facts.hands[t]:
            if (name, t) in board.comes:
                model.add(board.comes[name, t] == int(name in shifts))
            model.add(board.shift[name, t] == shifts.get(name, 0))
        for (d, show), var in board.held.items():
            if d == t:
                model.add(var == int(show in held))


def add_shows(board: Board) -> None:
    """`show`: each held show of a day takes one batch of a design that fits it.

    For every group of the day's shows: shows held of it <= batches of designs that fit any.
    Example: a show for mild designs and one for all: two batches, one of them mild.
    """
    facts, model = board.facts, board.model
    for t, today in facts.shows.items():
        for show in today:
            board.held[t, show.name] = model.new_bool_var(f"held {show.name} {t}")
        for size in range(1, min(3, len(today)) + 1):
            for group in combinations(today, size):
                fitting = [d.name for d in facts.season.designs if any(rules.fits_show(d, s) for s in group)]
                model.add(sum(board.held[t, s.name] for s in group) <= board.batches(t, fitting))


def add_making_pins(board: Board) -> None:
    """`pins`: at least so many batches of a design on a day ("make"); the others bar days up front."""
    for (design, t), count in board.facts.pinned.items():
        if t in board.making:
            board.model.add(board.batches(t, [design]) >= count)
