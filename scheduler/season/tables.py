"""A grid of raw cells to the records of one table, with every fault on the way."""

from __future__ import annotations

from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from scheduler.season.cells import Habit, Raw, Refused, habit, is_blank, shown, tidy, value_of
from scheduler.season.columns import Column, Table
from scheduler.season.faults import Fault
from scheduler.season.grids import Grid
from scheduler.season.schema import KITCHEN

TITLE_ROWS = 6  # so many rows from the top may hold the headings
KITCHEN_HEADINGS = ("setting", "value", "note")


@dataclass
class Found:
    """What was read of one table.

    ``records`` holds (row, record) of the rows without a fault; ``known`` every value read of
    each field, faulty rows too, so that one fault is not reported again by each reference to
    its row. ``setting_rows`` is only for the kitchen: field -> row.
    """

    records: list[tuple[int, Any]] = field(default_factory=list)
    known: dict[str, list[tuple[int, Any]]] = field(default_factory=dict)
    setting_rows: dict[str, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)


def heading(raw: Raw) -> str:
    """A heading as it is compared: lower case, single blanks, no underscores."""
    return " ".join(tidy(shown(raw)).casefold().replace("_", " ").split())


def suggestion(word: str, words: list[str] | tuple[str, ...]) -> str:
    """The word that was probably meant, or ""; capitals and blanks do not count.

    Numbers are never guessed: order 1003 is not nearly order 1002.
    """
    plain = {"".join(w.casefold().split()): w for w in words}
    bare = "".join(word.casefold().split())
    if bare in plain:
        return plain[bare]
    near = get_close_matches(bare, [p for p in plain if _digits(p) == _digits(bare)], 1, 0.7)
    return plain[near[0]] if near else ""


def _digits(word: str) -> str:
    return "".join(ch for ch in word if ch.isdigit())


def read_table(table: Table, grid: Grid) -> Found:
    """All rows of one table. The first row that is not blank holds the headings."""
    found = Found(faults=list(grid.faults))
    if not grid.rows:
        return found
    if table is KITCHEN:
        _read_kitchen(grid, found)
        return found
    _above_headings(table, grid, found)
    columns = _columns(table, tuple(table.by_title), grid, found)
    data = grid.rows[1:]
    _too_many(table, data, found)
    hows = {i: habit([row[i] for _, row in data if i < len(row)]) for i in columns}
    titles = {title: i for i, title in columns.items()}
    for number, row in data[: table.most_rows]:
        values: dict[str, Any] = {}
        whole = True
        for column in table.columns:
            i = titles.get(column.title)
            raw = row[i] if i is not None and i < len(row) else None
            if is_blank(raw) and column.field in table.defaults:
                values[column.field] = table.defaults[column.field]
                continue
            if i is None:
                whole = False  # the missing column is a fault of its own
                continue
            whole &= _take(table, column, number, raw, hows[i], values, found)
        _beyond_headings(table, number, row, columns, grid, found)
        for name, value in values.items():
            found.known.setdefault(name, []).append((number, value))
        if whole:
            found.records.append((number, table.record(**values)))
    return found


def _take(
    table: Table, column: Column, number: int, raw: Raw, how: Habit, values: dict[str, Any], found: Found
) -> bool:
    try:
        if is_blank(raw):
            raise Refused(f"nothing is written; write {_such_as(column)}.")
        values[column.field] = value_of(column, raw, how)
    except Refused as refused:
        found.faults.append(Fault(table.name, number, column.title, shown(raw), str(refused)))
        return False
    return True


def _such_as(column: Column) -> str:
    article = {"day": "a day", "clock": "a clock time", "text": "a text", "reference": "a name"}
    return f"{article.get(column.kind, 'a value')} such as {column.example}"


def _above_headings(table: Table, grid: Grid, found: Found) -> None:
    """A title above the headings is one fault, and the rest is read from the headings on."""
    known = [sum(heading(cell) in table.by_title for cell in row) for _, row in grid.rows[:TITLE_ROWS]]
    at = known.index(max(known))
    if known[0] or known[at] < 2:
        return
    first, number = grid.rows[0][0], grid.rows[at][0]
    rows = f"row {first}" if at == 1 else f"rows {first} to {grid.rows[at - 1][0]}"
    found.faults.append(
        Fault(table.name, first, "", shown(grid.rows[0][1][0]), f"the headings stand in row {number}; delete {rows}.")
    )
    del grid.rows[:at]


