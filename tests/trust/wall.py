"""The workbook for the wall read back: a cell or a plan that differs is noticed."""

from __future__ import annotations

import tempfile
from pathlib import Path

from scheduler.audit.wall.cells import read_sheets
from scheduler.audit.wall.why import MEND, PARTS, WHY
from scheduler.audit.wall.workbook import audit_sheets
from scheduler.paper.workbook import write_workbook
from tests.audit.test_certificates import CASES, explained
from tests.audit.test_workbook import SEEN
from tests.audit.wall_sabotage import changed_plan, mended_plan, named, sabotages, told_rows, told_sabotages
from tests.handmade import handmade_plan, handmade_season
from tests.trust.table import Row, Table


def table(quick: bool) -> Table:
    """Every sheet spoilt in every kind of way; and the workbook held against other plans."""
    season, plan = handmade_season(), changed_plan()
    with tempfile.TemporaryDirectory() as folder:
        write_workbook(season, plan, Path(folder) / "plan.xlsx")
        sheets = read_sheets(Path(folder) / "plan.xlsx")
        write_workbook(season, handmade_plan(), Path(folder) / "plan.xlsx")
        before = read_sheets(Path(folder) / "plan.xlsx")
    rows = {"": Row("the workbook as written: no difference")}
    rows[""].count(None if not audit_sheets(season, plan, sheets) else "a difference is named")
    kinds: dict[str, set[str]] = {}
    for title, cells in sheets.items():
        sheet = title.split(" ")[0] if title.startswith(("Day ", "Person ")) else title
        row = rows.setdefault(sheet, Row(f"{sheet}: spoilt in one place"))
        for kind, spoilt in sabotages(title, cells, 3 if quick else 10**6):
            caught = named(audit_sheets(season, plan, {**sheets, title: spoilt}), title)
            row.count(None if caught else f"{title}, {kind}, unnoticed or not named")
            kinds.setdefault(sheet, set()).add(kind)
    for sheet, tried in kinds.items():
        rows[sheet].note = f"{len(tried)} kinds"
        if len(tried) < 5:
            rows[sheet].failures.append(f"only {len(tried)} kinds of sabotage")
    for kind in ["remedies", *sorted(CASES)][:: 7 if quick else 1]:
        _told(kind, rows, 9 if quick else 1)
    other = rows.setdefault("other", Row("the workbook of another plan"))
    for spoiled in SEEN[:: 15 if quick else 1]:
        other.count(None if audit_sheets(spoiled.season(), spoiled.plan(), before) else spoiled.name)
    return Table("The wall: the written workbook held against the plan", list(rows.values()), ("tried", "caught"))


def _told(kind: str, rows: dict[str, Row], step: int) -> None:
    """The sums of a kind of limit, or the remedies, spoilt sentence by sentence."""
    season, plan = (handmade_season(), mended_plan()) if kind == "remedies" else explained(kind)[:2]
    with tempfile.TemporaryDirectory() as folder:
        write_workbook(season, plan, Path(folder) / "plan.xlsx")
        cells = read_sheets(Path(folder) / "plan.xlsx")["Shortfall"]
    for head in (WHY, MEND) if kind == "remedies" else (WHY,):
        row = rows.setdefault(f"{kind} {head}", Row(f"Shortfall, {PARTS[head]}, {kind}: spoilt in one place"))
        spoilt = list(told_sabotages(cells, told_rows(cells, head)))
        for how, sheet in spoilt[::step]:
            caught = named(audit_sheets(season, plan, {"Shortfall": sheet}), f"Shortfall, {PARTS[head]}")
            row.count(None if caught else f"{how}, unnoticed or not named")
        row.note = f"{len({how for how, _ in spoilt})} kinds"
