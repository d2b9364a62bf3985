"""Taking one of the choices after news, or a remedy: audited, and written beside the season with all its facts."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from scheduler.answers.changes import KEY, kept
from scheduler.answers.explain import with_certificates
from scheduler.answers.rebalance import Choice, Rebalance
from scheduler.answers.remedy import Remedy, remedies_of
from scheduler.audit.facts import audit_rebalance
from scheduler.paper.calendars import write_calendars
from scheduler.paper.changes_words import minds
from scheduler.paper.words import count
from scheduler.pipeline import AuditFailed, folder_for, folders_from, may_take, write_audited
from scheduler.plan.changes import compare
from scheduler.plan.files import plan_fingerprint
from scheduler.plan.types import Ancestry, Plan
from scheduler.season.faults import Fault, SeasonFaults
from scheduler.season.read import read_season
from scheduler.season.types import Season
from scheduler.season.write import write_season

if TYPE_CHECKING:
    from scheduler.models.search.loop import PlanOptions

MENDED = "mended"  # in the name of a folder: a remedy was taken
Row = TypeVar("Row")

@dataclass(frozen=True)
class Taken:
    """Where the files of an adopted plan are; ``stayed``: the folder that was named, where it holds others already."""

    season: Season
    plan: Plan
    plan_file: Path
    workbook_file: Path
    season_path: Path
    stayed: Path | None = None


def take_choice(found: Rebalance, number: int, season: Path, name: str, out: Path | None = None) -> Taken:
    """Adopt choice ``number``: audit it against the plan before, then write it into a folder of its own.

    Raises AuditFailed, CannotWrite, and SeasonFaults where there is no such choice.
    """
    choice = _numbered(found.choices, number, "choice")
    plan = choice.plan
    if found.news:
        plan = with_certificates(choice.season, plan)
        plan = replace(plan, extras={**plan.extras, KEY: kept_of(found, choice)})
    return _written(found.before, choice.season, plan, (found.now.day, found.now.minute), season, name, out)


def kept_of(found: Rebalance, choice: Choice) -> dict[str, object]:
    """The changes of a choice, with what is to be minded, as they are kept with the plan."""
    return kept(choice.changes, choice.least_points, list(minds(choice, found)), found.now.day)


def take_remedy(
    told: Season, before: Plan, number: int, season: Path, name: str, out: Path | None, options: PlanOptions
) -> tuple[Taken, Remedy]:
    """Make remedy ``number`` of a plan real: the season with its change, and a plan of it, in a folder of their own.

    Also what that plan mends. Raises AuditFailed, CannotWrite, SeasonFaults where there is no such remedy, and what
    ``made_real`` raises.
    """
    from scheduler.answers.remedies import made_real

    if "remedies" not in before.extras:
        message = "this plan knows of no remedies yet: first run rockrota explain SEASON PLAN --remedies."
        raise SeasonFaults([Fault("--take", None, "", str(number), message)])
    remedy = _numbered(remedies_of(before), number, "remedy", "remedies")
    after, plan, mended = made_real(told, before, remedy, options)
    now = (before.from_day, before.from_minute)
    plan = with_certificates(after, plan)
    line = Ancestry(plan_fingerprint(before), *now, " and ".join(remedy.changes))
    changes = compare(before, plan, before.from_day)
    plan = replace(plan, history=(*before.history, line), extras={**plan.extras, KEY: kept(changes, 0)})
    return _written(before, after, plan, now, season, name, out), mended


def _numbered(rows: Sequence[Row], number: int, one: str, many: str = "") -> Row:
    """The row of this number, from 1. Raises SeasonFaults where there is none."""
    if number > len(rows):
        there = f"there {'is' if len(rows) == 1 else 'are'} {count(len(rows), one, many)}"
        message = f"{there}; take one from 1 to {len(rows)}." if rows else f"{there}."
        raise SeasonFaults([Fault("--take", None, "", str(number), message)])
    return rows[number - 1]


def _written(
    before: Plan, season: Season, plan: Plan, now: tuple[date, int], path: Path, name: str, out: Path | None
) -> Taken:  # fmt: skip
    """Audit a plan against the plan before, then write it, its season and its calendars.

    The season goes first, the plan last: a folder that holds a plan is whole. Nothing that
    was there before is written over.
    """
    violations = audit_rebalance(before, season, plan, now)
    if violations:
        raise AuditFailed(violations)
    beside_it = "season.xlsx" if path.suffix.casefold() == ".xlsx" else "season"
    wanted = out or folder_for(name, plan)
    folder = next(f for f in folders_from(wanted) if may_take(f, plan) and _no_other_season(f / beside_it, season))
    beside = folder / beside_it
    write_season(season, beside)
    write_calendars(season, plan, folder / "calendars")
    written = write_audited(season, plan, folder)
    stayed = wanted if folder != wanted else written.stayed
    return Taken(season, plan, written.plan_file, written.workbook_file, beside, stayed)


def named(name: str, season: Path, what: date | str) -> str:
    """The name of a folder for what is taken on a day: of the season, or of the folder of the plan that it lies beside.

    Example: reports/spring-2027-03-02/season, taken on 4 March: spring-2027-03-04. A remedy is ``what`` else.
    """
    beside = season.resolve().parent
    if (beside / "plan.json").exists():
        name = re.sub(rf"-(\d{{4}}-\d\d-\d\d|{MENDED})(-\d+)?$", "", beside.name)
    return f"{name}-{what}"


def _no_other_season(path: Path, season: Season) -> bool:
    """Whether a season may be written here: there is none yet, or the same one."""
    try:
        return not path.exists() or read_season(path) == season
    except SeasonFaults:  # half typed, perhaps: not ours to replace
        return False
