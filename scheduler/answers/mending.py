"""What a planner can really change about a season, each as a new season and a sentence.

Amounts (an hour, a level, five hours a week) are the step a kitchen would try first: a house
rule, no source. Wages come out of the plan; everything else costs what the season's prices say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TypeVar

from scheduler.answers import work
from scheduler.answers.ahead import demand_of
from scheduler.answers.certificate import Certificate, Use
from scheduler.answers.limits import groups
from scheduler.plan.summary import person_weeks
from scheduler.plan.types import Plan
from scheduler.season import rules
from scheduler.season.prices import PriceKind, price_of
from scheduler.season.types import Absence, Availability, Order, Person, Season, Skill, SpecialDay, Station

Row = TypeVar("Row")

OVERTIME = 300  # minutes a week more
HOUR = 60  # minutes by which the day begins earlier, or the last start is later at most
LONGER_LIFE = 30  # days
SOME_DAYS = (2, 7)  # days by which a due day is moved


@dataclass(frozen=True)
class Change:
    """One real change. ``kind`` groups alike; ``price_cents`` is paid beside wages, None where it is not known.

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
    others = [earlier_start(), *due_days(season, plan), *in_part(season, plan), *unproven(season, plan)]
    for change in others:
        found.setdefault(change.key, change)
    return list(found.values())


def unproven(season: Season, plan: Plan) -> Iterator[Change]:
    """Changes for what no sum proves: more of those who have least time left, helpers, training, days, places, life."""
    short = {s.line for s in plan.shortfalls}
    lines = [line for line in demand_of(season, plan).lines if line.id in short]
    windows = [w for line in lines for w in line.windows if w.last >= w.first]
    if not windows:
        return
    free = max(0, season.index(plan.from_day))
    last = min(max(free, *(w.last for w in windows)), season.day_count - 1)
    first = min(max(free, min(w.first for w in windows)), last)
    names = sorted({w.design for w in windows})
    designs = [season.design_by_name[name] for name in names]
    busy = _fullest(season, plan)
    as_if = Certificate(
        "people's hours", "", busy[:2], "seconds", season.days[first], season.days[last], (),
        tuple(Use(name, 1, 0, 1, 1, 1, 1, 1) for name in names), (), 0, 0, 0, 0, 0,
    )  # fmt: skip
    yield from _for(season, plan, as_if)
    for group in groups(season, designs)[:1]:
        people = tuple(name for name in busy if name in group.people)
        able = replace(as_if, kind="leaders", what=f"{group.skill} {group.level}", people=people)
        yield from _for(season, plan, able)
    yield from _for(season, plan, replace(as_if, kind="pours a day"))


def _fullest(season: Season, plan: Plan) -> tuple[str, ...]:
    """Everyone, those first who have least of their weeks left in the plan."""
    share: dict[str, float] = {}
    for week in person_weeks(season, plan):
        limit = rules.week_limit(season.person_by_name[week.person])
        share[week.person] = max(share.get(week.person, 0.0), week.paid_minutes / max(1, limit))
    return tuple(sorted(season.person_by_name, key=lambda name: (-share.get(name, 0.0), name)))


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
        yield from later_start(season, c)
    if c.kind == "supplies":
        yield supplies(season, c)
    if c.kind == "no day in the window" or c.first > plan.from_day:
        yield longer_life(season, c)
    if c.kind not in ("supplies", "no day in the window"):
        yield from closed_days(season, c)


def overtime(season: Season, people: tuple[str, ...]) -> Iterator[Change]:
    """Some more hours a week for a named person."""
    for name in people:
        person = season.person_by_name[name]
        now = rules.week_limit(person)
        to = max(person.contracted_minutes, now) + OVERTIME
        longer = replace(person, overtime=True, longest_minutes=to)
        yield Change(
            f"overtime {name}", "overtime",
            f"{name} works up to {to / 60:g} hours a week instead of {now / 60:g}",
            lambda s, longer=longer: replace(s, crew=_swap(s.crew, longer, "name")),  # type: ignore[misc]
            note="if the law on working time allows it",
        )  # fmt: skip


def training(season: Season, c: Certificate) -> Iterator[Change]:
    """The person who is nearest to the level is trained up by one, or learns the skill."""
    pulls = c.kind == "pulls"
    skill, _, level = c.what.rpartition(" ")
    wanted = {(r.skill, 1) for r in season.roles if r.pulls and r.skill} if pulls else {(skill, int(level or 0))}
    for name, to in sorted(w for w in wanted if w[0]):
        rivals = [
            (-season.level_of.get((p.name, name), 0), p.name)
            for p in season.crew
            if p.name not in c.people and not p.young and (p.pulls_day or not pulls)
        ]
        if rivals and -min(rivals)[0] >= to - 1:
            yield _train(season, Skill(min(rivals)[1], name, to))


def _train(season: Season, learnt: Skill) -> Change:
    def trained(s: Season) -> Season:
        rows = tuple(x for x in s.skills if (x.person, x.skill) != (learnt.person, learnt.skill))
        return replace(s, skills=(*rows, learnt))

    return Change(
        f"train {learnt.person} {learnt.skill} {learnt.level}", "training",
        f"{learnt.person} is trained to {learnt.skill} of level {learnt.level}",
        trained,
        price_of(season.prices, "training", learnt.person),
        "beforehand",
    )  # fmt: skip


