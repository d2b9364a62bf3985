"""Each rule of a day: what just fits, and the same one minute or one person short.

The paper kitchen: pour 15, shape 30; one batch poured at 8:00 ends at 8:45.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from scheduler.models.day.by_hand import by_hand
from scheduler.models.day.fit import fit_day
from scheduler.models.search.loop import PlanOptions, facts_of
from scheduler.models.solvers.engine import Limits, Status
from scheduler.plan.request import DayRequest, Frozen
from scheduler.season.types import (
    Availability,
    Changeover,
    Design,
    Hours,
    Person,
    Pin,
    Product,
    Role,
    Show,
    Skill,
    Stage,
    Station,
)
from tests.models.day_kitchen import DAY, OPENS, assert_sound, fits, kitchen, plan_of, request

END = OPENS + 45  # of one batch poured at opening
FOUR = ("Ada", "Ben", "Cleo", "Dov")
TWO_TABLES = (Station("kettle", 1), Station("table", 2), Station("packing bench", 1))


@pytest.mark.parametrize(("closes", "can"), [(END, True), (END - 1, False)])
def test_opening_hours(closes: int, can: bool) -> None:
    """`opening hours`: a batch of 45 minutes needs 45 minutes of opening."""
    season = kitchen(closes)
    assert fits(season, request(season, "Kite")) is can


def test_closed_day() -> None:
    """`opening hours`: nothing happens on a closed day, and that is fine if nothing was asked."""
    season = kitchen()
    sunday = date(2027, 2, 7)
    assert fit_day(season, DayRequest(sunday, ("Kite",))).status is Status.INFEASIBLE
    assert fit_day(season, DayRequest(sunday, ())).status is Status.OPTIMAL


@pytest.mark.parametrize(("last_pour", "can"), [(OPENS + 30, True), (OPENS + 29, False)])
def test_last_pour(last_pour: int, can: bool) -> None:
    """`last pour`: with one table the second batch can't be poured before 8:30."""
    season = kitchen(people=FOUR, last_pour=last_pour)
    assert fits(season, request(season, "Kite", "Moon")) is can


@pytest.mark.parametrize(("closes", "can"), [(END + 20, True), (END + 19, False)])
def test_opening_duty(closes: int, can: bool) -> None:
    """`opening duty`: 20 minutes before the first pour; not on a day without a batch."""
    season = kitchen(closes, opening_minutes=20)
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("closes", "people", "can"), [(END + 30, 2, True), (END + 29, 2, False), (END + 30, 3, False)])
def test_closing_duty(closes: int, people: int, can: bool) -> None:
    """`closing duty`: 30 minutes after the last run, by as many people as asked."""
    season = kitchen(closes, closing_minutes=30, closing_people=people)
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("leaves", "can"), [(END + 15, True), (END + 14, False)])
def test_closing_duty_is_last(leaves: int, can: bool) -> None:
    """`closing duty`: Cleo, who is only there early, can't close before the batch has ended."""
    away = tuple(Availability(p, 0, OPENS, leaves) for p in ("Ada", "Ben"))
    season = kitchen(
        people=FOUR[:3], closing_minutes=15, closing_people=1, availability=(*away, Availability("Cleo", 0, OPENS, END))
    )
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("closes", "can"), [(END + 5, True), (END + 4, False)])
def test_wait_from(closes: int, can: bool) -> None:
    """`recipe`: a stage that starts 5 minutes after the one before makes the batch 5 minutes longer."""
    season = kitchen(closes, stages=(Stage("pour", "kettle", 15), Stage("shape", "table", 30, wait_from=5, wait_to=5)))
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("wait_to", "can"), [(15, True), (14, False)])
def test_wait_to(wait_to: int, can: bool) -> None:
    """`recipe`: poured at 8:15 at the latest, the second batch waits 15 minutes for the table."""
    stages = (Stage("pour", "kettle", 15), Stage("shape", "table", 30, wait_to=wait_to))
    season = kitchen(stages=stages, people=FOUR, last_pour=OPENS + 15)
    assert fits(season, request(season, "Kite", "Moon")) is can


