"""The first plan: the season sketched or drawn as a whole, and the rule of thumb; the best of them filled up."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from dataclasses import dataclass, field
from functools import partial

from scheduler.models.caps.limits import DayLimits, Proven
from scheduler.models.counts.board import Wish
from scheduler.models.counts.part import is_large, is_small, size_of
from scheduler.models.facts import Facts
from scheduler.models.search.drawn import drawn
from scheduler.models.search.fitted import Fitted, filled, fit_counted, fit_whole
from scheduler.models.search.fitting import BY_HAND, QUICKLY, Fitter
from scheduler.models.search.sketch import sketch
from scheduler.models.search.thumb import rule_of_thumb
from scheduler.models.solvers.spread import aside, in_time

FILLING, A_LITTLE = 400, 24  # days that are fitted with a batch more, to fill a plan up: the best one, and each before
DRAWN_IN_A_SECOND = 600  # days times designs; where there is no time to make them whole once, it is not begun
DRAWN_ENOUGH_IN_A_SECOND = 120  # between small and large: with a clock, choosing among known days gains more then
DRAWING = 0.75  # of the clock that is left, for drawing a season: gains more than planning its weeks anew afterwards
LITTLE = 0.03  # share of the demand that a sketch of a small season is short at most where the season is drawn, too


@dataclass
class FirstPlan:
    """A first plan under way; ``heard`` is told of each better plan on the way.

    ``prove`` finds the bound of plans that miss no show: aside, where there are processes to spare.
    """

    facts: Facts
    limits: DayLimits
    fitter: Fitter
    prove: Callable[[DayLimits], int]
    say: Callable[[str], None]
    heard: Callable[[Fitted], None]
    proof: Future[int | None] | None = field(default=None, init=False)
    told: tuple[int, int] | None = field(default=None, init=False)  # worth of the best so far

    def make(self) -> tuple[Fitted, Fitted]:
        """(the best there is, that by rule of thumb)."""
        return self._small() if is_small(self.facts) else self._large()

    def _small(self) -> tuple[Fitted, Fitted]:
        """Two sketches, with and without all shows, the rule of thumb, a drawing where little is short; the best."""
        self.limits.prepare()
        self._prove_aside()
        self.say("a first sketch of the season")
        missing = [0, None] if self.facts.shows else [None]
        sketched = self._best_of(sketch(self.facts, self.limits, shows) for shows in missing)
        thumb = self._thumb()
        best = thumb if sketched is None or thumb.worth <= sketched.worth else sketched
        if 0 < best.given.weighted <= LITTLE * self.facts.demand.weight and (fitted := self._drawn(best)) is not None:
            best = min(best, fitted, key=lambda f: f.worth)
        return self._filled(best), thumb

    def _large(self) -> tuple[Fitted, Fitted]:
        """The rule of thumb, then the season is drawn, where there is time; the better of the two filled up."""
        thumb = self._thumb_and_proof()
        fitted = self._drawn()
        self._prove_aside()
        return self._filled(thumb if fitted is None or thumb.worth <= fitted.worth else fitted), thumb

    def _drawn(self, start: Fitted | None = None) -> Fitted | None:
        """The season drawn, from a plan or from nothing, its days remembered; None where there is no time for it."""
        missed = 0 if self.facts.shows else None
        share = DRAWING * (self.fitter.until - time.monotonic())
        if share < math.inf and not is_small(self.facts) and not is_large(self.facts):
            share = min(share, size_of(self.facts) / DRAWN_ENOUGH_IN_A_SECOND)
        until = time.monotonic() + share
        if until - time.monotonic() < size_of(self.facts) / DRAWN_IN_A_SECOND:
            return None
        index = self.facts.season.index
        days = None if start is None else {index(day.day): day.designs for day in start.given.days}
        found = drawn(self.facts, self.limits, missed, until, self.fitter.processes, self.say, days)
        for day in () if found is None else found.days:
            self.fitter.remember(day)
        return self._best_of([None if found is None else found.wish])

    def _thumb_and_proof(self) -> Fitted:
        """The rule of thumb, while it is proven aside what days hold."""
        proven = aside(self.limits.copy().prove, self.fitter.processes)
        self.limits.guess()
        return self._thumb(proven)

    def _thumb(self, proven: Future[Proven | None] | None = None) -> Fitted:
        """The rule of thumb with a little more on its days, once it is ``proven`` what they hold."""
        self.say("planning by rule of thumb")
        wish = rule_of_thumb(self.facts, self.limits)
        thumb = fit_whole(self.facts, self.fitter, wish, BY_HAND)
        self._tell(thumb)
        if proven is not None:
            self._take(proven)
        thumb = filled(self.facts, self.fitter, thumb, A_LITTLE)
        self._tell(thumb)
        return thumb

    def _take(self, proven: Future[Proven | None]) -> None:
        """Take over what days hold; where the clock does not suffice, what they are likely to hold stands."""
        if (found := in_time(proven, self.fitter.left)) is not None:
            self.limits.take(found)

    def _filled(self, plan: Fitted) -> Fitted:
        """A plan with as much more on its days as goes in."""
        full = filled(self.facts, self.fitter, plan, FILLING)
        self._tell(full)
        return full

    def _tell(self, plan: Fitted) -> None:
        """Let it be heard of a plan if it is better than all before."""
        if self.told is None or plan.worth < self.told:
            self.told = plan.worth
            self.heard(plan)

    def _prove_aside(self) -> None:
        """Begin to find the bound."""
        if self.fitter.processes > 1:
            self.proof = aside(partial(self.prove, self.limits.copy()), self.fitter.processes)

    def _best_of(self, wishes: Iterable[Wish | None]) -> Fitted | None:
        """The best of some sketches, with a little more on its days."""
        best: Fitted | None = None
        for wish in wishes:
            if wish is not None:
                fitted = fit_counted(self.facts, self.fitter, wish, QUICKLY)
                self._tell(fitted)
                best = fitted if best is None or fitted.worth < best.worth else best
        if best is not None:
            best = filled(self.facts, self.fitter, best, A_LITTLE)
            self._tell(best)
        return best
