"""A plan in figures, against sums done by hand in ``tests/handmade.py``."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from scheduler.plan.summary import asked_lines, person_days, person_weeks, summarize, week_cost
from scheduler.season.types import Person, ShippedPacks
from tests.audit.sabotage import add, kitchen, stage
from tests.handmade import MONDAY, TUESDAY, handmade_plan, handmade_season

ISSUE_KEYS = {
    "status", "batches", "demand_units", "shortfall_units", "shortfall_firm_units", "shortfall_weighted",
    "bound_weighted", "gap_percent", "rule_of_thumb_shortfall_weighted", "overtime_minutes", "labour_cost",
    "days", "days_proven_to_the_minute", "audit_violations",
}  # fmt: skip


def test_the_figures_of_the_plan_made_by_hand() -> None:
    """Demand in packs 30 + 40 + 50 + 60 + 10 + 20 = 210 (O6 is cancelled), short 5 + 60.

    Weighted demand: O1 30*20*10*4 = 24,000; O2 40*15*10*2 = 12,000; O3 50*20*5*1 = 5,000;
    O4 60*15*10*2 = 18,000; O5 10*20*10*2 = 4,000; F1 20*20*1*2 = 800: 63,800.
    Gap: 100 * (18,500 - 18,000) / 63,800 = 0.784.
    """
    figures = summarize(handmade_season(), handmade_plan()).as_dict()
    assert figures.keys() >= ISSUE_KEYS
    assert figures == figures | {
        "status": "feasible", "batches": 4, "demand_units": 210, "shortfall_units": 65, "shortfall_firm_units": 60,
        "demand_weighted": 63800, "shortfall_weighted": 18500, "bound_weighted": 18000, "gap_percent": 0.784,
        "rule_of_thumb_shortfall_weighted": 20000, "missed_shows": 1, "late_units": 10, "overtime_minutes": 80,
        "labour_cost": 405.5, "days": 4, "making_days": 2, "days_proven_to_the_minute": 4, "audit_violations": 0,
    }  # fmt: skip
    assert json.loads(json.dumps(figures)) == figures


def test_optimal_is_said_only_of_a_proven_shortfall() -> None:
    """A proven cost alone is not optimal; a proven shortfall is."""
    season, plan = handmade_season(), handmade_plan()
    assert summarize(season, stage(2, proven=True, bound=41050)(plan)).status == "feasible"
    proven = summarize(season, stage(1, proven=True, bound=18500)(plan))
    assert (proven.status, proven.gap_percent) == ("optimal", 0.0)


def test_without_a_bound_there_is_no_gap() -> None:
    """No bound, no gap: neither zero nor a made-up one."""
    figures = summarize(handmade_season(), stage(1, bound=None)(handmade_plan()))
    assert (figures.bound_weighted, figures.gap_percent, figures.status) == (None, None, "feasible")


def test_days_that_the_audit_refuses_are_not_proven_to_the_minute() -> None:
    """Broken days are taken off the count, and the violations are shown."""
    figures = summarize(handmade_season(), handmade_plan(), broken_days={MONDAY}, violations=2)
    assert (figures.days, figures.days_proven_to_the_minute, figures.audit_violations) == (4, 3, 2)


def test_shipped_packs_are_asked_for_no_more() -> None:
    """Three of O4's sixty packs left the kitchen: 57 are asked for and short."""
    season = add(shipped=ShippedPacks(MONDAY, "O4", 3))(handmade_season())
    figures = summarize(season, handmade_plan())
    assert (figures.demand_units, figures.shortfall_units) == (207, 62)


def test_hours_and_pulls_of_each_day() -> None:
    """Tuesday: Cleo 08:00 to 14:00 with a break of 30: 330 paid, 40 + 60 + 60 + 15 + 15 busy; Ana 75 pulls."""
    rows = {r.person: r for r in person_days(handmade_season(), handmade_plan()) if r.day == TUESDAY}
    assert (rows["Cleo"].paid_minutes, rows["Cleo"].busy_minutes, rows["Cleo"].pulls) == (330, 190, 0)
    assert (rows["Ana"].paid_minutes, rows["Ana"].pulls) == (180, 75)


def test_hours_pulls_and_cost_of_each_week() -> None:
    """Week 10: Ana 380 minutes, 80 beyond her contract; Ben 75 + 150 pulls on Monday."""
    ana, ben, cleo = person_weeks(handmade_season(), handmade_plan())
    assert (ana.year, ana.week, ana.days, ana.paid_minutes, ana.overtime_minutes) == (2026, 10, 2, 380, 80)
    assert (ben.pulls, ben.overtime_minutes) == (225, 0)
    assert [w.cost_cents for w in (ana, ben, cleo)] == [14000, 12750, 13800]


def test_a_paid_break_is_paid() -> None:
    """With paid breaks Cleo's 30 minutes count: 720 paid, 20 beyond her contract."""
    *_, cleo = person_weeks(kitchen(break_paid=True)(handmade_season()), handmade_plan())
    assert (cleo.paid_minutes, cleo.overtime_minutes) == (720, 20)


@pytest.mark.parametrize(
    ("hours", "cents"),
    [(46, 58800), (40, 48000), (0, 0)],  # 29 CFR 778.110: 46 h at $12, time and a half beyond 40, is $588
)
def test_overtime_pay_as_published(hours: int, cents: int) -> None:
    """Pay for a week: 40 h at the wage, the rest at time and a half."""
    person = Person("Pat", 40 * 60, 60 * 60, wage_cents=1200, overtime=True, overtime_percent=150)
    assert week_cost(person, hours * 60) == cents


@pytest.mark.parametrize(("minutes", "cents"), [(1, 33), (2, 67), (3, 100), (9, 300)])
def test_cents_are_rounded_half_up_once_a_week(minutes: int, cents: int) -> None:
    """20.00 an hour is 33 1/3 cents a minute: 33, 67, 100."""
    assert week_cost(Person("Pat", 600, 600, wage_cents=2000), minutes) == cents


def test_half_a_cent_is_rounded_up() -> None:
    """0.30 an hour is half a cent a minute: 1 minute 1 cent, 3 minutes 2 cents."""
    person = Person("Pat", 600, 600, wage_cents=30)
    assert (week_cost(person, 1), week_cost(person, 3)) == (1, 2)


def test_a_plan_with_unknown_people_still_adds_up() -> None:
    """Figures of a damaged plan come without a crash."""
    plan = handmade_plan()
    (first, *rest) = plan.days
    odd = replace(first, shifts=(replace(first.shifts[0], person="Zed"),))
    assert summarize(handmade_season(), replace(plan, days=(odd, *rest))).overtime_minutes == 0


def test_shipped_packs_are_not_asked_for_any_more() -> None:
    """Of a forecast as of an order: 5 packs of each shipped, 5 fewer asked of each."""
    season, plan = handmade_season(), handmade_plan()
    forecast, order = season.forecasts[0].id, season.orders[0].id
    facts = tuple(ShippedPacks(season.days[0], name, 5) for name in (forecast, order))
    before = {line.line: line.asked for line in asked_lines(season, plan)}
    after = {line.line: line.asked for line in asked_lines(replace(season, shipped=facts), plan)}
    assert {name: before[name] - n for name, n in after.items() if before[name] != n} == {forecast: 5, order: 5}
