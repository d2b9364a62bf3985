"""A season from one .xlsx workbook or one folder of CSV files; both read alike."""

from __future__ import annotations

import errno
from pathlib import Path

from scheduler.season.faults import Fault, SeasonFaults
from scheduler.season.grids import Grid, read_csv
from scheduler.season.safe_write import current
from scheduler.season.schema import BY_NAME, TABLES
from scheduler.season.tables import Found, heading, read_table, suggestion
from scheduler.season.together import faults_together
from scheduler.season.types import Season

OWN_SHEETS = ("read me", "lists")  # of the template; not tables
NO_TABLE = " is no table of a season and was not read."


def read_season(path: Path | str) -> Season:
    """Read a season. Raises SeasonFaults with every fault of every table at once.

    What is worth a warning about the file itself (hidden rows, sheets that were not read)
    is kept with the season and comes out of ``check.warnings``.
    """
    grids, notes, faults = _grids(Path(path))
    if faults:
        raise SeasonFaults(faults)
    found: dict[str, Found] = {}
    for table in TABLES:
        grid = grids.get(table.name)
        found[table.name] = Found() if grid is None else read_table(table, grid)
        if table.needed and grid is None:
            faults.append(
                Fault(table.name, None, "", "", f"this table is missing; add a sheet or CSV file {table.name}.")
            )
        elif table.needed and not found[table.name].known and not found[table.name].faults:
            faults.append(Fault(table.name, None, "", "", "this table has no rows; write at least one."))
        faults.extend(found[table.name].faults)
    faults.extend(faults_together(found))
    if faults:
        order = {name: i for i, name in enumerate(BY_NAME)}
        raise SeasonFaults(sorted(faults, key=lambda f: (order.get(f.table, -1), f.row or 0)))
    season = Season(
        **{
            table.field: tuple(record for _, record in found[table.name].records)
            for table in TABLES
            if table.name != "kitchen"
        },
        kitchen=found["kitchen"].records[0][1],
    )
    season.__dict__["_notes"] = tuple(notes)
    return season


def reading_notes(season: Season) -> tuple[str, ...]:
    """What reading noticed about the file a season came from; () for one made by a program."""
    notes: tuple[str, ...] = season.__dict__.get("_notes", ())
    return notes


def other_sheets(season: Season) -> tuple[str, ...]:
    """Sheets of the workbook that a season came from which are no tables of it, and would be lost in writing it."""
    return tuple(note.removesuffix(NO_TABLE) for note in reading_notes(season) if note.endswith(NO_TABLE))


def _grids(path: Path) -> tuple[dict[str, Grid], list[str], list[Fault]]:
    """Table name -> grid, notes, and the faults that make reading pointless."""
    try:
        if path.is_dir():
            return _folder_grids(path)
        if path.suffix.casefold() == ".csv":
            return _useless("a season is a folder of CSV files; give the folder, not one file.")
        if not path.exists():
            return _useless(f"there is no file or folder {path}; check the name.")
        return _workbook_grids(path)
    except OSError as error:
        reason = "it may not be read" if error.errno in (errno.EACCES, errno.EPERM) else error.strerror or "no reason"
        return _useless(f"{path.name} could not be opened ({reason}); is it open or locked elsewhere?")


def _useless(message: str) -> tuple[dict[str, Grid], list[str], list[Fault]]:
    return {}, [], [Fault("season", None, "", "", message)]


def _folder_grids(folder: Path) -> tuple[dict[str, Grid], list[str], list[Fault]]:
    names = {file.name for place in (folder, folder / ".ready") if place.is_dir() for file in place.iterdir()}
    files = {name: current(folder, name) for name in sorted(names) if name.casefold().endswith(".csv")}
    if not files:
        return _useless(f"the folder {folder.name} holds no CSV files; a season has one for each table.")
    titles = {name: heading(Path(name).stem) for name in files}
    chosen, notes, faults = _choose(titles)
    grids = {table: read_csv(files[name]) for table, name in chosen.items()}
    return _named(grids, notes), notes, faults


def _workbook_grids(path: Path) -> tuple[dict[str, Grid], list[str], list[Fault]]:
    from scheduler.season.workbook import read_workbook, refusal  # late: openpyxl is slow to import

    message = refusal(path)
    if message:
        return _useless(message)
    try:
        found, others = read_workbook(path, BY_NAME)
    except Exception:  # openpyxl raises almost anything on a damaged file
        return _useless(f"{path.name} is damaged; open it in the spreadsheet program and save it again.")
    chosen, notes, faults = _choose({title: heading(title) for title in [g.title for g in found] + others})
    by_title = {grid.title: grid for grid in found}
    return _named({table: by_title[title] for table, title in chosen.items()}, notes), notes, faults


def _choose(titles: dict[str, str]) -> tuple[dict[str, str], list[str], list[Fault]]:
    """Which sheet or file is which table; doubtful names are faults, others are noted."""
    chosen: dict[str, str] = {}
    notes: list[str] = []
    faults: list[Fault] = []
    for title, plain in titles.items():
        if plain in BY_NAME and plain in chosen:
            faults.append(Fault(plain, None, "", title, f"this table is there twice ({title}); keep one."))
        elif plain in BY_NAME:
            chosen[plain] = title
    for title, plain in titles.items():
        if plain in BY_NAME or plain in OWN_SHEETS:
            continue
        meant = suggestion(plain, [name for name in BY_NAME if name not in chosen])
        if meant:
            faults.append(Fault(title, None, "", title, f"{title} is no table; did you mean {meant}? Rename it."))
        else:
            notes.append(f"{title}{NO_TABLE}")
    return chosen, notes, faults


def _named(grids: dict[str, Grid], notes: list[str]) -> dict[str, Grid]:
    """The grids with faults and notes under the table's own name."""
    for table, grid in grids.items():
        grid.faults = [Fault(table, f.row, f.column, f.value, f.message) for f in grid.faults]
        notes.extend(grid.notes)
    return grids
