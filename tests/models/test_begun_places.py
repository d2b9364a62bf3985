"""Places of a day that has begun: what began stays where it is, and nothing else gets in its way."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import rebalance
from scheduler.audit import audit
from scheduler.audit.facts import audit_rebalance
from scheduler.models.day.begun_places import on_their_places
from scheduler.models.no_plan import NoPlan
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.types import Batch, DayPlan, PackRun, Plan, StageRun, Task
from scheduler.season.types import Absence, Changeover, Content, Design, Order, Product, Season, Station
from tests.answers.hand import day, kitchen


def bench(batch: str, place: int, starts: int, ends: int = 0) -> Batch:
    return Batch(batch, "Kite", (StageRun("build", "bench", place, starts, ends or starts + 60, ()),))


def two_benches(**changes: object) -> Season:
    return kitchen(2, stations=(Station("bench", 2), Station("packing bench", 2)), **changes)


def placed(day_plan: DayPlan) -> dict[str, int]:
    return {b.id: b.runs[0].place for b in day_plan.batches}


def test_a_place_gets_the_number_of_what_began_on_it_with_its_cleans() -> None:
    """A began on 2. Fitted: A and then C on 1, a clean between, B on 2. So 1 and 2 change: A, C and the clean on 2."""
    was = DayPlan(day(1), (bench("A", 2, 480), bench("B", 1, 560)))
    clean = Task("clean", 540, 550, ("AA",), "bench", 1)
    fitted = DayPlan(day(1), (bench("A", 1, 480), bench("B", 2, 560), bench("C", 1, 550)), (clean,))
    after = on_their_places(two_benches(), was, 500, fitted)
    assert placed(after) == {"A": 2, "B": 1, "C": 2}
    assert after.tasks[0].place == 2


def test_two_that_began_on_two_places_keep_them_where_one_follows_the_other_in_the_fitted_day() -> None:
    """A on 2 from 8:00, B on 1 from 9:00; fitted one after the other on 1: each stays, C gets what is free."""
    was = DayPlan(day(1), (bench("A", 2, 480), bench("B", 1, 540)))
    fitted = DayPlan(day(1), (bench("A", 1, 480), bench("B", 1, 540), bench("C", 2, 580)))
    assert placed(on_their_places(two_benches(), was, 560, fitted)) == {"A": 2, "B": 1, "C": 2}


def test_packing_takes_the_places_that_batches_leave() -> None:
    """A batch in progress at the packing bench, on 2: packs go to 1."""
    season = kitchen(2, stations=(Station("bench", 2), Station("packing bench", 2)))
    at_packing = Batch("A", "Kite", (StageRun("wrap", "packing bench", 2, 480, 540, ()),))
    again = Batch("A", "Kite", (replace(at_packing.runs[0], place=1),))
    late = Batch("B", "Kite", (StageRun("wrap", "packing bench", 1, 400, 430, ()),))
    was = DayPlan(day(1), (at_packing, late))
    fitted = DayPlan(day(1), (again, late), packing=(PackRun("Kite jar", 5, "AA", 2, 500, 520),))
    after = on_their_places(season, was, 490, fitted)
    assert placed(after) == {"A": 2, "B": 1}
    assert after.packing[0].place == 1


def busy(seed: int) -> Season:
    """Two benches that are cleaned between pictures, four people, six batches a day of three pictures."""
    designs = tuple(Design(n, 1, 100, 300, pull_loads=0, colour=k + 1) for k, n in enumerate(("Kite", "Plum", "Bee")))
    orders = tuple(Order(f"{d.name} {t}", f"{d.name} jar", 2, day(t)) for d in designs for t in (2, 3))
    return kitchen(
        3, 720, 4,
        stations=(Station("bench", 2), Station("packing bench", 2)),
        changeovers=(Changeover("dark to light", "bench", 10), Changeover("light to dark", "bench", 5 + seed)),
        designs=designs,
        products=tuple(Product(f"{d.name} jar", packing_seconds=60) for d in designs),
        contents=tuple(Content(f"{d.name} jar", d.name, 100) for d in designs),
        orders=orders,
    )  # fmt: skip


def swapped(plan: Plan) -> Plan:
    """The same plan with bench 1 for bench 2 and the other way round: as good, and numbered otherwise than usual."""

    def other(run: StageRun) -> StageRun:
        return replace(run, place=3 - run.place)

    days = tuple(
        replace(
            d,
            batches=tuple(replace(b, runs=tuple(map(other, b.runs))) for b in d.batches),
            tasks=tuple(replace(t, place=3 - t.place) if t.station == "bench" else t for t in d.tasks),
        )
        for d in plan.days
    )
    return replace(plan, days=days)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_somebody_leaves_a_day_on_two_benches(seed: int) -> None:
    """Whenever and whoever it is: no run and no clean meets another on a bench."""
    season = busy(seed)
    plan = swapped(plan_season(season, PlanOptions(effort=0.2)))
    assert audit(season, plan) == ()
    first = next(d for d in plan.days if d.batches)
    assert {r.place for b in first.batches for r in b.runs} == {1, 2}
    tried = 0
    for minute in (first.batches[0].pour + 5, first.batches[-1].pour - 5, first.batches[-1].pour + 30):
        for shift in [s for s in first.shifts if s.starts < minute < s.ends][:2]:
            try:
                ill = [Absence(shift.person, first.day, first.day, minute)]
                found = rebalance(season, plan, Moment(first.day, minute), ill)
            except NoPlan as none:
                assert "finish the day by the rules" in str(none)
                continue
            tried += 1
            for choice in found.choices:
                assert audit(choice.season, choice.plan) == ()
                assert audit_rebalance(plan, choice.season, choice.plan, (first.day, minute)) == ()
    assert tried > 2
