"""Run sheets read back and held against the plan: pours, people, other work, blanks, time bars."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from scheduler.audit.people import pulls_of
from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation, clock
from scheduler.audit.wall import Cells
from scheduler.audit.wall_words import Facts, block, day_long, differences, names, plain, says, span, tables, text
from scheduler.plan.types import Batch, DayPlan, Plan, StageRun

Job = tuple[int, int, str]  # starts, ends, words of the person's list
Block = tuple[int, tuple[str, ...]]  # start, and what it may say: the whole, or its first word


def _pieces(number: int) -> str:
    """900 pieces, 1 piece, as the sheet writes it."""
    return f"{number:,} piece{'' if number == 1 else 's'}"


def run_sheets(r: Reading, plan: Plan, sheets: dict[str, Cells]) -> Findings:
    """Each day of the plan has one run sheet, and it says what the plan says."""
    by_day: dict[str, list[str]] = defaultdict(list)
    for title, cells in sheets.items():
        if title.startswith("Day "):
            by_day[text(cells.get(1, {}), 1)].append(title)
    for day in plan.days:
        titles = by_day.pop(day_long(day.day), [])
        if len(titles) != 1:
            yield Violation("workbook", str(day.day), f"The day has {len(titles)} run sheets instead of one.")
        for title in titles:
            yield from _run_sheet(r, day, title, sheets[title])
    for titles in by_day.values():
        for title in titles:
            yield Violation("workbook", title, "This run sheet is of no day of the plan.")


def _run_sheet(r: Reading, day: DayPlan, title: str, cells: Cells) -> Findings:
    yield from differences(f"{title}, pours", _pours(r, day), _pours_found(cells) if day.batches else [])
    yield from differences(f"{title}, each person's day", _lists(day), _lists_found(cells))
    headings: tuple[str, ...] = ("When", "What", "Who", "Note")
    yield from differences(f"{title}, other work", _other_work(r, day), _rows(cells, headings))
    headings = ("Batch", "Design", "Pieces planned")
    yield from differences(f"{title}, blanks for batches", _made(r, day), _rows(cells, headings))
    headings = ("Product", "Packs planned")
    yield from differences(f"{title}, blanks for packs", _packed(day), _rows(cells, headings))
    yield from _bars("Who is where", _people_bars(day), title, cells)
    yield from _bars("What is in use", _station_bars(r, day), title, cells)
    yield from says(title, _said(r, day), cells)
    if not day.missed_shows and any("SHOW NOT HELD" in text(row, 1) for row in cells.values()):
        yield Violation("workbook", title, "It says that a show is not held; the plan holds all.")


def _rows(cells: Cells, headings: Sequence[str]) -> list[Facts]:
    return [row for _, rows in tables(cells, headings) for row in rows]


def _pours(r: Reading, day: DayPlan) -> list[Facts]:
    """One row for each batch and stage: the batch's words, the stage with its station, the run's words."""
    out: list[Facts] = []
    for number, batch in enumerate(day.batches, 1):
        first = _batch_words(r, number, batch)
        for run in batch.runs:
            out.append((first, f"{run.stage[:1].upper()}{run.stage[1:]} {run.station}", _run_words(r, run)))
    return out


def _batch_words(r: Reading, number: int, batch: Batch) -> str:
    design = r.season.design_by_name.get(batch.design)
    words = f"{number} {batch.design} batch {batch.id}, {_pieces(design.pieces if design else 0)}"
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
    out: list[Facts] = []
    head = next((number for number, row in cells.items() if text(row, 1) == "Pours in order"), 0)
    for batch in block(cells, head) if head else ():
        columns = [column for column in sorted(batch) if column > 1 and plain(batch[column]) != "–"]
        out += [(batch[1], cells[head].get(column), batch[column]) for column in columns]
    return out


def jobs(day: DayPlan) -> dict[str, list[Job]]:
    """Person -> their stretches of work, in words."""
    out: dict[str, list[Job]] = defaultdict(list)
    for number, batch in enumerate(day.batches, 1):
        for run in batch.runs:
            for _, person in run.crew:
                out[person].append((run.starts, run.ends, f"{number} {run.stage}"))
    said = {"opening": "open up", "closing": "close down"}
    for task in day.tasks:
        words = {"clean": f"clean {task.station}", "show": f"show hand, {task.note}"}.get(task.kind, "")
        for person in task.people:
            words = words or said.get(task.kind, "")
            out[person].append((task.starts, task.ends, words))
    for pack in day.packing:
        out[pack.person].append((pack.starts, pack.ends, f"pack {pack.packs} {pack.product}"))
    for shift in day.shifts:
        if shift.break_starts is not None and shift.break_ends is not None:
            out[shift.person].append((shift.break_starts, shift.break_ends, "break"))
    return out


def _lists(day: DayPlan) -> list[Facts]:
    """One row for each line of each person's list."""
    out: list[Facts] = []
    work = jobs(day)
    for shift in day.shifts:
        head = f"{shift.person}, {span(shift.starts, shift.ends)}"
        out.append((head, None))
        out += [(head, f"{span(starts, ends)} {words}") for starts, ends, words in work.get(shift.person, [])]
    return out


def _lists_found(cells: Cells) -> list[Facts]:
    out: list[Facts] = []
    heads = (n for n, row in cells.items() if text(row, 1) == "Each person's day" and len(row) == 1)
    at = next(heads, -2) + 1
    while at in cells and at + 1 in cells and all("–" in text(cells[at], column) for column in cells[at]):
        for column, head in cells[at].items():
            out.append((head, None))
            lines = str(cells[at + 1].get(column, "")).split("\n")
            out += [(head, line) for line in lines if line and line != "nothing set"]
        at += 2
    return out


