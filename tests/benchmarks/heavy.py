"""Measurements that need a process of their own: each prints one JSON object. Started by ``targets``.

``python -m tests.benchmarks.heavy fit L 1.0 1`` fits all days of the rule of thumb's wish.
``python -m tests.benchmarks.heavy rebalance FOLDER 12`` rebalances a kept plan (``plan.json`` and
``season`` in a folder, as ``run --keep`` writes them) for so many cases of somebody ill.
"""

from __future__ import annotations

import json
import math
import statistics
import sys
import time
from contextlib import suppress
from pathlib import Path

from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import rebalance
from scheduler.models.no_plan import NoPlan
from scheduler.models.search.fitted import fit_whole
from scheduler.plan.files import read_plan
from scheduler.season.read import read_season
from scheduler.season.types import Absence
from tests.benchmarks.generate import sized
from tests.benchmarks.ground import Ground, by_rule_of_thumb
from tests.trust.rebalance import cases


def fit(size: str, load: str, seed: str) -> dict[str, object]:
    """Seconds to work out what days hold and the rule of thumb, then to fit all its days; days made lighter."""
    ground = Ground(sized(size, float(load), int(seed)), math.inf, lambda _event: None)
    wish = by_rule_of_thumb(ground)
    before, began, core = ground.now, time.monotonic(), time.process_time()
    fitted = fit_whole(ground.facts, ground.fitter, wish)
    return {
        "seconds": time.monotonic() - began, "core": time.process_time() - core, "before": before,
        "days": len(fitted.days), "batches": sum(len(d.batches) for d in fitted.days),
        "lighter": fitted.failed,
    }  # fmt: skip


def ill(folder: str, count: str) -> dict[str, object]:
    """Seconds of rebalancing, one person ill for one day, spread over the season."""
    season, plan = read_season(Path(folder) / "season"), read_plan(Path(folder) / "plan.json")
    everyone = list(cases(plan, 10))
    times, none = list[float](), 0
    for day, person, minute in everyone[:: max(1, len(everyone) // int(count))][: int(count)]:
        began, found = time.monotonic(), None
        with suppress(NoPlan):
            found = rebalance(season, plan, Moment(day, minute), [Absence(person, day, day, minute, reason="ill")])
        times.append(time.monotonic() - began)
        none += found is None
        choices = found.choices if found else ()
        told = [f"{c.points} points ({c.least_points}), {c.lost_packs} packs lost" for c in choices]
        print(f"{day} {person} {minute}: {times[-1]:.1f} s; {'; '.join(told)}", file=sys.stderr, flush=True)
    return {"median": statistics.median(times), "worst": max(times), "cases": len(times), "none": none}


def main(what: str, *words: str) -> None:
    """One measurement; whatever a solver prints goes elsewhere."""
    out, sys.stdout = sys.stdout, sys.stderr
    print(json.dumps({"fit": fit, "rebalance": ill}[what](*words)), file=out)


if __name__ == "__main__":
    main(*sys.argv[1:])
