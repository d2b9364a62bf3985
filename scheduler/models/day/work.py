"""The day model's own words, and the batches: pour times, recipes, stations, duties.

Minutes are clock minutes. With no waiting a batch has one variable, its pour, and every
stage starts at a fixed offset from it; where a stage may wait it gets a lag of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from ortools.sat.python import cp_model
from scheduler.models.facts import unions
from scheduler.plan.request import DayRequest, Hand
from scheduler.season.rules import (
    RoleNeed,
    StageNeed,
    can_fill,
    opening,
    recipe,
    shortest_length,
    start_minutes,
    work_hours,
)
from scheduler.season.types import Design, Season

Time = cp_model.LinearExpr | int


@dataclass
class RunVars:
    """One stage of one batch: when, and the interval that takes a place of its station."""

    need: StageNeed
    start: Time
    end: Time
    interval: cp_model.IntervalVar
    fills: list[dict[str, cp_model.IntVar]] = field(default_factory=list)  # for each role: person -> does it


@dataclass
class BatchVars:
    """One boil: its pour and its runs in recipe order."""

    design: Design
    pour: Time
    runs: list[RunVars]
    shows: dict[int, cp_model.IntVar] = field(default_factory=dict)  # index of the show -> poured there

    @property
    def end(self) -> Time:
        return self.runs[-1].end


@dataclass
class Job:
    """Something that one person may do: whether, when, and the interval it takes of the person."""

    does: cp_model.IntVar
    start: Time
    end: Time
    interval: cp_model.IntervalVar
    minutes: Time  # taken of the person: 0 where someone else does it
    length: int = 0  # minutes, where they are fixed
    pulls: int = 0


@dataclass
class TaskVars:
    """A duty of several people at one time: ``held`` tells whether it takes place."""

    kind: str
    start: Time
    end: Time
    people: dict[str, cp_model.IntVar]
    held: Time | None = None  # 1 where it takes place; None: always
    note: str = ""
    station: str = ""
    run: tuple[int, int] | None = None  # with "clean": (batch, run) that it follows


@dataclass
class PersonVars:
    """A person's day: in or not, shift, break, and every job that may be theirs."""

    hand: Hand
    inside: cp_model.IntVar
    start: cp_model.IntVar
    end: cp_model.IntVar
    length: cp_model.IntVar  # 0 where not in
    break_held: cp_model.IntVar | None = None
    break_start: cp_model.IntVar | None = None
    break_interval: cp_model.IntervalVar | None = None
    jobs: list[Job] = field(default_factory=list)
    idle_packing: cp_model.IntVar | None = None  # only where packing is not in stretches


@dataclass
class PackBlock:
    """A stretch of one person's time at the packing station."""

    person: str
    held: cp_model.IntVar
    start: cp_model.IntVar
    size: cp_model.IntVar
    interval: cp_model.IntervalVar


@dataclass
class Day:
    """The model of one day while it is being built, and what a solution is read from."""

    season: Season
    request: DayRequest
    model: cp_model.CpModel
    opens: int
    closes: int
    starts_work: int  # earliest minute of a batch
    ends_work: int  # latest end of one
    batches: list[BatchVars] = field(default_factory=list)
    people: dict[str, PersonVars] = field(default_factory=dict)
    tasks: list[TaskVars] = field(default_factory=list)
    blocks: list[PackBlock] = field(default_factory=list)
    missed: dict[int, cp_model.IntVar] = field(default_factory=dict)  # index of the show -> missed
    after_clean: list[tuple[tuple[int, int], tuple[int, int], cp_model.IntVar]] = field(default_factory=list)
    spare: int = 0  # minutes of packing asked for beyond the least
    routes: dict[str, Time] = field(default_factory=dict)  # places in use where the model decides who follows whom
    cleans: dict[str, list[cp_model.IntervalVar]] = field(default_factory=dict)

    def impossible(self) -> None:
        """Make the model infeasible: something can't be done whatever is decided."""
        self.model.add_bool_or([])

    def whole(self, low: int, high: int, name: str) -> cp_model.IntVar:
        """An integer variable; an empty range makes the day impossible."""
        if low > high:
            self.impossible()
            high = low
        return self.model.new_int_var(low, high, name)


def new_day(season: Season, request: DayRequest) -> Day | None:
    """An empty model of a day, or None on a closed day."""
    hours, work = opening(season, request.day), work_hours(season, request.day)
    if hours is None or work is None:
        return None
    return Day(season, request, cp_model.CpModel(), *hours, *work)


