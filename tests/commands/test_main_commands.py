"""The commands of the main job as a planner types them: what they print, what they write, how they end."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from scheduler import cli_shared, pipeline
from scheduler.audit import Violation
from scheduler.cli import app
from scheduler.models.no_plan import NoPlan
from scheduler.models.search import loop
from scheduler.season.read import read_season
from scheduler.season.safe_write import CannotWrite
from scheduler.season.types import MadeBatch, Order, Pin, Season
from scheduler.season.write import write_season
from tests.handmade import day, paper
from typer.testing import CliRunner, Result

ROOT = Path(__file__).parents[2]
SUMMARY = {
    "status", "batches", "demand_units", "shortfall_units", "shortfall_firm_units", "shortfall_weighted",
    "bound_weighted", "gap_percent", "rule_of_thumb_shortfall_weighted", "overtime_minutes", "labour_cost", "days",
    "days_proven_to_the_minute", "audit_violations", "seconds", "plan", "workbook",
}  # fmt: skip


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def kitchen(**changes: object) -> Season:
    """One bag for a customer, made on Monday and packed on Tuesday."""
    bag = Order("A", "Kite bag", 1, day(1), customer="NamedBasis Cafe")
    return replace(paper(2), orders=(bag,), **changes)  # type: ignore[arg-type]


@pytest.fixture
def season(tmp_path: Path) -> Path:
    write_season(kitchen(), tmp_path / "season")
    return tmp_path / "season"


def test_plan_says_and_writes(season: Path, tmp_path: Path) -> None:
    """Exit code 0, a letter, plan.json and plan.xlsx; the crew's workbook where it is asked for; nothing on stderr."""
    done = run("plan", season, "--out", tmp_path / "plan", "--crew-pages", tmp_path / "crew")
    assert done.exit_code == 0, done.output
    assert "For the wall: " in done.stdout and "For the crew: " in done.stdout
    assert sorted(p.name for p in (tmp_path / "plan").iterdir()) == ["plan.json", "plan.xlsx"]
    assert [p.name for p in (tmp_path / "crew").iterdir()] == ["crew.xlsx"]
    assert "rule of thumb:" not in done.stderr  # the live line is for terminals


def test_a_season_under_way_is_not_planned_from_its_first_day(tmp_path: Path) -> None:
    """Candy that is made already would be made again: exit 3, what to do instead, nothing written."""
    made = kitchen().designs[0]
    write_season(kitchen(made=(MadeBatch(day(0), "0301-1", made.name, "made", made.pieces),)), tmp_path / "season")
    done = run("plan", tmp_path / "season", "--out", tmp_path / "plan")
    assert done.exit_code == 3
    assert f"rockrota rebalance SEASON PLAN --now {day(1)}" in done.stderr
    assert not (tmp_path / "plan").exists()


def test_json_is_one_object(season: Path, tmp_path: Path) -> None:
    """--json prints the summary with every promised field, and nothing else."""
    done = run("plan", season, "--out", tmp_path / "plan", "--json")
    said = json.loads(done.stdout)
    assert set(said) >= SUMMARY
    assert (said["batches"], said["demand_units"], said["shortfall_units"]) == (1, 1, 0)
    assert (said["audit_violations"], said["gap_percent"]) == (0, 0)


