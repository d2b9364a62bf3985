"""Crew sheet and people's pages read back and held against the plan."""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta

from scheduler.audit.people import pulls_of
from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wall import Cells
from scheduler.audit.wall_days import jobs
from scheduler.audit.wall_words import (
    Facts,
    block,
    day_long,
    day_short,
    differences,
    length,
    plain,
    says,
    span,
    tables,
    text,
)
from scheduler.audit.weeks import paid_minutes, paid_weeks, week_of
from scheduler.plan.types import DayPlan, Plan, Shift
from scheduler.season.types import Person

SUMS = ("Hours", "Contract", "Longest", "Overtime", "Pulls", "Most pulls")


def crew(r: Reading, plan: Plan, cells: Cells) -> Findings:
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
    paid, pulls = paid_weeks(r, plan), _week_pulls(r, plan)
    by_day = {day.day: day for day in plan.days}
    first, last = r.kitchen.first_day, r.kitchen.last_day
    monday = first - timedelta(days=first.weekday())
    while monday <= last:
        week_days = [monday + timedelta(days=i) for i in range(7)]
        expected.append((f"Week {monday.isocalendar()[1]}", *map(day_short, week_days), *SUMS))
        for person in r.season.crew:
            week = week_of(person.name, monday)
            days = tuple(_crew_day(r, by_day.get(day), person) for day in week_days)
            minutes = paid.get(week, 0)
            over = max(0, minutes - person.contracted_minutes)
            sums = (minutes / 1440, person.contracted_minutes / 1440, person.longest_minutes / 1440, over / 1440)
            expected.append((day_short(monday), person.name, *days, *sums, pulls.get(week, 0), person.pulls_week))
        monday += timedelta(days=7)
    yield from differences("Crew", expected, found)


def _crew_day(r: Reading, day: DayPlan | None, person: Person) -> str:
    shift = _shift(day, person.name)
    if day is None or shift is None:
        return ""
    number = sum(words != "break" for _, _, words in jobs(day).get(person.name, []))
    said = f"{span(shift.starts, shift.ends)} {number} {'job' if number == 1 else 'jobs'}"
    pulls = _day_pulls(r, day).get(person.name, 0)
    return said + (f" {pulls} of {person.pulls_day} pulls" if pulls else "")


def _shift(day: DayPlan | None, person: str) -> Shift | None:
    return next((s for s in day.shifts if s.person == person), None) if day is not None else None


def _day_pulls(r: Reading, day: DayPlan) -> dict[str, int]:
    return {name: sum(pulls for _, _, pulls, _ in runs) for name, runs in pulls_of(r, day).items()}


def _week_pulls(r: Reading, plan: Plan) -> dict[tuple[str, int, int], int]:
    weeks: dict[tuple[str, int, int], int] = defaultdict(int)
    for day in plan.days:
        for name, pulls in _day_pulls(r, day).items():
            weeks[week_of(name, day.day)] += pulls
    return weeks


def pages(r: Reading, plan: Plan, sheets: dict[str, Cells]) -> Findings:
    """Each person's page: own weeks, days and jobs."""
    pages = {text(cells.get(1, {}), 1): (t, cells) for t, cells in sheets.items() if t.startswith("Person ")}
    for person in r.season.crew:
        title, cells = pages.get(str(plain(person.name)), ("", {}))
        if not title:
            yield Violation("workbook", person.name, "There is no page for this person.")
            continue
        headings: tuple[str, ...] = ("From", "To", "What", "As", "Design", "Batch", "Where", "Pulls")
        yield from says(title, _page_head(r, plan, person), cells)
        found: list[Facts] = []
        for number, rows in tables(cells, headings):
            head, about = text(cells.get(number - 2, {}), 1), text(cells.get(number - 1, {}), 1)
            found += [(head, about), *((head, *row) for row in rows)]
        yield from differences(title, [row for day in plan.days for row in _page_day(r, day, person)], found)
        headings = ("Week", "Days", "Hours", "Contract", "Longest", "Overtime", "Pulls", "Most pulls")
        rows = [row for _, rows in tables(cells, headings) for row in rows]
        yield from differences(f"{title}, weeks", _page_weeks(r, plan, person), rows)


