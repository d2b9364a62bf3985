"""The commands for a plan under way, as typed: record, rebalance, take, calendars."""

from __future__ import annotations

import errno
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from openpyxl import load_workbook
from scheduler.audit import audit
from scheduler.cli import app
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.files import read_plan, write_plan
from scheduler.season.read import read_season
from scheduler.season.write import write_season
from tests.handmade import handmade_season
from tests.seasons import tiny
from typer.testing import CliRunner

run = CliRunner()


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    """A folder with a season and its plan."""
    season = tiny(3, days=5, people=3, orders=6)
    write_season(season, tmp_path / "season")
    write_plan(plan_season(season, PlanOptions(effort=0.3)), tmp_path / "plan" / "plan.json")
    return tmp_path


def typed(*words: str | Path) -> tuple[int, str]:
    result = run.invoke(app, [str(w) for w in words])
    return result.exit_code, result.output


def test_somebody_is_ill_from_the_call_to_the_wall(kitchen: Path) -> None:
    """Choices, one taken into a folder of its own: audited, nothing overwritten; then no news."""
    season, plan = kitchen / "season", kitchen / "plan"
    before = (plan / "plan.json").read_bytes()
    day = [d for d in read_plan(plan / "plan.json").days if d.batches][0]
    who = day.shifts[0].person
    told = ("rebalance", season, plan, "--now", f"{day.day}", "--out-sick", f"{who}:{day.day}")
    code, text = typed(*told, "--json")
    choices = json.loads(text)["choices"]
    assert code == 0
    assert [c["number"] for c in choices] == list(range(1, len(choices) + 1))
    assert all(c["least_points"] <= c["points"] for c in choices)
    code, text = typed(*told)
    assert code == 0
    assert f"{day.day.day} February, 00:00 on; everything before stays." in text
    code, text = typed(*told, "--take", "1", "--out", kitchen / "new")
    assert code == 0, text
    assert "Print again the run sheets of" in text
    assert (plan / "plan.json").read_bytes() == before
    assert {p.name for p in (kitchen / "new").iterdir()} == {"plan.json", "plan.xlsx", "season", "calendars"}
    book = load_workbook(kitchen / "new" / "plan.xlsx", read_only=True)
    assert "What changed" in book.sheetnames
    last = text.splitlines()[-1]
    assert last == (
        f"From now on use this season, which has all the news in it, and not {season}: {kitchen / 'new' / 'season'}"
    )
    assert typed("audit", kitchen / "new" / "season", kitchen / "new")[0] == 0
    code, text = typed("audit", kitchen / "new" / "season", plan)
    assert (code, text.startswith("The season has changed since this plan was made")) == (7, True)
    assert read_plan(kitchen / "new" / "plan.json").history[0].reason.startswith(f"{who} away")
    code, text = typed("rebalance", kitchen / "new" / "season", kitchen / "new", "--now", "2027-02-05")
    assert (code, text.splitlines()[-1]) == (0, "No news: the plan stays exactly as it is.")


