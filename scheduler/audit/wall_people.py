"""Crew sheet and people's pages read back and held against the plan."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta

from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wall import Cells
from scheduler.audit.wall_plan import Wall
from scheduler.audit.wall_words import (
    Facts,
    block,
    count,
    day_long,
    day_short,
    differences,
    length,
    plain,
    rows,
    says,
    span,
    tables,
    text,
)
from scheduler.audit.weeks import PersonWeek, paid_minutes, week_of
from scheduler.season.types import Person

SUMS = ("Hours", "Contract", "Longest", "Overtime", "Pulls", "Most pulls")


def crew(wall: Wall, cells: Cells) -> Findings:
    """Each person's week: days with hours, jobs and pulls; hours, contract, overtime and pulls at the right."""
    found, done = list[Facts](), 0
    for number, row in cells.items():
        if number <= done or not text(row, 1).startswith("Week ") or len(row) < 2:
            continue
        found.append(tuple(text(row, column).replace("- ", "") for column in range(1, 15)))
        lines = block(cells, number)
        done = number + len(lines)
        for line in lines:
            days = tuple(text(line, column) if ":" in text(line, column) else "" for column in range(2, 9))
            found.append((text(row, 2), line[1], *days, *(line.get(column) for column in range(9, 15))))
    expected: list[Facts] = []
    monday = wall.r.kitchen.first_day - timedelta(days=wall.r.kitchen.first_day.weekday())
    while monday <= wall.r.kitchen.last_day:
        week = [monday + timedelta(days=i) for i in range(7)]
        expected.append((f"Week {monday.isocalendar()[1]}", *map(day_short, week), *SUMS))
        for person in wall.r.season.crew:
            days = tuple(_crew_day(wall, person, day) for day in week)
            expected.append((day_short(monday), person.name, *days, *_sums(wall, person, week_of(person.name, monday))))
        monday += timedelta(days=7)
    yield from differences("Crew", expected, found)


def _crew_day(wall: Wall, person: Person, day: date) -> str:
    shift = wall.shift.get((person.name, day))
    if shift is None:
        return ""
    jobs = sum(work.short != "break" for work in wall.work[day].get(person.name, []))
    pulls = _pulls(wall, person, day)
    return f"{span(shift.starts, shift.ends)} {count(jobs, 'job')}" + (f" {pulls}" if pulls else "")


def _pulls(wall: Wall, person: Person, day: date) -> str:
    pulls = wall.pulls.get((person.name, day), 0)
    return f"{pulls} of {person.pulls_day} pulls" if pulls else ""


def _sums(wall: Wall, person: Person, week: PersonWeek) -> Facts:
    """Hours, contract, longest and overtime of a week as shares of a day; pulls and most pulls."""
    paid, contract = wall.paid.get(week, 0), person.contracted_minutes
    hours = (paid / 1440, contract / 1440, person.longest_minutes / 1440, max(0, paid - contract) / 1440)
    return (*hours, wall.week_pulls.get(week, 0), person.pulls_week)


def pages(wall: Wall, sheets: dict[str, Cells]) -> Findings:
    """Each person's page: own weeks, days and jobs."""
    pages = {text(cells.get(1, {}), 1): (t, cells) for t, cells in sheets.items() if t.startswith("Person ")}
    for person in wall.r.season.crew:
        title, cells = pages.get(str(plain(person.name)), ("", {}))
        if not title:
            yield Violation("workbook", person.name, "There is no page for this person.")
            continue
        own = [day.day for day in wall.plan.days if (person.name, day.day) in wall.shift]
        yield from says(title, _page_head(person, len(own)), cells)
        found: list[Facts] = []
        for number, lines in tables(cells, ("From", "To", "What", "As", "Design", "Batch", "Where", "Pulls")):
            head, about = text(cells.get(number - 2, {}), 1), text(cells.get(number - 1, {}), 1)
            found += [(head, about), *((head, *line) for line in lines)]
        yield from differences(title, [line for day in own for line in _page_day(wall, person, day)], found)
        weeks = Counter(week_of(person.name, day) for day in own)
        expected = [(str(week[2]), days, *_sums(wall, person, week)) for week, days in weeks.items()]
        yield from differences(f"{title}, weeks", expected, rows(cells, ("Week", "Days", *SUMS)))


def _page_head(person: Person, days: int) -> list[str]:
    """What a page must not leave out: own days, own limits, no hot work for the young."""
    said = [f"{count(days, 'day')} in this plan"]
    if person.pulls_day or person.pulls_week:
        said.append(f"{person.pulls_day} pulls a day and {person.pulls_week} a week")
    return said + (["No hot work"] if person.young else [])


def _page_day(wall: Wall, person: Person, day: date) -> list[Facts]:
    """The day's heading, what is said below it, and a row for each stretch of work."""
    shift = wall.shift[person.name, day]
    head = f"{day_long(day)}, {span(shift.starts, shift.ends)}"
    about = [f"{length(paid_minutes(wall.r, shift))} paid"]
    if shift.break_starts is not None and shift.break_ends is not None:
        about.append(f"break {span(shift.break_starts, shift.break_ends)}")
    out: list[Facts] = [(head, ", ".join(filter(None, (*about, _pulls(wall, person, day)))))]
    return out + [(head, w.starts / 1440, w.ends / 1440, *w.cells) for w in wall.work[day].get(person.name, [])]
