"""Working-time rule sets that a kitchen switches on: settings that would break one are faults.

The models read only the kitchen's own numbers. Where these keep a rule set, so does every
plan; the audit looks again at the plan itself. Help, not advice: local law decides.

EU: Directive 2003/88/EC, art. 3 (11 hours of rest), art. 4 (a break where the day is longer
than 6 hours), art. 5 (24 hours off in each 7 days; the court allows 12 days in a row, case
C-306/16), art. 6 (48 hours a week on average). This set is stricter on purpose: a day off after 6,
and 48 hours in every week, so that no average over months must be watched. For young workers
Directive 94/33/EC, art. 8 (8 hours a day, 40 a week).
US: Fair Labor Standards Act, 29 CFR 778.107 and 778.104: time and a half beyond 40 hours, each
week by itself. "With meal breaks": California Labor Code 512, 30 minutes where the day is over
5 hours, a second break over 10; daily overtime pay is not reckoned.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from scheduler.season.cells import decimal_text
from scheduler.season.faults import Fault
from scheduler.season.names import known
from scheduler.season.rules import week_limit
from scheduler.season.schema import BY_NAME
from scheduler.season.tables import Found
from scheduler.season.types import Kitchen, Person

# rule set -> kitchen setting, least value, most value, of which rule
SETTINGS: dict[str, tuple[tuple[str, int, int, str], ...]] = {
    "european": (
        ("rest_minutes", 660, 10_000, "11 hours of rest between days"),
        ("break_after_minutes", 0, 360, "a break where the day is longer than 6 hours"),
        ("break_minutes", 1, 10_000, "a break where the day is longer than 6 hours"),
        ("days_in_a_row", 0, 6, "a day off in each 7 days"),
    ),
    "american": (),
    "american with meal breaks": (
        ("break_after_minutes", 0, 300, "a meal break where the day is over 5 hours"),
        ("break_minutes", 30, 10_000, "a meal break of 30 minutes"),
        ("longest_day_minutes", 0, 600, "a second meal break over 10 hours, and a shift has one"),
    ),
}
WEEK = 48 * 60  # EU
YOUNG_DAY, YOUNG_WEEK = 8 * 60, 40 * 60  # EU
OVERTIME_FROM, OVERTIME_PERCENT = 40 * 60, 150  # US


def too_little_rest(found: dict[str, Found]) -> Iterator[Fault]:
    """Every setting of kitchen and crew that lets a plan break the rule set that is switched on."""
    if not found["kitchen"].records:
        return
    kitchen: Kitchen = found["kitchen"].records[0][1]
    chosen = kitchen.working_time
    if chosen == "none":
        return
    for field, least, most, why in SETTINGS[chosen]:
        value = getattr(kitchen, field)
        if not least <= value <= most:
            cells = known(found, "kitchen", field)  # none where the usual value holds
            row, edge = cells[0][0] if cells else None, least if value < least else most
            yield _fault("kitchen", row, field, value, edge, value < least, why)
    for number, person in found["crew"].records:
        yield from _european(number, person, kitchen) if chosen == "european" else _american(number, person)


def _european(row: int, person: Person, kitchen: Kitchen) -> Iterator[Fault]:
    week = YOUNG_WEEK if person.young else WEEK
    if week_limit(person) > week:
        own = " for young workers" if person.young else "; the directive lets months average, this set holds every week"
        why = f"{week // 60} hours a week{own}"
        yield _fault("crew", row, "longest_minutes", person.longest_minutes, week, False, why)
    shift = kitchen.longest_day_minutes if person.longest_shift is None else person.longest_shift
    if person.young and min(shift, kitchen.longest_day_minutes) > YOUNG_DAY:
        yield _fault("crew", row, "longest_shift", shift, YOUNG_DAY, False, "8 hours a day for young workers")


def _american(row: int, person: Person) -> Iterator[Fault]:
    """Whoever may work beyond 40 hours a week has time and a half from there on."""
    if week_limit(person) <= OVERTIME_FROM:
        return
    why = "time and a half beyond 40 hours a week"
    if person.contracted_minutes > OVERTIME_FROM:
        yield _fault("crew", row, "contracted_minutes", person.contracted_minutes, OVERTIME_FROM, False, why)
    if person.overtime_percent < OVERTIME_PERCENT:
        yield _fault("crew", row, "overtime_percent", person.overtime_percent, OVERTIME_PERCENT, True, why)


def _fault(table: str, row: int | None, field: str, value: Any, limit: int, more: bool, why: str) -> Fault:
    column = BY_NAME[table].by_field[field]
    shown, edge = (decimal_text(column, v) if column.kind == "hours" else str(v) for v in (value, limit))
    size, direction = ("too little", "more") if more else ("too much", "less")
    return Fault(table, row, column.title, shown,
                 f"{shown} is {size} for the working time that is switched on ({why}); write {edge} or {direction}.")
