"""The list of sheets, each one a click away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scheduler.paper.figures import Figures
from scheduler.paper.listing import DAY, HEAD, NUMBER, SUBTITLE, TEXT, Column, paragraph, title
from scheduler.paper.sheet import Sheet
from scheduler.paper.text import line_points, lines_needed
from scheduler.paper.words import clock, count
from scheduler.plan.types import DayPlan

PLAIN = replace(TEXT, wrap=False)
LINK = replace(PLAIN, ink="1F3864")
DAYS = (
    Column("Run sheet", 132, replace(DAY, ink="1F3864")),
    Column("Batches", 64, NUMBER),
    Column("First start", 76, PLAIN),
    Column("Done", 56, PLAIN),
    Column("Packs", 56, NUMBER),
    Column("What", 136, TEXT),
    Column("", 110, TEXT),
    Column("", 70, TEXT),
)
ROW_POINTS = 13.5


def contents(
    sheet: Sheet, figures: Figures, others: Sequence[tuple[str, str]], days: Sequence[tuple[str, DayPlan]],
    people: Sequence[tuple[str, str]],
) -> None:  # fmt: skip
    """Fill the contents sheet: (title, what it is) of the season's sheets, run sheets, (title, person) pages."""
    sheet.columns([c.pixels for c in DAYS])
    title(sheet, "Contents", "Click a name to go there.")
    first = sheet.row
    for at, (name, words) in enumerate(others):
        _link(sheet, first + at, 1, name, name)
        sheet.put(first + at, 2, words, replace(PLAIN, shrink=True), wide=5)
    for at, (page, person) in enumerate(people):
        own = sum((person, d.day) in figures.shift for _, d in days)
        _link(sheet, first + at, 7, page, person)
        sheet.put(first + at, 8, count(own, "day"), PLAIN)
    for _ in range(max(len(others), len(people))):
        sheet.height(sheet.row, ROW_POINTS)
        sheet.row += 1
    if not days:
        return
    paragraph(sheet, "Run sheets", SUBTITLE)
    sheet.repeat(sheet.row, sheet.row)
    for number, column in enumerate(DAYS[:6], 1):
        look = replace(HEAD, across=column.look.across, indent=1)
        sheet.put(sheet.row, number, column.heading, look, wide=3 if number == 6 else 1)
    sheet.height(sheet.row, ROW_POINTS + 3)
    sheet.row += 1
    for page, day in days:
        _day(sheet, figures, page, day)


def _link(sheet: Sheet, row: int, column: int, page: str, name: str) -> None:
    sheet.put(row, column, name, replace(LINK, shrink=True))
    sheet.link(row, column, page)


def _day(sheet: Sheet, figures: Figures, page: str, day: DayPlan) -> None:
    designs: dict[str, int] = {}
    for batch in day.batches:
        designs[batch.design] = designs.get(batch.design, 0) + 1
    words = ", ".join(f"{n} {name}" for name, n in designs.items())
    cells = (
        day.day, len(day.batches), clock(day.batches[0].pour) if day.batches else None,
        clock(max(b.ends for b in day.batches)) if day.batches else None,
        sum(p.packs for p in day.packing), words or ("packing only" if day.packing else "no batch"),
    )  # fmt: skip
    for number, (value, column) in enumerate(zip(cells, DAYS, strict=False), 1):
        sheet.put(sheet.row, number, value, column.look, wide=3 if number == 6 else 1)
    sheet.link(sheet.row, 1, page)
    lines = lines_needed(words, sheet.width(6, 3) - 9, 9)
    sheet.height(sheet.row, ROW_POINTS + (lines - 1) * line_points(9))
    sheet.row += 1
