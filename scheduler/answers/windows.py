"""Windows of days and what the orders inside them ask of a limit: the search behind certificates.

For orders whose making days all lie in a window (Hall's condition for intervals; Glover,
"Maximum matching in a convex bipartite graph", 1967): what their candy takes of a limit,
against what the window's days give.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scheduler.answers import limits as known_limits
from scheduler.answers.certificate import Use
from scheduler.answers.limits import Limit
from scheduler.answers.sums import pieces_short, use
from scheduler.demand.lines import Demand, Line
from scheduler.plan.types import Plan
from scheduler.season.types import Design, Season

MOST_ENDS = 2  # ends of windows looked at closely for each start and limit, those with most missing
NEVER = -(10**9)  # a day index before all candy
MOST_STARTS = 12  # starts of windows tried for each set of designs, those with most orders first


@dataclass(frozen=True, slots=True)
class Span:
    """A line and the days on which candy of some designs may be made for it, late delivery counted in."""

    line: Line
    oldest: dict[str, int]  # design -> earliest making day, before today where stock may serve
    pieces: dict[str, int]  # design -> pieces in a pack
    first: int
    last: int
    newest: int  # latest making day of candy on hand that may serve; never, where nothing can be packed for it any more


@dataclass(frozen=True, slots=True)
class Found:
    """A window in which a limit is too small: how many pieces it proves missing."""

    limit: Limit
    first: int
    last: int
    spans: tuple[Span, ...]
    uses: tuple[Use, ...]
    days: tuple[int, int]  # over which the limit is counted
    there: int
    pieces_short: int
    short_in_plan: int


def missed_shows(season: Season, plan: Plan) -> frozenset[tuple[int, str]]:
    """Shows that the plan gives up: (day, name)."""
    return frozenset((season.index(day.day), name) for day in plan.days for name in day.missed_shows)


def search(season: Season, demand: Demand, plan: Plan) -> Iterator[Found]:
    """Every window and limit that proves at least one piece missing from a line that is short."""
    short = plan.short_packs
    if not short:
        return
    free = max(0, season.index(plan.from_day))
    for designs in design_sets(season, demand, short):
        spans = [s for line in demand.lines if (s := span(line, {d.name for d in designs}, free))]
        if not any(s.line.id in short for s in spans):
            continue
        limits = list(known_limits.limits_for(season, designs, free, missed_shows(season, plan)))
        for same in ([s for s in spans if s.first <= s.last], [s for s in spans if s.first > s.last]):
            yield from _windows(season, demand, limits, same, short)  # who has no day at all asks nothing of the days
    yield from _packing_windows(season, demand, free, short)


def design_sets(season: Season, demand: Demand, short: dict[str, int]) -> list[list[Design]]:
    """All designs, those of each difficulty and above, those that are pulled, and each that is short."""
    wanted = {w.design for line in demand.lines if line.packs for w in line.windows}
    designs = [d for d in season.designs if d.name in wanted]
    sets = [designs]
    sets += [[d for d in designs if d.difficulty >= level] for level in range(2, 6)]
    sets.append([d for d in designs if d.pull_loads])
    missing = {w.design for line in demand.lines if line.id in short for w in line.windows}
    sets += [[d] for d in designs if d.name in missing]
    seen: dict[tuple[str, ...], list[Design]] = {}
    for one in sets:
        if one:
            seen.setdefault(tuple(d.name for d in one), one)
    return list(seen.values())


def span(line: Line, designs: set[str], free: int) -> Span | None:
    """The days that can serve a line with these designs, or None where it asks for none of them.

    A line that may be late has the days of both: from the earliest to the latest.
    """
    windows = [w for w in line.windows if w.design in designs]
    if not windows or line.packs <= 0:
        return None
    late = [w for w in line.late.windows if w.design in designs] if line.late else []
    oldest: dict[str, int] = {}
    for w in [*windows, *late]:
        oldest[w.design] = min(oldest.get(w.design, w.first), w.first)
    pieces = {w.design: w.pieces for w in windows}
    first = max(free, min(oldest.values()))
    last = max(w.last for w in [*windows, *late])
    return Span(line, oldest, pieces, first, last, last if _packed_by(line) >= free else NEVER)


def _windows(
    season: Season, demand: Demand, limits: list[Limit], spans: list[Span], short: dict[str, int]
) -> Iterator[Found]:
    """For each start of a window and each limit the end that proves most."""
    for first in _starts(spans, short):
        reach = [there_from(season, limit, first) for limit in limits]
        best: list[list[tuple[int, int, list[Span]]]] = [[] for _ in limits]  # (missing, last, inside)
        for last, inside, rows in _ends(season, demand, spans, first, short):
            packed = max(_packed_by(s.line) for s in inside)
            for limit, there, tops in zip(limits, reach, best, strict=True):
                until = packed if limit.until_packed else last
                given = there[min(until, len(there) - 1)] if until >= first else 0
                missing = _needed(limit, rows) - given
                if missing > 0 and (len(tops) < MOST_ENDS or missing > tops[-1][0]):
                    tops.append((missing, last, inside))
                    tops.sort(key=lambda x: (-x[0], x[1]))
                    del tops[MOST_ENDS:]
        for limit, there, tops in zip(limits, reach, best, strict=True):
            for _, last, inside in tops:
                counted = [s for s in inside if any(d in limit.each for d in s.pieces)]
                until = max(_packed_by(s.line) for s in counted) if limit.until_packed else last
                given = there[min(until, len(there) - 1)] if until >= first else 0
                uses = uses_of(season, demand, limit, counted)
                found = found_in(limit, first, last, counted, uses, (first, until), given, short)
                if found.pieces_short > 0 and found.short_in_plan:
                    yield found


def _ends(
    season: Season, demand: Demand, spans: list[Span], first: int, short: dict[str, int]
) -> Iterator[tuple[int, list[Span], dict[str, tuple[int, int]]]]:
    """Windows from a day on: last day, the lines inside, and for each design pieces to make and batches."""
    wanted: dict[str, int] = {}
    oldest: dict[str, int] = {}
    ahead = sorted((s for s in spans if s.first >= first), key=lambda s: (s.last, s.line.id))
    newest: dict[str, int] = {}
    seen = False
    for i, one in enumerate(ahead):
        seen = seen or one.line.id in short
        for design, pieces in one.pieces.items():
            wanted[design] = wanted.get(design, 0) + pieces * one.line.packs
            oldest[design] = min(oldest.get(design, one.oldest[design]), one.oldest[design])
            newest[design] = max(newest.get(design, NEVER), one.newest)
        if seen and (i + 1 == len(ahead) or ahead[i + 1].last > one.last):
            last = max(first - 1, one.last)
            rows = {}
            for design, pieces in wanted.items():
                to_make = max(0, pieces - _stock(demand, design, oldest[design], newest[design]))
                rows[design] = (to_make, -(-to_make // season.design_by_name[design].pieces))
            yield last, ahead[: i + 1], rows


def _needed(limit: Limit, rows: dict[str, tuple[int, int]]) -> int:
    if limit.whole:
        return sum(count * limit.each.get(design, 0) for design, (_, count) in rows.items())
    return sum(pieces * limit.each.get(design, 0) // known_limits.HUNDRED for design, (pieces, _) in rows.items())


def _stock(demand: Demand, design: str, oldest: int, last: int) -> int:
    """Pieces on hand that are fresh enough for somebody inside."""
    return sum(x.pieces for x in demand.supplies if x.design == design and oldest <= x.made <= last)


def _starts(spans: list[Span], short: dict[str, int]) -> list[int]:
    """First days worth trying: not after every short line's, those with most packs behind them."""
    latest = max((s.first for s in spans if s.line.id in short), default=-1)
    packs: dict[int, int] = {}
    for s in spans:
        if s.first <= latest:
            packs[s.first] = packs.get(s.first, 0) + s.line.packs
    most = sorted(packs, key=lambda t: (-packs[t], t))[:MOST_STARTS]
    return sorted(most)


