"""Run sheets read back and held against the plan: pours, people, other work, blanks, time bars."""

from __future__ import annotations

from collections import defaultdict

from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation, clock
from scheduler.audit.wall import Cells
from scheduler.audit.wall_plan import Wall, place
from scheduler.audit.wall_words import (
    Facts,
    count,
    day_long,
    differences,
    grid,
    names,
    plain,
    rows,
    says,
    span,
    text,
)
from scheduler.plan.types import Batch, DayPlan, StageRun

Block = tuple[int, tuple[str, ...]]  # start, and what it may say: the whole, or its first word


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
    r, designs = wall.r, wall.r.season.design_by_name
    packs: dict[str, int] = defaultdict(int)
    for run in day.packing:
        packs[run.product] += run.packs
    made = [(b.id, b.design, designs[b.design].pieces if b.design in designs else None) for b in day.batches]
    for what, expected, found in (
        ("pours", _pours(r, day), _pours_found(cells) if day.batches else []),
        ("each person's day", _lists(wall, day), _lists_found(cells)),
        ("other work", _other_work(r, day), rows(cells, ("When", "What", "Who", "Note"))),
        ("blanks for batches", made, rows(cells, ("Batch", "Design", "Pieces planned"))),
        ("blanks for packs", list(packs.items()), rows(cells, ("Product", "Packs planned"))),
    ):
        yield from differences(f"{title}, {what}", expected, found)
    yield from _bars("Who is where", _people_bars(wall, day), title, cells)
    yield from _bars("What is in use", _station_bars(r, day), title, cells)
    yield from says(title, _said(wall, day), cells)
    if not day.missed_shows and any("SHOW NOT HELD" in text(row, 1) for row in cells.values()):
        yield Violation("workbook", title, "It says that a show is not held; the plan holds all.")


def _pours(r: Reading, day: DayPlan) -> list[Facts]:
    """One row for each batch and stage: the batch's words, the stage with its station, the run's words."""
    return [
        (_batch_words(r, number, batch), f"{run.stage[:1].upper()}{run.stage[1:]} {run.station}", _run_words(r, run))
        for number, batch in enumerate(day.batches, 1)
        for run in batch.runs
    ]


def _batch_words(r: Reading, number: int, batch: Batch) -> str:
    design = r.season.design_by_name.get(batch.design)
    words = f"{number} {batch.design} batch {batch.id}, {count(design.pieces if design else 0, 'piece')}"
    words += f" SHOW: {batch.show}" if batch.show else ""
    return words + (f" CONTAINS {names(design.allergens)}" if design and design.allergens else "")


def _run_words(r: Reading, run: StageRun) -> str:
    words = span(run.starts, run.ends)
    if r.season.places.get(run.station, 1) > 1:
        words += f", place {run.place}"
    crew: dict[str, list[str]] = defaultdict(list)
    for role, person in run.crew:
        crew[role].append(person)
    if len(crew) == 1:
        return f"{words} {names(next(iter(crew.values())))}"
    return " ".join([words, *(f"{role}: {names(people)}" for role, people in crew.items())])


def _pours_found(cells: Cells) -> list[Facts]:
    head = next((number for number, row in cells.items() if text(row, 1) == "Pours in order"), None)
    return [] if head is None else [cell for cell in grid(cells, head) if plain(cell[2]) != "–"]


def _lists(wall: Wall, day: DayPlan) -> list[Facts]:
    """One row for each line of each person's list."""
    out: list[Facts] = []
    for shift in day.shifts:
        head = f"{shift.person}, {span(shift.starts, shift.ends)}"
        work = wall.work[day.day].get(shift.person, [])
        out += [(head, None), *((head, f"{span(w.starts, w.ends)} {w.short}") for w in work)]
    return out


def _lists_found(cells: Cells) -> list[Facts]:
    out: list[Facts] = []
    heads = (n for n, row in cells.items() if text(row, 1) == "Each person's day" and len(row) == 1)
    at = next(heads, -2) + 1
    while at in cells and at + 1 in cells and all("–" in text(cells[at], column) for column in cells[at]):
        for column, head in cells[at].items():
            lines = str(cells[at + 1].get(column, "")).split("\n")
            out += [(head, None), *((head, line) for line in lines if line and line != "nothing set")]
        at += 2
    return out


def _other_work(r: Reading, day: DayPlan) -> list[Facts]:
    def where(station: str, number: int) -> str | None:
        return f"place {number}" if r.season.places.get(station, 1) > 1 else None

    out: list[Facts] = []
    for task in day.tasks:
        clean = ", ".join(filter(None, (f"Clean the {task.station}", where(task.station, task.place))))
        duties = {"opening": "Open up", "closing": "Close down", "clean": clean}
        what = duties.get(task.kind, f"Extra hands at {task.note}")
        note = task.note if task.kind == "clean" else None
        out.append((span(task.starts, task.ends), what, names(task.people), note))
    for pack in day.packing:
        what = f"Pack {count(pack.packs, 'pack')} of {pack.product}"
        out.append((span(pack.starts, pack.ends), what, pack.person, where(r.kitchen.packing_station, pack.place)))
    return out


