"""Orders, stock, shortfall, calendar, load and first sheet read back and held against the plan."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from scheduler.audit.totals import labour_cost
from scheduler.audit.violation import Findings, Violation, clock
from scheduler.audit.wall import Cells
from scheduler.audit.wall_plan import Wall
from scheduler.audit.wall_words import Facts, count, day_short, differences, grid, plain, rows, text
from scheduler.audit.wanted import filled_packs, wanted_lines
from scheduler.audit.weeks import paid_minutes
from scheduler.plan.types import DayPlan, Fill


def calendar(wall: Wall, cells: Cells) -> Findings:
    """Batches of each design on each day, batches in all, packs packed, people in."""
    designs = [str(plain(d.name)) for d in wall.r.season.designs]
    found, done = list[Facts](), 0
    for number, row in cells.items():
        if number <= done or text(row, 1) != "Design":
            continue
        done = number + 1  # the row of marks
        while 1 in cells.get(done + 1, {}):
            done += 1
            name, at = text(cells[done], 1), done - number - 2
            if at < len(designs) and name != designs[at]:
                found.append((name, "stands where the design should", designs[at]))
            if at < len(designs) or name in ("Batches", "Packs packed", "People in"):
                found += [(at < len(designs), name, row.get(c), v) for c, v in cells[done].items() if c > 1]
    expected: list[Facts] = []
    for day in wall.plan.days:
        made: dict[str, int] = defaultdict(int)
        for batch in day.batches:
            made[batch.design] += 1
        sums = {"Batches": len(day.batches), "Packs packed": _packs(day), "People in": len(day.shifts)}
        for of_design, numbers in ((True, made), (False, sums)):
            expected += [(of_design, name, day.day, n) for name, n in numbers.items() if n]
    yield from differences("Calendar", expected, found)


def orders(wall: Wall, cells: Cells) -> Findings:
    """Each order and forecast: asked, covered, short; each fill: packed on, packs, lots, sell-by."""
    plan = wall.plan
    filled, lines = filled_packs(plan), wanted_lines(wall.r.season)
    expected: list[Facts] = []
    for name, (customer, kind, priority) in _about(wall).items():
        if name in lines and (line := lines[name]).asked:
            short = line.asked - filled[name]
            ready = _ready([f for f in plan.fills if f.line == name], short, line.due)
            about = (name, customer, line.product, kind, priority, line.due)
            expected.append((*about, line.asked, filled[name], short or None, ready))
    headings = ("Order", "Customer", "Product", "Kind", "First", "Due", "Asked", "Covered", "Short", "Ready")
    found = [row for row in rows(cells, headings) if row[2] is not None]  # an order's further packing days say no more
    yield from differences("Orders", expected, found)
    made = {lot.id: f", made {day_short(lot.made)}" for lot in plan.lots}
    expected = []
    for fill in plan.fills:
        packed: object = "in stock" if fill.pack_lot else fill.packed
        lots = " ".join(f"{d.pieces:,} {d.design} from {d.lot}{made.get(d.lot, '')}" for d in fill.draws)
        words = f"finished packs, lot {fill.pack_lot}" if fill.pack_lot else lots
        expected.append((fill.line, packed, fill.packs, words, fill.sell_by))
    found = [row for row in rows(cells, ("Order", "Packed on", "Packs", "From these lots", "Sell by")) if row[2]]
    yield from differences("Orders, packing", expected, found)


def _about(wall: Wall) -> dict[str, tuple[str, str, int]]:
    """Line -> customer as written, kind, priority."""
    season = wall.r.season
    about = {f.id: ("", "forecast", f.priority) for f in season.forecasts}
    return about | {
        o.id: (o.customer + (" (confirmed)" if o.confirmed else ""), o.kind, o.priority) for o in season.orders
    }


def _ready(fills: list[Fill], short: int, due: date) -> str:
    late = max(((f.packed - due).days for f in fills if f.late and f.packed is not None), default=0)
    words = "no" if not fills else "part" if short else "yes"
    return words + (f", {count(late, 'day')} late" if late else "")


def stock(wall: Wall, cells: Cells) -> Findings:
    """Each lot: made, sell-by, pieces, used and left."""
    season = wall.r.season
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
        expected.append((*about, lot.pieces, used, lot.pieces - used, said))
    headings = ("Lot", "Design", "Where from", "Made", "Sell by", "Pieces", "Used", "Left", "For")
    yield from differences("Stock", expected, rows(cells, headings))


def shortfall(wall: Wall, cells: Cells) -> Findings:
    """Each shortfall: asked, packs and pieces short."""
    lines, about, orders = wanted_lines(wall.r.season), _about(wall), wall.r.season.order_by_id
    expected: list[Facts] = []
    for short in wall.plan.shortfalls:
        if (line := lines.get(short.line)) is not None:
            customer = orders[short.line].customer if short.line in orders else ""
            words = (short.line, customer, line.product, about[short.line][1])
            expected.append((*words, line.due, line.asked, short.packs, short.pieces))
    headings = ("Order", "Customer", "Product", "Kind", "Due", "Asked", "Packs short", "Pieces short")
    yield from differences("Shortfall", expected, rows(cells, headings))


def glance(wall: Wall, cells: Cells) -> Findings:
    """The figures of the first sheet: batches, packs short, labour cost."""
    asked = sum(line.asked for line in wanted_lines(wall.r.season).values())
    short, cost = sum(s.packs for s in wall.plan.shortfalls), labour_cost(wall.r, wall.plan)
    said = {
        "Made": f"{sum(len(d.batches) for d in wall.plan.days):,} batch",
        "Short": f"{count(short, 'pack')} of {asked:,}" if short else "",
        "Labour": f"{cost // 100:,}.{cost % 100:02d}",
    }
    for label, words in said.items():
        lines = [text(row, 2) for row in cells.values() if text(row, 1) == label]
        if not any(words in line for line in lines):
            yield Violation("workbook", "At a glance", f"{label} should say: {words}; it says: {' '.join(lines)}")


def how_full(wall: Wall, cells: Cells) -> Findings:
    """Each open day: batches, packs, people, hours paid, people at work, and each station's share of its minutes."""
    columns = ("Batches", "Packs packed", "People in", "Hours paid", "People at work")
    names = (*columns, *(s.name for s in wall.r.season.stations))
    expected: list[Facts] = [
        (day, name, figure)
        for day in wall.r.season.days
        if wall.r.hours(day) is not None or day in wall.day
        for name, figure in zip(names, _load(wall, wall.day.get(day, DayPlan(day))), strict=True)
    ]
    heads = [number for number, row in cells.items() if text(row, 1) == "Day" and text(row, 2) == "Batches"]
    yield from differences("How full", expected, grid(cells, heads[0]) if heads else [])