@pytest.mark.parametrize(("tables", "can"), [(2, True), (1, False)])
def test_station_places(tables: int, can: bool) -> None:
    """`station places`: two batches end by 9:00 only where two can be shaped at once."""
    stations = (Station("kettle", 1), Station("table", tables), Station("packing bench", 1))
    season = kitchen(END + 15, FOUR, stations=stations)
    asked = request(season, "Kite", "Moon")
    assert fits(season, asked) is can
    if can:
        assert {run.place for b in plan_of(season, asked).batches for run in b.runs if run.station == "table"} == {1, 2}


@pytest.mark.parametrize(("people", "can"), [(FOUR, True), (FOUR[:3], False)])
def test_one_job_at_a_time(people: tuple[str, ...], can: bool) -> None:
    """`one job at a time`: two tables at once need four people, three are not enough."""
    season = kitchen(END + 15, people, stations=TWO_TABLES)
    assert fits(season, request(season, "Kite", "Moon")) is can


@pytest.mark.parametrize(("level", "can"), [(2, True), (1, False)])
def test_role_filled(level: int, can: bool) -> None:
    """`role filled`: a design of difficulty 2 needs a builder of level 2."""
    season = kitchen(designs=(Design("Kite", 2, 100, 90),), skills=(Skill("Ada", "building", level),))
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("people", "can"), [(("Ada", "Ben"), True), (("Ada",), False)])
def test_role_by_several(people: tuple[str, ...], can: bool) -> None:
    """`role filled`: a role of two people needs two different people."""
    season = kitchen(people=people, roles=(Role("shape", "roller", people=2),))
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("also", "can"), [(True, True), (False, False)])
def test_leader_stays(also: bool, can: bool) -> None:
    """`leader stays`: who leads the pour leads the shaping, so one person needs both skills."""
    season = kitchen(
        roles=(
            Role("pour", "boiler", skill="boiling", leads=True),
            Role("shape", "builder", skill="building", leads=True),
        ),
        skills=(Skill("Ada", "boiling", 1), Skill("Ben", "building", 1)) + ((Skill("Ada", "building", 1),) * also),
    )  # fmt: skip
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("hot", "can"), [(False, True), (True, False)])
def test_young_worker(hot: bool, can: bool) -> None:
    """`young worker`: Ben is young; hot shaping by two can't be done with him."""
    crew = (Person("Ada", 2400, 2400, 15), Person("Ben", 2400, 2400, 15, young=True))
    season = kitchen(crew=crew, roles=(Role("shape", "roller", people=2, hot=hot),))
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("pulls", "can"), [(150, True), (149, False)])
def test_pulls_a_day(pulls: int, can: bool) -> None:
    """`pulls a day`: two batches of 75 pulls by the only hand are 150."""
    season = kitchen(people=("Ada",), roles=(Role("shape", "puller", pulls=True),))
    asked = request(season, "Kite", "Moon")
    asked = replace(asked, hands=(replace(asked.hands[0], pulls=pulls),))
    assert fits(season, asked) is can


@pytest.mark.parametrize(("closes", "people", "can"), [(END + 45, 1, True), (END + 44, 1, False), (END + 30, 2, True)])
def test_pull_rest(closes: int, people: int, can: bool) -> None:
    """`pull rest`: one puller shapes until 8:45 and from 9:00; two take turns without a pause."""
    season = kitchen(closes, FOUR[:people], roles=(Role("shape", "puller", pulls=True),), pull_rest_minutes=15)
    assert fits(season, request(season, "Kite", "Moon")) is can


@pytest.mark.parametrize(("ends", "can"), [(END, True), (END - 1, False)])
def test_presence(ends: int, can: bool) -> None:
    """`presence`: Ben goes at 8:45 or a minute before; shaping needs him."""
    season = kitchen(availability=(Availability("Ben", 0, OPENS, ends),))
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("shortest", "can"), [(120, True), (121, False)])
def test_call_in(shortest: int, can: bool) -> None:
    """`call-in`: open for two hours, nobody can be called in for longer; a shift is no shorter."""
    crew = tuple(Person(p, 2400, 2400, shortest, wage_cents=1200) for p in ("Ada", "Ben"))
    season = kitchen(OPENS + 120, crew=crew)
    asked = replace(request(kitchen(OPENS + 120), "Kite"))
    assert fits(season, asked) is can
    if can:
        assert {s.ends - s.starts for s in plan_of(season, asked).shifts} == {120}