def test_plans_taken_are_kept_by_days(kitchen: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Taken on two days, one after the other: folders named by the day, and pages for the crew on request."""
    monkeypatch.chdir(kitchen)
    season, plan = kitchen / "season", kitchen / "plan"
    first, second = [d for d in read_plan(plan / "plan.json").days if d.batches][:2]
    for day in (first, second):
        who = next(d for d in read_plan(plan / "plan.json").days if d.day == day.day).shifts[0].person
        told = ("rebalance", season, plan, "--now", f"{day.day}", "--out-sick", f"{who}:{day.day}", "--take", "1")
        code, text = typed(*told, "--crew-pages", f"crew {day.day}")
        assert code == 0, text
        plan = Path("reports") / f"season-{day.day}"
        season = plan / "season"
        assert audit(read_season(season), read_plan(plan / "plan.json")) == ()
        assert f"For the crew: crew {day.day}" in text and (kitchen / f"crew {day.day}" / "crew.xlsx").exists()


def test_a_choice_taken_is_not_written_over_other_plans_and_seasons(kitchen: Path) -> None:
    """A folder named that holds the plan before, what was typed or recorded: all of it stays, the next one is told."""
    season, plan = kitchen / "season", kitchen / "plan"
    day = next(d for d in read_plan(plan / "plan.json").days if d.batches)
    who = day.shifts[0].person
    told = ("rebalance", season, plan, "--now", f"{day.day}", "--out-sick", f"{who}:{day.day}", "--take", "1", "--out")
    old = (plan / "plan.json").read_bytes()
    code, text = typed(*told, plan)
    assert code == 0, text
    assert text.startswith(f"{plan} holds another plan or season already, so it stays as it is; new: {plan}-2\n")
    assert (plan / "plan.json").read_bytes() == old and [p.name for p in plan.iterdir()] == ["plan.json"]
    taken = kitchen / "plan-2"
    assert typed(*told, taken)[1].count("so it stays") == 0  # the same again, nothing typed
    assert typed("record", taken / "season", taken, "--away", f"{who}:2027-02-05")[0] == 0
    recorded = read_season(taken / "season")
    code, text = typed(*told, taken)
    assert (code, text.splitlines()[0].endswith(f"new: {taken}-2")) == (0, True)
    assert read_season(taken / "season") == recorded
    wall = kitchen / "plan-2-2" / "plan.xlsx"
    book = load_workbook(wall)
    book.worksheets[-1]["A1"] = "typed"
    book.save(wall)
    bytes_typed = wall.read_bytes()
    code, text = typed(*told, wall.parent)
    assert (code, wall.read_bytes()) == (0, bytes_typed)
    assert text.startswith(f"{wall} was filled in") and (wall.parent / "plan-2.xlsx").exists()


def test_records_end_in_the_season(kitchen: Path) -> None:
    """A batch counted, a failed one, an absence; the same again is nothing new."""
    season, plan = kitchen / "season", kitchen / "plan"
    words = ("record", season, plan, "--made", "0201-1=95+3", "--failed", "0201-2", "--away", "Ben:2027-02-04")
    code, text = typed(*words)
    assert code == 0, text
    told = read_season(season)
    assert [(m.batch, m.outcome, m.pieces, m.seconds) for m in told.made] == [
        ("0201-1", "made", 95, 3), ("0201-2", "failed", 0, 0)
    ]  # fmt: skip
    assert [(a.person, a.first_day.day) for a in told.absences] == [("Ben", 4)]
    assert typed(*words)[1].strip().endswith("Nothing new to record.")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("rebalance", "season", "plan", "--now", "soon"), "no moment; write a day"),
        (("rebalance", "season", "plan", "--now", "2027-02-02", "--out-sick", "Zoe:2027-02-02"), 'is called "Zoe"'),
        (("rebalance", "season", "plan", "--now", "2027-02-02", "--out-sick", "Zoe"), '--out-sick: "Zoe" can\'t be'),
        (("rebalance", "season", "plan", "--now", "6:30"), '"6:30" has no day; write it before the time'),
        (("rebalance", "season", "plan", "--now", "2027-02-02", "--take", "7"), "take one from 1 to 1"),
        (("rebalance", "season", "plan", "--now", "2026-02-02"), "is the year right?"),
        (("rebalance", "season", "plan", "--now", "2027-02-02", "--out-sick", "Ada:2026-02-02"), "outside the season"),
        (("record", "season", "--failed", "0201-1"), "give the plan after the season"),
        (("record", "season", "plan", "--made", "0201-1"), "can't be understood; write it like 0301-1=870"),
    ],
)
def test_what_makes_no_sense_is_said_and_changes_nothing(kitchen: Path, words: tuple[str, ...], message: str) -> None:
    """Exit code 3, one sentence, the season as it was."""
    before = read_season(kitchen / "season")
    code, text = typed(*(kitchen / w if w in ("season", "plan") else w for w in words))
    assert code == 3
    assert message in text
    assert read_season(kitchen / "season") == before


def test_calendars_are_written(kitchen: Path) -> None:
    """One file a person."""
    code, text = typed("calendars", kitchen / "season", kitchen / "plan", "--out", kitchen / "cal")
    assert code == 0, text
    assert len(list((kitchen / "cal").glob("*.ics"))) == 3


TAKER = """
import sys
from pathlib import Path
from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import rebalance
from scheduler.plan.files import read_plan
from scheduler.season.read import read_season
from scheduler.season.types import Absence
from scheduler.take import take_choice
here = Path(sys.argv[1])
season, plan = read_season(here / "season"), read_plan(here / "plan" / "plan.json")
day = next(d for d in plan.days if d.batches)
ill = Absence(day.shifts[0].person, day.day, day.day)
found = rebalance(season, plan, Moment(day.day), [ill])
print("ready", flush=True)
for number in range(200):
    take_choice(found, 1, here / "season", "season", here / "taken" / str(number))
    print(number, flush=True)
"""


def test_what_could_not_be_moved_into_place_is_moved_by_the_same_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A table is open in another program: it is recorded all the same; said once more, the table takes its place."""
    season, move = tmp_path / "season", os.replace
    write_season(handmade_season(), season)

    def refused(source: Path, target: Path) -> None:
        if Path(target).name == "absences.csv":
            raise PermissionError(errno.EACCES, "Permission denied")
        move(source, target)

    monkeypatch.setattr(os, "replace", refused)
    words = ("record", season, "--away", "Ana:2026-03-04")
    for _ in range(2):
        code, text = typed(*words)
        assert (code, text.startswith('"absences.csv" could not be replaced')) == (6, True)
        assert "All is written" in text
        assert [a.person for a in read_season(season).absences] == ["Ben", "Ana"]
    monkeypatch.undo()
    assert typed(*words) == (0, "Nothing new to record.\n")
    assert "Ana" in (season / "absences.csv").read_text() and not (season / ".ready").exists()


def test_killed_while_taking_a_choice_loses_nothing(kitchen: Path) -> None:
    """Killed at random moments: the old plan and season are as they were, and a folder that holds a plan is whole."""
    old = {f: f.read_bytes() for f in kitchen.rglob("*") if f.is_file()}
    rng, whole = random.Random(2), 0
    for _ in range(2):
        worker = subprocess.Popen(
            [sys.executable, "-c", TAKER, str(kitchen)], stdout=subprocess.PIPE, text=True,
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
        )  # fmt: skip
        assert worker.stdout is not None
        assert [worker.stdout.readline() for _ in range(2)] == ["ready\n", "0\n"]
        time.sleep(rng.uniform(0.0, 1.0))
        worker.send_signal(signal.SIGKILL)
        worker.stdout.read()
        worker.wait()
        assert {f: f.read_bytes() for f in old} == old
        for folder in (kitchen / "taken").glob("*"):
            if (folder / "plan.json").exists():
                whole += 1
                assert audit(read_season(folder / "season"), read_plan(folder / "plan.json")) == ()
        shutil.rmtree(kitchen / "taken", ignore_errors=True)
    assert whole >= 2
