"""Kitchens for sums that can be done by hand, and plans that say no more than what is short."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from scheduler.plan.types import Fill, Plan, Shortfall
from scheduler.season.types import (
    Content,
    Design,
    Order,
    Person,
    Product,
    Role,
    Season,
    Skill,
    Stage,
    Station,
)
from tests import handmade


def day(number: int) -> date:
    """Day ``number`` of the season, from 1."""
    return handmade.day(number - 1)


def kitchen(days: int, closes: int = 600, people: int = 2, **changes: object) -> Season:
    """One bench, one place, 8:00 to ``closes``: each batch of 100 pieces takes it for 60 minutes, one builder.

    No duties, no breaks, candy packed from the next day on, a jar holds 100 pieces.
    """
    names = tuple(chr(ord("A") + i) * 2 for i in range(people))
    season = handmade.paper(
        days, names, closes,
        last_pour=1200, break_after_minutes=1440, days_in_a_row=7, rest_minutes=0, longest_day_minutes=1440,
        pull_rest_minutes=15,
        stations=(Station("bench", 1), Station("packing bench", 2)),
        stages=(Stage("build", "bench", 60),),
        roles=(Role("build", "builder", skill="building", level=None, leads=True),),
        designs=(Design("Kite", 1, 100, 300, pull_loads=0),),
        crew=tuple(Person(n, 6000, 6000, shortest_shift=60, pulls_day=300, pulls_week=1500) for n in names),
        skills=tuple(Skill(n, "building", 5) for n in names),
        products=(Product("Kite jar", packing_seconds=60),),
        contents=(Content("Kite jar", "Kite", 100),),
    )  # fmt: skip
    return replace(season, **changes)  # type: ignore[arg-type]


def with_orders(season: Season, *orders: Order) -> Season:
    return replace(season, orders=orders)


def fresh_life(season: Season, first: int, due: int) -> int:
    """The least life to ask for so that candy made before day ``first`` is too old on day ``due``."""
    return season.designs[0].sell_by_days - (due - first)


def plan_short(season: Season, short: dict[str, int]) -> Plan:
    """A plan in name only: every order filled but for the packs that are short."""
    fills = tuple(
        Fill(o.id, o.product, o.packs - short.get(o.id, 0), o.due, False)
        for o in season.orders
        if o.packs > short.get(o.id, 0)
    )
    shortfalls = tuple(Shortfall(line, packs, packs, packs) for line, packs in short.items())
    return Plan(
        kitchen=season.kitchen.name,
        season="by hand",
        first_day=season.kitchen.first_day,
        last_day=season.kitchen.last_day,
        days=(),
        lots=(),
        fills=fills,
        shortfalls=shortfalls,
        stages=(),
        rule_of_thumb_weighted=0,
        from_day=season.kitchen.first_day,
    )
