"""A page for each person: own days, hours, jobs with clock times and pulls; nobody else's pay, no customers."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from scheduler.paper.figures import Figures, Job
from scheduler.paper.listing import (
    BOLD,
    LETTER,
    NUMBER,
    SMALL,
    SUBTITLE,
    TEXT,
    TIME,
    Column,
    head,
    paragraph,
    rows,
    table,
    title,
)
from scheduler.paper.looks import CLOCK, Look
from scheduler.paper.sheet import PAGE_POINTS, Book, Sheet
from scheduler.paper.words import count, day_long, length, span
from scheduler.plan.summary import paid_minutes
from scheduler.season.types import Person

PLAIN, MIDDLE = replace(TEXT, size=8), replace(LETTER, size=8)
MOMENT = Look(size=8, edge="trbl", across="center", form=CLOCK, wrap=False)
JOBS = (
    Column("From", 60, MOMENT),
    Column("To", 60, MOMENT),
    Column("What", 175, PLAIN),
    Column("As", 90, PLAIN),
    Column("Design", 110, PLAIN),
    Column("Batch", 70, MIDDLE),
    Column("Where", 105, PLAIN),
    Column("Pulls", 50, replace(NUMBER, across="center", size=8, indent=0)),
)
WEEKS = ("Week", "Days", "Hours", "Contract", "Longest", "Overtime", "Pulls", "Most pulls")


def person_page(book: Book, figures: Figures, person: Person, page_title: str) -> Sheet:
    """Write one person's page, upright."""
    sheet = book.sheet(page_title, landscape=False)
    sheet.columns([c.pixels for c in JOBS])
    title(sheet, person.name)
    own = [d for d in figures.plan.days if (person.name, d.day) in figures.shift]
    kitchen = figures.season.kitchen
    paragraph(sheet, f"{kitchen.name}: {count(len(own), 'day')} in this plan.")
    if person.pulls_day or person.pulls_week:
        paragraph(
            sheet,
            f"At most {person.pulls_day} pulls a day and {person.pulls_week} a week. These limits are the kitchen's "
            "own: say so when arms hurt.",
            SMALL,
        )
    if person.young:
        paragraph(sheet, "No hot work (young worker).", replace(SMALL, bold=True, ink="000000"))
    sheet.repeat(1, 1)
    _weeks(sheet, figures, person)
    page = 1
    for day in own:
        first = sheet.row
        _day(sheet, figures, person, day.day)
        if page < first and sheet.points(page) > PAGE_POINTS[False] - 27:
            sheet.break_before(first)
            page = first
    return sheet


def _weeks(sheet: Sheet, figures: Figures, person: Person) -> None:
    own = [w for key, w in sorted(figures.week.items(), key=lambda kv: kv[0][1:]) if key[0] == person.name]
    if not own:
        return
    paragraph(sheet, "Weeks", SUBTITLE)
    looks = (TIME, LETTER, TIME, TIME, TIME, TIME, LETTER, LETTER)
    columns = [Column(h, c.pixels, look) for h, c, look in zip(WEEKS, JOBS, looks, strict=True)]
    columns[0] = replace(columns[0], look=replace(BOLD, across="center", indent=0))
    head(sheet, columns)
    rows(
        sheet,
        columns,
        [
            (
                f"{w.week}", w.days, w.paid_minutes / 1440, person.contracted_minutes / 1440,
                person.longest_minutes / 1440, w.overtime_minutes / 1440, w.pulls, person.pulls_week,
            )
            for w in own
        ],
    )  # fmt: skip


def _day(sheet: Sheet, figures: Figures, person: Person, day: date) -> None:
    shift = figures.shift[person.name, day]
    jobs = [j for j in figures.jobs[day] if j.person == person.name]
    words = f"{day_long(day)}, {span(shift.starts, shift.ends)}"
    about = [f"{length(paid_minutes(figures.season, shift))} paid"]
    if shift.break_starts is not None and shift.break_ends is not None:
        about.append(f"break {span(shift.break_starts, shift.break_ends)}")
    pulls = figures.pulls.get((person.name, day), 0)
    if pulls:
        about.append(f"{pulls} of {person.pulls_day} pulls")
    paragraph(sheet, words, SUBTITLE)
    sheet.height(sheet.row - 1, 24)
    paragraph(sheet, ", ".join(about), SMALL)
    table(sheet, JOBS, [_job(figures, job) for job in jobs], repeat=False)


def _job(figures: Figures, job: Job) -> tuple[object, ...]:
    where = job.station
    if job.station and figures.season.places.get(job.station, 1) > 1:
        where += f" {job.place}"
    what = {"packing": f"pack {count(job.packs, 'pack')} of {job.name}", "show": f"show hand, {job.note}"}.get(
        job.kind, job.name
    )
    if job.kind == "clean":
        what = f"clean, {job.note}" if job.note else "clean"
    return (
        job.starts / 1440, job.ends / 1440, what, job.role or None, job.design or None, job.batch or None,
        where or None, job.pulls or None,
    )  # fmt: skip
