"""Rules about people over days: what just fits and delivers, and the same a minute, a day or a pull short.

The paper kitchen: Ada makes a batch of ten pieces in 30 minutes and packs it into a bag in one minute on a later day.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from scheduler.season.types import (
    Absence,
    Availability,
    Content,
    Design,
    Person,
    Pin,
    Product,
    Role,
    Season,
    Skill,
    Stage,
)
from tests.handmade import OPENS, day, paper
from tests.models.season_kitchen import delivers, order, planned

CLOSES = 17 * 60


def by(person: Person, days: int = 2, **changes: Any) -> Season:
    """One bag due on the last day, made and packed by this person alone."""
    return paper(days, crew=(person,), orders=(order(1, days - 1),), **changes)


@pytest.mark.parametrize(
    ("days", "limit", "packs"),
    [(2, 31, 1), (2, 30, 0), (7, 31, 1), (7, 30, 0), (8, 30, 1)],
    ids=["enough", "a minute short", "last days of the week", "last days, a minute short", "Sunday and Monday"],
)
def test_week_hours(days: int, limit: int, packs: int) -> None:
    """`week hours`: 30 minutes of making and one of packing in one ISO week, or in two."""
    off = tuple(Pin("off", day(t), person="Ada") for t in range(days - 2))
    assert delivers(by(Person("Ada", limit, limit, 1), days, pins=off))["A"] == packs


@pytest.mark.parametrize(("allowed", "packs"), [(True, 1), (False, 0)])
def test_week_hours_and_overtime(allowed: bool, packs: int) -> None:
    """`week hours`: the longest week of 31 minutes counts only where overtime is allowed; contracted are 30."""
    assert delivers(by(Person("Ada", 30, 31, 1, overtime=allowed)))["A"] == packs


@pytest.mark.parametrize(("limit", "paid", "packs"), [(401, False, 1), (400, False, 0), (431, True, 1), (430, True, 0)])
def test_week_hours_and_breaks(limit: int, paid: bool, packs: int) -> None:
    """`week hours`: 200 minutes, a break of 30, 200 minutes: 400 paid, or 430 where breaks are; packing one more."""
    stages = (Stage("build", "bench", 200), Stage("roll", "bench", 200, wait_from=30, wait_to=30))
    roles = (Role("build", "builder"), Role("roll", "roller"))
    season = by(Person("Ada", limit, limit, 1), stages=stages, roles=roles, break_paid=paid)
    assert delivers(season)["A"] == packs


@pytest.mark.parametrize(
    ("days", "allowed", "packs"),
    [(2, 2, 1), (2, 1, 0), (3, 1, 1), (4, 4, 1), (4, 3, 0)],
    ids=["two of two", "two of one", "a day between", "last day", "last day, one too many"],
)
def test_days_in_a_row(days: int, allowed: int, packs: int) -> None:
    """`days in a row`: made on one day and packed on the next, with pinned days before; or a day later."""
    called = tuple(Pin("works", day(t), person="Ada") for t in range(days - 1)) if days == 4 else ()
    season = by(Person("Ada", 2400, 2400, 1), days, days_in_a_row=allowed, pins=called)
    fresh = order(1, days - 1, least_life_days=29 if called else 0)  # candy of the day before
    assert delivers(replace(season, orders=(fresh,)))["A"] == packs


@pytest.mark.parametrize(("rest", "packs"), [(900, 1), (901, 0)])
@pytest.mark.parametrize("first", [0, 2])
def test_rest(first: int, rest: int, packs: int) -> None:
    """`rest`: in until 17:00 to make, from 8:00 to 8:01 to pack: 15 hours lie between."""
    hours = (Availability("Ada", first, CLOSES - 30, CLOSES), Availability("Ada", first + 1, OPENS, OPENS + 1))
    season = by(Person("Ada", 2400, 2400, 1), first + 2, availability=hours, rest_minutes=rest, last_pour=CLOSES)
    plan = planned(season)
    assert sum(f.packs for f in plan.fills) == packs


@pytest.mark.parametrize(
    ("first", "limit", "packs"),
    [(0, 150, 2), (0, 149, 1), (4, 150, 2), (4, 149, 1), (6, 75, 2)],
    ids=["enough", "a pull short", "last days of the week", "last days, a pull short", "Sunday and Monday"],
)
def test_pulls_a_week(first: int, limit: int, packs: int) -> None:
    """`pulls a week`: 75 pulls on each of two days, in one ISO week or in two; packed on the third."""
    off = tuple(Pin("off", day(t), person="Ada") for t in range(first))
    season = paper(
        first + 3, crew=(Person("Ada", 2400, 2400, 1, pulls_day=75, pulls_week=limit),), pins=off,
        roles=(Role("build", "puller", pulls=True),), orders=(order(2, first + 2),),
    )  # fmt: skip
    assert delivers(season)["A"] == packs


@pytest.mark.parametrize(("limit", "packs"), [(150, 2), (149, 1)])
def test_pulls_a_day(limit: int, packs: int) -> None:
    """`pulls a day`: two batches of 75 pulls on one day."""
    season = paper(
        2, crew=(Person("Ada", 2400, 2400, 1, pulls_day=limit, pulls_week=900),),
        roles=(Role("build", "puller", pulls=True),), orders=(order(2, 1),),
    )  # fmt: skip
    assert delivers(season)["A"] == packs


@pytest.mark.parametrize(("limit", "packs"), [(150, 1), (149, 0)])
def test_pulls_a_day_bind_each_person(limit: int, packs: int) -> None:
    """`pulls a day`: two loads are pulled by one person; that Ada and Ben together might is no help."""
    season = paper(
        2, crew=tuple(Person(n, 2400, 2400, 1, pulls_day=limit, pulls_week=900) for n in ("Ada", "Ben")),
        roles=(Role("build", "puller", pulls=True),), designs=(Design("Kite", 1, 10, 30, pull_loads=2),),
        products=(Product("Kite bag"),), contents=(Content("Kite bag", "Kite", 10),), orders=(order(1, 1),),
    )  # fmt: skip
    assert delivers(season)["A"] == packs


@pytest.mark.parametrize(
    ("changes", "packs"),
    [
        ({"availability": (Availability("Ada", 0, 600, 630), Availability("Ada", 1, 600, 601))}, 1),
        ({"availability": (Availability("Ada", 0, 600, 629), Availability("Ada", 1, 600, 601))}, 0),
        ({"availability": (Availability("Ada", 0, 600, 630),)}, 0),
        ({"absences": (Absence("Ada", day(1), day(9), starts=OPENS + 1),)}, 1),
        ({"absences": (Absence("Ada", day(1), day(1), ends=CLOSES),)}, 0),
        ({"pins": (Pin("off", day(1), person="Ada"),)}, 0),
    ],
    ids=["half an hour", "29 minutes", "not on the last day", "gone at 8:01 on the last day", "absent on the last day",
         "off on the last day"],
)  # fmt: skip
def test_presence(changes: dict[str, Any], packs: int) -> None:
    """`presence`: making needs 30 minutes on Monday, packing one on Tuesday, the last day."""
    assert delivers(by(Person("Ada", 2400, 2400, 1), **changes))["A"] == packs


@pytest.mark.parametrize(("limit", "packs"), [(120, 1), (119, 0)])
@pytest.mark.parametrize("days", [2, 7])
def test_call_in(days: int, limit: int, packs: int) -> None:
    """`call-in`: two days of an hour at least, though half an hour and a minute are needed."""
    off = tuple(Pin("off", day(t), person="Ada") for t in range(days - 2))
    season = by(Person("Ada", limit, limit, 60), days, pins=off)
    assert delivers(season)["A"] == packs


@pytest.mark.parametrize(("longest", "packs"), [(30, 1), (29, 0)])
def test_longest_shift(longest: int, packs: int) -> None:
    """`call-in`: a batch of 30 minutes needs a shift of 30."""
    assert delivers(by(Person("Ada", 2400, 2400, 1, longest_shift=longest)))["A"] == packs


@pytest.mark.parametrize(("days", "packs"), [(7, 5), (8, 6)])
def test_working_time(days: int, packs: int) -> None:
    """`working time`, european: of seven days one is off, so Ada makes on five and packs on the sixth."""
    season = paper(
        days, working_time="european", days_in_a_row=6, orders=(order(9, days - 1),), closes=OPENS + 40,
    )  # fmt: skip
    assert delivers(season)["A"] == packs


@pytest.mark.parametrize(("minutes", "packs"), [(30, 1), (29, 0)])
def test_week_hours_bind_each_person(minutes: int, packs: int) -> None:
    """`week hours`: Ada makes and Ben packs with 30 minutes each; with 29 nobody can finish a batch."""
    season = replace(by(Person("Ada", 0, 0)), crew=tuple(Person(n, minutes, minutes, 1) for n in ("Ada", "Ben")))
    plan = planned(season)
    assert sum(f.packs for f in plan.fills) == packs


@pytest.mark.parametrize(("minutes", "packs"), [(60, 2), (59, 1)])
def test_work_of_those_able(minutes: int, packs: int) -> None:
    """`role filled`, `week hours`: two batches need an hour of Ada, who alone can build; Ben has time enough."""
    season = paper(
        2, crew=(Person("Ada", minutes, minutes, 1), Person("Ben", 2400, 2400, 1)), orders=(order(2, 1),),
        roles=(Role("build", "builder", skill="building"),), skills=(Skill("Ada", "building", 1),),
    )  # fmt: skip
    assert delivers(season)["A"] == packs
