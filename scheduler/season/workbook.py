"""An .xlsx workbook into grids, after making sure that it is one and is safe to open."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils import column_index_from_string
from openpyxl.xml import DEFUSEDXML
from scheduler.season.cells import Raw, Unreadable, is_blank
from scheduler.season.faults import Fault
from scheduler.season.grids import BLANK_ROWS, Grid, add_row

assert DEFUSEDXML, "install defusedxml: workbooks are not opened without it"

MOST_ENTRIES = 1000
MOST_UNPACKED = 120_000_000  # bytes
MOST_RATIO = 250  # unpacked to packed, of an entry of more than RATIO_FROM bytes
RATIO_FROM = 5_000_000

_HIDDEN_ROW = re.compile(rb"<(?:\w+:)?row\s([^>]*?)/?>")
_ROW_NUMBER = re.compile(rb'\br="(\d+)"')
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\s[^>]*?ref="([A-Z]+)(\d+):([A-Z]+)(\d+)"')
_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_LIKE_ESCAPE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_ENTITIES = tuple(
    word.encode(code) for word in ("<!DOCTYPE", "<!ENTITY") for code in ("utf-8", "utf-16-le", "utf-16-be")
)


def refusal(path: Path) -> str:
    """Why a file is not opened as a workbook, as a sentence; "" where it may be."""
    with open(path, "rb") as handle:
        start = handle.read(8)
    if start == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        return (
            f"{path.name} is locked with a password or in the old .xls format; "
            "save it as an Excel workbook (.xlsx) without a password."
        )
    if not zipfile.is_zipfile(path):
        return f"{path.name} is not an Excel workbook; save it as .xlsx from the spreadsheet program."
    try:
        with zipfile.ZipFile(path) as archive:
            return _unsafe(path.name, archive)
    except Exception:  # zipfile and zlib raise a dozen kinds of error on damage
        return f"{path.name} is damaged; open it in the spreadsheet program and save it again."


def _unsafe(name: str, archive: zipfile.ZipFile) -> str:
    entries = archive.infolist()
    too_large = f"{name} unpacks to far more than a season needs and was not opened; copy the tables to a new workbook."
    if len(entries) > MOST_ENTRIES or sum(e.file_size for e in entries) > MOST_UNPACKED:
        return too_large
    if any(e.file_size > RATIO_FROM and e.file_size > MOST_RATIO * max(1, e.compress_size) for e in entries):
        return too_large
    if any(e.flag_bits & 1 for e in entries):
        return f"{name} is locked with a password; save it without one."
    if "[Content_Types].xml" not in archive.namelist() or not any("workbook.xml" in e.filename for e in entries):
        return f"{name} is not an Excel workbook; save it as .xlsx from the spreadsheet program."
    for entry in entries:
        if entry.filename.endswith((".xml", ".rels")):
            content = archive.read(entry)
            if any(word in content for word in _ENTITIES):
                return f"{name} holds hidden instructions and was not opened; copy the tables to a new workbook."
    return ""


def read_workbook(path: Path, wanted: Iterable[str]) -> tuple[list[Grid], list[str]]:
    """Grids of the sheets whose titles are wanted (any case), and the titles of the others.

    Raises whatever openpyxl does on a damaged file; the caller says it in plain words.
    """
    names = set(wanted)
    book = load_workbook(path, read_only=True, data_only=False)
    values = None
    grids: list[Grid] = []
    others: list[str] = []
    try:
        with zipfile.ZipFile(path) as archive:
            for sheet in book.worksheets:
                if " ".join(sheet.title.casefold().split()) not in names:
                    others.append(sheet.title)
                    continue
                xml = archive.read(sheet._worksheet_path)  # type: ignore[attr-defined]
                grid, formulas = _read_sheet(sheet, xml)
                if formulas:
                    values = values or load_workbook(path, read_only=True, data_only=True)
                    _calculate(grid, formulas, values[sheet.title])
                grids.append(grid)
    finally:
        book.close()
        if values is not None:
            values.close()
    return grids, others


def _read_sheet(sheet: Any, xml: bytes) -> tuple[Grid, set[tuple[int, int]]]:
    """The grid of a sheet and where its formulas are, as (index of the row kept, column index)."""
    grid = Grid(sheet.title)  # as it is: "orders" and "orders " are two sheets
    formulas: set[tuple[int, int]] = set()
    sheet.reset_dimensions()
    blank = 0
    number = 0
    for number, cells in enumerate(sheet.rows, start=1):
        raws = [_raw(cell) for cell in cells]
        if all(is_blank(raw) for raw in raws):
            blank += 1
            if blank >= BLANK_ROWS:
                break
            continue
        blank = 0
        before = len(grid.rows)
        if not add_row(grid, number, raws):
            break
        formulas.update((before, i) for i, cell in enumerate(cells) if cell.data_type == "f")
    _look_beyond(grid, xml, number if blank >= BLANK_ROWS else None)
    return grid, formulas


def _raw(cell: Any) -> Raw:
    value = cell.value
    if value is not None and cell.data_type == "e":
        return Unreadable(str(value), f"{value} is a mistake in a formula; correct it or write the value.")
    if cell.data_type == "f":
        return Unreadable(str(value), "")
    if isinstance(value, str) and "_x" in value:
        return _ESCAPE.sub(lambda m: chr(int(m[1], 16)), value)
    return value  # type: ignore[no-any-return]


def escaped(text: str) -> str:
    """Text as a workbook stores it: _x000D_ stands for a sign there, so the same letters are written apart."""
    return _LIKE_ESCAPE.sub("_x005F_", text)


def _calculate(grid: Grid, formulas: set[tuple[int, int]], sheet: Any) -> None:
    """Put the results of formulas in their cells; a formula without a result becomes a fault."""
    wanted: dict[int, list[tuple[int, int]]] = {}
    for kept, index in formulas:
        wanted.setdefault(grid.rows[kept][0], []).append((kept, index))
    sheet.reset_dimensions()
    last = max(wanted)
    for number, cells in enumerate(sheet.iter_rows(max_row=last), start=1):
        for kept, index in wanted.get(number, ()):
            result = _raw(cells[index]) if index < len(cells) else None
            if is_blank(result):
                shown = grid.rows[kept][1][index]
                text = shown.shown if isinstance(shown, Unreadable) else ""
                result = Unreadable(
                    text,
                    f"the formula {text[:40]} was never calculated; open the workbook in the spreadsheet program, "
                    "save it, and try again, or write the value.",
                )
            grid.rows[kept][1][index] = result


def _look_beyond(grid: Grid, xml: bytes, stopped: int | None) -> None:
    """Merged cells, hidden rows, and rows with content below the blank ones where reading stopped."""
    numbers = {number for number, _ in grid.rows}
    header = grid.rows[0] if grid.rows else (0, [])
    for left, top, right, bottom in _MERGED.findall(xml):
        rows = range(int(top), int(bottom) + 1)
        if len(rows) > 100_000 or any(row in numbers for row in rows):
            column = column_index_from_string(left.decode()) - 1
            title = header[1][column] if column < len(header[1]) else None
            place = f"{left.decode()}{int(top)}:{right.decode()}{int(bottom)}"
            grid.faults.append(
                Fault(grid.title, int(top), title.strip() if isinstance(title, str) else "", place,
                      f"the cells {place} are merged; unmerge them and write the value in each row.")
            )
    hidden = []
    if b"hidden=" in xml:
        for match in _HIDDEN_ROW.finditer(xml):
            number = _ROW_NUMBER.search(match[1])
            if number and re.search(rb'\bhidden="(1|true)"', match[1]) and int(number[1]) in numbers:
                hidden.append(int(number[1]))
    if hidden:
        rows_text = ", ".join(str(row) for row in hidden[:10]) + (" and more" if len(hidden) > 10 else "")
        grid.notes.append(f"{grid.title}: hidden rows were read like the others (row {rows_text}).")
    if stopped is not None:
        below = _last_row_with_value(xml)
        if below > stopped:
            grid.faults.append(
                Fault(grid.title, below, "", "", f"there are more than {BLANK_ROWS} blank rows above this one; "
                      "move it up to the others, or delete it.")
            )


def _last_row_with_value(xml: bytes) -> int:
    """Number of the last row that holds a value, found without reading the rows between."""
    last = max(xml.rfind(mark) for mark in (b"<v>", b"<t>", b"<t ", b":v>", b"<f>"))
    start = max(xml.rfind(b"<row ", 0, max(last, 0)), xml.rfind(b":row ", 0, max(last, 0)))
    number = _ROW_NUMBER.search(xml, start) if last >= 0 and start >= 0 else None
    return int(number[1]) if number else 0
