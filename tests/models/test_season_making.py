"""Rules about making over days: supplies, pins and shows, kept and not, up to the last day."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from scheduler.demand.build import build_demand
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Wish
from scheduler.models.facts import Facts
from scheduler.models.no_plan import Contradiction
from scheduler.models.search.fitting import BY_HAND, CAREFULLY, Fitter
from scheduler.models.search.wished import fit_days
from scheduler.plan.types import Plan
from scheduler.season.types import Absence, Design, Person, Pin, Season, Show, Skill
from tests.handmade import OPENS, day, paper
from tests.models.season_kitchen import delivers, hoped, order, planned, stage


def asks(days: int = 2, **changes: Any) -> Season:
    """One bag due on the last day."""
    return paper(days, **({"orders": (order(1, days - 1),)} | changes))


@pytest.mark.parametrize(("days", "arrives", "packs"), [(2, 0, 1), (2, 1, 0), (4, 2, 1), (4, 3, 0)])
def test_supplies(days: int, arrives: int, packs: int) -> None:
    """`supplies`: due on the last day, the flavour must have come by the day before."""
    assert delivers(asks(days, designs=(Design("Kite", 1, 10, 30, from_day=day(arrives)),
                                        Design("Moon", 1, 10, 30))))["A"] == packs  # fmt: skip


def made_on(plan: Plan) -> list[tuple[str, int]]:
    return [(b.design, (d.day - day(0)).days) for d in plan.days for b in d.batches]


@pytest.mark.parametrize("last", [0, 1, 3])
def test_pin_make(last: int) -> None:
    """`pins`, make: two batches that nobody asked for, on any day, the last included."""
    pin = Pin("make", day(last), design="Moon", batches=2)
    season = paper(last + 1, pins=(pin,))
    assert made_on(planned(season)) == [("Moon", last)] * 2
    assert hoped(season).shortfall == 0


@pytest.mark.parametrize(("closes", "possible"), [(60, True), (59, False)])
def test_pin_make_more_than_a_day_holds(closes: int, possible: bool) -> None:
    """`pins`, make: two batches need an hour; the model alone finds that 59 minutes are too few."""
    season = paper(1, closes=480 + closes, pins=(Pin("make", day(0), design="Moon", batches=2),))
    assert (hoped(season).shortfall == 0) is possible


@pytest.mark.parametrize(
    ("pins", "packs"),
    [
        ((Pin("do not make", day(0), design="Moon"),), 1),
        ((Pin("do not make", day(0), design="Kite"),), 0),
        ((Pin("no making", day(1)),), 1),
        ((Pin("no making", day(0)),), 0),
        ((Pin("not in role", day(1), person="Ada", role="builder"),), 1),
        ((Pin("not in role", day(0), person="Ada", role="builder"),), 0),
        ((Pin("not in role", None, person="Ada", role="builder"),), 0),
        ((Pin("off", day(0), person="Ada"),), 0),
        ((Pin("off", day(1), person="Ada"),), 0),
        ((Pin("works", day(0), person="Ada"), Pin("works", day(1), person="Ada")), 1),
    ],
    ids=lambda p: ", ".join(f"{x.kind} {x.day and x.day.day}" for x in p) if isinstance(p, tuple) else "",
)
def test_pins(pins: tuple[Pin, ...], packs: int) -> None:
    """`pins`: made on Monday, packed on Tuesday, the last day, where no pin is in the way."""
    assert delivers(asks(pins=pins))["A"] == packs


@pytest.mark.parametrize("last", [0, 2])
def test_pin_works(last: int) -> None:
    """`pins`, works: who is pinned comes in though there is nothing to do; nobody else does."""
    season = paper(last + 1, ("Ada", "Ben"), pins=(Pin("works", day(last), person="Ben"),))
    plan = planned(season)
    assert [(d.day, s.person) for d in plan.days for s in d.shifts] == [(day(last), "Ben")]
    wish = hoped(season).wish
    assert wish is not None and [name for name, _ in wish.shift[last]] == ["Ben"]


def test_pins_for_others_leave_the_work_to_whoever_is_free() -> None:
    """`pins`, not in role: Ada may not build and Ben may."""
    season = asks(
        crew=paper(people=("Ada", "Ben")).crew, pins=(Pin("not in role", None, person="Ada", role="builder"),)
    )
    plan = planned(season)
    assert {p for d in plan.days for b in d.batches for r in b.runs for _, p in r.crew} == {"Ben"}
    assert delivers(season)["A"] == 1


@pytest.mark.parametrize(
    ("pins", "changes", "message"),
    [
        ((Pin("works", day(1), person="Ada"),), {"absences": (Absence("Ada", day(1), day(1)),)}, "Ada is absent then"),
        ((Pin("make", day(1), design="Kite"),), {"hours": ()}, "the kitchen is closed on that day"),
        ((Pin("make", day(1), design="Kite"),), {"designs": (Design("Kite", 1, 10, 30, from_day=day(2)),
                                                             Design("Moon", 1, 10, 30))}, "supplies for Kite come on"),
        ((Pin("make", day(1), design="Kite"), Pin("not in role", None, person="Ada", role="builder")), {},
         "the role builder in build needs 1 who can do it, and 0"),
    ],
)  # fmt: skip
def test_pins_against_the_season_are_named(pins: tuple[Pin, ...], changes: dict[str, Any], message: str) -> None:
    """`pins`: what can't hold on the last day is said before planning, with the fact that it clashes with."""
    with pytest.raises(Contradiction, match=message):
        planned(asks(pins=pins, **changes))


