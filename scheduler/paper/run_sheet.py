"""The run sheet of a day: pours in order, who is where, other work, and blanks to fill in."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from scheduler.paper.figures import Figures, Job
from scheduler.paper.grid import (
    BLANK,
    BODY,
    CAUTION,
    HEAD,
    HEADING,
    LIST,
    NOTE,
    NUMBER,
    RIGHT,
    SMALL,
    SMALL_STRONG,
    STRONG,
    TITLE,
    Grid,
)
from scheduler.paper.sheet import PAGE_POINTS, Book, Sheet
from scheduler.paper.text import text_pixels
from scheduler.paper.time_bars import bars_points, batch_look, people_bars, station_bars
from scheduler.paper.words import capital, clock, count, day_long, listed, span
from scheduler.plan.types import Batch, DayPlan, StageRun

# What a later command looks for when it reads back what was typed in: never change these lightly.
MADE_TITLE, PACKED_TITLE = "Made: fill in", "Packed: fill in"
MADE_HEADINGS = ("Batch", "Design", "Pieces planned", "Pieces made", "Seconds", "What became of it", "Remarks")
PACKED_HEADINGS = ("Product", "Packs planned", "Packs packed", "Remarks")
BLANK_POINTS = 22.0
SIZES, USUAL = (11, 10, 9, 8), 9  # of the letters of the pours
OUTCOMES = ("made", "failed", "not started")

HOT_SUGAR = (
    "Hot sugar burns deeply and sticks: gloves, sleeves, a clear path, cold water at hand, visitors behind a barrier."
)
PULL_LIMITS = "The pull limits are the kitchen's own. Stop when arms hurt; local rules come first."
RUN_ORDER = "The run order is help, not a cleaning validation."


def run_sheet(book: Book, figures: Figures, day: DayPlan, title: str) -> Sheet:
    """Write the sheet of one day; two pages on a usual day, no part of it split between pages."""
    sheet = book.sheet(title)
    grid = Grid(sheet, day)
    _head(grid, figures, day)
    page = 1
    for section in (_pours, people_bars, station_bars, _everyone, _other_work, _blanks_made, _blanks_packed):
        first = sheet.row
        section(grid, figures, day)
        page = grid.keep_together(first, page)
    return sheet


def _head(grid: Grid, figures: Figures, day: DayPlan) -> None:
    sheet = grid.sheet
    (left, wide), (right, rest) = grid.shares([7, 3], first=1)
    sheet.put(1, left, day_long(day.day), TITLE, wide=wide)
    kitchen = figures.season.kitchen.name
    sheet.put(1, right, kitchen, RIGHT, wide=rest)
    sheet.height(1, 27)
    sheet.repeat(1, 1)
    sheet.row = 2
    grid.line(_sentence(figures, day), NOTE)
    if day.batches:
        grid.line(HOT_SUGAR, CAUTION)
    for said in _cautions(figures, day):
        grid.line(said, NOTE)


def _sentence(figures: Figures, day: DayPlan) -> str:
    parts = []
    if day.batches:
        pieces = sum(figures.season.design_by_name[b.design].pieces for b in day.batches)
        last = max(b.ends for b in day.batches)
        parts.append(
            f"{count(len(day.batches), 'batch', 'batches')}, {count(pieces, 'piece')} planned; "
            f"first pour {clock(day.batches[0].pour)}, last batch done {clock(last)}"
        )
    else:
        parts.append("no batch today")
    if day.packing:
        parts.append(f"{count(sum(p.packs for p in day.packing), 'pack')} to pack")
    shows = [f"{b.show} at {clock(b.pour)}" for b in day.batches if b.show]
    parts += [f"show: {listed(shows)}"] if shows else []
    parts += [f"SHOW NOT HELD: {listed(day.missed_shows)}"] if day.missed_shows else []
    return capital("; ".join(parts)) + "."


def _pours(grid: Grid, figures: Figures, day: DayPlan) -> None:
    """A row a batch, a column a stage: clock times, place and who does it; as large as the page allows."""
    if not day.batches:
        return
    grid.gap()
    cells = _pour_cells(figures, day)
    room = PAGE_POINTS[True] - grid.sheet.points(1) - bars_points(figures, day)
    for size in SIZES:
        places, looks = _pour_places(grid, cells, size), [replace(STRONG, size=size), replace(BODY, size=size)]
        rows = [[looks[0], *[looks[1]] * (len(row) - 1)] for row in cells]
        if sum(grid.needed(row, places, look) for row, look in zip(cells, rows, strict=True)) <= room:
            break
    else:
        places = _pour_places(grid, cells, USUAL)
        rows = [[STRONG, *[BODY] * (len(row) - 1)] for row in cells]
    grid.boxes(cells[0], places, [replace(HEAD, size=rows[0][0].size)] * len(cells[0]))
    for number, (row, look) in enumerate(zip(cells[1:], rows[1:], strict=True), 1):
        grid.boxes(row, places, [replace(look[0], fill=batch_look(number).fill), *look[1:]])


def _pour_cells(figures: Figures, day: DayPlan) -> list[list[str]]:
    """The heading row, then a row for each batch."""
    used = {r.stage for b in day.batches for r in b.runs}
    stages = [s for s in figures.season.stages if s.name in used]
    out = [["Pours in order", *(f"{capital(s.name)}\n{s.station}" for s in stages)]]
    for number, batch in enumerate(day.batches, 1):
        run = {r.stage: r for r in batch.runs}
        words = (_run_words(figures, run[s.name]) if s.name in run else "–" for s in stages)
        out.append([_batch_words(figures, number, batch), *words])
    return out


def _pour_places(grid: Grid, cells: list[list[str]], size: int) -> list[tuple[int, int]]:
    """Columns as wide as their longest lines ask for."""
    weights = [
        max(text_pixels(line, size, bold=not at) for at, row in enumerate(cells) for line in row[column].split("\n"))
        + 20
        for column in range(1, len(cells[0]))
    ]
    return [(1, 1), *grid.shares([round(w) for w in weights])]


def _batch_words(figures: Figures, number: int, batch: Batch) -> str:
    design = figures.season.design_by_name[batch.design]
    lines = [f"{number}  {batch.design}", f"batch {batch.id}, {count(design.pieces, 'piece')}"]
    if batch.show:
        lines.append(f"SHOW: {batch.show}")
    if design.allergens:
        lines.append(f"CONTAINS {listed(design.allergens)}")
    return "\n".join(lines)


def _run_words(figures: Figures, run: StageRun) -> str:
    places = figures.season.places.get(run.station, 1)
    lines = [span(run.starts, run.ends) + (f", place {run.place}" if places > 1 else "")]
    names: dict[str, list[str]] = defaultdict(list)
    for role, person in run.crew:
        names[role].append(person)
    if len(names) == 1:
        lines.append(listed(next(iter(names.values()))))
    else:
        lines += [f"{role}: {listed(people)}" for role, people in names.items()]
    return "\n".join(lines)


def _cautions(figures: Figures, day: DayPlan) -> list[str]:
    """What to mind today: allergens, pulls against the limits, young workers."""
    season = figures.season
    said = []
    allergens = sorted({a for b in day.batches for a in season.design_by_name[b.design].allergens})
    if allergens:
        said.append(f"Allergens today: {listed(allergens)}. {RUN_ORDER}")
    if any(j.pulls for j in figures.jobs[day.day]):
        pulls = [
            f"{p.name} {figures.pulls[p.name, day.day]} of {p.pulls_day}"
            for p in season.crew
            if figures.pulls.get((p.name, day.day))
        ]
        said.append(f"Pulls today, of the most allowed: {', '.join(pulls)}. {PULL_LIMITS}")
    young = [p.name for p in season.crew if p.young and (p.name, day.day) in figures.shift]
    if young:
        said.append(f"No hot work for {listed(young)} (young worker).")
    return said


def _everyone(grid: Grid, figures: Figures, day: DayPlan) -> None:
    """Each person's day as a list with clock times, six people side by side."""
    shifts = sorted(day.shifts, key=lambda s: (s.starts, s.person))
    if not shifts:
        return
    grid.gap()
    grid.line("Each person's day", HEADING, 20)
    for at in range(0, len(shifts), 6):
        band = shifts[at : at + 6]
        places = grid.shares([1] * max(4, len(band)), first=1)[: len(band)]
        heads: list[object] = [f"{s.person}, {span(s.starts, s.ends)}" for s in band]
        grid.boxes(heads, places, [HEAD] * len(band))
        lists = [
            "\n".join(_job_words(j) for j in figures.jobs[day.day] if j.person == s.person) or "nothing set"
            for s in band
        ]
        longest = max(words.count("\n") + 1 for words in lists)
        size = 9 if longest < 10 else 8 if longest < 16 else 7
        grid.boxes(lists, places, [replace(LIST, size=size)] * len(band))