@pytest.mark.parametrize(("longest", "can"), [(45, True), (29, False)])
def test_longest_shift(longest: int, can: bool) -> None:
    """`call-in`: nobody stays longer than the longest shift; 30 minutes of shaping need two."""
    season = kitchen()
    asked = request(season, "Kite")
    assert fits(season, replace(asked, hands=tuple(replace(h, longest=longest) for h in asked.hands))) is can


@pytest.mark.parametrize(("minutes", "can"), [(300, True), (301, False)])
def test_meal_break_within_a_stage(minutes: int, can: bool) -> None:
    """`meal break`: nobody can shape for more than 300 minutes at a stretch."""
    season = kitchen(stages=(Stage("shape", "table", minutes),), people=("Ada", "Ben"))
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("closes", "can"), [(OPENS + 430, True), (OPENS + 429, False)])
def test_meal_break_between(closes: int, can: bool) -> None:
    """`meal break`: 200 minutes, half an hour's break, 200 minutes."""
    season = kitchen(closes, stages=(Stage("shape", "table", 200),))
    assert fits(season, request(season, "Kite", "Moon")) is can


@pytest.mark.parametrize(("around", "can"), [(200, True), (201, False)])
def test_meal_break_away_from_coming_and_leaving(around: int, can: bool) -> None:
    """`meal break`: the only break there can be has 200 minutes on both sides."""
    season = kitchen(OPENS + 430, stages=(Stage("shape", "table", 200),), around_break_minutes=around)
    assert fits(season, request(season, "Kite", "Moon")) is can
    assert bool([*by_hand(season, request(season, "Kite", "Moon"))]) is can


DARK = (Design("Kite", 1, 100, 90, colour=1), Design("Moon", 1, 100, 90, colour=3))
BOTH_WAYS = (Changeover("light to dark", "table", 10), Changeover("dark to light", "table", 10))


@pytest.mark.parametrize(("closes", "can"), [(END + 40, True), (END + 39, False)])
def test_cleaning_between(closes: int, can: bool) -> None:
    """`cleaning`: 10 minutes between light and dark, whichever comes first: shaping 30 + 10 + 30."""
    season = kitchen(closes, FOUR, designs=DARK, changeovers=BOTH_WAYS)
    assert fits(season, request(season, "Kite", "Moon")) is can


def test_cleaning_chooses_the_order() -> None:
    """`cleaning`: where only dark to light costs time, light comes first and nothing is cleaned."""
    season = kitchen(END + 30, FOUR, designs=DARK, changeovers=(Changeover("dark to light", "table", 10),))
    plan = plan_of(season, request(season, "Kite", "Moon"))
    assert [b.design for b in plan.batches] == ["Kite", "Moon"]
    assert plan.tasks == ()


@pytest.mark.parametrize(("skilled", "can"), [(True, True), (False, False)])
def test_cleaning_by_someone(skilled: bool, can: bool) -> None:
    """`cleaning`: a clean that needs a skill needs someone who has it."""
    skills = [Skill("Ada", "building", 1), Skill("Ben", "building", 1)] + [Skill("Ada", "allergens", 1)] * skilled
    rows = tuple(replace(c, skill="allergens") for c in BOTH_WAYS)
    season = kitchen(designs=DARK, changeovers=rows, skills=tuple(skills))
    assert fits(season, request(season, "Kite", "Moon")) is can


@pytest.mark.parametrize(("closes", "people", "can"), [(END + 30, 2, True), (END + 29, 2, False), (END + 30, 3, False)])
def test_cleaning_at_the_end_of_the_day(closes: int, people: int, can: bool) -> None:
    """`cleaning`: after a batch with allergens the table is cleaned even where nothing follows."""
    nuts = (Design("Kite", 1, 100, 90, allergens=("almond",)),)
    season = kitchen(closes, designs=nuts, changeovers=(Changeover("allergen to free", "table", 30, people),))
    assert fits(season, request(season, "Kite")) is can


def test_cleaning_on_two_places() -> None:
    """`cleaning`: with two tables light and dark go to different ones and nothing is cleaned."""
    season = kitchen(END + 15, FOUR, designs=DARK, changeovers=BOTH_WAYS, stations=TWO_TABLES)
    plan = plan_of(season, request(season, "Kite", "Moon"))
    assert {b.runs[1].place for b in plan.batches} == {1, 2}


SHOW = Show("Open kitchen", OPENS + 60, weekday=0, hardest=1, extra_people=1, extra_minutes=60)


