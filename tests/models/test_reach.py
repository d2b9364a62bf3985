"""How far a rebalanced plan may change: the weeks around the news, all else to the letter."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from functools import cache

import pytest
from scheduler.answers.facts import Moment, as_planned
from scheduler.answers.rebalance import Rebalance, rebalance
from scheduler.audit import audit
from scheduler.audit.facts import audit_rebalance
from scheduler.models.counts.board import Wish
from scheduler.models.replan import reach
from scheduler.models.replan.choices import ahead_of
from scheduler.models.replan.made_real import made_real, short_of
from scheduler.models.replan.mend import Mended
from scheduler.models.replan.reach import around_the_news, everything, near
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.models.solvers.engine import LARGEST_SUM
from scheduler.paper.changes_words import choices_table
from scheduler.plan.changes import lost
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.types import Absence, Design, Order, Season, Show
from tests.answers.hand import day, kitchen
from tests.seasons import tiny

WEEKS = 5


@cache
def long_season(seed: int = 1) -> tuple[Season, Plan]:
    season = tiny(seed, days=7 * WEEKS, people=3, orders=16)
    return season, plan_season(season, PlanOptions(effort=0.3))


def sound(found: Rebalance) -> None:
    assert found.choices
    for choice in found.choices:
        assert audit(choice.season, choice.plan) == ()
        assert audit_rebalance(found.before, choice.season, choice.plan, (found.now.day, found.now.minute)) == ()


def ill() -> Iterator[tuple[DayPlan, str]]:
    """Somebody who is in, on a day in each week."""
    season, plan = long_season()
    for week in range(WEEKS):
        days = [d for d in plan.days if d.batches and season.index(d.day) // 7 == week]
        for busy in days[:1]:
            yield busy, busy.shifts[0].person


def test_the_weeks_nearest_to_the_news_as_many_as_are_manageable(monkeypatch: pytest.MonkeyPatch) -> None:
    """Five weeks, two or three at a time; news in two places; more news than is manageable, and no news at all."""
    season = tiny(0, days=7 * WEEKS, people=2, designs=1)
    facts = facts_of(season, PlanOptions())
    weeks = sorted(facts.weeks)

    def chosen(most: int, *news: int) -> list[int]:
        monkeypatch.setattr(reach, "MOST", 7 * most)
        return sorted(weeks.index(w) + 1 for w in near(facts, frozenset(weeks[n - 1] for n in news)))

    assert chosen(2, 3) == [3, 4]
    assert chosen(3, 3) == [2, 3, 4]
    assert chosen(3, 1) == [1, 2, 3]
    assert chosen(3, 5) == [3, 4, 5]
    assert chosen(3, 1, 4) == [1, 4, 5]
    assert chosen(2, 1, 3, 5) == [1, 3, 5]
    assert chosen(2) == [1, 2]
    assert chosen(5, 3) == [1, 2, 3, 4, 5]


def test_beyond_the_reach_nothing_changes_and_little_is_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ill in each week: sound plans, other weeks to the letter but for packing, bounds that hold for all plans."""
    season, plan = long_season()
    for busy, who in ill():
        news = [Absence(who, busy.day, busy.day)]
        whole = rebalance(season, plan, Moment(busy.day), news)
        with monkeypatch.context() as patch:
            patch.setattr(reach, "MOST", 14 * len(season.designs))
            found = rebalance(season, plan, Moment(busy.day), news)
            happened = as_planned(replace(season, absences=tuple(news)), plan, Moment(busy.day))
            (ahead,) = ahead_of(happened, plan, busy.day, 0)
            within = around_the_news(ahead)
        sound(found)
        sound(whole)
        if within is None or within.part is None:
            continue
        free = set(within.facts.days) - set(within.part.settled)
        assert found.shown is not None and whole.shown is not None
        assert found.shown.within == within.within == (season.days[min(free)], season.days[max(free)])
        assert "may change; all others stay as they are" in choices_table(found, "GBP")
        assert whole.shown.within is None and "may change" not in choices_table(whole, "GBP")
        old = {d.day: d for d in plan.days}
        for choice in found.choices:
            for later in choice.plan.days:
                if season.index(later.day) not in free and later.day >= busy.day:
                    assert (later.batches, later.shifts) == (old[later.day].batches, old[later.day].shifts)
            better = [c.points for c in whole.choices if c.short <= choice.short]
            assert choice.least_points <= min([choice.points, *better])