def helpers(season: Season, plan: Plan, c: Certificate) -> Iterator[Change]:
    """An extra pair of hands on the weekday of the window with most work; packs, and does what needs no skill.

    Where a day of a helper has a price, that is all it costs; else the wage in the middle of the crew's.
    """
    made = {day.day: len(day.batches) for day in plan.days}
    busy: dict[int, int] = {}
    for day in season.days:
        if c.first <= day <= c.last and rules.opening(season, day) is not None:
            busy[day.weekday()] = busy.get(day.weekday(), 0) + made.get(day, 0)
    if not busy:
        return
    weekday = max(busy, key=lambda d: (busy[d], -d))
    days = [d for d in season.days if c.first <= d <= c.last and d.weekday() == weekday and rules.opening(season, d)]
    hours = rules.opening(season, days[0])
    assert hours is not None
    a_day = price_of(season.prices, "extra helper")
    wage = sorted(p.wage_cents for p in season.crew)[len(season.crew) // 2] if a_day is None else 0
    name = _new_name(season, "Extra helper")
    packs = season.kitchen.packing_skill
    away = tuple(
        Absence(name, first, last, reason="not called in")
        for first, last in ((season.kitchen.first_day, days[0] - timedelta(1)),
                            (days[-1] + timedelta(1), season.kitchen.last_day))
        if first <= last
    )  # fmt: skip
    when = _day(days[0]) if len(days) == 1 else f"on {len(days)} days, every {days[0]:%A} from {_day(days[0])}"
    yield Change(
        f"helper {weekday} {days[0]} {days[-1]}", "helper",
        f"an extra helper comes {when}",
        lambda s: replace(
            s,
            crew=(*s.crew, Person(name, 600, 600, shortest_shift=180, wage_cents=wage)),
            skills=s.skills + ((Skill(name, packs, 1),) if packs else ()),
            availability=(*s.availability, Availability(name, weekday, *hours)),
            absences=s.absences + away,
        ),
        0 if a_day is None else a_day * len(days),
        "packs and does what needs no skill" + (", at the wage in the middle of the crew's" if a_day is None else ""),
    )  # fmt: skip


def place(season: Season, station: str) -> Change:
    """One more place at a station."""
    places = season.places[station] + 1
    return Change(
        f"place {station}", "station",
        f"a place more at the {station} ({places} instead of {places - 1})",
        lambda s: replace(s, stations=_swap(s.stations, Station(station, s.places[station] + 1), "name")),
        price_of(season.prices, "further place", station),
        "if there is room for it",
    )  # fmt: skip


def bottlenecks(season: Season, c: Certificate) -> Iterator[Change]:
    """A place more at each of the two single stations that these designs keep longest."""
    minutes: dict[str, int] = {}
    for use in c.uses:
        for need in rules.recipe(season, season.design_by_name[use.name]):
            minutes[need.station] = minutes.get(need.station, 0) + need.minutes * use.count
    single = [s for s in minutes if season.places[s] == 1]
    for station in sorted(single, key=lambda s: (-minutes[s], s))[:2]:
        yield place(season, station)


def supplies(season: Season, c: Certificate) -> Change:
    """Supplies ordered so early that they are there when the window begins."""
    names = sorted({u.name for u in c.uses})
    return Change(
        f"supplies {' '.join(names)}", "supplies",
        f"the supplies for {', '.join(names)} are there by {_day(c.first)}",
        lambda s: replace(
            s, designs=tuple(replace(d, from_day=c.first) if d.name in names else d for d in s.designs)
        ),
        _sum(season, "early supplies", names),
        "if the supplier can",
    )  # fmt: skip


def longer_life(season: Season, c: Certificate) -> Change:
    """Better packing: candy of these designs keeps a month longer."""
    names = sorted({u.name for u in c.uses if u.to_make})
    return Change(
        f"life {' '.join(names)}", "longer life",
        f"{', '.join(names)} keeps {LONGER_LIFE} days longer by better packing",
        lambda s: replace(
            s,
            designs=tuple(
                replace(d, sell_by_days=d.sell_by_days + LONGER_LIFE) if d.name in names else d for d in s.designs
            ),
        ),
        _sum(season, "better packing", names),
        "if a test of the packing shows it",
    )  # fmt: skip


def _sum(season: Season, kind: PriceKind, names: Iterable[str]) -> int | None:
    """The price for all of them; None where one has none."""
    prices = [price_of(season.prices, kind, name) for name in names]
    return None if None in prices else sum(p or 0 for p in prices)


def closed_days(season: Season, c: Certificate) -> Iterator[Change]:
    """Opening one of the last two closed days of the window on which those who can come are enough for a batch."""
    closed = [d for d in season.days if c.first <= d <= c.last and rules.opening(season, d) is None]
    for day in closed[-2:]:
        before = [h for d in season.days if d < day and (h := rules.opening(season, d)) is not None]
        after = [h for d in season.days if d > day and (h := rules.opening(season, d)) is not None]
        special = SpecialDay(day, "open", "opened", *(before[-1:] + after[:1])[0])

        def opened(s: Season, special: SpecialDay = special) -> Season:
            return replace(s, special_days=(*(d for d in s.special_days if d.day != special.day), special))

        wider = opened(season)
        here = work.here_on(wider, wider.index(day))
        designs = [d for d in season.designs if d.name in {u.name for u in c.uses}]
        if c.kind == "packing minutes" or any(work.staffed(wider, d, here) for d in designs):
            yield Change(
                f"open {day}", "open day", f"the kitchen opens on {_day(day)}", opened,
                price_of(season.prices, "open day"), "with those who can come on that weekday",
            )  # fmt: skip


def later_start(season: Season, c: Certificate) -> Iterator[Change]:
    """The last start so little later that one batch more fits on the fullest day; an hour, where that gives more."""
    designs = [season.design_by_name[u.name] for u in c.uses]
    days = range(season.index(c.first), season.index(c.last) + 1)

    def pours(s: Season, t: int) -> int:
        return work.pours_a_day(s, designs, t, work.here_on(s, t) if c.kind == "people at once" else None)

    def later(s: Season, minutes: int) -> Season:
        return replace(s, kitchen=replace(s.kitchen, last_pour=s.kitchen.last_pour + minutes))

    fullest = max(days, key=lambda t: (pours(season, t), -t))
    here = work.here_on(season, fullest) if c.kind == "people at once" else None
    few = work.later_start(season, designs, fullest, here)
    steps = [HOUR] if few is None else [few]
    if few is not None and sum(pours(later(season, HOUR), t) - pours(later(season, few), t) for t in days) > 0:
        steps.append(HOUR)
    for minutes in steps:
        at = season.kitchen.last_pour + minutes
        yield Change(
            f"last pour {minutes}", "last pour", f"the last batch may start at {at // 60:02d}:{at % 60:02d}",
            lambda s, minutes=minutes: later(s, minutes),  # type: ignore[misc]
            note=f"your own setting in the table kitchen, {minutes} minutes later than now",
        )  # fmt: skip


def earlier_start() -> Change:
    """An hour earlier in the morning, for the kitchen and whoever is there when it opens."""
    return Change("earlier", "earlier start", "the day begins an hour earlier", _earlier)


def _earlier(s: Season) -> Season:
    opens = {h.weekday: h.opens for h in s.hours}

    def sooner(minute: int) -> int:
        return max(0, minute - HOUR)

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
        a_day = price_of(season.prices, "later due day", order.id)
        for days in SOME_DAYS:
            due = max(order.due, plan.from_day) + timedelta(days=days)
            if due > season.kitchen.last_day:
                continue
            latest = None if order.latest is None else max(order.latest, due)
            yield Change(
                f"due {order.id} {days}", "due day",
                f"{order.customer or order.id} takes {order.id} on {_day(due)} instead of {_day(order.due)}",
                _order(replace(order, due=due, latest=latest)),
                None if a_day is None else a_day * days,
                "if the customer agrees",
            )  # fmt: skip


def in_part(season: Season, plan: Plan) -> Iterator[Change]:
    """Delivering in part what was to be whole or nothing; or giving up one order for the others."""
    for order in [o for o in _short_orders(season, plan) if not o.partial][:3]:
        yield Change(
            f"part {order.id}", "part delivery",
            f"{order.customer or order.id} takes {order.id} in part",
            _order(replace(order, partial=True)),
            price_of(season.prices, "part delivery", order.id),
            "if the customer agrees",
        )  # fmt: skip
    missing = {s.line for s in plan.shortfalls}
    least = [o for o in season.orders if o.id not in missing and not (o.cancelled or o.confirmed) and o.priority == 3]
    for order in sorted(least, key=lambda o: (o.kind == "firm", -o.packs, o.id))[:1]:
        yield Change(
            f"drop {order.id}", "dropped order",
            f"{order.id} for {order.customer or 'the shelf'} is given up ({order.packs} packs)",
            _order(replace(order, cancelled=True)),
            order.packs * season.product_by_name[order.product].price_cents or None,
            "its packs are lost, and what they would have brought in is in the price",
        )  # fmt: skip


def _short_orders(season: Season, plan: Plan) -> list[Order]:
    weight = {s.line: s.weighted for s in plan.shortfalls}
    short = [o for o in season.orders if weight.get(o.id)]
    return sorted(short, key=lambda o: (-weight[o.id], o.id))


def _order(changed: Order) -> Callable[[Season], Season]:
    return lambda s: replace(s, orders=_swap(s.orders, changed, "id"))


def _swap(rows: tuple[Row, ...], changed: Row, by: str) -> tuple[Row, ...]:
    """The rows with the one of the same name replaced."""
    return tuple(changed if getattr(row, by) == getattr(changed, by) else row for row in rows)


def _new_name(season: Season, wanted: str) -> str:
    taken = season.person_by_name
    return next(n for n in (wanted, *(f"{wanted} {i}" for i in range(2, len(taken) + 3))) if n not in taken)


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
