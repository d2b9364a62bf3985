"""A plan with its explanation on board: certificates go into ``plan.extras`` as plain JSON."""

from __future__ import annotations

from dataclasses import replace

from scheduler.answers.ahead import begun, demand_of, facts_ahead
from scheduler.answers.certificate import to_json
from scheduler.answers.certificates import certify
from scheduler.plan.types import Plan
from scheduler.season.types import Season


def with_certificates(season: Season, plan: Plan) -> Plan:
    """The same plan that says why it is short. Remedies found for it stay; older certificates are replaced."""
    found = [to_json(c) for c in certify(season, demand_of(season, plan), plan)]
    return replace(plan, extras={**plan.extras, "certificates": found})


def with_bound(season: Season, plan: Plan) -> Plan:
    """The same plan with a proven bound of its shortage, where it follows another plan and has none yet. Solves."""
    stage = plan.stage("shortfall")
    if stage is None or stage.bound or not stage.value or not begun(plan):
        return plan
    from scheduler.models.caps.limits import DayLimits
    from scheduler.models.counts.bound import shortfall_bound_of

    facts = facts_ahead(season, plan)
    least = shortfall_bound_of(facts, DayLimits(facts)).value
    if least > stage.value:  # what was recorded since is more than what was planned: it bounds another plan
        return plan
    proven = replace(stage, bound=least, proven=least == stage.value)
    return replace(plan, stages=tuple(proven if s is stage else s for s in plan.stages))


def with_limits_together(season: Season, plan: Plan) -> Plan:
    """The same plan that also says which limits prove its shortage together, where sums leave something open.

    Solves; the answer is a computation's, not a sum on paper, and is told as such.
    """
    stored = plan.extras.get("certificates")
    held = {i["line"] for c in stored for i in c["inside"]} if isinstance(stored, list) else set()
    if all(s.line in held for s in plan.shortfalls):
        return plan
    from scheduler.models.caps.limits import DayLimits
    from scheduler.models.counts.binding import limits_together

    facts = facts_ahead(season, plan)
    found = limits_together(facts, DayLimits(facts))
    return replace(plan, extras={**plan.extras, "together": {"value": found.value, "limits": list(found.limits)}})
