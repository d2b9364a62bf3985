"""Feasible twins of the sabotages: what is just allowed is not refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from scheduler.audit import audit
from scheduler.audit.readings import Reading
from scheduler.audit.weeks import week_of
from scheduler.plan.types import Plan, Shift, StageResult
from scheduler.season.types import Absence, Changeover, Pin, Season
from tests.audit.sabotage import add, both, design, kitchen, more, order, person, row, run, shift, stage, task
from tests.handmade import MONDAY, THURSDAY, TUESDAY, WEDNESDAY, handmade_plan, handmade_season

Change = Callable[[Season], Season]


@pytest.mark.parametrize(
    ("rule", "change"),
    [
        ("last pour", kitchen(last_pour=735)),
        ("clock step", kitchen(clock_step=5)),
        ("pulls a day", person("Ben", pulls_day=225)),
        ("pulls a week", person("Ben", pulls_week=225)),
        ("pull rest", kitchen(pull_rest_minutes=65)),
        ("call-in", person("Ana", shortest_shift=180)),
        ("call-in", kitchen(longest_day_minutes=360)),
        ("meal break", kitchen(break_after_minutes=220)),
        ("meal break", kitchen(around_break_minutes=120)),
        ("rest", kitchen(rest_minutes=1080)),
        ("week hours", person("Ana", longest_minutes=380)),
        ("days in a row", kitchen(days_in_a_row=3)),
        ("supplies", design("nut", from_day=TUESDAY)),
        ("remaining life", order("O3", least_life_days=118)),
        ("remaining life", kitchen(least_life_days=118)),
        ("presence", add(absences=Absence("Ben", MONDAY, MONDAY, starts=725))),
        ("presence", add(absences=Absence("Cleo", THURSDAY, date(2026, 3, 9)))),
        ("cleaning", add(changeovers=Changeover("dark to light", "bench", 60))),
        ("pins", add(pins=Pin("off", THURSDAY, person="Ana"))),
        ("whole order", order("O1", partial=False)),
        ("show", row("shows", "name", "market show", stage="pull", starts=680, extra_minutes=40)),
    ],
)
def test_what_is_just_allowed_is_sound(rule: str, change: Change) -> None:
    """At the limit itself the rule holds."""
    assert audit(change(handmade_season()), handmade_plan()) == (), rule


def test_the_last_day_counts_like_any_other() -> None:
    """A shift on the last day is sound inside its hours: paid, rested, and three minutes short refused."""
    season = person("Ben", contracted_minutes=605)(handmade_season())
    longer = both(more(THURSDAY, shifts=[Shift("Ben", 900, 1080)]), stage(2, value=41050 + 180 * 1800 // 60))
    assert audit(season, longer(handmade_plan())) == ()
    late = both(longer, shift(THURSDAY, "Ben", starts=903, ends=1083))
    assert {v.rule for v in audit(season, late(handmade_plan()))} == {"opening hours", "presence"}


def test_evenness_and_freshness_are_worked_out_again() -> None:
    """Ben pulls 225 of 300: 750 per mille. Pieces wait: 200 x 29 + 600 + 200 + 400 + 900 + 100 x 2 + 200 days."""
    stages = (
        *handmade_plan().stages,
        StageResult("evenness", "per mille of pull limit", 750, None, False),
        StageResult("freshness", "piece days", 8300, None, False),
    )
    assert audit(handmade_season(), replace(handmade_plan(), stages=stages)) == ()


def test_a_cut_may_wait_as_long_as_the_table_says() -> None:
    """wait_to 10: ten minutes after rolling is sound; the day's other times allow it."""
    waits = both(run("0303-2", "cut", starts=810, ends=825))
    assert audit(handmade_season(), waits(handmade_plan())) == ()


def test_ready_packs_need_the_life_that_is_asked() -> None:
    """Packs from stock: sell-by 15 August, due 5 March: 163 days of life, not 164."""
    season = handmade_season()
    for days, sound in ((163, True), (164, False)):
        asked = replace(season, kitchen=replace(season.kitchen, least_life_days=days),
                        orders=tuple(replace(o, least_life_days=0) for o in season.orders))  # fmt: skip
        assert (audit(asked, handmade_plan()) == ()) == sound


def test_a_longer_clean_covers_a_shorter_one_and_needs_the_most_people() -> None:
    """Two changeovers apply at once: the longest minutes, the most people, done once."""
    season = add(changeovers=Changeover("mild to strong", "bench", 5, people=3))(handmade_season())
    due = Reading(season, (MONDAY, 0)).cleaning("bench", "lemon", "nut")
    assert due is not None
    assert (due.minutes, due.people) == (10, 3)


@pytest.mark.parametrize(
    ("away", "left"),
    [
        (Absence("Cleo", WEDNESDAY, WEDNESDAY, 480, 600), (600, 1080)),
        (Absence("Cleo", WEDNESDAY, WEDNESDAY, 600, 700), (700, 1080)),
        (Absence("Cleo", WEDNESDAY, WEDNESDAY, 780, 780), (480, 1080)),
        (Absence("Cleo", WEDNESDAY, WEDNESDAY, 720, 840), (480, 720)),
        (Absence("Cleo", TUESDAY, WEDNESDAY, 1000, 540), (540, 1080)),
        (Absence("Cleo", TUESDAY, THURSDAY), None),
    ],
)
def test_presence_is_the_longest_stretch_left(away: Absence, left: tuple[int, int] | None) -> None:
    """Of what an absence leaves of 08:00 to 18:00 the longer part; the earlier of two equal ones."""
    season = add(absences=away)(handmade_season())
    assert Reading(season, (MONDAY, 0)).presence(season.person_by_name["Cleo"], WEDNESDAY) == left


def test_iso_weeks_turn_on_monday() -> None:
    """ISO 8601: 2024-12-30 is week 1 of 2025, 2027-01-01 is week 53 of 2026."""
    assert week_of("Ana", date(2024, 12, 30)) == ("Ana", 2025, 1)
    assert week_of("Ana", date(2027, 1, 1)) == ("Ana", 2026, 53)


def test_a_shift_that_began_is_a_fact() -> None:
    """Someone who falls ill at 10:00 and leaves was called in for less than the shortest shift: no fault."""
    season = add(absences=Absence("Cleo", WEDNESDAY, WEDNESDAY, starts=600))(handmade_season())
    plan = shift(WEDNESDAY, "Cleo", ends=600)(handmade_plan())
    before = {v.rule for v in audit(season, plan)}
    ill: Plan = replace(plan, from_day=WEDNESDAY, from_minute=600)
    assert "call-in" in before
    assert not {"presence", "call-in"} & {v.rule for v in audit(season, ill)}


def test_who_is_in_may_leave_at_any_minute() -> None:
    """Steps of 5: Cleo, ill at 10:01, goes then."""
    season = kitchen(clock_step=5)(handmade_season())
    plan = shift(WEDNESDAY, "Cleo", ends=601)(handmade_plan())
    assert "clock step" in {v.rule for v in audit(season, plan)}
    ill: Plan = replace(plan, from_day=WEDNESDAY, from_minute=601)
    assert "clock step" not in {v.rule for v in audit(season, ill)}


def test_a_minute_of_task_more_is_no_fault_for_cleaning() -> None:
    """A clean may take longer than it must."""
    assert audit(handmade_season(), task(MONDAY, 1, ends=590)(handmade_plan())) == ()
