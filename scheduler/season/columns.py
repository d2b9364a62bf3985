"""What a table of a season and a column of it are."""

from __future__ import annotations

from dataclasses import MISSING, dataclass, fields
from functools import cached_property
from typing import Any, Literal

Kind = Literal[
    "text",  # a name or remark
    "list",  # names with commas between them
    "whole",  # whole number
    "hours",  # decimal hours, kept as minutes
    "minutes",  # decimal minutes, kept as seconds
    "money",  # with two decimals, kept as cents
    "day",
    "clock",  # 00:00 to 24:00, kept as minutes after midnight
    "weekday",
    "yes",  # yes or no
    "choice",
    "reference",  # the name of a row in another table
]
MILLION = 1_000_000


@dataclass(frozen=True, slots=True)
class Column:
    """One column: the record's field, its heading, what it holds, and how to explain it.

    ``low`` and ``high`` bound the stored number; ``word`` is written for None where a
    blank means something else.
    """

    field: str
    title: str
    kind: Kind
    note: str
    example: str
    unit: str = ""
    table: str = ""  # of a reference; "orders or forecasts" for either
    choices: tuple[str, ...] = ()
    low: int = 0
    high: int = MILLION
    word: str = ""


@dataclass(frozen=True)
class Table:
    """One table: a sheet of the workbook or a CSV file, and the record each row becomes."""

    name: str
    record: type[Any]
    note: str
    columns: tuple[Column, ...]
    group: str
    season_field: str = ""  # where it differs from the name
    needed: bool = False  # a season has at least one row of it
    unique: tuple[str, ...] = ()  # fields that together name a row
    most_rows: int = 2000

    @property
    def field(self) -> str:
        return self.season_field or self.name

    @cached_property
    def defaults(self) -> dict[str, Any]:
        """Field -> default, only for columns that may stay blank."""
        return {f.name: f.default for f in fields(self.record) if f.default is not MISSING}

    @cached_property
    def by_title(self) -> dict[str, Column]:
        return {c.title: c for c in self.columns}

    @cached_property
    def by_field(self) -> dict[str, Column]:
        return {c.field: c for c in self.columns}
