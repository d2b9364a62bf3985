"""Run sheets read back and held against the plan: pours, people, other work, blanks, time bars."""

from __future__ import annotations

from collections import Counter, defaultdict

from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation, clock
from scheduler.audit.wall.cells import Cells
from scheduler.audit.wall.plan import Wall, place
from scheduler.audit.wall.words import (
    Facts,
    beside,
    block,
    count,
    day_long,
    differences,
    names,
    plain,
    rows,
    says,
    span,
    text,
)
from scheduler.plan.types import Batch, DayPlan, PackRun, StageRun

HOT_SUGAR = (
    "Hot sugar burns deeply and sticks: gloves, sleeves, a clear path, cold water at hand, visitors behind a barrier."
)
OWN_LIMITS = "The pull limits are the kitchen's own. Stop when arms hurt; local rules come first."
NO_VALIDATION = "The run order is help, not a cleaning validation."
FILL_IN = (
    "In the bars a number is a batch, p packing, c cleaning; free: nothing set, help where it is needed. "
    "Fill in after each batch. What became of it: made, failed, not started. Seconds are pieces sold as seconds."
)
BLANKS = (("Pieces made", "Seconds", "What became of it", "Remarks"), ("Packs packed", "Remarks"))
Block = tuple[int, int, tuple[str, ...]]  # start, end, and what it may say, long to short


def run_sheets(wall: Wall, sheets: dict[str, Cells]) -> Findings:
    """Each day of the plan has one run sheet, and it says what the plan says."""
    by_day: dict[str, list[str]] = defaultdict(list)
    for title, cells in sheets.items():
        if title.startswith("Day "):
            by_day[text(cells.get(1, {}), 1)].append(title)
    for day in wall.plan.days:
        titles = by_day.pop(day_long(day.day), [])
        if len(titles) != 1:
            yield Violation("workbook", str(day.day), f"The day has {len(titles)} run sheets instead of one.")
        for title in titles:
            yield from _run_sheet(wall, day, title, sheets[title])
    for titles in by_day.values():
        for title in titles:
            yield Violation("workbook", title, "This run sheet is of no day of the plan.")


def _run_sheet(wall: Wall, day: DayPlan, title: str, cells: Cells) -> Findings:
    r = wall.r
    for what, expected, found in (
        ("head", [(words,) for words in _head(wall, day)], _head_found(cells)),
        ("pours", _pours(r, day), _pours_found(cells) if day.batches else []),
        ("other work", _other_work(r, day), rows(cells, ("Other work", "When", "Who"))),
        ("packing", _packing(r, day), beside(cells, ("To pack", "When, who and how many", "Packs planned"))),
    ):
        yield from differences(f"{title}, {what}", expected, found)
    yield from says(title, [r.kitchen.name, *([FILL_IN] if day.batches else [])], cells, 400)
    wanted = [BLANKS[0]] * bool(day.batches) + [BLANKS[1]] * bool(day.packing)
    for headings in wanted:
        if not any({text(row, column) for column in row} >= set(headings) for row in cells.values()):
            yield Violation("workbook", title, f"Over the blanks should stand: {', '.join(headings)}.")
    hours = _hours(day)
    yield from _bars("Who is where", _people_bars(wall, day), hours, title, cells)
    yield from _bars("What is in use", _station_bars(r, day), hours, title, cells)


def _pours(r: Reading, day: DayPlan) -> list[Facts]:
    """For each batch its words with a row for each stage, for the batch and for the pieces."""
    out: list[Facts] = []
    used = {run.stage for batch in day.batches for run in batch.runs}
    heads = {s.name: f"{s.name[:1].upper()}{s.name[1:]} {s.station}" for s in r.season.stages if s.name in used}
    for number, batch in enumerate(day.batches, 1):
        name, design = _batch_words(r, number, batch), r.season.design_by_name.get(batch.design)
        for run in batch.runs:
            out.append((name, f"{run.stage[:1].upper()}{run.stage[1:]} {run.station}", _run_words(r, run)))
        mine = {run.stage for run in batch.runs}
        out += [(name, head, "–") for stage, head in heads.items() if stage not in mine]
        out += [(name, "Batch", batch.id), (name, "Pieces planned", design.pieces if design else None)]
    return out


