"""Commands that ask a plan questions: explain, mend, promise."""

from __future__ import annotations

import difflib
import json
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scheduler.cli_shared import (
    JsonOpt,
    PlanArg,
    SeasonArg,
    app,
    live_line,
    plain_errors,
    read_both,
    say_files,
    say_stayed,
    stem,
)

if TYPE_CHECKING:
    from scheduler.plan.types import Plan
    from scheduler.season.types import Season


@app.command()
def explain(
    season: SeasonArg,
    plan: PlanArg,
    remedies: Annotated[
        bool, typer.Option("--remedies", help="Plan real changes through and say what each would mend, and its price.")
    ] = False,
    effort: Annotated[
        float, typer.Option(min=0.01, help="How hard to look for room in each remedy: 2 looks twice as long.")
    ] = 1.0,
    most: Annotated[int, typer.Option(min=1, max=50, help="Look into at most so many changes.")] = 12,
    seconds: Annotated[
        float, typer.Option(min=1, help="Wait for no further change after so long; the letter says what was left.")
    ] = 45.0,
) -> None:
    """Say what is short and why, as a letter with sums that can be checked on paper.

    With --remedies the plan file and its workbook are written again with the remedies in them, where there are
    any. A workbook that somebody has typed into stays, and the new one is written beside it.
    """
    with plain_errors(writes=remedies):
        from scheduler.answers.explain import with_bound, with_certificates, with_limits_together
        from scheduler.answers.remedy import remedies_of
        from scheduler.paper.terminal import on_screen
        from scheduler.paper.why import report
        from scheduler.pipeline import write_audited

        told, made = read_both(season, plan)
        made = with_limits_together(told, with_bound(told, with_certificates(told, made)))
        if remedies and made.shortfalls:
            made = _mend(told, made, effort, most, seconds)
            if remedies_of(made):  # else there is nothing new to keep
                folder, name = (plan, "plan") if plan.is_dir() else (plan.parent, plan.stem)
                written = write_audited(told, made, folder, name=name)
                say_stayed(written.stayed, written.workbook_file)
        typer.echo(on_screen(report(told, made)))


def _mend(season: Season, plan: Plan, effort: float, most: int, seconds: float) -> Plan:
    """The plan with its remedies, with a progress line."""
    from scheduler.answers.remedies import find_remedies
    from scheduler.answers.remedy import with_remedies
    from scheduler.models.search.loop import PlanOptions

    pairs, care = most // 6, PlanOptions(effort=effort)
    with live_line() as say:
        found = find_remedies(season, plan, say, care, singles=most - pairs, pairs=pairs, seconds=seconds)
    return with_remedies(plan, found)


@app.command()
def mend(
    season: SeasonArg,
    plan: PlanArg,
    take: Annotated[int, typer.Option(min=1, help="The number of the remedy in the letter of explain --remedies.")],
    out: Annotated[Path | None, typer.Option(help="Folder for season and plan; by default a new one.")] = None,
    effort: Annotated[float, typer.Option(min=0.01, help="How hard to look for room: 2 looks twice as long.")] = 1.0,
    seconds: Annotated[
        float | None, typer.Option(min=1, help="Stop looking after so long; the plan may differ next time then.")
    ] = None,
) -> None:
    """Take a remedy: write the season with its change, and a plan of it, into a folder of their own.

    The season and the plan that are there stay as they are.
    """
    with plain_errors():
        from scheduler.models.search.loop import PlanOptions
        from scheduler.paper.terminal import letter, on_screen
        from scheduler.paper.why import mended_words
        from scheduler.plan.summary import summarize
        from scheduler.take import MENDED, named, take_remedy

        told, before = read_both(season, plan)
        care = PlanOptions(effort=effort, seconds=seconds)
        written, mended = take_remedy(told, before, take, season, named(stem(season), season, MENDED), out, care)
        say_stayed(written.stayed, written.plan_file.parent)
        typer.echo(on_screen(mended_words(told, before, mended)) + "\n")
        typer.echo(on_screen(letter(written.season, written.plan, summarize(written.season, written.plan))))
        say_files(written.workbook_file, written.plan_file)
        typer.echo(f"From now on use this season, which has the change in it, and not {season}: {written.season_path}")


@app.command()
def promise(
    season: SeasonArg,
    plan: PlanArg,
    product: Annotated[str, typer.Option(help="The product, by its name in the season.")],
    quantity: Annotated[int, typer.Option(min=1, max=1_000_000, help="Packs that the customer asks for.")],
    by: Annotated[str | None, typer.Option(metavar="DAY", help="The day it is wanted, as 2026-03-30.")] = None,
    now: Annotated[
        str | None,
        typer.Option(metavar="DAY", help="Today, if the season has begun; with the time, as 2026-03-12T10:30, if "
                                         "something was recorded today."),
    ] = None,
    as_json: JsonOpt = False,
) -> None:
    """Answer a customer on the phone: the earliest day, or who would have to give way."""
    until = _day(by, "--by")
    with plain_errors(writes=False):
        from scheduler.answers.told import begun, inside, moment

        at = None if now is None else begun(moment(now, "now"))
        told, made = read_both(season, plan, at)
        if at is not None:
            inside(told, at, "now")
            if until is not None and until < at.day:
                raise typer.BadParameter(f"{until} is before today, {at.day}.", param_hint="--by")
        alike = [known for known in told.product_by_name if known.casefold() == product.strip().casefold()]
        product = alike[0] if len(alike) == 1 else product
        if product not in told.product_by_name:
            raise typer.BadParameter(_no_product(told, product), param_hint="--product")
        from scheduler.answers import promise as promises
        from scheduler.paper.promise_words import answer
        from scheduler.paper.terminal import on_screen

        found = promises.promise(told, made, product, quantity, until, None if at is None else at.day)
        typer.echo(json.dumps(promises.as_dict(found)) if as_json else on_screen(answer(told, found)))


def _day(text: str | None, option: str) -> date | None:
    try:
        return None if text is None else date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(f"{text!r} is not a day; write it as 2026-03-30.", param_hint=option) from None


def _no_product(season: Season, product: str) -> str:
    close = difflib.get_close_matches(product.casefold(), [p.name.casefold() for p in season.products], 1, 0.5)
    meant = next((p.name for p in season.products if p.name.casefold() in close), None)
    hint = f"did you mean {meant!r}?" if meant else f"it makes {', '.join(p.name for p in season.products[:12])}."
    return f"the season has no product {product!r}; {hint}"
