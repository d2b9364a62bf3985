"""Changes between two plans, counted as people feel them. Points: kind times notice (house rules)."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from scheduler.answers.changes import ChangeRow, kept, kept_rows, print_again, rows
from scheduler.plan.changes import compare, jobs_of, notice
from scheduler.plan.types import Ancestry, DayPlan, PackRun, Plan, Shift
from tests.handmade import MONDAY, THURSDAY, TUESDAY, WEDNESDAY, handmade_plan


def with_day(plan: Plan, day: DayPlan) -> Plan:
    """The plan with one day put in place of another."""
    days = {d.day: d for d in plan.days} | {day.day: day}
    return replace(plan, days=tuple(days[d] for d in sorted(days)))


@pytest.mark.parametrize(("ahead", "weight"), [(0, 8), (1, 4), (2, 2), (7, 2), (8, 1), (60, 1)])
def test_notice(ahead: int, weight: int) -> None:
    """Today 8, tomorrow 4, within seven days 2, later 1."""
    assert notice(MONDAY + timedelta(ahead), MONDAY) == weight


def test_the_same_plan_changes_nothing() -> None:
    """No rows, no points."""
    found = compare(handmade_plan(), handmade_plan(), MONDAY)
    assert not found
    assert found.points == 0
    assert rows(found) == ()


def test_somebody_called_in_weighs_four_times_notice() -> None:
    """Ana comes in on Wednesday, two days ahead: 4 x 2 = 8."""
    plan = handmade_plan()
    wednesday = replace(plan.days[2], shifts=(*plan.days[2].shifts, Shift("Ana", 480, 660)))
    found = compare(plan, with_day(plan, wednesday), MONDAY)
    assert found.points == 8
    assert found.calls == 1
    assert rows(found)[0].say == "Ana, can you come in on Wednesday 4 March from 08:00 to 11:00? You were off."


def test_somebody_absent_is_listed_and_not_counted() -> None:
    """Cleo is ill on Wednesday: her row is there, with no points and nobody to call."""
    plan = handmade_plan()
    after = with_day(plan, DayPlan(WEDNESDAY))
    found = compare(plan, after, MONDAY, frozenset({("Cleo", WEDNESDAY)}))
    assert [(p.person, p.points) for p in found.people] == [("Cleo", 0)]
    assert found.points == 0  # fewer packs change nobody's day
    assert found.calls == 0
    row = next(r for r in rows(found) if r.who == "Cleo")
    assert (row.before, row.after, row.say) == ("in 08:00–11:00", "away", "")


def test_other_hours_weigh_one_times_notice() -> None:
    """Cleo leaves an hour later on Wednesday, tomorrow: 1 x 4."""
    plan = handmade_plan()
    found = compare(plan, with_day(plan, replace(plan.days[2], shifts=(Shift("Cleo", 480, 720),))), TUESDAY)
    assert found.points == 4
    assert rows(found)[0].say == "Cleo, on Wednesday 4 March you are in 08:00 to 12:00 instead of 08:00 to 11:00."


def test_a_batch_that_moves_is_one_batch_on_two_days() -> None:
    """Nut goes from Tuesday (tomorrow: 2 x 4) to Wednesday (2 x 2), with nobody's jobs counted here."""
    plan = handmade_plan()
    tuesday, wednesday = plan.days[1], plan.days[2]
    nut = tuesday.batches[1]
    after = with_day(plan, replace(tuesday, batches=tuesday.batches[:1]))
    after = with_day(after, replace(wednesday, batches=(replace(nut, id="0304-1"),)))
    found = compare(plan, after, MONDAY)
    assert [d.points for d in found.days] == [8, 4]
    assert found.batches == 1
    assert [r.before for r in rows(found) if r.who == "everyone"] == ["to make: nut", "to make: –"]


def test_new_jobs_count_and_lost_ones_do_not() -> None:
    """Ben packs on Monday too (today: 1 x 8); when he no longer cleans, nothing is counted."""
    plan = handmade_plan()
    monday = plan.days[0]
    more = replace(monday, packing=(PackRun("lemon jar", 0, "Ben", 1, 700, 702),))
    assert sum(p.points for p in compare(plan, with_day(plan, more), MONDAY).people) == 8
    fewer = replace(monday, tasks=tuple(t for t in monday.tasks if t.kind != "clean"))
    found = compare(plan, with_day(plan, fewer), MONDAY)
    assert found.points == 0
    assert [r.say for r in rows(found) if r.who == "Ben"] == ["Ben, on Monday 2 March you no longer do: clean bench."]


def test_days_before_today_do_not_count() -> None:
    """Monday changed, seen from Tuesday: nothing."""
    plan = handmade_plan()
    assert not compare(plan, with_day(plan, DayPlan(MONDAY)), TUESDAY)


def test_more_packing_weighs_and_less_does_not() -> None:
    """Thursday packs 10 jars that nobody had planned: 1 x 2; ten fewer on Wednesday: 0."""
    plan = handmade_plan()
    run = PackRun("lemon jar", 10, "Cleo", 1, 540, 560)
    more = replace(plan.days[3], packing=(run,))
    assert sum(d.points for d in compare(plan, with_day(plan, more), MONDAY).days) == 2
    wednesday = plan.days[2]
    less = replace(wednesday, packing=(replace(wednesday.packing[0], packs=35), *wednesday.packing[1:]))
    assert compare(plan, with_day(plan, less), MONDAY).points == 0


def test_rows_are_kept_with_the_plan_and_read_back() -> None:
    """What the sheet and the terminal show is what the plan holds."""
    plan = handmade_plan()
    after = with_day(plan, replace(plan.days[2], shifts=(Shift("Cleo", 480, 720),)))
    found = compare(plan, after, MONDAY)
    after = replace(after, extras={"changes": kept(found, 2)}, history=(Ancestry("x", MONDAY, 0, "ill"),))
    assert kept_rows(after) == rows(found)
    assert print_again(after) == (WEDNESDAY,)
    assert kept_rows(plan) == ()
    assert isinstance(kept_rows(after)[0], ChangeRow)


def test_jobs_come_by_the_clock() -> None:
    """Cleo's Tuesday: packing, the show, two cuts."""
    jobs = [(j.starts, j.what) for j in jobs_of(handmade_plan().days[1], "Cleo")]
    assert jobs == [
        (480, "packing"), (520, "packing"), (660, "show market show"), (735, "cut as cutter"), (800, "cut as cutter")
    ]  # fmt: skip
    assert date(2026, 3, 4) < THURSDAY
