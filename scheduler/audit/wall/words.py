"""How cells are compared: words squeezed, days and times as the numbers that a workbook keeps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date

from scheduler.audit.violation import Findings, Violation, clock
from scheduler.audit.wall.cells import Cells, Row

Facts = tuple[object, ...]
DAY_ZERO = date(1899, 12, 30).toordinal()  # day numbers of a workbook count from here
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def plain(value: object) -> object:
    """A value as it is compared: text without invisible characters, numbers to a millionth, None for blank."""
    if isinstance(value, str):
        kept = value
        if not value.isprintable():
            kept = "".join(c if c.isprintable() else " " if c.isspace() else "" for c in value)
        return " ".join(kept.split()) or None
    if isinstance(value, date):
        return float(value.toordinal() - DAY_ZERO)
    if isinstance(value, (int, float)):
        return round(float(value), 6)
    return value


def text(row: Row, column: int) -> str:
    """The squeezed text of a cell, blank where there is none or a number."""
    value = plain(row.get(column))
    return value if isinstance(value, str) else ""


def tables(cells: Cells, headings: Sequence[str]) -> list[tuple[int, list[Facts]]]:
    """Every table with these headings in order, the first in column 1: (heading row, its rows).

    A row belongs to the table while its first cell is filled and is not alone.
    """
    found, done = [], 0
    for number, row in cells.items():
        places = _places(row, headings) if number > done and text(row, 1) == headings[0] else None
        if places is not None:
            rows = block(cells, number)
            found.append((number, [tuple(plain(row.get(place)) for place in places) for row in rows]))
            done = number + len(rows)
    return found


def block(cells: Cells, heading: int) -> list[Row]:
    """The rows under a heading row, as long as their first cell is filled and not alone."""
    rows: list[Row] = []
    while 1 in (row := cells.get(heading + 1 + len(rows), {})) and len(row) > 1:
        rows.append(row)
    return rows


def rows(cells: Cells, headings: Sequence[str]) -> list[Facts]:
    """The rows of every table with these headings."""
    return [row for _, found in tables(cells, headings) for row in found]


def grid(cells: Cells, heading: int) -> list[Facts]:
    """(row's name, column's name, value) of every filled cell under a heading row and right of the names."""
    return [(row[1], cells[heading].get(at), row[at]) for row in block(cells, heading) for at in row if at > 1]


def _places(row: Row, headings: Sequence[str]) -> list[int] | None:
    """The column of each heading, or None where one is missing."""
    names = {text(row, column): column for column in sorted(row, reverse=True)}
    wanted = [str(plain(heading)) for heading in headings]
    return [names[heading] for heading in wanted] if set(wanted) <= names.keys() else None


def differences(where: str, expected: Iterable[Facts], found: Iterable[Facts]) -> Findings:
    """Rows that the plan has and the sheet has not, and the other way round."""
    want = Counter(tuple(plain(v) for v in row) for row in expected)
    have = Counter(tuple(plain(v) for v in row) for row in found)
    for row in want - have:
        yield Violation("workbook", where, f"The plan has [{_shown(row)}], the sheet has not.")
    for row in have - want:
        yield Violation("workbook", where, f"The sheet has [{_shown(row)}], the plan has not.")


def _shown(row: Facts) -> str:
    return ", ".join("blank" if v is None else str(v) for v in row)


def count(number: int, word: str) -> str:
    """1 pack, 2 packs, 0 batches."""
    many = "batches" if word == "batch" else f"{word}s"
    return f"{number:,} {word if number == 1 else many}"


def span(starts: int, ends: int) -> str:
    return f"{clock(starts)}–{clock(ends)}"


def day_long(day: date) -> str:
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def day_short(day: date) -> str:
    return f"{WEEKDAYS[day.weekday()][:3]} {day.day} {MONTHS[day.month - 1][:3]}"


def month_name(day: date) -> str:
    return MONTHS[day.month - 1]


def names(people: Sequence[str]) -> str:
    """Ana, Ben and Cleo."""
    return people[0] if len(people) == 1 else ", ".join(people[:-1]) + " and " + people[-1] if people else ""


def length(minutes: int) -> str:
    """200 is 3 h 20, 180 is 3 h, 30 is 30 min."""
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h" + (f" {minutes % 60:02d}" if minutes % 60 else "")


def money(cents: int, currency: str) -> str:
    return f"{cents // 100:,}.{cents % 100:02d} {currency}".rstrip()


def percent(part: int, whole: int) -> int:
    """Rounded half up; 0 of nothing is 0."""
    return (200 * part + whole) // (2 * whole) if whole > 0 else 0


def beside(cells: Cells, headings: Sequence[str]) -> list[Facts]:
    """The rows of a table that stands beside another one at the end of a sheet: first cells filled."""
    for number, row in cells.items():
        if (places := _places(row, headings)) is not None:
            below = (own for below, own in sorted(cells.items()) if below > number and places[0] in own)
            return [tuple(plain(own.get(place)) for place in places) for own in below]
    return []


def says(where: str, wanted: Sequence[str], cells: Cells, rows: int = 12) -> Findings:
    """Sentences that must stand in the first rows of a sheet, each in a cell of its own."""
    said = {text(row, column) for number, row in cells.items() if number <= rows for column in row}
    for words in wanted:
        if plain(words) not in (None, *said):
            yield Violation("workbook", where, f"At its head it should say: {words}")
