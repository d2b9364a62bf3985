"""`clock step`: batches start, people come and go at whole steps; by hand, by the day model, with packing put in.

The paper kitchen: pour 15, shape 30, opening at 8:00.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.models.caps.limits import DayLimits
from scheduler.models.caps.most import most
from scheduler.models.day.by_hand import by_hand
from scheduler.models.day.pack_in import pack_in
from scheduler.models.day.rest import build_rest
from scheduler.models.search.loop import PlanOptions, facts_of
from scheduler.models.solvers import engine
from scheduler.models.solvers.engine import Limits
from scheduler.plan.request import Frozen
from scheduler.season.check import warnings
from scheduler.season.types import Availability, Show, Stage
from tests.handmade import day
from tests.models.day_kitchen import DAY, OPENS, assert_sound, fits, kitchen, plan_of, request

END = OPENS + 45  # of one batch poured at opening
FOUR = ("Ada", "Ben", "Cleo", "Dov")
SLOW = (Stage("pour", "kettle", 15), Stage("shape", "table", 32))


@pytest.mark.parametrize(
    ("step", "last", "can"), [(1, OPENS + 32, True), (15, OPENS + 44, False), (15, OPENS + 45, True)]
)
def test_batch(step: int, last: int, can: bool) -> None:
    """Shaping takes 32 minutes, so the second batch starts at 8:32; with quarter hours at 8:45."""
    season = kitchen(stages=SLOW, people=FOUR, last_pour=last, clock_step=step)
    asked = request(season, "Kite", "Moon")
    assert fits(season, asked) is can
    assert any(True for _ in by_hand(season, asked)) is can
    assert most(season, asked, {"Kite": 1, "Moon": 1}).limit == 1 + can


@pytest.mark.parametrize(("step", "closes", "can"), [(10, END + 5, True), (10, END + 4, False), (1, END, True)])
def test_shift(step: int, closes: int, can: bool) -> None:
    """Whoever shapes until 8:45 is in until 8:50 where the clock goes in steps of 10."""
    season = kitchen(closes, clock_step=step)
    asked = request(season, "Kite")
    assert fits(season, asked) is can
    assert any(True for _ in by_hand(season, asked)) is can
    if can:
        assert max(s.ends for s in plan_of(season, asked).shifts) == closes


def test_call_in_is_made_whole() -> None:
    """A shortest call-in of 47 minutes is an hour where the clock goes in quarter hours."""
    season = kitchen(clock_step=15)
    season = replace(season, crew=tuple(replace(p, shortest_shift=47) for p in season.crew))
    assert {s.ends - s.starts for s in plan_of(season, request(season, "Kite")).shifts} == {60}


def test_who_comes_at_an_odd_minute_starts_at_the_next_step() -> None:
    """Ben may come at 8:07: with steps of 5 his shift starts at 8:10 or later."""
    season = kitchen(clock_step=5, availability=(Availability("Ben", 0, OPENS + 7, OPENS + 600),))
    shifts = {s.person: s for s in plan_of(season, request(season, "Kite")).shifts}
    assert shifts["Ben"].starts % 5 == 0
    assert shifts["Ben"].starts >= OPENS + 10


@pytest.mark.parametrize("step", [1, 60])
def test_show_starts_at_its_minute(step: int) -> None:
    """A batch at a show starts when the show does, whatever the clock's steps."""
    season = kitchen(people=FOUR, shows=(Show("fair", OPENS + 7, day=DAY),), clock_step=step)
    asked = request(season, "Kite")
    assert fits(season, asked)
    assert {b.pour for b in plan_of(season, asked).batches} == {OPENS + 7}


@pytest.mark.parametrize("packs", [3, 25, 160, 400])
def test_packing_put_in(packs: int) -> None:
    """Longer shifts, breaks and newcomers for packing keep to whole steps, too."""
    season = kitchen(people=("Ada", "Ben", "Cleo"), clock_step=10)
    bare = plan_of(season, request(season, "Kite"))
    asked = request(season, "Kite", packs=packs)
    day = pack_in(season, asked, bare)
    assert day is not None
    assert_sound(season, asked, day)


