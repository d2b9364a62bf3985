"""The limits of a kitchen, each as a sum on paper: what a batch takes of it and what each day gives.

A ``Limit`` holds for a set of designs. Its amounts are by who gives (a person, a station, the
kitchen) and day, with a most a week where there is one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from scheduler.answers import work
from scheduler.season import rules
from scheduler.season.rules import RoleNeed, StageNeed
from scheduler.season.types import Design, Season

HUNDRED = 100  # pieces; people's time is counted for so many


@dataclass(frozen=True)
class Limit:
    """``each[design]`` is what a batch takes, or, not ``whole``, HUNDRED pieces: they count in proportion.

    `packing minutes` have products in place of designs, and what a pack takes. ``amounts[who][day]`` is what there is,
    in the same ``unit``; ``week_limits[who]`` caps it in an ISO week. ``until_packed``: what the days give counts until
    the last on which the orders can be packed; else until the last on which they can be made.
    """

    kind: str
    what: str
    people: tuple[str, ...]
    unit: str
    each: Mapping[str, int]
    amounts: Mapping[str, Mapping[int, int]]
    week_limits: Mapping[str, int] = field(default_factory=dict)
    whole: bool = True
    until_packed: bool = False


def limits_for(
    season: Season, designs: list[Design], free: int, missed: frozenset[tuple[int, str]] = frozenset()
) -> Iterator[Limit]:
    """Every limit that batches of these designs share, on days from ``free`` on; shows in ``missed`` are given up."""
    days = [t for t in range(free, season.day_count) if rules.opening(season, season.days[t]) is not None]
    yield pours(season, designs, days)
    yield people_at_once(season, designs, days)
    if season.shows:
        yield shows(season, designs, days, missed)
    for station in season.stations:
        yield from at_station(season, designs, days, station.name)
    for group in groups(season, designs):
        yield from by_people(season, designs, days, group)
    yield from pulls(season, designs, days)
    yield people_hours(season, designs, days)


def pours(season: Season, designs: list[Design], days: list[int]) -> Limit:
    """`pours a day`: from the first pour to the last, one every so many minutes at best.

    batches = (last - first) / spacing + 1. Example: 8:20 to 15:20, spacing 45: 420 / 45 + 1 = 10.
    """
    amounts = work.each_day(season, days, lambda t: work.pours_a_day(season, designs, t))
    return Limit("pours a day", "", (), "batches", {d.name: 1 for d in designs}, {"the kitchen": amounts})


def people_at_once(season: Season, designs: list[Design], days: list[int]) -> Limit:
    """`people at once`: as `pours a day`, where those who are in can't do both batches' stages at a time.

    Example: four people, rolling takes three and the table two: not at the same minute.
    """
    amounts = work.each_day(season, days, lambda t: work.pours_a_day(season, designs, t, work.here_on(season, t)))
    return Limit("people at once", "", (), "batches", {d.name: 1 for d in designs}, {"the kitchen": amounts})


def shows(season: Season, designs: list[Design], days: list[int], missed: frozenset[tuple[int, str]]) -> Limit:
    """`shows`: as `people at once`, with the pours of the day's shows at their hours."""

    def figure(t: int) -> int:
        given_up = frozenset(name for day, name in missed if day == t)
        return work.pours_around_shows(season, designs, t, work.here_on(season, t), given_up)

    amounts = work.each_day(season, days, figure) | {t: figure(t) for t, _ in missed if t in days}
    return Limit("shows", "", (), "batches", {d.name: 1 for d in designs}, {"the kitchen": amounts})


