"""A part of the season taken out to be planned anew: some weeks are free, all else stands.

Only lines that the free weeks touch are asked again. What stands gives up what nobody draws:
candy left in its lots, and packs that were packed for a line whose candy is made anew. So a
part is as small as its weeks, however long the season.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from scheduler.demand.lines import Demand, Line, Supply
from scheduler.models.counts.board import Wish
from scheduler.models.counts.deal import dealt_beside
from scheduler.models.facts import Facts
from scheduler.plan.lots import Allocation, Deal
from scheduler.plan.types import DayPlan, Fill, PackRun, packs_by_line

LARGEST = 2000  # days times designs that are planned at once of known days
PART = 400  # that are planned at once with guesses; larger seasons than LARGEST are planned in such parts

Weeks = frozenset[tuple[int, int]]


@dataclass(frozen=True)
class Part:
    """The relaxation, the days that stand in it, and what is given out anew."""

    facts: Facts
    settled: dict[int, DayPlan]
    fills: tuple[Fill, ...]  # given back: packed on a free day, or from candy of one
    stay: tuple[Fill, ...]  # all others that were packed
    stand: dict[int, DayPlan]  # the days of all other weeks, as they are

    @property
    def given(self) -> Allocation:
        """What is given back, as an allocation of the part."""
        return Allocation((), self.fills, (), ())

    @property
    def deal(self) -> Deal:
        """Deals out to the part's lines, and leaves all others what they have."""
        return dealt_beside(self.stay, self.facts.demand.lines, self.facts.season)

    def short(self) -> int:
        """Weight of what the part's lines miss of what they ask for, as things are."""
        got = packs_by_line(self.fills)
        return sum(
            n.weight * (n.packs - got[n.id]) if n.partial else n.weight * n.asked * (got[n.id] < n.packs)
            for n in self.facts.demand.lines
        )

    def whole(self, wish: Wish) -> Wish:
        """A wish for the part as one for the season: packs that stay are meant to stay."""
        fills, late = dict(wish.fills), dict(wish.late)
        for fill in self.stay:
            meant = late if fill.late else fills
            meant[fill.line] = meant.get(fill.line, 0) + fill.packs
        return replace(wish, fills=fills, late=late)


def part_of(
    facts: Facts, days: dict[int, DayPlan], given: Allocation, weeks: Weeks
) -> Part:
    """The part of a season in which some ISO weeks are free; ``days`` and ``given`` are the plan so far."""
    season = facts.season
    free = frozenset(t for t in facts.days if facts.week(t) in weeks)
    made = {lot.id: season.index(lot.made) for lot in given.lots}
    planned = {b.id for d in days.values() for b in d.batches}
    anew, stay = list[Fill](), list[Fill]()
    left = Counter({lot.id: lot.pieces for lot in given.lots})
    packs: dict[int, Counter[str]] = {}
    for fill in given.fills:
        if fill.packed is None:
            continue
        t = season.index(fill.packed)
        if t in free or any(d.lot in planned and made[d.lot] in free for d in fill.draws):
            anew.append(fill)
            if t not in free:
                packs.setdefault(t, Counter())[fill.product] += fill.packs
            continue
        stay.append(fill)
        left.subtract({d.lot: d.pieces for d in fill.draws})
    supplies = tuple(
        Supply(lot.id, lot.design, made[lot.id], left[lot.id], season.index(lot.sell_by))
        for lot in given.lots
        if left[lot.id] > 0 and not (lot.id in planned and made[lot.id] in free)
    )
    kept = packs_by_line(stay)
    touched = {fill.line for fill in anew}
    lines = tuple(
        replace(n, packs=n.packs - kept[n.id])
        for n in facts.demand.lines
        if n.packs > kept[n.id] and (n.id in touched or _reaches(n, free))
    )
    standing = [t for t in facts.days if t not in free]
    stand = {t: _bare(days.get(t, DayPlan(season.days[t])), packs.get(t, Counter())) for t in standing}
    settled = {t: day for t, day in stand.items() if t in packs}
    done = tuple(facts.done) + tuple(replace(day, packing=()) for t, day in stand.items() if t not in packs)
    only = free | frozenset(packs)
    part = Facts(season, Demand(lines, supplies), facts.from_index, done, only)
    return Part(part, settled, tuple(anew), tuple(stay), {t: day for t, day in days.items() if t not in free})


def short_in(facts: Facts, given: Allocation, weeks: Weeks) -> int:
    """Weight of what is short of lines that may be made or packed in some weeks."""
    free = frozenset(t for t in facts.days if facts.week(t) in weeks)
    lines = {line.id: line for line in facts.demand.lines}
    return sum(s.weighted for s in given.shortfalls if _reaches(lines[s.line], free))


def _bare(day: DayPlan, packs: Counter[str]) -> DayPlan:
    """A day that stands: who is in, and the packs that are given out anew."""
    runs = tuple(PackRun(product, count, "", 0, 0, 0) for product, count in sorted(packs.items()))
    return DayPlan(day.day, packing=runs, shifts=day.shifts)


def _reaches(line: Line, free: frozenset[int]) -> bool:
    """Whether a line's candy may be made, or its packs packed, on a free day."""
    windows = [*line.windows, *(line.late.windows if line.late is not None else ())]
    last = line.pack_by if line.late is None else max(line.pack_by, line.late.pack_by)
    first = min((w.first for w in windows), default=0)
    return any(first <= t <= last for t in free)


def size_of(facts: Facts) -> int:
    """Free days times designs."""
    return len(facts.days) * len(facts.season.designs)


def is_small(facts: Facts) -> bool:
    """Whether all weeks can be planned at once with guesses."""
    return size_of(facts) <= PART


def is_large(facts: Facts) -> bool:
    """Whether it is too much to be planned at once."""
    return size_of(facts) > LARGEST


def spans_of(facts: Facts) -> list[Weeks]:
    """Stretches of weeks to plan at once: all, or as many as are manageable."""
    return parts_of(facts) if is_large(facts) else [frozenset(facts.weeks)]


def parts_of(facts: Facts) -> list[Weeks]:
    """Stretches of weeks in which there are `PART` choices, or all weeks; the last first, then those between them.

    Example: six weeks by two: 5 and 6, 3 and 4, 1 and 2, 4 and 5, 2 and 3.
    """
    weeks = sorted(facts.weeks)
    many = min(len(weeks), max(2, len(weeks) * PART // max(1, size_of(facts))))
    lasts = range(len(weeks), min(many, len(weeks)) - 1, -max(1, many // 2))
    spans = [frozenset(weeks[max(0, last - many) : last]) for last in lasts]
    spans = list(dict.fromkeys([*spans, frozenset(weeks[:many])]))
    return [*spans[::2], *spans[1::2]]
