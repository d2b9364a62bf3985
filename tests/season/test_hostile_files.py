"""Files that are not what they seem, and workbooks as people really leave them."""

from __future__ import annotations

import io
import resource
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from datetime import date, datetime, timedelta
from datetime import time as clock
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from scheduler.season.check import warnings
from scheduler.season.faults import SeasonFaults
from scheduler.season.read import read_season
from scheduler.season.write import write_season
from tests.season_examples import SEASON, save_folder, save_workbook, tables_of


def faults_of(path: Path) -> list[str]:
    with pytest.raises(SeasonFaults, match=".") as caught:
        read_season(path)
    return [str(fault) for fault in caught.value.faults]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("season") / "s.xlsx"
    write_season(SEASON, path)
    return path.read_bytes()


@pytest.fixture
def season_file(tmp_path: Path, written: bytes) -> Path:
    (tmp_path / "s.xlsx").write_bytes(written)
    return tmp_path / "s.xlsx"


def edit(path: Path, change: Callable[[Any], None]) -> Path:
    """Change a workbook as a person would and save it."""
    book = openpyxl.load_workbook(path)
    change(book)
    book.save(path)
    return path


def repack(path: Path, entry: str, change: Callable[[bytes], bytes]) -> Path:
    """Change the bytes of one entry of a workbook."""
    with zipfile.ZipFile(path) as old:
        entries = {name: old.read(name) for name in old.namelist()}
    entries[entry] = change(entries[entry])
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in entries.items():
            new.writestr(name, content)
    return path


def sheet_entry(path: Path, title: str) -> str:
    return f"xl/worksheets/sheet{openpyxl.load_workbook(path).sheetnames.index(title) + 1}.xml"


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)
WRONG_FILES: list[tuple[str, bytes, str]] = [
    ("s.xlsx", b"", "season: s.xlsx is not an Excel workbook; save it as .xlsx from the spreadsheet program."),
    ("s.xlsx", b"\x89PNG\r\n\x1a\n" + bytes(99),
     "season: s.xlsx is not an Excel workbook; save it as .xlsx from the spreadsheet program."),
    ("s.xlsx", OLE, "season: s.xlsx is locked with a password or in the old .xls format; "
                    "save it as an Excel workbook (.xlsx) without a password."),
    ("s.csv", b"name,places\n", "season: a season is a folder of CSV files; give the folder, not one file."),
]


@pytest.mark.parametrize(("name", "content", "line"), WRONG_FILES)
def test_a_file_that_is_no_workbook(tmp_path: Path, name: str, content: bytes, line: str) -> None:
    """A wrong kind of file is said to be one, with what to do."""
    (tmp_path / name).write_bytes(content)
    assert faults_of(tmp_path / name) == [line]


def test_nothing_there(tmp_path: Path) -> None:
    """A path without a file, and a folder without tables."""
    assert faults_of(tmp_path / "no.xlsx") == [
        f"season: there is no file or folder {tmp_path / 'no.xlsx'}; check the name."
    ]
    assert faults_of(tmp_path) == [
        f"season: the folder {tmp_path.name} holds no CSV files; a season has one for each table."
    ]


def test_a_zip_that_is_no_workbook(tmp_path: Path) -> None:
    """A zip archive of something else is not opened."""
    with zipfile.ZipFile(tmp_path / "s.xlsx", "w") as archive:
        archive.writestr("letter.txt", "hello")
    assert faults_of(tmp_path / "s.xlsx") == [
        "season: s.xlsx is not an Excel workbook; save it as .xlsx from the spreadsheet program."
    ]


@pytest.mark.parametrize("keep", [0.3, 0.7, 0.95])
def test_a_workbook_cut_short(season_file: Path, keep: float) -> None:
    """A half-copied file is refused in one line."""
    content = season_file.read_bytes()
    season_file.write_bytes(content[: int(len(content) * keep)])
    assert faults_of(season_file) == [
        "season: s.xlsx is not an Excel workbook; save it as .xlsx from the spreadsheet program."
    ]


