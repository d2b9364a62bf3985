"""This planner through its one door, with the seconds that everyone gets."""

from __future__ import annotations

from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.types import Plan
from tests.benchmarks.ground import THREADS, Ground


def planner(ground: Ground) -> Plan:
    """The plan, every day fitted within the same seconds; every better plan on the way is a step."""

    def watch(_seconds: float, short: int, bound: int) -> None:
        ground.step(short, bound, fitted=True)

    plan = plan_season(ground.season, PlanOptions(seconds=ground.seconds, workers=THREADS, watch=watch))
    stage = {s.name: s for s in plan.stages}["shortfall"]
    ground.step(stage.value, stage.bound, fitted=True)
    return plan