def _batch_words(r: Reading, number: int, batch: Batch) -> str:
    design = r.season.design_by_name.get(batch.design)
    words = f"{number} {batch.design}"
    words += f" SHOW: {batch.show}" if batch.show else ""
    words += f" CONTAINS {names(design.allergens)}" if design and design.allergens else ""
    lost = [fact.outcome.upper() for fact in r.season.made if fact.batch == batch.id and fact.outcome != "made"]
    return " ".join([words, *lost])


def _run_words(r: Reading, run: StageRun) -> str:
    words = span(run.starts, run.ends)
    if r.season.places.get(run.station, 1) > 1:
        words += f", place {run.place}"
    crew: dict[str, list[str]] = defaultdict(list)
    for role, person in run.crew:
        crew[role].append(person)
    if len(crew) == 1:
        return f"{words} {names(next(iter(crew.values())))}"
    return f"{words} {', '.join(f'{role}: {names(people)}' for role, people in crew.items())}"


def _pours_found(cells: Cells) -> list[Facts]:
    """Cells under the heading, the blanks at the right left out."""
    head = next((number for number, row in cells.items() if text(row, 1) == "Batches in order"), None)
    if head is None:
        return []
    last = max(cells[head], default=0)
    names = {text(cells[head], column): column for column in cells[head]}  # the last of a name counts
    blanks = {names.get(name, last) for name in ("Pieces made", "Seconds", "What became of it", "Remarks")}
    found: list[Facts] = []
    for row in block(cells, head):
        for column in row:
            if column > 1 and column not in blanks:
                found.append((row[1], cells[head].get(column), row[column]))
    return found


def _head(wall: Wall, day: DayPlan) -> list[str]:
    """The lines under the title: the day in a sentence, and what to mind."""
    season = wall.r.season
    designs = [season.design_by_name[b.design] for b in day.batches if b.design in season.design_by_name]
    said = ["No batch today"]
    if day.batches:
        runs = [run for b in day.batches for run in b.runs]
        said = [f"{count(len(day.batches), 'batch')}, {count(sum(d.pieces for d in designs), 'piece')} planned"]
        said.append(
            f"first start {clock(day.batches[0].runs[0].starts)}, last batch done {clock(max(r.ends for r in runs))}"
        )
    if packs := sum(pack.packs for pack in day.packing):
        said.append(f"{count(packs, 'pack')} to pack")
    hours = {s.name: s.starts for s in wall.r.shows(day.day)}
    if shows := [f"{b.show} at {clock(hours[b.show])}" for b in day.batches if b.show in hours]:
        said.append(f"show: {names(shows)}")
    if day.missed_shows:
        said.append(f"SHOW NOT HELD: {names(day.missed_shows)}")
    lines = [f"{'; '.join(said)}."]
    if day.batches:
        young = [p.name for p in season.crew if p.young and (p.name, day.day) in wall.shift]
        lines.append(HOT_SUGAR + (f" No hot work for {names(young)} (young worker)." if young else ""))
    told, change = wall.plan.extras.get("changes"), wall.plan.history[-1] if wall.plan.history else None
    if isinstance(told, dict) and change is not None and change.now_day == day.day:
        lines += told.get("mind", [])
    with_some = {d.name for d in season.designs if d.allergens}
    made = sorted({d.name for d in designs} & with_some)
    packed = sorted(
        {pack.product for pack in day.packing if any(c.product == pack.product and c.design in with_some
                                                     for c in season.contents)})  # fmt: skip
    inside = {d.name for d in designs} | {c.design for c in season.contents if c.product in packed}
    if allergens := sorted({a for d in season.designs if d.name in inside for a in d.allergens}):
        where = f"made in {names(made)}" if made else ""
        where += " and " if made and packed else ""
        where += f"packed in {names(packed)}" if packed else ""
        lines.append(f"Allergens today: {names(allergens)}, {where}. {NO_VALIDATION}")
    limits = {p.name: p.pulls_day for p in season.crew}
    pulls = [
        f"{name} {wall.pulls[name, day.day]} of {most}" for name, most in limits.items() if wall.pulls[name, day.day]
    ]
    return lines + ([f"Pulls today, of the most allowed: {', '.join(pulls)}. {OWN_LIMITS}"] if pulls else [])


