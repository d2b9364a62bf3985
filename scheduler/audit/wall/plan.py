"""What the plan says that the wall should show, worked out once for all sheets: each person's work, hours and pulls."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from scheduler.audit.readings import Reading
from scheduler.audit.wall.full import Full
from scheduler.audit.weeks import PersonWeek, paid_minutes, paid_weeks, week_of
from scheduler.plan.types import DayPlan, Plan, Shift


@dataclass(frozen=True, slots=True)
class Work:
    """A stretch of one person's day: its words in the bars, and on the person's page."""

    starts: int
    ends: int
    short: str
    long: str
    name: str  # the stage, the duty, or the product packed
    batch: str = ""
    design: str = ""
    pulls: int = 0


class Wall:
    """A season and its plan as the sheets show them."""

    def __init__(self, r: Reading, plan: Plan) -> None:
        self.r, self.plan = r, plan
        self.day = {day.day: day for day in plan.days}
        self.work = {day.day: work_of(r, day) for day in plan.days}
        self.shift: dict[tuple[str, date], Shift] = {}
        self.pulls: dict[tuple[str, date], int] = defaultdict(int)
        self.paid = paid_weeks(r, plan)
        self.drawn: dict[str, int] = defaultdict(int)  # pieces taken from each lot
        for fill in plan.fills:
            for draw in fill.draws:
                self.drawn[draw.lot] += draw.pieces
        self.week_pulls: dict[PersonWeek, int] = defaultdict(int)
        for day in plan.days:
            for shift in day.shifts:
                self.shift.setdefault((shift.person, day.day), shift)
            for person, stretches in self.work[day.day].items():
                pulls = sum(work.pulls for work in stretches)
                self.pulls[person, day.day] = pulls
                self.week_pulls[week_of(person, day.day)] += pulls

    def off(self, person: str, day: date) -> str:
        """Why a person has no shift on a day."""
        if not self.r.kitchen.first_day <= day <= self.r.kitchen.last_day:
            return ""
        if self.r.hours(day) is None:
            return "closed"
        away = any(a.person == person and a.first_day <= day <= a.last_day for a in self.r.season.absences)
        return "away" if away else "off"

    def free(self, person: str, day: date) -> list[tuple[int, int]]:
        """Ten minutes and more of a shift in which nothing is set."""
        shift = self.shift[person, day]
        ends = [shift.starts, *(w.ends for w in self.work[day].get(person, []))]
        starts = [shift.ends, *(w.starts for w in self.work[day].get(person, []))]
        after = [(end, min(s for s in starts if s >= end)) for end in ends if end <= shift.ends]
        return sorted((a, b) for a, b in set(after) if b - a >= 10)

    @cached_property
    def full(self) -> Full:
        """What the days hold at most."""
        return Full(self.r, self.plan)

    def load(self, day: DayPlan) -> tuple[dict[str, int], int, int]:
        """Of a day in minutes: used at each station, people at work, people paid."""
        used: dict[str, int] = defaultdict(int)
        for station, starts, ends in (
            *((run.station, run.starts, run.ends) for b in day.batches for run in b.runs),
            *((task.station, task.starts, task.ends) for task in day.tasks if task.kind == "clean"),
            *((self.r.kitchen.packing_station, pack.starts, pack.ends) for pack in day.packing),
        ):
            used[station] += ends - starts
        work = [w for own in self.work.get(day.day, {}).values() for w in own if w.short != "break"]
        paid = sum(paid_minutes(self.r, shift) for shift in day.shifts)
        return used, sum(w.ends - w.starts for w in work), paid


def place(r: Reading, station: str, number: int) -> str:
    """A place of a station; its number only where there are several."""
    return f"{station} {number}" if r.season.places.get(station, 1) > 1 else station


def work_of(r: Reading, day: DayPlan) -> dict[str, list[Work]]:
    """Person -> stretches of work and breaks of a day."""
    out: dict[str, list[Work]] = defaultdict(list)

    def several(station: str, number: int) -> str:
        return f", place {number}" if r.season.places.get(station, 1) > 1 else ""

    for number, batch in enumerate(day.batches, 1):
        for run in batch.runs:
            many = len({role.name for role in r.season.roles if role.stage == run.stage}) > 1
            short, at = f"{number} {run.stage}", several(run.station, run.place)
            for role, person in run.crew:
                long, pulls = short + (f", {role}" if many else "") + at, r.pulls(batch.design, run.stage, role)
                out[person].append(Work(run.starts, run.ends, short, long, run.stage, batch.id, batch.design, pulls))
    for task in day.tasks:
        name = {"opening": "open up", "closing": "close down", "clean": "clean"}.get(task.kind, "show hand")
        short = long = f"show hand, {task.note}" if name == "show hand" else name
        if task.kind == "clean":
            short = f"clean {task.station}"
            long = short + (f", {task.note}" if task.note else "") + several(task.station, task.place)
        for person in task.people:
            out[person].append(Work(task.starts, task.ends, short, long, name))
    for pack in day.packing:
        out[pack.person].append(
            Work(
                pack.starts,
                pack.ends,
                f"pack {pack.packs} {pack.product}",
                f"pack {pack.packs:,} {pack.product}",
                pack.product,
            )
        )
    for shift in day.shifts:
        if shift.break_starts is not None and shift.break_ends is not None:
            out[shift.person].append(Work(shift.break_starts, shift.break_ends, "break", "break", "break"))
    return out
