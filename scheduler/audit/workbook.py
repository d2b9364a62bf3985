"""The written workbook, read back: what hangs on the wall is what the plan says."""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta
from pathlib import Path

from scheduler.audit.people import pulls_of
from scheduler.audit.readings import Reading
from scheduler.audit.totals import labour_cost
from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wall import CannotRead, Cells, read_sheets
from scheduler.audit.wall_days import jobs, run_sheets
from scheduler.audit.wall_words import Facts, day_long, day_short, differences, length, plain, span, tables, text
from scheduler.audit.wanted import filled_packs, wanted_lines
from scheduler.audit.weeks import paid_minutes, paid_weeks, week_of
from scheduler.plan.types import DayPlan, Plan, Shift
from scheduler.season.types import Person, Season

CREW_SHEETS = ("Calendar", "Crew")
OFFICE_SHEETS = ("Orders", "Stock", "Shortfall", "At a glance")


def audit_workbook(season: Season, plan: Plan, path: Path | str, crew_only: bool = False) -> tuple[Violation, ...]:
    """Read a plan's workbook back cell by cell and hold it against the plan; empty is equal.

    ``crew_only``: the workbook without customers, prices and pay. Blanks that people fill in
    are not looked at. The rule of every violation is ``workbook``; ``where`` is the sheet.
    """
    try:
        sheets = read_sheets(Path(path))
    except CannotRead as trouble:
        return (Violation("workbook", "file", str(trouble)),)
    return audit_sheets(season, plan, sheets, crew_only)


def audit_sheets(
    season: Season, plan: Plan, sheets: dict[str, Cells], crew_only: bool = False
) -> tuple[Violation, ...]:
    """Hold the cells of a workbook, by sheet, against the plan; see ``audit_workbook``."""
    reading = Reading(season, (plan.from_day, plan.from_minute))
    wanted = (*CREW_SHEETS, *(() if crew_only else OFFICE_SHEETS))
    found = [Violation("workbook", name, "This sheet is missing.") for name in wanted if name not in sheets]
    found += run_sheets(reading, plan, sheets)
    found += _pages(reading, plan, sheets)
    for name, check in (("Crew", _crew), ("Calendar", _calendar)):
        found += check(reading, plan, sheets.get(name, {}))
    if not crew_only:
        for name, check in (("Orders", _orders), ("Stock", _stock), ("Shortfall", _short), ("At a glance", _glance)):
            found += check(reading, plan, sheets.get(name, {}))
    return tuple(found)


