"""The calendar: designs down, days across, six weeks to a page; letters mark what a day is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from scheduler.paper.figures import Figures, weeks
from scheduler.paper.listing import SMALL, paragraph, title
from scheduler.paper.looks import Look
from scheduler.paper.sheet import Book, Sheet
from scheduler.paper.words import MONTHS, WEEKDAYS, day_short, percent
from scheduler.season.rules import opening, shows_on

WEEKS_A_PAGE = 6
NAME_PIXELS, DAY_PIXELS = 148, 21
ROOM = 390.0  # points for the rows of a block on its page

NAME = Look(size=9, edge="trbl", indent=1, wrap=False, shrink=True)
NAME_BOLD = replace(NAME, bold=True)
HEAD = Look(size=8, bold=True, fill="D9D9D9", edge="trbl", across="center", wrap=False)
DAY = Look(size=9, edge="tb", across="center", wrap=False, form="#,##0")
LETTERS = Look(size=7, bold=True, edge="tb", across="center", wrap=False, shrink=True)
GREYS = ((90, "A6A6A6"), (75, "C4C4C4"), (50, "DEDEDE"), (1, "F2F2F2"))  # fullness from, fill


def calendar(book: Book, figures: Figures, title_of: Mapping[date, str]) -> Sheet:
    """Write the calendar; ``title_of`` names the run sheet of a day."""
    sheet = book.sheet("Calendar", tab="666666")
    all_weeks = weeks(figures.season)
    blocks = [all_weeks[at : at + WEEKS_A_PAGE] for at in range(0, len(all_weeks), WEEKS_A_PAGE)]
    across = 7 * max(len(b) for b in blocks)
    sheet.columns([NAME_PIXELS] + [max(DAY_PIXELS, min(40, 885 // across))] * across)
    title(sheet, f"Calendar, {figures.season.kitchen.name}")
    paragraph(sheet, _legend(figures), SMALL)
    for number, block in enumerate(blocks):
        if number:
            sheet.break_before(sheet.row)
        _block(sheet, figures, block, title_of)
    sheet.freeze(1, 2)
    return sheet


def _legend(figures: Figures) -> str:
    return (
        "C closed, H holiday, S show, X show not held, D something is due. The number beside a design is its batches "
        'that day. "Most batches": how many could be started at most, by stations, people and shows. '
        '"People % at work": minutes at a job of the minutes paid. The darker, the fuller; hatched or grey: closed. '
        "A date leads to its run sheet."
    )


def _block(sheet: Sheet, figures: Figures, block: list[list[date]], title_of: Mapping[date, str]) -> None:
    season = figures.season
    days = [day for week in block for day in week]
    _heads(sheet, figures, days, title_of)
    due_packs: dict[int, int] = defaultdict(int)
    for line in figures.lines.values():
        due_packs[line.due] += line.asked
    _row(sheet, "Marks", [_marks(figures, day, due_packs) for day in days], days, figures, LETTERS, NAME_BOLD)
    made: dict[tuple[str, date], int] = defaultdict(int)
    for plan_day in figures.plan.days:
        for batch in plan_day.batches:
            made[batch.design, plan_day.day] += 1
    for design in season.designs:
        _row(sheet, design.name, [made.get((design.name, d)) for d in days], days, figures, DAY, NAME)
    bold = replace(DAY, bold=True)
    total = [len(figures.day_plan[d].batches) or None if d in figures.day_plan else None for d in days]
    most = [figures.most.get(d) or None for d in days]
    fullness = [percent(n or 0, m or 0) for n, m in zip(total, most, strict=True)]
    _row(sheet, "Batches", total, days, figures, bold, NAME_BOLD, fullness)
    _row(sheet, "Most batches", most, days, figures, DAY, NAME)
    wanted = [due_packs.get(season.index(d)) for d in days]
    packs = [sum(p.packs for p in figures.day_plan[d].packing) or None if d in figures.day_plan else None for d in days]
    _row(sheet, "Packs packed", packs, days, figures, replace(DAY, size=7, shrink=True), NAME)
    _row(sheet, "Packs due", wanted, days, figures, replace(DAY, size=7, shrink=True), NAME)
    work = [
        percent(figures.load[d].at_work, figures.load[d].in_paid) or None if d in figures.load else None for d in days
    ]
    _row(sheet, "People % at work", work, days, figures, replace(DAY, shrink=True), NAME, work)
    people = [len(figures.day_plan[d].shifts) or None if d in figures.day_plan else None for d in days]
    _row(sheet, "People in", people, days, figures, DAY, NAME)
    named = [f"{day_short(s.day)} {s.name}" for s in season.special_days if s.name and days[0] <= s.day <= days[-1]]
    if named:
        paragraph(sheet, f"To know: {', '.join(named)}.", replace(SMALL, ink="000000"))
    sheet.height(sheet.row, 12)
    sheet.row += 1


def _heads(sheet: Sheet, figures: Figures, days: list[date], title_of: Mapping[date, str]) -> None:
    """Week and month, weekday letter, day of the month."""
    row = sheet.row
    for at in range(0, len(days), 7):
        monday, sunday = days[at], days[at + 6]
        months = MONTHS[monday.month - 1]
        months += "" if sunday.month == monday.month else f" / {MONTHS[sunday.month - 1]}"
        words = f"{months} {sunday.year}, week {monday.isocalendar()[1]}"
        sheet.put(row, 2 + at, words, replace(HEAD, shrink=True), wide=7)
    sheet.put(row, 1, "", HEAD)
    sheet.put(row + 1, 1, "", HEAD)
    sheet.put(row + 2, 1, "Design", replace(HEAD, across="left", indent=1))
    for at, day in enumerate(days):
        edge = _edge(at)
        sheet.put(row + 1, 2 + at, WEEKDAYS[day.weekday()][:2], replace(HEAD, size=7, edge=edge))
        outside = not figures.season.kitchen.first_day <= day <= figures.season.kitchen.last_day
        sheet.put(row + 2, 2 + at, None if outside else day, replace(HEAD, edge=edge, form="d"))
        if day in title_of:
            sheet.link(row + 2, 2 + at, title_of[day])
    sheet.row += 3


def _edge(at: int) -> str:
    """Thin lines above and below, and a line at the left of each Monday."""
    return "tbl" if at % 7 == 0 else "tbr" if at % 7 == 6 else "tb"


def _marks(figures: Figures, day: date, due: Mapping[int, int]) -> str | None:
    season = figures.season
    if not season.kitchen.first_day <= day <= season.kitchen.last_day:
        return None
    marks = "C" if opening(season, day) is None else ""
    marks += "H" if any(s.day == day and s.mark == "holiday" for s in season.special_days) else ""
    plan_day = figures.day_plan.get(day)
    missed = bool(plan_day and plan_day.missed_shows)
    marks += "X" if missed else "S" if shows_on(season, day) else ""
    marks += "D" if due.get(season.index(day)) else ""
    return marks or None


def _row(
    sheet: Sheet, name: str, values: Sequence[object], days: list[date], figures: Figures,
    look: Look, name_look: Look, percents: Sequence[int | None] = (),
) -> None:  # fmt: skip
    """A row of the block; ``percents`` darken its cells."""
    sheet.put(sheet.row, 1, name, name_look)
    season = figures.season
    for at, (day, value) in enumerate(zip(days, values, strict=True)):
        own = replace(look, edge=_edge(at))
        inside = season.kitchen.first_day <= day <= season.kitchen.last_day
        if not inside or opening(season, day) is None:
            own = replace(own, fill="FFFFFF", pattern="lightUp")
        elif percents:
            own = replace(own, fill=next((grey for least, grey in GREYS if (percents[at] or 0) >= least), ""))
        sheet.put(sheet.row, 2 + at, value, own)
    sheet.height(sheet.row, min(22.0, max(16.0, ROOM / (len(season.designs) + 8))))
    sheet.row += 1
