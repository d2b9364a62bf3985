"""The workbook for the wall read back: a cell or a plan that differs is noticed."""

from __future__ import annotations

import tempfile
from pathlib import Path

from scheduler.audit.wall import read_sheets
from scheduler.audit.workbook import audit_sheets
from scheduler.paper.workbook import write_workbook
from tests.audit.test_workbook import SEEN, _figures, _spoilt
from tests.handmade import handmade_plan, handmade_season
from tests.trust.table import Row, Table


def table(quick: bool) -> Table:
    """Cells changed one by one, by sheet; and plans other than the one on the wall."""
    season, plan = handmade_season(), handmade_plan()
    with tempfile.TemporaryDirectory() as folder:
        write_workbook(season, plan, Path(folder) / "plan.xlsx")
        sheets = read_sheets(Path(folder) / "plan.xlsx")
    rows = {"untouched": Row("the workbook as written: no difference")}
    rows["untouched"].count(None if not audit_sheets(season, plan, sheets) else "a difference is named")
    for title, number, column, value in _figures(sheets)[:: 7 if quick else 1]:
        kind = title.split(" ")[0] if title.startswith(("Day ", "Person ")) else title
        row = rows.setdefault(kind, Row(f"{kind} sheet: one cell changed"))
        sheets[title][number][column] = value + 1 if isinstance(value, float) else _spoilt(value)
        row.count(None if audit_sheets(season, plan, sheets) else f"{title} row {number} column {column}: {value}")
        sheets[title][number][column] = value
    other = rows.setdefault("other", Row("the workbook of another plan"))
    for spoiled in SEEN[:: 5 if quick else 1]:
        other.count(None if audit_sheets(spoiled.season(), spoiled.plan(), sheets) else spoiled.name)
    return Table("The wall: the written workbook held against the plan", list(rows.values()), ("tried", "as it should"))
