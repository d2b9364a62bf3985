"""stub"""

from __future__ import annotations

from scheduler.models.facts import Facts
from scheduler.models.limits import DayLimits


def shortfall_bound_of(facts: Facts, limits: DayLimits) -> int:
    return 0
