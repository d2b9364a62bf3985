"""The frontier between changes and shortfall: plans that no other plan beats in both.

Epsilon-constraint: the fewest changes whatever is short, the fewest with no more short than before, and then
levels of shortfall between, among all plans (``asking``). Every plan that is made real on the way counts.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from scheduler.models.counts.hint import hints_from
from scheduler.models.replan.asking import ANY, Asker
from scheduler.models.replan.bend import bend
from scheduler.models.replan.choices import Ahead
from scheduler.models.replan.made_real import Found, going, made_real, short_of
from scheduler.models.replan.mend import Mender
from scheduler.models.replan.reach import Reach, around_the_news, everything
from scheduler.models.solvers.engine import Answer, Status

SEVERAL = 3  # plans to choose from, after which fewer seconds are spent on more
ASKED = 4  # times that a level is asked for
REPAIRS = 5  # of an answer whose days can't be so
TRIES = 12  # of a level, each with what was learnt from the one before
BETWEEN = 2  # levels between the ends of the frontier at which plans near the old one are sought
SOON = 2  # tries after which some plan is made, be it with more changes than need be

# What things cost in seconds of a core, as measured on the demo, so that budgets hold without a look at the clock.
SETTING_UP, A_DAY, A_PLAN, FOR_A_DAY = 0.6, 0.03, 0.12, 4.0
AN_END, NONE_SHORT, EVERYWHERE = 1.8, 2.8, 5.0  # seconds: the fewest changes, no more short, among all plans
REPAIRING = 2.5  # seconds for an answer of all plans whose days can't be so
ANOTHER = 4.0  # seconds of the clock more where there is one plan, and more is short than before
A_TURN = 0.7  # seconds of a last try: so much sooner it must begin


@dataclass(frozen=True)
class Frontier:
    """Plans by points. ``complete``: it is proven that every other plan is beaten, or matched, by one of them.

    ``none``: there can't be any plan. ``within``: the first and last day that were free to change; None where all were.
    """

    plans: tuple[Found, ...]
    complete: bool
    none: bool = False
    within: tuple[date, date] | None = None


def frontier(
    ahead: Ahead,
    effort: float,
    most: int,
    say: Callable[[str], None],
    share: float = 1.0,
    deadline: float = math.inf,
    soon: float = math.inf,
) -> Frontier:
    """Plans between the fewest changes and no more short than before, at most so many, in a share of the usual time.

    ``deadline``: reading of the monotonic clock after which nothing more is sought; ``soon``: the same once there
    are plans to choose from, or one with no more short than before.
    """
    search: _Search | None = None
    if reach := around_the_news(ahead):
        search = _Search(ahead, reach, effort, share, deadline, soon)
        search.look(most, say)
    if search is None or (not search.made and time.monotonic() < deadline):
        search = _Search(ahead, everything(ahead), effort, share, deadline, soon)
        search.look(most, say)
    return search.told(most)


class _Search:
    """The bent season, who is asked about it, and the plans found so far."""

    def __init__(
        self, ahead: Ahead, reach: Reach, effort: float, share: float, deadline: float, soon: float
    ) -> None:  # fmt: skip
        self.ahead, self.reach, self.deadline, self.soon = ahead, reach, deadline, soon
        seconds = (AN_END, NONE_SHORT, EVERYWHERE, REPAIRING)
        self.an_end, self.none_short, self.everywhere, self.repairing = (s * effort * share for s in seconds)
        self.made: dict[tuple[int, int], Found] = {}  # by points and what is short
        self.stuck: set[int] = set()  # levels of shortfall at which asking again brings nothing new
        days = (*going(ahead), *ahead.before.values())
        self.base = self.low = short_of(ahead, ahead.plan.shortfalls, days)
        if ahead.freed:  # less may be short
            self.low = reach.beside
        self.lowest = self.low  # so little can't be undercut by any plan
        absent = frozenset((name, ahead.season.index(day)) for name, day in ahead.absent)
        settled = reach.part.settled if reach.part else None
        had, beside = reach.had, reach.beside
        self.bend = bend(reach.facts, reach.seen, absent, ahead.today, had, beside, settled, reach.gains)
        self.mender = Mender(reach.facts, reach.before, lambda: self._left)
        hints = hints_from(self.bend.board, tuple(reach.seen.values()), reach.given)
        self.bend.stay_near(ahead.touched)
        self.asker = Asker(self.bend, hints, effort, self.everywhere, lambda: self._left, ahead.fixed_points)
        self.floor = ahead.fixed_points + self.mender.floors(self.bend)  # points that every plan has

    @property
    def _left(self) -> float:
        """Seconds of the clock that are left."""
        end = self.deadline
        if plans := self.plans():
            enough = len(plans) > 1 or plans[0].short <= self.base
            end = min(end, self.soon if enough else self.soon + ANOTHER)
        return end - time.monotonic()

    @property
    def spent(self) -> float:
        """Seconds of a core so far, as the effort of all searches tells; no end of them once the deadline is past."""
        if self._left <= 0:
            return math.inf
        days = [a.effort for a in (*self.mender.fitted.values(), *self.mender.bounds.values())]
        days += [a.effort for a in self.mender.known.values()]
        fixed = SETTING_UP + A_DAY * len(days) + A_PLAN * len(self.made)
        return fixed + self.asker.spent + FOR_A_DAY * sum(days)

    # Looking for plans ------------------------------------------------------------------

    def look(self, most: int, say: Callable[[str], None]) -> None:
        """Plans near the old one, which is fast: the fewest changes, and the fewest with no more short.

        Then, among all plans, what is open between them and below them, until nothing is or the seconds are spent.
        """
        self.at(ANY, self.spent + self.an_end)
        plans = self.plans()
        if plans and plans[0].short > self.low:  # else no change can be worth anything
            say("looking for a plan with no more short than before")
            asked = self.asker.ask_aside((self.low, plans[0].short - 1))
            self.at(self.low, self.spent + self.none_short)
            self._less_for_as_many()
            self._prove_fewest()
            self._look_between()
            self._hear(asked)
        say("looking for anything better")
        began = self.spent
        while self.spent < began + self.everywhere / (1 if len(self.plans()) < SEVERAL else 2):
            if not (questions := self._open(most)[:2]):
                return
            for (short, points), answer in zip(questions, self.asker.ask(questions), strict=True):
                if self.spent < math.inf:
                    self._follow(short, points, answer)

    def _less_for_as_many(self) -> None:
        """Less short for as many changes as the first plan has: days may take more of them than the model thought."""
        plans = self.plans()
        if plans and plans[0].short > self.low and self.spent < math.inf:
            answer = self.asker.less(plans[0].points, plans[0].short)
            if answer.status.solved:
                self._made(answer, settle=True)

    def _look_between(self) -> None:
        """Plans near the old one in the middle of the widest gap, half as long as for the ends."""
        tried = set[int]()
        for _ in range(BETWEEN):
            plans = self.plans()
            shorts = [p.short for p in plans] + ([self.low] if plans[-1].short > self.low else [])
            middles = {(high + low) // 2: high - low for high, low in pairwise(shorts) if high - low > 1}
            level = max((m for m in middles if m not in tried), key=lambda m: middles[m], default=None)
            if level is None or self.spent == math.inf:
                return
            tried.add(level)
            self.at(level, self.spent + self.none_short / 2)

    def _hear(self, asked: Mapping[int, Future[Answer | None]]) -> None:
        """Wait for what was asked aside, keep what it proves, and make plans of what it found."""
        for short, future in asked.items():
            answer = self.asker.hear(short, future)
            points = min((f.points for f in self.plans() if f.short <= short), default=ANY)
            if answer is not None and self.asker.least_points(short) < points and self.spent < math.inf:
                self._follow(short, points, answer)

    def _prove_fewest(self) -> None:
        """A glance at whether any plan changes less than the first, whatever is short."""
        fewest = self.plans()[0].points
        if self.asker.least_points(ANY) < fewest and ANY not in self.stuck:
            self.asker.glance(ANY, fewest)

    def _open(self, most: int) -> list[tuple[int, int]]:
        """What is not settled, as (short, points): is there a plan with at most so much short and fewer points?

        First the ends of the frontier; then each gap between plans, the widest first: where room is for
        more plans what is next to its upper end, and what lies in the middle; else its lower end.
        """
        plans = self.plans()
        if not plans:
            return [] if self.asker.least_points(ANY) >= ANY else [(ANY, ANY)]
        self._prove_fewest()
        out = [(ANY, plans[0].points)]
        gaps = list(pairwise(plans))
        levels = [(upper.short - 1, lower.short, lower.points) for upper, lower in gaps]
        if plans[-1].short > self.low:
            out.append((self.low, ANY))
            levels.append((plans[-1].short - 1, self.low, ANY))
        for top, bottom, points in sorted(levels, key=lambda g: g[1] - g[0]):
            if len(plans) < most:
                half = max([bottom, *(n for n, least in self.asker.proofs if least >= points and n < top)]) + top
                out += [(top, points), (half // 2, points)]
            out.append((bottom, points))
        live = [(n, points) for n, points in out if n not in self.stuck and self.asker.asked[n] < ASKED]
        return list(dict.fromkeys(q for q in live if self.asker.least_points(q[0]) < q[1]))

    def _follow(self, short: int, points: int, answer: Answer) -> None:
        """Make an answer of all plans real; where days can't be so, others like it are tried.

        A level at which nothing is to be had or learnt is not asked again.
        """
        if answer.status is Status.UNKNOWN:
            self.stuck.add(short)
        elif answer.status is Status.INFEASIBLE and short == self.low:
            self._find_lowest()  # so little can't be short: how little can be, then?
        until = self.spent + self.repairing
        if answer.status.solved and short in self.asker.fractional:  # the nearest whole one, then
            answer = self.asker.near(answer, short, points)
            if not answer.status.solved:
                return
        for number in range(REPAIRS):
            if not answer.status.solved:
                return
            if not self._underestimated(answer, soon=number >= SOON):
                break
            if self.spent >= until:
                return
            answer = self.asker.near(answer, short, points)
        else:
            return
        detailed = self.asker.detailed(answer, short, short > self.low, self.mender.extra)
        found = self._made(detailed)
        if found is None:
            learnt = not self.mender.unsure
        else:
            as_hoped = found.short <= short and found.points <= self.asker.least_points(short)
            learnt = as_hoped or number > 0 or self.mender.add_cuts(self.bend, detailed, packed=True)
        if not learnt:
            self.stuck.add(short)

    def _find_lowest(self) -> None:
        """The least that can be short, where more than before must be."""
        least = self.asker.least_short()
        if least is not None:
            self.low = max(self.low, least)

    def at(self, short: int, until: float) -> Found | None:
        """A plan with fewest changes and at most so much short, and with no more changes the least short.

        Days that do not fit, and what the hours and jobs of days take, go back to the model,
        until the plan is as good as its bound, or so many seconds are spent; the last try
        leaves out what does not fit.
        """
        for number in range(TRIES):
            best = next((f for f in self.plans() if f.short <= short), None)
            if self.spent == math.inf:
                return best
            last = number == TRIES - 1 or self.spent + A_TURN > until
            fewest = self.asker.least(short)
            if not fewest.status.solved:
                return best
            bound = (fewest.bound or 0) + self.ahead.fixed_points
            if best is not None and best.points <= bound:
                return best
            soon = best is None and number >= SOON
            if not last and self._underestimated(fewest, soon):
                continue
            extra = 0 if last else self.mender.extra  # of this answer: the last try does not ask
            answer = self.asker.detailed(fewest, short, short > self.low, extra, proven=False)
            if not last and self._underestimated(answer, soon):
                continue
            found = self._made(answer, settle=last)
            good = found if found is not None and found.short <= short else None
            if last or (good and (good.points <= bound or not self.mender.add_cuts(self.bend, answer, packed=True))):
                break
        return next((f for f in self.plans() if f.short <= short), None)

    def _underestimated(self, answer: Answer, soon: bool) -> bool:
        """Whether fitting the days is of no use yet: they take more than was thought. Soon: only if they can't be."""
        low = self.mender.add_cuts(self.bend, answer, packed=False)
        return low and (self.mender.barred or not soon)

    def plans(self) -> list[Found]:
        """Plans made so far that no other beats, by points."""
        out: list[Found] = []
        for key in sorted(self.made):
            if not out or key[1] < out[-1].short:
                out.append(self.made[key])
        return out

    def told(self, most: int) -> Frontier:
        """The plans with what is proven of them."""
        plans = [replace(p, least_points=min(p.points, self._least(p.short))) for p in self.plans()]
        levels = [ANY, *(p.short - 1 for p in plans)]
        least = [self._least(level) for level in levels]
        complete = bool(plans) and all(n >= p.points for n, p in zip(least, plans, strict=False))
        lowest = self.lowest if self.reach.part else self.low
        if plans and plans[-1].short > lowest:
            complete = complete and least[-1] >= ANY
        while len(plans) > most:  # the one that is least missed: next to its neighbours in points
            at = min(range(1, len(plans) - 1), key=lambda i: plans[i + 1].points - plans[i - 1].points)
            del plans[at]
            complete = False
        none = not plans and self.reach.part is None and any(a.status is Status.INFEASIBLE for a in self.asker.answers)
        return Frontier(tuple(plans), complete, none, self.reach.within)

    def _least(self, short: int) -> int:
        """Points that every plan with at most so much short has, be it one that changes more than was in reach."""
        return self.floor if self.reach.part else max(self.floor, self.asker.least_points(short))

    def _made(self, answer: Answer, settle: bool = False) -> Found | None:
        """The plan of an answer, its days fitted, kept with those found before; None where they can't be so."""
        mended = self.mender.mend(self.bend, answer, settle)
        if mended is None:
            return None
        whole = self.reach.whole(self.ahead, mended)
        found = made_real(self.ahead, whole, self.reach.deals, answer[self.bend.short])
        return self.made.setdefault((found.points, found.short), found)
