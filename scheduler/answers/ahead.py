"""What lies ahead of a plan: what is still wanted, and what planning onward from it starts from."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from scheduler.demand.build import build_demand
from scheduler.demand.lines import Demand
from scheduler.plan.begun import has_begun
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.types import Season

if TYPE_CHECKING:
    from scheduler.models.facts import Facts


def begun(plan: Plan) -> bool:
    """Whether the plan follows another: what came before is a fact of its season."""
    return (plan.from_day, plan.from_minute) > (plan.first_day, 0)


def demand_of(season: Season, plan: Plan) -> Demand:
    """What is wanted from the plan's first day on; finished packs stay with whom the plan gives them."""
    shelf = Counter[str]()
    for fill in plan.fills:
        shelf[fill.line] += fill.packs if fill.pack_lot else 0
    return build_demand(season, max(0, season.index(plan.from_day)), shelf)


def day_in_progress(plan: Plan) -> DayPlan | None:
    """The day on which a plan begins, where it is under way at that minute: nothing is added to it."""
    today = next((d for d in plan.days if d.day == plan.from_day), None)
    return today if today is not None and has_begun(today, plan.from_minute) else None


def facts_ahead(season: Season, plan: Plan) -> Facts:
    """What planning the season afresh starts from; of a plan that follows another, what it started from."""
    from scheduler.models.replan.choices import Ahead
    from scheduler.models.search.loop import PlanOptions, facts_of

    if not begun(plan):
        return facts_of(season, PlanOptions())
    return Ahead(season, plan, plan.from_day, plan.from_minute, day_in_progress(plan)).facts
