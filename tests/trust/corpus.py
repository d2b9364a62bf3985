"""Hostile and clumsy seasons, made by this script: what each is, and what must come of it.

``expect`` is "faults" (plain messages, nothing planned), "same" (read as if it were the
plain season), "season" (readable, and planned whole) or "either" (random damage).
"""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from scheduler.season.types import Absence, Order, Season, SpecialDay
from scheduler.season.write import write_season
from tests.season_examples import SEASON, Tables, save_folder, save_workbook, tables_of
from tests.seasons import tiny

Build = Callable[[Path], Path]


@dataclass(frozen=True)
class Case:
    """One season file of the corpus, under its own folder."""

    kind: str
    name: str
    expect: str
    build: Build
    base: str = "rich"  # which season "same" means: "rich" (every table) or "tiny"


def base_season(name: str) -> Season:
    return SEASON if name == "rich" else small()


@cache
def small() -> Season:
    """Three days, two people, two designs: planned in a second."""
    return tiny(2, days=3, people=2, designs=2, orders=2)


# Spoiled and clumsy cells ------------------------------------------------------------

BAD_CELLS: tuple[tuple[str, str, str, tuple[Any, ...]], ...] = (
    ("negative numbers", "orders", "packs", ("-1", "-0.5", "-99999999999999999999", "\u22125")),
    ("negative numbers", "stations", "places", ("-1", "0")),
    ("negative numbers", "designs", "pieces", ("-900", "0")),
    ("negative numbers", "crew", "wage", ("-0.01", "(5)")),
    ("numbers that are none", "orders", "packs", ("twenty", "12 packs", "1e9999", "nan", "inf", "0x10", "1.5", "½")),
    ("numbers that are none", "designs", "difficulty", ("", "6", "99", "hard", "1,5")),
    ("numbers that are none", "crew", "contracted hours", ("200", "1e3", "38:30 h", "forty")),
    ("decimal commas in doubt", "designs", "pieces", ("1,500", "1.500", "1 5 00x")),
    ("text days", "orders", "due day",
     ("", "tomorrow", "31/02/2026", "2026-02-30", "2026-13-01", "03/04/2026", "14/3/26", "46095", "0000-00-00",
      "9999999-01-01", "2026-W12-1", "14 Mrz 2026", "2026-03-14T09:30")),
    ("29 February", "kitchen:first day", "value", ("2026-02-29", "29/02/2026", "2100-02-29")),
    ("clock times", "hours", "opens", ("25:00", "8", "eight", "08:60", "-1:00", "24:30", "8-ish")),
    ("a shift past midnight", "hours", "closes", ("02:00", "07:59", "08:00")),
    ("a shift past midnight", "availability", "ends", ("01:00", "04:00")),
    ("names nobody knows", "skills", "person", ("Adda", "ada lovelace", "")),
    ("names nobody knows", "orders", "product", ("tinn", "unicorn", "Lighthouse")),
    ("a space or a capital", "stages", "station", ("Table", "TABLE", "t able")),
    ("a space or a capital", "contents", "design", ("lighthouse", "LIGHTHOUSE", "Light house")),
    ("a space or a capital", "skills", "person", ("ada", "ADA")),
    ("choices", "orders", "kind", ("frim", "gold", "1")),
    ("choices", "orders", "priority", ("0", "4", "first")),
    ("choices", "days", "mark", ("shut", "Closed!", "maybe")),
    ("choices", "roles", "leads", ("perhaps", "2", "ja?")),
    ("control characters", "orders", "customer", ("Tea\x07Room", "a\x00b", "x\x1by")),
    ("very long", "orders", "customer", ("x" * 201, "long " * 8000)),
    ("a season too long", "kitchen:last day", "value", ("2027-12-31", "2026-03-01", "1999-01-01")),
)

