"""Plain tables down a page: a title, a few lines of words, a heading row that repeats, rows as high as their text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scheduler.paper.looks import DATE, HOURS, WHOLE, Look
from scheduler.paper.sheet import Sheet
from scheduler.paper.text import line_points, lines_needed

TITLE = Look(size=18, bold=True, wrap=False)
SUBTITLE = Look(size=12, bold=True, wrap=False, up="bottom")
SAID = Look(size=10, up="top")
SMALL = Look(size=8, ink="555555", up="top")
HEAD = Look(size=9, bold=True, fill="D9D9D9", edge="trbl", up="center")
TEXT = Look(size=9, edge="trbl", indent=1)
BOLD = replace(TEXT, bold=True)
NUMBER = Look(size=9, edge="trbl", across="right", form=WHOLE, wrap=False, indent=1)
DAY = Look(size=9, edge="trbl", across="left", form=DATE, wrap=False, indent=1)
TIME = Look(size=9, edge="trbl", across="center", form=HOURS, wrap=False)


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its heading, width in pixels, and look."""

    heading: str
    pixels: int
    look: Look = TEXT


def title(sheet: Sheet, words: str, *said: str) -> None:
    """The title of a sheet and some sentences below it, over the full width."""
    sheet.put(sheet.row, 1, words, TITLE)
    sheet.height(sheet.row, 27)
    sheet.row += 1
    for sentence in said:
        paragraph(sheet, sentence, SAID)
    sheet.height(sheet.row, 8)
    sheet.row += 1


def paragraph(sheet: Sheet, words: str, look: Look = SAID) -> None:
    """A paragraph over the full width of a sheet."""
    wide = len(sheet.pixels)
    sheet.put(sheet.row, 1, words, look, wide=wide)
    lines = lines_needed(words, sheet.width(1, wide) - 9 * look.indent, look.size, look.bold) if look.wrap else 1
    sheet.height(sheet.row, lines * line_points(look.size) + 4)
    sheet.row += 1


def head(sheet: Sheet, columns: Sequence[Column]) -> int:
    """Write the heading row; returns its number."""
    row = sheet.row
    lines = 1
    for number, column in enumerate(columns, 1):
        look = replace(HEAD, across=column.look.across, indent=column.look.indent)
        sheet.put(row, number, column.heading, look)
        lines = max(lines, lines_needed(column.heading, column.pixels - 9 * look.indent, look.size, True))
    sheet.height(row, lines * line_points(HEAD.size) + 6)
    sheet.row += 1
    return row


def rows(sheet: Sheet, columns: Sequence[Column], cells: Sequence[Sequence[object]]) -> None:
    """Write rows under a heading, each as high as its text."""
    for values in cells:
        row, lines = sheet.row, 1
        for number, (value, column) in enumerate(zip(values, columns, strict=True), 1):
            look = column.look
            if isinstance(value, str) and look.form != "General":
                look = replace(look, form="General", wrap=True)
            sheet.put(row, number, value, look)
            if isinstance(value, str) and look.wrap:
                lines = max(lines, lines_needed(value, column.pixels - 9 * look.indent, look.size, look.bold))
        size = max(c.look.size for c in columns)
        sheet.height(row, lines * line_points(size) + 2.5)
        sheet.row += 1


def table(
    sheet: Sheet, columns: Sequence[Column], cells: Sequence[Sequence[object]], repeat: bool = True, empty: str = ""
) -> None:
    """A whole table; with ``repeat`` its heading is printed again on every page and stays in view."""
    row = head(sheet, columns)
    if repeat:
        sheet.repeat(row, row)
        sheet.freeze(row + 1, 1)
    rows(sheet, columns, cells)
    if not cells and empty:
        paragraph(sheet, empty, SAID)