def at_station(season: Season, designs: list[Design], days: list[int], station: str) -> Iterator[Limit]:
    """`station minutes`: places times the minutes from the first to the last possible use, and by whole batches.

    Example: table, one place, 8:55 to 16:15: 440 minutes; 50 a batch: 8 batches a day.
    """

    def wanted(need: StageNeed) -> bool:
        return need.station == station

    places = season.places[station]
    each = work.held(season, designs, wanted, alone=places == 1)
    if not each:
        return

    reach = _reach(season, designs, days, each, wanted)
    minutes = {t: places * (span[1] - span[0]) for t, (span, _) in reach.items()}
    batches = {t: minutes[t] // least for t, (_, least) in reach.items()}
    yield Limit("station minutes", station, (), "minutes", each, {station: minutes})
    yield Limit("station minutes", station, (), "batches", dict.fromkeys(each, 1), {station: batches})


def _reach(
    season: Season, designs: list[Design], days: list[int], each: Mapping[str, int], wanted: work.Wanted
) -> dict[int, tuple[tuple[int, int], int]]:
    """For each day when such work can run at most, and what the quickest batch takes; (0, 0) and 1 for never."""

    def figure(t: int) -> tuple[tuple[int, int], int]:
        today = [d for d in designs if d.name in each and work.makeable(season, d, t)]
        span = work.reach(season, today, wanted, t)
        return (span, min(each[d.name] for d in today)) if span else ((0, 0), 1)

    return work.each_day(season, days, figure, people=False)


@dataclass(frozen=True)
class Group:
    """People who alone can do some work: ``skill`` at ``level`` or above; ``leads``: one person a batch."""

    skill: str
    level: int
    people: frozenset[str]
    leads: bool


def groups(season: Season, designs: list[Design]) -> list[Group]:
    """Groups of people that the recipes of these designs name, each once, smallest first."""
    found: dict[tuple[frozenset[str], bool], Group] = {}
    for design in designs:
        for need in rules.recipe(season, design):
            for role in need.roles:
                if not role.skill:
                    continue
                people = work.able(season, role)
                for leads in (True, False) if role.leads else (False,):
                    known = found.get((people, leads))
                    level = role.level if known is None else min(role.level, known.level)
                    skill = role.skill if known is None or known.level > role.level else known.skill
                    found[people, leads] = Group(skill, level, people, leads)
    return sorted(found.values(), key=lambda g: (len(g.people), g.skill, g.level, g.leads))


def by_people(season: Season, designs: list[Design], days: list[int], group: Group) -> Iterator[Limit]:
    """`people able`: minutes of work that only these people can do; `leaders`: what one leads, also by whole batches.

    Example: 85 minutes of leading a batch, one builder, 8:20 to 16:30 with a break: 460 minutes, 5 batches.
    """

    def mine(role: RoleNeed) -> bool:
        return work.able(season, role) <= group.people and (role.leads or not group.leads)

    def wanted(need: StageNeed) -> bool:
        return any(mine(role) for role in need.roles)

    if group.leads:
        each = work.held(season, designs, wanted, alone=True, pause=season.kitchen.break_minutes)
    else:
        each = {d.name: _person_minutes(season, d, mine) for d in designs}
        each = {d: m for d, m in each.items() if m}
    if not each:
        return
    names = tuple(p.name for p in season.crew if p.name in group.people)

    reach = _reach(season, designs, days, each, wanted)
    minutes, batches = {}, {}
    for name in names:
        person = season.person_by_name[name]
        minutes[name] = {t: work.working(season, person, t, span) for t, (span, _) in reach.items()}
        batches[name] = {t: minutes[name][t] // least for t, (_, least) in reach.items()}
    week = {name: rules.week_limit(season.person_by_name[name]) for name in names}
    text = f"{group.skill} {group.level}" if group.skill else ""
    kind = "leaders" if group.leads else "people able"
    yield Limit(kind, text, names, "minutes", each, minutes, week)
    if group.leads:
        weekly = {name: limit // min(each.values()) for name, limit in week.items()}
        yield Limit(kind, text, names, "batches", dict.fromkeys(each, 1), batches, weekly)


def _person_minutes(season: Season, design: Design, mine: Callable[[RoleNeed], bool]) -> int:
    return sum(n.minutes * r.people for n in rules.recipe(season, design) for r in n.roles if mine(r))


def pulls(season: Season, designs: list[Design], days: list[int]) -> Iterator[Limit]:
    """`pulls`: what those who may pull can pull a day and a week.

    Where every batch charges the same, only whole charges count. Example: 225 a day, 100 a
    charge: 200 a day.
    """
    each: dict[str, int] = {}
    charges: set[int] = set()
    people: set[str] = set()
    for design in designs:
        for need in rules.recipe(season, design):
            for role in need.roles:
                if role.pulls:
                    each[design.name] = each.get(design.name, 0) + role.people * role.pulls
                    charges.add(role.pulls)
                    people |= work.able(season, role)
    if not each:
        return
    charge = charges.pop() if len(charges) == 1 else 1
    names = tuple(p.name for p in season.crew if p.name in people)
    amounts: dict[str, dict[int, int]] = {}
    for name in names:
        person = season.person_by_name[name]
        a_day = person.pulls_day // charge * charge
        amounts[name] = {t: a_day if work.working(season, person, t) else 0 for t in days}
    week = {n: season.person_by_name[n].pulls_week // charge * charge for n in names}
    yield Limit("pulls", "", names, "pulls", each, amounts, week)


def people_hours(season: Season, designs: list[Design], days: list[int]) -> Limit:
    """`people's hours`: everyone's working time against making, packing and a share of the duties.

    Seconds for a hundred pieces: person-minutes of a batch and its share of opening and closing
    over the batch's pieces, and the packing of the quickest product. Counted in proportion.
    Example: 270 minutes for 900 pieces is 1,800 seconds a hundred.
    """
    kitchen = season.kitchen
    duty = kitchen.opening_minutes * kitchen.opening_people + kitchen.closing_minutes * kitchen.closing_people
    most = max((work.pours_a_day(season, list(season.designs), t) for t in days), default=0)
    share = duty // most if most else 0
    each = {}
    for design in designs:
        making = _person_minutes(season, design, lambda _role: True)
        packing = _least_packing(season, design.name)
        each[design.name] = (making + share) * 60 * HUNDRED // design.pieces + packing
    names = tuple(p.name for p in season.crew)
    amounts = {p.name: {t: 60 * work.working(season, p, t) for t in days} for p in season.crew}
    week = {p.name: 60 * rules.week_limit(p) for p in season.crew}
    return Limit("people's hours", "", names, "seconds", each, amounts, week, whole=False, until_packed=True)


def _least_packing(season: Season, design: str) -> int:
    """Seconds to pack a hundred pieces of a design in the product where it goes quickest, shared by pieces."""
    inside = [(season.product_by_name[p], sum(c.values())) for p, c in season.contents_of.items() if design in c]
    return min((p.packing_seconds * HUNDRED // pieces for p, pieces in inside), default=0)


def packing(season: Season, products: Iterable[str], free: int) -> Limit:
    """`packing minutes`: seconds of those who pack, or of the places at the packing station if these are fewer.

    Example: two places, open 540 minutes: 64,800 seconds a day.
    """
    days = [t for t in range(free, season.day_count) if rules.opening(season, season.days[t]) is not None]
    kitchen = season.kitchen
    packers = [
        p
        for p in season.crew
        if not kitchen.packing_skill or season.level_of.get((p.name, kitchen.packing_skill), 0) >= 1
    ]
    people = {p.name: {t: 60 * work.working(season, p, t) for t in days} for p in packers}
    places = season.places.get(kitchen.packing_station, 0)
    bench = {}
    for t in days:
        hours = rules.opening(season, season.days[t])
        assert hours is not None
        bench[t] = 60 * places * (hours[1] - hours[0])
    each = {p: season.product_by_name[p].packing_seconds for p in products}
    if places < len(packers) and sum(bench.values()) < sum(sum(a.values()) for a in people.values()):
        return Limit("packing minutes", kitchen.packing_station, (), "seconds", each, {kitchen.packing_station: bench})
    week = {p.name: 60 * rules.week_limit(p) for p in packers}
    names = tuple(p.name for p in packers)
    return Limit("packing minutes", kitchen.packing_skill, names, "seconds", each, people, week)