def _page_head(r: Reading, plan: Plan, person: Person) -> list[str]:
    """What a page must not leave out: own days, own limits, no hot work for the young."""
    days = sum(_shift(day, person.name) is not None for day in plan.days)
    said = [f"{days} {'day' if days == 1 else 'days'} in this plan"]
    if person.pulls_day or person.pulls_week:
        said.append(f"{person.pulls_day} pulls a day and {person.pulls_week} a week")
    return said + (["No hot work"] if person.young else [])


def _page_weeks(r: Reading, plan: Plan, person: Person) -> list[Facts]:
    days: dict[tuple[str, int, int], int] = defaultdict(int)
    for day in plan.days:
        if _shift(day, person.name):
            days[week_of(person.name, day.day)] += 1
    paid, pulls = paid_weeks(r, plan), _week_pulls(r, plan)
    contract, longest = person.contracted_minutes, person.longest_minutes
    return [
        (
            str(week[2]), number, paid[week] / 1440, contract / 1440, longest / 1440,
            max(0, paid[week] - contract) / 1440, pulls.get(week, 0), person.pulls_week,
        )
        for week, number in days.items()
    ]  # fmt: skip


def _page_day(r: Reading, day: DayPlan, person: Person) -> list[Facts]:
    shift = _shift(day, person.name)
    if shift is None:
        return []
    head = f"{day_long(day.day)}, {span(shift.starts, shift.ends)}"
    about = [f"{length(paid_minutes(r, shift))} paid"]
    if shift.break_starts is not None and shift.break_ends is not None:
        about.append(f"break {span(shift.break_starts, shift.break_ends)}")
    pulls = _day_pulls(r, day).get(person.name, 0)
    about += [f"{pulls} of {person.pulls_day} pulls"] if pulls else []
    out: list[Facts] = [(head, ", ".join(about))]
    return out + [(head, job[0] / 1440, job[1] / 1440, *job[2:]) for job in _page_jobs(r, day, shift)]


PageJob = tuple[int, int, str, str | None, str | None, str | None, str | None, int | None]


def _page_jobs(r: Reading, day: DayPlan, shift: Shift) -> list[PageJob]:
    """(starts, ends, what, as, design, batch, where, pulls) of a person's day."""
    name, out = shift.person, list[PageJob]()
    for batch in day.batches:
        for run in batch.runs:
            for role, person in run.crew:
                if person == name:
                    pulls = r.pulls(batch.design, run.stage, role) or None
                    where = _where(r, run.station, run.place)
                    out.append((run.starts, run.ends, run.stage, role, batch.design, batch.id, where, pulls))
    words = {"opening": "open up", "closing": "close down"}
    for task in day.tasks:
        if name in task.people:
            said = {"clean": f"clean, {task.note}" if task.note else "clean", "show": f"show hand, {task.note}"}
            what = said.get(task.kind, words.get(task.kind, ""))
            at = _where(r, task.station, task.place) if task.station else None
            out.append((task.starts, task.ends, what, None, None, None, at, None))
    for pack in day.packing:
        if pack.person == name:
            what = f"pack {pack.packs:,} {'pack' if pack.packs == 1 else 'packs'} of {pack.product}"
            where = _where(r, r.kitchen.packing_station, pack.place)
            out.append((pack.starts, pack.ends, what, None, None, None, where, None))
    if shift.break_starts is not None and shift.break_ends is not None:
        out.append((shift.break_starts, shift.break_ends, "break", None, None, None, None, None))
    return out


def _where(r: Reading, station: str, place: int) -> str:
    return f"{station} {place}" if r.season.places.get(station, 1) > 1 else station
