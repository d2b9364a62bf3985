"""The first plan: sketches of the whole season and the rule of thumb, the best of them filled up."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from scheduler.models.facts import Facts
from scheduler.models.fitted import Fitted, filled, fit_whole
from scheduler.models.fitting import FEW, Fitter
from scheduler.models.limits import DayLimits
from scheduler.models.part import is_small
from scheduler.models.season import Wish
from scheduler.models.sketch import sketch
from scheduler.models.thumb import rule_of_thumb

FILLING, A_LITTLE = 400, 24  # days that are fitted with a batch more, to fill a plan up: the best one, and each before


@dataclass(frozen=True)
class FirstPlan:
    """A first plan under way; ``heard`` is told of each plan on the way."""

    facts: Facts
    limits: DayLimits
    fitter: Fitter
    say: Callable[[str], None]
    heard: Callable[[Fitted], None]

    def make(self, later: Callable[[], Wish | None] | None) -> tuple[Fitted, Fitted]:
        """(the best there is, that by rule of thumb).

        A small season has two sketches first; a larger one may have one that comes ``later``.
        """
        facts, fitter = self.facts, self.fitter
        self.say("a first sketch of the season")
        missing = [0, None] if facts.shows else [None]
        wishes = (sketch(facts, self.limits, shows) for shows in missing if is_small(facts))
        sketched = self._best_of(wishes)
        self.say("planning by rule of thumb")
        thumb = fit_whole(facts, fitter, rule_of_thumb(facts, self.limits), learn=False, by_hand=True)
        thumb = filled(facts, fitter, thumb, A_LITTLE)
        if later is not None:
            self.heard(thumb)
            sketched = self._best_of([later()])
        best = thumb if sketched is None or thumb.worth <= sketched.worth else sketched
        best = filled(facts, fitter, best, FILLING)
        self.heard(best)
        return best, thumb

    def _best_of(self, wishes: Iterable[Wish | None]) -> Fitted | None:
        """The best of some sketches, with a little more on its days."""
        best: Fitted | None = None
        for wish in wishes:
            if wish is not None:
                fitted = fit_whole(self.facts, self.fitter, wish, learn=False, by_hand=True, tries=FEW)
                self.heard(fitted)
                best = fitted if best is None or fitted.worth < best.worth else best
        if best is not None:
            best = filled(self.facts, self.fitter, best, A_LITTLE)
            self.heard(best)
        return best
