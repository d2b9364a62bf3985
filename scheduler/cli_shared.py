"""What the commands share: the app, arguments, exit codes, reading, and plain words for every trouble."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

if TYPE_CHECKING:
    from scheduler.answers.facts import Moment
    from scheduler.plan.types import Plan
    from scheduler.season.types import Season

app = typer.Typer(
    name="rockrota",
    help="Plan a season of handmade picture candy: who makes which design when, to the minute.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

FAULTS, CLASH, NO_PLAN, NOT_WRITTEN, NOT_SOUND = 3, 4, 5, 6, 7
NO_ROOM = "This machine has too little memory for this season"
NO_MEMORY = (  # as libraries and Python itself say it
    "can't start new thread", "failed to map segment", "Cannot allocate memory", "returned NULL without setting"
)  # fmt: skip

SeasonArg = Annotated[
    Path, typer.Argument(metavar="SEASON", help="The season: a workbook (.xlsx) or a folder of CSV files.")
]
PlanArg = Annotated[Path, typer.Argument(metavar="PLAN", help="A plan file (plan.json) or the folder that holds it.")]
CrewPagesOpt = Annotated[
    Path | None,
    typer.Option(
        metavar="FOLDER",
        help="Write crew.xlsx into this folder, too: run sheets and pages without customers, prices or wages.",
    ),
]
JsonOpt = Annotated[bool, typer.Option("--json", help="Print one summary object on stdout and nothing else.")]


def read(path: Path) -> Season:
    """Read a season and say its warnings on stderr. Raises SeasonFaults, also where nobody can make anything."""
    from scheduler.season.check import nothing_can_be_made, warnings
    from scheduler.season.faults import SeasonFaults
    from scheduler.season.read import read_season

    told = read_season(path)
    if fault := nothing_can_be_made(told):
        raise SeasonFaults([fault])
    for warning in warnings(told):
        typer.echo(f"Note: {warning}", err=True)
    return told


def read_plan(path: Path) -> Plan:
    from scheduler.plan.files import read_plan

    return read_plan(path / "plan.json" if path.is_dir() else path)


def read_both(season: Path, plan: Path, now: Moment | None = None) -> tuple[Season, Plan]:
    """A season and a plan that keeps its rules; stops where it does not, for then no answer would be true.

    Where something was recorded since, and ``now`` is told, the plan as it stands then, if its days can stay.
    """
    from scheduler.audit import audit
    from scheduler.audit.belongs import strangers

    told, made = read(season), read_plan(plan)
    broken = strangers(told, made) or tuple(str(v) for v in audit(told, made))
    if broken:
        from scheduler.answers.as_it_stands import as_it_stands

        standing = None if now is None else as_it_stands(told, made, now)
        if standing is not None:
            typer.echo(f"Note: answered from the plan as it stands on {now}, with what was recorded.", err=True)
            return standing
        why = "\n".join(broken[:3])
        advice = no_match(told, made, season, plan)
        stop(f"The plan does not fit this season, so it can't answer. {advice}\nThe first of it:\n{why}", NOT_SOUND)
    return told, made


def no_match(season: Season, plan: Plan, season_path: Path, plan_path: Path) -> str:
    """What to do where a plan does not keep the rules of a season that it was not made for; "" if it was."""
    from scheduler.season.fingerprint import fingerprint

    if plan.season == fingerprint(season):
        return "It was made for it and breaks its rules: plan anew."
    folder = plan_path if plan_path.is_dir() else plan_path.parent
    beside = [p for p in (folder / "season", folder / "season.xlsx") if p.exists()]
    if beside and beside[0].resolve() != season_path.resolve():
        return f"It goes with the season beside it: use {beside[0]} instead of {season_path}."
    return (
        "The season has changed since the plan was made, or something was recorded: first take one of the "
        f"choices that follow from it (rockrota rebalance {season_path} {plan_path} --now DAY). "
        "For a customer on the phone before that: rockrota promise with --now DAY, or --now 2026-03-12T10:30 "
        "where something was recorded that day."
    )


def say_stayed(stayed: Path | None, new: Path) -> None:
    """Say on stderr what was not written over, and where the new files are instead."""
    if stayed is not None:
        typed = "was filled in or saved since it was written"
        why = "holds another plan or season already" if stayed.is_dir() else typed
        typer.echo(f"{stayed} {why}, so it stays as it is; new: {new}", err=True)


def crew_pages_of(season: Season, plan: Plan, folder: Path | None) -> Path | None:
    """Write the crew's workbook where a folder is named; says on stderr what was not written over."""
    from scheduler.pipeline import CREW_FILE, write_crew_pages

    if folder is None:
        return None
    written = write_crew_pages(season, plan, folder)
    if written.name != CREW_FILE:
        say_stayed(written.with_name(CREW_FILE), written)
    return written


