"""The pen: styled cells, safe text, merged boxes, print settings, sheet titles.

Every text goes in as text (never a formula), with characters that a spreadsheet cannot
hold taken out. Styles are made once for a workbook and shared, which keeps 150 run
sheets quick to write.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.cell_range import CellRange
from openpyxl.worksheet.hyperlink import Hyperlink
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.worksheet import Worksheet

FONT = "Arial"  # its figures are equally wide, and free fonts of the same widths exist everywhere
PAPERS = {"A4": 9, "Letter": 1}
DATE, SHORT_DATE, CLOCK, HOURS = "ddd d mmm yyyy", "ddd d mmm", "hh:mm", "[h]:mm"
WHOLE, MONEY, PERCENT = "#,##0", "#,##0.00", "0%"
PAGE_PIXELS = {False: 700, True: 1040}  # width of a page at full size: upright, landscape
PAGE_POINTS = {False: 760.0, True: 515.0}  # its height, margins taken off, on the shorter of A4 and Letter

_UNWRITABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
_BREAKS = re.compile("[\t\r\n\x85\u2028\u2029]+")
_DIRECTION = re.compile("[\u202a-\u202e\u2066-\u2069]")
_WIDTHS = {  # of the letters in thousandths of their height
    **dict.fromkeys("ijl'|", 222), **dict.fromkeys(" !.,:;/\\[]ftI", 278), **dict.fromkeys("()-r`\"", 333),
    **dict.fromkeys("ckvsxyzJ", 500), **dict.fromkeys("FTZ", 611), **dict.fromkeys("ABEKPSVXY&", 667),
    **dict.fromkeys("CDHNRUw", 722), **dict.fromkeys("GOQ", 778), **dict.fromkeys("mM", 833),
    **dict.fromkeys("W%—…", 1000),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Look:
    """How a cell looks. ``edge`` is any of "trbl" for thin lines, capitals for thick ones."""

    size: int = 9
    bold: bool = False
    italic: bool = False
    ink: str = "000000"
    fill: str = ""
    pattern: str = "solid"
    edge: str = ""
    across: str = "left"
    up: str = "center"
    wrap: bool = True
    shrink: bool = False
    form: str = "General"
    open: bool = False  # to be typed into, where the sheet is protected
    turned: bool = False
    indent: int = 0


def clean(text: str, keep_lines: bool = False) -> str:
    """Text that a cell can hold: no control or direction characters, at most 32,000 characters."""
    text = _DIRECTION.sub("", text)
    if keep_lines:
        text = "\n".join(_BREAKS.sub(" ", line) for line in text.split("\n"))
    else:
        text = _BREAKS.sub(" ", text)
    text = _UNWRITABLE.sub("", text)
    return text if len(text) <= 32000 else text[:31999] + "…"


class Book:
    """A workbook with its styles, and titles that are taken."""

    def __init__(self, paper: str = "A4", footer: str = "") -> None:
        if paper not in PAPERS:
            raise ValueError(f"paper {paper!r} is not known; use {' or '.join(PAPERS)}")
        self.paper, self.footer = paper, footer
        self.book = Workbook()
        self.book.remove(self.book.worksheets[0])
        self.book._named_styles["Normal"].font = Font(name=FONT, size=10)  # sets the width of a column's unit
        self.book._fonts[0] = Font(name=FONT, size=10)
        self._scratch = Worksheet(self.book, "scratch")  # makes styles; never part of the book
        self._styles: dict[Look, Any] = {}
        self._titles: set[str] = set()

    def sheet(self, title: str, landscape: bool = True, tab: str = "") -> Sheet:
        """A new sheet at the end; its title is made to fit and unique."""
        ws = self.book.create_sheet()
        ws.title = self.title(title)
        if tab:
            ws.sheet_properties.tabColor = tab
        return Sheet(self, ws, landscape)

    def title(self, wanted: str) -> str:
        """A sheet title of at most 31 characters that no other sheet has, whatever its capitals."""
        plain = re.sub(r"[\[\]:*?/\\]", " ", clean(wanted)).strip().strip("'").strip() or "Sheet"
        title, number = plain[:31].rstrip(" '"), 1
        while title.casefold() in self._titles or title.casefold() == "history":
            number += 1
            tail = f" ({number})"
            title = plain[: 31 - len(tail)].rstrip(" '") + tail
        self._titles.add(title.casefold())
        return title

    def style(self, look: Look) -> Any:
        """The shared style of a look."""
        found = self._styles.get(look)
        if found is None:
            found = self._styles[look] = self._new_style(look)
        return found

    def _new_style(self, look: Look) -> Any:
        cell = self._scratch.cell(1, len(self._styles) + 1)
        cell.font = Font(name=FONT, size=look.size, bold=look.bold, italic=look.italic, color="FF" + look.ink)
        if look.fill:
            cell.fill = (
                PatternFill("solid", fgColor="FF" + look.fill)
                if look.pattern == "solid"
                else PatternFill(look.pattern, fgColor="FF8A8A8A", bgColor="FF" + look.fill)
            )
        if look.edge:
            cell.border = Border(
                **{
                    name: Side("medium" if name[0].upper() in look.edge else "thin", color="FF444444")
                    for name in ("top", "right", "bottom", "left")
                    if name[0] in look.edge.lower()
                }
            )
        cell.alignment = Alignment(
            horizontal=look.across,
            vertical=look.up,
            indent=look.indent,
            wrap_text=look.wrap and not look.shrink,
            shrink_to_fit=look.shrink,
            text_rotation=90 if look.turned else 0,
        )
        if look.form != "General":
            cell.number_format = look.form
        if look.open:
            cell.protection = Protection(locked=False)
        style = cell._style
        style.quotePrefix = 1 if look.form == "General" else 0
        return style


class Sheet:
    """One sheet, written from top to bottom; rows and columns count from 1."""

    def __init__(self, book: Book, ws: Worksheet, landscape: bool) -> None:
        self.book, self.ws, self.landscape = book, ws, landscape
        self.title = ws.title
        self.row = 1  # next free row
        self.pixels: list[int] = []
        self._print(landscape)

    def _print(self, landscape: bool) -> None:
        ws = self.ws
        ws.page_setup.orientation = "landscape" if landscape else "portrait"
        ws.page_setup.paperSize = PAPERS[self.book.paper]
        ws.page_setup.fitToWidth, ws.page_setup.fitToHeight = 1, 0
        ws.sheet_properties.pageSetUpPr.fitToPage = True
        ws.print_options.horizontalCentered = True
        margins = ws.page_margins
        margins.left = margins.right = 0.4
        margins.top, margins.bottom, margins.header, margins.footer = 0.45, 0.6, 0.2, 0.3
        foot = ws.oddFooter
        foot.left.text = self.book.footer.replace("&", "&&")[:180]
        foot.right.text = "&A, page &P of &N"
        foot.left.size = foot.right.size = 8
        ws.sheet_view.showGridLines = False

    def columns(self, pixels: list[int]) -> None:
        """Widths of the columns in screen pixels."""
        self.pixels = pixels
        for number, width in enumerate(pixels, 1):
            self.ws.column_dimensions[get_column_letter(number)].width = round(width / 7, 2)

    def put(self, row: int, column: int, value: object, look: Look, wide: int = 1, down: int = 1) -> None:
        """Write a value, merged over ``wide`` columns and ``down`` rows. None leaves a styled blank."""
        ws, style = self.ws, self.book.style(look)
        if wide == 1 and down == 1:
            cell = self._cell(row, column)
            cell._style = style
        else:
            if look.edge or look.fill:  # a plain box needs no style but its corner's
                for r in range(row, row + down):
                    for c in range(column, column + wide):
                        self._cell(r, c)._style = style
            cell = self._cell(row, column)
            cell._style = style
            ws.merged_cells.ranges.add(CellRange(None, column, row, column + wide - 1, row + down - 1))
        if value is None:
            return
        if isinstance(value, str):
            cell._value = clean(value, keep_lines=look.wrap)
            cell.data_type = "s"
        elif isinstance(value, date):
            cell.value = value
            cell._style = style  # writing a date sets a format of its own
        else:
            cell._value = value
            cell.data_type = "n"

    def _cell(self, row: int, column: int) -> Cell:
        """The cell at a place; quicker than the library's own way, which checks every call."""
        cells = self.ws._cells
        found = cells.get((row, column))
        if found is None:
            found = cells[row, column] = Cell(self.ws, row, column)
        return found

    def cells(self, row: int, values: list[object], look: Look, start: int = 1) -> None:
        """Write values side by side in one look."""
        for offset, value in enumerate(values):
            self.put(row, start + offset, value, look)

    def link(self, row: int, column: int, title: str, tip: str = "") -> None:
        """Make a cell lead to another sheet."""
        ref = f"{get_column_letter(column)}{row}"
        safe = title.replace("'", "''")
        self.ws._hyperlinks.append(Hyperlink(ref=ref, location=f"'{safe}'!A1", tooltip=tip or None))

    def height(self, row: int, points: float) -> None:
        self.ws.row_dimensions[row].height = round(min(points, 400.0), 1)

    def repeat(self, first: int, last: int) -> None:
        """Print these rows again at the head of each page."""
        self.ws.print_title_rows = f"{first}:{last}"

    def break_before(self, row: int) -> None:
        """Begin a new page at this row."""
        if row > 1:
            self.ws.row_breaks.append(Break(id=row - 1))

    def freeze(self, row: int, column: int) -> None:
        self.ws.freeze_panes = f"{get_column_letter(column)}{row}"

    def width(self, column: int, wide: int = 1) -> int:
        """Pixels of some columns together."""
        return sum(self.pixels[column - 1 : column - 1 + wide])


def text_pixels(text: str, size: int, bold: bool = False) -> float:
    """Width of a line of text in pixels, a little more than it takes."""
    units = sum(_WIDTHS.get(c, 570) for c in text)
    return units / 1000 * size * 96 / 72 * (1.09 if bold else 1.02)


def lines_needed(text: str, pixels: float, size: int, bold: bool = False) -> int:
    """Lines that a text takes when it is wrapped in a box of a width."""
    room = max(10.0, pixels - 7)
    lines = 0
    for part in text.split("\n"):
        lines, at = lines + 1, 0.0
        for word in part.split(" "):
            long = text_pixels(word + " ", size, bold)
            if at and at + long - text_pixels(" ", size) > room:
                lines, at = lines + 1, 0.0
            while long > room + 3 and long > text_pixels("mm", size):
                lines, long = lines + 1, long - room
            at += long
    return lines


def line_points(size: int) -> float:
    """Height of one line of text in points."""
    return size * 1.27
