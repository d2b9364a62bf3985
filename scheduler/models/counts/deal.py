"""Giving packs and candy out as well as can be, where giving out day by day leaves somebody short.

Products that share candy are tied, and a whole order that misses one pack loses all: a small MIP by HiGHS says who
gets how many packs of which day's run, then each design's lots serve the nearest day first (Glover 1967).
"""

from __future__ import annotations

import heapq
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from ortools.math_opt.python import mathopt
from scheduler.demand.lines import Line
from scheduler.models.counts.board import Wish
from scheduler.models.counts.demand import stock_of
from scheduler.models.facts import Facts
from scheduler.models.solvers.rows import Rows
from scheduler.plan.lots import Deal, wants_of
from scheduler.plan.serving import Parcel, Serving, Want
from scheduler.plan.types import Fill
from scheduler.season.types import Season

SMALL = 800  # pairs of a line and a day's run up to which all packs are whole at once: hundredths of a second
LARGEST = 20_000  # pairs that are looked at: some seconds
REPACKED = 30_000  # the same for packs and days: a second on 13 weeks
CLOSE = 1e-4
SECOND = 1 / 5400  # of wages, in weighted pieces: one weighs an hour and a half
LATER = 0.999  # of a pack's weight is what it counts for late: in time where that costs nobody a pack
WHOLE = 1e-5  # what is this near to a whole number is one

Key = tuple[Want, int]  # a line's packs of one packing day


def dealt(serving: Serving, wants: Sequence[Want], most: int = SMALL) -> list[Parcel] | None:
    """Parcels of the greatest weight for what was made and packed; None where there are more pairs than ``most``.

    maximise weight * packs with packs <= run, packs <= asked (whole orders: all or none), and for each design
    and days [a, b]: pieces of what may only draw on [a, b] <= pieces made in [a, b] (Hall).
    """
    keys = [
        (want, day) for want in wants for day, product in serving.runs
        if product == want.product and want.soonest <= day <= want.latest
    ]  # fmt: skip
    if len(keys) > most:
        return None
    if not keys:
        return []
    rows, of_run = Rows(), defaultdict[tuple[int, str], list[int]](list)
    packs = {(want, day): rows.column(min(want.packs, serving.runs[day, want.product])) for want, day in keys}
    for (want, day), column in packs.items():
        of_run[day, want.product].append(column)
    for run, columns in of_run.items():
        rows.add(dict.fromkeys(columns, 1.0), -inf, serving.runs[run])
    of_design = serving.made
    for design in sorted({design for want in wants for design in want.parts}):
        lots = [(made, pieces) for made, pieces, _ in of_design.get(design, ())]
        _candy(rows, design, lots, serving.lead, packs)
    found = _most(rows, packs, whole=len(keys) <= SMALL)
    return None if found is None else _parcels(serving, found)


def dealt_roughly(serving: Serving, wants: Sequence[Want]) -> list[Parcel] | None:
    """The same for a larger season, where packs are made whole last: a line may miss a pack here and there."""
    return dealt(serving, wants, LARGEST)


def dealt_beside(kept: Sequence[Fill], lines: Sequence[Line], season: Season) -> Deal:
    """Deals out to some lines what others leave: ``kept`` stays with whom it is, all else is given out anew.

    What can't be kept, as its candy or its packs are not there any more, is given out anew as well: a part of a fill,
    where a part of its candy is there.
    """

    def deal(serving: Serving, wants: Sequence[Want]) -> list[Parcel] | None:
        anew = {(want.line, want.late): want for line in lines for want in wants_of(line)}
        whose = {(want.line, want.late): want for want in wants}
        open_ = {want.line: want.packs for want in wants}
        serving.start_over()
        for fill in sorted(kept, key=lambda fill: fill.packed is None):  # finished packs that are there want nothing
            if (want := whose.get((fill.line, fill.late))) is None or not open_[fill.line]:
                continue
            packs = min(fill.packs, open_[fill.line])
            open_[fill.line] -= packs
            if fill.packed is not None:
                draws = [(draw.lot, draw.pieces) for draw in fill.draws]
                packs -= serving.keep(want, season.index(fill.packed), packs, draws)
            if packs:
                known = anew.get((fill.line, fill.late))
                anew[fill.line, fill.late] = replace(known or want, packs=packs + (known.packs if known else 0))
        made = {lot: (design, day) for design, lots in serving.made.items() for day, _, lot in lots}
        lots = {lot: (*there, serving.pieces[lot]) for lot, there in made.items()}
        rest = Serving(lots, serving.left, serving.lead)
        found = dealt_roughly(rest, list(anew.values()))
        return None if found is None else [*serving.parcels, *found]

    return deal


