"""A small season of our own invention that holds every table, for the tests of the season room."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from scheduler.season.materials import Material, Use
from scheduler.season.prices import Price
from scheduler.season.schema import TABLES
from scheduler.season.types import (
    Absence,
    Availability,
    Changeover,
    Content,
    Design,
    Forecast,
    Hours,
    Kitchen,
    MadeBatch,
    Order,
    PackedPacks,
    Person,
    Pin,
    Product,
    Role,
    Season,
    ShippedPacks,
    Show,
    Skill,
    SpecialDay,
    Stage,
    StageException,
    Station,
    StockLot,
)
from scheduler.season.values import csv_rows, records_of

SEASON = Season(
    kitchen=Kitchen("Harbour Lane Kitchen", date(2026, 3, 2), date(2026, 3, 29), packing_skill="packing"),
    hours=tuple(Hours(weekday, 8 * 60, 18 * 60) for weekday in range(6)),
    special_days=(
        SpecialDay(date(2026, 3, 17), "closed", "stocktaking"),
        SpecialDay(date(2026, 3, 22), "open", "spring fair", 10 * 60, 16 * 60),
        SpecialDay(date(2026, 3, 20), "holiday", "first day of spring"),
    ),
    stations=(Station("table", 1), Station("hook", 1), Station("packing bench", 2)),
    shows=(
        Show("Saturday show", 14 * 60, weekday=5),
        Show("fair show", 11 * 60, day=date(2026, 3, 22), extra_skill="talking"),
    ),
    stages=(
        Stage("pour", "table", 20),
        Stage("pull", "hook", 0, minutes_per_load=10),
        Stage("roll", "table", 30, minutes_per_level=5, wait_to=5),
    ),
    roles=(
        Role("pour", "lead", 1, "pictures", None, leads=True, hot=True),
        Role("pull", "puller", 1, "pulling", 1, pulls=True, hot=True),
        Role("roll", "roller", 1, level=0),
    ),
    exceptions=(StageException("Lighthouse", "roll", 55, None, 10),),
    designs=(
        Design("Lighthouse", 3, 900, 200, 1, 75, "lemon", 1, 1, True, ("milk", "almond"), date(2026, 3, 4)),
        Design("Größe ♥ 42", 1, 950, 270, flavour="mint", strength=3, colour=3),
    ),
    changeovers=(Changeover("dark to light", "table", 10), Changeover("allergen to free", "table", 45, 2)),
    crew=(
        Person("Ada", 2310, 2640, 240, 540, 225, 900, 1650, True, 150),
        Person("Zoë", 1201, 1201, 180, None, 150, 600, 1499),
        Person("מאיה", 600, 600, young=True),
    ),
    skills=(
        Skill("Ada", "pictures", 5),
        Skill("Ada", "pulling", 2),
        Skill("Zoë", "pulling", 1),
        Skill("Zoë", "packing", 1),
        Skill("Zoë", "talking", 1),
    ),
    availability=(Availability("מאיה", 5, 540, 1020), Availability("Zoë", 0, 480, 1440)),
    absences=(
        Absence("Ada", date(2026, 3, 9), date(2026, 3, 9), 720, 1440, "dentist"),
        Absence("Zoë", date(2026, 3, 12), date(2026, 3, 13), 780, 600),
    ),
    products=(Product("tin", 650, 50), Product("=1+1 bag", 0, 90)),
    contents=(Content("tin", "Lighthouse", 20), Content("tin", "Größe ♥ 42", 10), Content("=1+1 bag", "Lighthouse", 8)),
    orders=(
        Order("1001", "tin", 20, date(2026, 3, 14), "Blue Door Tea Room", confirmed=True),
        Order("1002", "=1+1 bag", 40, date(2026, 3, 21), "'=quoted'", "standing", 1, False, 120, date(2026, 3, 24), 80),
        Order("-5", "tin", 1, date(2026, 3, 28), cancelled=True),
    ),
    forecasts=(Forecast("spring shelf", "tin", date(2026, 3, 27), 10, 20, 30, 3),),
    stock=(
        StockLot("S-1", 400, date(2026, 2, 20), design="Lighthouse"),
        StockLot("S-2", 5, date(2026, 2, 1), product="tin"),
    ),
    pins=(
        Pin("make", date(2026, 3, 10), "Lighthouse", 2),
        Pin("no making", date(2026, 3, 11)),
        Pin("works", date(2026, 3, 16), person="Zoë"),
        Pin("not in role", person="Zoë", role="lead"),
    ),
    materials=(Material("jars", "pieces", 96, 42, 24), Material("sugar, fine")),
    uses=(Use("jars", 1, product="tin"), Use("sugar, fine", 4000), Use("sugar, fine", 500, "Lighthouse")),
    prices=(Price("further place", 38000, "table"), Price("further place", 9050), Price("extra helper", 11000)),
    made=(MadeBatch(date(2026, 3, 3), "0303-1", "Lighthouse", "made", 880, 40, "grained at the ends"),
          MadeBatch(date(2026, 3, 3), "0303-2", "Lighthouse", "failed")),
    packed=(PackedPacks(date(2026, 3, 4), "tin", 3, "as planned"),),
    shipped=(ShippedPacks(date(2026, 3, 5), "1001", 3), ShippedPacks(date(2026, 3, 5), "spring shelf", 2)),
)

Tables = dict[str, list[list[Any]]]


def tables_of(season: Season = SEASON) -> Tables:
    """Heading and rows of every table as the texts of a CSV folder, to be spoiled by a test."""
    return {table.name: csv_rows(table, records_of(season, table)) for table in TABLES}


def save_folder(tables: Tables, folder: Path, delimiter: str = ",", encoding: str = "utf-8") -> Path:
    """Tables as CSV files, without the writer under test."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        lines = [delimiter.join('"' + str(cell).replace('"', '""') + '"' for cell in row) for row in rows]
        (folder / f"{name}.csv").write_bytes(("\r\n".join(lines) + "\r\n").encode(encoding))
    return folder


def save_workbook(tables: Tables, path: Path) -> Path:
    """Tables as sheets; texts stay texts, other values are typed cells."""
    book = Workbook()
    del book["Sheet"]
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        for r, row in enumerate(rows, start=1):
            for c, value in enumerate(row, start=1):
                if value not in ("", None):
                    cell = sheet.cell(r, c)
                    cell.value = value
                    if isinstance(value, str):
                        cell.data_type = "s"
                        cell.value = value[1:] if value[:1] == "'" and value[1:2] in "=+-@'" else value
                        cell.data_type = "s"
    book.save(path)
    return path