def say_files(workbook: Path, plan: Path) -> None:
    """Say on stdout where the workbook and the plan file are."""
    typer.echo(f"\nFor the wall: {workbook}\nTo read back: {plan}")


def stem(season: Path) -> str:
    return season.resolve().stem or "season"


@contextmanager
def live_line() -> Iterator[Callable[[str], None]]:
    """A progress line that rewrites itself in a terminal, and nothing when piped."""
    live = sys.stderr.isatty()

    def say(line: str) -> None:
        if live:
            sys.stderr.write(f"\r\x1b[2K{line[:110]}")
            sys.stderr.flush()

    try:
        yield say
    finally:
        if live:
            sys.stderr.write("\r\x1b[2K")
            sys.stderr.flush()


@contextmanager
def plain_errors(writes: bool = True) -> Iterator[None]:
    """Turn every known trouble into plain lines on stderr and its exit code; hide tracebacks.

    ``writes``: the command writes files, so that it is worth saying where it did not.
    """
    unwritten = "; nothing was written." if writes else "."
    from scheduler.season.faults import SeasonFaults
    from scheduler.season.safe_write import CannotWrite

    try:
        yield
    except (typer.Exit, typer.BadParameter):
        raise
    except SeasonFaults as trouble:
        for fault in trouble.faults:
            typer.echo(str(fault), err=True)
        where = "command" if all(f.table.startswith("--") for f in trouble.faults) else "season"
        stop(f"{len(trouble.faults)} to mend in the {where}{unwritten}", FAULTS)
    except CannotWrite as trouble:
        stop(str(trouble), NOT_WRITTEN)
    except KeyboardInterrupt:
        stop(f"Stopped{unwritten}", 130)
    except Exception as trouble:
        try:
            known = _short_of_memory(trouble, unwritten) or _known(trouble, unwritten)
        except Exception as since:  # memory ran out for good: not even the rooms that know the trouble can be imported
            known = _short_of_memory(since, unwritten)
        if known is None:
            if os.environ.get("ROCKROTA_TRACEBACK"):
                raise
            where = "Set ROCKROTA_TRACEBACK=1 and run again to see where, for a report."
            known = f"Something went wrong inside rockrota ({type(trouble).__name__}){unwritten} {where}", 1
        stop(*known)


def _short_of_memory(trouble: Exception, unwritten: str) -> tuple[str, int] | None:
    """Message and exit code where memory ran out; None for any other trouble."""
    if isinstance(trouble, MemoryError) or any(sign in str(trouble) for sign in NO_MEMORY):
        return f"{NO_ROOM}{unwritten}", NO_PLAN
    return None


def _known(trouble: Exception, unwritten: str) -> tuple[str, int] | None:
    """Message and exit code of a trouble from the rooms that are imported late; None for any other."""
    from scheduler.plan.files import PlanFaults

    if isinstance(trouble, PlanFaults):
        return str(trouble), FAULTS
    from scheduler.pipeline import AuditFailed

    if isinstance(trouble, AuditFailed):
        lines = [str(v) for v in trouble.violations[:20]]
        if all(v.rule == "pins" for v in trouble.violations):
            advice = "No plan was found that keeps this decision: ask for less, or take the pin out"
            advice += " (where --seconds is short, a few more may do)"
            return "\n".join([*lines, f"{advice}{unwritten}"]), CLASH
        return "\n".join([*lines, "The plan breaks a rule of the kitchen, so it was not written."]), NOT_SOUND
    from scheduler.models.no_plan import Contradiction, NoPlan

    if isinstance(trouble, Contradiction):
        return str(trouble), CLASH
    if isinstance(trouble, NoPlan):
        return str(trouble), NO_PLAN
    return None


def stop(message: str, code: int) -> NoReturn:
    typer.echo(message, err=True)
    raise typer.Exit(code)
