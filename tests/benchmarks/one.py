"""One run of one peer in a process of its own, so that its memory is its own and it can be stopped.

``python -m tests.benchmarks.one SEASON LOAD SEED PEER SECONDS [every]`` prints one event a line, as JSON.
"""

from __future__ import annotations

import json
import sys
from functools import partial

from scheduler.models.loop import PlanOptions, facts_of
from scheduler.season.types import Season
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
    "counts": counts,
    "counts-guided": partial(counts, guided=True),
    "highs": highs,
    "highs-guided": partial(highs, guided=True),
    "flows-guided": partial(highs, flows=True, own=True, guided=True),
    "highs-flows": partial(highs, flows=True, own=True),
    "highs-wheel-flows": partial(highs, flows=True),
    "highspy": partial(highs, own=True),
}


def season_of(name: str, load: float, seed: int) -> Season:
    """A season by size; "tiny" is the size that brute force can solve."""
    return seasons.tiny(seed) if name == "tiny" else sized(name, load, seed)


def run(ground: Ground, peer: str, every: bool = False) -> None:
    """Let a peer plan, then fit what it hoped for and have it audited."""
    ground.tell({"kind": "start", "demand": demand_of(facts_of(ground.season, PlanOptions()))})
    if peer in WHOLE_PLANS:
        plan = WHOLE_PLANS[peer](ground)
        ground.tell({"kind": "searched", "at": round(ground.now, 1)})
        tell_end(ground, plan)
        return
    wish_of = WISHES[peer](ground)
    ground.tell({"kind": "searched", "at": round(ground.now, 1)})
    fit_wishes(ground, wish_of, every)


def main(words: list[str]) -> None:
    """The words of the command line; events to standard output."""
    name, load, seed, peer, seconds, *more = words
    events = sys.stdout
    sys.stdout = sys.stderr  # whatever a solver prints is not an event

    def tell(event: Event) -> None:
        print(json.dumps(event), file=events, flush=True)

    run(Ground(season_of(name, float(load), int(seed)), float(seconds), tell), peer, bool(more))


if __name__ == "__main__":
    main(sys.argv[1:])
