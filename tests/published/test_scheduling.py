"""The day model against published scheduling optima, fed to it as kitchens.

A job is a design with stages of its own, a machine is a station, a boil that can't wait is
a job of a no-wait shop. No people, no duties, open all day.
"""

from __future__ import annotations

from datetime import date

import pytest
from scheduler.models.day import DayAnswer, fit_day
from scheduler.models.engine import Limits, Status
from scheduler.plan.request import DayRequest
from scheduler.season.types import Design, Hours, Kitchen, Season, Stage, StageException, Station
from tests.published import job_shops

DAY = date(2027, 2, 1)
LONG = 1440  # a wait that never binds


def shop(jobs: list[list[tuple[int, int]]], places: int = 1, wait_to: int = LONG) -> Season:
    """A kitchen whose designs are jobs: each a list of (machine, minutes)."""
    machines = sorted({machine for job in jobs for machine, _ in job})
    steps = [(j, i, machine, minutes) for j, job in enumerate(jobs) for i, (machine, minutes) in enumerate(job)]
    return Season(
        kitchen=Kitchen("Shop", DAY, DAY, last_pour=LONG, opening_minutes=0, closing_minutes=0),
        hours=tuple(Hours(d, 0, 1440) for d in range(7)),
        stations=tuple(Station(f"machine {m}", places) for m in machines),
        stages=tuple(Stage(f"job {j} step {i}", f"machine {m}", 0, wait_to=wait_to) for j, i, m, _ in steps),
        roles=(),
        designs=tuple(Design(f"job {j}", 1, 1, 1) for j in range(len(jobs))),
        crew=(),
        exceptions=tuple(StageException(f"job {j}", f"job {j} step {i}", minutes) for j, i, _, minutes in steps),
    )


def shortest(season: Season, effort: float = 60.0) -> DayAnswer:
    """The proven earliest end of all jobs; checks that the plan ends when the answer says."""
    request = DayRequest(DAY, tuple(d.name for d in season.designs))
    answer = fit_day(season, request, Limits(effort=effort), "shortest")
    assert answer.plan is not None
    assert answer.status is Status.OPTIMAL
    assert answer.cost == answer.bound == max(batch.ends for batch in answer.plan.batches)
    return answer


def rows(machines: list[list[int]], minutes: list[list[int]]) -> list[list[tuple[int, int]]]:
    return [list(zip(m, t, strict=True)) for m, t in zip(machines, minutes, strict=True)]


@pytest.mark.parametrize(("wait_to", "end"), [(LONG, 55), (0, 73)])
def test_ft06(wait_to: int, end: int) -> None:
    """Fisher and Thompson 1963, ft06: 55; with no waiting 73 (no-wait value: memory, and proved here)."""
    jobs = rows(job_shops.FT06_MACHINES, job_shops.FT06_MINUTES)
    assert shortest(shop(jobs, wait_to=wait_to)).cost == end


@pytest.mark.parametrize(("wait_to", "end"), [(LONG, 666), (0, 971)])
def test_la01(wait_to: int, end: int) -> None:
    """Lawrence 1984, la01: 666; with no waiting 971 (no-wait value: memory, and proved here)."""
    jobs = rows(job_shops.LA01_MACHINES, job_shops.LA01_MINUTES)
    assert shortest(shop(jobs, wait_to=wait_to)).cost == end


@pytest.mark.parametrize("wait_to", [LONG, 0])
def test_johnson(wait_to: int) -> None:
    """Johnson 1954, two machines: 47, also with no waiting (no-wait value: memory)."""
    first, second = [4, 4, 30, 6, 2], [5, 1, 4, 30, 3]
    jobs = [[(0, a), (1, b)] for a, b in zip(first, second, strict=True)]
    assert shortest(shop(jobs, wait_to=wait_to)).cost == 47


def johnson_end(order: list[int], first: list[int], second: list[int]) -> int:
    """End of the last job on the second machine when both machines keep one order."""
    free = end = 0
    for job in order:
        free += first[job]
        end = max(end, free) + second[job]
    return end


def test_johnson_order() -> None:
    """Johnson 1954: 5-1-4-3-2 ends at 47; the order that the day model pours in is as good by the same sum."""
    first, second = [4, 4, 30, 6, 2], [5, 1, 4, 30, 3]
    assert johnson_end([4, 0, 3, 2, 1], first, second) == 47
    answer = shortest(shop([[(0, a), (1, b)] for a, b in zip(first, second, strict=True)], wait_to=0))
    assert answer.plan is not None
    order = [int(batch.design.split()[1]) for batch in answer.plan.batches]
    assert johnson_end(order, first, second) == 47


@pytest.mark.parametrize(("minutes", "places", "end"), [([3, 3, 2, 2, 2], 2, 6), ([5, 5, 4, 4, 3, 3, 3], 3, 9)])
def test_parallel_places(minutes: list[int], places: int, end: int) -> None:
    """Graham 1969: 6 where longest-first gives 7; 9 where it gives 11."""
    answer = shortest(shop([[(0, m)] for m in minutes], places))
    assert answer.cost == end
    assert answer.plan is not None
    assert {run.place for batch in answer.plan.batches for run in batch.runs} == set(range(1, places + 1))