def _said(wall: Wall, day: DayPlan) -> list[str]:
    """What the head of a run sheet must not leave out."""
    season = wall.r.season
    designs = [season.design_by_name[b.design] for b in day.batches if b.design in season.design_by_name]
    said = [f"SHOW NOT HELD: {names(day.missed_shows)}"] if day.missed_shows else []
    if day.batches:
        runs = [run for b in day.batches for run in b.runs]
        said.append(f"{count(len(day.batches), 'batch')}, {count(sum(d.pieces for d in designs), 'piece')} planned")
        said.append(f"first pour {clock(min(run.starts for run in runs))}")
        said.append(f"last batch done {clock(max(run.ends for run in runs))}")
    if packs := sum(pack.packs for pack in day.packing):
        said.append(f"{count(packs, 'pack')} to pack")
    said += [f"{b.show} at {clock(b.runs[0].starts)}" for b in day.batches if b.show]
    if allergens := sorted({a for d in designs for a in d.allergens}):
        said.append(f"Allergens today: {names(allergens)}.")
    for person in season.crew:
        if pulls := wall.pulls.get((person.name, day.day)):
            said.append(f"{person.name} {pulls} of {person.pulls_day}")
    young = [p.name for p in season.crew if p.young and (p.name, day.day) in wall.shift]
    return said + ([f"No hot work for {names(young)}"] if young else [])


def _people_bars(wall: Wall, day: DayPlan) -> dict[str, list[Block]]:
    """Label -> blocks of each person's bar."""
    return {
        f"{shift.person} {span(shift.starts, shift.ends)}": [
            (w.starts, (w.short.split(" ")[0], "cl" if w.short.startswith("clean") else w.short[:1]))
            for w in sorted(wall.work[day.day].get(shift.person, []), key=lambda w: (w.starts, w.ends, w.short))
        ]
        for shift in day.shifts
    }


def _station_bars(r: Reading, day: DayPlan) -> dict[str, list[Block]]:
    """Label -> blocks of the bar of each place that is used."""
    bars: dict[str, list[Block]] = defaultdict(list)
    for number, batch in enumerate(day.batches, 1):
        for run in batch.runs:
            bars[place(r, run.station, run.place)].append((run.starts, (str(number),)))
    for task in day.tasks:
        if task.kind == "clean":
            bars[place(r, task.station, task.place)].append((task.starts, ("clean:", "clean", "cl")))
    for pack in day.packing:
        said = (str(plain(f"{pack.product} ({pack.person})")), str(plain(pack.person)), "pack", "p")
        bars[place(r, r.kitchen.packing_station, pack.place)].append((pack.starts, said))
    return {name: sorted(blocks) for name, blocks in bars.items()}


def _bars(heading: str, expected: dict[str, list[Block]], title: str, cells: Cells) -> Findings:
    """Each bar has a block for each job, in order, where the clock says, within four columns."""
    head = next((number for number, row in cells.items() if text(row, 1) == heading), None)
    if head is None:
        if expected:
            yield Violation("workbook", title, f"The picture {heading!r} is missing.")
        return
    hours = [(column, text(cells[head], column)) for column in sorted(cells[head]) if column > 1]
    if len(hours) < 2 or not hours[0][1][:2].isdecimal():
        yield Violation("workbook", title, f"The picture {heading!r} has no hours.")
        return
    wide, first_hour = hours[1][0] - hours[0][0], int(hours[0][1][:2])
    if hours != [(hours[0][0] + i * wide, clock((first_hour + i) * 60)) for i in range(len(hours))]:
        yield Violation("workbook", title, f"The hours of {heading!r} are not even.")
    bars: dict[str, list[tuple[int, str]]] = {}
    at = head + 1
    while 1 in cells.get(at, {}):
        bars[text(cells[at], 1)] = [(c, text(cells[at], c)) for c in sorted(cells[at]) if c > 1]
        at += 1
    closes = (first_hour + len(hours)) * 60
    slot, wanted = 60 / wide, {str(plain(name)): blocks for name, blocks in expected.items()}
    for label in sorted(bars.keys() | wanted.keys()):
        shown, blocks = bars.get(label), wanted.get(label)
        while shown and blocks and len(blocks) > len(shown) and blocks[-1][0] >= closes - 3 * slot:
            blocks = blocks[:-1]  # a few minutes at the end of the last hour have no column left
        good = shown is not None and blocks is not None and len(shown) == len(blocks) and all(
            abs(first_hour * 60 + (column - hours[0][0]) * slot - starts) <= 4 * slot
            and (words in said or words.split(" ")[0] in said)
            for (column, words), (starts, said) in zip(shown, blocks, strict=True)
        )  # fmt: skip
        if not good:
            yield Violation("workbook", title, f"The bar {label} of {heading!r} does not show what the plan says.")