def test_what_is_short_beside_the_reach_is_counted_once() -> None:
    """What the model of a part counts of the old plan, and what lies beside, is all that is short of it."""
    season, plan = long_season()
    scarce = replace(season, orders=tuple(replace(o, packs=3 * o.packs) for o in season.orders))
    plan = plan_season(scarce, PlanOptions(effort=0.3))
    assert plan.shortfalls
    busy = next(d for d in plan.days if d.batches)
    (ahead,) = ahead_of(scarce, plan, busy.day, 0)
    all_of_it = short_of(ahead, plan.shortfalls, ahead.before.values())
    assert everything(ahead).beside == 0
    monkey = pytest.MonkeyPatch()
    with monkey.context() as patch:
        patch.setattr(reach, "MOST", 1)
        within = around_the_news(ahead)
    assert within is not None
    inside = {n.id for n in within.facts.demand.lines}
    counted = sum(
        n.weight * (10 if n.confirmed else 1) * (n.packs - within.had[n.id])
        if n.partial else n.weight * (10 if n.confirmed else 1) * n.asked * (within.had[n.id] < n.packs)
        for n in within.facts.demand.lines
    )  # fmt: skip
    assert inside and within.beside + counted == all_of_it


def test_a_show_that_nobody_can_hold_is_no_reserve_for_one_that_can_be_held() -> None:
    """Every day ends with a show that can't be held; the morning's show stays where no more is to be short.

    One batch a day, before visitors, by one person; the other is off. That one ill: call in the other (4 x 8 points),
    or drop the batch and its show (2 x 8), which is more short, by the show alone, as nobody asked for the batch.
    """
    shows = (Show("Morning", 480, weekday=0, extra_people=0), Show("Evening", 590, weekday=0, extra_people=0))
    season = replace(kitchen(14, 600), shows=shows, designs=(Design("Kite", 1, 100, 300, pull_loads=0),))
    plan = plan_season(season, PlanOptions(effort=0.3))
    monday = plan.days[0]
    assert [d.missed_shows for d in plan.days if d.day.weekday() == 0] == [("Evening",), ("Evening",)]
    (shift,) = monday.shifts
    found = rebalance(season, plan, Moment(monday.day), [Absence(shift.person, monday.day, monday.day)])
    sound(found)
    missed = {c.points: sum(len(d.missed_shows) for d in c.plan.days) for c in found.choices}
    assert missed == {16: 3, 32: 2}


def test_news_far_ahead_is_mended_where_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """An order that comes in for the last week: the reach is its week, not the one that is today."""
    season = kitchen(28)
    season = replace(season, orders=(Order("A", "Kite jar", 2, day(3)),))
    plan = plan_season(season, PlanOptions(effort=0.3))
    fresh = season.designs[0].sell_by_days - 3
    late = Order("B", "Kite jar", 1, day(26), least_life_days=fresh)
    season = replace(season, orders=(*season.orders, late))
    monkeypatch.setattr(reach, "MOST", 7)
    found = rebalance(season, plan, Moment(day(2)))
    sound(found)
    choice = found.choices[-1]
    assert choice.more_short_packs <= 0
    made = [d.day for d in choice.plan.days if d.batches and d.day > day(14)]
    assert made and all(day(26) - made_on <= timedelta(3) for made_on in made)


def test_all_that_days_pack_is_given_out_where_a_wish_forgot_it() -> None:
    """The old days with a wish for nothing: whoever had packs has them again, not one of them is lost."""
    season, plan = long_season()
    (ahead,) = ahead_of(season, plan, season.days[0], 0)
    nothing = Mended(ahead.before, Wish({}, {}, {}, {}, {}, {}))
    deals = everything(ahead).deals
    found = made_real(ahead, nothing, deals, LARGEST_SUM)
    assert not lost(plan, found.plan)
    assert audit(season, replace(found.plan, history=plan.history)) == ()
