"""Every rule of the kitchen again, from the season and the plan alone: a second opinion.

No solver, and no code shared with the models. ``audit`` never raises on a damaged plan:
whatever is wrong becomes a ``Violation`` with the rule's name in DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Callable

from scheduler.audit import (
    batches,
    certificates,
    cleaning,
    hours,
    lots,
    packing,
    people,
    pins,
    shows,
    totals,
    wanted,
    weeks,
    working_time,
)
from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.types import Season

__all__ = ["DAY_RULES", "PLAN_RULES", "RULES", "Violation", "audit", "audit_day"]

DAY_RULES: dict[str, Callable[[Reading, DayPlan], Findings]] = {
    "opening hours": hours.opening_hours,
    "last pour": hours.last_pour,
    "clock step": hours.clock_step,
    "opening duty": hours.opening_duty,
    "closing duty": hours.closing_duty,
    "recipe": batches.recipe,
    "station places": batches.station_places,
    "role filled": batches.role_filled,
    "one job at a time": people.one_job_at_a_time,
    "leader stays": batches.leader_stays,
    "young worker": batches.young_worker,
    "pulls a day": people.pulls_a_day,
    "pull rest": people.pull_rest,
    "presence": people.presence,
    "call-in": people.call_in,
    "meal break": people.meal_break,
    "cleaning": cleaning.cleaning,
    "show": shows.show,
    "packing": packing.packing,
    "supplies": batches.supplies,
    "pins": pins.pins,
}

PLAN_RULES: tuple[tuple[str, Callable[[Reading, Plan], Findings]], ...] = (
    ("pulls a week", weeks.pulls_a_week),
    ("rest", weeks.rest),
    ("week hours", weeks.week_hours),
    ("days in a row", weeks.days_in_a_row),
    ("working time", working_time.working_time),
    ("show", shows.shows_of_empty_days),
    ("candy before packing", packing.candy_before_packing),
    ("packed before due", packing.packed_before_due),
    ("contents", lots.contents),
    ("lots", lots.lots),
    ("remaining life", lots.remaining_life),
    ("whole order", wanted.whole_order),
    ("pins", pins.pins_of_empty_days),
    ("totals", totals.totals),
)

RULES: tuple[str, ...] = tuple(dict.fromkeys([*DAY_RULES, *(name for name, _ in PLAN_RULES)]))


def audit(season: Season, plan: Plan) -> tuple[Violation, ...]:
    """Hold a plan against every rule, and the reasons it gives for a shortage; an empty tuple is a sound plan."""
    reading = Reading(season, (plan.from_day, plan.from_minute))
    found: list[Violation] = []
    for day in plan.days:
        found += _day(reading, day)
    for _, rule in PLAN_RULES:
        found += rule(reading, plan)
    found += certificates.certificates(reading, plan)
    return tuple(found)


def audit_day(season: Season, day: DayPlan, facts_until: int = 0) -> tuple[Violation, ...]:
    """Hold one day against the rules that concern a day alone.

    ``facts_until``: clock minute before which the day's contents have happened already.
    """
    return tuple(_day(Reading(season, (day.day, facts_until)), day))


def _day(reading: Reading, day: DayPlan) -> list[Violation]:
    return [violation for rule in DAY_RULES.values() for violation in rule(reading, day)]