def test_what_had_begun_stays() -> None:
    """They began at 8:03, before the steps were set: the rest of the day goes on from there."""
    late = kitchen(availability=tuple(Availability(name, 0, OPENS + 3, OPENS + 300) for name in ("Ada", "Ben")))
    was = plan_of(late, request(late, "Kite"))
    begun, now = was.batches[0].pour, was.batches[0].pour + 20
    assert begun == OPENS + 3
    steps = replace(late, kitchen=replace(late.kitchen, clock_step=5))
    arrived = tuple((s.person, s.starts) for s in was.shifts if s.starts < now)
    frozen = Frozen(now, was.batches, was.tasks, arrived)
    rest = build_rest(steps, request(steps, "Kite", frozen=frozen), dict(enumerate(was.batches)))
    assert rest is not None
    answer = engine.solve(rest.model, Limits(effort=1))
    assert answer.status.solved
    assert answer.value(rest.batches[0].pour) == begun
    assert {(name, answer[rest.people[name].start]) for name, _ in arrived} == set(arrived)
    assert all(answer[rest.people[name].end] % 5 == 0 for name, _ in arrived)


@pytest.mark.parametrize("until", [OPENS + 200, OPENS + 203])
def test_who_is_in_may_leave_at_any_minute(until: int) -> None:
    """Steps of 30: Ada and Ben shape until 11:20 or 11:23, when they leave; nobody is sent home at 11:00 for that."""
    season = kitchen(stages=(Stage("pour", "kettle", 15), Stage("shape", "table", 185)), clock_step=30)
    was = plan_of(season, request(season, "Kite"))
    now = OPENS + 60
    frozen = Frozen(now, was.batches, was.tasks, tuple((s.person, s.starts) for s in was.shifts if s.starts < now))
    asked = request(season, "Kite", frozen=frozen)
    asked = replace(asked, hands=tuple(replace(h, to_minute=until) for h in asked.hands))
    rest = build_rest(season, asked, dict(enumerate(was.batches)))
    assert rest is not None
    answer = engine.solve(rest.model, Limits(effort=1))
    assert answer.status.solved
    assert {answer[who.end] for who in rest.people.values() if answer[who.inside]} == {until}


def test_most_heeds_a_show_at_an_odd_minute() -> None:
    """The kettle is taken for 45 minutes: 8:00 and 8:30 hold one batch, a show at 8:45 makes it two, on any day."""
    stages = (Stage("pour", "kettle", 45), Stage("shape", "table", 30))
    season = kitchen(people=FOUR, stages=stages, last_pour=OPENS + 45, clock_step=30)
    assert most(season, request(season), {"Kite": 1}).limit == 1
    shown = replace(season, shows=(Show("fair", OPENS + 45, day=DAY),))
    assert most(shown, request(shown), {"Kite": 1}).limit == 2
    assert fits(shown, request(shown, "Kite", "Kite"))


def test_pins_and_crew_know_that_whole_steps_can_be_too_short() -> None:
    """Ben may come from 8:10 to 11:10 and is called in for 3 hours: 8:15 to 11:00 is too short, he never comes."""
    availability = (Availability("Ben", 0, OPENS + 10, OPENS + 190),)
    season = kitchen(clock_step=15, availability=availability)
    season = replace(season, crew=tuple(replace(p, shortest_shift=180) for p in season.crew))
    assert "Ben" not in facts_of(season, PlanOptions()).hands[0]
    assert any("Ben" in str(doubt) and "can never come in" in str(doubt) for doubt in warnings(season))
    minutes = replace(season, kitchen=replace(season.kitchen, clock_step=1))
    assert "Ben" in facts_of(minutes, PlanOptions()).hands[0]


def test_a_show_lets_a_batch_start_beside_the_steps_whatever_its_hour() -> None:
    """Visitors come at 10:00 to the shaping, 15 minutes after the pour; in steps of 10 a batch may start at 9:45 then.

    So what is proven of the day after, without a show, does not hold for the day of the show; the other way round it
    does.
    """
    show = Show("fair", 600, stage="shape", day=DAY)
    facts = facts_of(kitchen(shows=(show,), clock_step=10, last_day=day(1)), PlanOptions())
    limits = DayLimits(facts)
    assert limits.odd_starts == {0: {585}, 1: frozenset()}
    assert not limits.offers_no_more(0, 1)
    assert limits.offers_no_more(1, 0)
