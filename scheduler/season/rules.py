"""What the season's tables say together: opening hours, who can be in, recipes, changeovers, shows.

Plain readings of the tables, one rule a function; they decide nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from scheduler.season.types import (
    Changeover,
    Design,
    Forecast,
    Kitchen,
    Person,
    Season,
    Show,
    Stage,
    StageException,
)


@dataclass(frozen=True, slots=True)
class RoleNeed:
    """A role of one stage of one design: ``level`` 0 with no skill means anyone."""

    name: str
    people: int
    skill: str
    level: int
    leads: bool
    pulls: int  # pulls charged to each person who fills it
    hot: bool


@dataclass(frozen=True, slots=True)
class StageNeed:
    """One stage of a design's recipe, with its own minutes (never 0) and waits."""

    name: str
    station: str
    minutes: int
    wait_from: int
    wait_to: int
    roles: tuple[RoleNeed, ...]


def opening(season: Season, day: date) -> tuple[int, int] | None:
    """Opening hours [opens, closes) of a day in clock minutes, or None where it is closed."""
    return _openings(season).get(day)


def _openings(season: Season) -> dict[date, tuple[int, int]]:
    cached = season.__dict__.get("_openings")
    if cached is None:
        usual = {h.weekday: (h.opens, h.closes) for h in season.hours}
        cached = {d: usual[d.weekday()] for d in season.days if d.weekday() in usual}
        for special in season.special_days:
            if special.mark == "closed":
                cached.pop(special.day, None)
            elif special.mark == "open" and special.opens is not None:
                assert special.closes is not None
                cached[special.day] = (special.opens, special.closes)
        season.__dict__["_openings"] = cached
    return cached


def work_hours(season: Season, day: date) -> tuple[int, int] | None:
    """Between which minutes of a day batches may run: after the opening duty, before the closing one; None: closed.

    House rule (`opening duty`, `closing duty`). Open from 8:00 to 17:00, duties of 20 and 30 minutes: 8:20 to 16:30.
    """
    hours, kitchen = opening(season, day), season.kitchen
    if hours is None:
        return None
    ready = kitchen.opening_minutes if kitchen.opening_people > 0 else 0
    return hours[0] + ready, hours[1] - (kitchen.closing_minutes if kitchen.closing_people > 0 else 0)


def step_from(kitchen: Kitchen, minute: int) -> int:
    """`clock step`: the first whole step of the kitchen's clock at or after a minute. Steps of 5: 8:07 gives 8:10."""
    return minute + -minute % kitchen.clock_step


def step_until(kitchen: Kitchen, minute: int) -> int:
    """`clock step`: the last whole step at or before a minute. Steps of 5: 8:07 gives 8:05."""
    return minute - minute % kitchen.clock_step


def start_minutes(season: Season, day: date | None, low: int, high: int) -> list[int]:
    """`clock step`: minutes from low to high at which a batch may start: whole steps, and where a show's does.

    Without a day, where a show's does on any.
    """
    steps = range(step_from(season.kitchen, low), high + 1, season.kitchen.clock_step)
    shows = season.shows if day is None else shows_on(season, day)
    return sorted({*steps, *(m for s in shows if low <= (m := begins(season, s)) <= high)})


def reach(season: Season, person: Person, day: date) -> tuple[int, int, int] | None:
    """Between which whole steps of the clock a person's shift may lie, and its most minutes; None where none may.

    `presence`, `call-in` and `clock step` together. Steps of 15, in from 8:10 to 11:10, call-in 3 hours: from 8:15
    to 11:00 is too short, None.
    """
    stretch = presence(season, person, day)
    if stretch is None:
        return None
    low, high = step_from(season.kitchen, stretch[0]), step_until(season.kitchen, stretch[1])
    longest = step_until(season.kitchen, min(high - low, longest_shift(season, person)))
    return (low, high, longest) if longest >= shortest_shift(season, person) else None