@dataclass(frozen=True)
class PackingTime:
    """Minutes of days to pack: ``there``, ``more`` at most on each, and so many more on some of them together."""

    there: Mapping[int, int]
    more: Mapping[int, int]
    together: Mapping[tuple[int, ...], int]


def repacked(
    facts: Facts, wish: Wish, settled: Collection[int] = (), time: PackingTime | None = None
) -> Wish:  # fmt: skip
    """The same batches, and each line's packs on the days on which they serve most, in the packing time of each day.

    ``time``: what days have for packing, if not what the packs take that are wished for. On ``settled`` days the packs
    stay as they are, and only who gets them changes.

    A season model counts packs and candy apart: its packs may stand on days on which the candy that is fresh enough
    is not made yet. The same rules as for dealing out, but for packing seconds of a day instead of its runs.
    """
    season, lead = facts.season, facts.season.kitchen.packing_from_days
    each = {product.name: product.packing_seconds for product in season.products}
    if time is None:
        seconds = {t: sum(n * each[p] for p, n in packing) for t, packing in wish.packing.items()}
        time = PackingTime({}, {}, {})
    else:
        seconds = {t: 60 * minutes for t, minutes in time.there.items()}
    keys = [
        (want, t) for line in facts.demand.lines for want in wants_of(line) for t in seconds
        if want.soonest <= t <= want.latest
    ]  # fmt: skip
    if not 0 < len(keys) <= REPACKED:
        return wish
    rows = Rows()
    packs = {key: rows.column(key[0].packs) for key in keys}
    more = {t: rows.column(60 * minutes) for t, minutes in time.more.items()}
    for days, minutes in time.together.items():
        rows.add({more[t]: 1.0 for t in days if t in more}, -inf, 60 * minutes)
    for t, most in seconds.items():
        here = {column: want.product for (want, day), column in packs.items() if day == t}
        if t not in settled:
            longer = {more[t]: -1.0} if t in more else {}
            rows.add({column: float(each[product]) for column, product in here.items()} | longer, -inf, most)
            continue
        runs = dict(wish.packing[t])
        for product in sorted(set(here.values())):
            rows.add({column: 1.0 for column, p in here.items() if p == product}, -inf, runs.get(product, 0))
    for design in season.designs:
        made = [(t, design.pieces) for t, names in wish.batches.items() for name in names if name == design.name]
        _candy(rows, design.name, [*stock_of(facts, design.name), *made], lead, packs)
    found = _most(rows, packs, longer=more.values())
    if found is None:
        return wish
    packing, fills, late = defaultdict[int, Counter[str]](Counter), Counter[str](), Counter[str]()
    for (want, t), count in found.items():
        packing[t][want.product] += count
        (late if want.late else fills)[want.line] += count
    there = {t: wish.packing[t] if t in settled else tuple(sorted(n.items())) for t, n in packing.items()}
    return replace(wish, packing=there, fills=fills, late=late)


