"""What is short: by how many, for whom, and what can be seen of why. A letter, then the sums."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from scheduler.paper.cures import ASK
from scheduler.paper.figures import Figures
from scheduler.paper.listing import BOLD, DAY, NUMBER, SAID, SUBTITLE, Column, head, paragraph, rows, title
from scheduler.paper.looks import PERCENT
from scheduler.paper.proof_words import proof_sentence, short_sentence
from scheduler.paper.scarce import Scarce, ran_out, reason
from scheduler.paper.sheet import Book, Sheet
from scheduler.paper.shortfall_why import reasons, remedies
from scheduler.paper.urgency import in_order
from scheduler.paper.words import count, day_short, listed
from scheduler.plan.types import Shortfall

SHORT = (
    Column("Order", 98, BOLD),
    Column("Customer", 150),
    Column("Product", 118),
    Column("Kind", 72),
    Column("Due", 112, DAY),
    Column("Asked", 54, NUMBER),
    Column("Packs short", 66, replace(NUMBER, bold=True)),
    Column("Pieces short", 66, NUMBER),
    Column("What stands in the way", 314),
)
PLAIN, SHARE = replace(BOLD, bold=False), replace(NUMBER, form=PERCENT)
CANDY = (  # below the same columns
    ("Candy", BOLD),
    ("For the orders", PLAIN),
    ("Made by then", PLAIN),
    ("Open days", NUMBER),
    ("Last useful day", DAY),
    ("Days full", SHARE),
    ("People at work", SHARE),
    ("Pieces left", NUMBER),
    ("Who can build it, and days they can be in", replace(PLAIN, size=8)),
)
A_PAGE = 16  # rows that go on one page with their heading
HONEST = (
    "This reads the plan: which candy ran out, how full the days were on which it could have been made (batches "
    "started, of the most that can be), and how busy people were (at a job, of the time paid). What limits prove is "
    "told with the sums, where there are any."
)


def shortfall(book: Book, figures: Figures) -> Sheet:
    """Write the shortfall report."""
    sheet = book.sheet("Shortfall", tab="666666")
    sheet.columns([c.pixels for c in SHORT])
    short = in_order(figures)
    ask = [ASK] if short and "remedies" not in figures.plan.extras else []
    title(sheet, "What is short", short_sentence(figures), proof_sentence(figures), *ask)
    if not short:
        return sheet
    _calls(sheet, figures, short)
    remedies(sheet, figures)
    reasons(sheet, figures)
    first = sheet.row
    paragraph(sheet, "What is short, firm orders first", SUBTITLE)
    row = head(sheet, SHORT)
    if len(short) > A_PAGE:  # else the heading would stand on the next page above what it does not head
        sheet.repeat(row, row)
    rows(sheet, SHORT, [_row(figures, s) for s in short])
    sheet.keep_whole(first, sheet.row - 1 if len(short) <= A_PAGE else row + 3)
    first = sheet.row
    _candy(sheet, figures, ran_out(figures, short))
    sheet.keep_whole(first, sheet.row - 1)
    return sheet


def _calls(sheet: Sheet, figures: Figures, short: list[Shortfall]) -> None:
    """Customers to call, the most urgent first, with what can be offered."""
    lines = [(s, figures.lines[s.line]) for s in short if s.line in figures.lines]
    asked = [(s, line) for s, line in lines if line.kind != "forecast"]
    if not asked:
        return
    paragraph(sheet, "Call these customers first", SUBTITLE)
    for number, (s, line) in enumerate(asked, 1):
        due = figures.season.kitchen.first_day + timedelta(days=line.due)
        who = line.customer or f"whoever ordered {line.id}"
        have = figures.covered(line.id)
        can = f"{count(have, 'pack')} of {line.asked:,} can be ready" if have else "nothing of it can be ready"
        told = " This order was confirmed." if line.confirmed else ""
        paragraph(
            sheet,
            f"{number}.  {who}: {line.product}, order {line.id}, due {day_short(due)}. "
            f"{count(s.packs, 'pack')} short; {can}.{told}",
            SAID,
        )
    sheet.height(sheet.row, 8)
    sheet.row += 1


def _row(figures: Figures, short: Shortfall) -> tuple[object, ...]:
    line = figures.lines.get(short.line)
    if line is None:
        return (short.line, None, None, None, None, None, short.packs, short.pieces, None)
    due = figures.season.kitchen.first_day + timedelta(days=line.due)
    return (
        line.id, line.customer, line.product, line.kind, due, line.asked, short.packs, short.pieces,
        reason(figures, line, short.packs),
    )  # fmt: skip


def _candy(sheet: Sheet, figures: Figures, scarce: Sequence[Scarce]) -> None:
    """One row for each design that ran out: when it could have been made, how full it was then, by whom."""
    if not scarce:
        return
    sheet.height(sheet.row, 8)
    sheet.row += 1
    paragraph(sheet, "The candy that ran out", SUBTITLE)
    paragraph(sheet, HONEST, SAID)
    columns = [Column(name, c.pixels, look) for (name, look), c in zip(CANDY, SHORT, strict=True)]
    head(sheet, columns)
    cells = [
        (
            s.design, listed(s.lines), count(s.batches, "batch", "batches"), s.open_days, s.last_day,
            s.batch_share, s.people_share, s.left, s.able,
        )
        for s in scarce
    ]  # fmt: skip
    rows(sheet, columns, cells)
