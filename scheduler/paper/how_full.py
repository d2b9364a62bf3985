"""How full each day is: the figures behind the load picture."""

from __future__ import annotations

from scheduler.paper.figures import Figures, Load
from scheduler.paper.listing import DAY, NUMBER, TIME, Column, table, title
from scheduler.paper.looks import PERCENT, Look
from scheduler.paper.sheet import Book, Sheet
from scheduler.plan.types import DayPlan

SAID = (
    "Room for more: batches that could still be started, by stations, people and shows. Stations: minutes in use, "
    "cleaning included, of those in which batches can use them; the packing station, of the opening hours. "
    "People: minutes at a job of the minutes paid."
)
SHARE = Look(size=9, edge="trbl", across="center", form=PERCENT, wrap=False)


def how_full(book: Book, figures: Figures) -> tuple[Sheet, int, int]:
    """Write a row for each open day; returns the sheet and its first and last row of figures.

    Column 1 is the day, 2 the batches, 3 how many more could be started.
    """
    sheet = book.sheet("How full", landscape=False, tab="666666")
    season = figures.season
    stations = [s.name for s in season.stations]
    wide = max(62, min(100, 520 // max(1, len(stations))))
    columns = [
        Column("Day", 118, DAY), Column("Batches", 64, NUMBER), Column("Room for more", 60, NUMBER),
        Column("Packs packed", 60, NUMBER), Column("People in", 56, NUMBER), Column("Hours paid", 56, TIME),
        Column("People at work", 62, SHARE), *(Column(s, wide, SHARE) for s in stations),
    ]  # fmt: skip
    sheet.columns([c.pixels for c in columns])
    title(sheet, "How full each day is", SAID)
    cells: list[tuple[object, ...]] = []
    for day, most in figures.most.items():
        plan_day, load = figures.day_plan.get(day, DayPlan(day)), figures.load.get(day, Load({}, 0, 0))
        room = figures.room[day]
        cells.append(
            (
                day, len(plan_day.batches), most - len(plan_day.batches), sum(p.packs for p in plan_day.packing),
                len(plan_day.shifts), load.in_paid / 1440, load.at_work / load.in_paid if load.in_paid else 0,
                *(round(min(1.0, load.used.get(s, 0) / room[s]), 4) if room[s] else 0 for s in stations),
            )
        )  # fmt: skip
    table(sheet, columns, cells, empty="No open day.")
    last = sheet.row - 1
    return sheet, last - len(cells) + 1, last
