"""One of the known days for each day: dives held against HiGHS' own search, on the same days and in the same seconds.

``python -m tests.benchmarks.choosing S:1.3 S:1.6 M:1.0 --seeds 1 2 3 --seconds 15`` plans each season up to the first
choice, then has both choose, one after the other; a table in markdown: what is short beyond the season of broken
days, in per cent of all that is asked for. Both begin with the plan so far; neither hears of the other.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Mapping
from datetime import timedelta
from unittest import mock

from ortools.math_opt.python import mathopt
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.models.search.master_problem import MasterProblem
from scheduler.plan.types import DayPlan
from scheduler.season.types import Season
from tests.benchmarks.generate import sized
from tests.benchmarks.results import where
from tests.benchmarks.table import lines


class FirstChoice(Exception):
    """The first season of known days alone that a choice is asked of, and the plan so far."""

    def __init__(self, season: MasterProblem, now: Mapping[int, DayPlan]) -> None:
        super().__init__()
        self.season, self.now = season, now


def first_choice(season: Season) -> FirstChoice:
    """Plan a season until it asks for a choice. RuntimeError where it never does."""

    def caught(asked: MasterProblem, now: Mapping[int, DayPlan], *_: object) -> None:
        raise FirstChoice(asked, now)

    with mock.patch.object(MasterProblem, "chosen", caught):
        try:
            plan_season(season, PlanOptions())
        except FirstChoice as found:
            return found
    raise RuntimeError("this season is planned without a choice among known days")


def by_highs(asked: FirstChoice, seconds: float) -> float | None:
    """What HiGHS leaves short with whole days; None where it finds nothing."""
    model = mathopt.Model.from_model_proto(asked.season.model.export_model())
    shares = {t: [(day, model.get_variable(use.id)) for day, use in some] for t, some in asked.season.columns.items()}
    values = {share: float(day is asked.now.get(t)) for t, some in shares.items() for day, share in some}
    for share in values:
        share.integer = True
    start = mathopt.ModelSolveParameters(solution_hints=[mathopt.SolutionHint(variable_values=values)])
    params = mathopt.SolveParameters(time_limit=timedelta(seconds=seconds), relative_gap_tolerance=0.0)
    result = mathopt.solve(model, mathopt.SolverType.HIGHS, params=params, model_params=start)
    return result.objective_value() if result.has_primal_feasible_solution() else None


def compared(name: str, load: float, seed: int, seconds: float) -> list[str]:
    """A row of the table."""
    season = sized(name, load, seed)
    asked, demand = first_choice(season), facts_of(season, PlanOptions()).demand.weight
    broken = asked.season.solve_lp()
    assert broken is not None
    highs = by_highs(asked, seconds)
    began = time.monotonic()
    dived = asked.season.chosen(asked.now, 0.0, seconds, 2).shortfall
    took = time.monotonic() - began
    cells = ["none" if x is None else f"{100 * (x - broken.value) / demand:.2f}" for x in (dived, highs)]
    return [f"{name} {load}", str(seed), f"{100 * broken.value / demand:.2f}", *cells, f"{took:.0f}", f"{seconds:.0f}"]


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
