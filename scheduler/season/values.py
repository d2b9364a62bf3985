"""Records back to what a person would have written in the cell, for workbook and CSV alike."""

from __future__ import annotations

import csv
from datetime import date, time
from pathlib import Path
from typing import Any

from scheduler.season.cells import decimal_text
from scheduler.season.columns import Column, Table
from scheduler.season.defaults import setting
from scheduler.season.grids import protected
from scheduler.season.schema import KITCHEN, TABLES, WEEKDAYS
from scheduler.season.tables import KITCHEN_HEADINGS
from scheduler.season.types import Season

CellValue = str | int | float | date | time | None


def records_of(season: Season, table: Table) -> tuple[Any, ...]:
    """The rows of one table of a season; the kitchen is one record."""
    content = getattr(season, table.field)
    return content if isinstance(content, tuple) else (content,)


def cell_value(column: Column, stored: Any) -> CellValue:
    """A stored value as a typed cell: days, clock times and numbers are real ones, never text.

    Example: contracted_minutes 2310 is 38.5; 1440 as a clock time is the text 24:00, which
    no clock cell can hold.
    """
    if stored is None:
        return column.word or None
    if stored == "" or stored == ():
        return None
    match column.kind:
        case "yes":
            return "yes" if stored else "no"
        case "weekday":
            return WEEKDAYS[stored]
        case "list":
            return ", ".join(stored)
        case "clock":
            return "24:00" if stored == 1440 else time(*divmod(stored, 60))
        case "hours" | "minutes" | "money":
            number = float(decimal_text(column, stored))
            return int(number) if number.is_integer() else number
        case _:
            return stored  # type: ignore[no-any-return]


def cell_text(column: Column, stored: Any) -> str:
    """A stored value as the text of a CSV cell; user text never begins like a formula."""
    value = cell_value(column, stored)
    if value is None:
        return ""
    if isinstance(value, time):
        return value.strftime("%H:%M")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        return protected(value)
    return decimal_text(column, stored)


def csv_rows(table: Table, records: tuple[Any, ...]) -> list[list[str]]:
    """Heading and rows of one table; a kitchen without a record shows what a template begins with."""
    if table is KITCHEN:
        rows = [[c.title, kitchen_text(c, records), c.note] for c in table.columns]
        return [list(KITCHEN_HEADINGS), *rows]
    rows = [[cell_text(c, getattr(record, c.field)) for c in table.columns] for record in records]
    return [[c.title for c in table.columns], *rows]


def kitchen_text(column: Column, records: tuple[Any, ...]) -> str:
    return cell_text(column, setting(column.field, records))


def write_csv_files(folder: Path, content: dict[str, tuple[Any, ...]]) -> None:
    """One CSV file a table, UTF-8 with a mark that spreadsheet programs know, commas between cells."""
    for table in TABLES:
        with open(folder / f"{table.name}.csv", "w", encoding="utf-8-sig", newline="") as handle:
            csv.writer(handle).writerows(csv_rows(table, content[table.name]))