FINE_CELLS: tuple[tuple[str, str, str, tuple[Any, ...]], ...] = (
    ("text days with one reading", "orders", "due day",
     ("14.03.2026", "14/03/2026", "14 March 2026", "14 Mar 2026", "2026/3/14", "2026-03-14 00:00", " 2026-03-14 ")),
    ("clock times as people write them", "hours", "opens", ("8:00", "08.00", "8h00", "8 am", "08:00:00", "\u00a08:00")),
    ("decimal commas", "crew", "contracted hours", ("38,5", "38.5", "38.50", " 38,50")),
    ("yes and no", "orders", "confirmed", ("yes", "YES", " Yes ", "y", "true")),
    ("blanks around names", "orders", "product", (" tin", "tin ", "\u00a0tin\u00a0")),
)  # fmt: skip


def _cell(table: str, title: str, value: Any) -> Tables:
    """The tables with one cell of the first row (or of a setting) changed."""
    tables = tables_of()
    if ":" in table:
        table, setting = table.split(":")
        row = next(r for r in tables[table] if r[0] == setting)
        row[1] = value
    else:
        tables[table][1][tables[table][0].index(title)] = value
    return tables


def _cells() -> Iterator[Case]:
    for expect, group in (("faults", BAD_CELLS), ("same", FINE_CELLS)):
        for kind, table, title, values in group:
            for number, value in enumerate(values):
                build = _folder if number % 2 == 0 or any(ord(c) < 32 for c in str(value)) else _workbook
                name = f"{table} {title} = {str(value)[:24]!r}"
                yield Case(kind, name, expect, build(lambda t=table, c=title, v=value: _cell(t, c, v)))


def _folder(tables: Callable[[], Tables]) -> Build:
    return lambda folder: save_folder(tables(), folder / "season")


def _workbook(tables: Callable[[], Tables]) -> Build:
    return lambda folder: save_workbook(tables(), folder / "season.xlsx")


# Clumsy workbooks --------------------------------------------------------------------


def _edited(change: Callable[[Any], None]) -> Build:
    """The plain workbook after somebody changed it in a spreadsheet program."""

    def build(folder: Path) -> Path:
        book = openpyxl.load_workbook(io.BytesIO(_plain_workbook()))
        change(book)
        book.save(folder / "season.xlsx")
        return folder / "season.xlsx"

    return build


@cache
def _plain_workbook() -> bytes:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        write_season(SEASON, Path(folder) / "s.xlsx")
        return (Path(folder) / "s.xlsx").read_bytes()


def _set(sheet: str, cell: str, value: Any, kind: str = "") -> Callable[[Any], None]:
    def change(book: Any) -> None:
        book[sheet][cell].value = value
        if kind:
            book[sheet][cell].data_type = kind

    return change


