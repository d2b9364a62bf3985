"""The run sheet of a day: pours in order with blanks to fill in, who is where, other work, what to pack."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from scheduler.answers.changes import to_mind
from scheduler.paper.figures import Figures
from scheduler.paper.grid import (
    BLANK,
    BODY,
    CAUTION,
    HEAD,
    NOTE,
    NUMBER,
    RIGHT,
    ROW_POINTS,
    SMALL,
    SMALL_STRONG,
    STRONG,
    TALLEST_ROW,
    TITLE,
    Grid,
)
from scheduler.paper.looks import Look
from scheduler.paper.sheet import PAGE_POINTS, Book, Sheet
from scheduler.paper.text import in_lines, text_pixels
from scheduler.paper.time_bars import bars_points, batch_look, people_bars, station_bars, station_rows
from scheduler.paper.words import capital, clock, count, day_long, listed, span
from scheduler.plan.types import Batch, DayPlan, StageRun
from scheduler.season.rules import shows_on

# What a later command looks for when it reads back what was typed in: never change these lightly.
MADE_HEADINGS = (
    "Batches in order", "Batch", "Pieces planned", "Pieces made", "Seconds", "What became of it", "Remarks",
)  # fmt: skip
PACKED_HEADINGS = ("To pack", "Packs planned", "Packs packed", "Remarks")
OTHER_HEADINGS = ("Other work", "When", "Who")
PACKED_POINTS, UNIT = 18.0, 12.5  # least heights: blanks to write into, a line of other work
BLANK_PIXELS = [52, 48, 48, 52, 62, 52]  # from the batch to the remarks, which take what is left
MORE_POINTS = 12.0  # added to the height of a batch's row where the page has room
# letters of the pours, and whether the roles of a stage stand in one line: the first that fits, else the usual
SIZES, USUAL = ((11, False), (10, False), (9, True), (9, False), (8, True), (8, False)), (9, False)
POURS_GAPS, BELOW_GAP = 16.0, 5.0
SQUEEZE = 66.0  # points: a day no more than this too high for a page is printed a little smaller
OUTCOMES = ("made", "failed", "not started")
FILL_IN = (
    "In the bars a number is a batch, p packing, c cleaning; free: nothing set, help where it is needed. "
    f"Fill in after each batch. What became of it: {', '.join(OUTCOMES)}. Seconds are pieces sold as seconds."
)

HOT_SUGAR = (
    "Hot sugar burns deeply and sticks: gloves, sleeves, a clear path, cold water at hand, visitors behind a barrier."
)
PULL_LIMITS = "The pull limits are the kitchen's own. Stop when arms hurt; local rules come first."
RUN_ORDER = "The run order is help, not a cleaning validation."


def run_sheet(book: Book, figures: Figures, day: DayPlan, title: str) -> Sheet:
    """Write the sheet of one day: one page wherever it fits, else no part is split between pages."""
    sheet = book.sheet(title)
    grid = Grid(sheet, day)
    _head(grid, figures, day)
    below = _Below(grid, figures, day)
    bars, room = bars_points(figures, day), PAGE_POINTS[True] - sheet.points(1)
    high, pages = bars + below.points, 1
    size = _size(grid, figures, day, room - high)
    if size is None and (size := _size(grid, figures, day, room + SQUEEZE - high)) is not None:
        sheet.ws.page_setup.fitToHeight = 1
    elif size is None:  # what happens when on the first page, as large as it may be
        high, pages = bars, 2
        size = _size(grid, figures, day, room - high) or USUAL
    spare = _pours(grid, figures, day, *size, room - high)
    bars_rows = len(day.shifts) + len(station_rows(figures, day))
    grid.bar_points = min(TALLEST_ROW, ROW_POINTS + max(0.0, spare) / max(1, bars_rows))
    page = 1
    for write in (people_bars, station_bars, below.write):
        first = sheet.row
        write(grid, figures, day)
        page = grid.keep_together(first, page) if pages > 1 else page
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
        young = [p.name for p in figures.season.crew if p.young and (p.name, day.day) in figures.shift]
        grid.line(HOT_SUGAR + (f" No hot work for {listed(young)} (young worker)." if young else ""), CAUTION)
    for said in to_mind(figures.plan, day.day):
        grid.line(said, CAUTION)
    for said in _cautions(figures, day):
        grid.line(said, NOTE)


def _sentence(figures: Figures, day: DayPlan) -> str:
    parts = []
    if day.batches:
        pieces = sum(figures.season.design_by_name[b.design].pieces for b in day.batches)
        last = max(b.ends for b in day.batches)
        parts.append(
            f"{count(len(day.batches), 'batch', 'batches')}, {count(pieces, 'piece')} planned; "
            f"first start {clock(day.batches[0].pour)}, last batch done {clock(last)}"
        )
    else:
        parts.append("no batch today")
    if day.packing:
        parts.append(f"{count(sum(p.packs for p in day.packing), 'pack')} to pack")
    hours = {s.name: s.starts for s in shows_on(figures.season, day.day)}
    shows = [f"{b.show} at {clock(hours[b.show])}" for b in day.batches if b.show]
    parts += [f"show: {listed(shows)}"] if shows else []
    parts += [f"SHOW NOT HELD: {listed(day.missed_shows)}"] if day.missed_shows else []
    return capital("; ".join(parts)) + "."


def _size(grid: Grid, figures: Figures, day: DayPlan, room: float) -> tuple[int, bool] | None:
    """The largest letters with which the pours take no more than this height, no clock time broken; None if none do."""
    if not day.batches:
        return SIZES[0] if room >= 0 else None
    for size, line in SIZES:
        cells, places, looks, wide = _pour_table(grid, figures, day, size, line)
        if wide and sum(map(grid.needed, cells, [places] * len(cells), looks)) + POURS_GAPS <= room:
            return size, line
    return None


def _pours(grid: Grid, figures: Figures, day: DayPlan, size: int, line: bool, room: float) -> float:
    """A row a batch, a column a stage with clock times and people; at the right blanks. Returns the room left over."""
    if not day.batches:
        return room
    sheet = grid.sheet
    first = sheet.row
    grid.gap(6)
    cells, places, looks, _ = _pour_table(grid, figures, day, size, line)
    heights = [*map(grid.needed, cells, [places] * len(cells), looks)]
    more = min(MORE_POINTS, max(0.0, room - sum(heights) - POURS_GAPS) / 2 / len(day.batches))
    for at, (row, look) in enumerate(zip(cells, looks, strict=True)):
        grid.boxes(row, places, look, heights[at] + (more if at else 0.0))
    letter = get_column_letter(places[MADE_HEADINGS.index("What became of it") - len(MADE_HEADINGS)][0])
    choice = DataValidation("list", formula1=f'"{",".join(OUTCOMES)}"', allow_blank=True)
    choice.add(f"{letter}{sheet.row - len(day.batches)}:{letter}{sheet.row - 1}")
    sheet.ws.add_data_validation(choice)
    grid.line(FILL_IN, replace(RIGHT, size=7, up="top"), 10)
    return room - sheet.points(first)


def _pour_table(
    grid: Grid, figures: Figures, day: DayPlan, size: int, line: bool
) -> tuple[list[list[object]], list[tuple[int, int]], list[list[Look]], bool]:
    """Texts, places and looks of the pours, the heading row first; and whether they are wide enough."""
    season = figures.season
    used = {r.stage for b in day.batches for r in b.runs}
    stages = [s for s in season.stages if s.name in used]
    cells: list[list[object]] = [
        [MADE_HEADINGS[0], *(f"{capital(s.name)}\n{s.station}" for s in stages), *MADE_HEADINGS[1:]]
    ]
    head, body = replace(HEAD, size=min(size, 9)), replace(BODY, size=size, indent=0, across="center")
    blanks = [replace(body, size=8), replace(NUMBER, size=8), *[BLANK] * 4]
    looks = [[head, *[replace(head, size=8, indent=0, across="center")] * (len(stages) + 6)]]
    for number, batch in enumerate(day.batches, 1):
        run = {r.stage: r for r in batch.runs}
        words = [_run_words(figures, run[s.name], line) if s.name in run else "–" for s in stages]
        pieces = season.design_by_name[batch.design].pieces
        cells.append([_batch_words(figures, number, batch), *words, batch.id, pieces, None, None, None, None])
        name = replace(STRONG, size=size, fill=batch_look(number).fill)
        looks.append([name, *[body] * len(stages), *blanks])
    columns = [[str(row[at]) for row in cells[1:]] for at in range(1, len(stages) + 1)]
    least = [max(text_pixels(w, size) for words in texts for w in words.split()) + 13 for texts in columns]
    wish = [max(text_pixels(w, size) for words in texts for w in words.split("\n")) + 13 for texts in columns]
    room = grid.sheet.width(2, grid.slots) - sum(BLANK_PIXELS) - sum(least)
    share = max(0.0, min(1.0, room / max(1.0, sum(wish) - sum(least))))
    wishes = [*(round(few + (many - few) * share) for few, many in zip(least, wish, strict=True)), *BLANK_PIXELS]
    places = grid.fit(wishes)
    return cells, [(1, 1), *(places or grid.shares(wishes))], looks, places is not None


def _batch_words(figures: Figures, number: int, batch: Batch) -> str:
    design = figures.season.design_by_name[batch.design]
    lines = [f"{number}  {batch.design}"]
    if batch.show:
        lines.append(f"SHOW: {batch.show}")
    if design.allergens:
        lines.append(f"CONTAINS {listed(design.allergens)}")
    lines += [m.outcome.upper() for m in figures.season.made if m.batch == batch.id and m.outcome != "made"]
    return "\n".join(lines)


def _run_words(figures: Figures, run: StageRun, line: bool) -> str:
    places = figures.season.places.get(run.station, 1)
    lines = [span(run.starts, run.ends) + (f", place {run.place}" if places > 1 else "")]
    names: dict[str, list[str]] = defaultdict(list)
    for role, person in run.crew:
        names[role].append(person)
    if len(names) == 1:
        lines.append(listed(next(iter(names.values()))))
    else:
        roles = [f"{role}: {listed(people)}" for role, people in names.items()]
        lines.append((", " if line else ",\n").join(roles))
    return "\n".join(lines)


def _cautions(figures: Figures, day: DayPlan) -> list[str]:
    """What to mind today: allergens, pulls against the limits."""
    season = figures.season
    said = []
    made = {b.design: season.design_by_name[b.design].allergens for b in day.batches}
    packed = {p.product: figures.allergens(p.product) for p in day.packing}
    if allergens := sorted({a for held in (*made.values(), *packed.values()) for a in held}):
        where = [f"{does} {listed(names)}" for does, found in (("made in", made), ("packed in", packed))
                 if (names := sorted(name for name, held in found.items() if held))]  # fmt: skip
        said.append(f"Allergens today: {listed(allergens)}, {' and '.join(where)}. {RUN_ORDER}")
    if any(j.pulls for j in figures.jobs[day.day]):
        pulls = [
            f"{p.name} {figures.pulls[p.name, day.day]} of {p.pulls_day}"
            for p in season.crew
            if figures.pulls.get((p.name, day.day))
        ]
        said.append(f"Pulls today, of the most allowed: {', '.join(pulls)}. {PULL_LIMITS}")
    return said


class _Below:
    """Below the bars, side by side: other work in order of the clock, and what to pack, with blanks."""

    def __init__(self, grid: Grid, figures: Figures, day: DayPlan) -> None:
        sheet = grid.sheet
        left, _, right = grid.shares([41, 1, 58], first=1)
        self.left = grid.shares([25, 9, 10], first=1, last=left[1])
        self.right = grid.shares([20, 39, 9, 10, 19], first=right[0])
        self.work = _other_work(figures, day)
        self.packs = _to_pack(figures, day, sheet.width(*self.right[1]))
        self.looks = [SMALL_STRONG, SMALL, SMALL]
        heights = [grid.needed(row, self.left, self.looks, UNIT) for row in self.work]
        self.down: list[int] = []  # rows of each product
        at = 0
        for row in self.packs:
            need = max(PACKED_POINTS, grid.needed(row[:2], self.right[:2], [SMALL_STRONG, SMALL]))
            rows = 0
            while need > 0:
                if at == len(heights):
                    heights.append(max(need, 1.0))
                need -= heights[at] + 0.5
                at, rows = at + 1, rows + 1
            self.down.append(rows)
        self.heights = heights
        packed = [PACKED_HEADINGS[0], "When, who and how many", *PACKED_HEADINGS[1:]] if self.packs else []
        self.headings = [*(OTHER_HEADINGS if self.work else ()), *packed]
        self.places = [*(self.left if self.work else []), *(self.right if self.packs else [])]
        middle = replace(HEAD, indent=0, across="center")
        looks = [*[HEAD] * 3 * bool(self.work), *([HEAD, HEAD, middle, middle, HEAD] if self.packs else [])]
        self.heads, self.head = looks, grid.needed(self.headings, self.places, looks, 16.0)
        self.points = sum(heights) + self.head + BELOW_GAP if heights else 0.0

    def write(self, grid: Grid, *_: object) -> None:
        sheet = grid.sheet
        if not self.heights:
            return
        grid.gap(BELOW_GAP)
        grid.boxes(self.headings, self.places, self.heads, self.head)
        first = sheet.row
        for at, high in enumerate(self.heights):
            sheet.height(first + at, high)
            if at < len(self.work):
                for value, (column, wide), look in zip(self.work[at], self.left, self.looks, strict=True):
                    sheet.put(first + at, column, value, look, wide=wide)
        sheet.row += len(self.heights)
        for row, down in zip(self.packs, self.down, strict=True):
            for value, (column, wide), look in zip(
                row, self.right, [SMALL_STRONG, SMALL, NUMBER, BLANK, BLANK], strict=True
            ):
                sheet.put(first, column, value, look, wide=wide, down=down)
            first += down


def _other_work(figures: Figures, day: DayPlan) -> list[list[object]]:
    """What, when and who: opening, cleaning, shows, breaks, closing."""
    rows: list[tuple[int, int, str, str]] = []
    for task in day.tasks:
        what = {"opening": "Open up", "closing": "Close down", "show": f"Extra hands at {task.note}"}.get(task.kind, "")
        if task.kind == "clean":
            here = figures.season.places.get(task.station, 1)
            what = f"Clean the {task.station}" + (f", place {task.place}" if here > 1 else "")
            what += f": {task.note}" if task.note else ""
        rows.append((task.starts, task.ends, what, listed(task.people)))
    breaks: dict[tuple[int, int], list[str]] = defaultdict(list)
    for shift in day.shifts:
        if shift.break_starts is not None and shift.break_ends is not None:
            breaks[shift.break_starts, shift.break_ends].append(shift.person)
    rows += [(starts, ends, "Break", listed(people)) for (starts, ends), people in breaks.items()]
    return [[what, span(starts, ends), who] for starts, ends, what, who in sorted(rows)]


def _to_pack(figures: Figures, day: DayPlan, pixels: int) -> list[list[object]]:
    """Product, what it contains and who packs how many when, packs planned, and two blanks."""
    runs: dict[str, list[str]] = {}
    packs: dict[str, int] = defaultdict(int)
    for run in day.packing:
        if run.product not in runs:
            inside = figures.allergens(run.product)
            runs[run.product] = [f"CONTAINS {listed(inside)}"] if inside else []
        runs[run.product].append(f"{span(run.starts, run.ends)} {run.person} {run.packs:,}")
        packs[run.product] += run.packs
    return [[product, in_lines(words, pixels), packs[product], None, None] for product, words in runs.items()]
