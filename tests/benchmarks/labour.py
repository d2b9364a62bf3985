"""What a season's labour costs by rule of thumb, as the search leaves it, and with its days chosen anew for less.

``python -m tests.benchmarks.labour S:0.8 S:1.0 M:0.8 --seeds 1 2 3 --seconds 60 --into DEVELOPERS.md`` plans each
season once and holds three plans of that run against each other, their days made cheaper in the same way; a table in
markdown: cents for labour and for what is late, weighted pieces short. The rule of thumb pays less where it makes
less; where too much is short, nothing is sought for less.
``--into FILE`` puts it between ``<!-- labour -->`` and ``<!-- end of labour -->``.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from statistics import median
from typing import Any
from unittest import mock

from scheduler.audit import audit
from scheduler.models.search import first_plan, for_less, loop
from scheduler.models.search.fitted import Fitted
from scheduler.models.search.loop import PlanOptions, plan_season
from tests.benchmarks.generate import sized
from tests.benchmarks.results import version_of_planner, where
from tests.benchmarks.table import lines, put_into

HEAD = (
    "season", "load", "seeds", "rule of thumb, short %", "short %", "rule of thumb", "searched", "for less", "less %",
)  # fmt: skip


def measured(name: str, load: float, seed: int, seconds: float) -> dict[str, float]:
    """Cents and shares of the demand of one season's three plans; the last is the one that is written."""
    caught = dict[str, Any]()

    def chosen(facts: Any, limits: Any, fitter: Any, plan: Fitted, effort: float) -> Fitted:
        caught["searched"] = plan
        return for_less.for_less(facts, limits, fitter, plan, effort)

    thumb_of = first_plan.FirstPlan.make

    def first(self: Any) -> tuple[Fitted, Fitted]:
        best, thumb = thumb_of(self)
        caught.update(facts=self.facts, fitter=self.fitter, thumb=thumb)
        return best, thumb

    season = sized(name, load, seed)
    with mock.patch.object(loop, "for_less", chosen), mock.patch.object(first_plan.FirstPlan, "make", first):
        plan = plan_season(season, PlanOptions(seconds=seconds))
    assert not audit(season, plan)
    facts, fitter, stage = caught["facts"], caught["fitter"], {s.name: s.value for s in plan.stages}
    fitter.until, weight = float("inf"), facts.demand.weight
    thumb = for_less.polished(fitter, caught["thumb"])
    searched = for_less.cost(facts, caught["searched"]) if "searched" in caught else stage["cost"]
    return {
        "thumb short": 100 * thumb.given.weighted / weight, "short": 100 * stage["shortfall"] / weight,
        "thumb": for_less.cost(facts, thumb), "searched": searched, "for less": stage["cost"],
    }  # fmt: skip


def line(name: str, load: float, runs: list[dict[str, float]]) -> list[str]:
    """Medians of all seeds; of what is saved the spread, too."""

    def middle(what: str, form: str) -> str:
        return format(median(run[what] for run in runs), form)

    saved = [100 * (1 - run["for less"] / run["searched"]) for run in runs]
    spread = f" ({min(saved):.1f} to {max(saved):.1f})" if len(saved) > 1 else ""
    shares = [middle("thumb short", ".2f"), middle("short", ".2f")]
    costs = [middle(what, ",.0f") for what in ("thumb", "searched", "for less")]
    return [name, f"{load:g}", str(len(runs)), *shares, *costs, f"{median(saved):.1f}{spread}"]


def main() -> None:
    """Measure, print, and put the table where it is wanted."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("cases", nargs="+", help="SIZE:LOAD, such as S:0.8")
    parser.add_argument("--seeds", type=int, nargs="+", default=[1])
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--into", type=Path)
    asked = parser.parse_args()
    rows = []
    for case in asked.cases:
        name, load = case.split(":")
        runs = [measured(name, float(load), seed, asked.seconds) for seed in asked.seeds]
        rows.append(line(name, float(load), runs))
        print(rows[-1], flush=True)
    text = f"{lines(HEAD, rows)}\n\n{asked.seconds:g} s each, planner of {version_of_planner()}. {where()}."
    print(text)
    if asked.into is not None:
        put_into(asked.into, text, "labour")


if __name__ == "__main__":
    main()
