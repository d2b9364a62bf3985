"""What happens to a finished plan: audit, then files. Nothing that fails the audit is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from scheduler.audit import Violation, audit
from scheduler.plan.files import plan_fingerprint, read_plan, write_plan
from scheduler.plan.types import Plan
from scheduler.season.safe_write import CannotWrite
from scheduler.season.types import Season

PLAN_FILE = "plan.json"
WORKBOOK_FILE = "plan.xlsx"
CREW_FILE = "crew.xlsx"


class AuditFailed(Exception):
    """A finished plan breaks a rule of the kitchen; it was not written."""

    def __init__(self, violations: tuple[Violation, ...]) -> None:
        self.violations = violations
        super().__init__(f"{len(violations)} rules are broken")


@dataclass(frozen=True)
class Written:
    """A plan and where its two files are."""

    plan: Plan
    plan_file: Path
    workbook_file: Path


def write_audited(season: Season, plan: Plan, out: Path, progress: Callable[[str], None] | None = None) -> Written:
    """Audit a plan and its workbook, then write ``plan.json`` and ``plan.xlsx`` into a folder.

    The workbook is written beside, read back cell by cell and only then put in place, so
    that what hangs on the wall is what was audited.
    """
    say = progress or (lambda _line: None)
    say("auditing the plan")
    violations = audit(season, plan)
    if violations:
        raise AuditFailed(violations)
    plan_file, workbook_file = out / PLAN_FILE, out / WORKBOOK_FILE
    say("writing the workbook")

    _write_wall(season, plan, workbook_file)
    write_plan(plan, plan_file)
    return Written(plan, plan_file, workbook_file)


def write_crew_pages(season: Season, plan: Plan, folder: Path) -> Path:
    """Write ``crew.xlsx``: calendar, run sheets and people's pages, without customers, prices or pay.

    Read back like the plan's own workbook. Raises AuditFailed, CannotWrite.
    """
    _write_wall(season, plan, folder / CREW_FILE, crew_only=True)
    return folder / CREW_FILE


def _write_wall(season: Season, plan: Plan, path: Path, crew_only: bool = False) -> None:
    """Write a workbook beside its place, read it back, and only then put it in place."""
    from scheduler.audit.workbook import audit_workbook
    from scheduler.paper.workbook import write_workbook

    def on_the_wall(written: Path) -> None:
        found = audit_workbook(season, plan, written, crew_only)
        if found:
            raise AuditFailed(found)

    try:
        write_workbook(season, plan, path, crew_only=crew_only, check=on_the_wall)
    except CannotWrite as trouble:
        if isinstance(trouble.__cause__, AuditFailed):
            raise trouble.__cause__ from None
        raise


def folder_for(name: str, plan: Plan, under: Path = Path("reports")) -> Path:
    """A folder of its own for a plan: an earlier, different plan is never written over.

    The same plan made again lands in the same folder; a new one gets the next number.
    """
    number = 1
    while True:
        folder = under / (name if number == 1 else f"{name}-{number}")
        if not (folder / PLAN_FILE).exists():
            return folder
        try:
            if plan_fingerprint(read_plan(folder / PLAN_FILE)) == plan_fingerprint(plan):
                return folder
        except Exception:  # a damaged plan is not ours to replace
            pass
        number += 1
