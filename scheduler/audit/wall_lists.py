"""Orders, stock, shortfall, calendar, load and first sheet read back and held against the plan."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from scheduler.audit.readings import Reading
from scheduler.audit.totals import labour_cost
from scheduler.audit.violation import Findings, Violation, clock
from scheduler.audit.wall import Cells
from scheduler.audit.wall_days import jobs
from scheduler.audit.wall_words import Facts, day_short, differences, plain, tables, text
from scheduler.audit.wanted import filled_packs, wanted_lines
from scheduler.audit.weeks import paid_minutes
from scheduler.plan.types import DayPlan, Fill, Plan


def calendar(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """Batches of each design on each day, batches in all, packs packed, people in."""
    designs = [str(plain(d.name)) for d in r.season.designs]
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
                kind = "design" if at < len(designs) else "all"
                found += [(kind, name, row.get(c), v) for c, v in cells[done].items() if c > 1]
    expected: list[Facts] = []
    for day in plan.days:
        made: dict[str, int] = defaultdict(int)
        for batch in day.batches:
            made[batch.design] += 1
        expected += [("design", name, day.day, n) for name, n in made.items()]
        sums = (len(day.batches), sum(pack.packs for pack in day.packing), len(day.shifts))
        names = ("Batches", "Packs packed", "People in")
        expected += [("all", name, day.day, n) for name, n in zip(names, sums, strict=True) if n]
    yield from differences("Calendar", expected, found)


def orders(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """Each order and forecast: asked, covered, short; each fill: packed on, packs, lots, sell-by."""
    headings: tuple[str, ...]
    headings = ("Order", "Customer", "Product", "Kind", "First", "Due", "Asked", "Covered", "Short", "Ready")
    found = [row for _, rows in tables(cells, headings) for row in rows if row[2] is not None]
    filled = filled_packs(plan)
    about = _about(r)
    expected: list[Facts] = []
    for name, line in wanted_lines(r.season).items():
        if line.asked:
            customer, kind, priority = about[name]
            short = line.asked - filled[name]
            expected.append(
                (
                    name, customer, line.product, kind, priority, line.due, line.asked, filled[name], short or None,
                    _ready([f for f in plan.fills if f.line == name], short, line.due),
                )  # fmt: skip
            )
    yield from differences("Orders", expected, found)
    made = {lot.id: lot.made for lot in plan.lots}
    expected = []
    for fill in plan.fills:
        packed: object = "in stock" if fill.pack_lot else fill.packed
        lots = " ".join(
            f"{d.pieces:,} {d.design} from {d.lot}" + (f", made {day_short(made[d.lot])}" if d.lot in made else "")
            for d in fill.draws
        )
        words = f"finished packs, lot {fill.pack_lot}" if fill.pack_lot else lots
        expected.append((fill.line, packed, fill.packs, words, fill.sell_by))
    headings = ("Order", "Packed on", "Packs", "From these lots", "Sell by")
    found = [row for _, rows in tables(cells, headings) for row in rows if row[2] is not None]
    yield from differences("Orders, packing", expected, found)


def _about(r: Reading) -> dict[str, tuple[str, str, int]]:
    """Line -> customer as written, kind, priority."""
    about = {f.id: ("", "forecast", f.priority) for f in r.season.forecasts}
    return about | {
        o.id: (o.customer + (" (confirmed)" if o.confirmed else ""), o.kind, o.priority) for o in r.season.orders
    }


def _who(r: Reading, line: str) -> str:
    order = r.season.order_by_id.get(line)
    return order.customer if order is not None else ""


def _ready(fills: list[Fill], short: int, due: date) -> str:
    late = max(((f.packed - due).days for f in fills if f.late and f.packed is not None), default=0)
    words = "no" if not fills else "part" if short else "yes"
    return words + (f", {late} {'day' if late == 1 else 'days'} late" if late else "")


def stock(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """Each lot: made, sell-by, pieces, used and left."""
    used: dict[str, int] = defaultdict(int)
    goes_to: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for fill in plan.fills:
        for draw in fill.draws:
            used[draw.lot] += draw.pieces
            goes_to[draw.lot][fill.line] += draw.pieces
    stocked, made = {s.lot for s in r.season.stock}, {m.batch for m in r.season.made}
    expected: list[Facts] = [
        (
            x.id, x.design, "in stock" if x.id in stocked else "made" if x.id in made else "planned",
            x.made, x.sell_by, x.pieces, used[x.id], x.pieces - used[x.id],
            ", ".join(f"{line} {pieces:,}" for line, pieces in goes_to[x.id].items()),
        )
        for x in plan.lots
    ]  # fmt: skip
    headings = ("Lot", "Design", "Where from", "Made", "Sell by", "Pieces", "Used", "Left", "For")
    yield from differences("Stock", expected, [row for _, rows in tables(cells, headings) for row in rows])


def shortfall(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """Each shortfall: asked, packs and pieces short."""
    lines = wanted_lines(r.season)
    about = _about(r)
    expected: list[Facts] = [
        (s.line, _who(r, s.line), lines[s.line].product, about[s.line][1], lines[s.line].due, lines[s.line].asked,
         s.packs, s.pieces)
        for s in plan.shortfalls
        if s.line in lines
    ]  # fmt: skip
    headings = ("Order", "Customer", "Product", "Kind", "Due", "Asked", "Packs short", "Pieces short")
    yield from differences("Shortfall", expected, [row for _, rows in tables(cells, headings) for row in rows])


def glance(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """The figures of the first sheet: batches, packs short, labour cost."""
    asked = sum(line.asked for line in wanted_lines(r.season).values())
    short = sum(s.packs for s in plan.shortfalls)
    cost = labour_cost(r, plan)
    said = {
        "Made": f"{sum(len(d.batches) for d in plan.days):,} batch",
        "Short": f"{short:,} pack" if short else "",
        "Labour": f"{cost // 100:,}.{cost % 100:02d}",
    }
    if short:
        said["Short"] = f"{short:,} pack{'' if short == 1 else 's'} of {asked:,}"
    for label, words in said.items():
        lines = [text(row, 2) for row in cells.values() if text(row, 1) == label]
        if not any(words in line for line in lines):
            yield Violation("workbook", "At a glance", f"{label} should say: {words}; it says: {' '.join(lines)}")




def how_full(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """Each open day: batches, packs, people, hours paid, people at work, and each station's share of its minutes."""
    stations = [s.name for s in r.season.stations]
    by_day = {day.day: day for day in plan.days}
    expected: list[Facts] = []
    for day in r.season.days:
        if r.hours(day) is not None or day in by_day:
            expected.append((day, *_load(r, by_day.get(day, DayPlan(day)), stations)))
    found: list[Facts] = []
    for number, rows in tables(cells, ("Day", "Batches", "Packs packed", "People in", "Hours paid", "People at work")):
        columns = {text(cells[number], column): column for column in cells[number] if column > 6}
        for at, row in enumerate(rows, number + 1):
            shares = (cells[at].get(columns.get(str(plain(name)), 0)) for name in stations)
            found.append((*row[:5], *(round(v, 3) if isinstance(v, float) else v for v in (row[5], *shares))))
    yield from differences("How full", expected, found)


