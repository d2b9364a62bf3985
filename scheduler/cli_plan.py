"""Commands of the main job: plan, check, audit, and the tables to fill in. Results on stdout, all else on stderr."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scheduler.cli_shared import (
    FAULTS,
    NOT_SOUND,
    CrewPagesOpt,
    JsonOpt,
    PlanArg,
    SeasonArg,
    app,
    crew_pages_of,
    live_line,
    plain_errors,
    read,
    read_plan,
    say_files,
    say_stayed,
    stem,
    stop,
)  # fmt: skip

if TYPE_CHECKING:
    from scheduler.plan.types import Plan
    from scheduler.season.types import Season


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
    crew_pages: CrewPagesOpt = None,
) -> None:
    """Plan a season: write plan.xlsx for the wall and plan.json to read back."""
    began = time.monotonic()
    with plain_errors():
        from scheduler.answers.explain import with_certificates
        from scheduler.models.search.loop import PlanOptions, plan_season
        from scheduler.pipeline import folder_for, write_audited

        told = read(season)
        _not_under_way(told)
        with live_line() as say:
            made = with_certificates(told, plan_season(told, PlanOptions(effort=effort, seconds=seconds), say))
            written = write_audited(told, made, out or folder_for(stem(season), made), say)
        say_stayed(written.stayed, written.workbook_file)
        crew_file = crew_pages_of(told, made, crew_pages)
        _report(told, made, as_json, time.monotonic() - began, written.plan_file, written.workbook_file)
        if crew_file is not None and not as_json:
            typer.echo(f"For the crew: {crew_file}")


@app.command()
def check(season: SeasonArg) -> None:
    """Read a season and name every fault and every doubt, without planning it."""
    with plain_errors(writes=False):
        from scheduler.paper.words import count

        told = read(season)
        kitchen = told.kitchen
        typer.echo(
            f"{kitchen.name}: {kitchen.first_day} to {kitchen.last_day}, {count(len(told.designs), 'design')}, "
            f"{count(len(told.crew), 'person', 'people')}, {count(len(told.orders), 'order')}, "
            f"{count(len(told.forecasts), 'forecast')}. No faults."
        )


@app.command()
def audit(season: SeasonArg, plan: PlanArg) -> None:
    """Hold a plan against every rule of the season again, without any solver."""
    with plain_errors(writes=False):
        from scheduler.audit import audit as audit_plan
        from scheduler.season.fingerprint import fingerprint

        told, made = read(season), read_plan(plan)
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
    with plain_errors():
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
    with plain_errors():
        from scheduler.season.write import refuse_to_lose, write_season

        told = read(season)
        refuse_to_lose(season, path, replace)
        write_season(told, path)
        typer.echo(f"Written: {path}")


def _not_under_way(season: Season) -> None:
    """Stop where candy of this season is made already: a plan from its first day would make it again."""
    from datetime import timedelta

    from scheduler.answers.facts import under_way

    last = under_way(season)
    if last is not None:
        stop(
            f"This season is under way: its tables made and packed tell of {last}, and a plan from its first day would "
            "make that candy again. Go on from the plan that hangs on the wall: rockrota rebalance SEASON PLAN "
            f"--now {last + timedelta(1)}. Nothing was written.",
            FAULTS,
        )


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
    say_files(workbook_file, plan_file)
