"""One of the known days for each day: dives held against HiGHS' own search, on the same days and in the same seconds.

``python -m tests.benchmarks.choosing S:1.3 S:1.6 M:1.0 --seeds 1 2 3 --seconds 15`` plans each season up to the first
choice, then has both choose, one after the other; a table in markdown: what is short beyond the season of broken
days, in per cent of all that is asked for. Both begin with the plan so far; neither hears of the other.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import replace
from unittest import mock

from scheduler.models import loop
from scheduler.models.linear import job, side_by_side
from scheduler.models.loop import PlanOptions, facts_of, plan_season
from scheduler.models.relaxed import prices
from scheduler.models.season_solve import PIECE, Question, evaluate, goal, guides, shortfall
from scheduler.season.types import Season
from tests.benchmarks.generate import sized
from tests.benchmarks.results import where
from tests.benchmarks.table import lines


class FirstChoice(Exception):
    """The first question about known days alone."""

    def __init__(self, asked: Question) -> None:
        super().__init__()
        self.asked = asked


def first_choice(season: Season) -> Question:
    """Plan a season until it asks for a choice. RuntimeError where it never does."""

    def caught(asked: Sequence[Question], _workers: int) -> None:
        for one in asked:
            if not one.board.guesses:
                raise FirstChoice(one)

    with mock.patch.object(loop, "guides", caught):
        try:
            plan_season(season, PlanOptions())
        except FirstChoice as found:
            return found.asked
    raise RuntimeError("this season is planned without a choice among known days")


def by_highs(asked: Question, seconds: float) -> int | None:
    """What HiGHS leaves short, with whole orders settled as it goes; None where it finds nothing."""
    asked.board.model.minimize(goal(asked.board))
    search = replace(asked.search, gap=0.0, nodes=10**6, stall=10**6, seconds=seconds)
    answer = side_by_side([job(asked.board.model, search, asked.hints, ())], 1)[0]
    return evaluate(shortfall(asked.board), answer) if answer.status.solved else None


def compared(name: str, load: float, seed: int, seconds: float) -> list[str]:
    """A row of the table."""
    season = sized(name, load, seed)
    asked, demand = first_choice(season), facts_of(season, PlanOptions()).demand.weight
    asked.board.model.minimize(goal(asked.board))
    broken = prices(asked.board.model)
    assert broken is not None
    least = broken.value / PIECE
    highs = by_highs(asked, seconds)
    began = time.monotonic()
    (dived,) = guides([replace(asked, search=replace(asked.search, gap=0.0, seconds=seconds))], 2)
    took = time.monotonic() - began
    cells = ["none" if x is None else f"{100 * (x - least) / demand:.2f}" for x in (dived.shortfall, highs)]
    return [f"{name} {load}", str(seed), f"{100 * least / demand:.2f}", *cells, f"{took:.0f}", f"{seconds:.0f}"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("seasons", nargs="+", metavar="SEASON:LOAD")
    parser.add_argument("--seeds", nargs="+", type=int, default=[1, 2, 3])
    parser.add_argument("--seconds", type=float, default=15.0)
    asked = parser.parse_args()
    head = ["season", "seed", "broken days, % short", "dives", "HiGHS' search", "seconds of the dives", "of HiGHS"]
    print(lines(head, []))
    for one in asked.seasons:
        name, load = one.split(":")
        for seed in asked.seeds:
            print("| " + " | ".join(compared(name, float(load), seed, asked.seconds)) + " |", flush=True)
    print(f"\n{where()}")


if __name__ == "__main__":
    main()
