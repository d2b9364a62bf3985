"""The season workbook: empty to begin with, or filled with a season; also as CSV files.

Every heading carries a note with unit and example, every cell with few answers a list to
choose from, and text that a person typed is never a formula.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet
from scheduler.season.columns import Column, Table
from scheduler.season.defaults import ROWS, setting
from scheduler.season.safe_write import replace_atomically, replace_files_atomically
from scheduler.season.schema import BY_NAME, KEY_FIELD, KITCHEN, TABLES, WEEKDAYS
from scheduler.season.tables import KITCHEN_HEADINGS
from scheduler.season.types import Season
from scheduler.season.values import cell_text, cell_value, records_of, write_csv_files
from scheduler.season.workbook import escaped

SPARE_ROWS = 300  # rows below the last one that still have lists and formats
GROUP_COLOURS = {"kitchen": "D9E8F5", "recipe": "FCE4D6", "people": "E2EFDA", "sales": "FFF2CC", "facts": "E4DFEC"}
GROUP_WORDS = {
    "kitchen": "The kitchen and its hours",
    "recipe": "Stages, designs and cleaning",
    "people": "The crew",
    "sales": "What is sold, ordered and decided",
    "facts": "What has happened; filled in as the season goes",
}
NUMBER_FORMATS = {"day": "yyyy-mm-dd", "clock": "hh:mm", "money": "0.00", "text": "@", "reference": "@", "list": "@"}
BOLD = Font(name="Calibri", size=11, bold=True)
LEFT = Alignment(horizontal="left")  # numbers stand under their headings
WRAP = Alignment(wrap_text=True, vertical="top")


def write_template(path: Path | str, season: Season | None = None) -> None:
    """Write an empty season (stations and stages to be edited are filled in), or a given one.

    A path that ends in .xlsx becomes a workbook, any other a folder of CSV files. Raises
    CannotWrite.
    """
    target = Path(path)
    if target.suffix.casefold() == ".xlsx":
        replace_atomically(target, lambda file: save_workbook(season, file))
    else:
        replace_files_atomically(target, lambda folder: write_csv_files(folder, season_content(season)))


def season_content(season: Season | None) -> dict[str, tuple[Any, ...]]:
    """Table name -> records; without a season what an empty template begins with."""
    if season is not None:
        return {table.name: records_of(season, table) for table in TABLES}
    return {table.name: ROWS.get(table.name, ()) for table in TABLES}


def save_workbook(season: Season | None, file: Path) -> None:
    """Build the workbook in memory, then write it in one go: a full disk is one plain OSError."""
    content = io.BytesIO()
    build_workbook(season).save(content)
    file.write_bytes(content.getvalue())


def build_workbook(season: Season | None) -> Workbook:
    """The workbook with every table as a sheet of its own, after a sheet that explains."""
    book = Workbook()
    explanation = book.active
    assert isinstance(explanation, Worksheet)
    _write_explanation(explanation)
    content = season_content(season)
    last_rows = {name: len(records) + 1 + SPARE_ROWS for name, records in content.items()}
    answers = _Answers(last_rows)
    for table in TABLES:
        sheet = book.create_sheet(table.name)
        sheet.sheet_properties.tabColor = GROUP_COLOURS[table.group]
        _print_setup(sheet)
        if table is KITCHEN:
            _write_kitchen(sheet, content["kitchen"], answers)
        else:
            _write_table(sheet, table, content[table.name], answers)
    answers.write(book)
    return book


def put(sheet: Worksheet, row: int, column: int, value: Any) -> Any:
    """Write a value into a cell and return the cell; text stays text, whatever it begins with."""
    cell = sheet.cell(row, column)
    cell.value = escaped(value) if isinstance(value, str) else value
    if isinstance(value, str):
        cell.data_type = "s"
        if value[:1] in ("=", "+", "-", "@", "'"):
            cell.quotePrefix = True
    return cell


class _Answers:
    """Lists to choose from: fixed words on a hidden sheet, names where their table has them."""

    def __init__(self, last_rows: dict[str, int]) -> None:
        self.last_rows = last_rows
        self.fixed: list[tuple[str, ...]] = []

    def source(self, column: Column) -> str:
        """The range that a cell of this column may choose from, or ""."""
        if column.kind == "yes":
            return self._fixed(("yes", "no"))
        if column.kind == "weekday":
            return self._fixed(WEEKDAYS)
        if column.kind == "choice":
            return self._fixed(column.choices)
        if column.kind == "whole" and column.high <= 5 and column.low == 1:
            return self._fixed(tuple(str(n) for n in range(1, column.high + 1)))
        if column.kind == "reference":
            name = column.table.split(" or ")[0]
            table = BY_NAME[name]
            at = [c.field for c in table.columns].index(KEY_FIELD[name]) + 1
            letter = get_column_letter(at)
            return f"{name}!${letter}$2:${letter}${self.last_rows[name]}"
        return ""

    def _fixed(self, words: tuple[str, ...]) -> str:
        if words not in self.fixed:
            self.fixed.append(words)
        letter = get_column_letter(self.fixed.index(words) + 1)
        return f"lists!${letter}$1:${letter}${len(words)}"

    def write(self, book: Workbook) -> None:
        sheet = book.create_sheet("lists")
        sheet.sheet_state = "hidden"
        for at, words in enumerate(self.fixed, start=1):
            for row, word in enumerate(words, start=1):
                sheet.cell(row, at, int(word) if word.isdigit() else word)


def _add_list(sheet: Worksheet, column: Column, cells: str, answers: _Answers) -> None:
    source = answers.source(column)
    if not source:
        return
    # a name of another table may be typed before its row is written: warn, do not refuse
    strict = column.kind != "reference"
    rule = DataValidation(
        type="list", formula1=source, allow_blank=True, showErrorMessage=True,
        errorStyle="stop" if strict else "warning",
        errorTitle=column.title, error="Choose from the list." if strict else f"No such row in {column.table} yet.",
    )
    rule.add(cells)
    sheet.add_data_validation(rule)


def _note(column: Column, table: Table) -> Comment:
    lines = [column.note]
    if column.unit:
        lines.append(f"Unit: {column.unit}")
    if column.table:
        lines.append(f"A name from {column.table}.")
    if column.field not in table.defaults:
        lines.append("Must be filled in.")
    elif table.defaults[column.field] not in (None, "", ()):
        lines.append(f"Blank: {cell_text(column, table.defaults[column.field])}")
    lines.append(f"Example: {column.example}")
    text = "\n".join(lines)
    return Comment(text, "rockrota", height=30 + 18 * (len(lines) + len(text) // 40), width=260)


def _heading(sheet: Worksheet, column: int, title: str, colour: str) -> Any:
    cell = sheet.cell(1, column, title)
    cell.font = BOLD
    cell.fill = PatternFill("solid", fgColor=colour)
    cell.alignment = WRAP
    return cell


def _write_table(sheet: Worksheet, table: Table, records: tuple[Any, ...], answers: _Answers) -> None:
    last = len(records) + 1 + SPARE_ROWS
    sheet.freeze_panes = "B2"
    for at, column in enumerate(table.columns, start=1):
        letter = get_column_letter(at)
        heading = _heading(sheet, at, column.title, GROUP_COLOURS[table.group])
        heading.comment = _note(column, table)
        longest = max((len(str(cell_value(column, getattr(r, column.field)) or "")) for r in records), default=0)
        longest = max(longest, len(column.example), len(column.title), 7)
        sheet.column_dimensions[letter].width = min(40, longest + 2)
        number_format = NUMBER_FORMATS.get(column.kind, "General")
        sheet.column_dimensions[letter].number_format = number_format
        sheet.column_dimensions[letter].alignment = LEFT
        for row, record in enumerate(records, start=2):
            value = cell_value(column, getattr(record, column.field))
            if value is not None:
                cell = put(sheet, row, at, value)
                cell.number_format = number_format
                cell.alignment = LEFT
        _add_list(sheet, column, f"{letter}2:{letter}{last}", answers)


def _write_kitchen(sheet: Worksheet, records: tuple[Any, ...], answers: _Answers) -> None:
    sheet.freeze_panes = "A2"
    for at, (title, width) in enumerate(zip(KITCHEN_HEADINGS, (22, 24, 78), strict=True), start=1):
        _heading(sheet, at, title, GROUP_COLOURS["kitchen"])
        sheet.column_dimensions[get_column_letter(at)].width = width
    for row, column in enumerate(KITCHEN.columns, start=2):
        name = sheet.cell(row, 1, column.title)
        name.comment = _note(column, KITCHEN)
        cell = put(sheet, row, 2, cell_value(column, setting(column.field, records)))
        cell.number_format = NUMBER_FORMATS.get(column.kind, "General")
        cell.alignment = LEFT
        unit = f" ({column.unit})" if column.unit else ""
        sheet.cell(row, 3, f"{column.note}{unit} Example: {column.example}")
        if column.field not in KITCHEN.defaults:
            name.font = BOLD
        _add_list(sheet, column, f"B{row}", answers)


def _print_setup(sheet: Worksheet) -> None:
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True  # type: ignore[union-attr]
    sheet.print_title_rows = "1:1"


EXPLANATION = (
    "Fill in the sheets from left to right. Each sheet is one table; each row is one thing.",
    "Point at a heading to read what belongs in the column, in which unit, with an example.",
    "Many cells offer a list to choose from: click the arrow at the cell's right edge.",
    "Blank cells take the usual value that the heading's note names. Blank rows do not matter.",
    "Days are written 2026-03-21, clock times 17:00. Names must be the same wherever they appear.",
    "The kitchen sheet is filled with usual values; change whatever is different at yours.",
    "Stations, stages, roles and cleaning hold a start to be changed: common practice, not a rule.",
    "Do not rename sheets or headings and do not merge cells; colours and widths are yours.",
    "Then type: rockrota check and the name of this file. It lists everything that is still wrong, all at once.",
)
CAUTIONS = (
    "Hot sugar burns deeply. The limits for pulling, hours and young workers that you enter are your kitchen's own:",
    "local rules on working time, young workers and manual work come first, and a qualified adviser decides.",
    "The order of batches helps with allergens; it does not prove that a station is clean.",
)


def _write_explanation(sheet: Worksheet) -> None:
    sheet.title = "read me"
    _print_setup(sheet)
    sheet.page_setup.fitToHeight = 1
    sheet.column_dimensions["A"].width = 16
    sheet.column_dimensions["B"].width = 100
    sheet.cell(1, 1, "Your season").font = Font(name="Calibri", bold=True, size=16)
    row = 3
    for line in EXPLANATION:
        sheet.cell(row, 1, line)
        row += 1
    group = ""
    for table in TABLES:
        if table.group != group:
            group = table.group
            row += 1
            sheet.cell(row, 1, GROUP_WORDS[group]).font = BOLD
            row += 1
        cell = sheet.cell(row, 1, table.name)
        cell.fill = PatternFill("solid", fgColor=GROUP_COLOURS[group])
        cell.hyperlink = f"#'{table.name}'!A1"
        note = table.note + ("" if table.needed else " (may stay empty)")
        sheet.cell(row, 2, note).alignment = WRAP
        if len(note) > 110:
            sheet.row_dimensions[row].height = 30
        row += 1
    row += 1
    for line in CAUTIONS:
        sheet.cell(row, 1, line)
        row += 1