def _clumsy() -> Iterator[Case]:
    def hide(book: Any) -> None:
        for row in (2, 3):
            book["orders"].row_dimensions[row].hidden = True
        book["skills"].sheet_state = "hidden"

    def notes(book: Any) -> None:
        from openpyxl.comments import Comment

        book["orders"]["A2"].comment = Comment("ring them first", "me")
        book.create_sheet("my own sums")["A1"] = "=1/0"

    def chart(book: Any) -> None:
        from openpyxl.chart import BarChart, Reference

        bars = BarChart()
        bars.add_data(Reference(book["orders"], min_col=3, min_row=1, max_row=4), titles_from_data=True)
        book.create_chartsheet("my chart").add_chart(bars)

    def epoch(book: Any) -> None:
        book.epoch = CALENDAR_MAC_1904

    same: dict[str, Callable[[Any], None]] = {
        "hidden rows and sheets": hide,
        "blank rows at the top of a table's body": lambda b: b["stations"].insert_rows(3, 4),
        "blank rows at the end": lambda b: _set("orders", "C900", None)(b),
        "a format in the last row": lambda b: setattr(
            b["orders"].cell(1_048_576, 3), "font", openpyxl.styles.Font(bold=True)),
        "comments and a sheet of one's own": notes,
        "a sheet that is a chart": chart,
        "two blank rows above the headings": lambda b: b["orders"].insert_rows(1, 2),
        "days counted from 1904": epoch,
        "frozen panes, filters, colours": lambda b: setattr(b["orders"].auto_filter, "ref", "A1:C3"),
        "sheets in another order": lambda b: b.move_sheet("orders", -5),
        "a sheet title in capitals": lambda b: setattr(b["orders"], "_WorkbookChild__title", "ORDERS"),
        "a day's number under a day's format": _set("orders", "D2", 46095),
    }  # fmt: skip
    for name, change in same.items():
        yield Case("clumsy workbooks", name, "same", _edited(change))
    faulty: dict[str, Callable[[Any], None]] = {
        "merged names": lambda b: b["skills"].merge_cells("A2:A3"),
        "merged orders": lambda b: b["orders"].merge_cells("A2:B4"),
        "merged headings": lambda b: b["crew"].merge_cells("A1:B1"),
        "a formula never calculated": _set("orders", "C2", "=10+10"),
        "a formula for a name": _set("crew", "A2", "=CONCAT(A1,A3)"),
        "a link to another file": _set("orders", "C2", "='[other.xlsx]Sheet1'!A1"),
        "#REF! for packs": _set("orders", "C2", "#REF!", "e"),
        "#N/A for a day": _set("orders", "D2", "#N/A", "e"),
        "a day with an hour": _set("orders", "D2", datetime(2026, 3, 14, 9, 30)),
        "9 for nine o'clock": _set("hours", "B2", 9),
        "a remark beside the table": _set("orders", "P2", "call back"),
        "a sum below a gap": lambda b: _set("orders", "A9", "Total")(b),
        "true for packs": _set("orders", "C2", True),
        "a day for a customer": _set("orders", "E2", datetime(2026, 3, 14)),
        "a row 5000 below": _set("orders", "A5000", "W-9"),
        "an order twice": lambda b: b["orders"].append(["1001", "tin", 3, datetime(2026, 3, 14)]),
        "a person twice": lambda b: b["crew"].append(["Ada", 10, 10]),
        "a person twice but for a blank": lambda b: b["crew"].append(["Ada ", 10, 10]),
        "a person twice but for capitals": lambda b: b["crew"].append(["ADA", 10, 10]),
        "a heading misspelt": _set("designs", "B1", "dificulty"),
        "a heading twice": _set("orders", "C1", "order"),
        "a heading lost": _set("orders", "B1", None),
        "a table misnamed": lambda b: setattr(b["orders"], "title", "order"),
        "a table twice": lambda b: setattr(b.copy_worksheet(b["orders"]), "title", "orders "),
        "a table emptied": lambda b: b["stations"].delete_rows(2, 50),
        "a table lost": lambda b: b.remove(b["crew"]),
        "a show in a closed recipe: no stages": lambda b: b["stages"].delete_rows(2, 50),
        "an infinite number": _set("orders", "C2", 1e300),
    }
    for name, change in faulty.items():
        yield Case("clumsy workbooks", name, "faults", _edited(change))


# Hostile files -----------------------------------------------------------------------


def _bytes(name: str, content: Callable[[], bytes]) -> Build:
    def build(folder: Path) -> Path:
        (folder / name).write_bytes(content())
        return folder / name

    return build


def _repacked(change: Callable[[str, bytes], bytes], extra: Callable[[zipfile.ZipFile], None] | None = None) -> Build:
    """The plain workbook with the bytes inside it changed."""

    def build(folder: Path) -> Path:
        path = folder / "season.xlsx"
        with (
            zipfile.ZipFile(io.BytesIO(_plain_workbook())) as old,
            zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new,
        ):
            for name in old.namelist():
                new.writestr(name, change(name, old.read(name)))
            if extra is not None:
                extra(new)
        return path

    return build


def _sheet(number: int, change: Callable[[bytes], bytes]) -> Build:
    return _repacked(lambda name, xml: change(xml) if name.endswith(f"sheet{number}.xml") else xml)


