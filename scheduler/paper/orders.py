"""Orders and forecasts: covered or short, packed when, from which lots."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from scheduler.demand.lines import Line
from scheduler.paper.figures import Figures
from scheduler.paper.listing import DAY, NUMBER, TEXT, Column, table, title
from scheduler.paper.looks import DAY_AND_MONTH
from scheduler.paper.sheet import Book, Sheet
from scheduler.paper.text import in_lines
from scheduler.paper.words import count, day_month
from scheduler.plan.types import Fill

LOTS_PIXELS = 364
SHORT_DAY = replace(DAY, form=DAY_AND_MONTH)
COLUMNS = (
    Column("Order", 52),
    Column("Customer", 125),
    Column("Product", 106),
    Column("Kind", 64),
    Column("Priority", 46, replace(NUMBER, across="center", indent=0)),
    Column("Due", 82, SHORT_DAY),
    Column("Asked", 48, NUMBER),
    Column("Covered", 64, NUMBER),
    Column("Short", 46, replace(NUMBER, bold=True)),
    Column("Ready", 66),
    Column("Packed on", 82, SHORT_DAY),
    Column("Packs", 48, NUMBER),
    Column("From these lots (day made)", LOTS_PIXELS, replace(TEXT, size=8)),
    Column("Sell by", 116, DAY),
)
SAID = (
    'A row a packing day. Priority 1 goes before 3. Sell-by is the earliest of what is inside; it counts '
    "from the boil. Sell-by days are the kitchen's own, under local food law."
)


def orders(book: Book, figures: Figures) -> Sheet:
    """Write the orders in order of their due day."""
    sheet = book.sheet("Orders", tab="666666")
    sheet.columns([c.pixels for c in COLUMNS])
    title(sheet, "Orders and forecasts", SAID)
    cells: list[tuple[object, ...]] = []
    for line in sorted(figures.lines.values(), key=lambda x: (x.due, x.id)):
        cells += _order(figures, line)
    table(sheet, COLUMNS, cells, empty="No orders and no forecasts.")
    return sheet


def _order(figures: Figures, line: Line) -> list[tuple[object, ...]]:
    """The order's own row with its first packing day; further packing days below it."""
    fills = sorted(figures.fills.get(line.id, []), key=lambda f: (f.packed or date.min, f.pack_lot))
    season = figures.season
    covered = figures.covered(line.id)
    due = season.kitchen.first_day + timedelta(days=line.due)
    short = line.asked - covered
    who = line.customer + (" (confirmed)" if line.confirmed else "")
    start = (
        line.id, who, line.product, line.kind, figures.priority(line.id), due, line.asked, covered, short or None,
        ready(fills, short, due),
    )  # fmt: skip
    parts = [_fill(figures, fill) for fill in fills] or [(None, None, None, None)]
    again = (line.id, *[None] * 9)
    return [(*(again if at else start), *part) for at, part in enumerate(parts)]


def ready(fills: list[Fill], short: int, due: date) -> str:
    """Whether a line is ready on its day, in a word or two."""
    if not fills:
        return "no"
    late = [f.packed for f in fills if f.late and f.packed]
    words = "part" if short else "yes"
    if late:
        words += f", {count((max(late) - due).days, 'day')} late"
    return words


def _fill(figures: Figures, fill: Fill) -> tuple[object, ...]:
    if fill.pack_lot:
        return ("in stock", fill.packs, f"finished packs, lot {fill.pack_lot}", fill.sell_by)
    parts: dict[str, list[str]] = {}
    for draw in fill.draws:
        lot = figures.lot.get(draw.lot)
        made = f" ({day_month(lot.made)})" if lot else ""
        parts.setdefault(draw.design, []).append(f"{draw.pieces:,} from {draw.lot}{made}")
    lines = [in_lines([f"{d}: {lots[0]}", *lots[1:]], LOTS_PIXELS) for d, lots in parts.items()]
    return (fill.packed, fill.packs, "\n".join(lines), fill.sell_by)
