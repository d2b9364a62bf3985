"""Plain words and tables for the command line: no colours, no boxes, as wide as they need to be."""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from datetime import timedelta
from shutil import get_terminal_size
from textwrap import fill

from scheduler.paper.cures import ASK
from scheduler.paper.figures import Figures
from scheduler.paper.margins import not_in
from scheduler.paper.proof_words import days_sentence, late_sentence, proof_sentence, short_sentence, thumb_sentence
from scheduler.paper.text import clean
from scheduler.paper.urgency import in_order
from scheduler.paper.words import count, day_short, day_year, length, money
from scheduler.plan.summary import Summary
from scheduler.plan.types import Plan
from scheduler.season.types import Season

MOST_ROWS = 12


def plain_table(headings: Sequence[str], rows: Sequence[Sequence[object]], right: Sequence[int] = ()) -> str:
    """A table in plain text. ``right`` names the columns, from 0, that line up at their right."""
    texts = [[clean("" if cell is None else str(cell)) for cell in row] for row in (headings, *rows)]
    widths = [max(len(row[at]) for row in texts) for at in range(len(headings))]
    lines = [
        "  ".join(
            text.rjust(wide) if at in right else text.ljust(wide)
            for at, (text, wide) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in texts
    ]
    lines.insert(1, "  ".join("-" * wide for wide in widths))
    return "\n".join(lines)


def on_screen(text: str, width: int | None = None) -> str:
    """Words broken at blanks to fit the window, with later lines set in; tables, and what goes to a file, as they are.

    A row that says what was and what is now ("  ->  ") goes on under its words.
    """
    if width is None:
        if not sys.stdout.isatty():
            return text
        width = get_terminal_size().columns
    return "\n".join(_broken(line, max(40, width)) for line in text.split("\n"))


def _broken(line: str, width: int) -> str:
    bare = line.lstrip(" ")
    columns = [m.end() for m in re.finditer(r"(?<=\S) {2,}(?=\S)", line)]
    if len(line) <= width or (columns and "  ->  " not in line):
        return line
    number = re.match(r"\d+\. ", bare)
    set_in = len(line) - len(bare) + (len(number[0]) if number else 0)
    if columns:
        set_in = max([at for at in columns if at <= width // 2], default=2)
    return fill(line, width, subsequent_indent=" " * set_in, break_on_hyphens=False, drop_whitespace=True)


def letter(season: Season, plan: Plan, summary: Summary) -> str:
    """What a plan comes to, as a short letter with a table of what is short."""
    figures = Figures(season, plan)
    kitchen = season.kitchen
    over = f"{length(summary.overtime_minutes)} of overtime" if summary.overtime_minutes else "no overtime"
    cents, (_, idle) = round(summary.labour_cost * 100), not_in(figures)
    paid = f"; {money(cents + idle, summary.currency)} where contracts are paid in full" if idle else ""
    parts = [
        f"{clean(kitchen.name)}, {day_year(kitchen.first_day)} to {day_year(kitchen.last_day)}",
        "",
        f"{count(summary.batches, 'batch', 'batches')} on {count(summary.making_days, 'day')}. "
        f"Labour {money(cents, summary.currency)}, {over}{paid}.",
        days_sentence(figures),
        short_sentence(figures),
        " ".join(filter(None, (proof_sentence(figures), thumb_sentence(figures)))),
    ]
    if summary.missed_shows:
        parts.append(f"{count(summary.missed_shows, 'show')} can't be held.")
    if summary.late_units:
        parts.append(late_sentence(figures))
    if plan.shortfalls:
        parts.append(ASK)
        parts += ["", short_table(figures)]
    return "\n".join(parts)


def short_table(figures: Figures, most: int = MOST_ROWS) -> str:
    """The most urgent of what is short, as a table; ``most`` rows of it."""
    rows: list[tuple[object, ...]] = []
    short = in_order(figures)
    for item in short[:most]:
        line = figures.lines.get(item.line)
        if line is None:
            rows.append((item.line, "", "", "", "", "", item.packs))
            continue
        due = figures.season.kitchen.first_day + timedelta(days=line.due)
        rows.append((line.id, line.customer, line.product, line.kind, day_short(due), line.asked, item.packs))
    table = plain_table(("Order", "Customer", "Product", "Kind", "Due", "Asked", "Short"), rows, right=(5, 6))
    if len(short) > most:
        table += f"\nand {len(short) - most} more: see the sheet Shortfall."
    return table
