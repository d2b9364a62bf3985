"""Commands for a plan that is under way: record what happened, rebalance, calendars. Thin, as in ``cli``."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scheduler.cli_shared import (
    CrewPagesOpt,
    JsonOpt,
    PlanArg,
    SeasonArg,
    app,
    crew_pages_of,
    live_line,
    plain_errors,
    read,
    read_both,
    read_plan,
    say_files,
    say_stayed,
    stem,
)

if TYPE_CHECKING:
    from scheduler.answers.rebalance import Rebalance

Several = list[str] | None


@app.command()
def record(
    season: SeasonArg,
    plan: Annotated[
        Path | None, typer.Argument(metavar="[PLAN]", help="The plan that was followed; needed for batches.")
    ] = None,
    made: Annotated[
        Several, typer.Option(help="Batch and pieces counted, seconds after a plus: 0301-1=870 or 0301-1=870+40.")
    ] = None,
    failed: Annotated[Several, typer.Option(help="A batch that failed: 0301-2.")] = None,
    not_started: Annotated[Several, typer.Option(help="A batch that was not started: 0301-3.")] = None,
    packed: Annotated[Several, typer.Option(help='Packs of a product on a day: "2026-03-12 Harbour tin=40".')] = None,
    shipped: Annotated[Several, typer.Option(help='Packs that left for an order: "2026-03-13 W-104=40".')] = None,
    away: Annotated[
        Several, typer.Option(help="Somebody away: Ana:2026-03-12 or Ana:2026-03-12T10:00..2026-03-14.")
    ] = None,
    order: Annotated[
        Several,
        typer.Option(
            help='A new order: "W-200 Harbour tin=60 due 2026-03-20 for Blue Door"; or one that is there: W-104=70 for '
            'other packs, "W-104 due 2026-03-20" for another day.'
        ),
    ] = None,
    cancel: Annotated[Several, typer.Option(help="An order that was cancelled: W-104.")] = None,
    remark: Annotated[
        str, typer.Option(help="A remark for what is recorded with it; where a batch failed, for that.")
    ] = "",
    sheet: Annotated[
        Path | None, typer.Option(help="The plan's workbook with the run sheets' blanks filled in and saved.")
    ] = None,
) -> None:
    """Record what happened in the season's tables; what was recorded replaces what was planned."""
    with plain_errors():
        from scheduler.answers.record import cancelled, save
        from scheduler.answers.record import record as recorded
        from scheduler.answers.told import Told, records
        from scheduler.season.read import other_sheets
        from scheduler.season.safe_write import finish_move

        told = read(season)
        made_plan = read_plan(plan) if plan is not None else None
        rows = list(records(told, made_plan, Told(made, failed, not_started, packed, shipped, away, order, remark)))
        if sheet is not None:
            from scheduler.answers.told import plan_needed
            from scheduler.paper.read_back import read_back

            rows += read_back(sheet, told, plan_needed(made_plan))
        rows += [cancelled(told, name) for name in cancel or ()]
        after = recorded(told, rows)
        if after == told:
            finish_move(season)
            typer.echo("Nothing new to record.")
            return
        save(after, season, other_sheets(told))
        typer.echo(f"Recorded in {season}: {len(rows)} {'row' if len(rows) == 1 else 'rows'}.")
        typer.echo("The plan does not know of it yet: go on with rockrota rebalance.")


