"""The same packs for less labour: where nothing can be made less short, the days are chosen anew by what they cost.

A season that is not full is planned on more days than it needs, and each of them is opened and closed, and has people
who wait. Once everything is served the choice among known days goes on with wages as its goal. What is short has a low
price there at first, since dives seldom hit all orders to the piece: few pieces that are missing are filled up on days
with room. A plan that misses more, or costs as much, is not taken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts import result
from scheduler.models.counts.part import Weeks, part_of, parts_of
from scheduler.models.day.by_hand import TRIES
from scheduler.models.day.fit import days_by_hand
from scheduler.models.facts import Facts
from scheduler.models.search.cheaper import asked_again, wages
from scheduler.models.search.column_generation import generate_columns, known_columns, master_of
from scheduler.models.search.fitted import Fitted, filled, fit_counted
from scheduler.models.search.fitting import Fitter
from scheduler.models.search.master_problem import WEIGHED
from scheduler.plan.lots import allocate, followed
from scheduler.plan.types import DayPlan, in_time_and_late

CHEAP = WEIGHED // 25  # what a weighted piece weighs where days are chosen from nothing (measured on 6 and 13 weeks)
ROUNDS = 4  # of choosing, from nothing and then beside the plan that is there
LESS = 0.005  # of the cost: what a round must save, else it is the last
LEAST = 0.5  # seconds that must be left for another
SHARE = 0.4  # of the clock that is left, for choosing; the rest is for the days
FILLING = 400  # days that are fitted with a batch more, where something is missing


def for_less(facts: Facts, limits: DayLimits, fitter: Fitter, plan: Fitted, effort: float = 1.0) -> Fitted:
    """A plan of the same season that misses no more and costs less, or the plan itself, whose days are polished."""
    search = _ForLess(facts, limits, fitter)
    for weeks in parts_of(facts):
        full = False  # weeks that are never planned from nothing without missing more
        for _ in range(max(1, round(effort * ROUNDS))):
            if fitter.left is not None and fitter.left < LEAST:
                return plan
            before = plan
            if not full:
                plan, full = search.anew(plan, weeks)
            if full:
                plan = search.beside(plan, weeks)
            if cost(facts, before) - cost(facts, plan) < LESS * cost(facts, plan):
                break
    return plan


@dataclass
class _ForLess:
    """What it is sought in."""

    facts: Facts
    limits: DayLimits
    fitter: Fitter

    def anew(self, plan: Fitted, weeks: Weeks) -> tuple[Fitted, bool]:
        """The plan with these weeks planned from nothing, and beside that what is missing; whether both miss more."""
        anew = self._chosen(plan, weeks, anew=True)
        start = anew if anew.worth > plan.worth else min(plan, anew, key=self._rank)
        beside = self._chosen(start, weeks)
        return min(plan, anew, beside, key=self._rank), min(anew.worth, beside.worth) > plan.worth

    def beside(self, plan: Fitted, weeks: Weeks) -> Fitted:
        """The plan with these weeks made of other known days beside their own, if that costs less."""
        return min(plan, self._chosen(plan, weeks), key=self._rank)

    def _rank(self, plan: Fitted) -> tuple[int, int, int]:
        return rank(self.facts, plan)

    def _chosen(self, plan: Fitted, weeks: Weeks, anew: bool = False) -> Fitted:
        """Some weeks of a plan made of other known days; the plan itself where none are found.

        ``anew``: from nothing and of new days, too, and what is short is cheap; else beside the days as they are. Days
        are polished where nothing more is missing.
        """
        facts, fitter = self.facts, self.fitter
        days = {facts.season.index(d.day): d for d in plan.given.days}
        part = part_of(facts, days, plan.given, weeks)
        now = {t: days[t] for t in part.facts.days if t in days}
        if anew:
            offered = generate_columns(part, now, fitter, self.limits, lambda: 0.0, CHEAP)
        else:
            offered = known_columns(part, now, fitter, self.limits)
        if offered is None:
            return plan
        season, left = master_of(part, now, offered.days, self.limits, CHEAP if anew else WEIGHED), fitter.left
        answer = season.chosen({} if anew else now, 0.0, left and SHARE * left, fitter.processes, offered.basis)
        if answer.wish is None:
            return plan
        fitted = fit_counted(facts, fitter, answer.wish, part=part)
        if fitted.worth > plan.worth:
            fitted = filled(facts, fitter, fitted, FILLING)
        if fitted.worth > plan.worth:
            return fitted
        return polished(fitter, without_spare(facts, fitted), plan.given.days)


def rank(facts: Facts, plan: Fitted) -> tuple[int, int, int]:
    """Smaller is better: missed shows, weighted shortfall, cents."""
    return *plan.worth, cost(facts, plan)


def cost(facts: Facts, plan: Fitted) -> int:
    """Cents for labour, and for what is late."""
    return result.cost(facts, plan.given.days, plan.given)


def without_spare(facts: Facts, plan: Fitted) -> Fitted:
    """The plan without batches of which nobody gets anything, where their days are found by hand without them.

    Those of shows and of pins stay. Known days are mostly full: where two batches are wanted it may have taken eight.
    """
    season, drawn = facts.season, {draw.lot for fill in plan.given.fills for draw in fill.draws}
    days = []
    for day in plan.given.days:
        t = season.index(day.day)
        most, pinned = Counter(day.designs), facts.pinned_on(t)
        spare = Counter(b.design for b in day.batches if b.id not in drawn and not b.show)
        left = most - Counter({design: min(n, max(0, most[design] - pinned[design])) for design, n in spare.items()})
        if left != most and t in facts.hands:
            asked = replace(asked_again(facts, t, day), designs=tuple(sorted(left.elements())))
            held = (d for d in days_by_hand(season, asked, TRIES) if d.missed_shows == day.missed_shows)
            day = min((day, *held), key=lambda d: wages(facts, d))
        days.append(day)
    given = allocate(season, facts.demand, tuple(days), *in_time_and_late(plan.given.fills))
    fewer = Fitted(given.days, given, plan.missed)
    return fewer if fewer.worth <= plan.worth else plan


def polished(fitter: Fitter, plan: Fitted, done: Iterable[DayPlan] = ()) -> Fitted:
    """The same plan, its days made cheaper one by one, and known from now on; but for those that are ``done``."""
    there = set(done)
    new = [day for day in plan.given.days if day not in there]
    cheaper = {day.day: day for day in fitter.polish(new)}
    for day in cheaper.values():
        fitter.remember(day)
    given = followed(plan.given, tuple(cheaper.get(day.day, day) for day in plan.given.days))
    return replace(plan, days=given.days, given=given)
