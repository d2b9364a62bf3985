"""The written workbook, read back: what hangs on the wall is what the plan says."""

from __future__ import annotations

from collections.abc import Callable
from itertools import chain
from pathlib import Path

from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wall.buy import to_buy
from scheduler.audit.wall.cells import CannotRead, Cells, read_sheets
from scheduler.audit.wall.days import run_sheets
from scheduler.audit.wall.lists import how_full, orders, stock
from scheduler.audit.wall.people import crew, pages
from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.season import calendar, changes, contents, glance
from scheduler.audit.wall.short import shortfall
from scheduler.audit.wall.why import why
from scheduler.plan.types import Plan
from scheduler.season.types import Season

CREW = {"Calendar": calendar, "Crew": crew}
OFFICE: dict[str, Callable[[Wall, Cells], Findings]] = {
    "Orders": orders,
    "Stock": stock,
    "Shortfall": lambda wall, cells: chain(shortfall(wall, cells), why(wall, cells)),
    "How full": how_full,
    "At a glance": glance,
}


def audit_workbook(season: Season, plan: Plan, path: Path | str, crew_only: bool = False) -> tuple[Violation, ...]:
    """Read a plan's workbook back cell by cell and hold it against the plan; empty is equal.

    ``crew_only``: the workbook without customers, prices and pay. Blanks that people fill in
    are not looked at. The rule of every violation is ``workbook``; ``where`` is the sheet.
    """
    try:
        sheets = read_sheets(Path(path))
    except CannotRead as trouble:
        return (Violation("workbook", "file", str(trouble)),)
    return audit_sheets(season, plan, sheets, crew_only)


def audit_sheets(
    season: Season, plan: Plan, sheets: dict[str, Cells], crew_only: bool = False
) -> tuple[Violation, ...]:
    """Hold the cells of a workbook, by sheet, against the plan; see ``audit_workbook``."""
    wall = Wall(Reading(season, (plan.from_day, plan.from_minute)), plan)
    found = [*run_sheets(wall, sheets), *pages(wall, sheets)]
    checks: dict[str, Callable[[Wall, Cells], Findings]] = {
        **(CREW if crew_only else CREW | OFFICE),
        "Contents": lambda wall, cells: contents(wall, cells, sheets.keys()),
    }
    if season.materials and not crew_only:
        checks["To buy"] = to_buy
    if plan.history and (told := plan.extras.get("changes")) and isinstance(told, dict) and told["rows"]:
        checks["What changed"] = lambda wall, cells: changes(wall, cells, crew_only)
    for name, check in checks.items():
        if name in sheets:
            found += check(wall, sheets[name])
        else:
            found.append(Violation("workbook", name, "This sheet is missing."))
    return tuple(found)
