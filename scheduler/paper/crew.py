"""The crew: people by days, a week at a time, with hours, jobs and pulls against the limits."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from scheduler.paper.figures import Figures, weeks
from scheduler.paper.listing import SMALL, paragraph, title
from scheduler.paper.looks import HOURS, Look
from scheduler.paper.sheet import PAGE_POINTS, Book, Sheet
from scheduler.paper.text import line_points, lines_needed
from scheduler.paper.words import day_short, span
from scheduler.season.rules import opening

HEAD = Look(size=9, bold=True, fill="D9D9D9", edge="trbl", across="center")
NAME = Look(size=9, bold=True, edge="trbl", indent=1)
DAY = Look(size=8, edge="trbl", across="center")
OFF = Look(size=8, edge="trbl", across="center", ink="666666")
SHUT = Look(size=8, edge="trbl", across="center", fill="FFFFFF", pattern="lightUp")
TOTAL = Look(size=9, edge="trbl", across="center", form=HOURS, wrap=False)
PULLS = Look(size=9, edge="trbl", across="center", form="#,##0", wrap=False)
WIDTHS = [120, *[92] * 7, 58, 60, 60, 62, 50, 50]
TOTALS = ("Hours", "Contract", "Longest", "Overtime", "Pulls", "Most pulls")


def crew(book: Book, figures: Figures) -> Sheet:
    """Write the crew sheet: a block a week, people down, days across, the week's sums at the right."""
    sheet = book.sheet("Crew", tab="666666")
    sheet.columns(WIDTHS)
    title(sheet, f"Crew, {figures.season.kitchen.name}")
    paragraph(
        sheet,
        "Hours in and out, number of jobs, and pulls of the most allowed that day. Paid are the hours in, also where "
        "they are fewer than the contract's. The pull limits are the kitchen's own; local rules on working time "
        "come first.",
        SMALL,
    )
    page = 1
    for week in weeks(figures.season):
        first = sheet.row
        _week(sheet, figures, week)
        if page < first and sheet.points(page) > PAGE_POINTS[True]:
            sheet.break_before(first)
            page = first
    return sheet


def _week(sheet: Sheet, figures: Figures, week: list[date]) -> None:
    year, number, _ = week[0].isocalendar()
    sheet.put(sheet.row, 1, f"Week {number}", replace(HEAD, across="left", indent=1))
    for at, day in enumerate(week):
        sheet.put(sheet.row, 2 + at, day_short(day), HEAD)
    for at, words in enumerate(TOTALS):
        sheet.put(sheet.row, 9 + at, words, replace(HEAD, size=8))
    sheet.height(sheet.row, 26)
    sheet.row += 1
    for person in figures.season.crew:
        lines = lines_needed(person.name, WIDTHS[0] - 9, 9, True)
        sheet.put(sheet.row, 1, person.name, NAME)
        for at, day in enumerate(week):
            words, look = _day(figures, person.name, day)
            sheet.put(sheet.row, 2 + at, words, look)
            lines = max(lines, words.count("\n") + 1)
        sums = figures.week.get((person.name, year, number))
        minutes = sums.paid_minutes if sums else 0
        for at, value in enumerate(
            (minutes, person.contracted_minutes, person.longest_minutes, sums.overtime_minutes if sums else 0)
        ):
            look = TOTAL if at != 3 or not value else replace(TOTAL, bold=True)
            sheet.put(sheet.row, 9 + at, value / 1440, look)
        sheet.put(sheet.row, 13, sums.pulls if sums else 0, PULLS)
        sheet.put(sheet.row, 14, person.pulls_week, PULLS)
        sheet.height(sheet.row, lines * line_points(8) + 4)
        sheet.row += 1
    sheet.height(sheet.row, 10)
    sheet.row += 1


def why_off(figures: Figures, person: str, day: date) -> str:
    """A word for a day without a shift: closed, away, off; blank outside the season."""
    season = figures.season
    if not season.kitchen.first_day <= day <= season.kitchen.last_day:
        return ""
    if opening(season, day) is None:
        return "closed"
    return "away" if any(a.person == person and a.first_day <= day <= a.last_day for a in season.absences) else "off"


def _day(figures: Figures, person: str, day: date) -> tuple[str, Look]:
    """What a person does on a day in two or three short lines, or why not."""
    season = figures.season
    shift = figures.shift.get((person, day))
    if shift is None:
        words = why_off(figures, person, day)
        return words, SHUT if words in ("", "closed") else OFF
    jobs = [j for j in figures.jobs[day] if j.person == person and j.kind != "break"]
    words = f"{span(shift.starts, shift.ends)}\n{len(jobs)} {'job' if len(jobs) == 1 else 'jobs'}"
    pulls = figures.pulls.get((person, day), 0)
    if pulls:
        words += f"\n{pulls:,} of {season.person_by_name[person].pulls_day:,} pulls"
    return words, DAY
