"""The command line: thin commands, one function each. Results on stdout, all else on stderr."""

from __future__ import annotations

import io
import json
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn, TextIO

import typer

if TYPE_CHECKING:
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
NO_MEMORY = ("can't start new thread", "failed to map segment", "Cannot allocate memory")  # as libraries say it
SOLVE = frozenset({"plan", "explain", "promise", "rebalance"})  # commands that run solvers

SeasonArg = Annotated[
    Path, typer.Argument(metavar="SEASON", help="The season: a workbook (.xlsx) or a folder of CSV files.")
]
PlanArg = Annotated[Path, typer.Argument(metavar="PLAN", help="A plan file (plan.json) or the folder that holds it.")]
JsonOpt = Annotated[bool, typer.Option("--json", help="Print one summary object on stdout and nothing else.")]


@app.command()
def plan(
    season: SeasonArg,
    out: Annotated[Path | None, typer.Option(help="Folder for the plan; by default a new one under reports/.")] = None,
    as_json: JsonOpt = False,
    effort: Annotated[
        float, typer.Option(min=0.01, help="How hard to try: 2 is twice the usual work, 0.5 half of it.")
    ] = 1.0,
    seconds: Annotated[
        float | None,
        typer.Option(min=1, help="Stop searching after this long; a plan that hits this limit may differ next time."),
    ] = None,
    crew_pages: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Write crew.xlsx into this folder, too: run sheets and pages without customers, prices or pay.",
        ),
    ] = None,
) -> None:
    """Plan a season: write plan.xlsx for the wall and plan.json to read back."""
    began = time.monotonic()
    with _plain_errors():
        from scheduler.answers.explain import with_certificates
        from scheduler.models.loop import PlanOptions, plan_season
        from scheduler.pipeline import CREW_FILE, folder_for, write_audited, write_crew_pages

        told = _read(season)
        with _live_line() as say:
            made = with_certificates(told, plan_season(told, PlanOptions(effort=effort, seconds=seconds), say))
            written = write_audited(told, made, out or folder_for(_stem(season), made), say)
            crew_file = write_crew_pages(told, made, crew_pages) if crew_pages is not None else None
        _say_stayed(written.stayed, written.workbook_file)
        _report(told, made, as_json, time.monotonic() - began, written.plan_file, written.workbook_file)
        if crew_file is not None and not as_json:
            if crew_file.name != CREW_FILE:
                _say_stayed(crew_file.with_name(CREW_FILE), crew_file)
            typer.echo(f"For the crew: {crew_file}")


@app.command()
def check(season: SeasonArg) -> None:
    """Read a season and name every fault and every doubt, without planning it."""
    with _plain_errors(writes=False):
        from scheduler.paper.words import count

        told = _read(season)
        kitchen = told.kitchen
        typer.echo(
            f"{kitchen.name}: {kitchen.first_day} to {kitchen.last_day}, {count(len(told.designs), 'design')}, "
            f"{count(len(told.crew), 'person', 'people')}, {count(len(told.orders), 'order')}, "
            f"{count(len(told.forecasts), 'forecast')}. No faults."
        )


@app.command()
def audit(season: SeasonArg, plan: PlanArg) -> None:
    """Hold a plan against every rule of the season again, without any solver."""
    with _plain_errors(writes=False):
        from scheduler.audit import audit as audit_plan
        from scheduler.season.fingerprint import fingerprint

        told, made = _read(season), _read_plan(plan)
        violations = audit_plan(told, made)
        if violations and made.season != fingerprint(told):
            typer.echo(
                "The season has changed since this plan was made: rebalance the plan, or audit it with the season "
                "that lies beside the adopted plan."
            )
        for violation in violations:
            typer.echo(str(violation))
        if violations:
            raise typer.Exit(NOT_SOUND)
        typer.echo(f"Sound: {len(made.days)} days and {len(made.fills)} deliveries keep every rule.")


@app.command()
def template(
    path: Annotated[Path, typer.Argument(help="A workbook to write (.xlsx), or a folder for CSV files.")],
    demo: Annotated[bool, typer.Option("--demo", help="Filled with the demo season instead of empty.")] = False,
) -> None:
    """Write an empty season to fill in: every table with notes, units and drop-down lists."""
    with _plain_errors():
        from scheduler.season.read import read_season
        from scheduler.season.template import write_template
        from scheduler.season.write import refuse_to_lose

        refuse_to_lose(None, path)
        write_template(path, read_season(_demo_folder()) if demo else None)
        typer.echo(f"Written: {path}")


@app.command()
def convert(
    season: SeasonArg,
    path: Annotated[Path, typer.Argument(help="A workbook to write (.xlsx), or a folder for CSV files.")],
    replace: Annotated[bool, typer.Option("--replace", help="Write over the season that is there.")] = False,
) -> None:
    """Turn a season workbook into a folder of CSV files, or the other way round, without loss."""
    with _plain_errors():
        from scheduler.season.write import refuse_to_lose, write_season

        told = _read(season)
        refuse_to_lose(season, path, replace)
        write_season(told, path)
        typer.echo(f"Written: {path}")


def _read(path: Path) -> Season:
    """Read a season and say its warnings on stderr."""
    from scheduler.season.check import warnings
    from scheduler.season.read import read_season

    told = read_season(path)
    for warning in warnings(told):
        typer.echo(f"Note: {warning}", err=True)
    return told


def _read_plan(path: Path) -> Plan:
    from scheduler.plan.files import read_plan

    return read_plan(path / "plan.json" if path.is_dir() else path)