def shown(last: int, show: Show, **changes: Any) -> Plan:
    """A season that ends with a show."""
    return planned(paper(last + 1, ("Ada", "Ben"), shows=(replace(show, day=day(last)),), **changes))


@pytest.mark.parametrize("last", [0, 2])
@pytest.mark.parametrize(
    ("show", "changes", "held"),
    [
        (Show("fair", 600), {}, True),
        (Show("fair", 600, hardest=0), {}, False),
        (Show("fair", 600, strongest=0), {}, False),
        (Show("fair", 600, extra_people=2), {}, False),
        (Show("fair", 600, extra_skill="talking"), {}, False),
        (Show("fair", 990, extra_minutes=30), {"last_pour": 990}, True),
        (Show("fair", 990, extra_minutes=30), {"last_pour": 989}, False),
        (Show("fair", 991, extra_minutes=29), {"last_pour": 991}, False),
        (Show("fair", 600, extra_minutes=420), {}, True),
        (Show("fair", 600, extra_minutes=421), {}, False),
    ],
    ids=["plain", "too hard", "too strong", "too few hands", "nobody talks", "ends at closing",
         "after the last pour", "ends after closing",
         "hands until closing", "hands after closing"],
)  # fmt: skip
def test_shows(last: int, show: Show, changes: dict[str, Any], held: bool) -> None:
    """`show`: poured at its minute by one with another beside, or said to be missed."""
    plan = shown(last, show, break_after_minutes=600, **changes)
    assert stage(plan, "missed shows").value == (0 if held else 1)
    pours = [(b.show, b.pour) for d in plan.days for b in d.batches]
    assert pours == ([("fair", show.starts)] if held else [])


@pytest.mark.parametrize(
    ("second", "missed"),
    [(630, 0), (629, 1)],
)
def test_two_shows_on_one_day(second: int, missed: int) -> None:
    """`show`: half an hour apart the bench takes both batches; a minute closer, one show is missed and one held."""
    shows = tuple(Show(name, at, day=day(0), extra_people=0) for name, at in (("early", 600), ("late", second)))
    assert stage(planned(paper(1, shows=shows)), "missed shows").value == missed


