"""The working-time rule set that a kitchen has switched on, from the plan's shifts alone.

Figures and sources as in DEVELOPERS.md under `working time`; help, not advice.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation
from scheduler.audit.weeks import paid_weeks
from scheduler.plan.types import Plan, Shift

RULE = "working time"
Own = dict[str, list[tuple[date, Shift]]]


def working_time(r: Reading, plan: Plan) -> Findings:
    """No shift, night, row of days or week breaks the rule set; none is switched on: nothing to find."""
    chosen = r.kitchen.working_time
    own: Own = defaultdict(list)
    for day in plan.days:
        for shift in day.shifts:
            own[shift.person].append((day.day, shift))
    if chosen == "european":
        yield from _breaks(own, 360, 1)
        yield from _nights(own)
        yield from _days_off(own)
        yield from _european_hours(r, plan, own)
    elif chosen in ("american", "american with meal breaks"):
        yield from _overtime_pay(r, plan)
        if chosen == "american with meal breaks":
            yield from _breaks(own, 300, 30)
            yield from _longest(own, 600, "a second meal break is due beyond 600")


def _breaks(own: Own, limit: int, least: int) -> Findings:
    """A shift longer than so many minutes has a break of at least so many. Example: 361 of 360: a break."""
    for person, shifts in sorted(own.items()):
        for day, shift in shifts:
            pause = (shift.break_ends or 0) - (shift.break_starts or 0)
            if shift.ends - shift.starts > limit and pause < least:
                length = shift.ends - shift.starts
                what = f"{pause} minutes of break in a shift of {length}; at least {least} beyond {limit}."
                yield Violation(RULE, f"{day} {person}", what)


def _longest(own: Own, limit: int, why: str) -> Findings:
    for person, shifts in sorted(own.items()):
        for day, shift in shifts:
            if shift.ends - shift.starts > limit:
                yield Violation(RULE, f"{day} {person}", f"A shift of {shift.ends - shift.starts} minutes; {why}.")


def _nights(own: Own) -> Findings:
    """11 hours, 660 minutes, between two days. Example: out at 21:00, in at 07:59 is 659."""
    for person, shifts in sorted(own.items()):
        spans = sorted((d.toordinal() * 1440 + s.starts, d.toordinal() * 1440 + s.ends, d) for d, s in shifts)
        for before, after in zip(spans, spans[1:], strict=False):
            if after[2] != before[2] and after[0] - before[1] < 660:
                yield Violation(RULE, f"{after[2]} {person}", f"{after[0] - before[1]} minutes of rest; at least 660.")


def _days_off(own: Own) -> Findings:
    """Of each seven days in a row one is off."""
    for person, shifts in sorted(own.items()):
        days = {d.toordinal() for d, _ in shifts}
        for first in sorted(days):
            if all(first + i in days for i in range(7)):
                where = f"{date.fromordinal(first + 6)} {person}"
                yield Violation(RULE, where, "The seventh day without a day off.")


def _european_hours(r: Reading, plan: Plan, own: Own) -> Findings:
    """48 hours a week, each week; young workers 8 hours a day and 40 a week."""
    for (name, year, week), minutes in sorted(paid_weeks(r, plan).items()):
        person = r.season.person_by_name.get(name)
        limit = 2400 if person is not None and person.young else 2880
        if minutes > limit:
            yield Violation(RULE, f"{name} {year}-W{week:02d}", f"{minutes} minutes in a week; at most {limit}.")
    young = {p.name for p in r.season.crew if p.young}
    yield from _longest({n: s for n, s in own.items() if n in young}, 480, "young workers at most 480")


def _overtime_pay(r: Reading, plan: Plan) -> Findings:
    """Whoever works beyond 40 hours in a week is paid time and a half from there on."""
    for (name, year, week), minutes in sorted(paid_weeks(r, plan).items()):
        person = r.season.person_by_name.get(name)
        if person is None or minutes <= 2400:
            continue
        if person.contracted_minutes > 2400 or person.overtime_percent < 150:
            what = (
                f"{minutes} minutes, overtime at {person.overtime_percent} % beyond {person.contracted_minutes}; "
                "at least 150 % beyond 2400."
            )
            yield Violation(RULE, f"{name} {year}-W{week:02d}", what)
