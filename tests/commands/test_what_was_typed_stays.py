"""Numbers typed into a workbook are somebody's work: no command writes over them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import load_workbook
from scheduler.paper.read_back import read_back
from scheduler.paper.run_sheet import MADE_HEADINGS
from scheduler.paper.untouched import free_name, untouched
from scheduler.paper.workbook import write_workbook
from scheduler.pipeline import write_audited, write_crew_pages
from scheduler.plan.files import read_plan
from scheduler.season.read import read_season
from scheduler.season.types import Order
from scheduler.season.write import write_season
from tests.answers.test_record import fill_in
from tests.commands.test_main_commands import kitchen, run
from tests.handmade import day, handmade_plan, handmade_season

PIECES = MADE_HEADINGS[3]


def fill(path: Path) -> bytes:
    """Type into the first run sheet's first batch, and save."""
    fill_in(path, "Day 2026-03-02", MADE_HEADINGS, "0302-1", {PIECES: 870})
    return path.read_bytes()


def test_a_workbook_knows_whether_it_was_typed_into(tmp_path: Path) -> None:
    """As written: untouched. One number more, saved again with none, half of it, no workbook: not so."""
    path = tmp_path / "plan.xlsx"
    write_workbook(handmade_season(), handmade_plan(), path)
    whole = path.read_bytes()
    assert untouched(path) and free_name(path) == path
    load_workbook(path).save(path)
    assert not untouched(path)
    path.write_bytes(whole)
    fill(path)
    assert not untouched(path) and free_name(path) == tmp_path / "plan-2.xlsx"
    for content in (whole[: len(whole) // 2], b"", b"my own notes"):
        path.write_bytes(content)
        assert not untouched(path)


def test_the_same_plan_again_gets_a_workbook_beside(tmp_path: Path) -> None:
    """What was typed stays and can be recorded; the new workbook is plan-2.xlsx, each time; an untouched one is new."""
    season, plan = handmade_season(), handmade_plan()
    assert write_audited(season, plan, tmp_path).stayed is None
    assert write_audited(season, plan, tmp_path).stayed is None
    typed = fill(tmp_path / "plan.xlsx")
    for _ in range(2):
        written = write_audited(season, replace(plan, extras={"asked": 1}), tmp_path)
        assert (written.workbook_file.name, written.stayed) == ("plan-2.xlsx", tmp_path / "plan.xlsx")
    assert (tmp_path / "plan.xlsx").read_bytes() == typed
    assert sorted(p.name for p in tmp_path.iterdir()) == ["plan-2.xlsx", "plan.json", "plan.xlsx"]
    assert len(read_back(tmp_path / "plan.xlsx", season, read_plan(tmp_path / "plan.json"))) == 1


def test_another_plan_gets_a_folder_of_its_own(tmp_path: Path) -> None:
    """What was typed needs the plan that it belongs to: both stay; a second folder with another plan is passed over."""
    season, plan = handmade_season(), handmade_plan()
    write_audited(season, plan, tmp_path / "plan")
    old = (tmp_path / "plan" / "plan.json").read_bytes()
    typed = fill(tmp_path / "plan" / "plan.xlsx")
    write_audited(season, plan, tmp_path / "plan-2")
    other = replace(plan, days=tuple(replace(d, proven=not d.proven) for d in plan.days))
    written = write_audited(season, other, tmp_path / "plan")
    assert (written.plan_file, written.stayed) == (
        tmp_path / "plan-3" / "plan.json", tmp_path / "plan" / "plan.xlsx"
    )  # fmt: skip
    assert (tmp_path / "plan" / "plan.json").read_bytes() == old
    assert (tmp_path / "plan" / "plan.xlsx").read_bytes() == typed


def test_the_crew_workbook_is_not_written_over(tmp_path: Path) -> None:
    """Crew pages hold run sheets, too: crew-2.xlsx."""
    season, plan = handmade_season(), handmade_plan()
    typed = fill(write_crew_pages(season, plan, tmp_path))
    assert write_crew_pages(season, plan, tmp_path).name == "crew-2.xlsx"
    assert (tmp_path / "crew.xlsx").read_bytes() == typed


def test_plan_says_that_it_went_elsewhere(tmp_path: Path) -> None:
    """plan --out: the season has another order and the workbook was filled in: a new folder, said in one line."""
    write_season(kitchen(), tmp_path / "season")
    words = ("plan", tmp_path / "season", "--out", tmp_path / "plan", "--crew-pages", tmp_path / "plan")
    assert run(*words).exit_code == 0
    typed = {}
    for name in ("plan.xlsx", "crew.xlsx"):
        path = tmp_path / "plan" / name
        book = load_workbook(path)
        book.worksheets[-1]["A1"] = "typed"
        book.save(path)
        typed[path] = path.read_bytes()
    again = run(*words)
    assert [line.split(" was filled in")[0] for line in again.stderr.splitlines()] == [str(path) for path in typed]
    more = Order("B", "Kite bag", 1, day(1), customer="NamedBasis Cafe")
    write_season(replace(kitchen(), orders=(*kitchen().orders, more)), tmp_path / "season")
    done = run(*words[:4])
    assert done.exit_code == 0, done.output
    assert done.stderr.splitlines() == [
        f"{tmp_path / 'plan' / 'plan.xlsx'} was filled in or saved since it was written, so it stays as it is; "
        f"new: {tmp_path / 'plan-2' / 'plan.xlsx'}"
    ]
    assert {path: path.read_bytes() for path in typed} == typed


@pytest.mark.parametrize("sheet", ["Notes", None])
def test_sheets_of_ones_own_are_not_lost_in_recording(sheet: str | None, tmp_path: Path) -> None:
    """record would write a season's workbook without them: it refuses and says what to do; without any it records."""
    path = tmp_path / "season.xlsx"
    write_season(kitchen(), path)
    if sheet:
        book = load_workbook(path)
        book.create_sheet(sheet)["A1"] = "the new supplier calls on Friday"
        book.save(path)
    before = path.read_bytes()
    done = run("record", path, "--away", f"{kitchen().crew[0].name}:{day(1)}")
    assert done.exit_code == (6 if sheet else 0), done.output
    assert (path.read_bytes() == before) == bool(sheet)
    if sheet:
        assert "season.xlsx also holds the sheet Notes, which is no table of a season" in done.stderr
    else:
        assert len(read_season(path).absences) == 1
