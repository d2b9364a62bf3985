"""Crew sheet and people's pages read back and held against the plan."""

from __future__ import annotations

import re
from collections import defaultdict
from datetime import date, timedelta

from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wall.cells import Cells
from scheduler.audit.wall.plan import Wall, Work
from scheduler.audit.wall.words import (
    Facts,
    block,
    count,
    day_short,
    differences,
    length,
    names,
    plain,
    says,
    span,
    text,
)
from scheduler.audit.weeks import PersonWeek, paid_minutes, week_of
from scheduler.season.types import Person

NUMBERED = (
    "The number before a job is the batch, counted as on the day's run sheet; "
    "above the jobs stands which candy that is. Free: nothing set, help where it is needed. "
    "Paid are the hours in, also where they are fewer than the contract's."
)
CREW_SAID = (
    "Hours in and out, number of jobs, and pulls of the most allowed that day. Paid are the hours in, also where "
    "they are fewer than the contract's. The pull limits are the kitchen's own; local rules on working time come "
    "first."
)
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
            days = tuple(text(line, column) for column in range(2, 9))
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
    yield from says("Crew", [f"Crew, {wall.r.kitchen.name}", CREW_SAID], cells)


def _crew_day(wall: Wall, person: Person, day: date) -> str:
    shift = wall.shift.get((person.name, day))
    if shift is None:
        return wall.off(person.name, day)
    jobs = sum(work.short != "break" for work in wall.work[day].get(person.name, []))
    pulls = _pulls(wall, person, day)
    return f"{span(shift.starts, shift.ends)} {count(jobs, 'job')}" + (f" {pulls}" if pulls else "")


def _pulls(wall: Wall, person: Person, day: date) -> str:
    pulls = wall.pulls.get((person.name, day), 0)
    return f"{pulls:,} of {person.pulls_day:,} pulls" if pulls else ""


def _sums(wall: Wall, person: Person, week: PersonWeek) -> Facts:
    """Hours, contract, longest and overtime of a week as shares of a day; pulls and most pulls."""
    paid, contract = wall.paid.get(week, 0), person.contracted_minutes
    hours = (paid / 1440, contract / 1440, person.longest_minutes / 1440, max(0, paid - contract) / 1440)
    return (*hours, wall.week_pulls.get(week, 0), person.pulls_week)


def pages(wall: Wall, sheets: dict[str, Cells]) -> Findings:
    """Each person's pages: the words at the head; of each week its sums, of each day hours, candy and jobs."""
    pages = {text(cells.get(1, {}), 1): (t, cells) for t, cells in sheets.items() if t.startswith("Person ")}
    for person in wall.r.season.crew:
        title, cells = pages.get(str(plain(person.name)), ("", {}))
        if not title:
            yield Violation("workbook", person.name, "There is no page for this person.")
            continue
        yield from differences(title, _page(wall, person), _page_found(cells))


def _page_found(cells: Cells) -> list[Facts]:
    """(week, day, row below the day, words) of every filled cell; before the first week and for its sums no day."""
    found: list[Facts] = []
    week, days, below = "", dict[int, str](), 0
    for number, row in sorted(cells.items()):
        if number == 1:
            continue
        if len(row) == 1 and re.match(r"Week \d+: \d+ days?, \d", text(row, 1)):
            week, days = text(row, 1), {}
            found.append((week,))
        elif week and not days:
            days, below = {column: text(row, column) for column in row}, 0
        else:
            below += 1
            found += [(week, days.get(column, ""), below if week else 0, text(row, column)) for column in row]
    return found


def _page(wall: Wall, person: Person) -> list[Facts]:
    own = {day for name, day in wall.shift if name == person.name}
    found: list[Facts] = [("", "", 0, words) for words in _page_head(wall, person, len(own))]
    weekdays = {d.weekday() for d in wall.r.season.days if wall.r.hours(d)} | {d.weekday() for d in own} or {0}
    monday = wall.r.kitchen.first_day - timedelta(days=wall.r.kitchen.first_day.weekday())
    while monday <= wall.r.kitchen.last_day:
        days = [monday + timedelta(days=i) for i in sorted(weekdays)]
        words = _week_words(wall, person, monday, sum(d in own for d in days))
        found.append((words,))
        for day in days:
            lines = (
                [_about(wall, person, day), _jobs(wall, person, day)] if day in own else [wall.off(person.name, day)]
            )
            found += [(words, day_short(day), below, line) for below, line in enumerate(lines, 1) if line]
        monday += timedelta(days=7)
    return found


def _page_head(wall: Wall, person: Person, days: int) -> list[str]:
    said = [f"{wall.r.kitchen.name}: {count(days, 'day')} in this plan. {NUMBERED}"]
    if person.pulls_day or person.pulls_week:
        said.append(
            f"At most {person.pulls_day:,} pulls a day and {person.pulls_week:,} a week. These limits are the "
            "kitchen's own: say so when arms hurt."
        )
    return said + (["No hot work (young worker)."] if person.young else [])


def _week_words(wall: Wall, person: Person, monday: date, days: int) -> str:
    week = week_of(person.name, monday)
    paid, contract = wall.paid.get(week, 0), person.contracted_minutes
    words = f"Week {week[2]}: {count(days, 'day')}, {length(paid)} paid"
    words += f" (contract {length(contract)}, longest {length(person.longest_minutes)})"
    words += f", {length(paid - contract)} of it overtime" if days and paid > contract else ""
    pulls = wall.week_pulls.get(week, 0)
    return words + (f", {pulls:,} of {person.pulls_week:,} pulls" if person.pulls_week else "")


def _about(wall: Wall, person: Person, day: date) -> str:
    """Hours, paid time, pulls, and the candy by batch number."""
    shift = wall.shift[person.name, day]
    pulls = _pulls(wall, person, day)
    numbers: dict[str, list[str]] = defaultdict(list)
    for work in _in_order(wall, person, day):
        if work.design and (number := work.short.split(" ")[0]) not in numbers[work.design]:
            numbers[work.design].append(number)
    inside = {d.name: f" ({names(d.allergens)})" for d in wall.r.season.designs if d.allergens}
    candy = ", ".join(
        f"{'+'.join(sorted(own, key=int))} {design}{inside.get(design, '')}" for design, own in numbers.items()
    )
    hours = f"{span(shift.starts, shift.ends)}, {length(paid_minutes(wall.r, shift))} paid"
    step = wall.r.kitchen.clock_step
    shortest = -(-max(1, person.shortest_shift) // step) * step
    hours += ", the shortest call-in" if shortest == shift.ends - shift.starts else ""
    return " ".join(filter(None, (hours, pulls, candy)))


def _jobs(wall: Wall, person: Person, day: date) -> str:
    lines = [(w.starts, f"{span(w.starts, w.ends)} {w.long}") for w in _in_order(wall, person, day)]
    lines += [(starts, f"{span(starts, ends)} free") for starts, ends in wall.free(person.name, day)]
    return " ".join(words for _, words in sorted(lines, key=lambda line: line[0]))


def _in_order(wall: Wall, person: Person, day: date) -> list[Work]:
    return sorted(wall.work[day].get(person.name, []), key=lambda w: (w.starts, w.ends, w.batch, w.name))