@pytest.mark.parametrize(("closes", "can"), [(OPENS + 120, True), (OPENS + 119, False)])
def test_show_extra_hands(closes: int, can: bool) -> None:
    """`show`: the extra hand stays an hour from 9:00; an earlier closing can't hold the show."""
    season = kitchen(closes, FOUR, shows=(SHOW,))
    asked = request(season, "Kite")
    assert fits(season, asked) is can
    lax = plan_of(season, replace(asked, held=frozenset()))
    assert lax.missed_shows == (() if can else ("Open kitchen",))
    if can:
        assert (lax.batches[0].pour, lax.batches[0].show) == (OPENS + 60, "Open kitchen")


@pytest.mark.parametrize("stage", ["", "pour", "shape"])
def test_show_of_a_later_stage(stage: str) -> None:
    """`show`: visitors at 9:00 see that stage start; for the shaping the batch starts a quarter of an hour before."""
    season = kitchen(people=FOUR, shows=(replace(SHOW, stage=stage),))
    asked = request(season, "Kite", "Kite")
    for plan in (plan_of(season, asked), *by_hand(season, asked)):
        assert_sound(season, asked, plan)
        (batch,) = (b for b in plan.batches if b.show)
        assert [r.starts for r in batch.runs if r.stage == (stage or "pour")] == [SHOW.starts]


@pytest.mark.parametrize(("starts", "can"), [(OPENS + 15, True), (OPENS + 14, False)])
def test_show_before_its_batch_can_start(starts: int, can: bool) -> None:
    """`show`: the shaping is a quarter of an hour into the batch, so not before a quarter past opening."""
    season = kitchen(people=FOUR, shows=(replace(SHOW, starts=starts, stage="shape"),))
    assert fits(season, request(season, "Kite")) is can
    assert facts_of(season, PlanOptions()).can_hold(0, season.designs[0], season.shows[0]) is can


@pytest.mark.parametrize(("people", "can"), [(3, True), (2, False)])
def test_show_needs_people_beside_the_batch(people: int, can: bool) -> None:
    """`show`: two shape, a third is there for the visitors."""
    season = kitchen(people=FOUR[:people], shows=(SHOW,))
    assert fits(season, request(season, "Kite")) is can


@pytest.mark.parametrize(("difficulty", "can"), [(1, True), (2, False)])
def test_show_design(difficulty: int, can: bool) -> None:
    """`show`: no hard picture before visitors."""
    season = kitchen(
        people=FOUR, shows=(SHOW,), designs=(Design("Kite", difficulty, 100, 90),),
        skills=tuple(Skill(p, "building", 3) for p in FOUR),
    )  # fmt: skip
    assert fits(season, request(season, "Kite")) is can


def test_show_without_a_batch() -> None:
    """`show`: a day with a show and no batch can only miss it."""
    season = kitchen(people=FOUR, shows=(SHOW,))
    assert not fits(season, request(season))
    assert plan_of(season, request(season, held=frozenset())).missed_shows == ("Open kitchen",)


@pytest.mark.parametrize("late", [SHOW.starts + 30, SHOW.starts + 29])
@pytest.mark.parametrize("held", ["early", "late", "early late", ""])
def test_only_the_named_shows_are_held(late: int, held: str) -> None:
    """`show`: the table takes batches half an hour apart; a minute closer, the day holds the show that is named."""
    early = replace(SHOW, name="early", extra_people=0)
    season = kitchen(people=FOUR, shows=(early, replace(early, name="late", starts=late)))
    asked = request(season, "Kite", "Kite", held=frozenset(held.split()))
    close = late - SHOW.starts < 30
    assert fits(season, asked) is not (close and held == "early late")
    if not close or held != "early late":
        plan = plan_of(season, asked)
        assert len(plan.missed_shows) == int(close)
        assert not set(held.split()) & set(plan.missed_shows)
        for plan in by_hand(season, asked):
            assert_sound(season, asked, plan)
            assert not set(held.split()) & set(plan.missed_shows)


@pytest.mark.parametrize(("packs", "can"), [(60, True), (61, False)])
def test_packing_minutes(packs: int, can: bool) -> None:
    """`packing`: at a minute a pack and one place at the bench, an hour holds 60."""
    season = kitchen(OPENS + 60)
    assert fits(season, request(season, packs=packs)) is can


