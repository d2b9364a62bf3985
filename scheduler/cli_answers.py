"""Commands that ask a plan questions: explain, promise."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from scheduler.cli import PlanArg, SeasonArg, _live_line, _plain_errors, _read, _read_plan, app

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
        float, typer.Option(min=0.01, help="How hard to try each remedy: 1 is the care that the plan was made with.")
    ] = 1.0,
    most: Annotated[int, typer.Option(min=1, max=50, help="Plan at most so many changes through.")] = 12,
) -> None:
    """Say what is short and why, as a letter with sums that can be checked on paper.

    With --remedies the plan file and its workbook are written again with the remedies in them.
    """
    with _plain_errors():
        from scheduler.answers.explain import with_certificates
        from scheduler.paper.why import report
        from scheduler.pipeline import write_audited

        told, made = _read(season), _read_plan(plan)
        made = with_certificates(told, made)
        if remedies and made.shortfalls:
            made = _mend(told, made, effort, most)
            folder = plan if plan.is_dir() else plan.parent
            write_audited(told, made, folder)
        typer.echo(report(told, made))


def _mend(season: Season, plan: Plan, effort: float, most: int) -> Plan:
    """The plan with its remedies, with a progress line."""
    from scheduler.answers.remedies import find_remedies
    from scheduler.answers.remedy import with_remedies
    from scheduler.models.loop import PlanOptions

    pairs = most // 3
    with _live_line() as say:
        found = find_remedies(season, plan, say, PlanOptions(effort=effort), singles=most - pairs, pairs=pairs)
    return with_remedies(plan, found)