def presence(season: Season, person: Person, day: date) -> tuple[int, int] | None:
    """The longest stretch [from, to) in which a person can be in on a day, or None.

    Opening hours, cut by the person's availability that weekday, cut by absences; of
    what an absence in the middle of the day leaves, the longer part (the earlier on a
    tie). A stretch shorter than the person's shortest call-in is None.
    """
    hours = opening(season, day)
    if hours is None:
        return None
    start, end = hours
    rows = [a for a in season.availability if a.person == person.name]
    if rows:
        today = [a for a in rows if a.weekday == day.weekday()]
        if not today:
            return None
        start, end = max(start, today[0].starts), min(end, today[0].ends)
    parts = [(start, end)]
    for absence in season.absences:
        if absence.person != person.name or not absence.first_day <= day <= absence.last_day:
            continue
        away_from = absence.starts if day == absence.first_day else 0
        away_to = absence.ends if day == absence.last_day else 1440
        parts = [
            piece
            for a, b in parts
            for piece in ((a, min(b, away_from)), (max(a, away_to), b))
            if piece[0] < piece[1]
        ]
    if not parts:
        return None
    best = max(parts, key=lambda p: (p[1] - p[0], -p[0]))
    return best if best[1] - best[0] >= max(1, person.shortest_shift) else None


def longest_shift(season: Season, person: Person) -> int:
    """Longest shift of a person in minutes, from arriving to leaving."""
    own = person.longest_shift
    limit = season.kitchen.longest_day_minutes
    return limit if own is None else min(own, limit)


def shortest_shift(season: Season, person: Person) -> int:
    """`call-in`: minutes of a person's shortest shift, in whole steps of the kitchen's clock."""
    return step_from(season.kitchen, max(1, person.shortest_shift))


def week_limit(person: Person) -> int:
    """Most paid minutes of a person in an ISO week: the contracted ones where overtime is not allowed."""
    if person.overtime:
        return person.longest_minutes
    return min(person.contracted_minutes, person.longest_minutes)


def recipe(season: Season, design: Design) -> tuple[StageNeed, ...]:
    """The stages of a batch of this design in order, with its own minutes, waits and roles."""
    recipes: dict[str, tuple[StageNeed, ...]] = season.__dict__.setdefault("_recipes", {})
    if design.name not in recipes:
        recipes[design.name] = tuple(_recipe(season, design))
    return recipes[design.name]


def shortest_length(needs: Sequence[StageNeed]) -> int:
    """Minutes from the start of a batch's first stage to the end of its last, with the least waits between.

    Example: 25 minutes, a wait of 5 to 10, 40 minutes: 70.
    """
    return sum(n.minutes for n in needs) + sum(n.wait_from for n in needs[1:])


def stage_times(
    stages: Iterable[Stage], exceptions: Iterable[StageException], design: Design
) -> Iterator[tuple[Stage, int, int, int]]:
    """Each stage of a design's batches with its minutes, least and most wait before it.

    minutes = stage.minutes + minutes_per_level * (difficulty - 1) + minutes_per_load *
    pull_loads, unless the design has its own figure; stages of 0 minutes are left out.
    Example: assemble 25 + 10 a level, difficulty 3: 25 + 10 * 2 = 45 minutes.
    """
    own = {e.stage: e for e in exceptions if e.design == design.name}
    for stage in stages:
        special = own.get(stage.name)
        minutes = (
            stage.minutes
            + stage.minutes_per_level * (design.difficulty - 1)
            + stage.minutes_per_load * design.pull_loads
        )
        wait_from, wait_to = stage.wait_from, stage.wait_to
        if special is not None:
            minutes = minutes if special.minutes is None else special.minutes
            wait_from = wait_from if special.wait_from is None else special.wait_from
            wait_to = wait_to if special.wait_to is None else special.wait_to
        if minutes > 0:
            yield stage, minutes, wait_from, wait_to


