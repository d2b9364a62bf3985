"""One person ill for one day, for each person and each of so many days: how good and how fast the answers are.

Run whole with ``python -m tests.trust.rebalance`` (the demo, ten days, everyone); the
tests run a small part of it.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import rebalance
from scheduler.audit import audit
from scheduler.audit.facts import audit_rebalance
from scheduler.plan.files import read_plan
from scheduler.plan.types import Plan
from scheduler.season.read import read_season
from scheduler.season.types import Absence, Season

DEMO = Path(__file__).parents[2] / "inputs" / "spring"


@dataclass(frozen=True)
class Row:
    """One case: seconds by the clock and of a core, and of each choice (points, proven least, packs more short,
    violations). On a busy machine the seconds of a core are what it would take alone.
    """

    day: date
    person: str
    seconds: float
    core: float
    choices: tuple[tuple[int, int, int, int], ...]


def cases(season: Season, plan: Plan, days: int) -> Iterator[tuple[date, str]]:
    """Everyone who is in on each of so many days, spread over the season."""
    working = [d for d in plan.days if d.shifts]
    step = max(1, len(working) // days)
    for day in working[::step][:days]:
        for shift in sorted(day.shifts, key=lambda s: s.person):
            yield day.day, shift.person


def measured(season: Season, plan: Plan, days: int = 10) -> Iterator[Row]:
    """Rebalance once for each case, and audit every choice."""
    for day, person in cases(season, plan, days):
        began, core = time.monotonic(), time.process_time()
        found = rebalance(season, plan, Moment(day), [Absence(person, day, day, reason="ill")])
        seconds, core = time.monotonic() - began, time.process_time() - core
        choices = tuple(
            (
                c.points, c.least_points, c.more_short_packs,
                len(audit(c.season, c.plan)) + len(audit_rebalance(plan, c.season, c.plan, (day, 0))),
            )
            for c in found.choices
        )  # fmt: skip
        yield Row(day, person, seconds, core, choices)


def table(rows: list[Row]) -> str:
    """A row a case, and the median and worst time, gaps and violations below."""
    lines = [f"{'day':<11} {'ill':<10} {'s':>5} {'core':>5}  points (at least), packs more short"]
    for row in rows:
        words = "; ".join(f"{p} ({least}), {more}" for p, least, more, _ in row.choices)
        lines.append(f"{row.day} {row.person:<10} {row.seconds:5.1f} {row.core:5.1f}  {words}")
    times, cores = [r.seconds for r in rows], [r.core for r in rows]
    choices = [c for r in rows for c in r.choices]
    proven = sum(p <= least for p, least, _, _ in choices)
    lines.append(
        f"{len(rows)} cases, {len(choices)} choices, {proven} proven to change least, {sum(c[3] for c in choices)} "
        f"violations; seconds: median {statistics.median(times):.1f}, worst {max(times):.1f}; of a core: "
        f"median {statistics.median(cores):.1f}, worst {max(cores):.1f}"
    )
    return "\n".join(lines)


def main(plan_file: str, season_path: str = str(DEMO), days: str = "10") -> None:
    """Measure the season with a plan that is there already."""
    season, plan = read_season(Path(season_path)), read_plan(Path(plan_file))
    rows = []
    for row in measured(season, plan, int(days)):
        rows.append(row)
        print(table([row]).splitlines()[1], flush=True)
    print(table(rows).splitlines()[-1])


if __name__ == "__main__":
    main(*sys.argv[1:])
