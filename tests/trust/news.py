"""News of every kind after a plan was made: each choice keeps every rule, or a plain word says what to do.

``python -m tests.trust news`` changes one table of the season at a time, as a planner would in
the spreadsheet, and goes on from the third day, and once more from before the first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import rebalance
from scheduler.audit import audit
from scheduler.audit.facts import audit_rebalance
from scheduler.models.no_plan import NoPlan
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.files import PlanFaults
from scheduler.plan.types import Plan
from scheduler.season.types import Absence, MadeBatch, Order, Pin, Season, SpecialDay
from tests.seasons import tiny
from tests.trust.table import Row, Table

NOW = 2  # index of the day from which days may change


@cache
def planned() -> tuple[Season, Plan]:
    """A tiny season with work on most of its days."""
    season = tiny(5, days=6, people=3, designs=2, orders=8)
    season = replace(season, orders=tuple(replace(o, packs=2 * o.packs) for o in season.orders))
    return season, plan_season(season, PlanOptions(effort=0.1))


def _orders(change: Callable[[Order], Order]) -> Callable[[Season], Season]:
    """The first order that the plan still has to pack, changed."""

    def changed(s: Season) -> Season:
        day = s.days[NOW]
        last = next(f.line for f in planned()[1].fills if f.packed is not None and f.packed > day)
        return replace(s, orders=tuple(change(o) if o.id == last else o for o in s.orders))

    return changed


def _each(table: str, **changes: Any) -> Callable[[Season], Season]:
    return lambda s: replace(s, **{table: tuple(replace(r, **changes) for r in getattr(s, table))})


NEWS: dict[str, Callable[[Season], Season]] = {
    "somebody is away": lambda s: replace(s, absences=(Absence(s.crew[0].name, s.days[NOW], s.days[NOW]),)),
    "an order is cancelled": _orders(lambda o: replace(o, cancelled=True)),
    "an order is smaller": _orders(lambda o: replace(o, packs=1)),
    "an order is larger": _orders(lambda o: replace(o, packs=o.packs + 5)),
    "an order must come sooner": _orders(lambda o: replace(o, due=planned()[0].days[NOW], latest=None, late_cents=0)),
    "an order is whole or nothing now": _orders(lambda o: replace(o, packs=o.packs + 1, partial=False)),
    "a new order": lambda s: replace(s, orders=(*s.orders, Order("new", s.products[0].name, 3, s.days[-1]))),
    "a batch failed": lambda s: replace(s, made=(
        *(MadeBatch(d.day, b.id, b.design, "failed") for d in planned()[1].days[:1] for b in d.batches),)),
    "the kitchen is closed on a day": lambda s: replace(s, special_days=(SpecialDay(s.days[NOW + 1], "closed"),)),
    "the kitchen opens later on a day": lambda s: replace(s, special_days=(
        SpecialDay(s.days[NOW + 1], "open", "", 9 * 60, 10 * 60 + 30),)),
    "nothing may be made on a day": lambda s: replace(s, pins=(Pin("no making", s.days[NOW + 1]),)),
    "a design may not be made on a day": lambda s: replace(s, pins=tuple(
        Pin("do not make", s.days[NOW + 1], d.name) for d in s.designs)),
    "batches hold fewer pieces": _each("designs", pieces=80),
    "batches hold more pieces": _each("designs", pieces=120),
    "candy keeps for less long": _each("designs", sell_by_days=20),
    "supplies come later": lambda s: _each("designs", from_day=s.days[NOW + 2])(s),
    "packing takes longer": _each("products", packing_seconds=300),
    "the hourly wage": _each("crew", wage_cents=1700),
    "people may work less": _each("crew", longest_shift=90),
    "a stage takes longer": _each("stages", minutes=30),
    "hours are shorter every day": _each("hours", opens=8 * 60 + 30),
    "an order's row was deleted": lambda s: replace(s, orders=s.orders[1:]),
    "a person's row was deleted": lambda s: replace(
        s, crew=s.crew[1:], skills=tuple(k for k in s.skills if k.person != s.crew[0].name)),
    "the season ends sooner": lambda s: replace(s, kitchen=replace(s.kitchen, last_day=s.days[NOW])),
    "the season begins later": lambda s: replace(s, kitchen=replace(s.kitchen, first_day=s.days[NOW])),
}  # fmt: skip


def outcome(change: Callable[[Season], Season], at: int) -> tuple[str, str]:
    """What is wrong, or "", and what came of it in a word or two, from the day of an index on."""
    season, plan = planned()
    told, day = change(season), season.days[at]
    try:
        found = rebalance(told, plan, Moment(day), effort=0.3)
    except (NoPlan, PlanFaults) as plain:
        return "", f"a plain word: {str(plain)[:60]}..."
    for number, choice in enumerate(found.choices, start=1):
        broken = (*audit(choice.season, choice.plan), *audit_rebalance(plan, choice.season, choice.plan, (day, 0)))
        if broken:
            return f"choice {number}: {broken[0]}", ""
    return "" if found.choices else "no choice and no word", f"{len(found.choices)} sound"


def table(quick: bool) -> Table:
    """One row for each kind of news."""
    rows = []
    for what, change in list(NEWS.items())[:: 10 if quick else 1]:
        row = Row(what)
        for at in (NOW, 0):
            try:
                failure, came = outcome(change, at)
            except Exception as trouble:
                failure, came = f"{type(trouble).__name__}: {trouble}", ""
            row.count(failure or None)
            row.note = f"{row.note}; {came}".strip("; ")
        rows.append(row)
    return Table("News after the plan was made: sound choices, or a plain word", rows)
