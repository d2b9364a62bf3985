"""Commands that ask a plan questions: explain, promise."""

from __future__ import annotations

import typer

from scheduler.cli import PlanArg, SeasonArg, _plain_errors, _read, _read_plan, app


@app.command()
def explain(
    season: SeasonArg,
    plan: PlanArg,
) -> None:
    """Say what is short and why, as a letter with sums that can be checked on paper."""
    with _plain_errors():
        from scheduler.answers.explain import with_certificates
        from scheduler.paper.why import report

        told, made = _read(season), _read_plan(plan)
        typer.echo(report(told, with_certificates(told, made)))
