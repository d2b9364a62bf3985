"""Seasons that every test can check on paper: ``paper``, as small as can be, and one with a plan made by hand.

The one with a plan, to the minute:

Four days, Monday 2 to Thursday 5 March 2026, three people, three designs, one place at
each station. Invented people and orders. The plan audits clean and is not optimal.

Monday   lemon 08:20, heart 09:35 (the bench is cleaned between them, light to dark).
Tuesday  Cleo packs from 08:00; lemon before visitors at 11:00, then nut 12:15, then the
         allergen clean-downs of bench and table.
Wednesday Cleo packs alone. Thursday the evening show is missed.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from scheduler.plan.types import (
    Batch,
    DayPlan,
    Draw,
    Fill,
    Lot,
    PackRun,
    Plan,
    Shift,
    Shortfall,
    StageResult,
    StageRun,
    Task,
)
from scheduler.season.materials import Material, Use
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
    Stage,
    Station,
    StockLot,
)

MONDAY, TUESDAY, WEDNESDAY, THURSDAY = (date(2026, 3, d) for d in (2, 3, 4, 5))
OPENS = 8 * 60


def day(index: int) -> date:
    """Day of a paper season by index: 0 is Monday 1 February 2027."""
    return date(2027, 2, 1) + timedelta(days=index)


def paper(days: int = 1, people: tuple[str, ...] = ("Ada",), closes: int = 17 * 60, **changes: Any) -> Season:
    """The paper kitchen: open every day from 8:00, a batch takes its one bench and one person for 30 minutes.

    A batch of Kite (or Moon) gives 10 pieces, a "Kite bag" holds 10 and takes a minute to pack;
    no duties, nobody needs a skill, nobody is called in for less than a minute. Keyword
    arguments replace tables of the season, or settings of the kitchen.
    """
    kitchen = Kitchen("Paper kitchen", day(0), day(days - 1), opening_minutes=0, closing_minutes=0, pull_rest_minutes=0)
    settings = {name: changes.pop(name) for name in list(changes) if hasattr(kitchen, name)}
    season = Season(
        kitchen=replace(kitchen, **settings),
        hours=tuple(Hours(weekday, OPENS, closes) for weekday in range(7)),
        stations=(Station("bench", 1), Station("packing bench", 1)),
        stages=(Stage("build", "bench", 30),),
        roles=(Role("build", "builder"),),
        designs=(Design("Kite", 1, 10, 30), Design("Moon", 1, 10, 30)),
        crew=tuple(Person(name, 2400, 2400, 1, wage_cents=1200) for name in people),
        products=(Product("Kite bag"), Product("Moon bag")),
        contents=(Content("Kite bag", "Kite", 10), Content("Moon bag", "Moon", 10)),
    )
    return replace(season, **changes)


def handmade_season() -> Season:
    """The season: 08:00 to 18:00 every day, last pour 16:00, break of 30 after 300 minutes."""
    return Season(
        kitchen=Kitchen(name="Lantern Row Kitchen", first_day=MONDAY, last_day=THURSDAY, least_life_days=30),
        hours=tuple(Hours(weekday, 480, 1080) for weekday in range(4)),
        stations=tuple(Station(n, 1) for n in ("table", "hook", "bench", "block", "packing bench")),
        stages=(
            Stage("pour", "table", 20),
            Stage("pull", "hook", 0, minutes_per_load=10),
            Stage("build", "bench", 20, minutes_per_level=10),
            Stage("roll", "bench", 25),
            Stage("cut", "block", 15, wait_to=10),
        ),
        roles=(
            Role("pour", "pourer", skill="sugar", level=1, leads=True, hot=True),
            Role("pull", "puller", pulls=True),
            Role("build", "builder", skill="pictures", level=None, leads=True),
            Role("roll", "drawer", skill="sugar", level=1, hot=True),
            Role("roll", "roller"),
            Role("cut", "cutter"),
        ),
        designs=(
            Design("lemon", difficulty=1, pieces=900, sell_by_days=180, pull_loads=1, sour=True),
            Design("heart", difficulty=3, pieces=850, sell_by_days=180, pull_loads=2, colour=2),
            Design(
                "nut", difficulty=1, pieces=900, sell_by_days=120, pull_loads=0, strength=2, colour=3,
                allergens=("tree nuts",), from_day=TUESDAY,
            ),
        ),
        crew=(
            Person("Ana", 300, 600, pulls_day=150, pulls_week=225, wage_cents=2000, overtime=True),
            Person("Ben", 600, 900, pulls_day=225, pulls_week=300, wage_cents=1800),
            Person("Cleo", 700, 900, longest_shift=480, wage_cents=1200, young=True),
        ),
        shows=(
            Show("market show", 660, weekday=1, hardest=1, strongest=1),
            Show("evening show", 900, day=THURSDAY),
        ),
        changeovers=(
            Changeover("light to dark", "bench", 10),
            Changeover("allergen to free", "bench", 30, people=2),
            Changeover("allergen to free", "table", 20, skill="sugar"),
        ),
        skills=(
            Skill("Ana", "sugar", 2), Skill("Ana", "pictures", 3),
            Skill("Ben", "sugar", 1), Skill("Ben", "pictures", 1),
        ),
        availability=tuple(Availability("Ana", weekday, 480, 960) for weekday in range(4)),
        absences=(Absence("Ben", WEDNESDAY, WEDNESDAY, reason="leave"),),
        products=(Product("lemon jar"), Product("mixed bag", packing_seconds=90), Product("nut jar")),
        contents=(
            Content("lemon jar", "lemon", 20),
            Content("mixed bag", "lemon", 5), Content("mixed bag", "heart", 10),
            Content("nut jar", "nut", 20),
        ),
        orders=(
            Order("O1", "lemon jar", 30, WEDNESDAY, customer="NamedBasis Cafe", priority=1),
            Order("O2", "mixed bag", 40, THURSDAY, customer="Wedding of May and Jo"),
            Order("O3", "nut jar", 50, THURSDAY, customer="Market stall", kind="standing", priority=3),
            Order("O4", "mixed bag", 60, THURSDAY, customer="Harbour Hotel", partial=False),
            Order("O5", "lemon jar", 10, MONDAY, customer="School fair", latest=TUESDAY, late_cents=50),
            Order("O6", "nut jar", 10, WEDNESDAY, customer="Gone Away", cancelled=True),
        ),
        forecasts=(Forecast("F1", "lemon jar", THURSDAY, 10, 20, 40),),
        stock=(
            StockLot("S1", 200, date(2026, 2, 2), design="lemon"),
            StockLot("P1", 5, date(2026, 2, 16), product="lemon jar"),
        ),
        materials=(
            Material("sugar", "g", 20_000, 5, 25_000), Material("nut paste", "g", 0, 5, 1000),
            Material("jars", "pieces", 60, 42, 24),
        ),
        uses=(
            Use("sugar", 4000), Use("nut paste", 500, "nut"), Use("jars", 1, product="lemon jar"),
            Use("jars", 1, product="nut jar"),
        ),
        pins=(
            Pin("make", MONDAY, design="heart"),
            Pin("do not make", MONDAY, design="nut"),
            Pin("no making", WEDNESDAY),
            Pin("works", TUESDAY, person="Cleo"),
            Pin("off", WEDNESDAY, person="Ana"),
            Pin("not in role", person="Cleo", role="puller"),
        ),
    )  # fmt: skip


def handmade_plan() -> Plan:
    """The plan. Weighted shortfall: O4 60 packs x 15 pieces x 10 x 2 = 18,000; O3 5 x 20 x 5 x 1 = 500.

    Paid minutes: Ana 200 + 180 = 380, of which 80 overtime; Ben 205 + 220; Cleo 180 + 330 + 180.
    Cost: Ana 10,000 + 4,000; Ben 12,750; Cleo 13,800; ten packs late at 50: 41,050 cents.
    """
    return Plan(
        kitchen="Lantern Row Kitchen",
        season="made by hand",
        first_day=MONDAY,
        last_day=THURSDAY,
        days=(_monday(), _tuesday(), _wednesday(), DayPlan(THURSDAY, missed_shows=("evening show",))),
        lots=(
            Lot("S1", "lemon", date(2026, 2, 2), 200, date(2026, 8, 1)),
            Lot("0302-1", "lemon", MONDAY, 900, date(2026, 8, 29)),
            Lot("0302-2", "heart", MONDAY, 850, date(2026, 8, 29)),
            Lot("0303-1", "lemon", TUESDAY, 900, date(2026, 8, 30)),
            Lot("0303-2", "nut", TUESDAY, 900, date(2026, 7, 1)),
        ),
        fills=_fills(),
        shortfalls=(Shortfall("O3", 5, 100, 500), Shortfall("O4", 60, 900, 18000)),
        stages=(
            StageResult("missed shows", "shows", 1, 1, True),
            StageResult("shortfall", "weighted pieces", 18500, 18000, False),
            StageResult("cost", "cents", 41050, 30000, False),
        ),
        rule_of_thumb_weighted=20000,
        from_day=MONDAY,
    )


def _fills() -> tuple[Fill, ...]:
    lemon_monday, august_29 = "0302-1", date(2026, 8, 29)
    mixed = (Draw(lemon_monday, "lemon", 200), Draw("0302-2", "heart", 400))
    rest = (Draw(lemon_monday, "lemon", 100), Draw("0303-1", "lemon", 200))
    return (
        Fill("O5", "lemon jar", 10, TUESDAY, True, (Draw("S1", "lemon", 200),), sell_by=date(2026, 8, 1)),
        Fill("O1", "lemon jar", 30, TUESDAY, False, (Draw(lemon_monday, "lemon", 600),), sell_by=august_29),
        Fill("O2", "mixed bag", 40, TUESDAY, False, mixed, sell_by=august_29),
        Fill("O3", "nut jar", 45, WEDNESDAY, False, (Draw("0303-2", "nut", 900),), sell_by=date(2026, 7, 1)),
        Fill("F1", "lemon jar", 15, WEDNESDAY, False, rest, sell_by=august_29),
        Fill("F1", "lemon jar", 5, None, False, pack_lot="P1", sell_by=date(2026, 8, 15)),
    )


def _monday() -> DayPlan:
    lemon = Batch(
        "0302-1",
        "lemon",
        (
            StageRun("pour", "table", 1, 500, 520, (("pourer", "Ana"),)),
            StageRun("pull", "hook", 1, 520, 530, (("puller", "Ben"),)),
            StageRun("build", "bench", 1, 530, 550, (("builder", "Ana"),)),
            StageRun("roll", "bench", 1, 550, 575, (("drawer", "Ana"), ("roller", "Ben"))),
            StageRun("cut", "block", 1, 575, 590, (("cutter", "Cleo"),)),
        ),
    )
    heart = Batch(
        "0302-2",
        "heart",
        (
            StageRun("pour", "table", 1, 575, 595, (("pourer", "Ana"),)),
            StageRun("pull", "hook", 1, 595, 615, (("puller", "Ben"),)),
            StageRun("build", "bench", 1, 615, 655, (("builder", "Ana"),)),
            StageRun("roll", "bench", 1, 655, 680, (("drawer", "Ana"), ("roller", "Ben"))),
            StageRun("cut", "block", 1, 680, 695, (("cutter", "Cleo"),)),
        ),
    )
    return DayPlan(
        MONDAY,
        batches=(lemon, heart),
        tasks=(
            Task("opening", 480, 500, ("Ana",)),
            Task("clean", 575, 585, ("Ben",), "bench", 1, "lemon to heart"),
            Task("closing", 695, 725, ("Ben", "Cleo")),
        ),
        shifts=(Shift("Ana", 480, 680), Shift("Ben", 520, 725), Shift("Cleo", 545, 725)),
        proven=True,
    )


def _tuesday() -> DayPlan:
    lemon = Batch(
        "0303-1",
        "lemon",
        (
            StageRun("pour", "table", 1, 660, 680, (("pourer", "Ben"),)),
            StageRun("pull", "hook", 1, 680, 690, (("puller", "Ana"),)),
            StageRun("build", "bench", 1, 690, 710, (("builder", "Ben"),)),
            StageRun("roll", "bench", 1, 710, 735, (("drawer", "Ben"), ("roller", "Ana"))),
            StageRun("cut", "block", 1, 735, 750, (("cutter", "Cleo"),)),
        ),
        show="market show",
    )
    nut = Batch(
        "0303-2",
        "nut",
        (
            StageRun("pour", "table", 1, 735, 755, (("pourer", "Ben"),)),
            StageRun("build", "bench", 1, 755, 775, (("builder", "Ben"),)),
            StageRun("roll", "bench", 1, 775, 800, (("drawer", "Ben"), ("roller", "Ana"))),
            StageRun("cut", "block", 1, 800, 815, (("cutter", "Cleo"),)),
        ),
    )
    return DayPlan(
        TUESDAY,
        batches=(lemon, nut),
        tasks=(
            Task("opening", 640, 660, ("Ben",)),
            Task("show", 660, 720, ("Cleo",), note="market show"),
            Task("clean", 735, 745, ("Ana",), "bench", 1, "lemon to nut"),
            Task("clean", 755, 775, ("Ana",), "table", 1, "nut to end of day"),
            Task("clean", 800, 830, ("Ana", "Ben"), "bench", 1, "nut to end of day"),
            Task("closing", 830, 860, ("Ana", "Ben")),
        ),
        packing=(
            PackRun("lemon jar", 40, "Cleo", 1, 480, 520),
            PackRun("mixed bag", 40, "Cleo", 1, 520, 580),
        ),
        shifts=(Shift("Ana", 680, 860), Shift("Ben", 640, 860), Shift("Cleo", 480, 840, 600, 630)),
        proven=True,
    )


def _wednesday() -> DayPlan:
    return DayPlan(
        WEDNESDAY,
        packing=(
            PackRun("nut jar", 45, "Cleo", 1, 480, 525),
            PackRun("lemon jar", 15, "Cleo", 1, 525, 540),
        ),
        shifts=(Shift("Cleo", 480, 660),),
        proven=True,
    )
