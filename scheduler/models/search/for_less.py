"""The same packs for less labour: where nothing can be made less short, the days are chosen anew by what they cost.

A season that is not full is planned on more days than it needs, and each of them is opened and closed, and has people
who wait. Once everything is served the choice among known days goes on with wages as its goal. What is short has a low
price there at first, since dives seldom hit all orders to the piece: few pieces that are missing are filled up on days
with room. A plan that misses more, or costs as much, is not taken.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import partial

from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.part import Weeks, part_of, parts_of
from scheduler.models.counts.result import labour_cost, late_cost
from scheduler.models.facts import Facts
from scheduler.models.search.better_days import OFFERED, known_days, season_of, to_choose_from
from scheduler.models.search.fitted import Fitted, filled, fit_counted
from scheduler.models.search.fitting import Fitter
from scheduler.models.search.known_season import WEIGHED
from scheduler.plan.lots import followed
from scheduler.plan.types import DayPlan

CHEAP = WEIGHED // 25  # what a weighted piece weighs where days are chosen from nothing (measured on 6 and 13 weeks)
ROUNDS = 4  # of choosing, from nothing and then beside the plan that is there
LESS = 0.003  # of the cost: what a round must save, else it is the last
LEAST = 0.5  # seconds that must be left for another
SHARE = 0.4  # of the clock that is left, for choosing; the rest is for the days
FILLING = 400  # days that are fitted with a batch more, where something is missing


def for_less(facts: Facts, limits: DayLimits, fitter: Fitter, plan: Fitted, effort: float = 1.0) -> Fitted:
    """A plan of the same season that misses no more and costs less, or the plan itself, whose days are polished."""
    search = _ForLess(facts, limits, fitter)
    for weeks in parts_of(facts):
        for _ in range(max(1, round(effort * ROUNDS))):
            if fitter.left is not None and fitter.left < LEAST:
                return plan
            before, plan = plan, search.better(plan, weeks)
            if cost(facts, before) - cost(facts, plan) < LESS * cost(facts, plan):
                break
    return plan


@dataclass
class _ForLess:
    """What it is sought in; ``full``: weeks that are never planned from nothing without missing more."""

    facts: Facts
    limits: DayLimits
    fitter: Fitter
    full: set[Weeks] = field(default_factory=set)

    def better(self, plan: Fitted, weeks: Weeks) -> Fitted:
        """The plan with these weeks planned anew: from nothing, and beside that what is missing; or beside the plan."""
        key, best = partial(rank, self.facts), plan
        if weeks not in self.full:
            anew = self._chosen(plan, weeks, CHEAP)
            start = anew if anew.worth > plan.worth else min(plan, anew, key=key)
            beside = self._chosen(start, weeks)
            best = min(plan, anew, beside, key=key)
            if min(anew, beside, key=key).worth <= plan.worth:
                return best
            self.full.add(weeks)
        return min(best, self._chosen(best, weeks), key=key)

    def _chosen(self, plan: Fitted, weeks: Weeks, weighed: int = WEIGHED) -> Fitted:
        """Some weeks of a plan made of other known days; the plan itself where none are found.

        ``weighed``: what a weighted piece that is missing weighs in wages; less than usual: from nothing, else beside
        the days as they are. Days are polished where nothing more is missing.
        """
        facts, fitter = self.facts, self.fitter
        days = {facts.season.index(d.day): d for d in plan.given.days}
        part = part_of(facts, days, plan.given, weeks)
        now = {t: days[t] for t in part.facts.days if t in days}
        board = season_of(part, now, known_days(part.facts, now, fitter, OFFERED), self.limits, weighed)
        found = board.priced(fitter.left)
        if found is None:
            return plan
        season = season_of(part, now, to_choose_from(board, found, now), self.limits, weighed)
        start, left = now if weighed == WEIGHED else {}, fitter.left
        answer = season.chosen(start, 0.0, left and SHARE * left, fitter.workers, found.corner)
        if answer.wish is None:
            return plan
        fitted = fit_counted(facts, fitter, answer.wish, part=part)
        if fitted.worth > plan.worth:
            fitted = filled(facts, fitter, fitted, FILLING)
        return polished(fitter, fitted, plan.given.days) if fitted.worth <= plan.worth else fitted


def rank(facts: Facts, plan: Fitted) -> tuple[int, int, int]:
    """Smaller is better: missed shows, weighted shortfall, cents."""
    return *plan.worth, cost(facts, plan)


def cost(facts: Facts, plan: Fitted) -> int:
    """Cents for labour, and for what is late."""
    return labour_cost(facts, plan.given.days) + late_cost(facts, plan.given)


def polished(fitter: Fitter, plan: Fitted, done: Iterable[DayPlan] = ()) -> Fitted:
    """The same plan, its days made cheaper one by one, and known from now on; but for those that are ``done``."""
    there = set(done)
    new = [day for day in plan.given.days if day not in there]
    cheaper = {day.day: day for day in fitter.polish(new)}
    for day in cheaper.values():
        fitter.remember(day)
    given = followed(plan.given, tuple(cheaper.get(day.day, day) for day in plan.given.days))
    return replace(plan, days=given.days, given=given)
