"""Rules about packing: time and hands, days, and what packs go where."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from scheduler.audit.lots import lots_of
from scheduler.audit.readings import Reading
from scheduler.audit.stock import packs_on_hand
from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wanted import wanted_lines
from scheduler.plan.types import DayPlan, Plan


def packing(r: Reading, day: DayPlan) -> Findings:
    """A pack run takes at least its packs' minutes of one person who can pack.

    minutes >= ceil(packs * packing_seconds / 60). Example: 41 packs of 90 s take 62 minutes.
    """
    for pack in day.packing:
        where = f"{day.day} {pack.person}"
        product = r.season.product_by_name.get(pack.product)
        if product is None or pack.packs < 1:
            yield Violation("packing", where, f"{pack.packs} packs of {pack.product!r} can't be packed.")
            continue
        needed = -(-pack.packs * product.packing_seconds // 60)
        if pack.ends - pack.starts < needed:
            what = f"{pack.packs} {product.name} in {pack.ends - pack.starts} minutes; it takes {needed}."
            yield Violation("packing", where, what)
        skill = r.kitchen.packing_skill
        if pack.person not in r.season.person_by_name:
            yield Violation("packing", where, f"{pack.product} is packed by {pack.person!r}, who is not in the crew.")
        elif skill and r.level(pack.person, skill) < 1:
            yield Violation("packing", where, f"{pack.person} packs {pack.product} without the skill {skill}.")


def candy_before_packing(r: Reading, plan: Plan) -> Findings:
    """What is packed on a day was made so many days before, or earlier."""
    lots = lots_of(r, plan)
    wait = r.kitchen.packing_from_days
    for fill in plan.fills:
        for draw in fill.draws:
            lot = lots.get(draw.lot)
            if fill.packed is None or lot is None:
                continue
            if fill.packed.toordinal() - lot.made.toordinal() < wait:
                what = f"Lot {draw.lot} is made on {lot.made} and packed on {fill.packed}; it needs {wait} days."
                yield Violation("candy before packing", fill.line, what)


def packed_before_due(r: Reading, plan: Plan) -> Findings:
    """Fills are packed by pack runs of their day, in time, or late where that is agreed."""
    yield from _fills_are_packed(r, plan)
    lines, ready = wanted_lines(r.season), packs_on_hand(r.season)
    for fill in plan.fills:
        line = lines.get(fill.line)
        if fill.packed is None:
            if fill.late:
                yield Violation("packed before due", fill.line, "Packs that stand ready are called late.")
            if not fill.pack_lot:
                yield Violation("packed before due", fill.line, f"{fill.packs} packs are packed on no day.")
            elif line is not None and fill.pack_lot in ready and ready[fill.pack_lot].ready > line.due:
                what = f"Packs of lot {fill.pack_lot} are ready on {ready[fill.pack_lot].ready}, due {line.due}."
                yield Violation("packed before due", fill.line, what)
            continue
        if line is None:
            continue
        if fill.packed > line.latest:
            what = f"Packed on {fill.packed}; the latest acceptable day is {line.latest}."
            yield Violation("packed before due", fill.line, what)
        if fill.late != (fill.packed > line.due):
            word = "late" if fill.late else "in time"
            yield Violation("packed before due", fill.line, f"Packed on {fill.packed}, due {line.due}, called {word}.")


def _fills_are_packed(r: Reading, plan: Plan) -> Findings:
    """For each product and day: packs of the fills = packs of the pack runs."""
    filled: dict[tuple[date, str], int] = defaultdict(int)
    packed: dict[tuple[date, str], int] = defaultdict(int)
    for fill in plan.fills:
        if fill.packed is not None:
            filled[fill.packed, fill.product] += fill.packs
    for day in plan.days:
        for pack in day.packing:
            if pack.ends > r.facts_until(day.day):  # earlier ones are packs on hand by now
                packed[day.day, pack.product] += pack.packs
    for key in sorted(filled.keys() | packed.keys()):
        day_of, product = key
        if filled[key] != packed[key]:
            what = f"{filled[key]} {product} are to be filled; {packed[key]} are packed."
            yield Violation("packed before due", f"{day_of} {product}", what)
