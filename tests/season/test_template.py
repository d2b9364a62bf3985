"""The template opens, explains itself, offers lists, and reads once it is filled in."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from scheduler.season.check import warnings
from scheduler.season.defaults import ROWS
from scheduler.season.faults import SeasonFaults
from scheduler.season.read import read_season
from scheduler.season.schema import BY_NAME, TABLES
from scheduler.season.template import write_template
from tests.season_examples import SEASON

STILL_TO_FILL = [
    'kitchen row 2, "name": nothing is written; write a text such as Harbour Lane Kitchen.',
    'kitchen row 3, "first day": nothing is written; write a day such as 2026-02-23.',
    'kitchen row 4, "last day": nothing is written; write a day such as 2026-04-05.',
    "designs: this table has no rows; write at least one.",
    "crew: this table has no rows; write at least one.",
]


@pytest.mark.parametrize("name", ["template.xlsx", "template"])
def test_an_empty_template_says_what_is_still_to_fill(tmp_path: Path, name: str) -> None:
    """Nothing else is wrong with an empty template than what only the kitchen knows."""
    write_template(tmp_path / name)
    with pytest.raises(SeasonFaults, match="designs: this table has no rows") as caught:
        read_season(tmp_path / name)
    assert [str(f) for f in caught.value.faults] == STILL_TO_FILL


@pytest.mark.parametrize("name", ["template.xlsx", "template"])
def test_a_template_with_a_season_reads_as_that_season(tmp_path: Path, name: str) -> None:
    """The demo is written as a template filled in."""
    write_template(tmp_path / name, SEASON)
    assert read_season(tmp_path / name) == SEASON


def test_a_template_filled_in_by_hand(tmp_path: Path) -> None:
    """Typing a name, two days, one design and one person into the workbook makes a season."""
    path = tmp_path / "template.xlsx"
    write_template(path)
    book = openpyxl.load_workbook(path)
    for row, value in ((2, "Mill Kitchen"), (3, date(2026, 3, 2)), (4, date(2026, 3, 15))):
        book["kitchen"].cell(row, 2).value = value
    for column, value in enumerate(("Rose", 1, 900, 200), start=1):
        book["designs"].cell(2, column).value = value
    for column, value in enumerate(("Ada", 38.5, 44), start=1):
        book["crew"].cell(2, column).value = value
    for row, skill in enumerate(("boiling", "pictures", "pulling", "rolling", "cutting"), start=2):
        for column, value in enumerate(("Ada", skill, 1), start=1):
            book["skills"].cell(row, column).value = value
    book.save(path)
    season = read_season(path)
    assert season.stages == ROWS["stages"]
    assert season.kitchen.clock_step == 5
    assert (season.crew[0].contracted_minutes, season.kitchen.last_day) == (2310, date(2026, 3, 15))
    assert "designs Rose: nobody can make it: draw and roll needs 2 people at once and the crew has 1." in [
        str(w) for w in warnings(season)
    ]


def test_every_heading_has_a_note_with_an_example(tmp_path: Path) -> None:
    """Each heading's note names the unit where there is one, and an example that the reader takes."""
    write_template(tmp_path / "template.xlsx")
    book = openpyxl.load_workbook(tmp_path / "template.xlsx")
    assert book.sheetnames == ["read me", *(t.name for t in TABLES), "lists"]
    assert book["lists"].sheet_state == "hidden"
    for table in TABLES[1:]:
        sheet = book[table.name]
        assert sheet.freeze_panes == "B2"
        for at, column in enumerate(table.columns, start=1):
            comment = sheet.cell(1, at).comment
            assert comment is not None
            assert f"Example: {column.example}" in comment.text
            assert column.unit in comment.text
    for row, column in enumerate(BY_NAME["kitchen"].columns, start=2):
        assert book["kitchen"].cell(row, 1).comment is not None
        assert column.example in book["kitchen"].cell(row, 3).value


def test_every_example_is_one_that_the_reader_takes() -> None:
    """What a note gives as example is a value of its column."""
    from scheduler.season.cells import Habit, value_of

    for table in TABLES:
        for column in table.columns:
            assert value_of(column, column.example, Habit()) is not None, (table.name, column.title)


def test_lists_point_at_ranges(tmp_path: Path) -> None:
    """Lists to choose from are ranges: fixed words on a hidden sheet, names in the column that defines them."""
    write_template(tmp_path / "template.xlsx", SEASON)
    book = openpyxl.load_workbook(tmp_path / "template.xlsx")
    rules = {
        str(rule.sqref).split(":")[0]: rule.formula1 for rule in book["orders"].data_validations.dataValidation
    }
    assert rules["B2"].startswith("products!$A$2:$A$")
    kinds = rules["F2"]
    assert kinds.startswith("lists!$")
    first, last = kinds.removeprefix("lists!").replace("$", "").split(":")
    assert [cell.value for (cell,) in book["lists"][first:last]] == ["firm", "standing"]
    for table in TABLES:
        for rule in book[table.name].data_validations.dataValidation:
            assert "!" in rule.formula1
            assert len(rule.formula1) < 255


def test_common_practice_stages_make_a_batch_of_usual_length() -> None:
    """The stages that the template begins with take 75 to 105 minutes from pour to cut (common practice, no source)."""
    from scheduler.season.rules import recipe

    season = replace(SEASON, **ROWS)
    for design in season.designs:
        stages = [s for s in recipe(season, replace(design, name="x")) if s.name != "boil"]
        assert 75 <= sum(s.minutes for s in stages) <= 105
