"""A plan with its explanation on board: certificates go into ``plan.extras`` as plain JSON."""

from __future__ import annotations

from dataclasses import replace

from scheduler.answers.certificate import to_json
from scheduler.answers.certificates import certify
from scheduler.demand.build import build_demand
from scheduler.plan.types import Plan
from scheduler.season.types import Season


def with_certificates(season: Season, plan: Plan) -> Plan:
    """The same plan that says why it is short. Remedies found for it stay; older certificates are replaced."""
    demand = build_demand(season, max(0, season.index(plan.from_day)))
    found = [to_json(c) for c in certify(season, demand, plan)]
    return replace(plan, extras={**plan.extras, "certificates": found})
