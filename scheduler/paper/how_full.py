"""How full each day is: the figures behind the load picture."""

from __future__ import annotations

from scheduler.paper.figures import Figures
from scheduler.paper.listing import DAY, NUMBER, TIME, Column, table, title
from scheduler.paper.looks import PERCENT, Look
from scheduler.paper.sheet import Book, Sheet
from scheduler.season.rules import opening

SHARE = Look(size=9, edge="trbl", across="center", form=PERCENT, wrap=False)


def how_full(book: Book, figures: Figures) -> tuple[Sheet, int, int]:
    """Write a row for each open day; returns the sheet and its first and last row of figures.

    Column 1 is the day, 2 the batches, 7 the share of the busiest station.
    """
    sheet = book.sheet("How full", landscape=False, tab="666666")
    season = figures.season
    others = [s.name for s in season.stations if s.name != figures.busiest]
    stations = [figures.busiest, *others] if figures.busiest else others
    wide = max(62, min(100, 560 // max(1, len(stations))))
    columns = [
        Column("Day", 118, DAY), Column("Batches", 60, NUMBER), Column("Packs packed", 60, NUMBER),
        Column("People in", 60, NUMBER), Column("Hours paid", 60, TIME),
        Column("People at work", 62, SHARE), *(Column(s, wide, SHARE) for s in stations),
    ]  # fmt: skip
    sheet.columns([c.pixels for c in columns])
    title(
        sheet,
        "How full each day is",
        "Stations: minutes in use, cleaning included, of the places times the opening hours. People: minutes at a job "
        "of the minutes paid.",
    )
    cells: list[tuple[object, ...]] = []
    for day in season.days:
        if opening(season, day) is None and day not in figures.day_plan:
            continue
        plan_day, load = figures.day_plan.get(day), figures.load.get(day)
        if plan_day is None or load is None:
            cells.append((day, 0, 0, 0, 0, 0, *[0] * len(stations)))
            continue
        cells.append(
            (
                day, len(plan_day.batches), sum(p.packs for p in plan_day.packing), len(plan_day.shifts),
                load.in_paid / 1440, load.at_work / load.in_paid if load.in_paid else 0,
                *(round(load.fullness(s), 4) for s in stations),
            )
        )  # fmt: skip
    table(sheet, columns, cells, empty="No open day.")
    last = sheet.row - 1
    return sheet, last - len(cells) + 1, last
