"""What a planner can really change about a season, each as a new season and a sentence.

Amounts (an hour, a level, five hours a week) are the step a kitchen would try first: a house
rule, no source. Prices of labour come out of the plan; what else has a price is in ``PRICES``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduler.answers.certificate import Certificate
from scheduler.plan.types import Plan
from scheduler.season import rules
from scheduler.season.types import (
    Absence,
    Availability,
    Design,
    Order,
    Person,
    Season,
    Skill,
    SpecialDay,
    Station,
)

OVERTIME = 300  # minutes a week more
EARLIER = 60  # minutes
LATER_POUR = 60
LONGER_LIFE = 30  # days
TRAINING = 480  # paid minutes each of teacher and learner, for one level
SOME_DAYS = (2, 7)  # days by which a due day is moved


@dataclass(frozen=True)
class Change:
    """One real change. ``kind`` groups alike; ``price_cents`` is paid once beside labour, None where it is not known.

    ``note`` is what else it asks for: a customer's consent, room for a table.
    """

    key: str
    kind: str
    text: str
    apply: Callable[[Season], Season]
    price_cents: int | None = 0
    note: str = ""


def for_limits(season: Season, plan: Plan, certificates: list[Certificate]) -> list[Change]:
    """Changes that touch a limit that binds, the strongest certificate's first, each once."""
    found: dict[str, Change] = {}
    for certificate in certificates:
        for change in _for(season, plan, certificate):
            found.setdefault(change.key, change)
    for change in [*more_hours(season), *due_days(season, plan), *in_part(season, plan)]:
        found.setdefault(change.key, change)
    return list(found.values())


def _for(season: Season, plan: Plan, c: Certificate) -> Iterator[Change]:
    """Changes that widen one limit."""
    if c.kind in ("leaders", "people able", "pulls"):
        yield from overtime(season, c.people)
        yield from training(season, c)
    if c.kind in ("people able", "people's hours", "packing minutes", "people at once"):
        yield from overtime(season, c.people or tuple(p.name for p in season.crew))
        yield from helpers(season, plan, c)
    if c.kind == "station minutes" or (c.kind == "packing minutes" and c.what == season.kitchen.packing_station):
        yield place(season, c.what)
    if c.kind in ("pours a day", "people at once", "shows"):
        yield from bottlenecks(season, c)
    if c.kind == "supplies":
        yield from supplies(season, c)
    if c.kind == "no day in the window" or c.first > plan.from_day:
        yield from longer_life(season, c)
    if c.kind not in ("supplies", "no day in the window"):
        yield from closed_days(season, c)
        yield from more_hours(season)


def overtime(season: Season, people: tuple[str, ...]) -> Iterator[Change]:
    """Some more hours a week for a named person."""
    for name in people:
        person = season.person_by_name[name]
        to = max(person.contracted_minutes, rules.week_limit(person)) + OVERTIME
        longer = replace(person, overtime=True, longest_minutes=to)
        yield Change(
            f"overtime {name}",
            "overtime",
            f"{name} works up to {to / 60:g} hours a week instead of {rules.week_limit(person) / 60:g}",
            _person(longer),
            note="if the law on working time allows it",
        )


def training(season: Season, c: Certificate) -> Iterator[Change]:
    """The person who is nearest to the level is trained up by one, or learns the skill."""
    if c.kind == "pulls":
        rivals = [(1, p) for p in season.crew if p.name not in c.people and p.pulls_day > 0 and not p.young]
        skills = {r.skill for r in season.roles if r.pulls and r.skill}
        for _, person in rivals[:1]:
            for skill in sorted(skills):
                yield _train(season, person, skill, 1, c.people)
        return
    skill, _, level_text = c.what.rpartition(" ")
    if not skill:
        return
    level = int(level_text)
    rivals = [
        (season.level_of.get((p.name, skill), 0), p) for p in season.crew if p.name not in c.people and not p.young
    ]
    for has, person in sorted(rivals, key=lambda x: (-x[0], x[1].name))[:1]:
        if has >= level - 1:
            yield _train(season, person, skill, level, c.people)


def _train(season: Season, person: Person, skill: str, level: int, teachers: tuple[str, ...]) -> Change:
    wages = [season.person_by_name[t].wage_cents for t in teachers] or [person.wage_cents]
    learnt = Skill(person.name, skill, level)

    def trained(s: Season) -> Season:
        rows = tuple(x for x in s.skills if (x.person, x.skill) != (learnt.person, learnt.skill))
        return replace(s, skills=(*rows, learnt))

    return Change(
        f"train {person.name} {skill} {level}",
        "training",
        f"{person.name} is trained to {skill} of level {level}",
        trained,
        TRAINING * (person.wage_cents + min(wages)) // 60,
        "before the season begins; priced as a paid day of learner and teacher",
    )


