"""First sheet, contents, calendar and changes read back and held against the plan."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from datetime import date, timedelta

from scheduler.audit.totals import labour_cost
from scheduler.audit.violation import Findings, clock
from scheduler.audit.wall.cells import Cells
from scheduler.audit.wall.lists import packs, told_of
from scheduler.audit.wall.margins import contracts, no_slack, spare_batches
from scheduler.audit.wall.missing import better_words, in_order, short_words
from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.scarce import rounded, scarce
from scheduler.audit.wall.why import mending
from scheduler.audit.wall.words import (
    WEEKDAYS,
    Facts,
    count,
    day_short,
    differences,
    length,
    money,
    month_name,
    names,
    percent,
    rows,
    says,
    text,
)
from scheduler.audit.wanted import wanted_lines
from scheduler.plan.types import DayPlan

CAUTIONS = (
    "Hot sugar burns deeply and sticks: gloves, sleeves, a clear path, cold water at hand, visitors behind a barrier.",
    "Pulling is repetitive heavy work. The pull limits are the kitchen's own; no published standard gives pulls a day. "
    "Local rules on working time, young workers and manual work come first, and a qualified adviser decides.",
    "Allergens: the run order is help, not a cleaning validation. Sell-by days are the kitchen's own, under local "
    "food law.",
)
LISTED = {
    "At a glance": "what is made, what is short, what would mend it, what it costs",
    "What changed": "after news: before and now, by day and person; whom to call, what to print again",
    "Calendar": "designs by days, how full each day is",
    "Shortfall": "what is short, for whom, what would mend it and what stands in the way",
    "Orders": "each order and forecast: covered, packed when, from which lots",
    "Stock": "lots with made and sell-by days, and what is left over",
    "To buy": "what this plan takes, how much is to be bought, and the last day to order it",
    "Crew": "people by days: hours, jobs, pulls against the limits",
    "How full": "the figures behind the load picture",
}
BLOCK_WEEKS = 6  # of the calendar on a page
NAMED = 6  # lines that are short, on the first sheet; where one more is, it is named, too


def contents(wall: Wall, cells: Cells, titles: Collection[str]) -> Findings:
    """Every sheet and person is listed, and each day with its batches, first pour, end, packs and designs."""
    listed = [title for title in titles if title != "Contents" and not title.startswith(("Day ", "Person "))]
    expected: list[Facts] = [("sheet", title, LISTED.get(title)) for title in listed]
    days = [day.day for day in wall.plan.days]
    for person in wall.r.season.crew:
        own = sum((person.name, day) in wall.shift for day in days)
        expected.append(("person", person.name, count(own, "day")))
    for day in wall.plan.days:
        runs = [run for batch in day.batches for run in batch.runs]
        first = clock(day.batches[0].runs[0].starts) if runs else None
        done = clock(max(run.ends for run in runs)) if runs else None
        made: dict[str, int] = defaultdict(int)
        for batch in day.batches:
            made[batch.design] += 1
        what = ", ".join(f"{number} {name}" for name, number in made.items())
        what = what or ("packing only" if day.packing else "no batch")
        expected.append((day.day, len(day.batches), first, done, packs(day), what))
    found = rows(cells, ("Run sheet", "Batches", "First start", "Done", "Packs", "What"))
    number = 3  # below the title, a line of words and an empty row
    while len(row := cells.get(number, {})) > 1 or number == 3:
        found += [("sheet", row[1], row.get(2))] if 1 in row else []
        found += [("person", row[7], row.get(8))] if 7 in row else []
        number += 1
    yield from differences("Contents", expected, found)
    yield from says("Contents", ["Contents", *(["Run sheets"] if wall.plan.days else [])], cells, 400)


def calendar(wall: Wall, cells: Cells) -> Findings:
    """Each block of weeks: weeks, weekdays, dates, marks, batches of each design, sums and shares; days to know."""
    kitchen = wall.r.kitchen
    monday, mondays = kitchen.first_day - timedelta(days=kitchen.first_day.weekday()), list[date]()
    while monday <= kitchen.last_day:
        mondays.append(monday)
        monday += timedelta(days=7)
    expected: list[Facts] = []
    for at in range(0, len(mondays), BLOCK_WEEKS):
        expected += _block(wall, at // BLOCK_WEEKS, mondays[at : at + BLOCK_WEEKS])
    found, done, block = list[Facts](), 0, 0
    for number, row in cells.items():
        if number <= done or text(row, 1) != "Design" or len(row) < 2:
            continue
        found += [(block, "weeks", column, value) for column, value in cells.get(number - 2, {}).items()]
        found += [(block, "weekdays", column, value) for column, value in cells.get(number - 1, {}).items()]
        done = number
        while 1 in (line := cells.get(done, {})):
            name = text(line, 1)
            found += [(block, name, column, value) for column, value in line.items() if column > 1 or len(line) == 1]
            done += 1
        block += 1
    yield from differences("Calendar", expected, found)
    legend = (
        "C closed, H holiday, S show, X show not held, D something is due. The number beside a design is its batches "
        'that day. "Most batches": how many could be started at most, by stations, people and shows. '
        '"People % at work": minutes at a job of the minutes paid. The darker, the fuller; hatched or grey: closed. '
        "A date leads to its run sheet."
    )
    yield from says("Calendar", [f"Calendar, {wall.r.kitchen.name}", legend], cells)


def _block(wall: Wall, block: int, mondays: list[date]) -> list[Facts]:
    """The cells of a block that are not blank; a row without any is there by its name."""
    season, most = wall.r.season, wall.full.most
    days = [monday + timedelta(days=i) for monday in mondays for i in range(7)]
    due: dict[date, int] = defaultdict(int)
    for line in wanted_lines(season).values():
        due[line.due] += line.asked
    out: list[Facts] = []
    for at, monday in enumerate(mondays):
        sunday = monday + timedelta(days=6)
        month = month_name(monday) + ("" if sunday.month == monday.month else f" / {month_name(sunday)}")
        out.append((block, "weeks", 2 + 7 * at, f"{month} {sunday.year}, week {monday.isocalendar()[1]}"))
    shown = [day if wall.r.kitchen.first_day <= day <= wall.r.kitchen.last_day else None for day in days]
    out += [(block, "weekdays", 2 + at, WEEKDAYS[day.weekday()][:2]) for at, day in enumerate(days)]
    table: list[tuple[str, list[object]]] = [
        ("Design", list(shown)),
        ("Marks", [day and _marks(wall, day, due[day]) for day in shown]),
    ]
    empty = DayPlan(date.min)
    plans = [wall.day.get(day, empty) for day in days]
    table += [(d.name, [sum(b.design == d.name for b in plan.batches) for plan in plans]) for d in season.designs]
    loads = [wall.load(plan) for plan in plans]
    table += [
        ("Batches", [len(plan.batches) for plan in plans]),
        ("Most batches", [most.get(day) for day in days]),
        ("Packs packed", [packs(plan) for plan in plans]),
        ("Packs due", [due[day] for day in days]),
        ("People % at work", [percent(busy, paid) for _, busy, paid in loads]),
        ("People in", [len(plan.shifts) for plan in plans]),
    ]
    for name, values in table:
        filled = [(block, name, 2 + at, v) for at, v in enumerate(values) if v]
        out += filled or [(block, name, 1, name)]
    known = [f"{day_short(s.day)} {s.name}" for s in season.special_days if s.name and days[0] <= s.day <= days[-1]]
    words = f"To know: {', '.join(known)}."
    return out + ([(block, words, 1, words)] if known else [])


def _marks(wall: Wall, day: date, due: int) -> str:
    marks = "C" if wall.r.hours(day) is None else ""
    marks += "H" if any(s.day == day and s.mark == "holiday" for s in wall.r.season.special_days) else ""
    missed = day in wall.day and wall.day[day].missed_shows
    return marks + ("X" if missed else "S" if wall.r.shows(day) else "") + ("D" if due else "")


def glance(wall: Wall, cells: Cells) -> Findings:
    """Every line of the first sheet: title, facts, what is short, and what the pictures show."""
    expected: list[Facts] = [(wall.r.kitchen.name, None), *_facts(wall)]
    lines, tell, short = wanted_lines(wall.r.season), told_of(wall), in_order(wall)
    if short:
        expected.append(("Short, the most urgent first", None))
    rest = len(short) - NAMED if len(short) > NAMED + 1 else 0
    for item in short[: len(short) - rest]:
        line, (customer, kind, _, _) = lines[item.line], tell[item.line]
        who = f"{customer}: " if customer else ""
        words = f"{who}{count(item.packs, 'pack')} of {line.asked:,} {line.product}, due {day_short(line.due)}"
        expected.append((f"{item.line}, {kind}", words))
    if rest:
        expected.append((f"and {rest} more: see the sheet Shortfall.", None))
    if told := scarce(wall):
        expected += [("What is scarce: how much the plan uses of what there is", None), *told]
    if wall.full.most:
        expected.append(("Batches each day (dark), and how many more could be started (light)", None))
    found = [(row.get(1), row.get(2)) for _, row in sorted(cells.items())]
    better = [words for label, words in found if label == "Could it be better?"]
    yield from better_words(wall, "At a glance", " ".join(map(str, better)), thumb=True)
    found = [row for row in found if row[0] != "Could it be better?" or len(better) > 1]
    last = next((at for at, row in enumerate(found) if row == ("Please mind", None)), len(found))
    yield from differences("At a glance", expected, found[:last])
    yield from differences("At a glance, cautions", [(words, None) for words in CAUTIONS], found[last + 1 :])


def _facts(wall: Wall) -> list[Facts]:
    season, plan, r = wall.r.season, wall.plan, wall.r
    first, last = r.kitchen.first_day, r.kitchen.last_day
    days, made = season.days, [day for day in plan.days if day.batches]
    batches = [b for day in made for b in day.batches]
    pieces = sum(season.design_by_name[b.design].pieces for b in batches if b.design in season.design_by_name)
    open_days = sum(r.hours(day) is not None for day in days)
    out: list[Facts] = [
        ("Season", f"{_year(first)} to {_year(last)}: {count(len(days), 'day')}, {open_days} of them open."),
        ("Made", f"{count(len(batches), 'batch')} on {count(len(made), 'day')}, {count(pieces, 'piece')} planned."),
        ("Short", short_words(wall)),
        ("To the minute", _minute_words(plan.days)),
    ]
    if plan.shortfalls:
        out.append(("What would mend it", mending(wall)))
    if told := no_slack(wall):
        out.append(("No day to spare", told))
    if told := spare_batches(wall):
        out.append(("Spare batches", told))
    if late := sum(fill.packs for fill in plan.fills if fill.late):
        words = f"{count(late, 'pack')} later than the due day, within what the customers accept."
        out.append(("Late", words))
    if shows := sum(len(r.shows(day)) for day in days):
        missed = [f"{name}, {day_short(day.day)}" for day in plan.days for name in day.missed_shows]
        words = f"{shows - len(missed)} of {count(shows, 'show')} held."
        out.append(("Shows", words + (f" Not held: {names(missed)}." if missed else "")))
    over = 0
    for week, paid in wall.paid.items():
        if (person := season.person_by_name.get(week[0])) is not None:
            over += max(0, paid - person.contracted_minutes)
    extra = f"{length(over)} of overtime" if over else "no overtime"
    cost, hours = labour_cost(r, plan), rounded(sum(wall.paid.values()))
    out.append(("Labour", f"{money(cost, r.kitchen.currency)} for {hours} in, {extra}."))
    if told := contracts(wall, cost):
        out.append(("Contracts", told))
    if plan.history:
        change = plan.history[-1]
        out.append(("Changed", f"planned again from {day_short(change.now_day)} on: {change.reason}"))
    return out


def _year(day: date) -> str:
    return f"{day_short(day)} {day.year}"


def _minute_words(days: Collection[DayPlan]) -> str:
    days = [day for day in days if day.batches or day.packing or day.tasks]
    if not days:
        return "No day has any work in it."
    proven = sum(day.proven for day in days)
    said = f"All {count(len(days), 'day')} with work fit" if len(days) > 1 else "The day fits"
    if not proven:
        return f"{said} to the minute."
    if proven == len(days):
        return f"{said} to the minute, and it is proven that no cheaper day with the same work exists."
    return f"{said} to the minute; for {proven} of them it is proven that no cheaper day with the same work exists."


def changes(wall: Wall, cells: Cells, crew_only: bool) -> Findings:
    """After news: since when and why, which run sheets to print again, and each change before and now."""
    told, last = wall.plan.extras["changes"], wall.plan.history[-1]
    assert isinstance(told, dict)
    expected: list[Facts] = []
    for row in told["rows"]:
        day = day_short(date.fromisoformat(row["day"]))
        expected.append((day, row["who"], row["before"], row["after"], row["say"]))
    found = rows(cells, ("Day", "Who", "Before", "Now", "To say on the phone"))
    yield from differences("What changed", expected, found)
    note = (
        f"From {day_short(last.now_day)} on{'' if crew_only else f': {last.reason}'}. All other days stay as they were."
    )
    again = [day_short(date.fromisoformat(day)) for day in told["print_again"]]
    note += f" Print again the run sheets of {names(again)}." if again else ""
    yield from says("What changed", [note, *told.get("mind", ())], cells)
