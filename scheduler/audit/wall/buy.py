"""What is to be bought, read back and counted again."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta

from scheduler.audit.violation import Findings
from scheduler.audit.wall.cells import Cells
from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.words import Facts, day_short, differences, rows, says

HEADINGS = ("Material", "Unit", "Needed", "There", "To buy", "Comes in", "Runs out on", "Order by", "For")
SAID = (
    "on, beside what is there (as counted in the season's materials: count again when it is under way). Order by: the "
    "last day, if it arrives as fast as usual. A batch that fails takes its share once more: order some to spare."
)


def to_buy(wall: Wall, cells: Cells) -> Findings:
    """Each material: needed from now on, what to buy in whole cartons, when it runs out, when to order it."""
    expected: list[Facts] = []
    for material in wall.r.season.materials:
        by_day, by_name = _needs(wall, material.name)
        needed = sum(by_day.values())
        gone, out = 0, None
        for day in sorted(by_day):
            gone += by_day[day]
            if gone > material.there:
                out = day
                break
        missing = max(0, needed - material.there)
        buy = (missing + material.comes_in - 1) // material.comes_in * material.comes_in
        order = None if out is None else out - timedelta(days=material.arrives_days)
        first = sorted(by_name, key=lambda name: (-by_name[name], name))
        words = ", ".join(f"{name} {by_name[name]:,}" for name in first[:3])
        if len(first) > 3:
            words += f", {len(first) - 3} more"
        if wall.plan.history and order is not None and order < wall.plan.from_day:
            words = f"LATE: order at once, or it is missing. {words}"
        about = (material.name, material.unit, needed, material.there, buy, material.comes_in)
        expected.append((*about, out, order, words))
    yield from differences("To buy", expected, rows(cells, HEADINGS))
    said = f"What this plan takes from {day_short(wall.plan.from_day)} {SAID}"
    yield from says("To buy", ["What to buy", said], cells)


def _needs(wall: Wall, material: str) -> tuple[dict[date, int], dict[str, int]]:
    """What is taken of a material by day, and by design or product, of what has not begun."""
    plan, by_day, by_name = wall.plan, defaultdict[date, int](int), defaultdict[str, int](int)
    border = (plan.from_day, plan.from_minute)
    for use in wall.r.season.uses:
        if use.material != material:
            continue
        for day in plan.days:
            if not use.product:
                for batch in day.batches:
                    if batch.runs and (day.day, batch.runs[0].starts) >= border and use.design in (batch.design, ""):
                        by_day[day.day] += use.amount
                        by_name[batch.design] += use.amount
            for pack in day.packing:
                if pack.product == use.product and (day.day, pack.starts) >= border:
                    by_day[day.day] += use.amount * pack.packs
                    by_name[pack.product] += use.amount * pack.packs
    return by_day, by_name
