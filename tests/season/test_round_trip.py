"""A season goes from workbook to folder to workbook and back without loss."""

from __future__ import annotations

import time
from dataclasses import fields, replace
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scheduler.season.cells import tidy
from scheduler.season.faults import SeasonFaults
from scheduler.season.fingerprint import fingerprint
from scheduler.season.read import read_season
from scheduler.season.safe_write import CannotWrite
from scheduler.season.schema import TABLES
from scheduler.season.types import Forecast, Order, Season
from scheduler.season.write import write_season
from tests.season_examples import SEASON, save_folder, save_workbook, tables_of


def test_every_field_has_a_column() -> None:
    """The schema names every field of every record, in its order, and every table of a season."""
    for table in TABLES:
        assert [c.field for c in table.columns] == [f.name for f in fields(table.record)], table.name
    assert {t.field for t in TABLES} == {f.name for f in fields(Season)}


@pytest.mark.parametrize("name", ["season.xlsx", "season"])
def test_read_after_write_is_the_same(tmp_path: Path, name: str) -> None:
    """What is written reads back equal: accents, right-to-left names, leading = - and ' signs, 24:00."""
    write_season(SEASON, tmp_path / name)
    assert read_season(tmp_path / name) == SEASON


def test_workbook_to_folder_to_workbook(tmp_path: Path) -> None:
    """Both forms convert into each other without loss."""
    write_season(SEASON, tmp_path / "a.xlsx")
    write_season(read_season(tmp_path / "a.xlsx"), tmp_path / "b")
    write_season(read_season(tmp_path / "b"), tmp_path / "c.xlsx")
    assert read_season(tmp_path / "c.xlsx") == SEASON
    assert fingerprint(read_season(tmp_path / "c.xlsx")) == fingerprint(SEASON)


def test_text_never_becomes_a_formula(tmp_path: Path) -> None:
    """A product named =1+1 is text in the workbook, and begins with an apostrophe in CSV."""
    write_season(SEASON, tmp_path / "s.xlsx")
    cell = openpyxl.load_workbook(tmp_path / "s.xlsx")["products"]["A3"]
    assert (cell.value, cell.data_type, cell.quotePrefix) == ("=1+1 bag", "s", True)
    write_season(SEASON, tmp_path / "s")
    assert "\n'=1+1 bag," in (tmp_path / "s" / "products.csv").read_text("utf-8-sig")
    assert "\n'-5," in (tmp_path / "s" / "orders.csv").read_text("utf-8-sig")


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_csv_dialects(tmp_path: Path, delimiter: str, encoding: str) -> None:
    """Comma, semicolon and tab, UTF-8 with and without mark and UTF-16 all read alike."""
    assert read_season(save_folder(tables_of(), tmp_path / "s", delimiter, encoding)) == SEASON


@pytest.mark.parametrize("line", ["sep=;\n", 'sep=;\r\n', '"sep=;"\n', "SEP=;;;;\n"])
def test_a_line_that_names_the_separator_is_no_heading(tmp_path: Path, line: str) -> None:
    """Some programs write it first; rows are counted without it, as they show them."""
    folder = save_folder(tables_of(), tmp_path / "s", ";")
    text = (folder / "orders.csv").read_text()
    (folder / "orders.csv").write_text(line + text, newline="")
    assert read_season(folder) == SEASON
    (folder / "orders.csv").write_text(line + text.replace('"20"', "twenty", 1), newline="")
    with pytest.raises(SeasonFaults, match="^orders row 2, \"packs\": twenty is not a number"):
        read_season(folder)


def test_windows_text_is_read_and_noted(tmp_path: Path) -> None:
    """A file in Windows-1252 is read, and its accents are said to need a look."""
    from scheduler.season.check import warnings

    tables = tables_of()
    folder = save_folder(tables, tmp_path / "s")
    text = "name,places\r\ntable,1\r\nhook,1\r\npacking bench,2\r\nFüße,1\r\n"
    (folder / "stations.csv").write_bytes(text.encode("cp1252"))
    season = read_season(folder)
    assert season.stations[-1].name == "Füße"
    assert "reading: stations.csv is not in UTF-8 and was read as Windows text: check the accented letters." in [
        str(w) for w in warnings(season)
    ]


def test_untyped_workbook_reads_alike(tmp_path: Path) -> None:
    """A workbook in which every cell is text reads like the folder."""
    assert read_season(save_workbook(tables_of(), tmp_path / "s.xlsx")) == SEASON


