"""How many shows no plan can hold: day by day, with everyone in and nothing else to do.

A show that can't be held on an otherwise empty day can't be held on any: batches, packing
and cleaning only take from it. So what is proven here holds for every plan.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import combinations, product

from scheduler.models.caps.limits import DayLimits, request_with_all
from scheduler.models.day.fit import day_fits
from scheduler.models.facts import Facts
from scheduler.models.solvers.engine import Limits, Status
from scheduler.plan.types import DayPlan
from scheduler.season import rules
from scheduler.season.types import Show

TRIES = 40  # ways to hold the shows of a day that are ruled out one by one; with more nothing is proven
EFFORT = 0.5  # of each


def fewest_missed(facts: Facts, days: Iterable[DayPlan]) -> int:
    """No plan misses fewer shows: those of decided days, and of free days those that nobody could hold.

    ``days`` are a plan's: only what it misses is looked into, so that the answer is at most what it misses.
    Example: a show at 15:00 and a last pour at 14:30.
    """
    proofs = _Proofs(facts)
    return sum(
        len(day.missed_shows) if t not in proofs.free else proofs.missed(t, len(day.missed_shows))
        for day in days
        if day.missed_shows
        for t in (facts.season.index(day.day),)
    )


class _Proofs:
    """What was tried so far, for all plans of the same facts; days alike are one."""

    def __init__(self, facts: Facts) -> None:
        self.facts, self.limits, self.free = facts, DayLimits(facts), frozenset(facts.days)
        self.known: dict[object, bool] = facts.__dict__.setdefault("_shows_tried", {})

    def missed(self, t: int, most: int) -> int:
        """How many of a day's shows are missed in every plan, up to so many."""
        shows = rules.shows_on(self.facts.season, self.facts.season.days[t])
        proven = 0
        while proven < most and not any(self._can_hold(t, some) for some in combinations(shows, len(shows) - proven)):
            proven += 1
        return proven

    def _can_hold(self, t: int, shows: tuple[Show, ...]) -> bool:
        """Whether a day may hold all these shows, as far as is known."""
        fitting = [self._fitting(t, show) for show in shows]
        if not all(fitting):
            return False
        bare = tuple(replace(show, name=str(n), weekday=None, day=None) for n, show in enumerate(shows))
        key = self.limits.signature(t), bare, tuple(fitting)
        if key not in self.known:
            ways = {tuple(sorted(way)) for way in product(*fitting)}
            self.known[key] = len(ways) > TRIES or any(self._fits(t, shows, way) for way in sorted(ways))
        return self.known[key]

    def _fitting(self, t: int, show: Show) -> tuple[str, ...]:
        """One design of each recipe that can be made at the show."""
        alike: dict[object, str] = {}
        for design in self.facts.season.designs:
            if self.facts.can_hold(t, design, show):
                alike.setdefault(rules.recipe(self.facts.season, design), design.name)
        return tuple(alike.values())

    def _fits(self, t: int, shows: tuple[Show, ...], designs: tuple[str, ...]) -> bool:
        """Whether these batches at these shows could be a day; nothing is cleaned, which is easier."""
        season = replace(self.facts.season, shows=shows, changeovers=())
        asked = replace(request_with_all(self.facts, t, designs), held=frozenset(s.name for s in shows))
        return day_fits(season, asked, Limits(effort=EFFORT)) is not Status.INFEASIBLE
