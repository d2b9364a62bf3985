# ruff: noqa: E501  (tables of exact sentences)
"""Each kind of bad input has its own sentence: where, what stands there, what to write instead."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from scheduler.season.faults import SeasonFaults
from scheduler.season.read import read_season
from scheduler.season.types import Design, Role, Show, Stage
from tests.season_examples import SEASON, save_folder, save_workbook, tables_of

# table, row as the spreadsheet shows it, heading, what is typed, the whole line that comes back
CELLS: list[tuple[str, int, str, str, str]] = [
    ("hours", 2, "closes", "25:00", 'hours row 2, "closes": 25:00 is not a clock time; write 18:00.'),
    ("hours", 2, "opens", "9", 'hours row 2, "opens": 9 is not a clock time; write 09:00.'),
    ("hours", 2, "opens", "930", 'hours row 2, "opens": 930 is not a clock time; write 09:30.'),
    ("hours", 2, "closes", "07:00",
     'hours row 2, "closes": 07:00 is not after 08:00; nothing runs past midnight, write a later time.'),
    ("hours", 2, "weekday", "Mnday", 'hours row 2, "weekday": Mnday is not a day of the week; write Monday.'),
    ("hours", 3, "weekday", "Monday", 'hours row 3, "weekday": Monday is already in row 2; keep one of them.'),
    ("kitchen", 3, "value", "2026-02-29",
     'kitchen row 3, "first day": 2026-02-29 is not a day: the last day of that month is 2026-02-28.'),
    ("kitchen", 3, "value", "2 March",
     'kitchen row 3, "first day": 2 March is not a day; write one such as 2026-02-23.'),
    ("kitchen", 4, "value", "2026-02-01",
     'kitchen row 4, "last day": 2026-02-01 is before the first day 2026-03-02; write a later day.'),
    ("kitchen", 4, "value", "2027-12-31",
     'kitchen row 4, "last day": 2027-12-31 makes a season of 670 days; at most 400 can be planned, '
     "so write 2027-04-05 or earlier."),
    ("kitchen", 13, "value", "136",
     'kitchen row 13, "around break minutes": 136 before and after a break of 30 minutes is more than the 300 after '
     "which one is due; write 135 or less."),
    ("kitchen", 13, "value", "135", ""),
    ("kitchen", 17, "value", "12",
     'kitchen row 17, "longest day hours": 12 is longer than one break allows (300 + 30 + 300 minutes); '
     "write 10.5 or less."),
    ("kitchen", 19, "value", "7",
     'kitchen row 19, "clock step minutes": 7 is no step of a clock; write 1, 5, 10, 15, 20 or 30, for instance 5.'),
    ("kitchen", 20, "value", "bench",
     'kitchen row 20, "packing station": bench is not in stations; add it there or correct the name.'),
    ("kitchen", 22, "value", "0", 'kitchen row 22, "packing from days": 0 is too small; write 1 or more.'),
    ("kitchen", 25, "value", "most likely",
     'kitchen row 25, "plan for": most likely is not one of the choices; did you mean likely?'),
    ("kitchen", 2, "setting", "nmae", 'kitchen row 2, "setting": nmae is no setting; did you mean name?'),
    ("kitchen", 5, "setting", "last start",
     'kitchen row 6, "setting": last start is already in row 5; keep one of them.'),
    ("days", 2, "mark", "shut", 'days row 2, "mark": shut is not one of the choices; write closed, open or holiday.'),
    ("days", 3, "opens", "", 'days row 3, "opens": an open day needs its hours; write opens and closes.'),
    ("days", 2, "closes", "12:00", 'days row 2, "mark": closed has no hours; write open, or delete the hours.'),
    ("days", 3, "day", "2026-03-17", 'days row 3, "mark": 2026-03-17 is closed in row 2; keep one of them.'),
    ("days", 4, "day", "2026-03-17", ""),  # a closed day may be marked as a holiday too
    ("stations", 2, "places", "-1", 'stations row 2, "places": -1 is too small; write 1 or more.'),
    ("stations", 2, "places", "1.5", 'stations row 2, "places": 1.5 is not a whole number; write 1 or 2.'),
    ("stations", 2, "places", "two", 'stations row 2, "places": two is not a number; write a number such as 1.'),
    ("stations", 3, "name", "Table",
     'stations row 3, "name": Table differs from row 2 only by capitals or blanks; correct one of them.'),
    ("shows", 2, "weekday", "", 'shows row 2, "weekday": a show needs a weekday or a day; write one of them.'),
    ("shows", 2, "day", "2026-03-07",
     'shows row 2, "day": 2026-03-07 and Saturday are both written; keep one of them.'),
    ("shows", 2, "stage", "por", 'shows row 2, "stage": por is not in stages; did you mean pour?'),
    ("shows", 3, "day", "2026-03-21", ""),  # a day that is a Saturday: another hour, so no fault
    ("stages", 4, "wait from", "10", 'stages row 4, "wait to": 5 is less than wait from (10); write 10 or more.'),
    ("stages", 4, "station", "Table", 'stages row 4, "station": Table is written table in stations; write it the same.'),
    ("roles", 2, "people", "2", 'roles row 2, "people": 2 people cannot lead one batch; write 1, or no under leads.'),
    ("roles", 2, "stage", "por", 'roles row 2, "stage": por is not in stages; did you mean pour?'),
    ("roles", 2, "leads", "perhaps", 'roles row 2, "leads": perhaps is neither yes nor no; write yes or no.'),
    ("roles", 2, "level", "7", 'roles row 2, "level": 7 is too large; write 5 or less.'),
    ("exceptions", 2, "wait from", "12", 'exceptions row 2, "wait to": 10 is less than wait from (12); write 12 or more.'),
    ("changeovers", 2, "station", "packing bench",
     'changeovers row 2, "station": nothing is made at the packing bench, so a plan never cleans it between batches: '
     "packs are put in no order there. Take this row out, and see to that cleaning yourself."),
    ("designs", 2, "pieces", "0", 'designs row 2, "pieces": 0 is too small; write 1 or more.'),
    ("designs", 2, "pieces", "", 'designs row 2, "pieces": nothing is written; write a value such as 900.'),
    ("designs", 2, "pieces", "1,500", 'designs row 2, "pieces": 1,500 can be read in two ways; write 1500 or 1.5.'),
    ("designs", 2, "pieces", "1e3", 'designs row 2, "pieces": 1e3 is not a number; write a number such as 900.'),
    ("designs", 2, "pieces", "nan", 'designs row 2, "pieces": nan is not a number; write a number such as 900.'),
    ("designs", 2, "from day", "03/04/2026",
     'designs row 2, "from day": 03/04/2026 can be read in two ways; write 2026-04-03 or 2026-03-04.'),
    ("designs", 2, "flavour", "x" * 201,
     f'designs row 2, "flavour": {"x" * 37}... is longer than 200 characters; shorten it.'),
    ("crew", 2, "wage", "16.505", 'crew row 2, "wage": 16.505 has more than two decimals; write 16.51.'),
    ("crew", 2, "shortest shift hours", "9.5",
     'crew row 2, "shortest shift hours": 9.5 is more than the longest shift (9); write 9 or less.'),
    ("crew", 2, "contracted hours", "200", 'crew row 2, "contracted hours": 200 is too large; write 168 or less.'),
    ("crew", 2, "overtime percent", "50", 'crew row 2, "overtime percent": 50 is too small; write 100 or more.'),
    ("skills", 3, "skill", "pictures", 'skills row 3, "skill": Ada pictures is already in row 2; keep one of them.'),
    ("skills", 2, "person", "Adda", 'skills row 2, "person": Adda is not in crew; did you mean Ada?'),
    ("availability", 3, "person", "מאיה", ""),  # another weekday: no fault
    ("availability", 2, "ends", "04:00",
     'availability row 2, "ends": 04:00 is not after 09:00; nothing runs past midnight, write a later time.'),
    ("absences", 3, "last day", "2026-03-10",
     'absences row 3, "last day": 2026-03-10 is before the first day 2026-03-12; write a later day.'),
    ("absences", 2, "ends", "11:00", 'absences row 2, "ends": 11:00 is not after 12:00; write a later time.'),
    ("products", 2, "packing minutes", "0",
     'products row 2, "packing minutes": 0 is too small; write 0.016667 or more.'),
    ("products", 2, "price", "-1", 'products row 2, "price": -1 is too small; write 0.00 or more.'),
    ("contents", 4, "product", "tin",
     'products row 3, "name": =1+1 bag has nothing in it; add its designs to contents.'),
    ("contents", 2, "design", "Lighthuose",
     'contents row 2, "design": Lighthuose is not in designs; did you mean Lighthouse?'),
    ("orders", 2, "packs", "0", 'orders row 2, "packs": 0 is too small; write 1 or more.'),
    ("orders", 2, "packs", "12 packs",
     'orders row 2, "packs": 12 packs is not a number; write a number such as 60.'),
    ("orders", 3, "latest day", "2026-03-20",
     'orders row 3, "latest day": 2026-03-20 is before the due day 2026-03-21; write a later day or leave it blank.'),
    ("orders", 2, "due day", "2026-13-01",
     'orders row 2, "due day": 2026-13-01 is not a day: there is no month 13; write year-month-day.'),
    ("orders", 2, "due day", "14/3/26", 'orders row 2, "due day": 14/3/26 is not a day; write one such as 2026-03-21.'),
    ("orders", 2, "kind", "frim", 'orders row 2, "kind": frim is not one of the choices; did you mean firm?'),
    ("orders", 2, "priority", "4", 'orders row 2, "priority": 4 is too large; write 3 or less.'),
    ("orders", 3, "order", "1001", 'orders row 3, "order": 1001 is already in row 2; keep one of them.'),
    ("orders", 2, "customer", "Tea\x07Room",
     'orders row 2, "customer": Tea·Room holds a character that cannot be printed; write it again by hand.'),
    ("forecasts", 2, "forecast", "1001", 'forecasts row 2, "forecast": 1001 is already in orders row 2; give it another name.'),
    ("forecasts", 2, "likely", "5",
     'forecasts row 2, "likely": 5 is less than the low guess 10; write 10 or more.'),
    ("forecasts", 2, "high", "15",
     'forecasts row 2, "high": 15 is less than the likely number 20; write 20 or more.'),
    ("stock", 2, "product", "tin",
     'stock row 2, "product": tin and Lighthouse are both written; keep one: a lot is pieces or packs.'),
    ("stock", 2, "design", "", 'stock row 2, "design": a lot needs a design (pieces) or a product (packs); write one.'),
    ("stock", 2, "quantity", "0", 'stock row 2, "quantity": 0 is too small; write 1 or more.'),
    ("pins", 2, "day", "", 'pins row 2, "day": nothing is written; make needs a day.'),
    ("pins", 3, "design", "Lighthouse", 'pins row 3, "design": Lighthouse does not belong to no making; delete it.'),
    ("pins", 3, "batches", "2", 'pins row 3, "batches": 2 does not belong to no making; delete it.'),
    ("pins", 4, "person", "", 'pins row 4, "person": nothing is written; works needs a person.'),
    ("pins", 5, "role", "leda", 'pins row 5, "role": leda is not in roles; did you mean lead?'),
    ("prices", 2, "of", "tabel", 'prices row 2, "of": tabel is not in stations; did you mean table?'),
    ("prices", 3, "of", "table", 'prices row 3, "of": further place table is already in row 2; keep one of them.'),
    ("prices", 4, "of", "Ada", 'prices row 4, "of": Ada does not belong to extra helper; delete it.'),
    ("prices", 2, "price", "dear", 'prices row 2, "price": dear is not a number; write a number such as 240.00.'),
    ("uses", 2, "material", "jar", 'uses row 2, "material": jar is not in materials; did you mean jars?'),
    ("uses", 2, "design", "Lighthouse",
     'uses row 2, "product": tin and Lighthouse are both written; keep one: a batch or a pack takes it.'),
    ("uses", 2, "amount", "0.5", 'uses row 2, "amount": 0.5 is not a whole number; write 0 or 1.'),
    ("materials", 3, "name", "jars", 'materials row 3, "name": jars is already in row 2; keep one of them.'),
    ("made", 2, "pieces", "0", 'made row 2, "pieces": 0 pieces of a batch that was made; write the pieces, or failed.'),
    ("made", 3, "pieces", "9", 'made row 3, "pieces": 9 pieces of a batch that is failed; write made, or 0 pieces.'),
    ("made", 3, "batch", "S-1", 'made row 3, "batch": S-1 is already in stock row 2; give it another name.'),
    ("shipped", 2, "order", "1003",
     'shipped row 2, "order": 1003 is not in orders or forecasts; add it there or correct the name.'),
]


def faults_of(path: Path) -> list[str]:
    try:
        read_season(path)
    except SeasonFaults as caught:
        return [str(fault) for fault in caught.faults]
    return []


def spoiled(table: str, row: int, title: str, value: Any) -> dict[str, list[list[Any]]]:
    tables = tables_of()
    tables[table][row - 1][tables[table][0].index(title)] = value
    return tables


@pytest.mark.parametrize(("table", "row", "title", "value", "line"), CELLS)
def test_a_bad_cell_in_a_folder(tmp_path: Path, table: str, row: int, title: str, value: str, line: str) -> None:
    """One spoiled cell gives the exact line, and no other fault but what follows from it."""
    faults = faults_of(save_folder(spoiled(table, row, title, value), tmp_path / "s"))
    assert (line in faults) if line else faults == []


@pytest.mark.parametrize(
    ("stage", "hardest", "fault"),
    [
        ("pour", 5, ""),
        ("cut", 1, ""),  # one design that fits, one time
        ("pull", 5, "Heart would fit the show and has no pull (0 minutes); write a stage that every design for the show "
                    "has, or leave it blank for the first."),
        ("cut", 5, "cut starts 75 to 80 minutes after its batch, and visitors need one time for every design; write an "
                   "earlier stage, or leave it blank for the first."),
    ],
)  # fmt: skip
def test_the_stage_that_visitors_come_for(tmp_path: Path, stage: str, hardest: int, fault: str) -> None:
    """Boil 60, pull 10 a load, build 5 more a level: Star (1 load) is cut after 75 minutes, Heart (none, level 4) after 80."""
    season = replace(
        SEASON, exceptions=(), shows=(Show("fair", 660, stage, 5, hardest=hardest),),
        stages=(Stage("pour", "table", 60), Stage("pull", "hook", 0, minutes_per_load=10),
                Stage("build", "table", 5, minutes_per_level=5), Stage("cut", "table", 20)),
        roles=(Role("pour", "lead", hot=True),),
        designs=(Design("Star", 1, 900, 200, 1), Design("Heart", 4, 900, 200, 0)),
        products=(), contents=(), orders=(), forecasts=(), stock=(), pins=(), prices=(), made=(), packed=(), shipped=(),
    )  # fmt: skip
    found = [line for line in faults_of(save_folder(tables_of(season), tmp_path / "s")) if line.startswith("shows")]
    assert found == ([f'shows row 2, "stage": {fault}'] if fault else [])


@pytest.mark.parametrize(("table", "row", "title", "value", "line"), [c for c in CELLS if "\x07" not in c[3]][::4])
def test_a_bad_cell_in_a_workbook(tmp_path: Path, table: str, row: int, title: str, value: str, line: str) -> None:
    """The workbook says the same as the folder."""
    tables = spoiled(table, row, title, value)
    assert faults_of(save_workbook(tables, tmp_path / "s.xlsx")) == faults_of(save_folder(tables, tmp_path / "s"))


def test_all_faults_at_once(tmp_path: Path) -> None:
    """Faults of cells, of headings, of missing tables and between tables come in one list, in table order."""
    tables = spoiled("orders", 2, "packs", "many")
    tables["crew"][1][0] = ""
    tables["stock"][1][0] = "S-2"
    tables["designs"][0][1] = "dificulty"
    del tables["hours"]
    assert faults_of(save_folder(tables, tmp_path / "s")) == [
        "hours: this table is missing; add a sheet or CSV file hours.",
        'designs row 1, "dificulty": this is no column of designs; did you mean difficulty?',
        'crew row 2, "name": nothing is written; write a text such as Ada.',
        'skills row 2, "person": Ada is not in crew; add it there or correct the name.',
        'skills row 3, "person": Ada is not in crew; add it there or correct the name.',
        'absences row 2, "person": Ada is not in crew; add it there or correct the name.',
        'orders row 2, "packs": many is not a number; write a number such as 60.',
        'stock row 3, "lot": S-2 is already in row 2; keep one of them.',
    ]


HEADINGS: list[tuple[str, list[str], str]] = [
    ("orders", ["colour of the box"],
     'orders row 1, "colour of the box": this is no column of orders; delete it; the columns are order, product, packs, '
     "due day, customer, kind, priority, partial, least life days, latest day, late cost, confirmed, cancelled."),
    ("orders", ["packs"], 'orders row 1, "packs": this heading is there twice; keep one of the columns.'),
    ("orders", ["", "stray"], "orders row 2: stray stands in a column without a heading; delete it or give the "
                              "column its heading."),
]


@pytest.mark.parametrize(("table", "extra", "line"), HEADINGS)
def test_bad_headings(tmp_path: Path, table: str, extra: list[str], line: str) -> None:
    """Unknown, repeated and missing headings are named with their table."""
    tables = tables_of()
    for row, value in zip(tables[table], extra, strict=False):
        row.append(value)
    assert faults_of(save_folder(tables, tmp_path / "s")) == [line]


def test_a_needed_column_is_missing(tmp_path: Path) -> None:
    """A column without a usual value has to be there."""
    tables = tables_of()
    tables["orders"] = [[row[0], *row[2:]] for row in tables["orders"]]
    assert faults_of(save_folder(tables, tmp_path / "s")) == ['orders row 1, "product": this column is missing; add it.']


def test_a_table_under_a_wrong_name(tmp_path: Path) -> None:
    """A file that is nearly named like a table is not passed over in silence."""
    tables = tables_of()
    tables["order"] = tables.pop("orders")
    assert faults_of(save_folder(tables, tmp_path / "s")) == [
        "order.csv: order.csv is no table; did you mean orders? Rename it."
    ]


def test_a_table_twice(tmp_path: Path) -> None:
    """Two files of one table are refused: nobody knows which is meant."""
    tables = tables_of()
    tables["Orders"] = tables["orders"]
    assert faults_of(save_folder(tables, tmp_path / "s")) == [
        "orders: this table is there twice (orders.csv); keep one."
    ]


def test_a_column_proves_how_it_writes_days(tmp_path: Path) -> None:
    """03/04/2026 is 3 April where another cell of the column is 25/03/2026, 4 March where one is 03/25/2026."""
    for proof, due in (("25/03/2026", "2026-04-03"), ("03/25/2026", "2026-03-04")):
        tables = tables_of()
        at = tables["orders"][0].index("due day")
        latest = tables["orders"][0].index("latest day")
        tables["orders"][1][at] = "03/04/2026"
        tables["orders"][2][at] = proof
        tables["orders"][2][latest] = ""
        assert str(read_season(save_folder(tables, tmp_path / due)).orders[0].due) == due


def test_the_same_number_twice_is_one_day(tmp_path: Path) -> None:
    """04/04/2026 is the same day in either order, so it needs no proof."""
    folder = save_folder(spoiled("designs", 2, "from day", "04/04/2026"), tmp_path / "s")
    assert str(read_season(folder).designs[0].from_day) == "2026-04-04"


def test_a_column_that_mixes_both_orders_of_days(tmp_path: Path) -> None:
    """A column that proves both orders proves none: the doubtful cell is named."""
    tables = tables_of()
    at = tables["orders"][0].index("due day")
    for row, text in zip(tables["orders"][1:], ("03/04/2026", "25.03.2026", "03/25/2026"), strict=True):
        row[at] = text
    tables["orders"][2][tables["orders"][0].index("latest day")] = ""
    assert faults_of(save_folder(tables, tmp_path / "s")) == [
        'orders row 2, "due day": 03/04/2026 can be read in two ways; write 2026-04-03 or 2026-03-04.'
    ]


def test_decimal_commas(tmp_path: Path) -> None:
    """38,5 is plain; 1,500 is 1.5 where the column proves the comma; both are hours here."""
    tables = tables_of()
    at = tables["crew"][0].index("contracted hours")
    tables["crew"][1][at] = "38,5"
    tables["crew"][2][at] = "1,500"
    season = read_season(save_folder(tables, tmp_path / "s"))
    assert [p.contracted_minutes for p in season.crew[:2]] == [2310, 90]


@pytest.mark.parametrize("text", ["14.03.2026", "14/03/2026", "14 March 2026", "14 Mar 2026", "2026/3/14", "2026-03-14 00:00"])
def test_days_that_can_be_read_in_one_way(tmp_path: Path, text: str) -> None:
    """A day that has one reading is taken."""
    assert str(read_season(save_folder(spoiled("orders", 2, "due day", text), tmp_path / "s")).orders[0].due) == "2026-03-14"


@pytest.mark.parametrize(("text", "minute"), [("8:30", 510), ("08.30", 510), ("8h30", 510), ("8 am", 480), ("1:15 PM", 795),
                                              ("12 am", 0), ("08:30:00", 510), ("\u00a08:30 ", 510)])
def test_clock_times_as_people_write_them(tmp_path: Path, text: str, minute: int) -> None:
    """The usual ways to write a clock time are taken."""
    assert read_season(save_folder(spoiled("hours", 2, "opens", text), tmp_path / "s")).hours[0].opens == minute


@pytest.mark.parametrize(("above", "rows"), [([["Orders of the spring"]], "row 1"), ([["Orders"], ["by Ada"]], "rows 1 to 2")])
def test_a_title_above_the_headings_is_one_fault(tmp_path: Path, above: list[list[str]], rows: str) -> None:
    """The rest of the table is read from its headings on."""
    tables = tables_of()
    tables["orders"][1][2] = "twenty"
    tables["orders"][:0] = above
    at = len(above) + 1
    with pytest.raises(SeasonFaults) as trouble:
        read_season(save_folder(tables, tmp_path / "s"))
    assert [str(f) for f in trouble.value.faults] == [
        f"orders row 1: the headings stand in row {at}; delete {rows}.",
        f'orders row {at + 1}, "packs": twenty is not a number; write a number such as 60.',
    ]
