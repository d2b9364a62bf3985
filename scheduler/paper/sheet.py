"""The pen: cells, merged boxes, print settings, sheet titles, and the finished file.

Cells are kept as plain values and written straight to the file's rows: a long season has
a million of them. All else of a sheet (widths, print settings, charts, links) is openpyxl's.
Every text goes in as text, never as a formula.
"""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime
from itertools import groupby
from typing import Any, cast
from xml.sax.saxutils import escape, quoteattr

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter, quote_sheetname
from openpyxl.worksheet.dimensions import ColumnDimension
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.worksheet import Worksheet

from scheduler.paper.looks import FONT, Look, style_number
from scheduler.paper.text import clean
from scheduler.paper.untouched import ABOUT, UNMARKED, mark_of

PAPERS = {"A4": 9, "Letter": 1}
PAGE_PIXELS = {False: 700, True: 1040}  # width of a page at full size: upright, landscape
PAGE_POINTS = {False: 700.0, True: 515.0}  # its height, margins taken off, on the shorter of A4 and Letter
DAY_ZERO = date(1899, 12, 30).toordinal()  # day numbers of a workbook count from here
TALLEST = 409.0  # points, the highest row that a workbook can have

_LETTERS = [get_column_letter(n) for n in range(1, 703)]
_ROWS = re.compile(rb"<sheetData\s*/>|<sheetData>.*?</sheetData>", re.DOTALL)
_SIZE = re.compile(rb'<dimension ref="[^"]*"\s*/>')


class Book:
    """A workbook with its styles, and titles that are taken."""

    def __init__(self, paper: str = "A4", footer: str = "") -> None:
        if paper not in PAPERS:
            raise ValueError(f"paper {paper!r} is not known; use {' or '.join(PAPERS)}")
        self.paper, self.footer = paper, footer
        self.book = cast(Any, Workbook())
        self.book.remove(self.book.worksheets[0])
        self.book._named_styles["Normal"].font = Font(name=FONT, size=10)  # sets the width of a column's unit
        self.book._fonts[0] = Font(name=FONT, size=10)
        self.sheets: list[Sheet] = []
        self._scratch = Worksheet(self.book, "scratch")  # makes styles; never part of the book
        self._styles: dict[Look, int] = {}
        self._titles: set[str] = set()
        self._promised: set[str] = set()  # handed out, not yet used

    def sheet(self, title: str, landscape: bool = True, tab: str = "") -> Sheet:
        """A new sheet at the end; its title is made to fit and unique unless ``title`` handed it out."""
        ws = self.book.create_sheet()
        ws.title = title if title in self._promised else self.title(title)
        self._promised.discard(ws.title)
        if tab:
            ws.sheet_properties.tabColor = tab
        self.sheets.append(Sheet(self, ws, landscape))
        return self.sheets[-1]

    def title(self, wanted: str) -> str:
        """A sheet title of at most 31 characters that no other sheet has, whatever its capitals."""
        plain = re.sub(r"[\[\]:*?/\\]", " ", clean(wanted)).strip().strip("'").strip() or "Sheet"
        title, number = plain[:31].rstrip(" '"), 1
        while title.casefold() in self._titles or title.casefold() == "history":
            number += 1
            tail = f" ({number})"
            title = plain[: 31 - len(tail)].rstrip(" '") + tail
        self._titles.add(title.casefold())
        self._promised.add(title)
        return title

    def style(self, look: Look) -> int:
        """The number of a look's style."""
        found = self._styles.get(look)
        if found is None:
            found = self._styles[look] = style_number(self._scratch, look)
        return found

    def to_bytes(self, stamp: datetime) -> bytes:
        """The finished file. The moment of writing is not in it: the same sheets give the same bytes.

        It carries a mark of its own content, by which ``paper/untouched.py`` sees whether anybody has typed into it.
        """
        self.book.properties.identifier = UNMARKED
        frame = io.BytesIO()
        self.book.save(frame)
        by_path = {s.ws.path[1:]: s for s in self.sheets}
        out = io.BytesIO()
        fixed = stamp.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
        with zipfile.ZipFile(frame) as old:
            parts = {name: old.read(name) for name in old.namelist()}
        for name, sheet in by_path.items():
            parts[name] = sheet.filled(parts[name])
        about = re.sub(rb"(<dcterms:(created|modified)[^>]*>)[^<]*", rb"\g<1>" + fixed, parts[ABOUT])
        parts[ABOUT] = about.replace(UNMARKED.encode(), mark_of(parts).encode())
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=4) as new:
            for name, content in parts.items():
                entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
                entry.compress_type = zipfile.ZIP_DEFLATED
                new.writestr(entry, content, compresslevel=4)
        return out.getvalue()


