"""What the sheets show, worked out once from season and plan: jobs, pulls, hours, load, stock, orders."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from scheduler.answers.certificate import Certificate, from_json
from scheduler.demand.build import build_demand
from scheduler.demand.lines import Line, LineKind
from scheduler.paper.most import most_batches, station_room
from scheduler.plan.summary import PersonWeek, Summary, paid_minutes, person_weeks, summarize
from scheduler.plan.types import Batch, DayPlan, Fill, Lot, Plan, Shift
from scheduler.season.rules import can_fill, recipe
from scheduler.season.types import Season

FREE_MINUTES = 10  # with nothing set, from which they are told


@dataclass(frozen=True, slots=True)
class Job:
    """One person's stretch of work at one thing; ``kind`` is "stage" or a task's, "packing" or "break"."""

    person: str
    starts: int
    ends: int
    kind: str
    name: str  # the stage, the duty, or the product packed
    role: str = ""
    batch: str = ""
    number: int = 0  # of the batch in the order of pours, from 1
    design: str = ""
    station: str = ""
    place: int = 0
    packs: int = 0
    pulls: int = 0
    note: str = ""


@dataclass(frozen=True, slots=True)
class Load:
    """How full a day is, in minutes: each station's in use, people's at work and paid."""

    used: dict[str, int]
    at_work: int
    in_paid: int


@dataclass(frozen=True, slots=True)
class Use:
    """Pieces of a lot that go to a line."""

    line: str
    pieces: int


class Figures:
    """Season and plan with everything that the sheets look up."""

    def __init__(self, season: Season, plan: Plan) -> None:
        self.season, self.plan = season, plan
        self.day_plan = {d.day: d for d in plan.days}
        self.lot = {lot.id: lot for lot in plan.lots}
        self.lots_of: dict[str, list[Lot]] = defaultdict(list)
        for lot in plan.lots:
            self.lots_of[lot.design].append(lot)
        self.demand = build_demand(season)
        self.lines: dict[str, Line] = {line.id: line for line in self.demand.lines}
        self.short = {s.line: s for s in plan.shortfalls}
        self.jobs = {d.day: day_jobs(season, d) for d in plan.days}
        self.load = {d.day: day_load(season, d) for d in plan.days}
        self.most = most_batches(season, plan)
        self.room = {day: station_room(season, season.index(day)) for day in self.most}
        self.pulls: dict[tuple[str, date], int] = defaultdict(int)
        self.week: dict[tuple[str, int, int], PersonWeek] = {
            (w.person, w.year, w.week): w for w in person_weeks(season, plan)
        }
        self.summary: Summary = summarize(season, plan)
        self.shift: dict[tuple[str, date], Shift] = {}
        for day in plan.days:
            for job in self.jobs[day.day]:
                self.pulls[job.person, day.day] += job.pulls
            for shift in day.shifts:
                self.shift[shift.person, day.day] = shift
        self.fills: dict[str, list[Fill]] = defaultdict(list)
        self.uses: dict[str, list[Use]] = defaultdict(list)
        for fill in plan.fills:
            self.fills[fill.line].append(fill)
            for draw in fill.draws:
                self.uses[draw.lot].append(Use(fill.line, draw.pieces))

    @cached_property
    def certificates(self) -> list[Certificate]:
        """The certificates that the plan carries."""
        stored = self.plan.extras.get("certificates", [])
        return [from_json(c) for c in stored] if isinstance(stored, list) else []

    def left(self, lot: Lot) -> int:
        """Pieces of a lot that nobody has asked for."""
        return lot.pieces - sum(use.pieces for use in self.uses.get(lot.id, ()))

    def allergens(self, product: str) -> list[str]:
        """What the candy in a pack contains, by name."""
        inside = self.season.contents_of[product]
        return sorted({allergen for name in inside for allergen in self.season.design_by_name[name].allergens})

    def covered(self, line: str) -> int:
        return sum(fill.packs for fill in self.fills.get(line, ()))

    def numbered(self, day: DayPlan) -> dict[str, int]:
        return {batch.id: n for n, batch in enumerate(day.batches, 1)}

    def free(self, person: str, day: date) -> list[tuple[int, int]]:
        """Stretches of a person's shift with nothing set, short ones left out."""
        shift, out = self.shift[person, day], []
        last = shift.starts
        for job in [j for j in self.jobs[day] if j.person == person]:
            out += [(last, job.starts)] if job.starts - last >= FREE_MINUTES else []
            last = max(last, job.ends)
        return out + ([(last, shift.ends)] if shift.ends - last >= FREE_MINUTES else [])

    def priority(self, line: str) -> int:
        """1 first to 3 last."""
        order = self.season.order_by_id.get(line)
        if order is not None:
            return order.priority
        return next((f.priority for f in self.season.forecasts if f.id == line), 2)

    def able(self, design: str) -> list[str]:
        """People who can fill the hardest skilled role of a design (absences are not looked at)."""
        needs = [r for s in recipe(self.season, self.season.design_by_name[design]) for r in s.roles if r.skill]
        if not needs:
            return [p.name for p in self.season.crew]
        hardest = max(needs, key=lambda r: (r.level, r.name))
        first = self.season.kitchen.first_day
        return [p.name for p in self.season.crew if can_fill(self.season, p, hardest, first)]

    def kind(self, line: str) -> LineKind:
        """Firm, standing or forecast; a line that is not asked for any more counts as a forecast."""
        return self.lines[line].kind if line in self.lines else "forecast"


