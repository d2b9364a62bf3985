"""Facts by a moment: what was recorded, and where nobody counted, the plan as it stood."""

from dataclasses import replace
from datetime import date

import pytest
from scheduler.answers.facts import Moment, as_planned, leaves
from scheduler.answers.rebalance import has_news
from scheduler.demand.build import build_demand
from scheduler.plan.begun import packed_by
from scheduler.season.fingerprint import fingerprint
from scheduler.season.types import AS_PLANNED, MadeBatch, PackedPacks, ShippedPacks
from tests.handmade import MONDAY, THURSDAY, TUESDAY, WEDNESDAY, handmade_plan, handmade_season


def test_a_batch_poured_before_now_is_made_with_its_designs_pieces() -> None:
    """Monday 9:00: lemon was poured at 8:20, heart is poured at 9:35 and is no fact yet."""
    told = as_planned(handmade_season(), handmade_plan(), Moment(MONDAY, 540))
    assert told.made == (MadeBatch(MONDAY, "0302-1", "lemon", "made", 900, 0, AS_PLANNED),)


def test_a_pour_at_the_very_minute_is_still_to_come() -> None:
    """Half-open: what starts at now has not happened."""
    told = as_planned(handmade_season(), handmade_plan(), Moment(MONDAY, 500))
    assert told.made == ()


@pytest.mark.parametrize("outcome", ["failed", "not started"])
def test_what_was_recorded_replaces_what_was_planned(outcome: str) -> None:
    """A failed batch stays failed; its neighbour is taken as planned."""
    fact = MadeBatch(MONDAY, "0302-2", "heart", outcome)  # type: ignore[arg-type]
    season = replace(handmade_season(), made=(fact,))
    told = as_planned(season, handmade_plan(), Moment(TUESDAY))
    assert {m.batch: m.outcome for m in told.made} == {"0302-1": "made", "0302-2": outcome}


def test_counted_pieces_are_what_planning_starts_from() -> None:
    """870 pieces counted instead of 900: the supply of that batch is 870 less what was packed."""
    season = replace(handmade_season(), made=(MadeBatch(MONDAY, "0302-1", "lemon", "made", 870),))
    told = as_planned(season, handmade_plan(), Moment(TUESDAY))
    supplies = {s.lot: s.pieces for s in build_demand(told, 1).supplies}
    assert supplies["0302-1"] == 870


def test_packing_counts_only_runs_that_ended() -> None:
    """Tuesday 9:00: 40 lemon jars ended at 8:40; the mixed bags go on until 9:40."""
    told = as_planned(handmade_season(), handmade_plan(), Moment(TUESDAY, 540))
    assert [(p.product, p.packs) for p in told.packed] == [("lemon jar", 40)]


def test_a_pack_run_that_is_cut_counts_as_far_as_it_got() -> None:
    """Mixed bags take 90 s: from 8:40 to 9:00 are 20 minutes, 13 bags and no half one."""
    run = handmade_plan().days[1].packing[1]
    assert packed_by(handmade_season(), run, 540) == 13
    told = as_planned(handmade_season(), handmade_plan(), Moment(TUESDAY, 540), cut=True)
    assert {p.product: p.packs for p in told.packed} == {"lemon jar": 40, "mixed bag": 13}


def test_no_more_is_packed_than_there_was_candy_for() -> None:
    """Heart failed: a mixed bag holds 10 hearts, so none of the 40 can have been packed."""
    season = replace(handmade_season(), made=(MadeBatch(MONDAY, "0302-2", "heart", "failed"),))
    told = as_planned(season, handmade_plan(), Moment(WEDNESDAY))
    assert {p.product: p.packs for p in told.packed if p.day == TUESDAY} == {"lemon jar": 40, "mixed bag": 0}


def test_a_count_is_the_whole_days_count() -> None:
    """25 lemon jars recorded for Tuesday replace the 40 planned."""
    season = replace(handmade_season(), packed=(PackedPacks(TUESDAY, "lemon jar", 25),))
    told = as_planned(season, handmade_plan(), Moment(WEDNESDAY))
    assert [p.packs for p in told.packed if p.product == "lemon jar"] == [25]


def test_deliveries_due_before_today_are_shipped_as_far_as_packed() -> None:
    """By Thursday: O5 (due Monday, packed late on Tuesday) and O1 (due Wednesday) have left; O2 is due today."""
    told = as_planned(handmade_season(), handmade_plan(), Moment(THURSDAY))
    assert {(s.order, s.day): s.packs for s in told.shipped} == {("O5", TUESDAY): 10, ("O1", WEDNESDAY): 30}


def test_nothing_is_shipped_that_was_never_packed() -> None:
    """25 jars on Tuesday and 5 in stock: O5 takes 10 first, 20 of 30 are left for O1."""
    counts = (PackedPacks(TUESDAY, "lemon jar", 25), PackedPacks(WEDNESDAY, "lemon jar", 0))
    season = replace(handmade_season(), packed=counts)
    told = as_planned(season, handmade_plan(), Moment(THURSDAY))
    assert {s.order: s.packs for s in told.shipped} == {"O5": 10, "O1": 20}


def test_recorded_shipping_of_an_order_stands_alone() -> None:
    """12 recorded for O1: nothing is added for it as planned."""
    season = replace(handmade_season(), shipped=(ShippedPacks(WEDNESDAY, "O1", 12),))
    told = as_planned(season, handmade_plan(), Moment(THURSDAY))
    assert [s.packs for s in told.shipped if s.order == "O1"] == [12]


def test_facts_are_worked_out_anew_each_time() -> None:
    """As planned at 9:00 and again on Wednesday is as planned on Wednesday: nothing counts twice."""
    season, plan = handmade_season(), handmade_plan()
    once = as_planned(season, plan, Moment(WEDNESDAY))
    twice = as_planned(as_planned(season, plan, Moment(TUESDAY, 540)), plan, Moment(WEDNESDAY))
    assert fingerprint(once) == fingerprint(twice)


def test_a_cancelled_order_never_leaves() -> None:
    """A delivery of a cancelled order has no day to leave."""
    season = handmade_season()
    gone = replace(season, orders=tuple(replace(o, cancelled=True) for o in season.orders))
    assert leaves(gone, handmade_plan().fills[0]) is None
    assert leaves(season, handmade_plan().fills[0]) == TUESDAY


def test_only_what_the_plan_was_not_made_for_is_news() -> None:
    """The season of the plan is no news, nor is it with the facts that the plan itself holds; one record is."""
    season = handmade_season()
    plan = replace(handmade_plan(), season=fingerprint(season))
    assert not has_news(season, plan)
    settled = as_planned(season, plan, Moment(TUESDAY))
    later = replace(plan, season=fingerprint(settled), from_day=TUESDAY)
    assert not has_news(season, later)
    assert not has_news(settled, later)
    assert has_news(replace(settled, made=(MadeBatch(MONDAY, "0302-2", "heart", "failed"),)), later)


def test_a_moment_says_itself() -> None:
    """Day and clock, as it is printed."""
    assert str(Moment(date(2026, 3, 3), 390)) == "Tuesday 3 March, 06:30"
