"""Rules about people over several days: rest, week hours, pulls a week, days in a row."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from scheduler.audit.people import pulls_of
from scheduler.audit.readings import MINUTES_A_DAY, Reading
from scheduler.audit.violation import Findings, Violation
from scheduler.plan.types import Plan, Shift

PersonWeek = tuple[str, int, int]  # person, ISO year, ISO week


def week_of(person: str, day: date) -> PersonWeek:
    """A person's ISO week: 2024-12-30 is week 1 of 2025."""
    year, week, _ = day.isocalendar()
    return person, year, week


def _where(week: PersonWeek) -> str:
    return f"{week[0]} week {week[1]}-W{week[2]:02d}"


def paid_minutes(r: Reading, shift: Shift) -> int:
    """Length of a shift less an unpaid break."""
    minutes = shift.ends - shift.starts
    if not r.kitchen.break_paid and shift.break_starts is not None and shift.break_ends is not None:
        minutes -= shift.break_ends - shift.break_starts
    return minutes


def paid_weeks(r: Reading, plan: Plan) -> dict[PersonWeek, int]:
    """Paid minutes of each person and ISO week."""
    weeks: dict[PersonWeek, int] = defaultdict(int)
    for day in plan.days:
        for shift in day.shifts:
            weeks[week_of(shift.person, day.day)] += paid_minutes(r, shift)
    return weeks


def week_hours(r: Reading, plan: Plan) -> Findings:
    """Paid minutes of a person in an ISO week are at most the week limit."""
    for week, minutes in sorted(paid_weeks(r, plan).items()):
        person = r.season.person_by_name.get(week[0])
        if person is not None and minutes > r.week_limit(person):
            what = f"{minutes} paid minutes are planned; the limit is {r.week_limit(person)}."
            yield Violation("week hours", _where(week), what)


def pulls_a_week(r: Reading, plan: Plan) -> Findings:
    """Pulls charged to a person in an ISO week are at most the person's week limit."""
    weeks: dict[PersonWeek, int] = defaultdict(int)
    for day in plan.days:
        for name, runs in pulls_of(r, day).items():
            weeks[week_of(name, day.day)] += sum(pulls for _, _, pulls, _ in runs)
    for week, pulls in sorted(weeks.items()):
        person = r.season.person_by_name.get(week[0])
        if person is not None and pulls > person.pulls_week:
            what = f"{pulls} pulls are planned; the limit a week is {person.pulls_week}."
            yield Violation("pulls a week", _where(week), what)


def rest(r: Reading, plan: Plan) -> Findings:
    """Between the end of a shift and the start of the person's next lies the rest.

    Example: out at 21:00, in at 07:30 is 630 minutes; 660 is broken.
    """
    shifts: dict[str, list[tuple[int, int, date]]] = defaultdict(list)
    for day in plan.days:
        midnight = day.day.toordinal() * MINUTES_A_DAY
        for shift in day.shifts:
            shifts[shift.person].append((midnight + shift.starts, midnight + shift.ends, day.day))
    for person, own in sorted(shifts.items()):
        own.sort()
        for before, after in zip(own, own[1:], strict=False):
            gap = after[0] - before[1]
            if gap < r.kitchen.rest_minutes and before[2] != after[2]:
                what = f"{gap} minutes of rest after {before[2]}; it must be {r.kitchen.rest_minutes}."
                yield Violation("rest", f"{after[2]} {person}", what)


def days_in_a_row(r: Reading, plan: Plan) -> Findings:
    """Nobody has shifts on more than so many calendar days in a row."""
    worked: dict[str, set[int]] = defaultdict(set)
    for day in plan.days:
        for shift in day.shifts:
            worked[shift.person].add(day.day.toordinal())
    for person, days in sorted(worked.items()):
        row = 0
        for number in sorted(days):
            row = row + 1 if number - 1 in days else 1
            if row == r.kitchen.days_in_a_row + 1:
                what = f"The {row}th day in a row; at most {r.kitchen.days_in_a_row}."
                yield Violation("days in a row", f"{date.fromordinal(number)} {person}", what)
