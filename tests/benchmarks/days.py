"""Days: our day model beside PyJobShop, both on CP-SAT: seconds to the proven shortest day.

``python -m tests.benchmarks.days --seeds 6`` samples days from the seasons of the benchmark with the
rules that both can say: stations, roles by skill and level, waits, one job at a time. (Breaks, duties,
shows and pulls are left out; changeovers are in the days of ``tests/published``.) Ours is measured on
one thread, as it runs, PyJobShop on one and on two. Rows go to ``reports/benchmark-days.csv``.
"""

from __future__ import annotations

import argparse
import csv
import itertools
import random
import time
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pyjobshop
from scheduler.models.day.fit import fit_day
from scheduler.models.solvers.engine import Limits, Status
from scheduler.plan.request import DayRequest, Hand
from scheduler.season import rules
from scheduler.season.types import Person, Season
from tests.benchmarks.generate import sized
from tests.benchmarks.results import version_of_planner, where

ROWS = Path("reports/benchmark-days.csv")
HEAD = ("season", "batches", "seed", "who", "minutes", "proven", "seconds", "version", "where")
LONG = 1440


def bare(season: Season) -> Season:
    """The season with the rules that both models know."""
    kitchen = replace(
        season.kitchen, opening_minutes=0, closing_minutes=0, break_after_minutes=LONG, pull_rest_minutes=0,
        longest_day_minutes=LONG, last_pour=LONG,
    )  # fmt: skip
    crew = tuple(Person(p.name, 2400, 2400, 1, pulls_day=100_000, pulls_week=100_000) for p in season.crew)
    roles = tuple(replace(role, leads=False, pulls=False) for role in season.roles)
    hours = tuple(replace(h, opens=0, closes=LONG) for h in season.hours)
    return replace(season, kitchen=kitchen, crew=crew, roles=roles, hours=hours, changeovers=(), shows=(), pins=())


def sampled(size: str, batches: int, seed: int) -> tuple[Season, DayRequest]:
    """A day with so many batches of pictures of the season, for everyone in the kitchen."""
    season = bare(sized(size, 1.0, seed))
    rng = random.Random(f"{size} {batches} {seed}")
    names = [d.name for d in season.designs if all(_able(season, d.name))]
    hands = tuple(Hand(p.name, 0, LONG, LONG, 100_000) for p in season.crew)
    return season, DayRequest(season.days[0], tuple(sorted(rng.choices(names, k=batches))), (), hands)


def _able(season: Season, design: str) -> Iterable[bool]:
    """For each role of a design whether there are people enough."""
    for stage in rules.recipe(season, season.design_by_name[design]):
        for role in stage.roles:
            able = [p for p in season.crew if rules.can_fill(season, p, role, season.days[0])]
            yield len(able) >= role.people


def ours(season: Season, request: DayRequest, seconds: float) -> tuple[int | None, bool]:
    """Minutes until the last batch is done, and whether that is proven the least."""
    answer = fit_day(season, request, Limits(effort=10 * seconds, seconds=seconds), "shortest")
    return answer.cost, answer.status is Status.OPTIMAL


def theirs(season: Season, request: DayRequest, seconds: float, threads: int) -> tuple[int | None, bool]:
    """The same day in PyJobShop: a task for each stage, a mode for each crew that can do it."""
    model = pyjobshop.Model()
    person = {p.name: model.add_machine(name=p.name) for p in season.crew}
    station = {
        s.name: model.add_machine(name=s.name) if s.places == 1 else model.add_renewable(s.places, name=s.name)
        for s in season.stations
    }
    for name in request.designs:
        before = None
        for stage in rules.recipe(season, season.design_by_name[name]):
            task = model.add_task()
            for crew in crews(season, stage):
                demands = [1] + [0] * len(crew) if season.places[stage.station] > 1 else None
                model.add_mode(task, [station[stage.station], *(person[p] for p in crew)], stage.minutes, demands)
            if before is not None:
                model.add_end_before_start(before, task, stage.wait_from)
                model.add_start_before_end(task, before, -stage.wait_to)
            before = task
    result = model.solve(display=False, num_workers=threads, time_limit=seconds)
    found = result.status in (pyjobshop.SolveStatus.OPTIMAL, pyjobshop.SolveStatus.FEASIBLE)
    return int(result.objective) if found else None, result.status is pyjobshop.SolveStatus.OPTIMAL


def crews(season: Season, stage: rules.StageNeed) -> list[tuple[str, ...]]:
    """Sets of people who can fill a stage's roles between them."""
    slots = [
        [p.name for p in season.crew if rules.can_fill(season, p, role, season.days[0])]
        for role in stage.roles
        for _ in range(role.people)
    ]
    return sorted({tuple(sorted(c)) for c in itertools.product(*slots) if len(set(c)) == len(c)})


def measure(size: str, batches: int, seed: int, seconds: float) -> list[dict[str, object]]:
    """One sampled day, everyone in turn; where all have proven it, they agree."""
    season, request = sampled(size, batches, seed)
    rows = []
    for who in ("ours, 1 thread", "PyJobShop, 1 thread", "PyJobShop, 2 threads"):
        began = time.monotonic()
        if who.startswith("ours"):
            minutes, proven = ours(season, request, seconds)
        else:
            minutes, proven = theirs(season, request, seconds, int(who.split()[1]))
        rows.append({
            "season": size, "batches": batches, "seed": seed, "who": who, "minutes": minutes, "proven": proven,
            "seconds": round(time.monotonic() - began, 3), "version": version_of_planner(), "where": where(),
        })  # fmt: skip
    if len({row["minutes"] for row in rows if row["proven"]}) > 1:
        raise AssertionError(f"proven days differ: {rows}")
    return rows


def main() -> None:
    """Days that are not there yet for this version of our day model."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--sizes", nargs="+", default=["S", "M"])
    parser.add_argument("--batches", type=int, nargs="+", default=[3, 5, 7])
    parser.add_argument("--seconds", type=float, default=20)
    asked = parser.parse_args()
    rows: list[dict[str, object]] = []
    if ROWS.exists():
        with ROWS.open(newline="", encoding="utf-8") as file:
            rows = [r for r in csv.DictReader(file) if r["version"] == version_of_planner()]
    there = {(r["season"], str(r["batches"]), str(r["seed"])) for r in rows}
    for size, batches, seed in itertools.product(asked.sizes, asked.batches, range(1, asked.seeds + 1)):
        if (size, str(batches), str(seed)) not in there:
            rows += measure(size, batches, seed, asked.seconds)
            print(*(f"{r['who']}: {r['minutes']} min, {r['seconds']} s; " for r in rows[-3:]), flush=True)
            with ROWS.open("w", newline="", encoding="utf-8") as file:
                writer = csv.DictWriter(file, HEAD)
                writer.writeheader()
                writer.writerows(rows)


if __name__ == "__main__":
    main()