def _most(
    rows: Rows, packs: Mapping[Key, int], whole: bool = False, longer: Iterable[int] = ()
) -> dict[Key, int] | None:  # fmt: skip
    """Packs of the greatest weight, whole orders all or none. ``whole``: all packs are whole at once.

    Else they are made so once it is known which lines get packs of which days, and which whole orders are served: some
    hundred columns of ten thousand. ``longer``: columns of seconds for which somebody stays: each costs its wages.
    """
    goal, of_line, counts = dict.fromkeys(longer, -SECOND), defaultdict[str, list[Key]](list), set[int]()
    for key, column in packs.items():
        of_line[key[0].line].append(key)
        goal[column] = key[0].weight * (LATER if key[0].late else 1.0)
        if whole or not key[0].partial:
            counts.add(column)
    orders = set[int]()
    for keys in of_line.values():
        want, got = keys[0][0], {packs[key]: 1.0 for key in keys}
        if want.partial:
            rows.add(got, -inf, want.packs)
        else:
            all_of_it = rows.column(1.0)
            orders.add(all_of_it)
            rows.add({**got, all_of_it: -float(want.packs)}, 0.0, 0.0)
    found = _solved(rows, goal, counts | orders)
    if found is None:
        return None
    if any(abs(found[column] - round(found[column])) > WHOLE for column in packs.values()):
        for column in packs.values():
            rows.high[column] = rows.high[column] if found[column] > WHOLE else 0.0
        for column in orders:
            rows.low[column] = rows.high[column] = float(round(found[column]))
        found = _solved(rows, goal, {*packs.values(), *orders}) or found
    return {key: n for key, column in packs.items() if (n := int(found[column] + WHOLE))}


def _solved(rows: Rows, goal: Mapping[int, float], whole: Collection[int]) -> dict[int, float] | None:
    """Columns of the greatest weight, some of them whole, in a few steps of the tree; None where none were found."""
    model = rows.proto(goal, [column in whole for column in range(len(rows.low))], maximize=True)
    params = mathopt.SolveParameters(node_limit=40, relative_gap_tolerance=CLOSE)
    result = mathopt.solve(mathopt.Model.from_model_proto(model), mathopt.SolverType.HIGHS, params=params)
    if not result.has_primal_feasible_solution():
        return None
    return {var.id: value for var, value in result.variable_values().items()}


def _candy(
    rows: Rows, design: str, lots: Sequence[tuple[int, int]], lead: int, packs: Mapping[Key, int]
) -> None:
    """Running totals of a design's pieces, for each first day from which lots are asked for."""
    ends = defaultdict[int, list[tuple[int, int, int]]](list)  # last making day -> (first one, pieces of a pack, packs)
    start = min((made for made, _ in lots), default=0)
    for (want, day), column in packs.items():
        if design in want.parts:
            pieces, first = want.parts[design]
            ends[day - lead].append((max(first, start), pieces, column))
    order = sorted(ends)
    for first in sorted({f for here in ends.values() for f, _, _ in here}):
        total = dict[int, float]()
        for last in order:
            here = {column: float(pieces) for f, pieces, column in ends[last] if f >= first}
            if here:
                so_far = rows.column(sum(pieces for made, pieces in lots if first <= made <= last))
                rows.add({**total, **here, so_far: -1.0}, 0.0, 0.0)
                total = {so_far: 1.0}


def _parcels(serving: Serving, packs: Mapping[Key, int]) -> list[Parcel]:
    """The packs with the lots that they draw on: each lot, the oldest first, for whoever packs first."""
    draws = defaultdict[Key, list[tuple[str, int]]](list)
    for design, lots in serving.made.items():
        waiting = [
            (want.parts[design][1], day, number, count * want.parts[design][0], (want, day))
            for number, ((want, day), count) in enumerate(packs.items())
            if design in want.parts
        ]
        waiting.sort(key=lambda job: job[:3], reverse=True)  # the first to accept a lot at the end
        ready: list[tuple[int, int, int, Key]] = []
        for made, pieces, lot in lots:
            while waiting and waiting[-1][0] <= made:
                _, day, number, need, key = waiting.pop()
                heapq.heappush(ready, (day, number, need, key))
            while pieces and ready:
                day, number, need, key = heapq.heappop(ready)
                if day - serving.lead < made:
                    continue  # too late for it: it has all it needs where Hall's condition holds
                taken = min(need, pieces)
                pieces -= taken
                draws[key].append((lot, taken))
                if need > taken:
                    heapq.heappush(ready, (day, number, need - taken, key))
    whole = {
        key: count for key, count in packs.items()
        if sum(n for _, n in draws[key]) == count * sum(pieces for pieces, _ in key[0].parts.values())
    }  # fmt: skip
    return [Parcel(want, day, count, tuple(draws[want, day])) for (want, day), count in whole.items()]