def batch_pulls(season: Season, batch: Batch) -> dict[tuple[str, str], int]:
    """(stage, role) -> pulls charged to each person who fills it in this batch."""
    design = season.design_by_name[batch.design]
    return {(s.name, r.name): r.pulls for s in recipe(season, design) for r in s.roles}


def day_jobs(season: Season, day: DayPlan) -> list[Job]:
    """Every stretch of work and every break of a day, in order of the clock, then of the person."""
    jobs: list[Job] = []
    for number, batch in enumerate(day.batches, 1):
        charged = batch_pulls(season, batch)
        for run in batch.runs:
            for role, person in run.crew:
                jobs.append(
                    Job(
                        person, run.starts, run.ends, "stage", run.stage, role, batch.id, number, batch.design,
                        run.station, run.place, pulls=charged.get((run.stage, role), 0),
                    )
                )  # fmt: skip
    for task in day.tasks:
        names = {"opening": "open up", "closing": "close down", "clean": "clean", "show": "show hand"}
        for person in task.people:
            jobs.append(
                Job(
                    person, task.starts, task.ends, task.kind, names[task.kind],
                    station=task.station, place=task.place, note=task.note,
                )
            )  # fmt: skip
    station = season.kitchen.packing_station
    for pack in day.packing:
        jobs.append(
            Job(
                pack.person, pack.starts, pack.ends, "packing", pack.product,
                station=station, place=pack.place, packs=pack.packs,
            )
        )  # fmt: skip
    for shift in day.shifts:
        if shift.break_starts is not None and shift.break_ends is not None:
            jobs.append(Job(shift.person, shift.break_starts, shift.break_ends, "break", "break"))
    return sorted(jobs, key=lambda j: (j.starts, j.ends, j.person, j.batch, j.name))


def day_load(season: Season, day: DayPlan) -> Load:
    """Minutes used at each station (cleaning and packing too), and people's minutes."""
    used: dict[str, int] = defaultdict(int)
    at_work = 0
    for batch in day.batches:
        for run in batch.runs:
            used[run.station] += run.ends - run.starts
            at_work += (run.ends - run.starts) * len(run.crew)
    for task in day.tasks:
        at_work += (task.ends - task.starts) * len(task.people)
        if task.kind == "clean":
            used[task.station] += task.ends - task.starts
    for pack in day.packing:
        used[season.kitchen.packing_station] += pack.ends - pack.starts
        at_work += pack.ends - pack.starts
    return Load(dict(used), at_work, sum(paid_minutes(season, s) for s in day.shifts))


def week_of(day: date) -> tuple[int, int]:
    """ISO year and week."""
    year, week, _ = day.isocalendar()
    return year, week


def weeks(season: Season) -> list[list[date]]:
    """The weeks of a season, Monday to Sunday, each of seven days; days outside it are included."""
    first = season.kitchen.first_day - timedelta(days=season.kitchen.first_day.weekday())
    out = []
    while first <= season.kitchen.last_day:
        out.append([first + timedelta(days=i) for i in range(7)])
        first += timedelta(days=7)
    return out