def _job_words(job: Job) -> str:
    what = {
        "stage": f"{job.number} {job.name}",
        "packing": f"pack {job.packs} {job.name}",
        "clean": f"clean {job.station}",
        "show": f"show hand, {job.note}",
    }.get(job.kind, job.name)
    return f"{span(job.starts, job.ends)} {what}"


def _other_work(grid: Grid, figures: Figures, day: DayPlan) -> None:
    """Opening, cleaning, shows, packing and closing in order of the clock."""
    rows: list[tuple[int, int, str, str, str]] = []
    for task in day.tasks:
        what = {"opening": "Open up", "closing": "Close down", "show": f"Extra hands at {task.note}"}.get(task.kind, "")
        here = figures.season.places.get(task.station, 1)
        if task.kind == "clean":
            what = f"Clean the {task.station}" + (f", place {task.place}" if here > 1 else "")
        note = task.note if task.kind == "clean" else ""
        rows.append((task.starts, task.ends, what, listed(task.people), note))
    many = figures.season.places.get(figures.season.kitchen.packing_station, 1) > 1
    for pack in day.packing:
        what = f"Pack {count(pack.packs, 'pack')} of {pack.product}"
        rows.append((pack.starts, pack.ends, what, pack.person, f"place {pack.place}" if many else ""))
    if not rows:
        return
    grid.line("Opening, cleaning, shows, packing, closing", HEADING, 22)
    places = [(1, 1), *grid.shares([5, 4, 3])]
    grid.boxes(["When", "What", "Who", "Note"], places, [HEAD] * 4)
    for starts, ends, what, who, note in sorted(rows):
        grid.boxes([span(starts, ends), what, who, note], places, [SMALL_STRONG, SMALL, SMALL, SMALL], 13)


