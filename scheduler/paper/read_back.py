"""What was typed into the blanks of the run sheets, read back as records.

A row with nothing typed says nothing. A blank that can't be understood is named with its
sheet and cell; nothing is recorded while there is one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from scheduler.answers.record import Record, batch_record
from scheduler.paper.run_sheet import MADE_HEADINGS, OUTCOMES, PACKED_HEADINGS
from scheduler.paper.words import day_long
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.cells import tidy
from scheduler.season.faults import Fault, SeasonFaults
from scheduler.season.types import PackedPacks, Season

MOST_ROWS, MOST_COLUMNS = 400, 200  # of a run sheet
Row = tuple[Any, ...]
Headings = tuple[str, ...]


@dataclass(frozen=True)
class _Blanks:
    """One row of blanks: the cells by heading, and where it is."""

    sheet: str
    number: int
    cells: dict[str, object]

    def text(self, heading: str) -> str:
        value = self.cells.get(heading)
        return "" if value is None else tidy(str(value))

    def fault(self, heading: str, message: str) -> SeasonFaults:
        return SeasonFaults([Fault(self.sheet, self.number, heading, self.text(heading), message)])

    def count(self, heading: str) -> int | None:
        """A whole number of 0 or more, None where nothing was typed. Raises SeasonFaults."""
        text = self.text(heading)
        if not text:
            return None
        value = self.cells[heading]
        number = value if isinstance(value, (int, float)) and not isinstance(value, bool) else _number(text)
        if number is None or number != int(number) or number < 0:
            raise self.fault(heading, f'"{text}" is not a count; write a whole number such as 880.')
        return int(number)


def read_back(path: Path, season: Season, plan: Plan) -> tuple[Record, ...]:
    """Records of all blanks that were filled in, in the order of the sheets.

    Raises SeasonFaults with every blank that can't be understood, and where the file is no
    workbook that can be opened.
    """
    records: list[Record] = []
    faults: list[Fault] = []
    days, by_day = {day_long(d.day): d.day for d in plan.days}, {d.day: d for d in plan.days}
    for title, rows in _run_sheets(path):
        day = days.get(tidy(str(rows[0][0] or "")) if rows and rows[0] else "")
        found = list(_blanks(title, rows))
        of_day = by_day[day] if day else DayPlan(date.min)
        for headings, there in ((MADE_HEADINGS, of_day.batches), (PACKED_HEADINGS, of_day.packing)):
            if there and not any(kind == headings for kind, _ in found):
                message = f"the headings over the blanks were changed; they should be {', '.join(headings)}."
                faults.append(Fault(title, None, headings[0], "", message))
        for kind, blanks in found:
            try:
                typed = _batch(season, plan, blanks) if kind == MADE_HEADINGS else _packs(day, blanks)
            except SeasonFaults as trouble:
                faults += [Fault(title, blanks.number, f.column, f.value, f.message) for f in trouble.faults]
            else:
                records += [typed] if typed else []
    if faults:
        raise SeasonFaults(faults)
    return tuple(records)


def _batch(season: Season, plan: Plan, blanks: _Blanks) -> Record | None:
    """Pieces alone mean made; 0 pieces with no word about it are asked back."""
    _, batch, _, made, spoilt, became, remark = MADE_HEADINGS
    pieces, seconds, outcome = blanks.count(made), blanks.count(spoilt), blanks.text(became).casefold()
    if pieces is None and seconds is None and not outcome and not blanks.text(remark):
        return None
    if outcome not in ("", *OUTCOMES):
        raise blanks.fault(became, f'"{outcome}" is not known; write {", ".join(OUTCOMES[:-1])} or {OUTCOMES[-1]}.')
    if not outcome:
        if not pieces:
            raise blanks.fault(became, f"what became of batch {blanks.text(batch)}? Write its pieces, or failed, "
                               "or not started.")  # fmt: skip
        outcome = "made"
    return batch_record(season, plan, blanks.text(batch), outcome, pieces, seconds or 0, blanks.text(remark))


def _packs(day: date | None, blanks: _Blanks) -> Record | None:
    product, _, packed, remark = PACKED_HEADINGS
    packs = blanks.count(packed)
    if packs is None:
        return None
    if day is None:
        raise blanks.fault(packed, "the day of this run sheet is not in the plan; use the plan that belongs to it.")
    return PackedPacks(day, blanks.text(product), packs, blanks.text(remark))


def _blanks(title: str, rows: list[Row]) -> Iterator[tuple[Headings, _Blanks]]:
    """Every row with blanks: the headings it stands under, and the row."""
    kind: Headings = ()
    places: dict[str, int] = {}
    for number, row in enumerate(rows, 1):
        cells = [tidy(str(cell)) if cell is not None else "" for cell in row]
        heads = next((h for h in (MADE_HEADINGS, PACKED_HEADINGS) if set(h) <= set(cells)), None)
        if heads is not None:  # the last cell of a name counts: a stage may be called as a blank is
            kind, places = heads, {cell: at for at, cell in enumerate(cells) if cell}
        elif kind and cells[places[kind[0]]] and (kind == PACKED_HEADINGS or cells[places[kind[1]]]):
            yield kind, _Blanks(title, number, {name: row[at] for name, at in places.items()})
        elif kind == MADE_HEADINGS:
            kind = ()


def _run_sheets(path: Path) -> Iterator[tuple[str, list[Row]]]:
    """Title and rows of every sheet that has blanks to fill in."""
    from openpyxl import load_workbook

    from scheduler.season.workbook import refusal

    if not path.exists():
        raise SeasonFaults([Fault(path.name, None, "", str(path), "there is no such file.")])
    trouble = refusal(path)
    if trouble:
        raise SeasonFaults([Fault(path.name, None, "", str(path), trouble)])
    book = load_workbook(path, read_only=True, data_only=True)
    try:
        for sheet in book.worksheets:
            rows = list(sheet.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS, values_only=True))
            if sheet.title.startswith("Day "):
                yield sheet.title, rows
    finally:
        book.close()


def _number(text: str) -> float | None:
    """880, 1,000 or 1 000 as typed; None where it is no number."""
    plain = text.replace(" ", "").replace(",", "").replace("\u2019", "")
    return float(plain) if plain.lstrip("-").isdigit() else None
