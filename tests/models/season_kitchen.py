"""What a season delivers: by the planner, audited, and by the season model alone."""

from __future__ import annotations

from collections import Counter

from scheduler.audit import audit
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.solve import Question, SeasonAnswer, build, guides
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.models.solvers.linear import MipLimits
from scheduler.plan.types import Plan, StageResult
from scheduler.season.types import Order, Season
from tests.handmade import day


def order(packs: int, due: int, product: str = "Kite bag", id: str = "A", **changes: object) -> Order:
    """An order of packs due on day ``due``."""
    return Order(id, product, packs, day(due), **changes)  # type: ignore[arg-type]


def stage(plan: Plan, name: str = "shortfall") -> StageResult:
    return next(s for s in plan.stages if s.name == name)


def planned(season: Season) -> Plan:
    """The plan of a season; it keeps every rule and is not below its bound."""
    plan = plan_season(season)
    assert audit(season, plan) == ()
    short = stage(plan)
    assert short.bound is not None and short.bound <= short.value
    return plan


def hoped(season: Season, options: PlanOptions = PlanOptions()) -> SeasonAnswer:
    """What the season model alone asks of the days, with nothing held back for waiting."""
    facts = facts_of(season, options)
    board = build(facts, DayLimits(facts, usual_idle=0, batch_idle=0))
    return guides([Question(board, MipLimits(nodes=1000, stall=1000), {}, len(board.held))])[0]


def delivers(season: Season) -> Counter[str]:
    """Packs by line, the same for the planner and for the season model alone."""
    plan = planned(season)
    assert hoped(season).shortfall == stage(plan).value
    return Counter({line: sum(f.packs for f in plan.fills if f.line == line) for line in {f.line for f in plan.fills}})
