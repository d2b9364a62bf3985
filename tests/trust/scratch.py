"""Changes of a rebalanced plan against a plan of the rest of the season made from scratch, news and all.

From scratch: ``plan_season`` as ``rockrota plan`` calls it, with the same facts and the same absence, and no
thought of what was planned. Where the day has begun, today goes on as in the choice, and tomorrow on is planned.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduler.answers.rebalance import Choice, Rebalance
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.changes import compare
from scheduler.plan.types import Plan
from scheduler.season.types import Season


@dataclass(frozen=True)
class Held:
    """One case held against a plan from scratch: points of both, and how much more (less: below 0) each is short
    than the plan before, as weight of what is due after the day of the news."""

    case: str
    points: int
    scratch: int
    more_short: int
    scratch_more_short: int
    seconds: float

    def __str__(self) -> str:
        return (
            f"{self.case}: {self.points} points, {self.more_short:+d} short; from scratch {self.scratch} points, "
            f"{self.scratch_more_short:+d} short, in {self.seconds:.0f} s"
        )


def against_scratch(found: Rebalance, person: str, options: PlanOptions = PlanOptions()) -> Held:
    """The choice with fewest changes of those least short, against a plan from scratch."""
    choice, day = found.choices[-1], found.now.day  # choices run from few changes to little short
    began = time.monotonic()
    scratch = _planned(found, choice, options)
    seconds = time.monotonic() - began
    before = _short(found.season, found.before, day)
    return Held(
        f"{found.now.day} {person} {found.now.minute // 60:02d}:{found.now.minute % 60:02d}",
        choice.points,
        compare(found.before, scratch, day, frozenset({(person, day)})).points,
        _short(choice.season, choice.plan, day) - before,
        _short(choice.season, scratch, day) - before,
        seconds,
    )


def _planned(found: Rebalance, choice: Choice, options: PlanOptions) -> Plan:
    """The rest of the season from scratch; packs of the past are facts of the season, so its days are kept without."""
    now = found.now
    days = tuple(
        replace(d, packing=tuple(r for r in d.packing if d.day == now.day and r.ends > now.minute))
        for d in choice.plan.days
    )
    first = now.day + timedelta(1) if found.begun else now.day
    plan = plan_season(choice.season, replace(options, from_day=first, keep=replace(choice.plan, days=days)))
    kept = tuple(d for d in choice.plan.days if d.day < first)  # with all their packing again
    return replace(plan, days=(*kept, *(d for d in plan.days if d.day >= first)))


def _short(season: Season, plan: Plan, day: date) -> int:
    due = {o.id: o.due for o in season.orders} | {f.id: f.shelf_day for f in season.forecasts}
    return sum(s.weighted for s in plan.shortfalls if due[s.line] > day)


def summary(rows: Iterable[Held]) -> str:
    """How many cases change less than from scratch, as much, or more; and both sums."""
    held = list(rows)
    lower, equal = sum(h.points < h.scratch for h in held), sum(h.points == h.scratch for h in held)
    return (
        f"{len(held)} cases against planning from scratch: fewer changes in {lower}, as many in {equal}, more in "
        f"{len(held) - lower - equal}; points in all {sum(h.points for h in held)} against "
        f"{sum(h.scratch for h in held)}; as little short as from scratch, or less, in "
        f"{sum(h.more_short <= h.scratch_more_short for h in held)}, no more short than before in "
        f"{sum(h.more_short <= 0 for h in held)}; {sum(h.seconds for h in held):.0f} s of planning"
    )
