"""Batches that move to make room: what moves is still in time, fresh and where pins allow it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.answers.onward import given_anew
from scheduler.audit import audit
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.days import Book
from scheduler.models.facts import Facts
from scheduler.models.search.fill_up import Filler
from scheduler.models.search.finish import finish
from scheduler.models.search.fitted import Fitted
from scheduler.models.search.fitting import Fitter
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.models.search.make_room import RoomMaker
from scheduler.plan.types import Plan
from scheduler.season.types import Content, Order, Pin, Product, Season, SpecialDay
from tests.answers.hand import day, fresh_life, kitchen

CARE = PlanOptions(effort=0.3, workers=1)


def star_and_kites(**changes: object) -> Season:
    """Day 1 is closed, so day 2 makes two kites, which weigh more; a star, with supplies from day 2 on, is left out."""
    base = kitchen(3)
    kite = base.designs[0]
    return replace(
        base,
        designs=(kite, replace(kite, name="Star", from_day=day(2))),
        products=(*base.products, Product("Star jar", packing_seconds=60)),
        contents=(*base.contents, Content("Star jar", "Star", 100)),
        orders=(
            Order("K", "Kite jar", 2, day(3), priority=1, **changes),  # type: ignore[arg-type]
            Order("S", "Star jar", 1, day(3), priority=3),
        ),
        special_days=(SpecialDay(day(1), "closed"),),
    )


def opened(season: Season, plan: Plan, filler: type[Filler] = RoomMaker) -> tuple[Facts, Fitted]:
    """Day 1 is open; the plan's days stay, and what is short is filled up."""
    facts = facts_of(replace(season, special_days=()), CARE)
    start = given_anew(facts, plan)
    days = {facts.season.index(d.day): d for d in start.given.days}
    given = filler(facts, Fitter(facts, DayLimits(facts), 1), days, start.given, 40).run()
    return facts, Fitted(given.days, given, 0)


def test_what_another_day_takes_as_well_moves_there() -> None:
    """A kite moves to day 1, so that the star has its place on day 2; without moving nothing is gained."""
    season = star_and_kites()
    plan = plan_season(season, CARE)
    assert [s.line for s in plan.shortfalls] == ["S"]
    facts, best = opened(season, plan)
    assert [[b.design for b in d.batches] for d in best.given.days if d.batches] == [["Kite"], ["Kite", "Star"]]
    assert not best.given.shortfalls
    assert audit(facts.season, finish(facts, CARE, best, best, 0)) == ()
    assert opened(season, plan, Filler)[1].given.shortfalls


def test_no_batch_is_added_after_the_time() -> None:
    """The same with no time left: the star is still left out."""
    season = star_and_kites()
    facts = facts_of(replace(season, special_days=()), CARE)
    start = given_anew(facts, plan_season(season, CARE))
    days = {facts.season.index(d.day): d for d in start.given.days}
    fitter = Fitter(facts, DayLimits(facts), 1)
    assert [s.line for s in RoomMaker(facts, fitter, days, start.given, 40, until=0.0).run().shortfalls] == ["S"]


def test_what_must_be_fresh_stays() -> None:
    """Kites that customers want no older than from day 2 can't be made on day 1."""
    season = star_and_kites(least_life_days=fresh_life(kitchen(3), 2, 3))
    best = opened(season, plan_season(season, CARE))[1]
    assert [s.line for s in best.given.shortfalls] == ["S"]


@pytest.mark.parametrize(
    ("pinned", "short"), [((), []), ((1,), []), ((2,), ["S"]), ((2, 1), ["S"])],
    ids=["no pin", "one", "two", "two, and one in the last row"],
)  # fmt: skip
def test_what_is_pinned_stays(pinned: tuple[int, ...], short: list[str]) -> None:
    """Two kites that the planner wants on day 2 are made there; of several pins the largest holds."""
    season = replace(star_and_kites(), pins=tuple(Pin("make", day(2), "Kite", batches=n) for n in pinned))
    best = opened(season, plan_season(season, CARE))[1]
    assert [s.line for s in best.given.shortfalls] == short


def test_a_day_that_took_no_batch_of_two_designs_is_asked_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """A day that takes no star and no heart takes no kite either, as long as its batches stay as they are."""
    season = star_and_kites()
    facts = facts_of(season, CARE)
    given = given_anew(facts, plan_season(season, CARE)).given
    maker, trial = RoomMaker(facts, Fitter(facts, DayLimits(facts), 1), {}, given, 9), Book(facts)
    monkeypatch.setattr(maker.fitter, "find", lambda *_args, **_hard: None)
    for design in ("Star", "Heart"):
        assert maker._room(trial, "Kite", 1)
        assert not maker._refit(trial, 1, (design,), ())
    assert not maker._room(trial, "Kite", 1)
    assert maker._room(trial, "Kite", 2)