def _blanks_made(grid: Grid, figures: Figures, day: DayPlan) -> None:
    """Blanks for what became of each batch; the batch id names what a row is about."""
    if not day.batches:
        return
    sheet = grid.sheet
    grid.gap(6)  # an empty row ends the table above for whoever reads the sheet back
    (left, wide), (right, rest) = grid.shares([1, 4], first=1)
    sheet.put(sheet.row, left, MADE_TITLE, HEADING, wide=wide)
    words = f"What became of it: {', '.join(OUTCOMES)}. Seconds are pieces sold as seconds."
    sheet.put(sheet.row, right, words, replace(RIGHT, size=8, up="bottom"), wide=rest)
    sheet.height(sheet.row, 16)
    sheet.row += 1
    places = [(1, 1), *grid.shares([4, 2, 2, 2, 3, 6])]
    grid.boxes(list(MADE_HEADINGS), places, [HEAD] * 7)
    first = sheet.row
    for batch in day.batches:
        pieces = figures.season.design_by_name[batch.design].pieces
        looks = [STRONG, BODY, NUMBER, BLANK, BLANK, BLANK, BLANK]
        grid.boxes([batch.id, batch.design, pieces, None, None, None, None], places, looks, BLANK_POINTS)
    letter = get_column_letter(places[5][0])
    choice = DataValidation("list", formula1=f'"{",".join(OUTCOMES)}"', allow_blank=True)
    choice.add(f"{letter}{first}:{letter}{sheet.row - 1}")
    sheet.ws.add_data_validation(choice)


def _blanks_packed(grid: Grid, figures: Figures, day: DayPlan) -> None:
    """Blanks for the packs packed; the product's name names what a row is about."""
    packs: dict[str, int] = defaultdict(int)
    for run in day.packing:
        packs[run.product] += run.packs
    if not packs:
        return
    grid.line(PACKED_TITLE, HEADING, 22)
    places = [(1, 1), *grid.shares([2, 2, 6])]
    grid.boxes(list(PACKED_HEADINGS), places, [HEAD] * 4)
    for product, number in packs.items():
        grid.boxes([product, number, None, None], places, [STRONG, NUMBER, BLANK, BLANK], BLANK_POINTS)