def _load(wall: Wall, day: DayPlan) -> list[float]:
    r, used = wall.r, defaultdict[str, int](int)
    for station, starts, ends in (
        *((run.station, run.starts, run.ends) for b in day.batches for run in b.runs),
        *((task.station, task.starts, task.ends) for task in day.tasks if task.kind == "clean"),
        *((r.kitchen.packing_station, pack.starts, pack.ends) for pack in day.packing),
    ):
        used[station] += ends - starts
    work = [w for own in wall.work.get(day.day, {}).values() for w in own if w.short != "break"]
    busy, paid = sum(w.ends - w.starts for w in work), sum(paid_minutes(r, shift) for shift in day.shifts)
    opens, closes = r.hours(day.day) or (0, 0)
    room = {s.name: s.places * (closes - opens) for s in r.season.stations}
    shares = [round(used[name] / minutes, 4) if minutes else 0 for name, minutes in room.items()]
    return [len(day.batches), _packs(day), len(day.shifts), paid / 1440, busy / paid if paid else 0, *shares]


def _packs(day: DayPlan) -> int:
    return sum(pack.packs for pack in day.packing)


def contents(wall: Wall, cells: Cells) -> Findings:
    """The list of run sheets: batches, first pour, done, packs."""
    expected: list[Facts] = []
    for day in wall.plan.days:
        runs = [run for batch in day.batches for run in batch.runs]
        first = clock(min(run.starts for run in runs)) if runs else None
        done = clock(max(run.ends for run in runs)) if runs else None
        expected.append((day.day, len(day.batches), first, done, _packs(day)))
    found = rows(cells, ("Run sheet", "Batches", "First pour", "Done", "Packs"))
    yield from differences("Contents", expected, found)
