"""The sheet "What changed": before and after by day and person, and the run sheets to print again."""

from __future__ import annotations

from dataclasses import replace

from scheduler.answers.changes import kept_rows, print_again, to_mind
from scheduler.paper.listing import SAID, Column, paragraph, table, title
from scheduler.paper.sheet import Book, Sheet
from scheduler.paper.words import day_short, listed
from scheduler.plan.types import Plan

STRONG = replace(SAID, bold=True)
COLUMNS = (
    Column("Day", 85),
    Column("Who", 100),
    Column("Before", 240),
    Column("Now", 240),
    Column("To say on the phone", 315),
    Column("Said", 60),
)


def changes_sheet(book: Book, plan: Plan, crew_only: bool = False) -> Sheet | None:
    """Write the sheet where the plan follows another and something changed; None otherwise.

    ``crew_only``: without the reason, which may name a customer or an illness.
    """
    changes = kept_rows(plan)
    if not changes or not plan.history:
        return None
    sheet = book.sheet("What changed", tab="666666")
    sheet.columns([c.pixels for c in COLUMNS])
    why, again = plan.history[-1], print_again(plan)
    reason = "" if crew_only else f": {why.reason}"
    note = f"From {day_short(why.now_day)} on{reason}. All other days stay as they were."
    note += f" Print again the run sheets of {listed(day_short(d) for d in again)}." if again else ""
    title(sheet, "What changed", note)
    for said in to_mind(plan):
        paragraph(sheet, said, STRONG)
    rows = [(day_short(c.day), c.who, c.before, c.after, c.say, None) for c in changes]
    table(sheet, COLUMNS, rows, empty="Nothing changed.")
    return sheet
