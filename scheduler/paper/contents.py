"""The list of sheets, each one a click away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scheduler.paper.figures import Figures
from scheduler.paper.listing import DAY, NUMBER, SUBTITLE, TEXT, Column, paragraph, table, title
from scheduler.paper.sheet import Sheet
from scheduler.paper.words import clock, count
from scheduler.plan.types import DayPlan

LINK = replace(TEXT, ink="1F3864")
DAYS = (
    Column("Run sheet", 130, replace(DAY, ink="1F3864")),
    Column("Batches", 60, NUMBER),
    Column("First pour", 80, TEXT),
    Column("Done", 60, TEXT),
    Column("Packs", 60, NUMBER),
    Column("What", 310, TEXT),
)


def contents(
    sheet: Sheet, figures: Figures, others: Sequence[tuple[str, str]], days: Sequence[tuple[str, DayPlan]],
    people: Sequence[tuple[str, str]],
) -> None:  # fmt: skip
    """Fill the contents sheet: (title, what it is) of the season's sheets, run sheets, (title, person) pages."""
    sheet.columns([c.pixels for c in DAYS])
    title(sheet, "Contents", "Click a name to go there.")
    for name, words in others:
        _line(sheet, name, name, words)
    if people:
        paragraph(sheet, "A page for each person", SUBTITLE)
        for page, person in people:
            own = sum((person, d.day) in figures.shift for _, d in days)
            _line(sheet, page, person, count(own, "day"))
    if days:
        paragraph(sheet, "Run sheets", SUBTITLE)
        first = sheet.row + 1
        table(sheet, DAYS, [_day(figures, day) for _, day in days])
        for at, (page, _) in enumerate(days):
            sheet.link(first + at, 1, page)


def _line(sheet: Sheet, page: str, name: str, words: str) -> None:
    sheet.put(sheet.row, 1, name, LINK)
    sheet.link(sheet.row, 1, page)
    sheet.put(sheet.row, 2, words, TEXT, wide=5)
    sheet.height(sheet.row, 16)
    sheet.row += 1


def _day(figures: Figures, day: DayPlan) -> tuple[object, ...]:
    designs: dict[str, int] = {}
    for batch in day.batches:
        designs[batch.design] = designs.get(batch.design, 0) + 1
    words = ", ".join(name if n == 1 else f"{n} {name}" for name, n in designs.items())
    return (
        day.day, len(day.batches), clock(day.batches[0].pour) if day.batches else None,
        clock(max(b.ends for b in day.batches)) if day.batches else None,
        sum(p.packs for p in day.packing), words or ("packing only" if day.packing else "no batch"),
    )  # fmt: skip