def _recipe(season: Season, design: Design) -> list[StageNeed]:
    out = []
    for stage, minutes, wait_from, wait_to in stage_times(season.stages, season.exceptions, design):
        roles = tuple(
            RoleNeed(
                name=role.name,
                people=role.people,
                skill=role.skill,
                level=(design.difficulty if role.level is None else role.level) if role.skill else 0,
                leads=role.leads,
                pulls=-(-design.pull_loads * design.pulls_per_load // role.people) if role.pulls else 0,
                hot=role.hot,
            )
            for role in season.roles
            if role.stage == stage.name and role.people > 0
        )
        out.append(StageNeed(stage.name, stage.station, minutes, wait_from, wait_to, roles))
    return out


def can_fill(season: Season, person: Person, role: RoleNeed, day: date) -> bool:
    """Whether a person may fill a role on a day: skill and level, hot work, "not in role" pins."""
    if person.young and role.hot:
        return False
    if role.skill and season.level_of.get((person.name, role.skill), 0) < role.level:
        return False
    return not any(
        pin.kind == "not in role"
        and pin.person == person.name
        and pin.role == role.name
        and pin.day in (None, day)
        for pin in season.pins
    )


def cleaned_alike(design: Design) -> tuple[object, ...]:
    """All of a design that ``applies`` goes by: batches of designs alike in it need no cleaning between them."""
    return design.colour, design.strength, design.sour, design.allergens


def applies(change: Changeover, before: Design, after: Design | None) -> bool:
    """Whether a changeover is due between two batches; ``after`` None is the end of the day.

    At the end of the day only "allergen to free" counts: the next day starts clean.
    """
    if after is None:
        return change.kind == "allergen to free" and bool(before.allergens)
    return {
        "light to dark": before.colour < after.colour,
        "dark to light": before.colour > after.colour,
        "mild to strong": before.strength < after.strength,
        "strong to mild": before.strength > after.strength,
        "sour to plain": before.sour and not after.sour,
        "allergen to free": not set(before.allergens) <= set(after.allergens),
    }[change.kind]


@dataclass(frozen=True, slots=True)
class Cleaning:
    """Cleaning due at one station: the longest of the changeovers that apply, done once."""

    minutes: int
    people: int
    skill: str


def cleaning(season: Season, station: str, before: Design, after: Design | None) -> Cleaning | None:
    """What must be cleaned at a station between two designs, or None.

    The longest applying changeover covers the shorter ones; the most people any asks for
    come. For any three designs the cleaning of the first to the third is never longer than
    that of one of the two steps, so consecutive and pairwise readings agree.
    """
    due = [c for c in season.changeovers if c.station == station and c.minutes > 0 and applies(c, before, after)]
    if not due:
        return None
    longest = max(due, key=lambda c: (c.minutes, c.people))
    return Cleaning(longest.minutes, max(c.people for c in due), longest.skill)


def cleaning_minutes(season: Season, station: str, designs: Sequence[Design]) -> list[list[int]]:
    """Minutes of cleaning at a station after a batch of one design and before the next, by their numbers."""
    found = [[cleaning(season, station, before, after) for after in designs] for before in designs]
    return [[0 if due is None else due.minutes for due in row] for row in found]


def rest_reaches(season: Season) -> range:
    """Distances in days at which one shift may be too soon after another: 1 for 11 hours of rest, 1 and 2 for 48."""
    return range(1, -(-season.kitchen.rest_minutes // 1440) + 1)


def shows_on(season: Season, day: date) -> tuple[Show, ...]:
    """Shows of a day in the order in which their batches start; none on a closed day."""
    if opening(season, day) is None:
        return ()
    today = [s for s in season.shows if s.day == day or (s.day is None and s.weekday == day.weekday())]
    return tuple(sorted(today, key=lambda s: (begins(season, s), s.name)))


def time_to_stage(
    stages: Iterable[Stage], exceptions: Iterable[StageException], design: Design, name: str
) -> tuple[int, int] | None:
    """Least and most minutes from the start of a design's batch to the start of a stage; None where it has none such.

    Blank: the first stage. Example: boil 60, then pour without a wait: pour (60, 60).
    """
    least = most = 0
    for number, (stage, minutes, wait_from, wait_to) in enumerate(stage_times(stages, exceptions, design)):
        if number:
            least, most = least + wait_from, most + wait_to
        if name in ("", stage.name):
            return least, most
        least, most = least + minutes, most + minutes
    return None


def begins(season: Season, show: Show) -> int:
    """Minute at which a show's batch starts, so that its stage starts when the visitors come.

    Example: pour at 10:00 after an hour's boil: 9:00.
    """
    known: dict[Show, int] = season.__dict__.setdefault("_begins", {})
    if show not in known:
        times = (
            time_to_stage(season.stages, season.exceptions, d, show.stage) for d in season.designs if fits_show(d, show)
        )
        known[show] = show.starts - next((time[0] for time in times if time), 0)
    return known[show]


def fits_show(design: Design, show: Show) -> bool:
    """Whether a design may be made at a show: simple, mild, and free of allergens."""
    return design.difficulty <= show.hardest and design.strength <= show.strongest and not design.allergens


def forecast_packs(season: Season, forecast: Forecast) -> int:
    """Packs of a forecast at the level that the kitchen plans for."""
    return {"low": forecast.low, "likely": forecast.likely, "high": forecast.high}[season.kitchen.plan_for]