@app.command()
def rebalance(
    season: SeasonArg,
    plan: PlanArg,
    now: Annotated[str, typer.Option(help="The moment from which days may change: 2026-03-12 or 2026-03-12T10:30.")],
    out_sick: Annotated[
        Several, typer.Option(help="Who is ill from when: Ana:2026-03-12 or Ana:2026-03-12T10:00..2026-03-14.")
    ] = None,
    take: Annotated[int | None, typer.Option(min=1, help="Adopt this choice and write its plan.")] = None,
    out: Annotated[Path | None, typer.Option(help="Folder for the plan taken; by default a new one.")] = None,
    reason: Annotated[str, typer.Option(help="Why, for the plan's history.")] = "",
    crew_pages: CrewPagesOpt = None,
    as_json: JsonOpt = False,
    effort: Annotated[float, typer.Option(min=0.01, help="How hard to try: 2 is twice the usual work.")] = 1.0,
    seconds: Annotated[
        float | None,
        typer.Option(
            min=0.01,
            help="Stop looking after this long; without it, after 7 s (11 s where the only choice has more short; "
            "longer where there is none yet).",
        ),
    ] = None,
) -> None:
    """Go on after news: a few plans that change as little as must be, from which you take one."""
    began = time.monotonic()
    with plain_errors():
        from scheduler.answers.rebalance import rebalance as choices_after
        from scheduler.answers.told import absence, inside, moment
        from scheduler.shown import keep, question, recall

        told, before = read(season), read_plan(plan)
        at = inside(told, moment(now, "now"), "now")
        ill = [absence(told, text, "ill", "out-sick", at) for text in out_sick or ()]
        with live_line() as say:
            folder = plan if plan.is_dir() else plan.parent
            asked = question(told, before, at, ill, effort)
            shown = None if take is None else recall(asked, folder)
            found = choices_after(told, before, at, ill, reason, effort, seconds, say, shown)
        if take is None:
            if found.shown is not None:
                keep(found.shown, asked, folder)
            _show(found, as_json, time.monotonic() - began)
        else:
            _adopt(found, take, season, out, crew_pages, as_json, time.monotonic() - began)


@app.command()
def calendars(
    season: SeasonArg,
    plan: PlanArg,
    out: Annotated[Path, typer.Option(help="Folder for one .ics file a person.")] = Path("calendars"),
) -> None:
    """Write each person's days as a calendar file that phones and computers read."""
    with plain_errors():
        from scheduler.paper.calendars import write_calendars

        files = write_calendars(*read_both(season, plan), out)
        typer.echo(f"Written: {len(files)} calendars in {out}")


def _show(found: Rebalance, as_json: bool, seconds: float) -> None:
    from scheduler.paper.changes_words import as_it_was_planned, changes_table, choices_table, summary
    from scheduler.paper.terminal import on_screen

    if as_json:
        typer.echo(json.dumps(summary(found) | {"seconds": round(seconds, 2)}))
        return
    typer.echo(on_screen(choices_table(found, found.season.kitchen.currency)))
    if len(found.choices) == 1 and found.news:
        typer.echo("\n" + on_screen(changes_table(found.choices[0], found)))
    if guessed := as_it_was_planned(found.choices[0].season, found.now):
        typer.echo("\n" + on_screen(guessed))


def _adopt(
    found: Rebalance, number: int, season: Path, out: Path | None, crew: Path | None, as_json: bool, seconds: float
) -> None:  # fmt: skip
    """Write the plan taken, its workbook, calendars and the season with all facts into a folder of their own."""
    from scheduler.answers.changes import KEY
    from scheduler.paper.changes_words import as_it_was_planned, changes_table, summary
    from scheduler.paper.terminal import on_screen
    from scheduler.take import kept_of, named, take_choice

    written = take_choice(found, number, season, named(stem(season), season, found.now.day), out)
    say_stayed(written.stayed, written.plan_file.parent)
    crew_file = crew_pages_of(found.choices[number - 1].season, written.plan, crew)
    if as_json:
        fields = summary(found) | {
            "taken": number, "plan": str(written.plan_file), "workbook": str(written.workbook_file),
            "season": str(written.season_path), "seconds": round(seconds, 2),
            KEY: kept_of(found, found.choices[number - 1]),
        }  # fmt: skip
        typer.echo(json.dumps(fields))
        return
    typer.echo(on_screen(changes_table(found.choices[number - 1], found)))
    if guessed := as_it_was_planned(found.choices[number - 1].season, found.now):
        typer.echo("\n" + on_screen(guessed))
    say_files(written.workbook_file, written.plan_file)
    if crew_file is not None:
        typer.echo(f"For the crew: {crew_file}")
    typer.echo(f"From now on use this season, which has all the news in it, and not {season}: {written.season_path}")
