"""A plan with its explanation on board: certificates go into ``plan.extras`` as plain JSON."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from scheduler.answers.certificate import to_json
from scheduler.answers.certificates import certify
from scheduler.demand.build import build_demand
from scheduler.plan.types import Plan
from scheduler.season.types import Season


def with_certificates(season: Season, plan: Plan) -> Plan:
    """The same plan that says why it is short. Remedies found for it stay; older certificates are replaced."""
    shelf = Counter[str]()  # finished packs go to whom the plan gives them
    for fill in plan.fills:
        shelf[fill.line] += fill.packs if fill.pack_lot else 0
    demand = build_demand(season, max(0, season.index(plan.from_day)), shelf)
    found = [to_json(c) for c in certify(season, demand, plan)]
    return replace(plan, extras={**plan.extras, "certificates": found})


def with_limits_together(season: Season, plan: Plan) -> Plan:
    """The same plan that also says which limits prove its shortage together, where sums leave something open.

    Solves; the answer is a computation's, not a sum on paper, and is told as such.
    """
    stored = plan.extras.get("certificates")
    held = {i["line"] for c in stored for i in c["inside"]} if isinstance(stored, list) else set()
    if all(s.line in held for s in plan.shortfalls):
        return plan
    from scheduler.models.binding import limits_together
    from scheduler.models.limits import DayLimits
    from scheduler.models.loop import PlanOptions, facts_of

    begun = plan.from_day > season.kitchen.first_day
    facts = facts_of(season, PlanOptions(from_day=plan.from_day, keep=plan) if begun else PlanOptions())
    found = limits_together(facts, DayLimits(facts))
    return replace(plan, extras={**plan.extras, "together": {"value": found.value, "limits": list(found.limits)}})
