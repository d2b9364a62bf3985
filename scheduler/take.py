"""Taking one of the choices after news: audited, and written beside the season with all its facts."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from scheduler.answers.changes import KEY, kept
from scheduler.answers.explain import with_certificates
from scheduler.answers.rebalance import Rebalance
from scheduler.audit.facts import audit_rebalance
from scheduler.paper.calendars import write_calendars
from scheduler.pipeline import AuditFailed, folder_for, folders_from, may_take, write_audited
from scheduler.plan.types import Plan
from scheduler.season.faults import Fault, SeasonFaults
from scheduler.season.read import read_season
from scheduler.season.types import Season
from scheduler.season.write import write_season


@dataclass(frozen=True)
class Taken:
    """Where the files of an adopted plan are; ``stayed``: the folder that was named, where it holds others already."""

    plan: Plan
    plan_file: Path
    workbook_file: Path
    season_path: Path
    stayed: Path | None = None


def take_choice(found: Rebalance, number: int, season: Path, name: str, out: Path | None = None) -> Taken:
    """Adopt choice ``number``: audit it against the plan before, then write it into a folder of its own.

    The season goes first, the plan last: a folder that holds a plan is whole. Nothing that
    was there before is written over. Raises AuditFailed, CannotWrite, and SeasonFaults where
    there is no such choice.
    """
    if number > len(found.choices):
        count = len(found.choices)
        message = f"there {'is 1 choice' if count == 1 else f'are {count} choices'}; take one from 1 to {count}."
        raise SeasonFaults([Fault("--take", None, "", str(number), message)])
    choice = found.choices[number - 1]
    plan = choice.plan
    if found.news:
        plan = with_certificates(choice.season, plan)
        plan = replace(plan, extras={**plan.extras, KEY: kept(choice.changes, choice.least_points)})
    violations = audit_rebalance(found.before, choice.season, plan, (found.now.day, found.now.minute))
    if violations:
        raise AuditFailed(violations)
    beside_it = "season.xlsx" if season.suffix.casefold() == ".xlsx" else "season"
    wanted = out or folder_for(name, plan)
    folder = next(
        f for f in folders_from(wanted) if may_take(f, plan) and _no_other_season(f / beside_it, choice.season)
    )
    beside = folder / beside_it
    write_season(choice.season, beside)
    write_calendars(choice.season, plan, folder / "calendars")
    written = write_audited(choice.season, plan, folder)
    stayed = wanted if folder != wanted else written.stayed
    return Taken(plan, written.plan_file, written.workbook_file, beside, stayed)


def named(name: str, season: Path, day: date) -> str:
    """The name of a folder for what is taken on a day: of the season, or of the folder of the plan that it lies beside.

    Example: reports/spring-2027-03-02/season, taken on 4 March: spring-2027-03-04.
    """
    beside = season.resolve().parent
    first = re.sub(r"-\d{4}-\d\d-\d\d(-\d+)?$", "", beside.name) if (beside / "plan.json").exists() else name
    return f"{first}-{day}"


def _no_other_season(path: Path, season: Season) -> bool:
    """Whether a season may be written here: there is none yet, or the same one."""
    try:
        return not path.exists() or read_season(path) == season
    except SeasonFaults:  # half typed, perhaps: not ours to replace
        return False