def _packed_by(line: Line) -> int:
    return max(line.pack_by, line.late.pack_by) if line.late else line.pack_by


def uses_of(season: Season, demand: Demand, limit: Limit, inside: list[Span]) -> tuple[Use, ...]:
    """What the lines inside ask of each design, less the stock that can serve them, in batches."""
    wanted: dict[str, int] = {}
    newest: dict[str, int] = {}
    oldest: dict[str, int] = {}
    for s in inside:
        for design, pieces in s.pieces.items():
            wanted[design] = wanted.get(design, 0) + pieces * s.line.packs
            oldest[design] = min(oldest.get(design, s.oldest[design]), s.oldest[design])
            newest[design] = max(newest.get(design, NEVER), s.newest)
    out = []
    for design in sorted(wanted):
        if design not in limit.each:
            continue
        stock = _stock(demand, design, oldest[design], newest[design])
        size = season.design_by_name[design].pieces if limit.whole else known_limits.HUNDRED
        out.append(use(design, wanted[design], stock, size, limit.each[design], limit.whole))
    return tuple(out)


def found_in(
    limit: Limit,
    first: int,
    last: int,
    inside: list[Span],
    uses: tuple[Use, ...],
    days: tuple[int, int],
    there: int,
    short: dict[str, int],
) -> Found:
    counted = {u.name for u in uses}
    in_plan = sum(
        short.get(s.line.id, 0) * pieces
        for s in inside
        for name, pieces in s.pieces.items()
        if name in counted or s.line.product in counted
    )
    proven = pieces_short(uses, there, limit.whole)
    return Found(limit, first, last, tuple(inside), uses, days, there, proven, in_plan)


