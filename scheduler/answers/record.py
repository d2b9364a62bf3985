"""Recording what happened: each record is a row of the season's tables, and replaces an earlier one.

A record by command, a blank filled in on a run sheet, and a row typed into the tables
all end as the same row. Faults name the record and say what to write instead.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TypeVar, get_args

from scheduler.plan.types import Plan
from scheduler.season.faults import Fault, SeasonFaults
from scheduler.season.safe_write import CannotWrite
from scheduler.season.schema import BY_NAME
from scheduler.season.types import (
    AS_PLANNED,
    Absence,
    MadeBatch,
    Order,
    Outcome,
    PackedPacks,
    Season,
    ShippedPacks,
)

SLIP = 2  # times the usual pieces of a batch, above which a count is taken for a slip
Record = MadeBatch | PackedPacks | ShippedPacks | Absence | Order
Row = TypeVar("Row")


def record(season: Season, records: Iterable[Record]) -> Season:
    """The season with these rows added; a row about the same thing is replaced.

    The same thing: a batch's id, a product's day, an order's shipping day, an order's id.
    Raises SeasonFaults with every fault of all records at once.
    Example: 0301-1 as made with 870 pieces, then as failed: one row, failed.
    """
    faults: list[Fault] = []
    for one in records:
        found = list(_faults(season, one))
        faults += found
        if not found:
            season = _with(season, one)
    if faults:
        raise SeasonFaults(faults)
    return season


def cancelled(season: Season, order_id: str) -> Order:
    """The record of an order that is cancelled. Raises SeasonFaults where there is no such order."""
    if order_id not in season.order_by_id:
        raise SeasonFaults([_unknown("orders", "id", order_id, season.order_by_id)])
    return replace(season.order_by_id[order_id], cancelled=True)


def batch_record(
    season: Season, plan: Plan, batch: str, outcome: str, pieces: int | None = None, seconds: int = 0, remark: str = ""
) -> MadeBatch:
    """The record of a batch of a plan, its day and design looked up. Raises SeasonFaults.

    A made batch needs its count of pieces; a failed one or one not started has none.
    """
    known = {b.id: (day.day, b.design) for day in plan.days for b in day.batches}
    known |= {m.batch: (m.day, m.design) for m in season.made}
    if batch not in known:
        raise SeasonFaults([_unknown("made", "batch", batch, known)])
    if outcome not in get_args(Outcome):
        message = f'"{outcome}" is not known; write made, failed or not started.'
        raise SeasonFaults([_fault("made", "outcome", outcome, message)])
    if outcome == "made" and pieces is None:
        raise SeasonFaults([_fault("made", "pieces", "", f"batch {batch} was made: count its pieces.")])
    day, design = known[batch]
    made: Outcome = "made" if outcome == "made" else "failed" if outcome == "failed" else "not started"
    return MadeBatch(day, batch, design, made, pieces or 0, seconds, remark)


def save(season: Season, path: Path, others: tuple[str, ...] = ()) -> None:
    """Write a season in place: at every moment the file is the whole old or the whole new one.

    What was written is read back and compared before it takes the old one's place. ``others`` are sheets
    of the workbook that are no tables: they would be lost, so nothing is written then. Raises CannotWrite.
    """
    if others and path.suffix.casefold() == ".xlsx":
        sheets = f"the sheet {others[0]}, which is no table" if len(others) == 1 else (
            f"the sheets {', '.join(others)}, which are no tables")  # fmt: skip
        raise CannotWrite(
            f"{path.name} also holds {sheets} of a season and would be lost in recording. "
            "Move what you need of it to another workbook, delete it here, and record again. Nothing was changed."
        )
    from scheduler.season.write import write_season

    write_season(season, path)


def _with(season: Season, one: Record) -> Season:
    if isinstance(one, MadeBatch):
        return replace(season, made=_put(season.made, one, lambda r: r.batch))
    if isinstance(one, PackedPacks):
        return replace(season, packed=_put(season.packed, one, lambda r: (r.day, r.product)))
    if isinstance(one, ShippedPacks):
        rows = tuple(r for r in season.shipped if r.order != one.order or r.remark != AS_PLANNED)
        return replace(season, shipped=_put(rows, one, lambda r: (r.day, r.order)))
    if isinstance(one, Order):
        return replace(season, orders=_put(season.orders, one, lambda r: r.id))
    known = season.absences
    return season if one in known else replace(season, absences=(*known, one))


def _put(rows: tuple[Row, ...], new: Row, name: Callable[[Row], object]) -> tuple[Row, ...]:
    """Rows with one put in place of the row of the same name, or added at the end."""
    names = [name(r) for r in rows]
    if name(new) not in names:
        return (*rows, new)
    at = names.index(name(new))
    after = tuple(r for r in rows[at + 1 :] if name(r) != name(new))
    return (*rows[:at], new, *after)


def _faults(season: Season, one: Record) -> Iterable[Fault]:
    if isinstance(one, MadeBatch):
        yield from _known("made", "design", one.design, season.design_by_name)
        yield from _on_a_day(season, "made", one.day)
        yield from _count("made", "pieces", one.pieces)
        yield from _count("made", "seconds", one.seconds)
        if one.outcome == "made" and one.pieces == 0:
            yield _fault("made", "pieces", "0", f"batch {one.batch} was made with 0 pieces; write failed instead.")
        design = season.design_by_name.get(one.design)
        if one.outcome == "made" and design is not None and one.pieces > SLIP * design.pieces:
            message = (
                f"{one.pieces:,} pieces of batch {one.batch}, where one of {design.name} gives {design.pieces:,}, are "
                "taken for a slip; if that many were made, write the row into the table by hand."
            )
            yield _fault("made", "pieces", str(one.pieces), message)
        if one.outcome != "made" and one.pieces > 0:
            message = f"batch {one.batch} {_was(one.outcome)}, so it has no pieces; leave them blank or write made."
            yield _fault("made", "pieces", str(one.pieces), message)
    elif isinstance(one, PackedPacks):
        yield from _known("packed", "product", one.product, season.product_by_name)
        yield from _on_a_day(season, "packed", one.day)
        yield from _count("packed", "packs", one.packs)
    elif isinstance(one, ShippedPacks):
        lines = {**season.order_by_id, **{f.id: f for f in season.forecasts}}
        yield from _known("shipped", "order", one.order, lines)
        yield from _count("shipped", "packs", one.packs)
    elif isinstance(one, Absence):
        yield from _known("absences", "person", one.person, season.person_by_name)
        if (one.last_day, one.ends) <= (one.first_day, one.starts):
            message = f"{one.person}'s absence ends before it begins."
            yield _fault("absences", "last_day", str(one.last_day), message)
    else:
        yield from _known("orders", "product", one.product, season.product_by_name)
        if one.packs <= 0:
            message = f"order {one.id} asks for {one.packs} packs; write 1 or more, or cancel it."
            yield _fault("orders", "packs", str(one.packs), message)
        if not one.id:
            yield _fault("orders", "id", "", "an order needs a name of its own.")


def _was(outcome: Outcome) -> str:
    return "failed" if outcome == "failed" else "was not started"


def _known(table: str, column: str, value: str, among: Iterable[str]) -> Iterable[Fault]:
    if value not in set(among):
        yield _unknown(table, column, value, among)


def _fault(table: str, field: str, value: str, message: str) -> Fault:
    """A fault of a field, under what stands above it in its table."""
    return Fault(table, None, BY_NAME[table].by_field[field].title, value, message)


def _unknown(table: str, column: str, value: str, among: Iterable[str]) -> Fault:
    close = difflib.get_close_matches(value, list(among), 3, 0.5)
    advice = f"did you mean {' or '.join(close)}?" if close else "there is none of that name."
    return _fault(table, column, value, f'"{value}" is not known; {advice}')


def _on_a_day(season: Season, table: str, day: date) -> Iterable[Fault]:
    k = season.kitchen
    if not k.first_day <= day <= k.last_day:
        message = f"{day} is outside the season; it runs from {k.first_day} to {k.last_day}."
        yield _fault(table, "day", str(day), message)


def _count(table: str, column: str, value: int) -> Iterable[Fault]:
    if value < 0:
        yield _fault(table, column, str(value), f"{value} is below 0; write what was counted.")