def _read_both(season: Path, plan: Path) -> tuple[Season, Plan]:
    """A season and a plan that keeps its rules; stops where it does not, for then no answer would be true."""
    from scheduler.audit import audit
    from scheduler.audit.belongs import strangers

    told, made = _read(season), _read_plan(plan)
    broken = strangers(told, made) or tuple(str(v) for v in audit(told, made))
    if broken:
        why = "\n".join(broken[:5])
        _stop(f"{why}\nThe plan does not fit this season{_changed(told, made)}, so it can't answer.", NOT_SOUND)
    return told, made


def _changed(season: Season, plan: Plan) -> str:
    from scheduler.season.fingerprint import fingerprint

    return "" if plan.season == fingerprint(season) else ", which has changed since (rebalance it, or plan anew)"


def _say_stayed(stayed: Path | None, new: Path) -> None:
    """Say on stderr what was not written over, and where the new files are instead."""
    if stayed is not None:
        typed = "was filled in or saved since it was written"
        why = "holds another plan or season already" if stayed.is_dir() else typed
        typer.echo(f"{stayed} {why}, so it stays as it is; new: {new}", err=True)


def _stem(season: Path) -> str:
    return season.resolve().stem or "season"


def _demo_folder() -> Path:
    """The demo season: in the checkout, or where the installed package put it."""
    checkout = Path(__file__).resolve().parents[1] / "inputs" / "spring"
    return checkout if checkout.is_dir() else Path(sys.prefix) / "share" / "rockrota" / "spring"


def _report(season: Season, plan: Plan, as_json: bool, seconds: float, plan_file: Path, workbook_file: Path) -> None:
    """Print the result of a plan: one JSON object, or a short letter."""
    from scheduler.plan.summary import summarize

    summary = summarize(season, plan)
    if as_json:
        fields = summary.as_dict() | {
            "seconds": round(seconds, 2),
            "plan": str(plan_file),
            "workbook": str(workbook_file),
        }
        typer.echo(json.dumps(fields))
        return
    from scheduler.paper.terminal import letter, on_screen

    typer.echo(on_screen(letter(season, plan, summary)))
    typer.echo(f"\nFor the wall: {workbook_file}\nTo read back: {plan_file}")


@contextmanager
def _live_line() -> Iterator[Callable[[str], None]]:
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
def _plain_errors(writes: bool = True) -> Iterator[None]:
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
        _stop(f"{len(trouble.faults)} to mend in the season{unwritten}", FAULTS)
    except CannotWrite as trouble:
        _stop(str(trouble), NOT_WRITTEN)
    except KeyboardInterrupt:
        _stop(f"Stopped{unwritten}", 130)
    except Exception as trouble:
        _stop(*_known(trouble, unwritten))


def _known(trouble: Exception, unwritten: str) -> tuple[str, int]:
    """Message and exit code of a trouble from the rooms that are imported late."""
    from scheduler.plan.files import PlanFaults

    if isinstance(trouble, PlanFaults):
        return str(trouble), FAULTS
    from scheduler.pipeline import AuditFailed

    if isinstance(trouble, AuditFailed):
        lines = [str(v) for v in trouble.violations[:20]]
        if all(v.rule == "pins" for v in trouble.violations):
            advice = "No plan was found that keeps this decision: ask for less, or take the pin out"
            return "\n".join([*lines, f"{advice}{unwritten}"]), CLASH
        return "\n".join([*lines, "The plan breaks a rule of the kitchen, so it was not written."]), NOT_SOUND
    from scheduler.models.loop import Contradiction, NoPlan

    if isinstance(trouble, Contradiction):
        return str(trouble), CLASH
    if isinstance(trouble, NoPlan):
        return str(trouble), NO_PLAN
    if os.environ.get("ROCKROTA_TRACEBACK"):
        raise trouble
    if isinstance(trouble, MemoryError) or any(sign in str(trouble) for sign in NO_MEMORY):
        return f"This machine has too little memory for this season{unwritten}", NO_PLAN
    return (
        f"Something went wrong inside rockrota ({type(trouble).__name__}){unwritten} "
        "Set ROCKROTA_TRACEBACK=1 and run again to see where, for a report.",
        1,
    )


def _stop(message: str, code: int) -> NoReturn:
    typer.echo(message, err=True)
    raise typer.Exit(code)


from scheduler import cli_answers, cli_change  # noqa: E402, F401  (they register their commands on ``app``)


def main() -> None:
    """Entry point of the ``rockrota`` command."""
    only_our_words()
    if SOLVE.intersection(sys.argv[1:2]) and "--help" not in sys.argv:
        from scheduler.watched import watched

        watched(app, NO_PLAN)
    else:
        app()


def only_our_words() -> None:
    """Keep both channels for what we print: solvers sometimes print by themselves, past Python; that goes nowhere.

    Where nobody reads on, as after ``| head``, what is left to say goes nowhere, too: files are written all the same.
    """
    sys.stdout.flush()
    sys.stderr.flush()
    ours = os.dup(1), os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    os.close(nowhere)
    sys.stdout = _patient(ours[0], sys.stdout)
    sys.stderr = _patient(ours[1], sys.stderr)


class _Patient(io.FileIO):
    """An end of a pipe that may have lost its reader."""

    def write(self, data: Any, /) -> int:
        try:
            return super().write(data)
        except BrokenPipeError:
            return len(data)


def _patient(number: int, old: TextIO) -> TextIO:
    """A stream like an old one, on a file descriptor of its own."""
    raw = io.BufferedWriter(_Patient(number, "w"))
    return io.TextIOWrapper(
        raw, old.encoding, old.errors, line_buffering=old.isatty() or old is sys.stderr, write_through=old is sys.stderr
    )


if __name__ == "__main__":
    from scheduler.cli import main as main_of_the_package  # the same ``app`` that the other commands are on

    main_of_the_package()
