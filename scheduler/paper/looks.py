"""How a cell looks: plain values that the pen turns into styles once for a workbook."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.worksheet.worksheet import Worksheet

FONT = "Arial"  # its figures are equally wide, and free fonts of the same widths exist everywhere
DATE, DAY_AND_MONTH, HOURS = "ddd d mmm yyyy", "ddd d mmm", "[h]:mm"
WHOLE, PERCENT = "#,##0", "0%"
LINE = "FF444444"


@dataclass(frozen=True, slots=True)
class Look:
    """How a cell looks. ``edge`` is any of "trbl" for thin lines, capitals for thick ones."""

    size: int = 9
    bold: bool = False
    italic: bool = False
    ink: str = "000000"
    fill: str = ""
    pattern: Literal["solid", "lightUp", "gray125"] = "solid"
    edge: str = ""
    across: str = "left"
    up: str = "center"
    indent: int = 0
    wrap: bool = True
    shrink: bool = False
    form: str = "General"
    open: bool = False  # to be typed into, where the sheet is protected


def style_number(scratch: Worksheet, look: Look) -> int:
    """Register a look in the workbook of a scratch sheet; returns the number of its style.

    A look without a number format is for text and is marked as text, so that a spreadsheet
    program does not turn it into a formula when it is edited.
    """
    cell: Any = Cell(scratch, 1, 1)  # a new one each time: the workbook keeps its style
    cell.font = Font(name=FONT, size=look.size, bold=look.bold, italic=look.italic, color="FF" + look.ink)
    if look.fill and look.pattern == "solid":
        cell.fill = PatternFill("solid", fgColor="FF" + look.fill)
    elif look.fill:
        cell.fill = PatternFill(look.pattern, fgColor="FF8A8A8A", bgColor="FF" + look.fill)
    sides: dict[str, Any] = {
        name: Side("medium" if name[0].upper() in look.edge else "thin", color=LINE)
        for name in ("top", "right", "bottom", "left")
        if name[0] in look.edge.lower()
    }
    cell.border = Border(**sides)
    cell.alignment = Alignment(
        horizontal=look.across,
        vertical=look.up,
        indent=look.indent,
        wrap_text=look.wrap and not look.shrink,
        shrink_to_fit=look.shrink,
    )
    cell.number_format = look.form
    cell.protection = Protection(locked=not look.open)
    cell._style.quotePrefix = 1 if look.form == "General" else 0
    return int(cell.style_id)
