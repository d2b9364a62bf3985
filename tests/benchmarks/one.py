"""One run of one peer in a process of its own, so that its memory is its own and it can be stopped.

``python -m tests.benchmarks.one SEASON LOAD SEED PEER SECONDS`` prints one event a line, as JSON.
"""

from __future__ import annotations

import argparse
import json
import sys
from functools import partial
from pathlib import Path

from scheduler.models.search.loop import PlanOptions, facts_of
from scheduler.plan.files import write_plan
from scheduler.season.types import Season
from scheduler.season.write import write_season
from tests import seasons
from tests.benchmarks.generate import sized
from tests.benchmarks.ground import Event, Ground, demand_of, fit_wishes, tell_end
from tests.benchmarks.peer_by_hand import by_hand
from tests.benchmarks.peer_cpsat import counts, labelled
from tests.benchmarks.peer_highs import highs
from tests.benchmarks.peer_planner import planner

WHOLE_PLANS = {"planner": planner, "by-hand": by_hand}
WISHES = {
    "labelled": partial(labelled, guided=True),
    "counts-guided": partial(counts, guided=True),
    "highs-guided": partial(highs, guided=True),
    "wheel-flows-guided": partial(highs, flows=True, guided=True),
    "highspy-guided": partial(highs, own=True, guided=True),
    "flows-guided": partial(highs, flows=True, own=True, guided=True),
    "counts": counts,
    "highs": highs,
    "highs-flows": partial(highs, flows=True, own=True),
}


def master_of(name: str, load: float, seed: int) -> Season:
    """A season by size; "tiny" is the size that brute force can solve."""
    return seasons.tiny(seed) if name == "tiny" else sized(name, load, seed)


def run(ground: Ground, peer: str, every: bool = False, keep: Path | None = None) -> None:
    """Let a peer plan, then fit what it hoped for and have it audited; ``keep`` a whole planner's plan in a folder."""
    ground.tell({"kind": "start", "demand": demand_of(facts_of(ground.season, PlanOptions()))})
    if peer in WHOLE_PLANS:
        plan = WHOLE_PLANS[peer](ground)
        ground.tell({"kind": "searched", "at": round(ground.now, 1)})
        tell_end(ground, plan)
        if keep is not None:
            keep.mkdir(parents=True, exist_ok=True)
            write_season(ground.season, keep / "season")
            write_plan(plan, keep / "plan.json")
        return
    wish_of = WISHES[peer](ground)
    ground.tell({"kind": "searched", "at": round(ground.now, 1)})
    fit_wishes(ground, wish_of, every)


def main() -> None:
    """One run by the words of the command line; events to standard output."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("season")
    parser.add_argument("load", type=float)
    parser.add_argument("seed", type=int)
    parser.add_argument("peer", choices=[*WHOLE_PLANS, *WISHES])
    parser.add_argument("seconds", type=float)
    parser.add_argument("--fit", type=float, default=60, help="seconds for fitting afterwards")
    parser.add_argument("--every", action="store_true")
    parser.add_argument("--keep", type=Path, help="folder for the season and the plan")
    asked = parser.parse_args()
    events = sys.stdout
    sys.stdout = sys.stderr  # whatever a solver prints is not an event

    def tell(event: Event) -> None:
        print(json.dumps(event), file=events, flush=True)

    season = master_of(asked.season, asked.load, asked.seed)
    run(Ground(season, asked.seconds, tell, asked.fit), asked.peer, asked.every, asked.keep)


if __name__ == "__main__":
    main()
