"""A plan after records, before any choice is taken: its days stay, the counts hold, and questions are answered."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from scheduler.answers.as_it_stands import as_it_stands
from scheduler.answers.facts import Moment
from scheduler.audit import audit
from scheduler.audit.facts import audit_rebalance
from scheduler.cli import app
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.pipeline import write_audited
from scheduler.plan.types import Plan
from scheduler.season.types import Absence, MadeBatch, Season
from scheduler.season.write import write_season
from tests.seasons import tiny
from typer.testing import CliRunner


@pytest.fixture(scope="module")
def planned() -> tuple[Season, Plan]:
    season = tiny(3, days=5, people=3, orders=6)
    return season, plan_season(season, PlanOptions(effort=0.3))


def counted(season: Season, plan: Plan, pieces: int, outcome: str = "made") -> tuple[Season, Moment]:
    """The season with the first batch of the plan counted, and the moment at which it was done."""
    day = next(d for d in plan.days if d.batches)
    batch = min(day.batches, key=lambda b: b.ends)
    fact = MadeBatch(day.day, batch.id, batch.design, outcome, pieces)
    return replace(season, made=(*season.made, fact)), Moment(day.day, batch.ends)


def test_days_stay_and_the_count_holds(planned: tuple[Season, Plan]) -> None:
    """40 pieces fewer: the same days but for packs that can't be filled, every rule kept, no more than that short."""
    season, plan = planned
    pieces = season.design_by_name[next(d for d in plan.days if d.batches).batches[0].design].pieces
    told, now = counted(season, plan, pieces - 40)
    standing = as_it_stands(told, plan, now)
    assert standing is not None
    after_season, after = standing
    assert audit(after_season, after) == ()
    assert audit_rebalance(plan, after_season, after, (now.day, now.minute)) == ()
    assert [(d.day, d.shifts, d.batches) for d in after.days] == [(d.day, d.shifts, d.batches) for d in plan.days]
    assert next(lot for lot in after.lots if lot.id == told.made[-1].batch).pieces == pieces - 40
    more = sum(s.packs for s in after.shortfalls) - sum(s.packs for s in plan.shortfalls)
    assert 0 <= more <= 40


def test_a_count_as_planned_costs_nobody_anything(planned: tuple[Season, Plan]) -> None:
    season, plan = planned
    design = next(d for d in plan.days if d.batches).batches[0].design
    told, now = counted(season, plan, season.design_by_name[design].pieces)
    standing = as_it_stands(told, plan, now)
    assert standing is not None
    assert {(s.line, s.packs) for s in standing[1].shortfalls} == {(s.line, s.packs) for s in plan.shortfalls}


def test_where_days_can_t_stay_there_is_none(planned: tuple[Season, Plan]) -> None:
    """Somebody who is in by the plan is away: a choice is to be taken first."""
    season, plan = planned
    day = next(d for d in plan.days if d.batches)
    ill = Absence(day.shifts[0].person, day.day, day.day, reason="ill")
    told = replace(season, absences=(*season.absences, ill))
    assert as_it_stands(told, plan, Moment(day.day, 0)) is None
    assert as_it_stands(told, plan, Moment(day.day, day.shifts[0].starts + 1)) is None
    assert as_it_stands(told, plan, Moment(day.day - timedelta(days=1), 0)) is None


def test_a_customer_calls_after_a_count(planned: tuple[Season, Plan], tmp_path: Path) -> None:
    """``promise`` answers if it is told the moment; else it says how to ask."""
    season, plan = planned
    write_audited(season, plan, tmp_path / "plan")
    told, now = counted(season, plan, 10)
    write_season(told, tmp_path / "season")
    words = ["promise", str(tmp_path / "season"), str(tmp_path / "plan"), "--product", season.products[0].name]
    refused = CliRunner().invoke(app, [*words, "--quantity", "1"])
    assert refused.exit_code == 7 and "rockrota promise with --now" in refused.stderr
    at = f"{now.day}T{now.minute // 60:02d}:{now.minute % 60:02d}"
    said = CliRunner().invoke(app, [*words, "--quantity", "1", "--now", at])
    assert said.exit_code == 0, said.output
    assert "Note: answered from the plan as it stands on" in said.stderr
    assert said.stdout.startswith(f"1 {season.products[0].name}")