def test_a_plan_has_a_folder_of_its_own(season: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By default under reports/: the same plan lands where it was, another or a damaged one is not written over."""
    monkeypatch.chdir(tmp_path)
    for _ in range(2):
        assert run("plan", season).exit_code == 0
    assert [p.name for p in Path("reports").iterdir()] == ["season"]
    Path("reports/season/plan.json").write_text("{")
    assert run("plan", season).exit_code == 0
    assert sorted(p.name for p in Path("reports").iterdir()) == ["season", "season-2"]
    assert Path("reports/season/plan.json").read_text() == "{"


def test_check_counts_and_doubts(season: Path, tmp_path: Path) -> None:
    """check: one line where all is well, doubts on stderr; every fault with exit code 3."""
    done = run("check", season)
    assert done.exit_code == 0
    assert "2 designs, 1 person, 1 order, 0 forecasts. No faults." in done.stdout
    (season / "orders.csv").write_text((season / "orders.csv").read_text().replace("Kite bag", "Kyte bag"))
    for command, unwritten in ((("check",), ""), (("plan", "--out", tmp_path / "plan"), "; nothing was written")):
        bad = run(command[0], season, *command[1:])
        assert bad.exit_code == 3
        assert "Kyte bag" in bad.stderr
        assert bad.stderr.splitlines()[-1] == f"1 to mend in the season{unwritten}."  # check never writes
    assert not (tmp_path / "plan").exists()


def test_audit_sound_and_not(season: Path, tmp_path: Path) -> None:
    """audit: a plan that keeps the season, by file or folder; 7 and every rule where the season has changed."""
    assert run("plan", season, "--out", tmp_path / "plan").exit_code == 0
    for path in (tmp_path / "plan", tmp_path / "plan" / "plan.json"):
        done = run("audit", season, path)
        assert (done.exit_code, done.stdout) == (0, "Sound: 2 days and 1 deliveries keep every rule.\n")
    write_season(kitchen(pins=(Pin("no making", day(0)),)), tmp_path / "other")
    bad = run("audit", tmp_path / "other", tmp_path / "plan")
    assert bad.exit_code == 7
    changed, *broken = bad.stdout.splitlines()
    assert changed.startswith("The season has changed since this plan was made: rebalance the plan, or audit it with")
    assert any("pins" in line for line in broken)
    (tmp_path / "half.json").write_text('{"version": 1')
    assert run("audit", season, tmp_path / "half.json").exit_code == 3


def test_rules_broken_in_the_same_season_are_not_laid_on_the_season(season: Path, tmp_path: Path) -> None:
    """audit: a plan that somebody changed, with the season that it was made for, has its broken rules alone."""
    assert run("plan", season, "--out", tmp_path / "plan").exit_code == 0
    text = (tmp_path / "plan" / "plan.json").read_text()
    (tmp_path / "plan" / "plan.json").write_text(text.replace('"packs": 1', '"packs": 2'))
    bad = run("audit", season, tmp_path / "plan")
    assert bad.exit_code == 7
    assert "has changed" not in bad.stdout


def test_a_workbook_is_no_plan_file(season: Path, tmp_path: Path) -> None:
    """plan.xlsx given as the plan: the message names what to give instead."""
    assert run("plan", season, "--out", tmp_path / "plan").exit_code == 0
    bad = run("audit", season, tmp_path / "plan" / "plan.xlsx")
    assert bad.exit_code == 3
    assert "is a workbook; name the plan.json that lies beside it, or their folder." in bad.stderr


def test_template_and_convert(season: Path, tmp_path: Path) -> None:
    """template writes an empty season or the demo; convert turns a folder into a workbook and back without loss."""
    assert run("template", tmp_path / "empty.xlsx").exit_code == 0
    assert run("template", tmp_path / "demo", "--demo").exit_code == 0
    assert len(read_season(tmp_path / "demo").crew) == 5
    for path in (tmp_path / "empty.xlsx", tmp_path / "demo"):  # perhaps filled in by now
        again = run("template", path)
        assert again.exit_code == 6 and "is there already and stays as it is" in again.stderr
    assert len(read_season(tmp_path / "demo").crew) == 5
    assert run("convert", season, tmp_path / "book.xlsx").exit_code == 0
    assert run("convert", tmp_path / "book.xlsx", tmp_path / "again").exit_code == 0
    assert read_season(tmp_path / "again") == read_season(season)


def test_convert_gives_nothing_up_unasked(season: Path, tmp_path: Path) -> None:
    """A season that is there stays without --replace; itself, a file that is none and sheets of one's own always."""
    book, other = tmp_path / "book.xlsx", tmp_path / "other"
    assert run("convert", season, book).exit_code == 0
    write_season(kitchen(pins=(Pin("no making", day(0)),)), other)
    for target in (book, season):
        before = read_season(target)
        stays = run("convert", other, target)
        assert stays.exit_code == 6 and "is there already and stays as it is" in stays.stderr
        assert read_season(target) == before
    assert run("convert", other, book, "--replace").exit_code == 0
    assert read_season(book) == read_season(other)
    itself = run("convert", book, book, "--replace")
    assert itself.exit_code == 6 and "is the season itself" in itself.stderr
    opened = openpyxl.load_workbook(book)
    opened.create_sheet("my sums")
    opened.save(book)
    assert "also holds my sums, which would be lost" in run("convert", other, book, "--replace").stderr
    book.write_text("a letter")
    assert "can't be read as a season, so it stays" in run("convert", other, book, "--replace").stderr
    assert book.read_text() == "a letter"
    for name in ("season.csv", "season.xls", "season.ods"):
        assert "give such a name" in run("convert", other, tmp_path / name).stderr


def test_a_pin_that_asks_too_much_ends_with_4(tmp_path: Path) -> None:
    """A hundred batches on a day: the decision is named, and nothing is written."""
    write_season(kitchen(pins=(Pin("make", day(0), "Kite", batches=100),)), tmp_path / "season")
    done = run("plan", tmp_path / "season", "--out", tmp_path / "plan")
    assert done.exit_code == 4
    assert "the pin says 100 at least" in done.stderr and "ask for less, or take the pin out" in done.stderr
    assert "where --seconds is short, a few more may do" in done.stderr
    assert not (tmp_path / "plan").exists()


def test_pins_that_clash_end_with_4(tmp_path: Path) -> None:
    write_season(kitchen(pins=(Pin("make", day(0), "Kite"), Pin("no making", day(0)))), tmp_path / "clash")
    done = run("plan", tmp_path / "clash", "--out", tmp_path / "plan")
    assert done.exit_code == 4
    assert "can't both hold" in done.stderr
    assert not (tmp_path / "plan").exists()


@pytest.mark.parametrize(
    ("trouble", "code", "words"),
    [
        (NoPlan("No plan was found in 1 second; give it more."), 5, "give it more"),
        (MemoryError(), 5, "too little memory"),
        (SystemError("<built-in function compile> returned NULL without setting an exception"), 5, "too little memory"),
        (CannotWrite("plan.xlsx is open elsewhere; close it."), 6, "close it"),
        (pipeline.AuditFailed((Violation("rest", "Ada", "Too short."),)), 7, "so it was not written"),
        (ZeroDivisionError("NamedBasis Cafe"), 1, "Something went wrong inside rockrota (ZeroDivisionError)"),
        (KeyboardInterrupt(), 130, "Stopped; nothing was written."),
    ],
)
def test_troubles_end_in_a_plain_line(
    trouble: BaseException, code: int, words: str, season: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever happens while planning: its exit code, one plain line, no traceback, no customer."""

    def fails(*_: object) -> None:
        raise trouble

    monkeypatch.setattr(loop, "plan_season", fails)
    done = run("plan", season, "--out", tmp_path / "plan")
    assert done.exit_code == code
    assert words in done.stderr
    assert "Traceback" not in done.output and "NamedBasis Cafe" not in done.output
    assert not (tmp_path / "plan").exists()


def test_memory_that_runs_out_for_good_is_told(season: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not even the rooms that know the trouble can be imported any more: still a plain word."""

    def fails(*_: object) -> None:
        raise OSError

    def no_room(*_: object) -> None:
        raise SystemError("<built-in function compile> returned NULL without setting an exception")

    monkeypatch.setattr(loop, "plan_season", fails)
    monkeypatch.setattr(cli_shared, "_known", no_room)
    done = run("plan", season, "--out", tmp_path / "plan")
    assert done.exit_code == 5
    assert "too little memory" in done.stderr and "Traceback" not in done.output


def test_a_plan_that_breaks_a_rule_is_not_written(
    season: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A planner gone wrong: the rules are named, exit code 7, and there is no file."""
    good = loop.plan_season(kitchen())
    bad = replace(good, days=tuple(replace(d, shifts=()) for d in good.days))
    monkeypatch.setattr(loop, "plan_season", lambda *_: bad)
    done = run("plan", season, "--out", tmp_path / "plan")
    assert done.exit_code == 7
    assert "one job at a time" in done.stderr and "it was not written" in done.stderr
    assert not (tmp_path / "plan").exists()


def test_a_report_can_show_where(season: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With ROCKROTA_TRACEBACK set an unknown trouble is raised as it is."""

    def fails(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(loop, "plan_season", fails)
    monkeypatch.setenv("ROCKROTA_TRACEBACK", "1")
    assert isinstance(run("plan", season, "--out", tmp_path / "plan").exception, ZeroDivisionError)


def test_every_command_has_help() -> None:
    """Each command and option says what it is; a wrong one ends with 2."""
    commands = app.registered_commands
    assert {c.callback.__name__ for c in commands if c.callback} >= {"plan", "check", "audit", "template", "convert"}
    for command in commands:
        assert command.callback is not None and command.callback.__doc__
        name = command.name or command.callback.__name__.replace("_", "-")
        done = run(name, "--help")
        assert done.exit_code == 0 and command.callback.__doc__.splitlines()[0][:40] in done.stdout
    assert run("plan").exit_code == 2
    assert run("bake").exit_code == 2


def test_what_solvers_print_is_not_ours() -> None:
    """Output past Python, as from a solver, goes nowhere: `--json` stays one object on stdout."""
    code = "import os; from scheduler.cli import only_our_words as w; w(); os.write(1, b'noise'); print('ours')"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "ours\n"


@pytest.mark.parametrize("both", [False, True])
def test_nobody_reads_on(both: bool, season: Path, tmp_path: Path) -> None:
    """As before `| head`, with stderr in the pipe or not: quiet, files written, the command's own exit code."""
    write_season(kitchen(pins=(Pin("no making", day(0)),)), tmp_path / "other")
    out = tmp_path / "plan"
    for words, code in ((("plan", season, "--out", out), 0), (("audit", tmp_path / "other", out), 7)):
        reader, writer = os.pipe()
        os.close(reader)
        command = [sys.executable, "-m", "scheduler.cli", *map(str, words)]
        done = subprocess.run(command, stdout=writer, stderr=writer if both else subprocess.PIPE, cwd=ROOT)
        os.close(writer)
        assert (done.returncode, done.stderr or b"") == (code, b"")
    assert sorted(p.name for p in out.iterdir()) == ["plan.json", "plan.xlsx"]
