"""What a batch takes and what a day gives, as sums that can be done on paper: no solver.

Every figure is on the safe side: what a day gives is never less than what a real day could
give, and what a batch takes is never more than it must. Minutes are clock minutes of a day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, TypeVar, cast

from scheduler.season import rules
from scheduler.season.rules import RoleNeed, StageNeed
from scheduler.season.types import Design, Person, Season

Wanted = Callable[[StageNeed], bool]
Answer = TypeVar("Answer")

HOUR = 60  # minutes by which a kitchen would make its last start later, at most: a house rule, no source


def remember(season: Season, key: tuple[object, ...], work_out: Callable[[], Answer]) -> Answer:
    """Work something out once for a season: seasons never change, and the same sums come up often."""
    known: dict[tuple[object, ...], Any] = season.__dict__.setdefault("_work", {})
    if key not in known:
        known[key] = work_out()
    return cast(Answer, known[key])


@dataclass(frozen=True, slots=True)
class Visit:
    """Stages of a batch that one station (or one person) serves: earliest offset from the pour, minutes."""

    offset: int
    minutes: int
    gap_most: int  # longest time that may pass between the visit before and this one


def first_pour(season: Season, t: int) -> int | None:
    """Earliest minute of a first stage: opening plus the opening duty; None on a closed day.

    Example: opens 8:00, duty 20 minutes: 8:20.
    """
    hours = rules.work_hours(season, season.days[t])
    return None if hours is None else hours[0]


def last_end(season: Season, t: int) -> int:
    """Latest minute at which a batch may end: closing less the closing duty, on an open day."""
    hours = rules.work_hours(season, season.days[t])
    assert hours is not None
    return hours[1]


def last_pour(season: Season, design: Design, t: int) -> int:
    """Latest pour of a design on an open day: the kitchen's last pour, or early enough to finish.

    Example: a batch of 150 minutes that must end by 16:30 is poured by 14:00.
    """
    length = remember(season, ("length", design.name), lambda: rules.shortest_length(rules.recipe(season, design)))
    return min(season.kitchen.last_pour, last_end(season, t) - length)


def visits(needs: tuple[StageNeed, ...], wanted: Wanted) -> list[Visit]:
    """Stages that ``wanted`` picks, those that follow without a wait taken together."""
    out: list[Visit] = []
    offset = gap = 0
    for i, need in enumerate(needs):
        wait_from, wait_to = (need.wait_from, need.wait_to) if i else (0, 0)
        offset += wait_from
        gap += wait_to
        if wanted(need):
            if out and gap == 0:
                out[-1] = Visit(out[-1].offset, out[-1].minutes + need.minutes, out[-1].gap_most)
            else:
                out.append(Visit(offset, need.minutes, gap))
            gap = 0
        else:
            gap += need.minutes
        offset += need.minutes
    return out


def held(season: Season, designs: Iterable[Design], wanted: Wanted, alone: bool, pause: int = 10**6) -> dict[str, int]:
    """Minutes that a batch of each design keeps one place (or one person) from batches of these designs.

    Where a batch leaves and comes back (``alone``: to the same place or person, surely) and
    the time between is too short for any other visit, and for a ``pause``, it counts as kept.
    Example: table 20, away at the hook 10, table 15, and no visit is under 15: 45 minutes.
    """
    all_visits = {d.name: visits(rules.recipe(season, d), wanted) for d in designs}
    shortest = min((v.minutes for vs in all_visits.values() for v in vs), default=0)
    out = {}
    for name, vs in all_visits.items():
        total = sum(v.minutes for v in vs)
        for before, after in zip(vs, vs[1:], strict=False):
            if alone and after.gap_most < min(shortest, pause):
                total += after.offset - before.offset - before.minutes
        if total:
            out[name] = total
    return out


def reach(season: Season, designs: Iterable[Design], wanted: Wanted, t: int) -> tuple[int, int] | None:
    """From when to when on a day the wanted stages of these designs can run, at most; None for never."""
    start = first_pour(season, t)
    if start is None:
        return None
    close = last_end(season, t)
    from_minute, to_minute = 10**6, -1
    for design in designs:
        needs = rules.recipe(season, design)
        latest = last_pour(season, design, t)
        if latest < start:
            continue
        early, late = start, latest
        for i, need in enumerate(needs):
            early += need.wait_from if i else 0
            late += need.wait_to if i else 0
            tail = sum(n.minutes + n.wait_from for n in needs[i + 1 :])
            if wanted(need):
                from_minute = min(from_minute, early)
                to_minute = max(to_minute, min(late + need.minutes, close - tail))
            early += need.minutes
            late += need.minutes
    return (from_minute, to_minute) if from_minute < to_minute else None


def working(season: Season, person: Person, t: int, within: tuple[int, int] | None = None) -> int:
    """Most minutes that a person can work on a day (inside ``within``): the shift less its break.

    A shift of up to ``break_after_minutes`` needs no break; a longer one loses it. Example:
    in for 540 with a break of 30 after 300: 510.
    """
    stretch, most = remember(season, ("in", person.name, t), lambda: _in_and_most(season, person, t))
    if within is not None:
        most = min(most, max(0, min(stretch[1], within[1]) - max(stretch[0], within[0])))
    return most


def _in_and_most(season: Season, person: Person, t: int) -> tuple[tuple[int, int], int]:
    """When a person can be in on a day, and for how many working minutes at most."""
    day = season.days[t]
    stretch = rules.presence(season, person, day)
    if stretch is None or any(p.kind == "off" and p.person == person.name and p.day == day for p in season.pins):
        return (0, 0), 0
    kitchen = season.kitchen
    most = min(stretch[1] - stretch[0], rules.longest_shift(season, person))
    if most > kitchen.break_after_minutes:
        most = max(kitchen.break_after_minutes, most - kitchen.break_minutes)
    return stretch, most


def each_day(
    season: Season, days: Iterable[int], figure: Callable[[int], Answer], people: bool = True
) -> dict[int, Answer]:
    """A figure for each day, worked out once for days alike in hours, designs, shows and (``people``) who is in."""
    first: dict[int, int] = {}
    alike = {t: first.setdefault(_sort(season, t, people), t) for t in days}
    figures = {t: figure(t) for t in first.values()}
    return {t: figures[like] for t, like in alike.items()}


def _sort(season: Season, t: int, people: bool) -> int:
    """A number for the sort of day."""

    def work_out() -> int:
        day = season.days[t]
        designs = tuple(makeable(season, d, t) for d in season.designs)
        crew = tuple(_in_and_most(season, p, t) for p in season.crew) if people else ()
        sorts: dict[object, int] = remember(season, ("sorts",), dict)
        return sorts.setdefault((rules.opening(season, day), rules.shows_on(season, day), designs, crew), len(sorts))

    return remember(season, ("sort", t, people), work_out)


def able(season: Season, role: RoleNeed) -> frozenset[str]:
    """Everyone with the skill and level for a role; nobody young in a hot one."""
    return remember(season, ("able", role), lambda: _able(season, role))


def _able(season: Season, role: RoleNeed) -> frozenset[str]:
    return frozenset(
        p.name
        for p in season.crew
        if not (p.young and role.hot) and (not role.skill or season.level_of.get((p.name, role.skill), 0) >= role.level)
    )


def makeable(season: Season, design: Design, t: int) -> bool:
    """Whether a design may be made on a day: open, supplies there, no pin against it, time enough."""
    return remember(season, ("makeable", design.name, t), lambda: _makeable(season, design, t))


def _makeable(season: Season, design: Design, t: int) -> bool:
    day = season.days[t]
    start = first_pour(season, t)
    if start is None or (design.from_day is not None and day < design.from_day):
        return False
    barred = any(
        p.day == day and (p.kind == "no making" or (p.kind == "do not make" and p.design == design.name))
        for p in season.pins
    )
    return not barred and last_pour(season, design, t) >= start


@dataclass(frozen=True, slots=True)
class Held:
    """A stage at a fixed offset from the pour, and how much of what it holds: station places and people."""

    starts: int
    ends: int
    station: str
    people: tuple[tuple[frozenset[str], int], ...]  # (who can, how many)


def here_on(season: Season, t: int) -> frozenset[str]:
    """Everyone who can be in on a day."""
    return remember(season, ("here", t), lambda: frozenset(p.name for p in season.crew if working(season, p, t) > 0))


def staffed(season: Season, design: Design, here: frozenset[str]) -> bool:
    """Whether those who are in are enough for each stage of a batch on its own."""
    return remember(
        season,
        ("staffed", design.name, here),
        lambda: all(_fits(season, [h], here) for h in fixed(season, design, whole=True)),
    )


def closest(season: Season, before: Design, after: Design, here: frozenset[str] | None = None) -> int:
    """Least minutes from one pour to the next, by the places of stations and (``here``) by the people in.

    Counts stages up to the first that may wait a varying time: until then every stage is at
    a fixed offset from the pour. A gap is ruled out where two stages need more places, or more
    people able, than there are. Example: kettle 45 minutes, one place: 45.
    """
    key = ("closest", _shape(season, before), _shape(season, after), here)
    return remember(season, key, lambda: _closest(season, before, after, here))


def _shape(season: Season, design: Design) -> int:
    """A number for the stages of a design: designs whose batches run alike have the same."""
    shapes: dict[tuple[Held, ...], int] = remember(season, ("shapes",), lambda: {})

    def number() -> int:
        return shapes.setdefault(tuple(fixed(season, design)), len(shapes))

    return remember(season, ("shape", design.name), number)


def _closest(season: Season, before: Design, after: Design, here: frozenset[str] | None) -> int:
    first, second = fixed(season, before), fixed(season, after)
    barred = [(a, b) for a in first for b in second if not _fits(season, [a, b], here)]
    gap, moved = 0, True
    while moved:
        moved = False
        for a, b in barred:
            if a.starts < b.ends + gap and b.starts + gap < a.ends:
                gap, moved = a.ends - b.starts, True
    return gap


def spacing(season: Season, before: list[Design], after: list[Design], here: frozenset[str] | None = None) -> int:
    """Least minutes between a pour of some designs and the next one of others."""
    key = ("spacing", tuple(d.name for d in before), tuple(d.name for d in after), here)
    return remember(season, key, lambda: min((closest(season, a, b, here) for a in before for b in after), default=0))


def fixed(season: Season, design: Design, whole: bool = False) -> list[Held]:
    """The stages of a design that are at a fixed offset from its pour (or all of them)."""
    return remember(season, ("fixed", design.name, whole), lambda: _fixed(season, design, whole))


def _fixed(season: Season, design: Design, whole: bool) -> list[Held]:
    out, offset = [], 0
    for i, need in enumerate(rules.recipe(season, design)):
        if i and need.wait_to != need.wait_from and not whole:
            break
        offset += need.wait_from if i else 0
        people = tuple((able(season, role), role.people) for role in need.roles)
        out.append(Held(offset, offset + need.minutes, need.station, people))
        offset += need.minutes
    return out


def _fits(season: Season, together: list[Held], here: frozenset[str] | None) -> bool:
    """Whether stages can run at the same minute: places, and for each group of people those who need them."""
    for station in {h.station for h in together}:
        if sum(h.station == station for h in together) > season.places[station]:
            return False
    if here is None:
        return True
    needs = [(who & here, count) for h in together for who, count in h.people]
    return all(sum(n for who, n in needs if who <= group) <= len(group) for group in [here, *(who for who, _ in needs)])


def pours_between(from_minute: int, to_minute: int, apart: int) -> int:
    """Pours in a stretch, ends included. Example: 8:20 to 15:20, 45 apart: 420 / 45 + 1 = 10."""
    if to_minute < from_minute:
        return 0
    return (to_minute - from_minute) // max(1, apart) + 1


def pours_a_day(season: Season, designs: list[Design], t: int, here: frozenset[str] | None = None) -> int:
    """Most batches of these designs that can be poured on a day: by stations, and by who is in."""
    today = [d for d in designs if makeable(season, d, t) and (here is None or staffed(season, d, here))]
    start = first_pour(season, t)
    if not today or start is None:
        return 0
    return pours_between(start, max(last_pour(season, d, t) for d in today), spacing(season, today, today, here))


def later_start(season: Season, designs: list[Design], t: int, here: frozenset[str] | None = None) -> int | None:
    """Minutes by which the kitchen's last start would be later for one batch more on a day, an hour at most.

    None where that is no help: the kitchen closes too early, or an hour is too little. Example: first start 8:50,
    an hour apart, last start 12:45: a fifth batch starts at 12:50, so 5.
    """
    today = [d for d in designs if makeable(season, d, t) and (here is None or staffed(season, d, here))]
    most, first = pours_a_day(season, designs, t, here), first_pour(season, t)
    if not today or first is None:
        return None
    start = rules.step_from(season.kitchen, first + most * max(1, spacing(season, today, today, here)))
    latest = last_end(season, t) - min(rules.shortest_length(rules.recipe(season, d)) for d in today)
    minutes = start - season.kitchen.last_pour
    return minutes if 0 < minutes <= HOUR and start <= latest else None


def pours_around_shows(
    season: Season, designs: list[Design], t: int, here: frozenset[str], missed: frozenset[str]
) -> int:
    """Most batches of these designs on a day whose shows are held: before, at and after the start of each show's batch.

    Example: batch of the show at 11:00, 60 apart, 8:20 to 15:20: 2 before (by 10:00), 1 at it, 4 after (from 12:00).
    """
    today = [d for d in designs if makeable(season, d, t) and staffed(season, d, here)]
    shows = [s for s in rules.shows_on(season, season.days[t]) if s.name not in missed]
    start = first_pour(season, t)
    if not today or start is None:
        return 0
    apart = spacing(season, today, today, here)
    count, from_minute = 0, start
    for show in shows:
        fit = [d for d in season.designs if rules.fits_show(d, show)]
        if not fit:
            continue
        start = rules.begins(season, show)
        count += pours_between(from_minute, start - spacing(season, today, fit, here), apart)
        count += any(d in fit for d in today)
        from_minute = max(from_minute, start + spacing(season, fit, today, here))
    return count + pours_between(from_minute, max(last_pour(season, d, t) for d in today), apart)