def _crew(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """Each person's week: days with hours, jobs and pulls; hours, contract, overtime and pulls at the right."""
    found: list[Facts] = []
    for number, row in cells.items():
        if not text(row, 1).startswith("Week ") or len(row) < 2:
            continue
        at = number + 1
        while 1 in cells.get(at, {}) and len(cells[at]) > 1:
            line = cells[at]
            days = tuple(text(line, column) if ":" in text(line, column) else "" for column in range(2, 9))
            found.append((text(row, 2), line[1], *days, *(line.get(column) for column in range(9, 15))))
            at += 1
    expected: list[Facts] = []
    paid, pulls = paid_weeks(r, plan), _week_pulls(r, plan)
    by_day = {day.day: day for day in plan.days}
    first, last = r.kitchen.first_day, r.kitchen.last_day
    monday = first - timedelta(days=first.weekday())
    while monday <= last:
        for person in r.season.crew:
            week = week_of(person.name, monday)
            days = tuple(_crew_day(r, by_day.get(monday + timedelta(days=i)), person) for i in range(7))
            minutes = paid.get(week, 0)
            over = max(0, minutes - person.contracted_minutes)
            sums = (minutes / 1440, person.contracted_minutes / 1440, person.longest_minutes / 1440, over / 1440)
            expected.append((day_short(monday), person.name, *days, *sums, pulls.get(week, 0), person.pulls_week))
        monday += timedelta(days=7)
    yield from differences("Crew", expected, found)


def _crew_day(r: Reading, day: DayPlan | None, person: Person) -> str:
    shift = _shift(day, person.name)
    if day is None or shift is None:
        return ""
    number = sum(words != "break" for _, _, words, _ in jobs(day).get(person.name, []))
    said = f"{span(shift.starts, shift.ends)} {number} {'job' if number == 1 else 'jobs'}"
    pulls = _day_pulls(r, day).get(person.name, 0)
    return said + (f" {pulls} of {person.pulls_day} pulls" if pulls else "")


def _shift(day: DayPlan | None, person: str) -> Shift | None:
    return next((s for s in day.shifts if s.person == person), None) if day is not None else None


def _day_pulls(r: Reading, day: DayPlan) -> dict[str, int]:
    return {name: sum(pulls for _, _, pulls, _ in runs) for name, runs in pulls_of(r, day).items()}


def _week_pulls(r: Reading, plan: Plan) -> dict[tuple[str, int, int], int]:
    weeks: dict[tuple[str, int, int], int] = defaultdict(int)
    for day in plan.days:
        for name, pulls in _day_pulls(r, day).items():
            weeks[week_of(name, day.day)] += pulls
    return weeks


def _calendar(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """Batches of each design on each day, batches in all, packs packed, people in."""
    rows = {d.name for d in r.season.designs} | {"Batches", "Packs packed", "People in"}
    found: list[Facts] = []
    for number, row in cells.items():
        if text(row, 1) != "Design":
            continue
        at = number + 1
        while 1 in cells.get(at, {}):
            name = text(cells[at], 1)
            found += [(name, row.get(c), v) for c, v in cells[at].items() if c > 1 and name in map(plain, rows)]
            at += 1
    expected: list[Facts] = []
    for day in plan.days:
        made: dict[str, int] = defaultdict(int)
        for batch in day.batches:
            made[batch.design] += 1
        made["Batches"] += len(day.batches)
        made["Packs packed"] += sum(pack.packs for pack in day.packing)
        made["People in"] += len(day.shifts)
        expected += [(name, day.day, n) for name, n in made.items() if n]
    yield from differences("Calendar", expected, found)


def _orders(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """Each order and forecast: asked, covered, short; each fill: packed on, packs, lots, sell-by."""
    headings: tuple[str, ...] = ("Order", "Customer", "Product", "Kind", "First", "Due", "Asked", "Covered", "Short")
    found = [row for _, rows in tables(cells, headings) for row in rows if row[2] is not None]
    filled = filled_packs(plan)
    about = {f.id: ("", "forecast", f.priority) for f in r.season.forecasts}
    about |= {
        o.id: (o.customer + (" (confirmed)" if o.confirmed else ""), o.kind, o.priority) for o in r.season.orders
    }
    expected: list[Facts] = []
    for name, line in wanted_lines(r.season).items():
        if line.asked:
            customer, kind, priority = about[name]
            short = line.asked - filled[name]
            expected.append(
                (name, customer, line.product, kind, priority, line.due, line.asked, filled[name], short or None)
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


def _stock(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """Each lot: made, sell-by, pieces, used and left."""
    used: dict[str, int] = defaultdict(int)
    for fill in plan.fills:
        for draw in fill.draws:
            used[draw.lot] += draw.pieces
    expected: list[Facts] = [
        (x.id, x.design, x.made, x.sell_by, x.pieces, used[x.id], x.pieces - used[x.id]) for x in plan.lots
    ]
    headings = ("Lot", "Design", "Made", "Sell by", "Pieces", "Used", "Left")
    yield from differences("Stock", expected, [row for _, rows in tables(cells, headings) for row in rows])


def _short(r: Reading, plan: Plan, cells: Cells) -> Findings:
    """Each shortfall: asked, packs and pieces short."""
    lines = wanted_lines(r.season)
    expected: list[Facts] = [
        (s.line, lines[s.line].product, lines[s.line].due, lines[s.line].asked, s.packs, s.pieces)
        for s in plan.shortfalls
        if s.line in lines
    ]
    headings = ("Order", "Product", "Due", "Asked", "Packs short", "Pieces short")
    yield from differences("Shortfall", expected, [row for _, rows in tables(cells, headings) for row in rows])


def _glance(r: Reading, plan: Plan, cells: Cells) -> Findings:
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


def _pages(r: Reading, plan: Plan, sheets: dict[str, Cells]) -> Findings:
    """Each person's page: own weeks, days and jobs."""
    pages = {text(cells.get(1, {}), 1): (t, cells) for t, cells in sheets.items() if t.startswith("Person ")}
    for person in r.season.crew:
        title, cells = pages.get(str(plain(person.name)), ("", {}))
        if not title:
            yield Violation("workbook", person.name, "There is no page for this person.")
            continue
        headings: tuple[str, ...] = ("From", "To", "What", "As", "Design", "Batch", "Where", "Pulls")
        found: list[Facts] = []
        for number, rows in tables(cells, headings):
            head, about = text(cells.get(number - 2, {}), 1), text(cells.get(number - 1, {}), 1)
            found += [(head, about), *((head, *row) for row in rows)]
        yield from differences(title, [row for day in plan.days for row in _page_day(r, day, person)], found)
        headings = ("Week", "Days", "Hours", "Contract", "Longest", "Overtime", "Pulls", "Most pulls")
        rows = [row for _, rows in tables(cells, headings) for row in rows]
        yield from differences(f"{title}, weeks", _page_weeks(r, plan, person), rows)


def _page_weeks(r: Reading, plan: Plan, person: Person) -> list[Facts]:
    days: dict[tuple[str, int, int], int] = defaultdict(int)
    for day in plan.days:
        if _shift(day, person.name):
            days[week_of(person.name, day.day)] += 1
    paid, pulls = paid_weeks(r, plan), _week_pulls(r, plan)
    contract, longest = person.contracted_minutes, person.longest_minutes
    return [
        (
            str(week[2]), number, paid[week] / 1440, contract / 1440, longest / 1440,
            max(0, paid[week] - contract) / 1440, pulls.get(week, 0), person.pulls_week,
        )
        for week, number in days.items()
    ]  # fmt: skip


def _page_day(r: Reading, day: DayPlan, person: Person) -> list[Facts]:
    shift = _shift(day, person.name)
    if shift is None:
        return []
    head = f"{day_long(day.day)}, {span(shift.starts, shift.ends)}"
    about = [f"{length(paid_minutes(r, shift))} paid"]
    if shift.break_starts is not None and shift.break_ends is not None:
        about.append(f"break {span(shift.break_starts, shift.break_ends)}")
    pulls = _day_pulls(r, day).get(person.name, 0)
    about += [f"{pulls} of {person.pulls_day} pulls"] if pulls else []
    out: list[Facts] = [(head, ", ".join(about))]
    return out + [(head, job[0] / 1440, job[1] / 1440, *job[2:]) for job in _page_jobs(r, day, shift)]


PageJob = tuple[int, int, str, str | None, str | None, str | None, str | None, int | None]


def _page_jobs(r: Reading, day: DayPlan, shift: Shift) -> list[PageJob]:
    """(starts, ends, what, as, design, batch, where, pulls) of a person's day."""
    name, out = shift.person, list[PageJob]()
    for batch in day.batches:
        for run in batch.runs:
            for role, person in run.crew:
                if person == name:
                    pulls = r.pulls(batch.design, run.stage, role) or None
                    where = _where(r, run.station, run.place)
                    out.append((run.starts, run.ends, run.stage, role, batch.design, batch.id, where, pulls))
    words = {"opening": "open up", "closing": "close down"}
    for task in day.tasks:
        if name in task.people:
            said = {"clean": f"clean, {task.note}" if task.note else "clean", "show": f"show hand, {task.note}"}
            what = said.get(task.kind, words.get(task.kind, ""))
            at = _where(r, task.station, task.place) if task.station else None
            out.append((task.starts, task.ends, what, None, None, None, at, None))
    for pack in day.packing:
        if pack.person == name:
            what = f"pack {pack.packs:,} {'pack' if pack.packs == 1 else 'packs'} of {pack.product}"
            where = _where(r, r.kitchen.packing_station, pack.place)
            out.append((pack.starts, pack.ends, what, None, None, None, where, None))
    if shift.break_starts is not None and shift.break_ends is not None:
        out.append((shift.break_starts, shift.break_ends, "break", None, None, None, None, None))
    return out


def _where(r: Reading, station: str, place: int) -> str:
    return f"{station} {place}" if r.season.places.get(station, 1) > 1 else station