def _air(megabytes: int) -> Callable[[zipfile.ZipFile], None]:
    def add(archive: zipfile.ZipFile) -> None:
        with archive.open("xl/worksheets/sheet99.xml", "w", force_zip64=True) as entry:
            for _ in range(megabytes):
                entry.write(bytes(1_000_000))

    return add


def _many(archive: zipfile.ZipFile) -> None:
    for number in range(1500):
        archive.writestr(f"xl/media/{number}.txt", "x")


def _million(cells: bytes) -> Callable[[bytes], bytes]:
    def change(xml: bytes) -> bytes:
        row = b'<row r="%d" s="1" customFormat="1">' + cells + b"</row>"
        rows = b"".join(row.replace(b"%d", b"%d" % n) for n in range(60, 1_000_060))
        return xml.replace(b"</sheetData>", rows + b"</sheetData>")

    return change


BILLION = (
    '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "ha"><!ENTITY c "&b;&b;&b;&b;"><!ENTITY d "&c;&c;&c;">]>'
    "<worksheet>&d;</worksheet>"
)
OUTSIDE = '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/hostname">]><worksheet>&b;</worksheet>'


def _hostile() -> Iterator[Case]:
    plain = _plain_workbook()
    ole = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)
    files: dict[str, Build] = {
        "an empty file": _bytes("season.xlsx", lambda: b""),
        "a picture": _bytes("season.xlsx", lambda: b"\x89PNG\r\n\x1a\n" + bytes(99)),
        "a letter": _bytes("season.xlsx", lambda: b"Dear Ada, " * 500),
        "a PDF": _bytes("season.xlsx", lambda: b"%PDF-1.7\n" + bytes(300)),
        "an old .xls, or one with a password": _bytes("season.xlsx", lambda: ole),
        "one CSV instead of a folder": _bytes("orders.csv", lambda: b"order,packs\n"),
        "cut at a third": _bytes("season.xlsx", lambda: plain[: len(plain) // 3]),
        "cut before its end": _bytes("season.xlsx", lambda: plain[:-30]),
        "bytes in front": _bytes("season.xlsx", lambda: b"junk" * 9 + plain[40:]),
        "nothing there": lambda folder: folder / "no such season.xlsx",
        "an empty folder": lambda folder: folder,
        "a zip of something else": _zip_of_a_letter,
        "a sheet cut in half": _sheet(2, lambda xml: xml[: len(xml) // 2]),
        "a sheet of nothing": _sheet(2, lambda _: b""),
        "a billion laughs": _sheet(2, lambda _: BILLION.encode()),
        "a billion laughs in UTF-16": _sheet(2, lambda _: BILLION.encode("utf-16")),
        "an entity from the disk": _sheet(3, lambda _: OUTSIDE.encode()),
        "an entity in the shared texts": _repacked(
            lambda name, xml: BILLION.encode() if name.endswith("haredStrings.xml") else xml, _shared_bomb),
        "a zip bomb by ratio": _repacked(lambda _, xml: xml, _air(60)),
        "a zip bomb by size": _repacked(lambda _, xml: xml, _air(150)),
        "1500 parts": _repacked(lambda _, xml: xml, _many),
        "a million rows of numbers": _sheet(3, _million(b'<c r="A%d"><v>7</v></c>')),
    }  # fmt: skip
    for name, build in files.items():
        yield Case("hostile files", name, "faults", build)
    yield Case("hostile files", "a million rows of formats", "same", _sheet(3, _million(b"")))


def _zip_of_a_letter(folder: Path) -> Path:
    with zipfile.ZipFile(folder / "season.xlsx", "w") as archive:
        archive.writestr("letter.txt", "hello")
    return folder / "season.xlsx"


def _shared_bomb(archive: zipfile.ZipFile) -> None:
    if "xl/sharedStrings.xml" not in archive.namelist():
        archive.writestr("xl/sharedStrings.xml", BILLION)


def _damaged(count: int) -> Iterator[Case]:
    def spoil(seed: int) -> bytes:
        chance, content = random.Random(seed), bytearray(_plain_workbook())
        for _ in range(20):
            content[chance.randrange(len(content))] = chance.randrange(256)
        return bytes(content)

    def inside(seed: int) -> Build:
        chance = random.Random(seed)
        number = chance.randint(1, 20)

        def change(xml: bytes) -> bytes:
            out = bytearray(xml)
            for _ in range(10):
                out[chance.randrange(len(out))] = chance.choice(b'<>"&;/=0aZ \x00')
            return bytes(out)

        return _sheet(number, change)

    for seed in range(count):
        yield Case("random damage", f"bytes {seed}", "either", _bytes("season.xlsx", lambda s=seed: spoil(s)))
        yield Case("random damage", f"sheet {seed}", "either", inside(seed))


# CSV folders as programs and people write them ---------------------------------------


def _orders_csv(change: Callable[[str], str]) -> Build:
    """The plain folder with the text of its orders changed."""

    def build(folder: Path) -> Path:
        path = save_folder(tables_of(), folder / "season")
        file = path / "orders.csv"
        file.write_text(change(file.read_text(encoding="utf-8")), encoding="utf-8")
        return path

    return build


def _csv() -> Iterator[Case]:
    for delimiter in (",", ";", "\t"):
        for encoding in ("utf-8", "utf-8-sig", "utf-16"):
            yield Case("CSV as programs write it", f"{delimiter!r} {encoding}", "same",
                       lambda f, d=delimiter, e=encoding: save_folder(tables_of(), f / "season", d, e))
    named = _orders_csv(lambda t: "sep=,\n" + t)
    yield Case("CSV as programs write it", "a line that names the separator", "same", named)
    for name, change in {
        "a title above the headings": lambda t: f"Spring orders{',' * 12}\n{t}",
        "a sum below the orders": lambda t: f"{t}Total,,61{',' * 10}\n",
        "an order of two products": lambda t: f"{t}1001,=1+1 bag,3,2026-03-14{',' * 9}\n",
        "a letter of another alphabet": lambda t: t.replace("tin", "t\u0456n", 1),
    }.items():
        yield Case("broken CSV", name, "faults", _orders_csv(change))
    broken = {
        "an open quotation mark": b'name,places\n"table,1\n',
        "no text at all": b"name,places\ntab\x81le,1\n",
        "an empty file": b"",
        "zero bytes": bytes(500),
        "61 stations": b"name,places\n" + b"".join(b"t%d,1\n" % n for n in range(61)),
        "a table without an end": b"name,places\n" + b"t,1\n" * 20_001,
        "a heading of 5000 columns": b"name,places" + b",x" * 5000 + b"\n",
        "only a heading": b"name,places\n",
    }  # fmt: skip
    for name, content in broken.items():
        def build(folder: Path, content: bytes = content) -> Path:
            path = save_folder(tables_of(), folder / "season")
            (path / "stations.csv").write_bytes(content)
            return path

        yield Case("broken CSV", name, "faults", build)


# Odd seasons, planned whole ----------------------------------------------------------


def _season(change: Callable[[Season], Season]) -> Build:
    def build(folder: Path) -> Path:
        write_season(change(small()), folder / "season")
        return folder / "season"

    return build


def _kitchen(**changes: Any) -> Callable[[Season], Season]:
    return lambda s: replace(s, kitchen=replace(s.kitchen, **changes))


def _moved(days: int) -> Callable[[Season], Season]:
    """The season so many days later (or earlier)."""
    move = timedelta(days=days)

    def change(s: Season) -> Season:
        kitchen = replace(s.kitchen, first_day=s.kitchen.first_day + move, last_day=s.kitchen.last_day + move)
        orders = tuple(
            replace(o, due=o.due + move, latest=o.latest + move if o.latest else None) for o in s.orders
        )
        return replace(s, kitchen=kitchen, orders=orders)

    return change


def _called(name: str) -> Callable[[Season], Season]:
    """Everybody and everything with another name in front."""
    from tests.audit.test_workbook import renamed

    def change(s: Season) -> Season:
        old = [p.name for p in s.crew] + [d.name for d in s.designs] + [p.name for p in s.products]
        old += [o.id for o in s.orders] + [st.name for st in s.stations if st.name != s.kitchen.packing_station]
        out: Season = renamed(s, {n: f"{name}{i}" for i, n in enumerate(old)})
        return replace(out, kitchen=s.kitchen)

    return change


NAMES = ("=1+1", "@SUM(A1)", "+49 ", "-2+3", "'quoted", '"', "Zoë é̂", "\u05e9\u05dc\u05d5\u05dd ", "مرحبا ",
         "\U0001f36c", "a,b;c", "<b>&amp;",
         "../../etc/passwd ", "CON", "%s %d ", "x" * 100, "]]>", "_x000D_", "{0}")  # fmt: skip


def _odd() -> Iterator[Case]:
    first = small().kitchen.first_day
    to = lambda day: (day - first).days  # noqa: E731
    seasons: dict[str, Callable[[Season], Season]] = {
        "in the past": _moved(-9000),
        "in a hundred years": _moved(36500),
        "over 29 February 2028": _moved(to(date(2028, 2, 28))),
        "over the clock change in March": _moved(to(date(2027, 3, 27))),
        "over the clock change in October": _moved(to(date(2027, 10, 30))),
        "over New Year (week 53)": _moved(to(date(2026, 12, 31))),
        "one day": _kitchen(last_day=first),
        "400 days": _kitchen(last_day=first + timedelta(days=399)),
        "no orders": lambda s: replace(s, orders=()),
        "an order for a million packs": lambda s: replace(
            s, orders=(*s.orders, Order("big", s.products[0].name, 1_000_000, first + timedelta(days=2)))),
        "all due on the first day": lambda s: replace(s, orders=tuple(
            replace(o, due=first, latest=None) for o in s.orders)),
        "all due before the season": lambda s: replace(s, orders=tuple(
            replace(o, due=first - timedelta(days=9), latest=None) for o in s.orders)),
        "all due after the season": lambda s: replace(s, orders=tuple(
            replace(o, due=first + timedelta(days=90), latest=None) for o in s.orders)),
        "closed every day": lambda s: replace(s, special_days=tuple(SpecialDay(d, "closed") for d in s.days)),
        "everybody away": lambda s: replace(s, absences=tuple(
            Absence(p.name, first, s.kitchen.last_day) for p in s.crew)),
        "nobody has a skill": lambda s: replace(s, skills=()),
        "one person alone": lambda s: replace(s, crew=s.crew[:1], skills=s.skills[:1]),
        "open round the clock": lambda s: replace(s, hours=tuple(replace(h, opens=0, closes=1440) for h in s.hours)),
        "a last pour before opening": _kitchen(last_pour=60),
        "no contents of an old design in stock": lambda s: replace(s, designs=tuple(
            replace(d, sell_by_days=1) for d in s.designs)),
        "batches of one piece": lambda s: replace(s, designs=tuple(replace(d, pieces=1) for d in s.designs)),
        "nobody may work": lambda s: replace(s, crew=tuple(
            replace(p, longest_minutes=60, contracted_minutes=0) for p in s.crew)),
        "no pulls allowed": lambda s: replace(s, crew=tuple(replace(p, pulls_day=0) for p in s.crew)),
        "all cancelled": lambda s: replace(s, orders=tuple(replace(o, cancelled=True) for o in s.orders)),
    }  # fmt: skip
    for name, change in seasons.items():
        expect = "faults" if name in ("nobody has a skill", "one person alone") else "season"  # who can make nothing
        yield Case("odd seasons, planned", name, expect, _season(change), "tiny")
    for name in NAMES:
        yield Case("odd names, planned", repr(name)[:24], "season", _season(_called(name)), "tiny")


def corpus(damaged: int = 20) -> list[Case]:
    """Every case, always in the same order."""
    return [*_cells(), *_clumsy(), *_hostile(), *_damaged(damaged), *_csv(), *_odd()]
