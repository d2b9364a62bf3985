"""Seasons in memory for tests: tiny ones that can be solved by hand, small random ones.

Invented kitchens and people; all figures are common practice, no source. The same seed
always gives the same season.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

from scheduler.season.rules import opening
from scheduler.season.types import (
    Absence,
    Availability,
    Changeover,
    Content,
    Design,
    Forecast,
    Hours,
    Kitchen,
    Order,
    Person,
    Pin,
    Product,
    Role,
    Season,
    Show,
    Skill,
    SpecialDay,
    Stage,
    StageException,
    Station,
    StockLot,
)

FIRST_DAY = date(2027, 2, 1)  # a Monday

PEOPLE = ("Ada", "Ben", "Cleo", "Dov", "Esme", "Finn", "Greta", "Hugo", "Iris", "Jonas", "Kezia", "Lev")
PICTURES = ("Daisy", "Anchor", "Robin", "Clover", "Kite", "Plum", "Heart", "Letters", "Fox", "Bee")
FLAVOURS = (("lemon", 1), ("pear", 1), ("cherry", 1), ("ginger", 2), ("mint", 3), ("aniseed", 3))

STATIONS = (
    Station("kettle", 1),
    Station("table", 1),
    Station("hook", 1),
    Station("rolling bench", 1),
    Station("cutting block", 1),
    Station("packing bench", 2),
)
# A plain picture takes 75 minutes from pour to cut, a level-5 one with two loads 105 (CP).
STAGES = (
    Stage("boil and pour", "kettle", 45),
    Stage("table work", "table", 20),
    Stage("pull", "hook", 0, minutes_per_load=10),
    Stage("assemble", "table", 10, minutes_per_level=5),
    Stage("draw and roll", "rolling bench", 25),
    Stage("cut", "cutting block", 10),
    Stage("sort", "packing bench", 15, wait_from=60, wait_to=240),
)
ROLES = (
    Role("boil and pour", "boiler", skill="boiling", hot=True),
    Role("table work", "builder", skill="building", level=None, leads=True, hot=True),
    Role("table work", "helper", hot=True),
    Role("pull", "puller", skill="pulling", pulls=True, hot=True),
    Role("assemble", "builder", skill="building", level=None, leads=True, hot=True),
    Role("assemble", "helper", hot=True),
    Role("draw and roll", "drawer", skill="building", level=None, leads=True, hot=True),
    Role("draw and roll", "roller", people=2, skill="rolling", hot=True),
    Role("cut", "cutter"),
    Role("sort", "sorter"),
)
CHANGEOVERS = (
    Changeover("light to dark", "table", 5),
    Changeover("dark to light", "table", 10),
    Changeover("mild to strong", "table", 5),
    Changeover("strong to mild", "table", 10),
    Changeover("sour to plain", "table", 10),
    Changeover("allergen to free", "table", 30, people=2),
)
ALL_SKILLS = ("boiling", "building", "pulling", "rolling")


def week_hours(days: int = 6, opens: int = 8 * 60, closes: int = 17 * 60) -> tuple[Hours, ...]:
    """Opening hours of the first ``days`` weekdays from Monday."""
    return tuple(Hours(d, opens, closes) for d in range(days))


def tiny(
    seed: int = 0,
    days: int | None = None,
    people: int | None = None,
    designs: int | None = None,
    orders: int | None = None,
) -> Season:
    """A season of brute-force size: one to three short batches a day, nothing but orders.

    Three stages (pour 15, shape 30 with two people, cut 15), 100 pieces a batch, packs of
    50 or 100 pieces, everyone can do everything, 8:00 to 10:30 so that one to four batches
    fit. No breaks, duties, changeovers or shows. Some orders need fresh candy, some may be late.
    """
    rng = random.Random(seed)
    day_count = days or rng.randint(3, 6)
    names = PEOPLE[: people or rng.randint(2, 3)]
    pictures = PICTURES[: designs or rng.randint(2, 3)]
    last = FIRST_DAY + timedelta(days=day_count - 1)
    kitchen = Kitchen(
        "Tiny kitchen", FIRST_DAY, last, last_pour=10 * 60, opening_minutes=0, closing_minutes=0,
        days_in_a_row=7, pull_rest_minutes=5,
    )  # fmt: skip
    products = tuple(Product(f"{p} bag", 500, 30) for p in pictures)
    contents = [Content(f"{p} bag", p, rng.choice((50, 100))) for p in pictures]
    if len(pictures) > 1 and rng.random() < 0.5:
        products += (Product("Mixed bag", 900, 45),)
        contents += [Content("Mixed bag", p, 50) for p in pictures[:2]]
    wanted = []
    for i in range(orders or rng.randint(2, 5)):
        due = FIRST_DAY + timedelta(days=rng.randint(1, day_count - 1))
        latest = due + timedelta(days=1) if due < last and rng.random() < 0.2 else None
        wanted.append(
            Order(
                f"O{i + 1}",
                rng.choice(products).name,
                rng.randint(1, 4),
                due,
                kind=rng.choice(("firm", "firm", "standing")),
                priority=rng.randint(1, 3),
                partial=rng.random() > 0.2,
                least_life_days=rng.choice((0, 0, 28, 29)),
                latest=latest,
                late_cents=100 if latest else 0,
            )  # fmt: skip
        )
    return Season(
        kitchen=kitchen,
        hours=week_hours(7, 8 * 60, 10 * 60 + 30),
        stations=(Station("kettle", 1), Station("table", 1), Station("cutting block", 1), Station("packing bench", 2)),
        stages=(Stage("pour", "kettle", 15), Stage("shape", "table", 30), Stage("cut", "cutting block", 15)),
        roles=(
            Role("pour", "boiler", hot=True),
            Role("shape", "builder", skill="building", leads=True),
            Role("shape", "helper", pulls=True),
            Role("cut", "cutter"),
        ),
        designs=tuple(Design(p, 1, 100, 30, 1, rng.choice((50, 75))) for p in pictures),
        crew=tuple(Person(n, 2400, 2400, 60, pulls_day=225, pulls_week=900, wage_cents=1500) for n in names),
        skills=tuple(Skill(n, "building", 1) for n in names),
        products=products,
        contents=tuple(contents),
        orders=tuple(wanted),
    )


def small_random(seed: int) -> Season:
    """A small season in which every feature comes up now and then: 1-3 weeks, 2-5 people, 2-6 designs."""
    rng = random.Random(1000 + seed)
    weeks, pictures = rng.randint(1, 3), PICTURES[: rng.randint(2, 6)]
    last = FIRST_DAY + timedelta(days=7 * weeks - 1)
    crew, skills = _crew(rng, rng.randint(2, 5))
    builders = max(s.level for s in skills if s.skill == "building")
    designs = tuple(_design(rng, p, builders) for p in pictures)
    products, contents = _products(rng, designs)
    kitchen = Kitchen(
        f"Small kitchen {seed}", FIRST_DAY, last, last_pour=15 * 60,
        opening_minutes=rng.choice((0, 20)), closing_minutes=rng.choice((0, 20)),
        closing_people=rng.choice((1, 2)), break_paid=rng.random() < 0.3,
        days_in_a_row=rng.choice((5, 6)), packing_from_days=rng.choice((1, 1, 2)),
        least_life_days=rng.choice((0, 60)), plan_for=rng.choice(("low", "likely", "high")),
        packing_skill=rng.choice(("", "", "packing")), clock_step=(1, 5, 15)[seed % 3],
        around_break_minutes=(0, 60)[seed % 2],
    )  # fmt: skip
    season = Season(
        kitchen=kitchen,
        hours=week_hours(rng.choice((5, 6)), 8 * 60, rng.choice((13, 15, 17)) * 60),
        stations=STATIONS,
        stages=_stages(rng),
        roles=_roles(rng, len(crew)),
        designs=designs,
        crew=crew,
        skills=skills,
        products=products,
        contents=contents,
        orders=_orders(rng, products, weeks, rng.randint(3, 10)),
    )
    return _now_and_then(rng, season, weeks)


def _crew(rng: random.Random, count: int) -> tuple[tuple[Person, ...], tuple[Skill, ...]]:
    crew, skills = [], []
    for i, name in enumerate(PEOPLE[:count]):
        young = i >= 2 and rng.random() < 0.15
        full = i < 2 or rng.random() < 0.6
        overtime = not young and rng.random() < 0.4
        crew.append(
            Person(
                name,
                2400 if full else 1200,
                (2880 if overtime else 2400) if full else 1440,
                shortest_shift=rng.choice((120, 180, 240)),
                longest_shift=480 if young else rng.choice((None, 540)),
                pulls_day=0 if young else rng.choice((150, 225, 225)),
                pulls_week=0 if young else 900,
                wage_cents=rng.choice((1300, 1500, 1850)),
                overtime=overtime,
                young=young,
            )  # fmt: skip
        )
        level = 5 if i == 0 else rng.randint(1, 4)
        skills.append(Skill(name, "packing", 1))
        if not young:
            known = [s for s in ALL_SKILLS if i < 2 or rng.random() < 0.8]
            skills += [Skill(name, s, level if s == "building" else 2) for s in known]
    return tuple(crew), tuple(skills)


def _design(rng: random.Random, name: str, hardest: int) -> Design:
    flavour, strength = rng.choice(FLAVOURS)
    return Design(
        name, rng.randint(1, hardest), rng.choice((850, 900, 950)), rng.choice((70, 90, 180, 365)),
        pull_loads=rng.choice((0, 1, 1, 1, 2)), flavour=flavour, strength=strength,
        colour=rng.randint(1, 3), sour=rng.random() < 0.15,
        allergens=("almond",) if rng.random() < 0.12 else (),
        from_day=FIRST_DAY + timedelta(days=rng.randint(1, 5)) if rng.random() < 0.1 else None,
    )  # fmt: skip


def _products(rng: random.Random, designs: tuple[Design, ...]) -> tuple[tuple[Product, ...], tuple[Content, ...]]:
    products = [Product(f"{d.name} jar", rng.choice((600, 750, 900)), rng.choice((60, 75, 90))) for d in designs]
    contents = [Content(p.name, d.name, rng.choice((30, 40, 50))) for p, d in zip(products, designs, strict=True)]
    for i in range(rng.randint(0, 2)):
        name = f"Mix {i + 1}"
        products.append(Product(name, 1400, 120))
        inside = rng.sample(designs, rng.randint(2, min(4, len(designs))))
        contents += [Content(name, d.name, rng.choice((10, 15, 20))) for d in inside]
    return tuple(products), tuple(contents)


def _stages(rng: random.Random) -> tuple[Stage, ...]:
    if rng.random() < 0.7:
        return STAGES
    return tuple(replace(s, wait_to=5) if s.name == "cut" else s for s in STAGES)


def _roles(rng: random.Random, people: int) -> tuple[Role, ...]:
    """The usual roles; a kitchen of two or three has one roller and no helper at the table."""
    if people >= 4:
        return ROLES
    return tuple(
        replace(r, people=1) if r.name == "roller" else r
        for r in ROLES
        if not (r.name == "helper" and r.stage == "table work")
    )


def _orders(rng: random.Random, products: tuple[Product, ...], weeks: int, count: int) -> tuple[Order, ...]:
    orders = []
    for i in range(count):
        due = FIRST_DAY + timedelta(days=rng.randint(2, 7 * weeks - 1))
        latest = due + timedelta(days=rng.randint(1, 4)) if rng.random() < 0.15 else None
        orders.append(
            Order(
                f"R{i + 1:02d}",
                rng.choice(products).name,
                rng.randint(5, 60),
                due,
                customer=f"Customer {i % 4 + 1}",
                kind=rng.choice(("firm", "firm", "standing")),
                priority=rng.randint(1, 3),
                partial=rng.random() > 0.15,
                least_life_days=rng.choice((None, None, 60, 84)),
                latest=latest,
                late_cents=rng.choice((0, 50, 200)) if latest else 0,
                confirmed=rng.random() < 0.2,
                cancelled=rng.random() < 0.05,
            )  # fmt: skip
        )
    return tuple(orders)


def _now_and_then(rng: random.Random, season: Season, weeks: int) -> Season:
    """Add the rarer things, each with its own chance."""
    names = [p.name for p in season.crew]
    pictures = [d.name for d in season.designs]

    def some_day() -> date:
        return FIRST_DAY + timedelta(days=rng.randrange(7 * weeks))

    changes: dict[str, object] = {}
    if rng.random() < 0.5:
        weekday = rng.randrange(5)
        stage = ("", "table work")[weekday % 2]
        changes["shows"] = (Show("Open kitchen", 11 * 60, stage, weekday, hardest=3),)
    if rng.random() < 0.6:
        changes["changeovers"] = CHANGEOVERS
    if rng.random() < 0.5:
        person, day = rng.choice(names), some_day()
        away = rng.choice(((0, 1440), (0, 12 * 60), (13 * 60, 1440)))
        changes["absences"] = (Absence(person, day, day + timedelta(days=rng.randint(0, 2)), *away, "leave"),)
    if rng.random() < 0.4:
        changes["pins"] = (_pin(rng, season, some_day()),)
    if rng.random() < 0.4:
        design, product = rng.choice(pictures), rng.choice(season.products).name
        changes["stock"] = (
            StockLot("P1", rng.randint(50, 600), FIRST_DAY - timedelta(days=rng.randint(1, 60)), design=design),
            StockLot("K1", rng.randint(2, 20), FIRST_DAY - timedelta(days=rng.randint(3, 40)), product=product),
        )
    if rng.random() < 0.4:
        likely, product = rng.randint(10, 50), rng.choice(season.products).name
        changes["forecasts"] = (
            Forecast("F1", product, some_day(), likely // 2, likely, 2 * likely, rng.randint(1, 3)),
        )
    if rng.random() < 0.3:
        changes["special_days"] = (SpecialDay(some_day(), "closed", "closed"),)
    if rng.random() < 0.3:
        part_timer = names[-1]
        changes["availability"] = tuple(
            Availability(part_timer, d, 8 * 60, 14 * 60) for d in sorted(rng.sample(range(6), 3))
        )
    if rng.random() < 0.15:
        changes["exceptions"] = (StageException(pictures[0], "assemble", minutes=30),)
    fuller = replace(season, **changes)  # type: ignore[arg-type]
    return replace(fuller, pins=tuple(p for p in fuller.pins if p.kind != "make" or _can_be_kept(fuller, p)))


def _pin(rng: random.Random, season: Season, day: date) -> Pin:
    person = rng.choice(season.crew).name
    design = rng.choice(season.designs).name
    return rng.choice(
        (
            Pin("do not make", day, design=design),
            Pin("no making", day),
            Pin("off", day, person=person),
            Pin("not in role", None, person=person, role="cutter"),
            Pin("make", day, design=season.designs[0].name),
        )
    )


def _can_be_kept(season: Season, pin: Pin) -> bool:
    """Whether a "make" pin is safe: an open day, nobody away, the design can be made, enough rollers."""
    assert pin.day is not None
    start = season.design_by_name[pin.design].from_day
    rollers = sum(s.skill == "rolling" for s in season.skills)
    return (
        opening(season, pin.day) is not None
        and (start is None or start <= pin.day)
        and not season.absences
        and not season.availability
        and (rollers >= 3 or len(season.crew) <= 3)
    )
