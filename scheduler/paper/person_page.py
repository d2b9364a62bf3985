"""Pages for each person: own weeks as columns of days with clock times; nobody else's pay, no customers."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date

from scheduler.paper.crew import SHUT, why_off
from scheduler.paper.figures import Figures, Job, weeks
from scheduler.paper.listing import SMALL, SUBTITLE, paragraph, title
from scheduler.paper.looks import Look
from scheduler.paper.sheet import PAGE_PIXELS, PAGE_POINTS, Book, Sheet
from scheduler.paper.text import line_points, lines_needed
from scheduler.paper.words import count, day_short, length, listed, span
from scheduler.plan.summary import paid_minutes
from scheduler.season.rules import opening, shortest_shift
from scheduler.season.types import Person

HEAD = Look(size=9, bold=True, fill="D9D9D9", edge="trbl", across="center", wrap=False)
ABOUT = Look(size=8, bold=True, edge="trbl", up="top", indent=1)
JOBS = Look(size=8, edge="trbl", up="top", indent=1)
OFF = Look(size=8, edge="trbl", ink="666666", across="center")
PIXELS = 1150  # of all columns: printed a little smaller than they are, so that two weeks fit on a page
NUMBERED = (
    "The number before a job is the batch, counted as on the day's run sheet; "
    "above the jobs stands which candy that is. Free: nothing set, help where it is needed. "
    "Paid are the hours in, also where they are fewer than the contract's."
)


def person_page(book: Book, figures: Figures, person: Person, page_title: str) -> Sheet:
    """Write one person's weeks, each whole on its page; days on which the kitchen never opens are left out."""
    sheet = book.sheet(page_title)
    own = {day for name, day in figures.shift if name == person.name}
    open_on = {d.weekday() for d in figures.season.days if opening(figures.season, d)} | {d.weekday() for d in own}
    weekdays = sorted(open_on) or [0]
    sheet.columns([PIXELS // len(weekdays)] * len(weekdays))
    title(sheet, person.name)
    sheet.repeat(1, 1)
    sheet.row -= 1  # no gap: the weeks need the room
    for words, look in _said(figures, person, len(own)):
        paragraph(sheet, words, look)
    page = 1
    for week in weeks(figures.season):
        first = sheet.row
        _week(sheet, figures, person, [week[weekday] for weekday in weekdays])
        again = 0.0 if page == 1 else sheet.heights[1]  # the name is printed on each page
        if page < first and sheet.points(page) + again > PAGE_POINTS[True] * PIXELS / PAGE_PIXELS[True]:
            sheet.break_before(first)
            page = first
    return sheet


def _said(figures: Figures, person: Person, days: int) -> list[tuple[str, Look]]:
    said = [f"{figures.season.kitchen.name}: {count(days, 'day')} in this plan. {NUMBERED}"]
    if person.pulls_day or person.pulls_week:
        said.append(
            f"At most {person.pulls_day:,} pulls a day and {person.pulls_week:,} a week. These limits are the "
            "kitchen's own: say so when arms hurt."
        )
    out = [(words, SMALL) for words in said]
    return [*out, ("No hot work (young worker).", replace(SMALL, bold=True, ink="000000"))] if person.young else out


def _week(sheet: Sheet, figures: Figures, person: Person, days: list[date]) -> None:
    paragraph(sheet, _week_words(figures, person, days), replace(SUBTITLE, size=10))
    sheet.height(sheet.row - 1, 19)
    for at, day in enumerate(days, 1):
        sheet.put(sheet.row, at, day_short(day), HEAD)
    sheet.height(sheet.row, 15)
    sheet.row += 1
    if any((person.name, day) in figures.shift for day in days):
        _boxes(sheet, figures, days, [_about(figures, person, day) for day in days], ABOUT)
        _boxes(sheet, figures, days, [_jobs(figures, person, day) for day in days], JOBS)
    else:
        off = [why_off(figures, person.name, day) for day in days]
        _boxes(sheet, figures, days, off, OFF)


def _boxes(sheet: Sheet, figures: Figures, days: list[date], texts: list[str], look: Look) -> None:
    lines = 1
    for at, (day, words) in enumerate(zip(days, texts, strict=True), 1):
        season = figures.season
        shut = not season.kitchen.first_day <= day <= season.kitchen.last_day or opening(season, day) is None
        own = OFF if "\n" not in words and ":" not in words else look
        sheet.put(sheet.row, at, words, SHUT if shut and own is OFF else own)
        lines = max(lines, lines_needed(words, sheet.width(at) - 9 * look.indent, look.size, look.bold))
    sheet.height(sheet.row, lines * line_points(look.size) + 4)
    sheet.row += 1


def _week_words(figures: Figures, person: Person, days: list[date]) -> str:
    """The week's sums in one line: days, paid hours, overtime, pulls."""
    year, week, _ = days[0].isocalendar()
    sums = figures.week.get((person.name, year, week))
    parts = [count(sums.days if sums else 0, "day"), f"{length(sums.paid_minutes if sums else 0)} paid"]
    parts[1] += f" (contract {length(person.contracted_minutes)}, longest {length(person.longest_minutes)})"
    if sums and sums.overtime_minutes:
        parts.append(f"{length(sums.overtime_minutes)} of it overtime")
    if person.pulls_week:
        parts.append(f"{sums.pulls if sums else 0:,} of {person.pulls_week:,} pulls")
    return f"Week {week}: {', '.join(parts)}"


def _about(figures: Figures, person: Person, day: date) -> str:
    """A day's hours, pay time, pulls and candy; or why the person is off."""
    shift = figures.shift.get((person.name, day))
    if shift is None:
        return why_off(figures, person.name, day)
    lines = [f"{span(shift.starts, shift.ends)}, {length(paid_minutes(figures.season, shift))} paid"]
    lines[0] += ", the shortest call-in" if shift.ends - shift.starts == shortest_shift(figures.season, person) else ""
    if pulls := figures.pulls.get((person.name, day), 0):
        lines.append(f"{pulls:,} of {person.pulls_day:,} pulls")
    numbers: dict[str, list[int]] = defaultdict(list)
    for job in figures.jobs[day]:
        if job.person == person.name and job.number and job.number not in numbers[job.design]:
            numbers[job.design].append(job.number)
    candy = (f"{'+'.join(map(str, sorted(own)))} {_contains(figures, design)}" for design, own in numbers.items())
    return "\n".join([*lines, *([", ".join(candy)] if numbers else [])])


def _contains(figures: Figures, design: str) -> str:
    """A design and its allergens. Example: Speckled Egg (almond)."""
    inside = figures.season.design_by_name[design].allergens
    return f"{design} ({listed(inside)})" if inside else design


def _jobs(figures: Figures, person: Person, day: date) -> str:
    if (person.name, day) not in figures.shift:
        return ""
    lines = [(j.starts, _job(figures, j)) for j in figures.jobs[day] if j.person == person.name]
    free = [(starts, f"{span(starts, ends)} free") for starts, ends in figures.free(person.name, day)]
    return "\n".join(words for _, words in sorted([*lines, *free], key=lambda line: line[0]))


def _job(figures: Figures, job: Job) -> str:
    season = figures.season
    several = job.kind != "packing" and season.places.get(job.station, 1) > 1
    if job.kind == "stage":
        roles = {r.name for r in season.roles if r.stage == job.name}
        what = f"{job.number} {job.name}" + (f", {job.role}" if len(roles) > 1 else "")
    else:
        what = {
            "packing": f"pack {job.packs:,} {job.name}",
            "clean": f"clean {job.station}" + (f", {job.note}" if job.note else ""),
            "show": f"show hand, {job.note}",
        }.get(job.kind, job.name)
    return f"{span(job.starts, job.ends)} {what}" + (f", place {job.place}" if several else "")
