"""Orders, stock and load read back and held against the plan."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from scheduler.audit.violation import Findings
from scheduler.audit.wall.cells import Cells
from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.words import Facts, count, day_short, differences, grid, rows, says, text
from scheduler.audit.wanted import filled_packs, wanted_lines
from scheduler.plan.types import DayPlan, Fill

ORDERS_SAID = (
    'A row a packing day. Priority 1 goes before 3. Sell-by is the earliest of what is inside; it counts '
    "from the boil. Sell-by days are the kitchen's own, under local food law."
)
FULL_SAID = (
    "Room for more: batches that could still be started, by stations, people and shows. Stations: minutes in use, "
    "cleaning included, of those in which batches can use them; the packing station, of the opening hours. "
    "People: minutes at a job of the minutes paid."
)
STOCK_SAID = "this plan is out. First expired goes out first. A planned lot's pieces are the design's usual yield."


def orders(wall: Wall, cells: Cells) -> Findings:
    """Each order and forecast: asked, covered, short; each fill: packed on, packs, lots, sell-by."""
    plan = wall.plan
    filled, lines = filled_packs(plan), wanted_lines(wall.r.season)
    expected: list[Facts] = []
    for name, (customer, kind, priority, confirmed) in told_of(wall).items():
        customer += " (confirmed)" if confirmed else ""
        if name in lines and (line := lines[name]).asked:
            short = line.asked - filled[name]
            ready = _ready([f for f in plan.fills if f.line == name], short, line.due)
            about = (name, customer, line.product, kind, priority, line.due)
            expected.append((*about, line.asked, filled[name], short or None, ready))
    headings = ("Order", "Customer", "Product", "Kind", "Priority", "Due", "Asked", "Covered", "Short", "Ready")
    found = [row for row in rows(cells, headings) if row[2] is not None]  # an order's further packing days say no more
    yield from differences("Orders", expected, found)
    made = {lot.id: f" ({day_short(lot.made)[4:]})" for lot in plan.lots}
    expected = []
    for fill in plan.fills:
        packed: object = "in stock" if fill.pack_lot else fill.packed
        of: dict[str, list[str]] = defaultdict(list)
        for d in fill.draws:
            of[d.design].append(f"{d.pieces:,} from {d.lot}{made.get(d.lot, '')}")
        lots = " ".join(f"{design}: {', '.join(parts)}" for design, parts in of.items())
        words = f"finished packs, lot {fill.pack_lot}" if fill.pack_lot else lots
        expected.append((fill.line, packed, fill.packs, words, fill.sell_by))
    found = [
        row for row in rows(cells, ("Order", "Packed on", "Packs", "From these lots (day made)", "Sell by")) if row[2]
    ]
    yield from differences("Orders, packing", expected, found)
    yield from says("Orders", ["Orders and forecasts", ORDERS_SAID], cells)


def told_of(wall: Wall) -> dict[str, tuple[str, str, int, bool]]:
    """Line -> customer, kind, priority, and whether it was confirmed."""
    season = wall.r.season
    lines = {f.id: ("", "forecast", f.priority, False) for f in season.forecasts}
    return lines | {o.id: (o.customer, o.kind, o.priority, o.confirmed) for o in season.orders}


def _ready(fills: list[Fill], short: int, due: date) -> str:
    late = max(((f.packed - due).days for f in fills if f.late and f.packed is not None), default=0)
    words = "no" if not fills else "part" if short else "yes"
    return words + (f", {count(late, 'day')} late" if late else "")


def stock(wall: Wall, cells: Cells) -> Findings:
    """Each lot: made, sell-by, pieces, used and left."""
    season, over = wall.r.season, 0
    goes_to: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for fill in wall.plan.fills:
        for draw in fill.draws:
            goes_to[draw.lot][fill.line] += draw.pieces
    origin = {s.lot: "in stock" for s in season.stock} | {m.batch: "made" for m in season.made}
    expected: list[Facts] = []
    for lot in wall.plan.lots:
        uses = goes_to[lot.id]
        used, said = sum(uses.values()), ", ".join(f"{line} {pieces:,}" for line, pieces in uses.items())
        about = (lot.id, lot.design, origin.get(lot.id, "planned"), lot.made, lot.sell_by)
        expected.append(
            (*about, lot.pieces, used, lot.pieces - used, said, _mind(wall, lot.sell_by, lot.pieces - used))
        )
        over += lot.pieces - used
    headings = ("Lot", "Design", "Where from", "Made", "Sell by", "Pieces", "Used", "Left", "For", "Mind")
    yield from differences("Stock", expected, rows(cells, headings))
    said = f"{count(len(wall.plan.lots), 'lot')}; {count(over, 'piece')} of them left over when every delivery of "
    yield from says("Stock", ["Stock and sell-by", said + STOCK_SAID], cells)


def _mind(wall: Wall, sell_by: date, left: int) -> str:
    """A warning where left-over candy will not last four weeks beyond the season."""
    days = (sell_by - wall.r.kitchen.last_day).days
    if left <= 0 or days > 28:
        return ""
    end = (
        "past sell-by before the season ends"
        if days <= 0
        else f"to sell within {count(days, 'day')} of the season's end"
    )
    return f"{count(left, 'piece')} {end}"


def how_full(wall: Wall, cells: Cells) -> Findings:
    """Each open day: batches, room for more, packs, people, hours paid, people at work, each station's share."""
    columns = ("Batches", "Room for more", "Packs packed", "People in", "Hours paid", "People at work")
    names = (*columns, *(s.name for s in wall.r.season.stations))
    expected: list[Facts] = []
    for day, most in wall.full.most.items():
        own = wall.day.get(day, DayPlan(day))
        used, busy, paid = wall.load(own)
        about = [len(own.batches), most - len(own.batches), packs(own), len(own.shifts), paid / 1440]
        room = wall.full.room[day]
        shares = [round(min(used[s], room[s]) / room[s], 4) if room[s] else 0 for s in names[len(columns) :]]
        values = [*about, busy / paid if paid else 0, *shares]
        expected += [(day, name, value) for name, value in zip(names, values, strict=True)]
    heads = [number for number, row in cells.items() if text(row, 1) == "Day" and text(row, 2) == "Batches"]
    yield from differences("How full", expected, grid(cells, heads[0]) if heads else [])
    yield from says("How full", ["How full each day is", FULL_SAID], cells)


def packs(day: DayPlan) -> int:
    return sum(pack.packs for pack in day.packing)
