"""Faults of names: references to rows that are not there, and rows that are there twice."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from scheduler.season.cells import shown
from scheduler.season.columns import Column, Table
from scheduler.season.faults import Fault
from scheduler.season.schema import BY_NAME, KEY_FIELD, TABLES, WEEKDAYS
from scheduler.season.tables import Found, suggestion


def plain(word: str) -> str:
    """A name without capitals and blanks: two names that differ only so are the same to a person."""
    return "".join(word.casefold().split())


def known(found: dict[str, Found], table: str, field: str) -> list[tuple[int, Any]]:
    """(row, value) of every cell of a column that could be read, in rows with other faults too."""
    return found[table].known.get(field, [])


def unknown_names(found: dict[str, Found]) -> Iterator[Fault]:
    """Every reference names a row of its table, written the same."""
    for table in TABLES:
        for column in table.columns:
            if column.kind != "reference":
                continue
            targets = column.table.split(" or ")
            names = [value for target in targets for _, value in known(found, target, KEY_FIELD[target])]
            if not names and any(BY_NAME[target].needed for target in targets):
                continue  # the empty table is a fault of its own
            there = set(names)
            for row, value in _references(found, table, column):
                if value and value not in there:
                    yield Fault(table.name, row, column.title, value, unknown_name(value, column.table, names))


def _references(found: dict[str, Found], table: Table, column: Column) -> list[tuple[int | None, Any]]:
    cells: list[tuple[int | None, Any]] = list(known(found, table.name, column.field))
    if table.name == "kitchen" and not cells and column.field not in found["kitchen"].setting_rows:
        cells.append((None, table.defaults[column.field]))
    return cells


def unknown_name(value: str, table: str, names: list[str]) -> str:
    """What to say of a name that is in no row of a table."""
    meant = suggestion(value, names)
    if meant and plain(meant) == plain(value):
        return f"{value} is written {meant} in {table}; write it the same."
    if meant:
        return f"{value} is not in {table}; did you mean {meant}?"
    return f"{value} is not in {table}; add it there or correct the name."


def duplicates(found: dict[str, Found]) -> Iterator[Fault]:
    """What names a row names only one; capitals and blanks make no difference."""
    for table in TABLES:
        if not table.unique:
            continue
        seen: dict[tuple[Any, ...], tuple[int, tuple[Any, ...]]] = {}
        for row, values in _keys(found, table):
            key = tuple(plain(v) if isinstance(v, str) else v for v in values)
            if key not in seen:
                seen[key] = (row, values)
                continue
            first, before = seen[key]
            column = table.by_field[table.unique[-1]]
            text = " ".join(_word(table.by_field[f], v) for f, v in zip(table.unique, values, strict=True))
            if before == values:
                message = f"{text} is already in row {first}; keep one of them."
            else:
                message = f"{text} differs from row {first} only by capitals or blanks; correct one of them."
            yield Fault(table.name, row, column.title, text, message)


def _keys(found: dict[str, Found], table: Table) -> list[tuple[int, tuple[Any, ...]]]:
    columns = [dict(known(found, table.name, field)) for field in table.unique]
    rows = [row for row in columns[0] if all(row in column for column in columns)]
    return [(row, tuple(column[row] for column in columns)) for row in rows]


def _word(column: Column, value: Any) -> str:
    return WEEKDAYS[value] if column.kind == "weekday" else shown(value) if not hasattr(value, "year") else str(value)


def shared_ids(found: dict[str, Found]) -> Iterator[Fault]:
    """Orders and forecasts, and lots of stock and made batches, share one set of names."""
    for one, one_field, two, two_field in (("orders", "id", "forecasts", "id"), ("stock", "lot", "made", "batch")):
        taken = {value: row for row, value in known(found, one, one_field)}
        for row, value in known(found, two, two_field):
            if value in taken:
                yield Fault(two, row, BY_NAME[two].by_field[two_field].title, value,
                            f"{value} is already in {one} row {taken[value]}; give it another name.")
