"""Kinds of sabotage of a written sheet: one cell or one row is not what the plan says."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace

from scheduler.answers.remedy import Mending, Remedy, with_remedies
from scheduler.audit.violation import Violation
from scheduler.audit.wall.cells import Cells, Value
from scheduler.plan.types import Ancestry, Plan
from tests.handmade import TUESDAY, handmade_plan

EXPLAINED = {  # words that state nothing of the plan
    "Click a name to go there.", "How full each day is", "What is short", "What changed",
    "Call these customers first", "What is short, firm orders first", "Said",
    "Stations: minutes in use, cleaning included, of the places times the opening hours. "
    "People: minutes at a job of the minutes paid.",
}  # fmt: skip


def changed_plan() -> Plan:
    """The handmade plan after news: it has a sheet that says what changed."""
    told = [
        {"day": "2026-03-03", "who": "everyone", "before": "to make: heart", "after": "instead: nut", "say": ""},
        {"day": "2026-03-03", "who": "Ben", "before": "off", "after": "in 08:00–14:00: open up",
         "say": "Ben, can you come in on Tuesday 3 March from 08:00 to 14:00? You were off."},
        {"day": "2026-03-04", "who": "Cleo", "before": "in 08:00–11:00", "after": "in 08:00–10:30", "say": ""},
    ]  # fmt: skip
    changes = {"points": 9, "least_points": 9, "print_again": ["2026-03-03", "2026-03-04"], "rows": told}
    news = (Ancestry("0" * 16, TUESDAY, 390, "Ana is ill"),)
    return replace(handmade_plan(), history=news, extras={"changes": changes})


def mended_plan() -> Plan:
    """The handmade plan with a sum, remedies of every sort, and what limits prove together."""
    about = (("overtime for Ana",), ("overtime",), (), ("ana",))
    remedy = Remedy(*about, 30, 30, 450, 9000, 6000, 4000, 0, proven=True, extra_cents=4510, priced=True)
    opened = replace(
        remedy, changes=("the kitchen opens on Fri 6 Mar", "the kitchen opens on Sat 7 Mar"), kinds=("open day",) * 2,
        notes=("with whoever can come",), mended=5, mended_firm=0, proven=False, extra_cents=12_345,
    )  # fmt: skip
    rest = (
        replace(remedy, changes=("a second table",), kinds=("station",), extra_cents=-250, priced=False),
        replace(remedy, changes=("O4 is due later",), kinds=("due day",), mended=0, mended_firm=0, extra_cents=0),
    )
    plan = with_remedies(handmade_plan(), Mending((remedy, opened, *rest), 4, 6))
    together = {"value": 7000, "limits": ["the bench", "pulls"]}
    return replace(plan, extras={**plan.extras, "certificates": [], "together": together})


def told_rows(cells: Cells, head: str) -> list[int]:
    """The rows from a heading down to the first empty one."""
    first = next(number for number, row in cells.items() if row.get(1) == head)
    rows = [first]
    while rows[-1] + 1 in cells:
        rows.append(rows[-1] + 1)
    return rows


EXCHANGED = (("Mon", "Tue"), ("Proven", "Found"), (" more, ", " less, "), ("batches", "pulls"), (" h", " min"))


def told_sabotages(cells: Cells, rows: list[int]) -> Iterator[tuple[str, Cells]]:
    """(kind, the sheet as it should not be): each sentence of some rows spoilt in every way."""
    for number in rows:
        own = cells[number]
        for kind, change in CELL_KINDS.items():
            if (value := change(own[1])) is not None:
                yield kind, cells | {number: {1: value}}
        yield "a sentence left out", {n: row for n, row in cells.items() if n != number}
        yield "a sentence twice", {n + (n > number): row for n, row in cells.items()} | {number + 1: own}
        if number + 1 in rows and cells[number + 1] != own:
            yield "two sentences change places", cells | {number: cells[number + 1], number + 1: own}
        for old, new in EXCHANGED:
            if old in str(own[1]):
                yield f"{new} instead of {old}", cells | {number: {1: str(own[1]).replace(old, new, 1)}}


def named(found: tuple[Violation, ...], title: str) -> bool:
    """Whether a violation names the sheet, or the person whose page it is."""
    return any(v.where.startswith(title) or title.removeprefix("Person ") == v.where for v in found)


def stated(cells: Cells) -> list[tuple[int, int]]:
    """(row, column) of every cell that states a fact."""
    return [(n, c) for n, row in cells.items() for c, value in row.items() if value not in EXPLAINED]


def _figure(value: Value) -> Value | None:
    return value + 1 if isinstance(value, float) else None


def _figure_in_words(value: Value) -> Value | None:
    found = re.search(r"(?<![\d:])\d+(?![\d:]*:)", value) if isinstance(value, str) else None
    return f"{value[: found.start()]}{int(found[0]) + 1}{value[found.end() :]}" if found else None  # type: ignore[index]


def _clock(value: Value) -> Value | None:
    found = re.search(r"(\d\d):(\d\d)", value) if isinstance(value, str) else None
    return value.replace(found[0], f"{int(found[1]) + 1:02d}:{found[2]}", 1) if found else None  # type: ignore[union-attr]


def _word(value: Value) -> Value | None:
    letters = [m.start() for m in re.finditer("[^\\W\\d_]", value)] if isinstance(value, str) else []
    if not letters:
        return None
    at, text = letters[-1], str(value)
    if "better" in text or "rule of thumb" in text:  # here the figures and the claim count, not the words
        return text.replace("A better plan may exist", "No plan can do better") if "A better plan" in text else None
    return f"{text[:at]}{'k' if text[at] != 'k' else 'm'}{text[at + 1 :]}"


CELL_KINDS: dict[str, Callable[[Value], Value | None]] = {
    "a figure one higher": _figure,
    "a figure in words one higher": _figure_in_words,
    "a clock time an hour later": _clock,
    "another word or name": _word,
}


def sabotages(title: str, cells: Cells, most: int = 10**6) -> Iterator[tuple[str, Cells]]:
    """(kind, the sheet as it should not be), at most so many of each kind, spread over the sheet."""
    places = stated(cells)
    for kind, change in CELL_KINDS.items():
        new = [(n, c, v) for n, c in places if (v := change(cells[n][c])) is not None]
        for number, column, value in new[:: -(-len(new) // most) or 1]:
            yield kind, cells | {number: cells[number] | {column: value}}
    for number, column in places[:: -(-len(places) // most) or 1]:
        yield "a cell emptied", cells | {number: {c: v for c, v in cells[number].items() if c != column}}
    rows = sorted({number for number, _ in places})
    for number in rows[:: -(-len(rows) // most) or 1]:
        yield "a row left out", {n: row for n, row in cells.items() if n != number}
    telling = [n for n in rows if len(cells[n]) > 1]
    for number in telling[:: -(-len(telling) // most) or 1]:
        yield "a row twice", {n + (n > number): row for n, row in cells.items()} | {number + 1: cells[number]}
    known = set(places)  # where one line stands below another, their order says nothing
    pairs = [(n, c) for n, c in places if len(cells[n]) > 1 and (n + 1, c) in known and len(cells[n + 1]) > 1]
    pairs = [(n, c) for n, c in pairs if cells[n][c] != cells[n + 1][c] and not (title == "Contents" and c == 7)]
    for number, column in pairs[:: -(-len(pairs) // most) or 1]:
        one, other = cells[number], cells[number + 1]
        yield "two cells change places", cells | {
            number: one | {column: other[column]}, number + 1: other | {column: one[column]},
        }  # fmt: skip
