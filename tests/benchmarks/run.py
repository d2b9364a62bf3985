"""Plan generated seasons and put what came out beside the rule of thumb and the proven bound.

``python -m tests.benchmarks.run S:1.0 S:1.3 --seeds 3`` adds one row a run to
``reports/benchmark.csv`` and skips rows that are there already, so that a long run goes in
parts. Every plan is scored by the audit; time includes building the models; memory is the peak
of the process so far.
"""

from __future__ import annotations

import argparse
import csv
import resource
import time
from pathlib import Path

from scheduler.audit import audit
from scheduler.models.loop import PlanOptions, plan_season
from scheduler.plan.summary import summarize
from tests.benchmarks.generate import sized

ROWS = Path("reports/benchmark.csv")
HEAD = (
    "season", "load", "seed", "demand", "short", "bound", "gap_percent", "rule_of_thumb_percent", "short_percent",
    "days", "violations", "seconds", "core_seconds", "peak_mb",
)  # fmt: skip


def done(path: Path = ROWS) -> set[tuple[str, str, str]]:
    """(season, load, seed) of the rows that are there."""
    if not path.exists():
        return set()
    with path.open(newline="", encoding="utf-8") as file:
        return {(r["season"], r["load"], r["seed"]) for r in csv.DictReader(file)}


def row(size: str, load: float, seed: int) -> dict[str, object]:
    """One season planned with default care; shares are of the weighted demand."""
    season = sized(size, load, seed)
    began, core = time.monotonic(), time.process_time()
    plan = plan_season(season, PlanOptions())
    seconds, core_seconds = time.monotonic() - began, time.process_time() - core
    figures = summarize(season, plan)
    demand = max(1, figures.demand_weighted)
    return {
        "season": size, "load": load, "seed": seed, "demand": demand, "short": figures.shortfall_weighted,
        "bound": figures.bound_weighted, "gap_percent": figures.gap_percent,
        "rule_of_thumb_percent": round(100 * figures.rule_of_thumb_shortfall_weighted / demand, 2),
        "short_percent": round(100 * figures.shortfall_weighted / demand, 2), "days": figures.days,
        "violations": len(audit(season, plan)), "seconds": round(seconds, 1), "core_seconds": round(core_seconds, 1),
        "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
    }  # fmt: skip


def main() -> None:
    """Run what is missing, one season after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cases", nargs="+", help="SIZE:LOAD, such as S:1.3")
    parser.add_argument("--seeds", type=int, default=1)
    asked = parser.parse_args()
    there = done()
    for case in asked.cases:
        size, load = case.split(":")
        for seed in range(1, asked.seeds + 1):
            if (size, str(float(load)), str(seed)) in there:
                continue
            found = row(size, float(load), seed)
            new = not ROWS.exists()
            with ROWS.open("a", newline="", encoding="utf-8") as file:
                writer = csv.DictWriter(file, HEAD)
                if new:
                    writer.writeheader()
                writer.writerow(found)
            print(found, flush=True)


if __name__ == "__main__":
    main()
