"""Demand: packs filled in time or late, sell-by windows without flows, packing by day."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

from ortools.sat.python import cp_model
from scheduler.demand.lines import Line, Window
from scheduler.models.counts.board import Board, Expression
from scheduler.models.facts import Facts

Item = tuple[int, int, str, bool, int]  # first, last, line, late, pieces (or packs) for each pack


@dataclass(frozen=True)
class Interval:
    """Days [first, last] and the items whose windows lie inside: (line, late, amount a pack)."""

    first: int
    last: int
    items: tuple[tuple[str, bool, int], ...]


def items_of(facts: Facts, design: str) -> list[Item]:
    """What wants pieces of a design, with its window: in time, and late where that is agreed.

    Windows begin and end on days on which there may be fresh candy: those between are all alike, and far fewer.
    """
    out: list[Item] = []
    for line in facts.wanted.get(design, ()):
        for window in line.windows:
            if window.design == design and in_time(line):
                out.append((window.first, window.last, line.id, False, window.pieces))
        if line.late is not None and in_late(line):
            for window in line.late.windows:
                if window.design == design:
                    out.append((window.first, window.last, line.id, True, window.pieces))
    return _trimmed(out, {day for day, _ in stock_of(facts, design)} | set(facts.makeable[design]))


def _trimmed(items: Iterable[Item], days: Iterable[int]) -> list[Item]:
    """The same items with windows from the first of some days inside to the last of them; as they are where none is."""
    order = sorted(days)
    out: list[Item] = []
    for first, last, line, late, pieces in items:
        inside = order[bisect_left(order, first) : bisect_right(order, last)]
        out.append((inside[0], inside[-1], line, late, pieces) if inside else (first, last, line, late, pieces))
    return out


def in_time(line: Line) -> bool:
    return _open(line.windows)


def in_late(line: Line) -> bool:
    return line.late is not None and _open(line.late.windows)


def _open(windows: Iterable[Window]) -> bool:
    return all(w.first <= w.last for w in windows)


def intervals(items: list[Item]) -> list[Interval]:
    """Intervals that start at some window's start and end at some window's end, none implied by another.

    An interval counts only if some window inside starts with it and some ends with it:
    otherwise a shorter one holds the same items and says more.
    """
    out = []
    for last in sorted({i[1] for i in items}):
        ending = [i for i in items if i[1] <= last]
        for first in sorted({i[0] for i in ending}):
            inside = [i for i in ending if i[0] >= first]
            if any(i[1] == last for i in inside):
                out.append(Interval(first, last, tuple((i[2], i[3], i[4]) for i in inside)))
    return out


def add_fills(board: Board) -> None:
    """Packs of each line filled in time and late; a `whole order` all or nothing.

    fill + late <= packs; whole: fill + late = packs * whole. Example: 40 packs, no partial
    delivery: 0 or 40.
    """
    model = board.model
    for line in board.facts.demand.lines:
        most = line.packs if in_time(line) else 0
        board.fill[line.id] = model.new_int_var(0, most, f"fill {line.id}")
        terms: list[cp_model.IntVar] = [board.fill[line.id]]
        if in_late(line):
            board.late[line.id] = model.new_int_var(0, line.packs, f"late {line.id}")
            terms.append(board.late[line.id])
        if not line.partial:
            board.whole[line.id] = model.new_bool_var(f"whole {line.id}")
            model.add(sum(terms) == line.packs * board.whole[line.id])
        elif len(terms) > 1:
            model.add(sum(terms) <= line.packs)


def packs_of(board: Board, line: str, late: bool) -> cp_model.IntVar:
    return board.late[line] if late else board.fill[line]


def add_windows(board: Board) -> None:
    """`remaining life`, `candy before packing`: for each design and interval [a, b] of windows,

    pieces of the lines inside <= stock made in [a, b] + pieces a batch * sum_{t in a..b} make.
    For interval windows this is enough (Glover 1967, convex bipartite graphs; Hall).
    Example: 2 batches a day on days 1 and 2, five one-batch orders inside: 4 are met.
    """
    for design in board.facts.season.designs:
        items = items_of(board.facts, design.name)
        if not items:
            continue
        made = made_until(board, design.name)
        stock = stock_of(board.facts, design.name)
        for span in intervals(items):
            need = sum(amount * packs_of(board, line, late) for line, late, amount in span.items)
            have = sum(pieces for day, pieces in stock if span.first <= day <= span.last)
            batches = _running(made, span.last) - _running(made, span.first - 1)
            board.model.add(need <= have + design.pieces * batches)


def stock_of(facts: Facts, design: str) -> list[tuple[int, int]]:
    """(day made, pieces) of what is on hand or was decided before planning starts."""
    lots = [(s.made, s.pieces) for s in facts.demand.supplies if s.design == design]
    yields = facts.season.design_by_name[design].pieces
    if facts.only is not None:
        return lots
    recorded = {(m.day, m.batch) for m in facts.season.made}
    for t, day in facts.done_by_index.items():
        fresh = sum(b.design == design and (day.day, b.id) not in recorded for b in day.batches)
        if fresh:
            lots.append((t, yields * fresh))
    return lots


def made_until(board: Board, design: str) -> list[tuple[int, Expression]]:
    """Running totals of batches by day, as variables where more than one day adds up."""
    if design in board.made:
        return board.made[design]
    days = sorted(t for d, t in board.make if d == design)
    out: list[tuple[int, Expression]] = []
    before: Expression = 0
    for number, t in enumerate(days):
        var = board.make[design, t]
        if number == 0:
            before = var
        else:
            total = board.model.new_int_var(0, _top(before) + _top(var), f"made {design} {t}")
            board.model.add(total == before + var)
            before = total
        out.append((t, before))
    board.made[design] = out
    return out


def _top(var: Expression) -> int:
    assert isinstance(var, cp_model.IntVar)
    return int(list(var.proto.domain)[-1])  # the list itself does not count from the end


def _running(totals: list[tuple[int, Expression]], day: int) -> Expression:
    """The running total at the end of a day."""
    best: Expression = 0
    for t, total in totals:
        if t > day:
            break
        best = total
    return best


def pack_items(facts: Facts, product: str) -> list[Item]:
    """Packing windows of the lines of a product: from the earliest usable candy to the last day."""
    lead = facts.season.kitchen.packing_from_days
    out: list[Item] = []
    for line in facts.demand.lines:
        if line.product != product:
            continue
        if in_time(line):
            first = max((w.first for w in line.windows), default=0) + lead
            out.append((first, line.pack_by, line.id, False, 1))
        if line.late is not None and in_late(line):
            first = max((w.first for w in line.late.windows), default=0) + lead
            out.append((max(first, line.due + 1), line.late.pack_by, line.id, True, 1))
    return _trimmed(out, [*facts.days, *facts.done_by_index])


def add_packing(board: Board) -> None:
    """`packed before due`: packs filled inside each interval of packing days are packed in it.

    For each product and interval [a, b]: packs of lines inside <= sum_{t in a..b} pack.
    Example: 30 packs due Tuesday, 20 due Thursday: 50 packed by Thursday, 30 by Tuesday.
    """
    facts, model = board.facts, board.model
    for product in facts.season.products:
        items = pack_items(facts, product.name)
        for first, last, line, late, _ in items:
            if last < first:
                model.add(packs_of(board, line, late) == 0)
        items = [i for i in items if i[1] >= i[0]]
        if not items:
            continue
        most = sum(line.packs for line in facts.demand.lines if line.product == product.name)
        low, high = min(i[0] for i in items), max(i[1] for i in items)
        for t in facts.days:
            if low <= t <= high:
                board.pack[product.name, t] = model.new_int_var(0, most, f"pack {product.name} {t}")
        for span in intervals(items):
            need = sum(packs_of(board, line, late) for line, late, _ in span.items)
            inside = [board.pack[product.name, t] for t in facts.days if span.first <= t <= span.last
                      and (product.name, t) in board.pack]  # fmt: skip
            model.add(need <= sum(inside) + _done_packs(facts, product.name, span.first, span.last))


def _done_packs(facts: Facts, product: str, first: int, last: int) -> int:
    if facts.only is not None:
        return 0
    return sum(
        run.packs
        for t, day in facts.done_by_index.items()
        if first <= t <= last
        for run in day.packing
        if run.product == product
    )


def add_material(board: Board) -> None:
    """`candy before packing`: what is packed by a day was made so many days before, or was on hand.

    For each design and day t: pieces in packs packed up to t <= stock + pieces a batch *
    batches made up to t - packing_from_days. Example: packed on Tuesday, made by Monday.
    """
    facts, model = board.facts, board.model
    lead = facts.season.kitchen.packing_from_days
    contents = facts.season.contents_of
    for design in facts.season.designs:
        users = [(p, inside[design.name]) for p, inside in contents.items() if inside.get(design.name)]
        packed = {t: [n * board.pack[p, t] for p, n in users if (p, t) in board.pack] for t in facts.days}
        if not any(packed.values()):
            continue
        stock = stock_of(facts, design.name)
        used = sum(n * _done_packs(facts, p, 0, facts.season.day_count) for p, n in users)
        made = made_until(board, design.name)
        most = sum(n * line.packs for line in facts.demand.lines for p, n in users if line.product == p)
        total: Expression = 0
        for t in facts.days:
            if not packed[t]:
                continue
            running = model.new_int_var(0, most, f"packed {design.name} {t}")
            model.add(running == total + sum(packed[t]))
            total = running
            board.packed.setdefault(design.name, []).append((t, running))
            have = sum(pieces for day, pieces in stock if day <= t - lead) - used
            model.add(total <= max(0, have) + design.pieces * _running(made, t - lead))


def shortfall(board: Board) -> Expression:
    """Weight of the packs that nobody gets: weight * (packs - fill - late).

    A whole order that is not filled gives back the finished packs it was given, too.
    """
    total: Expression = 0
    for line in board.facts.demand.lines:
        if line.partial:
            got = board.fill[line.id] + board.late.get(line.id, 0)
            total = total + line.weight * (line.packs - got)
        elif line.packs:
            total = total + line.whole_weight * (1 - board.whole[line.id])
    return total