def test_a_workbook_with_broken_sheets(season_file: Path) -> None:
    """XML that ends in the middle is damage, not a traceback."""
    repack(season_file, sheet_entry(season_file, "orders"), lambda xml: xml[: len(xml) // 2])
    assert faults_of(season_file) == [
        "season: s.xlsx is damaged; open it in the spreadsheet program and save it again."
    ]


@pytest.mark.parametrize("megabytes", [60, 150])
def test_a_zip_bomb_is_not_unpacked(season_file: Path, megabytes: int) -> None:
    """A sheet of hot air is refused from the zip directory, for its ratio or its size, in no time."""
    with zipfile.ZipFile(season_file, "a", zipfile.ZIP_DEFLATED) as archive, archive.open(
        "xl/worksheets/sheet99.xml", "w", force_zip64=True
    ) as entry:
        for _ in range(megabytes):
            entry.write(bytes(1_000_000))
    started = time.process_time()
    assert faults_of(season_file) == [
        "season: s.xlsx unpacks to far more than a season needs and was not opened; copy the tables to a new workbook."
    ]
    assert time.process_time() - started < 1


@pytest.mark.parametrize("code", ["utf-8", "utf-16"])
def test_an_entity_bomb_is_not_read(season_file: Path, code: str) -> None:
    """Entities that multiply (a billion laughs) are refused before any XML reader sees them."""
    bomb = '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "ha"><!ENTITY c "&b;&b;&b;">]><worksheet>&c;</worksheet>'
    repack(season_file, sheet_entry(season_file, "orders"), lambda _: bomb.encode(code))
    assert faults_of(season_file) == [
        "season: s.xlsx holds hidden instructions and was not opened; copy the tables to a new workbook."
    ]


def test_a_stray_format_in_the_last_row_costs_nothing(season_file: Path) -> None:
    """A format in row 1,048,576 is passed over: same season, little time and memory."""
    def stray(book: Any) -> None:
        book["orders"].cell(1_048_576, 3).font = openpyxl.styles.Font(bold=True)

    edit(season_file, stray)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    started = time.process_time()
    assert read_season(season_file) == SEASON
    assert time.process_time() - started < 2
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000  # kB


@pytest.mark.parametrize("cells", [b"", b'<c r="A%d"><v>7</v></c>'], ids=["formats", "numbers"])
def test_a_million_rows(season_file: Path, cells: bytes) -> None:
    """A million rows of formats are passed over; a million rows of numbers are refused. Both within 4 s and 500 MB."""
    def fill(xml: bytes) -> bytes:
        row = b'<row r="%d" s="1" customFormat="1">' + cells + b"</row>"
        rows = b"".join(row.replace(b"%d", b"%d" % n) for n in range(5, 1_000_005))
        return xml.replace(b"</sheetData>", rows + b"</sheetData>")

    repack(season_file, sheet_entry(season_file, "stations"), fill)
    code = (
        "import resource, sys, time\n"
        "from scheduler.season.read import read_season\n"
        "from scheduler.season.faults import SeasonFaults\n"
        "try:\n    print(len(read_season(sys.argv[1]).stations))\n"
        "except SeasonFaults as no:\n    print(no.faults[-1])\n"
        "print(time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(season_file)], cwd=Path(__file__).parents[2], capture_output=True, text=True,
        check=True,
    )
    said, used = run.stdout.splitlines()
    seconds, kilobytes = (float(x) for x in used.split())
    if cells:
        assert said == "stations row 20001: there are more than 20000 rows; keep one season in the table."
    else:
        assert said == "3"
    assert seconds < 4
    assert kilobytes < 700_000


def test_a_row_far_below_the_others_is_not_lost(season_file: Path) -> None:
    """Content below 300 blank rows is named rather than passed over."""
    def far(book: Any) -> None:
        book["orders"].cell(5000, 1).value = "W-9"

    assert faults_of(edit(season_file, far)) == [
        "orders row 5000: there are more than 300 blank rows above this one; move it up to the others, or delete it."
    ]


def test_blank_rows_are_skipped_and_rows_keep_their_numbers(season_file: Path) -> None:
    """Blank rows between rows do not matter, and faults name the row the spreadsheet shows."""
    def gaps(book: Any) -> None:
        book["stations"].insert_rows(3, 4)

    assert read_season(edit(season_file, gaps)) == SEASON

    def wrong(book: Any) -> None:
        book["stations"]["B7"].value = 0

    assert faults_of(edit(season_file, wrong)) == ['stations row 7, "places": 0 is too small; write 1 or more.']


def test_merged_cells_are_named(season_file: Path) -> None:
    """A merged cell holds its value in one row only, so it is refused."""
    def merge(book: Any) -> None:
        book["skills"].merge_cells("A2:A3")

    assert faults_of(edit(season_file, merge))[0] == (
        'skills row 2, "person": the cells A2:A3 are merged; unmerge them and write the value in each row.'
    )


def test_hidden_rows_are_read_and_said(season_file: Path) -> None:
    """A hidden row counts like the others, with a warning."""
    def hide(book: Any) -> None:
        book["orders"].row_dimensions[3].hidden = True

    season = read_season(edit(season_file, hide))
    assert season == SEASON
    assert "reading: orders: hidden rows were read like the others (row 3)." in [str(w) for w in warnings(season)]


def test_a_formula_that_was_never_calculated(season_file: Path) -> None:
    """A formula without a stored result is named, not read as blank."""
    def formula(book: Any) -> None:
        book["orders"]["C2"].value = "=10+10"

    assert faults_of(edit(season_file, formula)) == [
        'orders row 2, "packs": the formula =10+10 was never calculated; open the workbook in the spreadsheet program, '
        "save it, and try again, or write the value."
    ]


def test_a_calculated_formula_counts(season_file: Path) -> None:
    """A formula with its result stored is read as that result."""
    def formula(book: Any) -> None:
        book["orders"]["C2"].value = "=10+10"

    edit(season_file, formula)
    repack(season_file, sheet_entry(season_file, "orders"),
           lambda xml: xml.replace(b"<f>10+10</f><v />", b"<f>10+10</f><v>20</v>").replace(
               b"<f>10+10</f><v></v>", b"<f>10+10</f><v>20</v>"))
    assert read_season(season_file) == SEASON


def test_a_mistake_in_a_formula(season_file: Path) -> None:
    """#REF! and its like are named."""
    def mistake(book: Any) -> None:
        book["orders"]["C2"].value = "#REF!"
        book["orders"]["C2"].data_type = "e"

    assert faults_of(edit(season_file, mistake)) == [
        'orders row 2, "packs": #REF! is a mistake in a formula; correct it or write the value.'
    ]


def test_days_since_1904(tmp_path: Path) -> None:
    """A workbook that counts its days from 1904 gives the same days."""
    tables = tables_of()
    due = date(2026, 3, 14)
    tables["orders"][1][tables["orders"][0].index("due day")] = datetime(2026, 3, 14)
    save_workbook(tables, tmp_path / "s.xlsx")
    book = openpyxl.load_workbook(tmp_path / "s.xlsx")
    book.epoch = CALENDAR_MAC_1904
    book.save(tmp_path / "s.xlsx")
    assert b"date1904" in zipfile.ZipFile(tmp_path / "s.xlsx").read("xl/workbook.xml")
    assert read_season(tmp_path / "s.xlsx").orders[0].due == due


TYPED: list[tuple[str, str, Any, str]] = [
    ("orders", "due day", 46095, 'orders row 2, "due day": 46095 is a number, not a day; write 2026-03-14.'),
    ("orders", "due day", datetime(2026, 3, 14, 9, 30),
     'orders row 2, "due day": 2026-03-14 09:30 has a clock time; write only the day, 2026-03-14.'),
    ("orders", "due day", True, 'orders row 2, "due day": True is not a day; write one such as 2026-03-21.'),
    ("orders", "packs", True, 'orders row 2, "packs": True is not a number; write a number such as 60.'),
    ("orders", "packs", 1e300, 'orders row 2, "packs": 1e+300 is not a number; write a number such as 60.'),
    ("orders", "packs", 20.0, ""),
    ("orders", "order", 1001, ""),
    ("orders", "confirmed", True, ""),
    ("orders", "customer", datetime(2026, 3, 14),
     'orders row 2, "customer": 2026-03-14 was turned into a day or a time by the spreadsheet; '
     "format the cell as text and write it again."),
    ("hours", "opens", clock(8, 0), ""),
    ("hours", "opens", clock(8, 0, 30), 'hours row 2, "opens": 08:00:30 is not a clock time; write 08:00.'),
    ("hours", "opens", 8 / 24, ""),
    ("hours", "opens", timedelta(hours=8), ""),
    ("hours", "opens", 8, 'hours row 2, "opens": 8 is not a clock time; write 08:00.'),
    ("absences", "ends", timedelta(days=1), ""),
]


@pytest.mark.parametrize(("table", "title", "value", "line"), TYPED)
def test_typed_cells(tmp_path: Path, table: str, title: str, value: Any, line: str) -> None:
    """Real days, clock times, numbers and yes-cells of a workbook are taken, or refused in one line."""
    tables = tables_of()
    tables[table][1][tables[table][0].index(title)] = value
    path = save_workbook(tables, tmp_path / "s.xlsx")
    if line:
        assert faults_of(path) == [line]
    else:
        assert read_season(path) == SEASON


def test_an_empty_workbook(tmp_path: Path) -> None:
    """A workbook without any table names every table that is needed."""
    openpyxl.Workbook().save(tmp_path / "s.xlsx")
    assert [line.split(":")[0] for line in faults_of(tmp_path / "s.xlsx")] == [
        "kitchen", "hours", "stations", "stages", "designs", "crew",
    ]


BROKEN_CSV: list[tuple[bytes, str]] = [
    (b'name,places\n"table,1\n',
     'stations: after row 1 a quotation mark (") is open or out of place; save the file again from the spreadsheet '
     "program."),
    (b"name,places\ntab\x81le,1\n",
     "stations: stations.csv is not a text file; save it as CSV (UTF-8) from the spreadsheet program."),
    (b"", "stations: this table has no rows; write at least one."),
    (b"name,places\n" + b"".join(b"t%d,1\n" % n for n in range(61)),
     "stations row 62: there are 61 rows; at most 60 can be planned."),
    (b"name,places\n" + b"t,1\n" * 20_001,
     "stations row 20001: there are more than 20000 rows; keep one season in the table."),
]


@pytest.mark.parametrize(("content", "line"), BROKEN_CSV)
def test_broken_csv(tmp_path: Path, content: bytes, line: str) -> None:
    """A CSV file that is no table is named with its fault."""
    folder = save_folder(tables_of(), tmp_path / "s")
    (folder / "stations.csv").write_bytes(content)
    assert line in faults_of(folder)


def test_random_bytes_never_give_a_traceback(tmp_path: Path, written: bytes) -> None:
    """Spoiled bytes anywhere in a workbook end in faults or in a season, never in another error."""
    import random

    chance = random.Random(7)
    for _ in range(25):
        spoiled = bytearray(written)
        for _ in range(20):
            spoiled[chance.randrange(len(spoiled))] = chance.randrange(256)
        (tmp_path / "x.xlsx").write_bytes(bytes(spoiled))
        try:
            read_season(tmp_path / "x.xlsx")
        except SeasonFaults as caught:
            assert caught.faults


def test_spoiled_entries_never_give_a_traceback(season_file: Path) -> None:
    """The same inside the archive, where checksums do not catch it."""
    import random

    content = season_file.read_bytes()
    entries = zipfile.ZipFile(io.BytesIO(content)).namelist()
    chance = random.Random(11)

    def spoil(xml: bytes) -> bytes:
        out = bytearray(xml)
        for _ in range(10):
            out[chance.randrange(len(out))] = chance.choice(b'<>"&;/=0aZ \x00')
        return bytes(out)

    for _ in range(25):
        season_file.write_bytes(content)
        repack(season_file, chance.choice(entries), spoil)
        try:
            read_season(season_file)
        except SeasonFaults as caught:
            assert caught.faults