def add_batches(day: Day) -> None:
    """`recipe`, `opening hours`, `last pour`: every batch runs every stage once, in order, in time.

    start[first] = pour <= last pour; start[next] = end[before] + lag, lag in [wait_from, wait_to].
    Example: boil 25 min from 9:00, table with no waiting starts 9:25. House rule.
    """
    season, model = day.season, day.model
    for index, name in enumerate(day.request.designs):
        design = season.design_by_name[name]
        needs = recipe(season, design)
        if not needs:
            raise ValueError(f'design "{name}" has no stage with minutes; give its recipe at least one stage')
        last = min(season.kitchen.last_pour, day.ends_work - shortest_length(needs))
        pour = _pour(day, last, f"pour {index}")
        runs: list[RunVars] = []
        anchor, offset = pour, 0
        for i, need in enumerate(needs):
            if i > 0:
                offset += need.wait_from
                if need.wait_to > need.wait_from and last > day.starts_work:
                    start = day.whole(day.opens, day.ends_work - need.minutes, f"start {index} {i}")
                    model.add(start >= anchor + offset)
                    model.add(start <= anchor + offset + need.wait_to - need.wait_from)
                    anchor, offset = start, 0
            interval = model.new_fixed_size_interval_var(anchor + offset, need.minutes, f"run {index} {i}")
            runs.append(RunVars(need, anchor + offset, anchor + offset + need.minutes, interval))
            offset += need.minutes
        model.add(runs[-1].end <= day.ends_work)
        day.batches.append(BatchVars(design, pour, runs))


def _pour(day: Day, last: int, name: str) -> cp_model.IntVar:
    """`clock step`: the minute at which a batch starts: a whole step, a show's minute, or where it had begun."""
    frozen, first = day.request.frozen, day.starts_work
    minutes = start_minutes(day.season, day.request.day, first, last)
    minutes += [b.pour for b in frozen.batches if first <= b.pour <= last and b.pour < frozen.now] if frozen else []
    if not minutes:
        day.impossible()
        minutes = [last]
    return day.model.new_int_var_from_domain(cp_model.Domain.from_values(minutes), name)


def order_twins(day: Day) -> None:
    """Equal designs are poured in the order of the request: which is which does not matter."""
    for before, after in zip(day.batches, day.batches[1:], strict=False):
        if before.design == after.design:
            day.model.add(before.pour <= after.pour)


def add_station_places(day: Day) -> None:
    """`station places`: no more runs and packers at once than the station has places.

    For every minute: runs at the station <= places. Example: one table, two batches of 40
    table minutes: the second table run starts at least 40 min after the first. House rule.
    """
    for station, places in day.season.places.items():
        intervals = [r.interval for b in day.batches for r in b.runs if r.need.station == station]
        if station == day.season.kitchen.packing_station and day.blocks:
            packers = [b.interval for b in day.blocks]
            intervals += packers
            if station in day.routes:
                _packers_apart(day, station, places, packers)
        if places <= 0 and intervals:
            day.impossible()
        elif places == 1:
            day.model.add_no_overlap(intervals)
        elif len(intervals) > places:
            day.model.add_cumulative(intervals, [1] * len(intervals), places)


def _packers_apart(day: Day, station: str, places: int, packers: list[cp_model.IntervalVar]) -> None:
    """Where batches are cleaned up after at the packing station, packers keep to places without a batch."""
    if places == 1:
        day.model.add_no_overlap(packers + day.cleans.get(station, []))
        return
    free = day.model.new_int_var(0, places, "free bench places")
    day.model.add(free + day.routes[station] == places)
    day.model.add_cumulative(packers, [1] * len(packers), free)


def able(day: Day, role: RoleNeed) -> tuple[str, ...]:
    """Names of the hands of the day that may fill a role, in the order of the request."""
    season = day.season
    return tuple(
        h.person
        for h in day.request.hands
        if h.pulls >= role.pulls and can_fill(season, season.person_by_name[h.person], role, day.request.day)
    )


def skilled(day: Day, skill: str) -> tuple[str, ...]:
    """Names of the hands that have a skill at any level; a blank skill is anyone."""
    level = day.season.level_of
    return tuple(h.person for h in day.request.hands if not skill or level.get((h.person, skill), 0) >= 1)


def add_heads(day: Day) -> None:
    """At every minute the roles that only some people can fill are no more than these people.

    A consequence of naming everyone, stated once for each group of able people: for each
    group, sum of people asked for by roles that only the group can fill <= those of it who are in.
    """
    asks: list[tuple[frozenset[str], int, cp_model.IntervalVar]] = []
    for batch in day.batches:
        for run in batch.runs:
            for role in run.need.roles:
                asks.append((frozenset(able(day, role)), role.people, run.interval))
    away = {h.person: _away(day, h) for h in day.request.hands}
    for group in unions([*(able for able, _, _ in asks), frozenset(away)]):
        inside = [(interval, people) for able, people, interval in asks if able <= group]
        if inside:
            inside += [(interval, 1) for name in sorted(group) for interval in away[name]]
            day.model.add_cumulative([i for i, _ in inside], [n for _, n in inside], len(group))


def _away(day: Day, hand: Hand) -> list[cp_model.IntervalVar]:
    """When a person can't be in, inside the opening hours."""
    parts = ((day.opens, min(hand.from_minute, day.closes)), (max(hand.to_minute, day.opens), day.closes))
    return [day.model.new_fixed_size_interval_var(a, b - a, f"away {hand.person}") for a, b in parts if a < b]
