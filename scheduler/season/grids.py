"""A sheet or CSV file as rows of raw cells with the row numbers that the spreadsheet shows."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field
from pathlib import Path

from scheduler.season.cells import Raw, is_blank
from scheduler.season.faults import Fault

BLANK_ROWS = 300  # so many blank rows in a row are the end of a table
MOST_ROWS = 20_000
MOST_COLUMNS = 200
MOST_BYTES = 20_000_000  # of a CSV file
SEPARATOR_LINE = re.compile(r'"?sep=[,;\t]"?[,;\t]*\r?\n', re.IGNORECASE)


@dataclass
class Grid:
    """Rows that are not blank, each with its row number; blank columns at the end cut off."""

    title: str  # name of the sheet or file
    rows: list[tuple[int, list[Raw]]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)  # said as warnings


def add_row(grid: Grid, number: int, raws: list[Raw]) -> bool:
    """Keep a row unless it is blank; False when the table has too many rows or columns."""
    while raws and is_blank(raws[-1]):
        raws.pop()
    if not raws:
        return True
    if len(grid.rows) >= MOST_ROWS:
        grid.faults.append(
            Fault(grid.title, number, "", "", f"there are more than {MOST_ROWS} rows; keep one season in the table.")
        )
        return False
    if len(raws) > MOST_COLUMNS:
        grid.faults.append(
            Fault(grid.title, number, "", "", f"there are more than {MOST_COLUMNS} columns; delete what does not "
                  "belong to the table.")
        )
        return False
    grid.rows.append((number, raws))
    return True


def read_csv(path: Path) -> Grid:
    """One CSV file: UTF-8, UTF-16 or Windows-1252; comma, semicolon or tab between cells."""
    grid = Grid(path.stem.strip())
    if path.stat().st_size > MOST_BYTES:
        return _broken(grid, f"{path.name} is larger than {MOST_BYTES // 1_000_000} MB; it cannot be a table.")
    text = _decoded(path, grid)
    if text is None:
        return grid
    if SEPARATOR_LINE.match(text):  # some programs write it first and hide it when they open the file
        text = text.partition("\n")[2]
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    number = 0
    try:
        for number, cells in enumerate(lines, start=1):
            if not add_row(grid, number, [_unprotected(cell) for cell in cells]):
                break
    except csv.Error:
        return _broken(grid, f'after row {number} a quotation mark (") is open or out of place; save the file again '
                       "from the spreadsheet program.")
    return grid


def _broken(grid: Grid, message: str) -> Grid:
    grid.rows.clear()
    grid.faults.append(Fault(grid.title, None, "", "", message))
    return grid


def _decoded(path: Path, grid: Grid) -> str | None:
    content = path.read_bytes()
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    elif b"\0" in content[:400]:
        encodings = ["utf-16-le" if content[1:2] == b"\0" else "utf-16-be"]
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if encoding == "cp1252":
            grid.notes.append(
                f"{path.name} is not in UTF-8 and was read as Windows text: check the accented letters."
            )
        return text
    _broken(grid, f"{path.name} is not a text file; save it as CSV (UTF-8) from the spreadsheet program.")
    return None


def _delimiter(text: str) -> str:
    """The sign that parts the cells of the first line that is not blank."""
    first = next((line for line in text.splitlines() if line.strip(" ,;\t\"")), "")
    bare = "".join(part for i, part in enumerate(first.split('"')) if i % 2 == 0)
    return max(",;\t", key=bare.count)


PROTECTED = "=+-@"  # a spreadsheet program would take a cell that begins so for a formula


def protected(text: str) -> str:
    """Text that stays text when a spreadsheet program opens the CSV file: '=1+1 for =1+1."""
    risky = text[:1] in (*PROTECTED, "\t") if text else False
    return "'" + text if risky or (text[:1] == "'" and text[1:2] in (*PROTECTED, "'")) else text


def _unprotected(cell: str) -> str:
    return cell[1:] if cell[:1] == "'" and cell[1:2] and cell[1:2] in (*PROTECTED, "'") else cell
