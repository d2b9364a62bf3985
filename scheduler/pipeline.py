"""What happens to a finished plan: audit, then files. Nothing that fails the audit is written."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from scheduler.audit import Violation, audit
from scheduler.plan.files import PlanFaults, plan_fingerprint, read_plan, write_plan
from scheduler.plan.types import Plan
from scheduler.season.safe_write import CannotWrite
from scheduler.season.types import Season

CREW_FILE = "crew.xlsx"


class AuditFailed(Exception):
    """A finished plan breaks a rule of the kitchen; it was not written."""

    def __init__(self, violations: tuple[Violation, ...]) -> None:
        self.violations = violations
        super().__init__(f"{len(violations)} rules are broken")


@dataclass(frozen=True)
class Written:
    """A plan and where its two files are; ``stayed``: a workbook that was typed into, so it was not written over."""

    plan: Plan
    plan_file: Path
    workbook_file: Path
    stayed: Path | None = None


def write_audited(
    season: Season, plan: Plan, out: Path, progress: Callable[[str], None] | None = None, name: str = "plan"
) -> Written:
    """Audit a plan and its workbook, then write ``plan.json`` and ``plan.xlsx`` into a folder.

    Where somebody has typed into the workbook that is there, it stays. The same plan, perhaps
    with more answers in it, gets a workbook beside it (``plan-2.xlsx``); another plan gets a folder
    of its own (``folder-2``), as what was typed belongs to the plan that is there. The workbook
    is written beside, read back cell by cell and only then put in place, so that what hangs on
    the wall is what was audited.
    """
    say = progress or (lambda _line: None)
    say("auditing the plan")
    violations = audit(season, plan)
    if violations:
        raise AuditFailed(violations)
    folder = out
    if _typed_elsewhere(out, plan, name):
        folder = next(f for f in folders_from(out) if may_take(f, plan, name))
    plan_file, wanted = folder / f"{name}.json", folder / f"{name}.xlsx"
    say("writing the workbook")
    from scheduler.paper.untouched import free_name

    workbook_file = free_name(wanted)
    _write_wall(season, plan, workbook_file)
    write_plan(plan, plan_file)
    stayed = None if folder == out and workbook_file == wanted else out / wanted.name
    return Written(plan, plan_file, workbook_file, stayed)


def folders_from(out: Path) -> Iterator[Path]:
    """The folder itself, then ``folder-2`` and so on."""
    yield out
    whole = out if out.name not in ("", "..") else out.resolve()
    for number in count(2):
        yield whole.with_name(f"{whole.name}-{number}")


def _typed_elsewhere(folder: Path, plan: Plan, name: str) -> bool:
    """Whether a folder holds a workbook that somebody typed into, of a plan with other days than this one's."""
    from scheduler.paper.untouched import free_name

    there = _plan_in(folder / f"{name}.json")
    return free_name(folder / f"{name}.xlsx").name != f"{name}.xlsx" and (there is None or there.days != plan.days)


def may_take(folder: Path, plan: Plan, name: str = "plan") -> bool:
    """Whether a plan may have a folder as its own: there is no other plan in it, nor what was typed for another."""
    there, plan_file = _plan_in(folder / f"{name}.json"), folder / f"{name}.json"
    same = there is not None and plan_fingerprint(there) == plan_fingerprint(plan)
    return (same or not plan_file.exists()) and not _typed_elsewhere(folder, plan, name)


def _plan_in(plan_file: Path) -> Plan | None:
    """The plan in a file; None where there is none, or a damaged one, which is not ours to replace."""
    try:
        return read_plan(plan_file)
    except PlanFaults:
        return None


def write_crew_pages(season: Season, plan: Plan, folder: Path) -> Path:
    """Write ``crew.xlsx``: calendar, run sheets and people's pages, without customers, prices or pay.

    Read back like the plan's own workbook, and never written over what somebody typed (``crew-2.xlsx``).
    Raises AuditFailed, CannotWrite.
    """
    from scheduler.paper.untouched import free_name

    path = free_name(folder / CREW_FILE)
    _write_wall(season, plan, path, crew_only=True)
    return path


def _write_wall(season: Season, plan: Plan, path: Path, crew_only: bool = False) -> None:
    """Write a workbook beside its place, read it back, and only then put it in place."""
    from scheduler.audit.wall.workbook import audit_workbook
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
    return next(f for f in folders_from(under / name) if may_take(f, plan))