def _packing_windows(season: Season, demand: Demand, free: int, short: dict[str, int]) -> Iterator[Found]:
    """Windows in which the packing alone is too much: packs of whole lines, stock or not."""
    limit = known_limits.packing(season, [p.name for p in season.products], free)
    everything = {d.name for d in season.designs}
    spans = [s for line in demand.lines if (s := span(line, everything, free)) and s.first <= s.last]
    stocked = {x.design for x in demand.supplies if x.pieces > 0}
    for first in _starts(spans, short):
        reach: dict[int, list[int]] = {}
        inside: list[Span] = []
        for one in sorted((s for s in spans if s.first >= first), key=lambda s: (_packed_by(s.line), s.line.id)):
            inside.append(one)
            if one.line.id not in short:
                continue
            ready = first + season.kitchen.packing_from_days
            if first == free and any(d in stocked for s in inside for d in s.pieces):
                ready = free
            if ready not in reach:
                reach[ready] = there_from(season, limit, ready)
            until = _packed_by(one.line)
            there = reach[ready][min(until, season.day_count - 1)] if until >= ready else 0
            uses = _pack_uses(season, inside)
            if sum(u.needs for u in uses) > there:
                last = max(s.last for s in inside)
                found = found_in(limit, first, last, inside, uses, (ready, until), there, short)
                if found.pieces_short > 0:
                    yield found


def _pack_uses(season: Season, inside: list[Span]) -> tuple[Use, ...]:
    packs: dict[str, int] = {}
    for s in inside:
        packs[s.line.product] = packs.get(s.line.product, 0) + s.line.packs
    out = []
    for name in sorted(packs):
        size = sum(season.contents_of[name].values())
        out.append(use(name, packs[name] * size, 0, size, season.product_by_name[name].packing_seconds, True))
    return tuple(out)


def there_from(season: Season, limit: Limit, first: int) -> list[int]:
    """What a limit gives from day ``first`` to each day of the season, weekly limits heeded."""
    total = [0] * season.day_count
    for who, amounts in limit.amounts.items():
        cap = limit.week_limits.get(who)
        done = week = 0
        for t in range(first, season.day_count):
            if season.days[t].weekday() == 0:
                done, week = done + (week if cap is None else min(cap, week)), 0
            week += amounts.get(t, 0)
            total[t] += done + (week if cap is None else min(cap, week))
    return total
