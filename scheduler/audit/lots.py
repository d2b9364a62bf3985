"""Rules about candy: contents of packs, lots, remaining life."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date, timedelta

from scheduler.audit.readings import Reading
from scheduler.audit.stock import PackLot, candy_on_hand, later, packs_on_hand
from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wanted import wanted_lines
from scheduler.plan.types import Fill, Lot, Plan


def lots_of(r: Reading, plan: Plan) -> dict[str, Lot]:
    """Every lot there is by the season and the plan's batches: id -> what it must say.

    A fact about a planned batch (by its id) replaces it: pieces as counted, none if failed.
    """
    facts = {m.batch for m in r.season.made}
    lots = {lot.id: lot for lot in candy_on_hand(r.season) if lot.pieces > 0}
    for day in plan.days:
        for batch in day.batches:
            design = r.season.design_by_name.get(batch.design)
            if design is None or batch.id in facts:
                continue
            sell_by = later(day.day, design.sell_by_days)
            lots.setdefault(batch.id, Lot(batch.id, design.name, day.day, design.pieces, sell_by))
    return lots


def contents(r: Reading, plan: Plan) -> Findings:
    """A fill draws, for each design of its product, packs times pieces; and is of the product asked for."""
    lines = wanted_lines(r.season)
    for fill in plan.fills:
        line = lines.get(fill.line)
        if line is not None and line.product != fill.product:
            yield Violation("contents", fill.line, f"It asks for {line.product} and is given {fill.product!r}.")
        if fill.pack_lot:
            if fill.draws:
                yield Violation("contents", fill.line, f"Packs of lot {fill.pack_lot} stand ready, yet candy is drawn.")
            continue
        needed = {c: n * fill.packs for c, n in r.season.contents_of.get(fill.product, {}).items()}
        drawn: Counter[str] = Counter()
        for draw in fill.draws:
            drawn[draw.design] += draw.pieces
        for design in sorted(set(needed) | set(drawn)):
            if needed.get(design, 0) != drawn[design]:
                what = f"{fill.packs} {fill.product} take {needed.get(design, 0)} {design}; {drawn[design]} are drawn."
                yield Violation("contents", fill.line, what)


def lots(r: Reading, plan: Plan) -> Findings:
    """A lot is a batch of the plan, a made batch or opening stock; nothing is drawn beyond its pieces."""
    yield from _lots_listed(r, plan)
    lots_there = lots_of(r, plan)
    listed = {lot.id for lot in plan.lots}
    drawn: dict[str, int] = defaultdict(int)
    for fill in plan.fills:
        for draw in fill.draws:
            lot = lots_there.get(draw.lot)
            drawn[draw.lot] += draw.pieces
            if lot is None or draw.lot not in listed:
                yield Violation("lots", fill.line, f"Draws from lot {draw.lot!r}: there is no such lot.")
            elif lot.design != draw.design:
                yield Violation("lots", fill.line, f"Draws {draw.design} from lot {draw.lot}, which is {lot.design}.")
            if draw.pieces < 1:
                yield Violation("lots", fill.line, f"Draws {draw.pieces} pieces from lot {draw.lot}.")
    for name, pieces in sorted(drawn.items()):
        lot = lots_there.get(name)
        if lot is not None and pieces > lot.pieces:
            yield Violation("lots", f"lot {name}", f"{pieces} pieces are drawn; there are {lot.pieces}.")
    yield from _pack_lots(r, plan)
    yield from _fill_sell_by(r, plan)


def _lots_listed(r: Reading, plan: Plan) -> Findings:
    """The plan's list of lots says what the season and the batches say."""
    there = lots_of(r, plan)
    for name, count in sorted(Counter(lot.id for lot in plan.lots).items()):
        if count > 1:
            yield Violation("lots", f"lot {name}", f"It is listed {count} times.")
    for name, count in sorted(Counter(b.id for day in plan.days for b in day.batches).items()):
        if count > 1:
            yield Violation("lots", f"batch {name}", f"{count} batches have this id.")
    for lot in plan.lots:
        true = there.get(lot.id)
        if true is None:
            yield Violation("lots", f"lot {lot.id}", "It is no batch of the plan, no made batch and no opening stock.")
        elif lot != true:
            what = (
                f"Listed as {lot.pieces} {lot.design} made {lot.made}, sell by {lot.sell_by}; it is "
                f"{true.pieces} {true.design} made {true.made}, sell by {true.sell_by}."
            )
            yield Violation("lots", f"lot {lot.id}", what)
    listed = {lot.id for lot in plan.lots}
    for name in sorted({b.id for day in plan.days for b in day.batches} & there.keys() - listed):
        yield Violation("lots", f"batch {name}", "It is not in the list of lots.")


def _pack_lots(r: Reading, plan: Plan) -> Findings:
    """Finished packs given out stand ready in the named lot, and are not given out twice."""
    there = packs_on_hand(r.season)
    taken: dict[str, int] = defaultdict(int)
    for fill in plan.fills:
        if not fill.pack_lot:
            continue
        taken[fill.pack_lot] += fill.packs
        lot = there.get(fill.pack_lot)
        if lot is None or lot.product != fill.product:
            what = f"{fill.packs} {fill.product} from pack lot {fill.pack_lot!r}: no such packs stand ready."
            yield Violation("lots", fill.line, what)
        if fill.packed is not None:
            yield Violation("lots", fill.line, f"Packs of lot {fill.pack_lot} stand ready, yet are packed again.")
    for name, packs in sorted(taken.items()):
        if name in there and packs > there[name].packs:
            yield Violation("lots", f"lot {name}", f"{packs} packs are given out; there are {there[name].packs}.")


def _sell_bys(r: Reading, plan: Plan, fill: Fill, candy: dict[str, Lot], packs: dict[str, PackLot]) -> list[date]:
    if fill.pack_lot:
        return [packs[fill.pack_lot].sell_by] if fill.pack_lot in packs else []
    return [candy[d.lot].sell_by for d in fill.draws if d.lot in candy]


def _fill_sell_by(r: Reading, plan: Plan) -> Findings:
    """The sell-by on a fill is the earliest of what is inside."""
    candy, packs = lots_of(r, plan), packs_on_hand(r.season)
    for fill in plan.fills:
        days = _sell_bys(r, plan, fill, candy, packs)
        if days and fill.sell_by != min(days):
            what = f"Its sell-by is given as {fill.sell_by}; the earliest inside is {min(days)}."
            yield Violation("lots", fill.line, what)


def remaining_life(r: Reading, plan: Plan) -> Findings:
    """Sell-by of all that is inside is at least the delivery day plus the life asked for.

    Example: due 5 March with 30 days of life: sell-by 4 April or later.
    """
    candy, packs = lots_of(r, plan), packs_on_hand(r.season)
    lines = wanted_lines(r.season)
    for fill in plan.fills:
        line = lines.get(fill.line)
        if line is None:
            continue
        delivered = line.due if fill.packed is None else max(line.due, fill.packed)
        for sell_by in sorted(set(_sell_bys(r, plan, fill, candy, packs))):
            life = (sell_by - delivered) // timedelta(days=1)
            if life < line.life_days:
                what = f"Sell by {sell_by}, delivered {delivered}: {life} days left; {line.life_days} are asked for."
                yield Violation("remaining life", fill.line, what)
