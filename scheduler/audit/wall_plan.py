"""What the plan says that the wall should show, worked out once for all sheets: each person's work, hours and pulls."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from scheduler.audit.readings import Reading
from scheduler.audit.wall_words import Facts
from scheduler.audit.weeks import PersonWeek, paid_weeks, week_of
from scheduler.plan.types import DayPlan, Plan, Shift


@dataclass(frozen=True, slots=True)
class Work:
    """A stretch of one person's day: its words on the run sheet, and its cells on the person's page."""

    starts: int
    ends: int
    short: str
    cells: Facts  # what, as, design, batch, where, pulls


class Wall:
    """A season and its plan as the sheets show them."""

    def __init__(self, r: Reading, plan: Plan) -> None:
        self.r, self.plan = r, plan
        self.day = {day.day: day for day in plan.days}
        self.work = {day.day: work_of(r, day) for day in plan.days}
        self.shift: dict[tuple[str, date], Shift] = {}
        self.pulls: dict[tuple[str, date], int] = defaultdict(int)
        self.paid = paid_weeks(r, plan)
        self.week_pulls: dict[PersonWeek, int] = defaultdict(int)
        for day in plan.days:
            for shift in day.shifts:
                self.shift.setdefault((shift.person, day.day), shift)
            for person, stretches in self.work[day.day].items():
                pulls = sum(work.cells[-1] for work in stretches if isinstance(work.cells[-1], int))
                self.pulls[person, day.day] = pulls
                self.week_pulls[week_of(person, day.day)] += pulls


def place(r: Reading, station: str, number: int) -> str:
    """A place of a station; its number only where there are several."""
    return f"{station} {number}" if r.season.places.get(station, 1) > 1 else station


def work_of(r: Reading, day: DayPlan) -> dict[str, list[Work]]:
    """Person -> stretches of work and breaks of a day."""
    out: dict[str, list[Work]] = defaultdict(list)
    for number, batch in enumerate(day.batches, 1):
        for run in batch.runs:
            at = place(r, run.station, run.place)
            for role, person in run.crew:
                pulls = r.pulls(batch.design, run.stage, role) or None
                cells: Facts = (run.stage, role, batch.design, batch.id, at, pulls)
                out[person].append(Work(run.starts, run.ends, f"{number} {run.stage}", cells))
    words = {"opening": "open up", "closing": "close down"}
    for task in day.tasks:
        short = what = words.get(task.kind, f"show hand, {task.note}")
        if task.kind == "clean":
            short, what = f"clean {task.station}", f"clean, {task.note}" if task.note else "clean"
        station = place(r, task.station, task.place) if task.station else None
        for person in task.people:
            out[person].append(Work(task.starts, task.ends, short, (what, None, None, None, station, None)))
    for pack in day.packing:
        what = f"pack {pack.packs:,} {'pack' if pack.packs == 1 else 'packs'} of {pack.product}"
        cells = (what, None, None, None, place(r, r.kitchen.packing_station, pack.place), None)
        out[pack.person].append(Work(pack.starts, pack.ends, f"pack {pack.packs} {pack.product}", cells))
    for shift in day.shifts:
        if shift.break_starts is not None and shift.break_ends is not None:
            cells = ("break", None, None, None, None, None)
            out[shift.person].append(Work(shift.break_starts, shift.break_ends, "break", cells))
    return out