def _other_work(r: Reading, day: DayPlan) -> list[Facts]:
    out: list[Facts] = []
    places = r.season.places
    for task in day.tasks:
        clean = f"Clean the {task.station}" + (f", place {task.place}" if places.get(task.station, 1) > 1 else "")
        what = {"opening": "Open up", "closing": "Close down", "clean": clean}.get(
            task.kind, f"Extra hands at {task.note}"
        )
        note = task.note if task.kind == "clean" else None
        out.append((span(task.starts, task.ends), what, names(task.people), note))
    for pack in day.packing:
        what = f"Pack {pack.packs:,} {'pack' if pack.packs == 1 else 'packs'} of {pack.product}"
        note = f"place {pack.place}" if places.get(r.kitchen.packing_station, 1) > 1 else None
        out.append((span(pack.starts, pack.ends), what, pack.person, note))
    return out


def _made(r: Reading, day: DayPlan) -> list[Facts]:
    designs = r.season.design_by_name
    return [(b.id, b.design, designs[b.design].pieces if b.design in designs else None) for b in day.batches]


def _packed(day: DayPlan) -> list[Facts]:
    packs: dict[str, int] = defaultdict(int)
    for run in day.packing:
        packs[run.product] += run.packs
    return list(packs.items())


def _said(r: Reading, day: DayPlan) -> list[str]:
    """What the head of a run sheet must not leave out."""
    designs = [r.season.design_by_name[b.design] for b in day.batches if b.design in r.season.design_by_name]
    said = [f"SHOW NOT HELD: {names(day.missed_shows)}"] if day.missed_shows else []
    if day.batches:
        runs = [run for b in day.batches for run in b.runs]
        many = f"{len(day.batches)} {'batch' if len(day.batches) == 1 else 'batches'}"
        said.append(f"{many}, {_pieces(sum(d.pieces for d in designs))} planned")
        said.append(f"first pour {clock(min(run.starts for run in runs))}")
        said.append(f"last batch done {clock(max(run.ends for run in runs))}")
    if packs := sum(pack.packs for pack in day.packing):
        said.append(f"{packs:,} {'pack' if packs == 1 else 'packs'} to pack")
    said += [f"{b.show} at {clock(b.runs[0].starts)}" for b in day.batches if b.show]
    if allergens := sorted({a for d in designs for a in d.allergens}):
        said.append(f"Allergens today: {names(allergens)}.")
    for name, pulling in pulls_of(r, day).items():
        if (person := r.season.person_by_name.get(name)) is not None:
            said.append(f"{name} {sum(pulls for _, _, pulls, _ in pulling)} of {person.pulls_day}")
    young = [p.name for p in r.season.crew if p.young and any(s.person == p.name for s in day.shifts)]
    return said + ([f"No hot work for {names(young)}"] if young else [])


def _people_bars(day: DayPlan) -> dict[str, list[Block]]:
    """Label -> blocks of each person's bar."""
    work = jobs(day)
    return {
        f"{s.person} {span(s.starts, s.ends)}": [
            (starts, (words.split(" ")[0], "cl" if words.startswith("clean") else words[:1]))
            for starts, _, words in sorted(work.get(s.person, []))
        ]
        for s in day.shifts
    }


def _station_bars(r: Reading, day: DayPlan) -> dict[str, list[Block]]:
    """Label -> blocks of the bar of each place that is used."""
    bars: dict[str, list[Block]] = defaultdict(list)
    places = r.season.places

    def label(station: str, place: int) -> str:
        return f"{station} {place}" if places.get(station, 1) > 1 else station

    for number, batch in enumerate(day.batches, 1):
        for run in batch.runs:
            bars[label(run.station, run.place)].append((run.starts, (str(number),)))
    for task in day.tasks:
        if task.kind == "clean":
            bars[label(task.station, task.place)].append((task.starts, ("clean:", "clean", "cl")))
    for pack in day.packing:
        bars[label(r.kitchen.packing_station, pack.place)].append(
            (pack.starts, (str(plain(f"{pack.product} ({pack.person})")), str(plain(pack.person)), "pack", "p"))
        )
    return {name: sorted(blocks) for name, blocks in bars.items()}


def _bars(heading: str, expected: dict[str, list[Block]], title: str, cells: Cells) -> Findings:
    """Each bar has a block for each job, in order, where the clock says (within two columns)."""
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
    wanted = [(hours[0][0] + i * wide, clock((first_hour + i) * 60)) for i in range(len(hours))]
    if hours != wanted:
        yield Violation("workbook", title, f"The hours of {heading!r} are not even.")
    bars: dict[str, list[tuple[int, str]]] = {}
    at = head + 1
    while 1 in cells.get(at, {}):
        bars[text(cells[at], 1)] = [(c, text(cells[at], c)) for c in sorted(cells[at]) if c > 1]
        at += 1
    slot = 60 / wide
    for label in sorted(bars.keys() | {str(plain(name)) for name in expected}):
        blocks, own = bars.get(label, []), next((own for n, own in expected.items() if plain(n) == label), None)
        good = own is not None and label in bars and len(blocks) == len(own) and all(
            abs(first_hour * 60 + (column - hours[0][0]) * slot - starts) <= 2 * slot
            and (words in said or words.split(" ")[0] in said)
            for (column, words), (starts, said) in zip(blocks, own, strict=True)
        )  # fmt: skip
        if not good:
            yield Violation("workbook", title, f"The bar {label} of {heading!r} does not show what the plan says.")
