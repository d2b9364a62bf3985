"""This planner through its one door, with the seconds that everyone gets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

from scheduler.models.loop import PlanOptions, plan_season
from scheduler.plan.types import Plan
from tests.benchmarks.ground import THREADS, Ground


def planner(ground: Ground) -> Plan:
    """The plan, every day fitted within the same seconds."""
    plan = plan_season(ground.season, PlanOptions(seconds=ground.seconds, workers=THREADS, **watching(ground.step)))
    stage = {s.name: s for s in plan.stages}["shortfall"]
    ground.step(stage.value, stage.bound, fitted=True)
    return plan


def watching(step: Callable[..., None]) -> dict[str, Any]:
    """The option that tells of every better plan on the way, where the planner has it."""
    if "watch" not in {f.name for f in fields(PlanOptions)}:
        return {}
    return {"watch": lambda _seconds, short, bound: step(short, bound, fitted=True)}