def helpers(season: Season, plan: Plan, c: Certificate) -> Iterator[Change]:
    """An extra pair of hands on the weekday of the window with most work; packs, and does what needs no skill."""
    busy: dict[int, int] = {}
    for day in plan.days:
        if c.first <= day.day <= c.last:
            busy[day.day.weekday()] = busy.get(day.day.weekday(), 0) + len(day.batches)
    if not busy:
        return
    weekday = max(busy, key=lambda d: (busy[d], -d))
    days = [d for d in season.days if c.first <= d <= c.last and d.weekday() == weekday]
    hours = rules.opening(season, days[0])
    if hours is None:
        return
    wages = sorted(p.wage_cents for p in season.crew)
    name = _new_name(season, "Extra helper")
    helper = Person(name, 600, 600, shortest_shift=180, wage_cents=wages[len(wages) // 2])
    packs = season.kitchen.packing_skill
    skills = (Skill(name, packs, 1),) if packs else ()
    away = tuple(
        Absence(name, first, last, reason="not called in")
        for first, last in ((season.kitchen.first_day, days[0] - timedelta(1)),
                            (days[-1] + timedelta(1), season.kitchen.last_day))
        if first <= last
    )  # fmt: skip
    row = Availability(name, weekday, *hours)
    when = _day(days[0]) if len(days) == 1 else f"on {len(days)} days, every {days[0]:%A} from {_day(days[0])}"
    yield Change(
        f"helper {weekday} {days[0]} {days[-1]}",
        "helper",
        f"an extra helper comes {when}",
        lambda s: replace(
            s,
            crew=(*s.crew, helper),
            skills=s.skills + skills,
            availability=(*s.availability, row),
            absences=s.absences + away,
        ),
        note="packs and does what needs no skill, at the wage in the middle of the crew's",
    )


def place(season: Season, station: str) -> Change:
    """One more place at a station."""

    def more(s: Season) -> Season:
        return replace(s, stations=tuple(Station(x.name, x.places + 1) if x.name == station else x for x in s.stations))

    return Change(
        f"place {station}",
        "station",
        f"a place more at the {station} ({season.places[station] + 1} instead of {season.places[station]})",
        more,
        None,
        "buying or hiring it is not priced",
    )


def bottlenecks(season: Season, c: Certificate) -> Iterator[Change]:
    """A place more at each of the two single stations that these designs keep longest."""
    minutes: dict[str, int] = {}
    for use in c.uses:
        for need in rules.recipe(season, season.design_by_name[use.name]):
            minutes[need.station] = minutes.get(need.station, 0) + need.minutes * use.count
    single = [s for s in minutes if season.places[s] == 1]
    for station in sorted(single, key=lambda s: (-minutes[s], s))[:2]:
        yield place(season, station)


def supplies(season: Season, c: Certificate) -> Iterator[Change]:
    """Supplies ordered so early that they are there when the window begins."""
    names = {u.name for u in c.uses}

    def earlier(s: Season) -> Season:
        return replace(s, designs=tuple(replace(d, from_day=c.first) if d.name in names else d for d in s.designs))

    yield Change(
        f"supplies {' '.join(sorted(names))}",
        "supplies",
        f"the supplies for {', '.join(sorted(names))} are there by {_day(c.first)}",
        earlier,
        None,
        "if the supplier can; an express delivery is not priced",
    )


def longer_life(season: Season, c: Certificate) -> Iterator[Change]:
    """Better packing: candy of these designs keeps a month longer."""
    names = {u.name for u in c.uses if u.to_make}

    def longer(d: Design) -> Design:
        return replace(d, sell_by_days=d.sell_by_days + LONGER_LIFE) if d.name in names else d

    yield Change(
        f"life {' '.join(sorted(names))}",
        "longer life",
        f"{', '.join(sorted(names))} keeps {LONGER_LIFE} days longer by better packing",
        lambda s: replace(s, designs=tuple(longer(d) for d in s.designs)),
        None,
        "if the packing and a test of it allow; not priced",
    )


def closed_days(season: Season, c: Certificate) -> Iterator[Change]:
    """Opening one closed day of the window with the hours of the day before it that is open."""
    closed = [d for d in season.days if c.first <= d <= c.last and rules.opening(season, d) is None]
    for day in closed[-2:]:
        before = [h for d in season.days if d < day and (h := rules.opening(season, d)) is not None]
        after = [h for d in season.days if d > day and (h := rules.opening(season, d)) is not None]
        hours = (before[-1:] + after[:1])[0]
        others = tuple(s for s in season.special_days if s.day != day)
        special = SpecialDay(day, "open", "opened", *hours)
        yield Change(
            f"open {day}",
            "open day",
            f"the kitchen opens on {_day(day)}",
            _special((*others, special)),
            note="with those who can come on that weekday",
        )


def more_hours(season: Season) -> Iterator[Change]:
    """An hour earlier in the morning, for the kitchen and whoever is there when it opens; a later last pour."""
    yield Change("earlier", "earlier start", "the day begins an hour earlier", _earlier)
    later = season.kitchen.last_pour + LATER_POUR
    text = f"the last pour may be at {later // 60:02d}:{later % 60:02d}"
    yield Change("last pour", "last pour", text, lambda s: replace(s, kitchen=replace(s.kitchen, last_pour=later)))


def _earlier(s: Season) -> Season:
    opens = {h.weekday: h.opens for h in s.hours}

    def sooner(minute: int) -> int:
        return max(0, minute - EARLIER)

    return replace(
        s,
        hours=tuple(replace(h, opens=sooner(h.opens)) for h in s.hours),
        special_days=tuple(d if d.opens is None else replace(d, opens=sooner(d.opens)) for d in s.special_days),
        availability=tuple(
            replace(a, starts=sooner(a.starts)) if a.starts <= opens.get(a.weekday, 0) else a for a in s.availability
        ),
    )


def due_days(season: Season, plan: Plan) -> Iterator[Change]:
    """Moving the due day of the orders that are most short."""
    for order in _short_orders(season, plan)[:3]:
        for days in SOME_DAYS:
            due = order.due + timedelta(days=days)
            if due > season.kitchen.last_day:
                continue
            latest = None if order.latest is None else max(order.latest, due)
            yield Change(
                f"due {order.id} {days}",
                "due day",
                f"{order.customer or order.id} takes {order.id} on {_day(due)} instead of {_day(order.due)}",
                _order(replace(order, due=due, latest=latest)),
                note="if the customer agrees",
            )


def in_part(season: Season, plan: Plan) -> Iterator[Change]:
    """Delivering in part what was to be whole or nothing; or giving up one order for the others."""
    short = _short_orders(season, plan)
    for order in [o for o in short if not o.partial][:3]:
        yield Change(
            f"part {order.id}", "part delivery", f"{order.customer or order.id} takes {order.id} in part",
            _order(replace(order, partial=True)), note="if the customer agrees",
        )  # fmt: skip
    missing = {s.line for s in plan.shortfalls}
    least = [o for o in season.orders if o.id not in missing and not (o.cancelled or o.confirmed) and o.priority == 3]
    for order in sorted(least, key=lambda o: (o.kind == "firm", -o.packs, o.id))[:1]:
        yield Change(
            f"drop {order.id}",
            "dropped order",
            f"{order.id} for {order.customer or 'the shelf'} is given up ({order.packs} packs)",
            _order(replace(order, cancelled=True)),
            note="those packs are lost; they are not counted as mended",
        )


def _short_orders(season: Season, plan: Plan) -> list[Order]:
    weight = {s.line: s.weighted for s in plan.shortfalls}
    short = [o for o in season.orders if weight.get(o.id)]
    return sorted(short, key=lambda o: (-weight[o.id], o.id))


def _person(changed: Person) -> Callable[[Season], Season]:
    return lambda s: replace(s, crew=tuple(changed if p.name == changed.name else p for p in s.crew))


def _order(changed: Order) -> Callable[[Season], Season]:
    return lambda s: replace(s, orders=tuple(changed if o.id == changed.id else o for o in s.orders))


def _special(days: tuple[SpecialDay, ...]) -> Callable[[Season], Season]:
    added = days[-1]
    return lambda s: replace(s, special_days=(*(d for d in s.special_days if d.day != added.day), added))


def _new_name(season: Season, wanted: str) -> str:
    name, number = wanted, 1
    while name in season.person_by_name:
        number += 1
        name = f"{wanted} {number}"
    return name


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