def _head_found(cells: Cells) -> list[Facts]:
    """The lines from the second row on that stand alone, down to the first empty row."""
    found: list[Facts] = []
    while len(row := cells.get(2 + len(found), {})) == 1 and 1 in row:
        found.append((row[1],))
    return found


def _other_work(r: Reading, day: DayPlan) -> list[Facts]:
    out: list[Facts] = []
    for task in day.tasks:
        clean = f"Clean the {task.station}"
        clean += f", place {task.place}" if r.season.places.get(task.station, 1) > 1 else ""
        clean += f": {task.note}" if task.note else ""
        duties = {"opening": "Open up", "closing": "Close down", "clean": clean}
        out.append(
            (duties.get(task.kind, f"Extra hands at {task.note}"), span(task.starts, task.ends), names(task.people))
        )
    breaks: dict[str, list[str]] = defaultdict(list)
    for shift in day.shifts:
        if shift.break_starts is not None and shift.break_ends is not None:
            breaks[span(shift.break_starts, shift.break_ends)].append(shift.person)
    return out + [("Break", when, names(people)) for when, people in breaks.items()]


def _packing(r: Reading, day: DayPlan) -> list[Facts]:
    """For each product: what it contains, when, who and how many; packs in all."""
    runs: dict[str, list[PackRun]] = defaultdict(list)
    for run in day.packing:
        runs[run.product].append(run)
    out: list[Facts] = []
    for product, own in runs.items():
        inside = {c.design for c in r.season.contents if c.product == product}
        contains = sorted({a for d in r.season.designs if d.name in inside for a in d.allergens})
        words = [f"CONTAINS {names(contains)}"] if contains else []
        words += [f"{span(run.starts, run.ends)} {run.person} {run.packs:,}" for run in own]
        out.append((product, ", ".join(words), sum(run.packs for run in own)))
    return out


def _shorter(words: str) -> tuple[str, ...]:
    """What a block may say, long to short: whole, first word, first letter; after a batch's number likewise."""
    number, _, rest = words.partition(" ")
    if number.isdecimal():
        return (words, f"{number} {rest.split(' ')[0]}", number)
    if number == "show":
        return (words.replace("show hand, ", "show hand: ", 1), "show hand", "show", "s")
    if number == "clean":
        return (words, "clean", "c")
    if number == "pack":
        return (words, " ".join(words.split(" ")[:2]), "pack", "p")
    return (words, number, words[:1])


def _people_bars(wall: Wall, day: DayPlan) -> dict[str, list[Block]]:
    """Label -> blocks of each person's bar."""
    out = {}
    for shift in day.shifts:
        work = sorted(wall.work[day.day].get(shift.person, []), key=lambda w: (w.starts, w.ends, w.short))
        blocks: list[Block] = [(w.starts, w.ends, _shorter(w.short)) for w in work]
        blocks += [(starts, ends, ("free",)) for starts, ends in wall.free(shift.person, day.day)]
        out[f"{shift.person} {span(shift.starts, shift.ends)}"] = sorted(blocks, key=lambda block: block[:2])
    return out


