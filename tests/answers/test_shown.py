"""Choices after news are taken as they were shown, and not sought again."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from scheduler import shown
from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import Rebalance, rebalance
from scheduler.models.replan import frontier
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.types import Plan
from scheduler.season.types import Absence, Season
from tests.seasons import tiny


@pytest.fixture(scope="module")
def asked() -> tuple[Season, Plan, Moment, Absence]:
    """A season, its plan, the first morning with a batch, and somebody who is ill."""
    season = tiny(3, days=5, people=3, orders=6)
    plan = plan_season(season, PlanOptions(effort=0.3))
    day = next(d for d in plan.days if d.batches)
    return season, plan, Moment(day.day, 0), Absence(day.shifts[0].person, day.day, day.day, reason="ill")


@pytest.fixture(scope="module")
def found(asked: tuple[Season, Plan, Moment, Absence]) -> Rebalance:
    season, plan, now, ill = asked
    return rebalance(season, plan, now, [ill])


def name(asked: tuple[Season, Plan, Moment, Absence], effort: float = 1.0) -> str:
    season, plan, now, ill = asked
    return shown.question(season, plan, now, [ill], effort)


def test_what_is_taken_is_what_was_shown(
    asked: tuple[Season, Plan, Moment, Absence], found: Rebalance, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    season, plan, now, ill = asked
    assert found.shown is not None
    shown.keep(found.shown, name(asked), tmp_path)
    kept = shown.recall(name(asked), tmp_path)
    assert kept == found.shown
    part = replace(found.shown, within=(plan.first_day, now.day))
    shown.keep(part, name(asked), tmp_path)
    assert shown.recall(name(asked), tmp_path) == part

    def sought(*_: object) -> None:
        raise AssertionError("nothing is sought again")

    monkeypatch.setattr(frontier, "frontier", sought)
    again = rebalance(season, plan, now, [ill], shown=kept)
    assert again == found


def test_another_question_and_a_damaged_file_recall_nothing(
    asked: tuple[Season, Plan, Moment, Absence], found: Rebalance, tmp_path: Path
) -> None:
    assert found.shown is not None
    assert shown.recall(name(asked), tmp_path) is None
    shown.keep(found.shown, name(asked), tmp_path)
    assert shown.recall(name(asked, effort=2.0), tmp_path) is None
    file = tmp_path / shown.NAME
    whole = file.read_text(encoding="utf-8")
    content = json.loads(whole)
    for bad in (whole[:-20], "[]", "{}", json.dumps(content | {"choices": 5}), json.dumps(content | {"choices": [{}]})):
        file.write_text(bad, encoding="utf-8")
        assert shown.recall(name(asked), tmp_path) is None
    file.write_text(whole, encoding="utf-8")
    assert shown.recall(name(asked), tmp_path) is not None


def test_where_nothing_can_be_written_nothing_is_kept(
    asked: tuple[Season, Plan, Moment, Absence], found: Rebalance, tmp_path: Path
) -> None:
    assert found.shown is not None
    target = tmp_path / "a file"
    target.write_text("no folder", encoding="utf-8")
    shown.keep(found.shown, name(asked), target)
    assert shown.recall(name(asked), target) is None


def test_the_first_plan_is_waited_for(
    asked: tuple[Season, Plan, Moment, Absence], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ten seconds are over before anything is found: there is a plan all the same."""
    season, plan, now, ill = asked
    monkeypatch.setattr("scheduler.answers.rebalance.SOON", -1.0)
    late = rebalance(season, plan, now, [ill])
    assert late.choices


def test_seconds_of_one_s_own_are_used(
    asked: tuple[Season, Plan, Moment, Absence], found: Rebalance, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a minute is given, the ten seconds without one are no limit."""
    season, plan, now, ill = asked
    monkeypatch.setattr("scheduler.answers.rebalance.SOON", -1.0)
    patient = rebalance(season, plan, now, [ill], seconds=60.0)
    assert [(c.points, c.short) for c in patient.choices] == [(c.points, c.short) for c in found.choices]