def _load(r: Reading, day: DayPlan, stations: list[str]) -> Facts:
    used: dict[str, int] = defaultdict(int)
    for station, starts, ends in (
        *((run.station, run.starts, run.ends) for b in day.batches for run in b.runs),
        *((task.station, task.starts, task.ends) for task in day.tasks if task.kind == "clean"),
        *((r.kitchen.packing_station, pack.starts, pack.ends) for pack in day.packing),
    ):
        used[station] += ends - starts
    busy = sum(ends - starts for own in jobs(day).values() for starts, ends, words in own if words != "break")
    paid = sum(paid_minutes(r, shift) for shift in day.shifts)
    opens, closes = r.hours(day.day) or (0, 0)
    shares = []
    for station in stations:
        room = r.season.places.get(station, 0) * (closes - opens)
        shares.append(round(round(used[station] / room, 4), 3) if room else 0)
    packs = sum(pack.packs for pack in day.packing)
    return (len(day.batches), packs, len(day.shifts), paid / 1440, round(busy / paid, 3) if paid else 0, *shares)


def contents(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """The list of run sheets: batches, first pour, done, packs."""
    expected: list[Facts] = []
    for day in plan.days:
        runs = [run for batch in day.batches for run in batch.runs]
        first = clock(min(run.starts for run in runs)) if runs else None
        done = clock(max(run.ends for run in runs)) if runs else None
        expected.append((day.day, len(day.batches), first, done, sum(pack.packs for pack in day.packing)))
    headings = ("Run sheet", "Batches", "First pour", "Done", "Packs")
    yield from differences("Contents", expected, [row for _, rows in tables(cells, headings) for row in rows])
