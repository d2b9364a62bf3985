"""The day model against published scheduling optima, fed to it as kitchens.

A job is a design with stages of its own, a machine is a station, a boil that can't wait is
a job of a no-wait shop. No people, no duties, open all day.
"""

from __future__ import annotations

import itertools
import random
from datetime import date

import pyjobshop
import pytest
from scheduler.models.day.fit import DayAnswer, fit_day
from scheduler.models.solvers.engine import Limits, Status
from scheduler.plan.request import DayRequest, Hand
from scheduler.season.types import (
    Changeover,
    Design,
    Hours,
    Kitchen,
    Person,
    Role,
    Season,
    Skill,
    Stage,
    StageException,
    Station,
)
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


def random_kitchen(seed: int) -> tuple[Season, DayRequest]:
    """Three or four batches of four stages with people by skill; someone who only cleans; no other rule."""
    rng = random.Random(seed)
    places = {"kettle": 1, "table": rng.choice((1, 1, 2)), "bench": 1}
    stages = (
        Stage("pour", "kettle", rng.randint(5, 15)),
        Stage("fold", "table", rng.randint(5, 20), minutes_per_level=3),
        Stage("roll", "bench", rng.randint(5, 20), wait_to=rng.choice((0, 0, 8))),
        Stage("cut", "kettle", rng.randint(3, 9), wait_from=rng.choice((0, 2)), wait_to=10),
    )
    roles = (
        Role("pour", "boiler", skill="boiling"),
        Role("fold", "builder", skill="building", level=None),
        Role("fold", "helper", skill="rolling"),
        Role("roll", "roller", people=2, skill="rolling"),
        Role("cut", "cutter", skill="rolling"),
    )
    names = ("Ada", "Ben", "Cleo", "Dov", "Esme")[: rng.randint(3, 5)]
    skills = [Skill(n, s, rng.randint(1, 3)) for n in names for s in ("boiling", "building") if rng.random() < 0.7]
    skills += [Skill("Ada", "building", 3), Skill("Ben", "boiling", 1)]
    skills += [Skill(n, "rolling", 1) for n in names]
    unique = tuple({(s.person, s.skill): s for s in skills}.values())
    designs = tuple(Design(f"design {i}", rng.randint(1, 3), 1, 1, colour=rng.randint(1, 3)) for i in range(3))
    cleaning = (Changeover("dark to light", "table", 7), Changeover("light to dark", "table", 4))
    season = Season(
        kitchen=Kitchen(
            "Beside PyJobShop", DAY, DAY, last_pour=LONG, opening_minutes=0, closing_minutes=0,
            break_after_minutes=LONG, pull_rest_minutes=0, longest_day_minutes=LONG,
        ),
        hours=(Hours(0, 0, 1440),),
        stations=tuple(Station(s, n) for s, n in places.items()),
        stages=stages,
        roles=roles,
        designs=designs,
        crew=tuple(Person(n, 2400, 2400, 1) for n in (*names, "Cleaner")),
        skills=unique,
        changeovers=cleaning if places["table"] == 1 else (),
    )  # fmt: skip
    hands = tuple(Hand(p.name, 0, 1440, LONG, 0) for p in season.crew)
    batches = tuple(sorted(rng.choice(designs).name for _ in range(rng.randint(3, 4))))
    return season, DayRequest(DAY, batches, (), hands)


def pyjobshop_end(season: Season, request: DayRequest) -> int:
    """The same day modelled afresh: a task for each stage, a mode for each crew that can do it."""
    model = pyjobshop.Model()
    person = {p.name: model.add_machine(name=p.name) for p in season.crew}
    station = {
        s.name: model.add_machine(name=s.name) if s.places == 1 else model.add_renewable(s.places, name=s.name)
        for s in season.stations
    }
    level = {(s.person, s.skill): s.level for s in season.skills}
    at_table = []
    for name in request.designs:
        design = season.design_by_name[name]
        before = None
        for stage in season.stages:
            minutes = stage.minutes + stage.minutes_per_level * (design.difficulty - 1)
            task = model.add_task()
            slots = [
                [p for p in person if level.get((p, r.skill), 0) >= (design.difficulty if r.level is None else r.level)]
                for r in season.roles
                if r.stage == stage.name
                for _ in range(r.people)
            ]
            for crew in sorted({tuple(sorted(c)) for c in itertools.product(*slots) if len(set(c)) == len(c)}):
                demands = [1] + [0] * len(crew) if season.places[stage.station] > 1 else None
                model.add_mode(task, [station[stage.station], *(person[p] for p in crew)], minutes, demands)
            if before is not None:
                model.add_end_before_start(before, task, stage.wait_from)
                model.add_start_before_end(task, before, -stage.wait_to)
            if stage.station == "table":
                at_table.append((task, design))
            before = task
    for (one, a), (two, b) in itertools.permutations(at_table, 2):
        if season.changeovers and a.colour != b.colour:
            model.add_setup_time(station["table"], one, two, 7 if a.colour > b.colour else 4)
    result = model.solve(display=False, num_workers=1)
    assert result.status is pyjobshop.SolveStatus.OPTIMAL
    return int(result.objective)


@pytest.mark.parametrize("seed", range(8))
def test_pyjobshop_agrees(seed: int) -> None:
    """PyJobShop (PyPI, MIT; Lan and Berkhout 2025), modelled independently: the same shortest day."""
    season, request = random_kitchen(seed)
    answer = fit_day(season, request, Limits(effort=20), "shortest")
    assert answer.status is Status.OPTIMAL
    assert answer.cost == pyjobshop_end(season, request)
