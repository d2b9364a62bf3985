"""Seasons of benchmark size: same seed, same season. Figures are common practice, no source.

``load`` 1.0 asks for about as many batches as the kitchen can make in the season; how
many fit on a day is a rough reading of kettle, people and pulls, not the day model.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduler.season.types import (
    Absence,
    Availability,
    Content,
    Design,
    Forecast,
    Kitchen,
    Order,
    Person,
    Product,
    Season,
    Show,
    Skill,
    SpecialDay,
    Station,
    StockLot,
)
from tests.seasons import ALL_SKILLS, CHANGEOVERS, FIRST_DAY, FLAVOURS, PEOPLE, ROLES, STAGES, STATIONS, week_hours

PICTURES = (
    "Daisy", "Anchor", "Robin", "Clover", "Kite", "Plum", "Heart", "Fox", "Bee", "Tulip", "Moon", "Boat",
    "Owl", "Acorn", "Snail", "Bell", "Fish", "Crown", "Leaf", "Star", "Drum", "Hare", "Rose", "Key",
    "Cloud", "Swan", "Pear", "Lamp", "Cat", "Wave",
)  # fmt: skip


@dataclass(frozen=True)
class Size:
    """What a benchmark season is made of; ``orders`` counts orders and forecasts."""

    weeks: int
    people: int
    designs: int
    orders: int
    holidays: int


SIZES = {
    "S": Size(6, 5, 8, 60, 1),
    "M": Size(13, 8, 20, 300, 2),
    "L": Size(26, 12, 40, 800, 4),
    "XL": Size(52, 12, 60, 1600, 6),
}


def sized(name: str, load: float = 1.0, seed: int = 0) -> Season:
    """Season S, M, L or XL at a load."""
    s = SIZES[name]
    return generated(s.weeks, s.people, s.designs, s.orders, s.holidays, load, seed)


def generated(
    weeks: int, people: int, designs: int, orders: int, holidays: int, load: float = 1.0, seed: int = 0
) -> Season:
    """A whole season: six open days a week, two shows a week, leave, opening stock, assortments.

    Six orders in ten are due in the fortnight before a holiday; every seventh row is a
    forecast for a holiday. Sizes of the orders are scaled so that all pieces together are
    ``load`` times what the kitchen can roughly make before the last due day.
    """
    rng = random.Random(f"{weeks}-{people}-{designs}-{orders}-{holidays}-{seed}")
    last = FIRST_DAY + timedelta(days=7 * weeks - 1)
    saturdays = [7 * (weeks * (i + 1) // holidays) - 2 for i in range(holidays)]
    feasts = [FIRST_DAY + timedelta(days=d) for d in saturdays]
    crew, skills, availability = _crew(rng, people)
    pictures = tuple(_design(rng, i) for i in range(designs))
    products, contents = _products(rng, pictures)
    tables = 1 if people < 10 else 2
    season = Season(
        kitchen=Kitchen(
            f"Benchmark {weeks} weeks", FIRST_DAY, last, last_pour=15 * 60 + 30, least_life_days=0,
        ),
        hours=week_hours(6),
        stations=tuple(_places(s, tables) for s in STATIONS),
        stages=STAGES,
        roles=ROLES,
        designs=pictures,
        crew=crew,
        skills=skills,
        availability=availability,
        absences=_leave(rng, crew, weeks),
        special_days=tuple(SpecialDay(f, "holiday", f"Feast {i + 1}") for i, f in enumerate(feasts)),
        shows=(Show("Wednesday show", 11 * 60, weekday=2), Show("Saturday show", 14 * 60, weekday=5)),
        changeovers=CHANGEOVERS,
        products=products,
        contents=contents,
        stock=_stock(rng, pictures, products),
    )  # fmt: skip
    pieces = load * rough_pieces(season, weeks)
    return _with_demand(rng, season, orders, feasts, pieces)


def rough_pieces(season: Season, weeks: int) -> float:
    """Pieces that the kitchen can roughly make: batches a day by people and kettle, times 900.

    A batch takes about 300 person-minutes with its packing, and three quarters of the
    contracted time can be used; a kettle gives 9 batches a day.
    """
    week = sum(p.contracted_minutes for p in season.crew) * 0.75 / 300
    return min(week, 6 * 9.0) * weeks * 900


def _places(station: Station, tables: int) -> Station:
    if station.name in ("table", "hook", "rolling bench"):
        return replace(station, places=tables)
    return replace(station, places=2 + tables) if station.name == "packing bench" else station


def _crew(rng: random.Random, count: int) -> tuple[tuple[Person, ...], tuple[Skill, ...], tuple[Availability, ...]]:
    crew, skills, availability = [], [], []
    for i, name in enumerate(PEOPLE[:count]):
        hours = 40 if i < 4 else rng.choice((24, 32, 40))
        overtime = i % 2 == 0
        junior = i == count - 1
        crew.append(
            Person(
                name,
                hours * 60,
                hours * 60 + (480 if overtime else 0),
                shortest_shift=180,
                pulls_day=75 if junior else rng.choice((150, 225)),
                pulls_week=300 if junior else 900,
                wage_cents=rng.choice((1350, 1500, 1700, 1950)),
                overtime=overtime,
            )  # fmt: skip
        )
        level = 5 if i == 0 else 4 if i == 1 else rng.randint(2, 4) if i < count * 2 // 3 else rng.randint(1, 2)
        skills += [Skill(name, s, level if s == "building" else 2) for s in ALL_SKILLS if s != "boiling" or i % 3 != 2]
        if hours < 40:
            days = sorted(rng.sample(range(6), 5 if hours == 32 else 4))
            availability += [Availability(name, d, 8 * 60, 17 * 60) for d in days]
    return tuple(crew), tuple(skills), tuple(availability)


def _design(rng: random.Random, i: int) -> Design:
    flavour, strength = rng.choice(FLAVOURS)
    name = PICTURES[i % len(PICTURES)] + (f" {flavour}" if i >= len(PICTURES) else "")
    return Design(
        name,
        difficulty=rng.choice((1, 1, 2, 2, 3, 3, 4, 5)) if i else 1,
        pieces=rng.choice((850, 900, 950)),
        sell_by_days=rng.choice((180, 180, 270, 365)),
        pull_loads=rng.choice((0, 1, 1, 1, 2)),
        flavour=flavour,
        strength=strength if i else 1,
        colour=rng.randint(1, 3),
        sour=rng.random() < 0.1,
        allergens=("almond",) if i and rng.random() < 0.08 else (),
        from_day=FIRST_DAY + timedelta(days=rng.randint(3, 14)) if i and rng.random() < 0.1 else None,
    )


def _products(rng: random.Random, designs: tuple[Design, ...]) -> tuple[tuple[Product, ...], tuple[Content, ...]]:
    products = [Product(f"{d.name} jar", rng.choice((600, 750, 900)), rng.choice((60, 75, 90))) for d in designs]
    contents = [Content(p.name, d.name, rng.choice((30, 40))) for p, d in zip(products, designs, strict=True)]
    for i in range(max(2, len(designs) // 8)):
        name = f"Assortment {i + 1}"
        products.append(Product(name, 1400, 120))
        inside = rng.sample(designs, rng.randint(3, min(5, len(designs))))
        contents += [Content(name, d.name, 10) for d in inside]
    return tuple(products), tuple(contents)


def _leave(rng: random.Random, crew: tuple[Person, ...], weeks: int) -> tuple[Absence, ...]:
    """Each takes a week off in every thirteen or so; the first, who builds best, always once."""
    out = []
    for i, person in enumerate(crew):
        times = weeks // 13 + (rng.random() < weeks % 13 / 13)
        for _ in range(max(times, 1 if i == 0 else 0)):
            monday = FIRST_DAY + timedelta(days=7 * rng.randrange(weeks))
            out.append(Absence(person.name, monday, monday + timedelta(days=5), reason="leave"))
    return tuple(dict.fromkeys(out))


def _stock(rng: random.Random, designs: tuple[Design, ...], products: tuple[Product, ...]) -> tuple[StockLot, ...]:
    made = [FIRST_DAY - timedelta(days=rng.randint(3, 40)) for _ in range(8)]
    pieces = [
        StockLot(f"C{i + 1}", rng.randint(100, 800), made[i], design=d.name)
        for i, d in enumerate(rng.sample(designs, min(4, len(designs))))
    ]
    packs = [
        StockLot(f"K{i + 1}", rng.randint(5, 40), made[4 + i], product=p.name)
        for i, p in enumerate(rng.sample(products, 3))
    ]
    return tuple(pieces + packs)


def _with_demand(rng: random.Random, season: Season, count: int, feasts: list[date], pieces: float) -> Season:
    in_pack = {name: sum(inside.values()) for name, inside in season.contents_of.items()}
    shares = [rng.lognormvariate(0, 0.8) for _ in range(count)]
    total = sum(shares)
    singles = season.products[: len(season.designs)]
    mixes = season.products[len(season.designs) :]
    orders, forecasts = [], []
    for i, share in enumerate(shares):
        product = rng.choice(mixes if rng.random() < 0.25 else singles).name
        packs = max(1, round(share / total * pieces / in_pack[product]))
        if i % 7 == 6:
            forecasts.append(
                Forecast(
                    f"F{i + 1:04d}",
                    product,
                    rng.choice(feasts) - timedelta(days=rng.randint(2, 9)),
                    round(packs * 0.7),
                    packs,
                    round(packs * 1.4),
                    rng.choice((1, 2, 2, 3)),
                )  # fmt: skip
            )
            continue
        wholesale = rng.random() < 0.35
        due = _due_day(rng, season, feasts)
        latest = due + timedelta(days=rng.randint(2, 7)) if rng.random() < 0.1 else None
        orders.append(
            Order(
                f"R{i + 1:04d}",
                product,
                packs,
                due,
                customer=f"Customer {rng.randint(1, 40)}",
                kind="standing" if rng.random() < 0.25 else "firm",
                priority=rng.choice((1, 2, 2, 3)),
                partial=rng.random() > 0.05,
                least_life_days=rng.choice((120, 150, 165)) if wholesale else 30,
                latest=latest,
                late_cents=50 if latest else 0,
                confirmed=rng.random() < 0.2,
            )  # fmt: skip
        )
    return replace(season, orders=tuple(orders), forecasts=tuple(forecasts))


def _due_day(rng: random.Random, season: Season, feasts: list[date]) -> date:
    if rng.random() < 0.6:
        due = rng.choice(feasts) - timedelta(days=rng.randint(1, 14))
    else:
        due = FIRST_DAY + timedelta(days=rng.randint(7, season.day_count - 1))
    return due - timedelta(days=1) if due.weekday() == 6 else due