class Sheet:
    """One sheet, written from top to bottom; rows and columns count from 1."""

    def __init__(self, book: Book, ws: Any, landscape: bool) -> None:
        self.book, self.ws = book, ws
        self.title = ws.title
        self.row = 1  # next free row
        self.pixels: list[int] = []
        self.heights: dict[int, float] = {}
        self._cells: dict[int, dict[int, str]] = {}
        self._boxes: list[str] = []
        self._links: list[str] = []
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
        foot.left.text = clean(self.book.footer).replace("&", "&&")[:180]
        foot.right.text = "&A, page &P of &N"
        foot.left.size = foot.right.size = 8
        ws.sheet_view.showGridLines = False

    def columns(self, pixels: list[int]) -> None:
        """Widths of the columns in screen pixels."""
        self.pixels = pixels
        first = 1
        for width, run in groupby(pixels):
            last = first + len(list(run)) - 1
            letter = _LETTERS[first - 1]
            self.ws.column_dimensions[letter] = ColumnDimension(
                self.ws, index=letter, min=first, max=last, width=round(width / 7, 2), customWidth=True
            )
            first = last + 1

    def put(self, row: int, column: int, value: object, look: Look, wide: int = 1, down: int = 1) -> None:
        """Write a value, merged over ``wide`` columns and ``down`` rows. None leaves a styled blank."""
        style = self.book.style(look)
        if wide > 1 or down > 1:
            if look.edge or look.fill:  # a plain box needs no style but its corner's
                blank = f'" s="{style}"/>'
                for r in range(row, row + down):
                    self._cells.setdefault(r, {}).update(dict.fromkeys(range(column, column + wide), blank))
            corners = f"{_LETTERS[column - 1]}{row}:{_LETTERS[column + wide - 2]}{row + down - 1}"
            self._boxes.append(f'<mergeCell ref="{corners}"/>')
        self._cells.setdefault(row, {})[column] = f'" s="{style}"{_content(value, look.wrap)}'

    def link(self, row: int, column: int, title: str) -> None:
        """Make a cell lead to another sheet."""
        place = quoteattr(f"{quote_sheetname(title)}!A1")
        self._links.append(f'<hyperlink ref="{_LETTERS[column - 1]}{row}" location={place}/>')

    def height(self, row: int, points: float) -> None:
        self.heights[row] = round(min(points, TALLEST), 1)

    def points(self, first: int) -> float:
        """Height of the rows from one on, in points."""
        return sum(self.heights.get(row, 13.0) for row in range(first, self.row))

    def repeat(self, first: int, last: int) -> None:
        """Print these rows again at the head of each page."""
        self.ws.print_title_rows = f"{first}:{last}"

    def break_before(self, row: int) -> None:
        """Begin a new page at this row."""
        if row > 1:
            self.ws.row_breaks.append(Break(id=row - 1))

    def keep_whole(self, first: int, last: int) -> None:
        """Begin a new page at row ``first`` if it and the rows to ``last`` would be split between two pages."""
        across = self.ws.page_setup.orientation == "landscape"
        page = PAGE_POINTS[across] * max(1.0, sum(self.pixels) / PAGE_PIXELS[across])  # wider sheets print smaller
        began = max((b.id + 1 for b in self.ws.row_breaks.brk if b.id < first), default=1)
        used, need = (
            sum(self.heights.get(r, 13.0) for r in range(a, b)) for a, b in ((began, first), (first, last + 1))
        )
        if used and used % page + need > page >= need:
            self.break_before(first)

    def squeeze(self, most: float) -> None:
        """Print a little smaller where the last page would hold next to nothing: at most this share of the others."""
        across = self.ws.page_setup.orientation == "landscape"
        longer = 50.0 if self.book.paper == "A4" and not across else 0.0
        page = (PAGE_POINTS[across] + longer) * max(1.0, sum(self.pixels) / PAGE_PIXELS[across])
        pages = self.points(1) / page
        if pages >= 1 and pages % 1 <= most * (pages // 1):
            self.ws.page_setup.fitToHeight = int(pages)

    def freeze(self, row: int, column: int) -> None:
        self.ws.freeze_panes = f"{_LETTERS[column - 1]}{row}"

    def width(self, column: int, wide: int = 1) -> int:
        """Pixels of some columns together."""
        return sum(self.pixels[column - 1 : column - 1 + wide])

    def filled(self, frame: bytes) -> bytes:
        """The sheet's file: openpyxl's frame with the rows put in."""
        rows = []
        for number in sorted(self._cells.keys() | self.heights.keys()):
            cells = self._cells.get(number, {})
            inner = "".join([f'<c r="{_LETTERS[c - 1]}{number}{cells[c]}' for c in sorted(cells)])
            high = self.heights.get(number)
            size = "" if high is None else f' ht="{high}" customHeight="1"'
            rows.append(f'<row r="{number}"{size}>{inner}</row>')
        last_column = max((max(c) for c in self._cells.values() if c), default=1)
        last_row = max(self._cells, default=1)
        size_ref = f'<dimension ref="A1:{_LETTERS[last_column - 1]}{last_row}"/>'.encode()
        boxes = f'<mergeCells count="{len(self._boxes)}">{"".join(self._boxes)}</mergeCells>' if self._boxes else ""
        data = f"<sheetData>{''.join(rows)}</sheetData>{boxes}".encode("utf-8", "replace")
        frame = _ROWS.sub(lambda _: data, _SIZE.sub(lambda _: size_ref, frame, count=1), count=1)
        if self._links:  # they stand just before the print options
            links = f"<hyperlinks>{''.join(self._links)}</hyperlinks>".encode()
            head, mark, tail = frame.rpartition(b"<printOptions")
            frame = head + links + mark + tail
        return frame


def _content(value: object, wrap: bool) -> str:
    """What stands in a cell, from the end of its style on."""
    if value is None or value == "":
        return "/>"
    if isinstance(value, str):
        text = escape(clean(value, keep_lines=wrap))
        return f' t="inlineStr"><is><t xml:space="preserve">{text}</t></is></c>'
    if isinstance(value, date):
        return f"><v>{value.toordinal() - DAY_ZERO}</v></c>"
    if isinstance(value, (int, float)):
        return f"><v>{value!r}</v></c>"
    raise TypeError(f"a cell can't hold {type(value).__name__}")
