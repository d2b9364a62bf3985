"""A kitchen that is small enough to plan on paper: pour 15 at the kettle, shape 30 at the table.

Two people, Ada and Ben, can do everything; no duties, no waiting, 8:00 to 17:00.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from scheduler.audit import audit_day
from scheduler.models.day.fit import DayAnswer, fit_day
from scheduler.models.solvers.engine import Limits, Status
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.types import DayPlan
from scheduler.season import rules
from scheduler.season.types import Content, Person, Product, Role, Season, Skill, Stage, Station
from tests.handmade import OPENS, day, paper

__all__ = ["DAY", "OPENS", "assert_sound", "fits", "kitchen", "plan_of", "request"]

DAY = day(0)  # a Monday


def kitchen(closes: int = 17 * 60, people: tuple[str, ...] = ("Ada", "Ben"), **changes: Any) -> Season:
    """The paper kitchen for one day; keyword arguments replace fields of the season, or of the kitchen's settings."""
    usual: dict[str, Any] = {
        "stations": (Station("kettle", 1), Station("table", 1), Station("packing bench", 1)),
        "stages": (Stage("pour", "kettle", 15), Stage("shape", "table", 30)),
        "roles": (Role("pour", "boiler"), Role("shape", "builder", skill="building", level=None),
                  Role("shape", "helper")),
        "crew": tuple(Person(p, 2400, 2400, 15, pulls_day=500, pulls_week=2000, wage_cents=1200) for p in people),
        "skills": tuple(Skill(p, "building", 1) for p in people),
        "products": (Product("Kite bag"),),
        "contents": (Content("Kite bag", "Kite", 10),),
    }  # fmt: skip
    return paper(1, people, closes, **(usual | changes))


def request(season: Season, *designs: str, packs: int = 0, **changes: Any) -> DayRequest:
    """A day of these designs and packs of "Kite bag" with everyone who can come; all shows are to be held."""
    hands = []
    for person in season.crew:
        stretch = rules.presence(season, person, DAY)
        if stretch is not None:
            hands.append(Hand(person.name, *stretch, rules.longest_shift(season, person), person.pulls_day))
    held = frozenset(show.name for show in season.shows)
    asked = DayRequest(DAY, tuple(sorted(designs)), (("Kite bag", packs),) if packs else (), tuple(hands), held)
    return replace(asked, **changes)


def fits(season: Season, asked: DayRequest) -> bool:
    """Whether a day fits, by "any" and by "cheapest"; a plan must be clean in the eyes of the audit."""
    answers = [fit_day(season, asked, Limits(effort=2), want) for want in ("any", "cheapest")]
    for answer in answers:
        assert answer.status is not Status.UNKNOWN
        assert (answer.plan is not None) == answer.status.solved
        if answer.plan is not None:
            assert_sound(season, asked, answer.plan)
    assert answers[0].status.solved == answers[1].status.solved
    return answers[0].status.solved


def plan_of(season: Season, asked: DayRequest) -> DayPlan:
    """The cheapest plan, proven or not; fails where there is none."""
    answer: DayAnswer = fit_day(season, asked, Limits(effort=2))
    assert answer.plan is not None
    assert_sound(season, asked, answer.plan)
    return answer.plan


def assert_sound(season: Season, asked: DayRequest, plan: DayPlan) -> None:
    """The plan holds the work asked for and breaks no rule of a day."""
    assert tuple(sorted(batch.design for batch in plan.batches)) == asked.designs
    packed: dict[str, int] = {}
    for run in plan.packing:
        packed[run.product] = packed.get(run.product, 0) + run.packs
    assert packed == dict(asked.packing)
    assert {h.person for h in asked.hands if h.must} <= {s.person for s in plan.shifts}
    by_name = {h.person: h for h in asked.hands}
    for shift in plan.shifts:
        hand = by_name[shift.person]
        assert hand.from_minute <= shift.starts < shift.ends <= hand.to_minute
        assert shift.ends - shift.starts <= hand.longest
    assert audit_day(season, plan) == ()
