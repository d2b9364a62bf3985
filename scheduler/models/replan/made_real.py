"""A plan made real: days that were mended, with what they give to whom, the changes counted, and what is short."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from scheduler.demand.lines import Line
from scheduler.models.counts.result import stages_of
from scheduler.models.replan.bend import MISSED_SHOW, weigh
from scheduler.models.replan.choices import Ahead
from scheduler.models.replan.mend import Mended
from scheduler.plan.changes import compare, lost
from scheduler.plan.lots import Deal, allocate
from scheduler.plan.types import DayPlan, Plan, Shortfall
from scheduler.season.fingerprint import fingerprint


@dataclass(frozen=True)
class Found:
    """A plan on the frontier. It is proven that no plan with at most ``short`` has fewer than ``least_points``."""

    plan: Plan
    short: int
    points: int
    least_points: int = 0


def made_real(ahead: Ahead, mended: Mended, deals: Sequence[Deal | None] = (None,), hoped: int = 0) -> Found:
    """The plan whose days are these; packing that the wish does without leaves its candy to others.

    Packs are given out in the first of these ways (None: day by day, as meant) in which no more is short than hoped,
    or the best of them; where something was freed, in the way in which fewest lose what they had. Where anybody goes
    short who did not before, all that the days pack may be given out as well: a search that had no time to think twice
    may wish for less than its days hold.
    """
    best = min(_ways(ahead, mended, deals, hoped), key=lambda found: _rank(ahead, found))
    if not lost(ahead.plan, best.plan):
        return best
    packed = {t: tuple(sorted(day.packs.items())) for t, day in mended.days.items()}
    all_of_it = replace(mended, wish=replace(mended.wish, packing=packed))
    ways = _ways(ahead, all_of_it, [deal for deal in deals if deal], 0)  # not day by day, which takes seconds there
    return min([best, *ways], key=lambda found: _rank(ahead, found))


def _ways(ahead: Ahead, mended: Mended, deals: Sequence[Deal | None], hoped: int) -> Iterator[Found]:
    """The plans of these ways to give out, up to the first that is as good as hoped."""
    for deal in deals:
        found = _made_real(ahead, mended, deal)
        yield found
        if found.short <= hoped and not ahead.freed:
            return


def _rank(ahead: Ahead, found: Found) -> tuple[int, int]:
    """Packs that lines lose which others gain (only where something was freed), and what is short: less is better."""
    return sum(lost(ahead.plan, found.plan).values()) if ahead.freed else 0, found.short


def _made_real(ahead: Ahead, mended: Mended, deal: Deal | None) -> Found:
    season, facts, wish = ahead.season, ahead.facts, mended.wish
    free = [(mended.days[t], wish.packing.get(t, ())) for t in sorted(mended.days)]
    days = (*going(ahead), *(packed_at_most(day, packs) for day, packs in free))
    given = allocate(season, facts.demand, days, wish.fills, wish.late, deal=deal)
    whole = (*ahead.past, *(_whole_today(ahead, d) if d.day == ahead.today else d for d in given.days))
    plan = replace(
        ahead.plan,
        season=fingerprint(season),
        days=whole,
        lots=given.lots,
        fills=given.fills,
        shortfalls=given.shortfalls,
        stages=stages_of(facts, whole, given, 0),
        rule_of_thumb_weighted=None,
        from_day=ahead.today,
        from_minute=ahead.minute,
        extras={},  # what was worked out for the old plan does not hold for this one
    )
    points = compare(ahead.plan, plan, ahead.today, ahead.absent).points
    return Found(plan, short_of(ahead, given.shortfalls, given.days), points)


def short_of(
    ahead: Ahead, shortfalls: Iterable[Shortfall], days: Iterable[DayPlan], lines: Iterable[Line] | None = None
) -> int:
    """What is short (of some lines, or all) in the measure of the bend: promised packs first, shows given up most.

    At least as much of each line as was short before: gains do not make good for losses, unless something was freed.
    """
    now = {s.line: s.packs for s in shortfalls}
    before = {} if ahead.freed else ahead.plan.short_packs
    total = MISSED_SHOW * sum(len(d.missed_shows) for d in days)
    for line in ahead.facts.demand.lines if lines is None else lines:
        packs = min(line.asked, max(now.get(line.id, 0), before.get(line.id, 0)))
        total += packs * weigh(line)
    return total


def going(ahead: Ahead) -> tuple[DayPlan, ...]:
    """Today as it goes on, where it had begun."""
    return () if ahead.going is None else (ahead.going,)


def _whole_today(ahead: Ahead, day: DayPlan) -> DayPlan:
    """Today with the packing that is done already put back."""
    if ahead.fixed is None:
        return day
    done = tuple(r for r in ahead.fixed.packing if r.ends <= ahead.minute)
    return replace(day, packing=(*done, *day.packing))


def packed_at_most(day: DayPlan, packs: Iterable[tuple[str, int]]) -> DayPlan:
    """The day with no more of a product packed than this: the last runs are cut."""
    left = Counter(dict(packs))
    runs = []
    for run in day.packing:
        count = min(run.packs, left[run.product])
        left[run.product] -= count
        if count:
            runs.append(replace(run, packs=count))
    return replace(day, packing=tuple(runs))