def test_no_batch_is_left_out_for_packs_that_nobody_can_pack() -> None:
    """Two batches and 20 packs, and nobody who packs: the batches stay. With Ada packing until 17:00 both go in."""
    for skills, packed in (((), 0), ((Skill("Ada", "packing", 1),), 20)):
        season = paper(1, packing_skill="packing", skills=skills)
        facts = Facts(season, build_demand(season))
        wish = Wish({0: ("Kite", "Moon")}, {0: (("Kite bag", 20),)}, {0: (("Ada", 540),)}, {}, {}, {})
        for care in (CAREFULLY, BY_HAND):
            book, failed = fit_days(Fitter(facts, DayLimits(facts), 1), wish, care)
            assert (book.days[0].designs, book.days[0].packs.total()) == (("Kite", "Moon"), packed)
            assert failed == (packed == 0)


def test_a_batch_is_left_out_for_more_packs_than_it_has_pieces() -> None:
    """From 8:00 to 9:00 two batches of 10, or one and 30 packs of 10, which take a minute each."""
    season = paper(1, closes=OPENS + 60, last_pour=OPENS + 60)
    facts = Facts(season, build_demand(season))
    for packs, batches in ((30, 1), (1, 2)):
        wish = Wish({0: ("Kite", "Moon")}, {0: (("Kite bag", packs),)}, {0: (("Ada", 60),)}, {}, {}, {})
        book, _ = fit_days(Fitter(facts, DayLimits(facts), 1), wish, BY_HAND)
        assert (len(book.days[0].batches), book.days[0].packs.total()) == (batches, packs if batches == 1 else 0)


@pytest.mark.parametrize(("second", "missed"), [(630, 0), (629, 1)])
def test_a_day_that_is_too_full_gives_up_one_show(second: int, missed: int) -> None:
    """`show`: fitting a day that was asked for both shows, only one of them is dropped, whichever it is."""
    shows = tuple(Show(name, at, day=day(0), extra_people=0) for name, at in (("early", 600), ("late", second)))
    season = paper(1, shows=shows)
    facts = Facts(season, build_demand(season))
    people = tuple((p.name, 540) for p in season.crew)
    both = Wish({0: ("Kite", "Kite")}, {}, {0: people}, {0: frozenset({"early", "late"})}, {}, {})
    book, _ = fit_days(Fitter(facts, DayLimits(facts), 1), both)
    assert len(book.days[0].missed_shows) == missed


@pytest.mark.parametrize("last", [0, 2])
@pytest.mark.parametrize(("starts", "missed"), [(990, ()), (991, ("late",))])
def test_one_impossible_show_gives_up_no_other(last: int, starts: int, missed: tuple[str, ...]) -> None:
    """`show`: a show that would end after closing is missed; the other of its day is held."""
    shows = tuple(Show(name, at, day=day(last), extra_people=0) for name, at in (("early", 600), ("late", starts)))
    plan = planned(paper(last + 1, ("Ada", "Ben"), shows=shows, last_pour=991, break_after_minutes=600))
    assert [d.missed_shows for d in plan.days] == [missed]


@pytest.mark.parametrize("last", [0, 2])
@pytest.mark.parametrize(("minutes", "held"), [(60, True), (59, False)])
def test_show_and_hours(last: int, minutes: int, held: bool) -> None:
    """`show`: Ada has the 30 minutes of the batch, Ben needs the 60 of the extra hands; so says the model, too."""
    crew = (Person("Ada", 30, 30, 1), Person("Ben", minutes, minutes, 1))
    season = paper(last + 1, crew=crew, shows=(Show("fair", 600, day=day(last)),))
    assert stage(planned(season), "missed shows").value == (0 if held else 1)
    wish = hoped(season).wish
    assert wish is not None and bool(wish.held.get(last)) is held


def test_a_show_on_a_day_without_making_is_missed() -> None:
    """`show` and `pins`: no making means no show, and the plan says so."""
    plan = shown(1, Show("fair", 600), pins=(Pin("no making", day(1)),))
    assert stage(plan, "missed shows").value == 1
    assert [d.missed_shows for d in plan.days] == [("fair",)]
