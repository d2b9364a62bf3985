"""How long it takes to fit all days of a season to the minute, and (a place for it) to rebalance one.

``python -m tests.benchmarks.fit_days S M L`` fits the rule of thumb's wish for each size and adds rows to
``reports/benchmark-fit.csv``. Rebalancing a plan of size L belongs here once a plan of that size is at
hand: ``python -m tests.trust.rebalance PLAN SEASON`` measures it on any plan.
"""

from __future__ import annotations

import argparse
import csv
import time
from pathlib import Path

from scheduler.models.loop import fit_whole
from tests.benchmarks.generate import sized
from tests.benchmarks.ground import Ground, by_rule_of_thumb
from tests.benchmarks.results import where

ROWS = Path("reports/benchmark-fit.csv")
HEAD = ("what", "season", "load", "seed", "days", "batches", "lightened", "caps_seconds", "seconds", "where")


def measure(size: str, load: float, seed: int) -> dict[str, object]:
    """Seconds to work out the caps and the rule of thumb, then to fit all its days; days that had to be lightened."""
    ground = Ground(sized(size, load, seed), 0.0, lambda _event: None)
    wish = by_rule_of_thumb(ground)
    caps = ground.now
    began = time.monotonic()
    fitted = fit_whole(ground.facts, ground.fitter, wish, learn=False)
    return {
        "what": "fit all days", "season": size, "load": load, "seed": seed, "days": len(fitted.days),
        "batches": sum(len(d.batches) for d in fitted.days), "lightened": len(ground.fitter.failed),
        "caps_seconds": round(caps, 1), "seconds": round(time.monotonic() - began, 1), "where": where(),
    }  # fmt: skip


def main() -> None:
    """One row a size and load."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("sizes", nargs="+")
    parser.add_argument("--loads", type=float, nargs="+", default=[1.0])
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for size in asked.sizes:
        for load in asked.loads:
            row = measure(size, load, asked.seed)
            new = not ROWS.exists()
            with ROWS.open("a", newline="", encoding="utf-8") as file:
                writer = csv.DictWriter(file, HEAD)
                if new:
                    writer.writeheader()
                writer.writerow(row)
            print(row, flush=True)


if __name__ == "__main__":
    main()