def test_headings_in_any_order_and_case(tmp_path: Path) -> None:
    """Columns may stand in any order, in capitals, with blanks or underscores."""
    tables = tables_of()
    tables["orders"] = [row[::-1] for row in tables["orders"]]
    tables["orders"][0] = [" " + title.upper().replace(" ", "_") for title in tables["orders"][0]]
    tables["Special"] = []
    del tables["Special"]
    tables["  CREW"] = tables.pop("crew")
    assert read_season(save_folder(tables, tmp_path / "s")) == SEASON


def test_a_column_with_a_default_may_be_missing(tmp_path: Path) -> None:
    """Without the column every row has the usual value; a missing optional table is empty."""
    tables = tables_of()
    tables["forecasts"] = [row[:-1] for row in tables["forecasts"]]
    del tables["shipped"]
    season = read_season(save_folder(tables, tmp_path / "s"))
    assert season.forecasts[0].priority == 2
    assert season.shipped == ()


@settings(deadline=None, derandomize=True, max_examples=25)
@given(st.text(st.characters(exclude_categories=("Cc", "Cs", "Cn")), max_size=60))
def test_any_text_survives_a_folder(text: str) -> None:
    """Whatever a customer is called, the name comes back as it was kept (the writer itself compares)."""
    with TemporaryDirectory() as folder:
        write_season(_customer(text), Path(folder) / "s")


@settings(deadline=None, derandomize=True, max_examples=10)
@given(st.text(st.sampled_from("=+-@'_x00DFab \u200f\u05d0,;\"&<>"), max_size=12))
def test_any_text_survives_a_workbook(text: str) -> None:
    """The same in a workbook, with the signs that spreadsheets treat in their own way."""
    with TemporaryDirectory() as folder:
        write_season(_customer(text), Path(folder) / "s.xlsx")


def test_text_like_an_escape_survives_a_workbook(tmp_path: Path) -> None:
    """_x000D_ is how a workbook stores a line end; the same letters typed by a person stay letters."""
    write_season(_customer("_x000D_ _x0041_ _x005F_x0041_"), tmp_path / "s.xlsx")


def _customer(text: str) -> Season:
    return replace(SEASON, orders=(replace(SEASON.orders[0], customer=tidy(text)), *SEASON.orders[1:]))


@pytest.mark.parametrize("days", [1, 400])
def test_shortest_and_longest_season(tmp_path: Path, days: int) -> None:
    """A season of one day and one of 400 days are read."""
    last = SEASON.kitchen.first_day + timedelta(days=days - 1)
    season = replace(SEASON, kitchen=replace(SEASON.kitchen, last_day=last))
    write_season(season, tmp_path / "s")
    assert read_season(tmp_path / "s").day_count == days


def test_what_cannot_be_read_back_is_not_written(tmp_path: Path) -> None:
    """A season that no reader would take (an order for nothing) leaves the old file alone."""
    target = tmp_path / "s.xlsx"
    write_season(SEASON, target)
    before = target.read_bytes()
    with pytest.raises(CannotWrite, match="could not be read back, so nothing was changed"):
        write_season(replace(SEASON, orders=(replace(SEASON.orders[0], packs=0),)), target)
    assert target.read_bytes() == before
    assert list(tmp_path.iterdir()) == [target]


def test_fingerprint_ignores_row_order_except_of_stages() -> None:
    """Orders may be sorted, stages may not; one pack more is another season."""
    assert len(fingerprint(SEASON)) == 16
    assert fingerprint(replace(SEASON, orders=SEASON.orders[::-1])) == fingerprint(SEASON)
    assert fingerprint(replace(SEASON, stages=SEASON.stages[::-1])) != fingerprint(SEASON)
    assert fingerprint(replace(SEASON, prices=())) == fingerprint(SEASON)
    more = (replace(SEASON.orders[0], packs=21), *SEASON.orders[1:])
    assert fingerprint(replace(SEASON, orders=more)) != fingerprint(SEASON)


def test_reading_a_season_of_demo_size_is_quick(tmp_path: Path) -> None:
    """80 orders and forecasts read from a workbook in under 0.4 s (the solver-free part of check)."""
    day = date(2026, 3, 10)
    orders = tuple(Order(f"W-{n}", "tin", 5 + n, day + timedelta(days=n % 15)) for n in range(60))
    forecasts = tuple(Forecast(f"F-{n}", "tin", day, n, n, n) for n in range(20))
    season = replace(SEASON, orders=(*SEASON.orders, *orders), forecasts=(*SEASON.forecasts, *forecasts))
    write_season(season, tmp_path / "s.xlsx")
    started = time.process_time()
    assert read_season(tmp_path / "s.xlsx") == season
    assert time.process_time() - started < 0.4
