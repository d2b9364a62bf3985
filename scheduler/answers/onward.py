"""A changed season planned onward from the plan that is there: its days stay, only what may gain is planned anew.

The days hold under a change that only widens limits; the audit has the last word, and where it
finds anything, or where the season is so short that nothing would stay, all is planned from scratch.
"""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import replace

from scheduler.audit import audit
from scheduler.models.bound import shortfall_bound_of
from scheduler.models.facts import Facts
from scheduler.models.fitting import Fitter
from scheduler.models.limits import DayLimits
from scheduler.models.loop import Fitted, PlanOptions, facts_of, filled, finish, missed_shows, plan_season
from scheduler.plan.lots import allocate, followed
from scheduler.plan.types import Plan
from scheduler.season.types import Season

TRIES = 40  # days that are fitted anew in one round of filling up
FEW_WEEKS = 2  # as long as one turn of the season's search: from scratch is as quick


def plan_onward(season: Season, plan: Plan, options: PlanOptions) -> Plan:
    """The plan with whatever more the changed season allows, every day fitted to the minute, its bound proven afresh.

    Raises what ``plan_season`` raises.
    """
    facts = facts_of(season, options)
    if len(facts.weeks) > FEW_WEEKS:
        after = _fuller(facts, plan, options)
        if not audit(season, after):
            return after
    return plan_season(season, options)


def _fuller(facts: Facts, plan: Plan, options: PlanOptions) -> Plan:
    """Batches and packs added round by round until nothing gets less short; days that changed made cheaper."""
    began = time.monotonic()
    limits = DayLimits(facts)
    fitter = Fitter(facts, limits, options.workers)
    bound = shortfall_bound_of(facts, limits).value
    start = best = given_anew(facts, plan)
    worth = None
    while best.worth not in (worth, (0, bound)):
        worth = best.worth
        best = filled(facts, fitter, best, round(TRIES * options.effort))
        if options.seconds is not None and time.monotonic() - began > options.seconds:
            break
    old = set(plan.days)
    changed = [day for day in best.given.days if day not in old]
    cheaper = {day.day: day for day in fitter.polish(changed)}
    days = tuple(cheaper.get(day.day, day) for day in best.given.days)
    return finish(facts, options, replace(best, given=followed(best.given, days)), start, bound)


def given_anew(facts: Facts, plan: Plan) -> Fitted:
    """The plan's days under the changed season: everybody keeps what they had, the rest goes to who is short."""
    in_time, late = Counter[str](), Counter[str]()
    for fill in plan.fills:
        if fill.packed is not None:
            (late if fill.late else in_time)[fill.line] += fill.packs
    given = allocate(facts.season, facts.demand, plan.days, in_time, late)
    return Fitted(given.days, given, missed_shows(facts, given.days))
