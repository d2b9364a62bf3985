"""The written workbook, read back: what hangs on the wall is what the plan says."""

from __future__ import annotations

from collections.abc import Callable
from itertools import chain
from pathlib import Path

from scheduler.audit import wall_buy, wall_lists, wall_people, wall_season, wall_short, wall_why
from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wall import CannotRead, Cells, read_sheets
from scheduler.audit.wall_days import run_sheets
from scheduler.audit.wall_plan import Wall
from scheduler.plan.types import Plan
from scheduler.season.types import Season

CREW = {"Calendar": wall_season.calendar, "Crew": wall_people.crew}
OFFICE: dict[str, Callable[[Wall, Cells], Findings]] = {
    "Orders": wall_lists.orders,
    "Stock": wall_lists.stock,
    "Shortfall": lambda wall, cells: chain(wall_short.shortfall(wall, cells), wall_why.why(wall, cells)),
    "How full": wall_lists.how_full,
    "At a glance": wall_season.glance,
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
    found = [*run_sheets(wall, sheets), *wall_people.pages(wall, sheets)]
    checks: dict[str, Callable[[Wall, Cells], Findings]] = {
        **(CREW if crew_only else CREW | OFFICE),
        "Contents": lambda wall, cells: wall_season.contents(wall, cells, sheets.keys()),
    }
    if season.materials and not crew_only:
        checks["To buy"] = wall_buy.to_buy
    if plan.history and (told := plan.extras.get("changes")) and isinstance(told, dict) and told["rows"]:
        checks["What changed"] = lambda wall, cells: wall_season.changes(wall, cells, crew_only)
    for name, check in checks.items():
        if name in sheets:
            found += check(wall, sheets[name])
        else:
            found.append(Violation("workbook", name, "This sheet is missing."))
    return tuple(found)
