"""Time bars of a day: a row for each person and each station, blocks with words in them.

Blocks carry the number of the batch, so that a grey print tells as much as a coloured one.
"""

from __future__ import annotations

from scheduler.paper.figures import Figures, Job
from scheduler.paper.grid import HEAD, ROW_POINTS, Grid
from scheduler.paper.looks import Look
from scheduler.paper.text import text_pixels
from scheduler.paper.words import clock, span
from scheduler.plan.types import DayPlan

HOUR_POINTS = 13.0
NAME = Look(size=9, bold=True, edge="trbl", shrink=True, indent=1)
AWAY = Look(size=7, fill="CFCFCF", edge="tb")
FREE = Look(size=7, edge="tb")
IDLE = Look(size=7, italic=True, ink="666666", edge="tb", across="center", shrink=True)
HOUR = Look(size=8, bold=True, fill="D9D9D9", edge="tlb", wrap=False)
BATCH_FILLS = ("FFF2CC", "DDEBF7", "E2EFDA", "FCE4D6", "E4DFEC", "DAF0F0")  # all light: words stay legible in grey
BLOCKS = {
    "break": Look(size=7, italic=True, fill="FFFFFF", pattern="lightUp", edge="trbl", across="center", shrink=True),
    "clean": Look(size=7, bold=True, fill="FFFFFF", pattern="gray125", edge="TRBL", across="center", shrink=True),
    "packing": Look(size=7, fill="FFFFFF", edge="trbl", across="center", shrink=True),
    "show": Look(size=7, bold=True, ink="FFFFFF", fill="404040", edge="trbl", across="center", shrink=True),
    "opening": Look(size=7, italic=True, fill="EDEDED", edge="trbl", across="center", shrink=True),
    "closing": Look(size=7, italic=True, fill="EDEDED", edge="trbl", across="center", shrink=True),
}


def batch_look(number: int) -> Look:
    """The light colour of a batch's blocks."""
    fill = BATCH_FILLS[(number - 1) % len(BATCH_FILLS)]
    return Look(size=7, fill=fill, edge="trbl", across="center", shrink=True)


def people_bars(grid: Grid, figures: Figures, day: DayPlan) -> None:
    """Who is where when: a row for each person who is in."""
    if not day.shifts:
        return
    grid.gap(4)
    _hours(grid, "Who is where")
    for shift in sorted(day.shifts, key=lambda s: (s.starts, s.person)):
        own = [j for j in figures.jobs[day.day] if j.person == shift.person]
        label = f"{shift.person}  {span(shift.starts, shift.ends)}"
        blocks = [(j.starts, j.ends, _words(j), _look(j)) for j in own]
        blocks += [(starts, ends, ["free"], IDLE) for starts, ends in figures.free(shift.person, day.day)]
        _row(grid, label, blocks, (shift.starts, shift.ends))


def station_bars(grid: Grid, figures: Figures, day: DayPlan) -> None:
    """What is in use when: a row for each place of a station that is used."""
    rows = station_rows(figures, day)
    if not rows:
        return
    grid.gap(4)
    _hours(grid, "What is in use")
    for label, blocks in rows:
        _row(grid, label, blocks, (grid.starts, grid.ends))


def bars_points(figures: Figures, day: DayPlan) -> float:
    """Height of both sets of bars in points."""
    rows = len(day.shifts) + len(station_rows(figures, day))
    return rows * ROW_POINTS + 2 * HOUR_POINTS + 10


def _hours(grid: Grid, title: str) -> None:
    sheet = grid.sheet
    sheet.put(sheet.row, 1, title, HEAD)
    for hour in range(grid.starts, grid.ends, 60):
        sheet.put(sheet.row, grid.column(hour), clock(hour), HOUR, wide=grid.column(hour + 60) - grid.column(hour))
    sheet.height(sheet.row, HOUR_POINTS)
    sheet.row += 1


def _row(grid: Grid, label: str, blocks: list[tuple[int, int, list[str], Look]], present: tuple[int, int]) -> None:
    """One row: blocks in order of time, blank where free, grey where the person is not in."""
    sheet, row, taken = grid.sheet, grid.sheet.row, 1
    sheet.put(row, 1, label, NAME)
    for column in range(2, grid.last + 1):
        minute = grid.starts + (column - 2) * grid.slot
        sheet.put(row, column, None, FREE if present[0] - 2 <= minute < present[1] - 2 else AWAY)
    for starts, stops, words, look in sorted(blocks, key=lambda b: (b[0], b[1])):
        first = max(grid.column(starts), taken + 1)
        wide = max(1, grid.column(stops) - first)
        if first > grid.last:
            continue
        wide = min(wide, grid.last - first + 1)
        sheet.put(row, first, fitting(words, sheet.width(first, wide)), look, wide=wide)
        taken = first + wide - 1
    sheet.height(row, grid.bar_points)
    sheet.row += 1


def fitting(words: list[str], pixels: float, size: int = 7) -> str:
    """The longest of these wordings, long to short, that fits into a width."""
    return next((w for w in words if text_pixels(w, size) + 3 <= pixels), words[-1])


def _look(job: Job) -> Look:
    return batch_look(job.number) if job.kind == "stage" else BLOCKS[job.kind]


def _words(job: Job) -> list[str]:
    if job.kind == "stage":
        first = job.name.split(" ")[0]
        return [f"{job.number} {job.name}", f"{job.number} {first}", str(job.number)]
    if job.kind == "packing":
        return [f"pack {job.packs} {job.name}", f"pack {job.packs}", "pack", "p"]
    if job.kind == "clean":
        return [f"clean {job.station}", "clean", "c"]
    if job.kind == "show":
        return [f"show hand: {job.note}", "show hand", "show", "s"]
    return [job.name, job.name.split(" ")[0], job.name[0]]


def station_rows(figures: Figures, day: DayPlan) -> list[tuple[str, list[tuple[int, int, list[str], Look]]]]:
    """A row for each place that is used: its name and its blocks."""
    season, rows = figures.season, []
    for station in season.stations:
        for place in range(1, station.places + 1):
            blocks: list[tuple[int, int, list[str], Look]] = []
            for number, batch in enumerate(day.batches, 1):
                blocks += [
                    (r.starts, r.ends, [f"{number} {batch.design}", str(number)], batch_look(number))
                    for r in batch.runs
                    if (r.station, r.place) == (station.name, place)
                ]
            blocks += [
                (t.starts, t.ends, [f"clean: {t.note}", "clean", "c"], BLOCKS["clean"])
                for t in day.tasks
                if t.kind == "clean" and (t.station, t.place) == (station.name, place)
            ]
            if station.name == season.kitchen.packing_station:
                blocks += [
                    (p.starts, p.ends, [f"{p.product} ({p.person})", p.person, "pack", "p"], BLOCKS["packing"])
                    for p in day.packing
                    if p.place == place
                ]
            if blocks:
                rows.append((station.name if station.places == 1 else f"{station.name} {place}", blocks))
    return rows