def _columns(table: Table, titles: tuple[str, ...], grid: Grid, found: Found) -> dict[int, str]:
    """Column index -> title of the columns that belong to the table; the others become faults."""
    number, cells = grid.rows[0]
    columns: dict[int, str] = {}
    unknown: list[tuple[int, str]] = []
    for i, cell in enumerate(cells):
        title = heading(cell)
        if not title:
            continue
        if title in columns.values():
            found.faults.append(
                Fault(table.name, number, title, title, "this heading is there twice; keep one of the columns.")
            )
        elif title in titles:
            columns[i] = title
        else:
            unknown.append((i, shown(cell)))
    missing = [title for title in titles if title not in columns.values()]
    for i, cell_text in unknown:
        meant = suggestion(cell_text, missing)
        advice = f"did you mean {meant}?" if meant else f"delete it; the columns are {', '.join(titles)}."
        found.faults.append(
            Fault(table.name, number, cell_text, cell_text, f"this is no column of {table.name}; {advice}")
        )
        if meant in missing:
            missing.remove(meant)  # one fault is enough; its cells are read as what was meant
            columns[i] = meant
    if table is KITCHEN:
        needed = [title for title in missing if title != "note"]
    else:
        needed = [title for title in missing if table.by_title[title].field not in table.defaults]
    for title in needed:
        found.faults.append(Fault(table.name, number, title, "", "this column is missing; add it."))
    return columns


def _too_many(table: Table, data: list[tuple[int, list[Raw]]], found: Found) -> None:
    if len(data) > table.most_rows:
        found.faults.append(
            Fault(table.name, data[table.most_rows][0], "", "",
                  f"there are {len(data)} rows; at most {table.most_rows} can be planned.")
        )


def _beyond_headings(
    table: Table, number: int, row: list[Raw], columns: dict[int, str], grid: Grid, found: Found
) -> None:
    headings = grid.rows[0][1]
    for i, raw in enumerate(row):
        if i not in columns and not is_blank(raw) and (i >= len(headings) or is_blank(headings[i])):
            found.faults.append(
                Fault(table.name, number, "", shown(raw),
                      f"{shown(raw)} stands in a column without a heading; delete it or give the column its heading.")
            )


def _read_kitchen(grid: Grid, found: Found) -> None:
    columns = {title: i for i, title in _columns(KITCHEN, KITCHEN_HEADINGS, grid, found).items()}
    if "setting" not in columns or "value" not in columns:
        return
    at, value_at = columns["setting"], columns["value"]
    data = [(number, row + [None] * (max(at, value_at) + 1 - len(row))) for number, row in grid.rows[1:]]
    how = habit([row[value_at] for _, row in data])
    values: dict[str, Any] = {}
    whole = True
    for number, row in data:
        title, raw = heading(row[at]), row[value_at]
        column = KITCHEN.by_title.get(title)
        if column is None:
            meant = suggestion(title, list(KITCHEN.by_title))
            advice = f"did you mean {meant}?" if meant else "delete the row."
            found.faults.append(
                Fault("kitchen", number, "setting", shown(row[at]), f"{shown(row[at]) or 'a blank'} is no setting; "
                      f"{advice}")
            )
        elif column.field in found.setting_rows:
            first = found.setting_rows[column.field]
            found.faults.append(
                Fault("kitchen", number, "setting", title, f"{title} is already in row {first}; keep one of them.")
            )
        else:
            found.setting_rows[column.field] = number
            if not (is_blank(raw) and column.field in KITCHEN.defaults):
                whole &= _take(KITCHEN, column, number, raw, how, values, found)
    for column in KITCHEN.columns:
        if column.field not in KITCHEN.defaults and column.field not in found.setting_rows:
            whole = False
            found.faults.append(
                Fault("kitchen", None, column.title, "", f"this setting is missing; write {_such_as(column)}.")
            )
    for name, value in values.items():
        found.known[name] = [(found.setting_rows[name], value)]
    if whole:
        found.records.append((grid.rows[0][0], KITCHEN.record(**values)))