def _station_bars(r: Reading, day: DayPlan) -> dict[str, list[Block]]:
    """Label -> blocks of the bar of each place that is used."""
    bars: dict[str, list[Block]] = defaultdict(list)
    for number, batch in enumerate(day.batches, 1):
        for run in batch.runs:
            bars[place(r, run.station, run.place)].append(
                (run.starts, run.ends, (f"{number} {batch.design}", str(number)))
            )
    for task in day.tasks:
        if task.kind == "clean":
            bars[place(r, task.station, task.place)].append(
                (task.starts, task.ends, (f"clean: {task.note}", "clean", "c"))
            )
    for pack in day.packing:
        said = (f"{pack.product} ({pack.person})", pack.person, "pack", "p")
        bars[place(r, r.kitchen.packing_station, pack.place)].append((pack.starts, pack.ends, said))
    return {name: sorted(blocks) for name, blocks in bars.items()}


def _hours(day: DayPlan) -> list[str]:
    """Whole hours around all that happens, at least four."""
    parts = [(s.starts, s.ends) for s in day.shifts] + [(t.starts, t.ends) for t in day.tasks]
    parts += [(p.starts, p.ends) for p in day.packing] + [(r.starts, r.ends) for b in day.batches for r in b.runs]
    if not parts:
        return []
    first, last = min(starts for starts, _ in parts) // 60, -(-max(ends for _, ends in parts) // 60)
    return [clock(hour * 60) for hour in range(first, max(last, first + 4))]


def _bars(heading: str, expected: dict[str, list[Block]], clocks: list[str], title: str, cells: Cells) -> Findings:
    """Each bar has a block for each job, in order, in the column of its clock time, with words for it."""
    head = next((number for number, row in cells.items() if text(row, 1) == heading), None)
    if head is None:
        if expected:
            yield Violation("workbook", title, f"The picture {heading!r} is missing.")
        return
    hours = [(column, text(cells[head], column)) for column in sorted(cells[head]) if column > 1]
    wide = hours[1][0] - hours[0][0] if len(hours) > 1 else 1
    if hours != [(2 + i * wide, words) for i, words in enumerate(clocks)]:
        yield Violation("workbook", title, f"The hours of {heading!r} are not {clocks[0]} to {clocks[-1]}.")
        return
    opens, slot, last = int(clocks[0][:2]) * 60, 60 // wide, 1 + wide * len(clocks)
    want = [(str(plain(name)), *block) for name, own in expected.items() for block in _columns(own, opens, slot, last)]
    found, twice = list[tuple[str, int, str]](), Counter[str]()
    at = head + 1
    while 1 in cells.get(at, {}):
        twice[text(cells[at], 1)] += 1
        found += [(text(cells[at], 1), column, text(cells[at], column)) for column in sorted(cells[at]) if column > 1]
        at += 1
    said = {(name, column): {str(plain(part)) for part in parts} for name, column, parts in want}
    wrong = {name for name, column, words in found if words not in said.get((name, column), ())}
    wrong |= {name for name, column, _ in want if (name, column) not in {(n, c) for n, c, _ in found}}
    wrong |= {name for name, number in twice.items() if number > 1}
    wrong |= twice.keys() ^ {str(plain(name)) for name in expected}
    for label in sorted(wrong):
        yield Violation("workbook", title, f"The bar {label} of {heading!r} does not show what the plan says.")


def _columns(blocks: list[Block], opens: int, slot: int, last: int) -> list[tuple[int, tuple[str, ...]]]:
    """The column of each block: the nearest to its start that the block before leaves free; none beyond the last."""

    def nearest(minute: int) -> int:
        return min(max(2 + (2 * (minute - opens) + slot) // (2 * slot), 2), last + 1)

    out, taken = [], 1
    for starts, ends, said in blocks:
        column = max(nearest(starts), taken + 1)
        if column <= last:
            out.append((column, said))
            taken = min(max(column, nearest(ends) - 1), last)
    return out
