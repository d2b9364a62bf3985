"""What the customers want, read again from orders and forecasts; and the whole-order rule."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation
from scheduler.plan.types import Plan
from scheduler.season.types import Season

KIND_FACTOR = {"firm": 10, "standing": 5, "forecast": 1}
PRIORITY_FACTOR = {1: 4, 2: 2, 3: 1}


@dataclass(frozen=True, slots=True)
class Wanted:
    """One order or forecast: packs still asked for (0 when cancelled or shipped), and its terms."""

    product: str
    asked: int
    due: date
    latest: date
    late_cents: int
    life_days: int
    partial: bool
    firm: bool
    pack_pieces: int
    weight: int  # of one missing pack


def wanted_lines(season: Season) -> dict[str, Wanted]:
    """Order or forecast id -> what is wanted, forecasts at the level planned for.

    weight = kind factor * priority factor * pieces in the pack. Example: firm, priority 2,
    15 pieces: 10 * 2 * 15 = 300.
    """
    shipped: dict[str, int] = defaultdict(int)
    for fact in season.shipped:
        shipped[fact.order] += fact.packs
    pieces: dict[str, int] = defaultdict(int)
    for content in season.contents:
        pieces[content.product] += content.pieces
    lines = {}
    for f in season.forecasts:
        packs = {"low": f.low, "likely": f.likely, "high": f.high}[season.kitchen.plan_for]
        weight = KIND_FACTOR["forecast"] * PRIORITY_FACTOR.get(f.priority, 1) * pieces[f.product]
        asked, life = max(0, packs - shipped[f.id]), season.kitchen.least_life_days
        lines[f.id] = Wanted(
            f.product, asked, f.shelf_day, f.shelf_day, 0, life, True, False, pieces[f.product], weight
        )
    for o in season.orders:
        asked = 0 if o.cancelled else max(0, o.packs - shipped[o.id])
        weight = KIND_FACTOR[o.kind] * PRIORITY_FACTOR.get(o.priority, 1) * pieces[o.product]
        latest = o.due if o.latest is None else max(o.due, o.latest)
        life = season.kitchen.least_life_days if o.least_life_days is None else o.least_life_days
        lines[o.id] = Wanted(
            o.product, asked, o.due, latest, o.late_cents, life, o.partial, o.kind == "firm", pieces[o.product], weight
        )
    return lines


def filled_packs(plan: Plan) -> dict[str, int]:
    """Line -> packs that its fills add up to."""
    filled: dict[str, int] = defaultdict(int)
    for fill in plan.fills:
        filled[fill.line] += fill.packs
    return filled


def whole_order(r: Reading, plan: Plan) -> Findings:
    """An order with no partial delivery is filled whole or not at all."""
    filled = filled_packs(plan)
    for name, line in sorted(wanted_lines(r.season).items()):
        if not line.partial and filled[name] not in (0, line.asked):
            what = f"{filled[name]} of {line.asked} packs are filled; it is whole or nothing."
            yield Violation("whole order", name, what)
