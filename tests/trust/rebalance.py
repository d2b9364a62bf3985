"""One person ill for one day, for each person and each of so many days: how good and how fast the answers are.

``python -m tests.trust rebalance`` plans the demo and takes ten days and everyone; with
``--quick`` a tiny season. ``python -m tests.trust.rebalance PLAN [SEASON] [DAYS] [ANEW]`` measures
a plan that is there already, a line a case, one case of each day in the middle of it; the
first cases, as many as ANEW says (``all``), are held against planning from scratch (a plan each).
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import Rebalance, rebalance
from scheduler.audit import audit
from scheduler.audit.facts import audit_rebalance
from scheduler.models.no_plan import NoPlan
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.files import read_plan
from scheduler.plan.types import Plan
from scheduler.season.read import read_season
from scheduler.season.types import Absence, Season
from tests.seasons import tiny
from tests.trust.scratch import Held, against_scratch, summary
from tests.trust.table import Row, Table

DEMO = Path(__file__).parents[2] / "inputs" / "spring"


@dataclass(frozen=True)
class Case:
    """One case: seconds by the clock and of a core, and of each choice (points, proven least, packs more short,
    violations). On a busy machine the seconds of a core are what it would take alone.
    """

    day: date
    person: str
    minute: int  # at which the news comes: 0 is before the day begins
    seconds: float
    core: float
    choices: tuple[tuple[int, int, int, int], ...]
    complete: bool  # it is proven that no other plan is worth showing
    found: Rebalance | None  # None where there is no choice at all


def cases(plan: Plan, days: int) -> Iterator[tuple[date, str, int]]:
    """Everyone who is in on each of so many days, spread over the season; one of them in the middle of the day, too."""
    working = [d for d in plan.days if d.shifts]
    step = max(1, len(working) // max(1, days))
    for number, day in enumerate(working[::step][:days]):
        crew = sorted(day.shifts, key=lambda s: s.person)
        for shift in crew:
            yield day.day, shift.person, 0
        caught = crew[number % len(crew)]
        yield day.day, caught.person, (caught.starts + caught.ends) // 2


def measured(season: Season, plan: Plan, days: int = 10) -> Iterator[Case]:
    """Rebalance once for each case, and audit every choice."""
    for day, person, minute in cases(plan, days):
        began, core = time.monotonic(), time.process_time()
        found: Rebalance | None = None
        with suppress(NoPlan):
            found = rebalance(season, plan, Moment(day, minute), [Absence(person, day, day, minute, reason="ill")])
        seconds, core = time.monotonic() - began, time.process_time() - core
        choices = tuple(
            (
                c.points, c.least_points, c.more_short_packs,
                len(audit(c.season, c.plan)) + len(audit_rebalance(plan, c.season, c.plan, (day, minute))),
            )
            for c in (found.choices if found else ())
        )  # fmt: skip
        yield Case(day, person, minute, seconds, core, choices, found is not None and found.complete, found)


def lines(rows: list[Case]) -> str:
    """A row a case, and the median and worst time, gaps and violations below."""
    out = [f"{'day':<11} {'ill':<10} {'from':<5} {'s':>5} {'core':>5}  points (at least), packs more short"]
    for row in rows:
        words = "; ".join(f"{p} ({least}), {more}" for p, least, more, _ in row.choices)
        since = f"{row.minute // 60:02d}:{row.minute % 60:02d}"
        words += "; no other" if row.complete else ""
        out.append(f"{row.day} {row.person:<10} {since} {row.seconds:5.1f} {row.core:5.1f}  {words}")
    times, cores = [r.seconds for r in rows], [r.core for r in rows]
    choices = [c for r in rows for c in r.choices]
    proven = sum(p <= least for p, least, _, _ in choices)
    none = sum(not r.choices for r in rows)
    hard = [r for r in rows if len(r.choices) > 1 or any(c[2] > 0 for c in r.choices)]
    several = sum(len(r.choices) >= 3 for r in hard)
    complete = sum(len(r.choices) < 3 and r.complete for r in hard)
    out.append(
        f"{len(rows)} cases, {len(choices)} choices, {proven} proven to change least "
        f"({100 * proven // max(1, len(choices))} %), {sum(c[3] for c in choices)} violations; "
        f"{none} cases without any; in {len(rows) - len(hard) - none} cases the fewest changes leave no more short, "
        "so that there is one choice; "
        f"of the other {len(hard)} cases {several} have 3 choices or more, in {complete} with fewer it is proven that "
        f"no other plan is worth showing, in {len(hard) - several - complete} neither; "
        f"seconds: median {statistics.median(times):.1f}, worst {max(times):.1f}; of a core: "
        f"median {statistics.median(cores):.1f}, worst {max(cores):.1f}"
    )
    return "\n".join(out)


def from_scratch(rows: list[Case], count: int, options: PlanOptions) -> Iterator[Held]:
    """The first cases that have a choice, each held against a plan from scratch."""
    for row in [r for r in rows if r.choices][:count]:
        if row.found is not None:
            yield against_scratch(row.found, row.person, options)


def table(quick: bool = False) -> Table:
    """Plan, let everyone be ill on some days, and count choices that break no rule and time limits that held.

    House limits, no source: median 5 s, worst 15 s, in seconds of the clock on two cores.
    """
    season = tiny(3, days=5, people=3, orders=6) if quick else read_season(DEMO)
    options = PlanOptions(effort=0.3) if quick else PlanOptions()
    plan = plan_season(season, options)
    audits = Row("choices that break no rule and leave the past alone")
    bounds = Row("bounds that are not above what was found")
    cases_ = list(measured(season, plan, 2 if quick else 10))
    for case in cases_:
        audits.count(None if case.choices else f"{case.day} {case.person}: no choice at all")
        for points, least, _, violations in case.choices:
            audits.count(f"{case.day} {case.person}: {violations} violations" if violations else None)
            bounds.count(f"{case.day} {case.person}: {least} above {points}" if least > points else None)
    times = Row("median and worst seconds within 5 and 15", note=lines(cases_).splitlines()[-1])
    clock = [case.seconds for case in cases_]
    times.count(f"median {statistics.median(clock):.1f}" if statistics.median(clock) > 5 else None)
    times.count(f"worst {max(clock):.1f}" if max(clock) > 15 else None)
    held = list(from_scratch(cases_, 1, options))
    fewer = Row("changes never more than planning from scratch", note=summary(held))
    for one in held:
        fewer.count(str(one) if one.points > one.scratch else None)
    return Table("Rebalance", [audits, bounds, times, fewer])


def main(plan_file: str, season_path: str = str(DEMO), days: str = "10", scratch: str = "0") -> None:
    """Measure the season with a plan that is there already, and hold some cases against planning from scratch."""
    season, plan = read_season(Path(season_path)), read_plan(Path(plan_file))
    rows = []
    for row in measured(season, plan, int(days)):
        rows.append(row)
        print(lines([row]).splitlines()[1], flush=True)
    if rows:
        print(lines(rows).splitlines()[-1])
    held = []
    for one in from_scratch(rows, len(rows) if scratch == "all" else int(scratch), PlanOptions()):
        held.append(one)
        print(one, flush=True)
    if held:
        print(summary(held))


if __name__ == "__main__":
    main(*sys.argv[1:])
