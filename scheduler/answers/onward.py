"""A changed season planned onward from the plan that is there: its days stay, only what may gain is planned anew.

Batches and packs are added where there is room; weeks are planned anew only where that gains next to
nothing of what the change promises. The days hold under a change that only widens limits; the audit has
the last word, and where it finds anything, or in a short season, all is planned from scratch.
A plan that follows another is only ever planned onward: what is on the wall stays there.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from scheduler.answers.ahead import begun, day_in_progress, facts_ahead
from scheduler.audit import audit
from scheduler.models.bound import shortfall_bound_of
from scheduler.models.facts import Facts
from scheduler.models.fill_up import Filler
from scheduler.models.fitting import Fitter
from scheduler.models.heads import Heads
from scheduler.models.limits import DayLimits
from scheduler.models.loop import (
    Fitted,
    NoPlan,
    PlanOptions,
    Search,
    finish,
    missed_shows,
    plan_season,
)
from scheduler.models.result import stages_of
from scheduler.plan.lots import allocate, followed
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.types import Season

QUICK = (((10, 60),), ((0, 0),))  # one guess at a time: a remedy is planned in seconds
TRIES = 40  # days that are fitted anew in one round of filling up
MUCH = 0.2  # of what is short
NEXT_TO_NOTHING = 0.1  # of what is hoped for
FILLING = 0.7  # of the seconds that there are; the rest is for making days cheaper
FEW_WEEKS = 2  # as long as one turn of the season's search: from scratch is as quick


def plan_onward(season: Season, plan: Plan, options: PlanOptions) -> Plan:
    """The plan with whatever more the changed season allows, every day fitted to the minute, its bound proven afresh.

    Raises what ``plan_season`` raises; NoPlan, too, where a plan that follows another breaks a rule of the season.
    """
    facts = facts_ahead(season, plan)
    if begun(plan) or len(facts.weeks) > FEW_WEEKS:
        after = _fuller(facts, plan, options)
        broken = audit(season, after)
        if not broken:
            return after
        if begun(plan):
            raise NoPlan(f"The plan can't go on as it stands: {broken[0]}")
    return plan_season(season, options)


@dataclass
class _InTime(Filler):
    """Filling up that tries no further day once the clock has passed ``until`` (of ``time.monotonic``)."""

    until: float = math.inf

    def _add_batch(self, *asked: Any) -> int | None:
        return None if time.monotonic() > self.until else super()._add_batch(*asked)


def _fuller(facts: Facts, plan: Plan, options: PlanOptions) -> Plan:
    """Batches and packs added round by round until nothing gets less short; days that changed made cheaper."""
    until, filling = math.inf, math.inf
    if options.seconds is not None:
        until, filling = (time.monotonic() + share * options.seconds for share in (1, FILLING))
    limits = DayLimits(facts)
    fitter = Fitter(facts, limits, options.workers, until=until)
    bound = shortfall_bound_of(facts, limits).value
    start = best = given_anew(facts, plan)
    worth = None
    while best.worth not in (worth, (0, bound)) and time.monotonic() < filling:
        worth = best.worth
        days = {facts.season.index(d.day): d for d in best.given.days}
        given = _InTime(facts, fitter, days, best.given, round(TRIES * options.effort), filling).run()
        best = Fitted(given.days, given, missed_shows(facts, given.days))
    if not begun(plan):
        search = Search(facts, limits, Heads(facts, limits), fitter, best, bound, _silent, QUICK, 0.3)
        best = _rearranged(search, plan, filling)
    old = set(plan.days)
    changed = [day for day in best.given.days if day not in old and facts.season.index(day.day) >= facts.from_index]
    cheaper: dict[date, DayPlan] = {}
    for day in changed:
        if time.monotonic() < until:
            cheaper[day.day] = fitter.polish([day])[0]
    done = tuple(cheaper.get(day.day, day) for day in best.given.days)
    best = replace(best, given=followed(best.given, done))
    after = finish(facts, replace(options, keep=plan), best, start, bound)
    return with_past(facts, plan, after, best, bound) if begun(plan) else after


def _rearranged(search: Search, plan: Plan, until: float) -> Fitted:
    """Weeks planned anew where the change takes much off the bound, and filling up gained next to nothing of it.

    Candy that keeps longer or an order that moves gives no room on a full day: others have to move, too. That
    takes its time, so that what is worth little, and what gained something as it is, does without.
    """
    was = next(s for s in plan.stages if s.name == "shortfall")
    hoped = (was.bound or 0) - search.bound
    while (weeks := search.most_promising()) is not None:
        gained = was.value - search.best.given.weighted
        if hoped < MUCH * was.value or gained > NEXT_TO_NOTHING * hoped or time.monotonic() > until:
            break
        search.turn(weeks)
    return search.best


def _silent(_line: str) -> None:
    """Progress that nobody reads."""


def given_anew(facts: Facts, plan: Plan) -> Fitted:
    """The plan's days under the changed season: everybody keeps what they had, the rest goes to who is short.

    Of a plan that follows another only what is still to come: the rest are facts of the season.
    """
    in_time, late = Counter[str](), Counter[str]()
    for fill in plan.fills:
        if fill.packed is not None:
            (late if fill.late else in_time)[fill.line] += fill.packs
    days = plan.days
    if begun(plan):
        today = () if day_in_progress(plan) is None else facts.done[-1:]
        days = (*today, *(d for d in plan.days if facts.season.index(d.day) >= facts.from_index))
    given = allocate(facts.season, facts.demand, days, in_time, late)
    return Fitted(given.days, given, missed_shows(facts, given.days))


def with_past(facts: Facts, plan: Plan, after: Plan, best: Fitted, bound: int) -> Plan:
    """The plan with the days, and the packing of today, that lie behind."""
    past = [d for d in plan.days if d.day < plan.from_day]
    today = day_in_progress(plan)
    rest = []
    for day in after.days:
        if day.day < plan.from_day:
            continue  # looked at by filling up, without its packing
        if today is not None and day.day == today.day:
            done = tuple(run for run in today.packing if run.ends <= plan.from_minute)
            day = replace(day, packing=(*done, *day.packing))
        rest.append(day)
    days: tuple[DayPlan, ...] = (*past, *rest)
    stages = stages_of(facts, days, best.given, bound)
    return replace(after, days=days, stages=stages, from_day=plan.from_day, from_minute=plan.from_minute)
