"""`facts kept`: a plan that follows another leaves alone what had happened. A good twin and sabotages."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from scheduler.answers.facts import Moment, as_planned
from scheduler.audit.facts import audit_rebalance
from scheduler.plan.types import Ancestry, DayPlan, Plan, Shift
from tests.handmade import MONDAY, TUESDAY, handmade_plan, handmade_season

NOW = (TUESDAY, 700)  # lemon was poured at 11:00, its rolling begins at 11:50; nut is poured at 12:15
SEASON = as_planned(handmade_season(), handmade_plan(), Moment(*NOW))
GOOD = replace(
    handmade_plan(), from_day=TUESDAY, from_minute=700, history=(Ancestry("before", *NOW, "Ana is ill"),)
)  # fmt: skip


def with_today(change: Callable[[DayPlan], DayPlan]) -> Plan:
    return replace(GOOD, days=(GOOD.days[0], change(GOOD.days[1]), *GOOD.days[2:]))


def moved(day: DayPlan) -> DayPlan:
    """The pour of the running batch ten minutes earlier."""
    batch = day.batches[0]
    runs = (replace(batch.runs[0], starts=650, ends=670), *batch.runs[1:])
    return replace(day, batches=(replace(batch, runs=runs), *day.batches[1:]))


def later_run(day: DayPlan) -> DayPlan:
    """The cut, which had not begun, five minutes later: allowed."""
    batch = day.batches[0]
    runs = (*batch.runs[:-1], replace(batch.runs[-1], starts=740, ends=755))
    return replace(day, batches=(replace(batch, runs=runs), *day.batches[1:]))


def test_the_good_twin_is_sound() -> None:
    """Nothing that happened has changed; what had not begun may move."""
    assert audit_rebalance(handmade_plan(), SEASON, GOOD, NOW) == ()
    assert audit_rebalance(handmade_plan(), SEASON, with_today(later_run), NOW) == ()


SABOTAGES = [
    (replace(GOOD, days=GOOD.days[1:]), "2026-03-02: This day was past"),
    (replace(GOOD, days=(replace(GOOD.days[0], shifts=()), *GOOD.days[1:])), "2026-03-02: This day was past"),
    (with_today(moved), "batch 0303-1: Its pour had begun at 11:00 and is moved"),
    (with_today(lambda d: replace(d, batches=d.batches[1:])), "0303-1: It had started, and is not in the plan"),
    (
        with_today(lambda d: replace(d, shifts=tuple(s for s in d.shifts if s.person != "Cleo"))),
        "Cleo: In since 08:00, but not any more",
    ),
    (
        with_today(lambda d: replace(d, shifts=(*d.shifts, Shift("Dora", 500, 800)))),
        "Dora: Comes in at 08:20, which is past",
    ),
    (replace(GOOD, history=()), "Its history is not that of the plan before"),
    (replace(GOOD, from_minute=800, days=GOOD.days[:3]), "it was asked from 2026-03-03, 11:40 on"),
]


def named(bad: Plan, message: str) -> bool:
    """Whether the audit finds that something which happened was changed, in these words."""
    found = [str(v) for v in audit_rebalance(handmade_plan(), SEASON, bad, NOW)]
    return any(f.startswith("facts kept, ") and message in f for f in found)


@pytest.mark.parametrize(("bad", "message"), SABOTAGES)
def test_each_sabotage_is_named(bad: Plan, message: str) -> None:
    """One fact changed, one finding of this rule that says which."""
    assert named(bad, message)


def test_a_poured_batch_without_a_fact_is_named() -> None:
    """The season must hold what became of every batch poured before now."""
    found = audit_rebalance(handmade_plan(), handmade_season(), GOOD, NOW)
    assert {v.where for v in found} == {f"{MONDAY} batch 0302-1", f"{MONDAY} batch 0302-2", f"{TUESDAY} batch 0303-1"}


def test_a_lost_batch_may_leave_the_plan() -> None:
    """Recorded as failed, the running batch need not go on."""
    lost = replace(SEASON, made=tuple(replace(m, outcome="failed", pieces=0) for m in SEASON.made))
    plan = with_today(lambda d: replace(d, batches=d.batches[1:]))
    assert audit_rebalance(handmade_plan(), lost, plan, NOW) == ()
