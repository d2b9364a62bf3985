"""What is wrong with a season, in words for the person who wrote it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: where it is, what stands there, and what to write instead.

    ``row`` is the row as the spreadsheet shows it, None where the whole table is meant;
    ``message`` is a whole sentence that already holds the value.
    """

    table: str
    row: int | None
    column: str
    value: str
    message: str

    def __str__(self) -> str:
        where = self.table if self.row is None else f"{self.table} row {self.row}"
        if self.column:
            where += f', "{self.column}"'
        return f"{where}: {self.message}"


class SeasonFaults(Exception):
    """Every fault of a season at once; ``faults`` is in the order of the tables and rows."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(f) for f in self.faults))
