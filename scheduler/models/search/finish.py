"""The plan of the days that were found: every figure is what its parts add up to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scheduler.models.counts.days import idle_day
from scheduler.models.counts.result import stages_of
from scheduler.models.facts import Facts
from scheduler.models.search.fitted import Fitted
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.fingerprint import fingerprint

if TYPE_CHECKING:
    from scheduler.models.search.loop import PlanOptions


def finish(facts: Facts, options: PlanOptions, best: Fitted, thumb: Fitted | None, bound: int) -> Plan:
    """Put the plan together; every figure is what the plan's parts add up to. ``thumb``: None where there is none."""
    season = facts.season
    days = _with_missed(facts, best.given.days)
    return Plan(
        kitchen=season.kitchen.name,
        season=fingerprint(season),
        first_day=season.kitchen.first_day,
        last_day=season.kitchen.last_day,
        days=days,
        lots=best.given.lots,
        fills=best.given.fills,
        shortfalls=best.given.shortfalls,
        stages=stages_of(facts, days, best.given, bound),
        rule_of_thumb_weighted=None if thumb is None else thumb.given.weighted,
        from_day=options.from_day or season.kitchen.first_day,
        history=options.keep.history if options.keep is not None else (),
    )


def _with_missed(facts: Facts, days: tuple[DayPlan, ...]) -> tuple[DayPlan, ...]:
    """Days with the shows that nobody holds named, also where nothing else happens."""
    by_day = {d.day: d for d in days}
    for t in facts.days:
        by_day.setdefault(facts.season.days[t], idle_day(facts, t))
    return tuple(d for _, d in sorted(by_day.items()) if d != DayPlan(d.day, proven=d.proven))
