"""Packs put into a day that is there: no rule broken, no job moved, nobody in longer than need be."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.models.day.pack_in import longer_minutes, lowest_free, pack_in
from scheduler.models.day.shifts import break_within, crowded, free_in, trimmed
from scheduler.models.search.loop import PlanOptions, facts_of
from scheduler.plan.types import DayPlan
from tests.models.day_kitchen import DAY, assert_sound, kitchen, plan_of, request

LATE = 17 * 60


def jobs(day: DayPlan) -> list[tuple[int, int]]:
    return sorted((run.starts, run.ends) for batch in day.batches for run in batch.runs)


@pytest.mark.parametrize("packs", (1, 20, 60, 200, 400))
def test_packs_find_room_beside_the_batches(packs):
    """The day stays as it is and every rule is kept, whether packs take idle minutes or longer shifts."""
    season = kitchen()
    asked = request(season, "Kite", "Kite", packs=packs)
    bare = plan_of(season, replace(asked, packing=()))
    day = pack_in(season, asked, bare)
    assert day is not None
    assert_sound(season, asked, day)
    assert jobs(day) == jobs(bare)


def test_more_packs_than_minutes_find_no_room():
    """Two people have 1,080 minutes in a day; packs that take more are refused, or put in as far as they go."""
    season = kitchen()
    asked = request(season, "Kite", packs=3000)
    bare = plan_of(season, replace(asked, packing=()))
    assert pack_in(season, asked, bare) is None
    some = pack_in(season, asked, bare, partly=True)
    assert some is not None
    there = sum(run.packs for run in some.packing)
    assert 0 < there < 3000
    assert_sound(season, replace(asked, packing=(("Kite bag", there),)), some)


def test_somebody_comes_in_for_packing_alone():
    """A day without batches: whoever packs is in for no longer than the packs and the shortest call-in ask."""
    season = kitchen()
    asked = request(season, packs=30)
    day = pack_in(season, asked, DayPlan(DAY))
    assert day is not None
    assert_sound(season, asked, day)
    assert len(day.shifts) == 1


def test_more_of_the_same_goes_on_where_the_packer_stopped():
    """30 packs are there, 20 more come: nobody's list says to stop and start the same product at the same minute."""
    season = kitchen()
    asked = request(season, packs=30)
    there = pack_in(season, asked, DayPlan(DAY))
    assert there is not None
    more = request(season, packs=20)
    day = pack_in(season, more, there)
    assert day is not None
    assert_sound(season, request(season, packs=50), day)
    runs = sorted(day.packing, key=lambda p: (p.person, p.starts))
    for one, after in zip(runs, runs[1:], strict=False):
        assert (one.person, one.product, one.ends) != (after.person, after.product, after.starts)


def test_a_shift_ends_with_its_last_job():
    """In from 8:00 to 17:00 with one batch of 45 minutes: nobody stays on, and nobody without a job stays at all."""
    season = kitchen()
    asked = request(season, "Kite")
    bare = plan_of(season, asked)
    long = replace(bare, shifts=tuple(replace(s, ends=LATE, break_starts=780, break_ends=810) for s in bare.shifts))
    short = trimmed(season, long, asked.hands)
    assert_sound(season, asked, short)
    assert max(s.ends for s in short.shifts) == max(end for _, end in jobs(bare))


def test_a_break_splits_a_long_shift_where_nobody_works():
    """Nine hours need a break; it lies where no job is, and neither part is too long."""
    season = kitchen()
    after, rest = season.kitchen.break_after_minutes, season.kitchen.break_minutes
    at = break_within(season.kitchen, [(700, 760)], 480, 1020)
    assert at is not None
    assert at - 480 <= after and 1020 - at - rest <= after
    assert at + rest <= 700 or at >= 760
    assert break_within(season.kitchen, [(480, 1020)], 480, 1020) is None


def test_gaps_crowds_and_places_on_paper():
    """The three sums that packing by hand rests on."""
    assert free_in(8, 12, [(9, 10)]) == [(8, 9), (10, 12)]
    assert free_in(8, 12, [(7, 13)]) == []
    assert crowded([(8, 10), (9, 11)], 2) == [(9, 10)]
    assert lowest_free([(8, 10), (9, 11), (10, 12)]) == [1, 2, 1]


def test_no_packs_leave_the_day_as_it_is():
    """Nothing to pack, on a day with batches and people."""
    season = kitchen()
    bare = plan_of(season, request(season, "Kite"))
    assert pack_in(season, request(season, "Kite"), bare, partly=True) == bare


def test_packers_stay_a_while_beside_batches_and_come_for_longer_without() -> None:
    """Two packers for 9 hours each: 60 per cent of 18 hours on an empty day, else 30 of what their shifts leave.

    Nobody, where nobody packs.
    """
    season = kitchen()
    facts, packers = facts_of(season, PlanOptions()), frozenset(p.name for p in season.crew[:2])
    t = facts.days[0]
    longest = sum(facts.hands[t][name].longest for name in packers)
    busy = plan_of(season, request(season, "Kite"))
    assert longer_minutes(facts, t, None, packers) == 60 * longest // 100
    there = sum(s.ends - s.starts for s in busy.shifts if s.person in packers)
    assert longer_minutes(facts, t, busy, packers) == 30 * (longest - there) // 100
    assert longer_minutes(facts, t, busy, frozenset()) == 0