@pytest.mark.parametrize(("packs", "can"), [(72, True), (73, False)])
def test_packing_rounds_up(packs: int, can: bool) -> None:
    """`packing`: 72 packs of 50 seconds are an hour exactly, one more is a minute too much."""
    season = kitchen(OPENS + 60, products=(Product("Kite bag", packing_seconds=50),))
    assert fits(season, request(season, packs=packs)) is can


@pytest.mark.parametrize(("places", "can"), [(2, True), (1, False)])
def test_packing_places(places: int, can: bool) -> None:
    """`packing`: two people pack 120 in an hour only side by side."""
    stations = (Station("kettle", 1), Station("table", 1), Station("packing bench", places))
    season = kitchen(OPENS + 60, stations=stations)
    assert fits(season, request(season, packs=120)) is can


@pytest.mark.parametrize(("skill", "can"), [("building", True), ("packing", False)])
def test_packing_skill(skill: str, can: bool) -> None:
    """`packing`: where it is a skill, only those who have it pack."""
    season = kitchen(packing_skill=skill)
    assert fits(season, request(season, packs=10)) is can


def test_packing_beside_batches() -> None:
    """`packing`: one pours for 15 of 45 minutes, both shape for 30: the other has 15 to pack."""
    season = kitchen(END)
    assert fits(season, request(season, "Kite", packs=15))
    assert not fits(season, request(season, "Kite", packs=16))


@pytest.mark.parametrize(("day", "can"), [(date(2027, 2, 2), True), (DAY, False), (None, False)])
def test_pin_not_in_role(day: date | None, can: bool) -> None:
    """`pins`: Ada not as boiler that day, and Ben can't boil."""
    roles = (Role("pour", "boiler", skill="boiling"),)
    season = kitchen(
        roles=roles, skills=(Skill("Ada", "boiling", 1),), pins=(Pin("not in role", day, person="Ada", role="boiler"),)
    )
    assert fits(season, request(season, "Kite")) is can


def test_must_come() -> None:
    """Who is called in is in, for the shortest call-in if there is nothing to do; others stay away."""
    season = kitchen()
    asked = request(season)
    asked = replace(asked, hands=(replace(asked.hands[0], must=True), asked.hands[1]))
    plan = plan_of(season, asked)
    assert [(s.person, s.ends - s.starts) for s in plan.shifts] == [("Ada", 15)]


def test_cheapest_is_by_hand() -> None:
    """One batch: 15 minutes of pouring and twice 30 of shaping at 12.00 an hour are 15.00."""
    season = kitchen()
    answer = fit_day(season, request(season, "Kite"))
    assert (answer.status, answer.cost, answer.bound) == (Status.OPTIMAL, 1500, 1500)
    assert answer.plan is not None
    assert answer.plan.proven


def test_begun_day_is_refused() -> None:
    """A day that has begun is not planned from scratch."""
    season = kitchen()
    with pytest.raises(ValueError, match="has begun"):
        fit_day(season, request(season, "Kite", frozen=Frozen(OPENS)))


def test_two_opening_hours_differ() -> None:
    """The hours of the day's own weekday count."""
    season = kitchen(hours=(Hours(0, OPENS, END), Hours(1, OPENS, END - 1)))
    assert fits(season, request(season, "Kite"))
    assert not fits(season, replace(request(season, "Kite"), day=date(2027, 2, 2)))


@pytest.mark.parametrize(("places", "closes", "can"), [(1, END + 30, True), (1, END + 29, False), (2, END + 20, True)])
def test_packing_on_a_bench_that_is_cleaned(places: int, closes: int, can: bool) -> None:
    """`cleaning`: after sorting nuts on the bench it is cleaned for 20; packers wait or take the other place."""
    stages = (Stage("pour", "kettle", 15), Stage("sort", "packing bench", 30))
    stations = (Station("kettle", 1), Station("packing bench", places))
    season = kitchen(
        closes, stages=stages, stations=stations, designs=(Design("Kite", 1, 100, 90, allergens=("almond",)),),
        changeovers=(Changeover("allergen to free", "packing bench", 20),), roles=(),
    )  # fmt: skip
    asked = request(season, "Kite", packs=25)
    answer = fit_day(season, asked, Limits(effort=2))
    assert (answer.plan is not None) is can
    if answer.plan is not None:
        assert_sound(season, asked, answer.plan)
