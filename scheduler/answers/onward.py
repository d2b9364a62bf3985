"""A changed season planned onward from the plan that is there: its days stay, only what may gain is planned anew.

Batches and packs are added where there is room, others moved to make some; weeks are planned anew only
where the plan is further from its bound than the one it comes from. The days hold under a change that only
widens limits; the audit has the last word, and where it finds anything, or in a short season, all is planned
from scratch. A plan that follows another is only ever planned onward: what is on the wall stays there.
"""

from __future__ import annotations

import math
import time
from dataclasses import replace

from scheduler.answers.ahead import begun, day_in_progress, facts_ahead
from scheduler.audit import audit
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.bound import shortfall_bound_of
from scheduler.models.counts.heads import Heads
from scheduler.models.counts.part import Weeks, short_in
from scheduler.models.counts.result import stages_of
from scheduler.models.facts import Facts
from scheduler.models.no_plan import NoPlan
from scheduler.models.search.finish import finish
from scheduler.models.search.fitted import Fitted, missed_shows
from scheduler.models.search.fitting import Fitter
from scheduler.models.search.for_less import polished
from scheduler.models.search.loop import PlanOptions, Search, plan_season
from scheduler.models.search.make_room import RoomMaker
from scheduler.plan.lots import allocate
from scheduler.plan.types import DayPlan, Plan, in_time_and_late
from scheduler.season.types import Season

GUESS = (25, 100)  # of time that is waiting, more careful than the season's search: few turns, so all days must fit
HARD = 0.15  # effort for a day: what takes longer to find seldom is found
TRIES = 40  # days that are fitted anew in one round of filling up
MUCH = 0.1  # of what is short: what weeks planned anew must be able to gain
WEEKS, TURNS = 3, 1  # planned anew at once; and how often at most
FILLING = 0.7  # of the seconds that there are; the rest is for making days cheaper
FEW_WEEKS = 2  # as long as one turn of the season's search: from scratch is as quick


def plan_onward(season: Season, plan: Plan, options: PlanOptions, below: int | None = None) -> Plan:
    """The plan with whatever more the changed season allows, every day fitted to the minute, its bound proven afresh.

    Raises what ``plan_season`` raises; NoPlan, too, where a plan that follows another breaks a rule of the season,
    and where the bound shows that no plan is less short than ``below``.
    """
    facts = facts_ahead(season, plan)
    limits, start = DayLimits(facts), given_anew(facts, plan)
    onward = begun(plan) or len(facts.weeks) > FEW_WEEKS
    bound = shortfall_bound_of(facts, limits, missed=start.missed).value if onward or below is not None else 0
    if below is not None and bound >= below:
        raise NoPlan("The bound shows that this mends nothing.")
    if onward:
        after = _fuller(facts, limits, plan, start, bound, options)
        broken = audit(season, after)
        if not broken:
            return after
        if begun(plan):
            raise NoPlan(f"The plan can't go on as it stands: {broken[0]}")
    return plan_season(season, options)


def _fuller(facts: Facts, limits: DayLimits, plan: Plan, start: Fitted, bound: int, options: PlanOptions) -> Plan:
    """Batches and packs added round by round until nothing gets less short; days that changed made cheaper."""
    until, filling = math.inf, math.inf
    if options.seconds is not None:
        until, filling = (time.monotonic() + share * options.seconds for share in (1, FILLING))
    fitter = Fitter(facts, limits, options.workers, HARD, filling)
    best, worth = start, None
    while best.worth not in (worth, (0, bound)) and time.monotonic() < filling:
        worth = best.worth
        days = {facts.season.index(d.day): d for d in best.given.days}
        given = RoomMaker(facts, fitter, days, best.given, round(TRIES * options.effort)).run()
        best = Fitted(given.days, given, missed_shows(facts, given.days))
    if not begun(plan):
        for day in plan.days:
            fitter.remember(day)
        heads, ways = Heads(facts, limits), ((GUESS,),)
        search = Search(facts, limits, heads, fitter, best, lambda: bound, _silent, guesses=ways, enough=0.5)
        best = _rearranged(search, plan, filling)
    fitter.until = until
    best = polished(fitter, best, plan.days)
    after = finish(facts, replace(options, keep=plan), best, None, bound)
    return with_past(facts, plan, after, best, bound) if begun(plan) else after


def _rearranged(search: Search, plan: Plan, until: float) -> Fitted:
    """Weeks planned anew, as long as what is short is further from its bound than in the plan as it is.

    A kitchen opened on a Sunday gives little room as long as everybody has worked six days by then: others have
    to move, too.
    """
    was = plan.stage("shortfall")
    assert was is not None  # every plan tells it (``audit.belongs``)
    usual = was.value - (was.bound or 0)
    spans = _spans(search)
    search.tried = dict.fromkeys(spans, 0)
    for weeks in spans[:TURNS]:
        far = search.best.given.weighted - search.bound - usual
        if far <= MUCH * was.value or time.monotonic() > until:
            break
        search.turn(weeks)
    return search.best


def _spans(search: Search) -> list[Weeks]:
    """A few weeks in a row in which something is short; those with an open day on which nothing is made first."""
    facts, given, weeks = search.facts, search.best.given, sorted(search.facts.weeks)
    making = {facts.season.index(d.day) for d in given.days if d.batches}
    idle = {facts.week(t) for t in facts.days if t not in making and t < max(making, default=0)}
    spans = [frozenset(weeks[max(0, end - WEEKS) : end]) for end in range(len(weeks), min(WEEKS, len(weeks)) - 1, -1)]
    spans = [span for span in spans if short_in(facts, given, span)]
    return sorted(spans, key=lambda span: not span & idle)


def _silent(_line: str) -> None:
    """Progress that nobody reads."""


def given_anew(facts: Facts, plan: Plan) -> Fitted:
    """The plan's days under the changed season: everybody keeps what they had, the rest goes to who is short.

    Of a plan that follows another only what is still to come: the rest are facts of the season.
    """
    in_time, late = in_time_and_late(plan.fills)
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
