"""Lots: what is made or in stock, who gets it, what is left over, and what will not last."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from scheduler.paper.figures import Figures
from scheduler.paper.listing import DAY, NUMBER, Column, table, title
from scheduler.paper.looks import DAY_AND_MONTH
from scheduler.paper.sheet import Book, Sheet
from scheduler.paper.words import count
from scheduler.plan.types import Lot

COLUMNS = (
    Column("Lot", 58),
    Column("Design", 102),
    Column("Where from", 62),
    Column("Made", 82, replace(DAY, form=DAY_AND_MONTH)),
    Column("Sell by", 112, DAY),
    Column("Pieces", 54, NUMBER),
    Column("Used", 52, NUMBER),
    Column("Left", 48, replace(NUMBER, bold=True)),
    Column("For", 175),
    Column("Mind", 105),
)
SOON_DAYS = 28  # house rule: candy left over with less life than this after the season is named


def stock(book: Book, figures: Figures) -> Sheet:
    """Write the lots by design, oldest first."""
    sheet = book.sheet("Stock", landscape=False, tab="666666")
    sheet.columns([c.pixels for c in COLUMNS])
    left = sum(figures.left(lot) for lot in figures.plan.lots)
    title(
        sheet,
        "Stock and sell-by",
        f"{count(len(figures.plan.lots), 'lot')}; {count(left, 'piece')} of them left over when every delivery of "
        "this plan is out. First expired goes out first. A planned lot's pieces are the design's usual yield.",
    )
    lots = sorted(figures.plan.lots, key=lambda x: (x.design, x.sell_by, x.id))
    table(sheet, COLUMNS, [_row(figures, lot) for lot in lots], empty="No candy in stock and none planned.")
    sheet.squeeze(0.12)
    return sheet


def _row(figures: Figures, lot: Lot) -> tuple[object, ...]:
    uses = figures.uses.get(lot.id, [])
    used = sum(u.pieces for u in uses)
    by_line: dict[str, int] = {}
    for use in uses:
        by_line[use.line] = by_line.get(use.line, 0) + use.pieces
    words = ", ".join(f"{line} {pieces:,}" for line, pieces in by_line.items())
    return (
        lot.id, lot.design, origin(figures, lot), lot.made, lot.sell_by, lot.pieces, used, lot.pieces - used,
        words, mind(figures, lot),
    )  # fmt: skip


def origin(figures: Figures, lot: Lot) -> str:
    """Planned, made already, or in stock before the season."""
    if any(lot.id == s.lot for s in figures.season.stock):
        return "in stock"
    return "made" if any(lot.id == m.batch for m in figures.season.made) else "planned"


def mind(figures: Figures, lot: Lot) -> str:
    """A word of warning where left-over candy will not last."""
    left = figures.left(lot)
    last = figures.season.kitchen.last_day
    if left <= 0:
        return ""
    if lot.sell_by <= last:
        return f"{count(left, 'piece')} past sell-by before the season ends"
    if lot.sell_by <= last + timedelta(days=SOON_DAYS):
        return f"{count(left, 'piece')} to sell within {count((lot.sell_by - last).days, 'day')} of the season's end"
    return ""
