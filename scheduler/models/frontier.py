"""The frontier between changes and shortfall: plans that no other plan beats in both.

Epsilon-constraint: the fewest changes whatever is short, the fewest with no more short
than before, and then levels of shortfall between, by HiGHS among all plans. Every plan that is made real on the way
counts. What is then proven of all plans is kept as pairs (short, points): no plan with at
most so much short has fewer points.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise
from threading import Thread

from ortools.sat.python import cp_model
from scheduler.models.bend import Bend, bend
from scheduler.models.choices import Ahead
from scheduler.models.engine import LARGEST_SUM, Answer, Limits, Status
from scheduler.models.linear import get_ready, side_by_side
from scheduler.models.made_real import Found, going, made_real, short_of
from scheduler.models.mend import Mended, Mender
from scheduler.models.season_hint import hints_from
from scheduler.models.spread import cores
from scheduler.plan.lots import allocate

SEVERAL = 3  # plans to choose from, after which fewer seconds are spent on more
ASKED = 4  # times that a level is asked for
REPAIRS = 5  # of an answer whose days can't be so
TRIES = 12  # of a level, each with what was learnt from the one before
SOON = 2  # tries after which some plan is made, be it with more changes than need be
EFFORT = 0.4  # of one search
DETAIL = 0.1  # of its second thoughts: less short, and fewer packs lost, for the same changes
GLANCE, REPAIR = 0.12, 0.25  # of a look among all plans, before HiGHS is asked, and near what it found
ANY = LARGEST_SUM  # as a level: whatever is short

# What things cost in seconds of a core, as measured on the demo, so that budgets hold without a look at the clock.
SETTING_UP, A_SEARCH, A_DAY, A_PLAN, FOR_EFFORT, FOR_A_DAY = 0.6, 0.12, 0.03, 0.12, 2.6, 4.0
PER_RULE = 8e-4  # of the model, for HiGHS
BROKEN = 0.5  # of that, where packs may be broken (measured)
AN_END, NONE_SHORT, EVERYWHERE = 1.8, 2.8, 5.0  # seconds: the fewest changes, no more short, among all plans
REPAIRING = 2.5  # seconds for an answer of all plans whose days can't be so
WORTH_PROCESSES = 1.0  # seconds of a question that are worth a process of its own
A_TURN = 0.7  # seconds of a last try: so much sooner it must begin


@dataclass(frozen=True)
class Frontier:
    """Plans by points. ``complete``: it is proven that every other plan is beaten, or matched, by one of them.

    ``none``: there can't be any plan.
    """

    plans: tuple[Found, ...]
    complete: bool
    none: bool = False


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
    is a plan.
    """
    search = _Search(ahead, effort, share, deadline, soon)
    search.look(most, say)
    return search.told(most)


class _Search:
    """The bent season, the plans found so far, and what is proven of all plans."""

    def __init__(self, ahead: Ahead, effort: float, share: float, deadline: float, soon: float) -> None:
        self.ahead, self.effort, self.deadline, self.soon = ahead, effort, deadline, soon
        seconds = (AN_END, NONE_SHORT, EVERYWHERE, REPAIRING)
        self.an_end, self.none_short, self.everywhere, self.repairing = (s * effort * share for s in seconds)
        # Measured: with much relaxation searches are proven in a third of the time that they take without.
        self.limits = Limits(effort=EFFORT * effort, linearization=2, probing=0)
        self.answers: list[Answer] = []
        self.made: dict[tuple[int, int], Found] = {}  # by points and what is short
        self.proofs: list[tuple[int, int]] = []
        self.stuck: set[int] = set()  # levels of shortfall at which asking again brings nothing new
        self.asked: Counter[int] = Counter()  # how often, by level
        self.hard: set[int] = set()  # levels that a glance does not settle
        self.broken: set[int] = set()  # levels of the last round at which packs could be broken
        days = (*going(ahead), *ahead.before.values())
        self.base = self.low = short_of(ahead, ahead.plan.shortfalls, days)
        facts = ahead.facts
        absent = frozenset((name, ahead.season.index(day)) for name, day in ahead.absent)
        self.bend: Bend = bend(facts, ahead.before, absent, ahead.today, ahead.had)
        self.mender = Mender(facts, ahead.before)
        given = allocate(ahead.season, facts.demand, days)
        self.hints: Mapping[cp_model.IntVar, int] = hints_from(self.bend.board, days, given)
        self.bend.stay_near(ahead.touched)
        self.workers = min(2, cores())
        if self._for_highs > WORTH_PROCESSES:
            Thread(target=get_ready, args=(self.workers,), daemon=True).start()
        self.mender.floors(self.bend)

    @property
    def _for_highs(self) -> float:
        """Seconds of a core for one question among all plans."""
        return PER_RULE * len(self.bend.board.model.proto.constraints)

    @property
    def _left(self) -> float:
        """Seconds of the clock that are left."""
        return (min(self.soon, self.deadline) if self.made else self.deadline) - time.monotonic()

    @property
    def spent(self) -> float:
        """Seconds of a core so far, as the effort of all searches tells; no end of them once the deadline is past."""
        if self._left <= 0:
            return math.inf
        days = [a.effort for a in (*self.mender.fitted.values(), *self.mender.bounds.values())]
        days += [a.effort for a in self.mender.known.values()]
        fixed = SETTING_UP + A_SEARCH * len(self.answers) + A_DAY * len(days) + A_PLAN * len(self.made)
        return fixed + FOR_EFFORT * sum(a.effort for a in self.answers) + FOR_A_DAY * sum(days)

    # Looking for plans ------------------------------------------------------------------

    def look(self, most: int, say: Callable[[str], None]) -> None:
        """Plans near the old one, which is fast: the fewest changes, and the fewest with no more short.

        Then, among all plans, what is open between them and below them, until nothing is or the seconds are spent.
        """
        self.at(ANY, self.spent + self.an_end)
        plans = self.plans()
        if plans and plans[0].short > self.base:  # else no change can be worth anything
            say("looking for a plan with no more short than before")
            self.at(self.base, self.spent + self.none_short)
        say("looking for anything better")
        began = self.spent
        while self.spent < began + self.everywhere / (1 if len(self.plans()) < SEVERAL else 2):
            if not (questions := self._open(most)[:2]):
                return
            for (short, points), answer in zip(questions, self._ask(questions), strict=True):
                if self.spent < math.inf:
                    self._follow(short, points, answer)

    def _open(self, most: int) -> list[tuple[int, int]]:
        """What is not settled, as (short, points): is there a plan with at most so much short and fewer points?

        First the ends of the frontier; then each gap between plans, the widest first: where room is for
        more plans what is next to its upper end, and what lies in the middle; else its lower end.
        """
        plans = self.plans()
        if not plans:
            return [] if self._least_points(ANY) >= ANY else [(ANY, ANY)]
        if self._least_points(ANY) < plans[0].points and ANY not in self.stuck:
            self._proven(ANY, plans[0].points, self._glance(ANY, plans[0].points))
        out = [(ANY, plans[0].points)]
        gaps = list(pairwise(plans))
        levels = [(upper.short - 1, lower.short, lower.points) for upper, lower in gaps]
        if plans[-1].short > self.low:
            out.append((self.low, ANY))
            levels.append((plans[-1].short - 1, self.low, ANY))
        for top, bottom, points in sorted(levels, key=lambda g: g[1] - g[0]):
            if len(plans) < most:
                half = max([bottom, *(n for n, least in self.proofs if least >= points and n < top)]) + top
                out += [(top, points), (half // 2, points)]
            out.append((bottom, points))
        live = [(n, points) for n, points in out if n not in self.stuck and self.asked[n] < ASKED]
        return list(dict.fromkeys(q for q in live if self._least_points(q[0]) < q[1]))

    def _follow(self, short: int, points: int, answer: Answer) -> None:
        """Make an answer of all plans real; where days can't be so, others like it are tried.

        A level at which nothing is to be had or learnt is not asked again.
        """
        if answer.status is Status.UNKNOWN:
            self.stuck.add(short)
        elif answer.status is Status.INFEASIBLE and short == self.low:
            self._find_lowest()  # so little can't be short: how little can be, then?
        until = self.spent + self.repairing
        if answer.status.solved and short in self.broken:  # the nearest whole one, then
            answer = self._glance(short, points, self._hints_of(answer))
            if not answer.status.solved:
                return
        for number in range(REPAIRS):
            if not answer.status.solved:
                return
            if not self._counted_low(answer, soon=number >= SOON):
                break
            if self.spent >= until:
                return
            answer = self._glance(short, points, self._hints_of(answer))
        else:
            return
        detailed = self._detailed(answer, short)
        found = self._made(self.mender.mend(self.bend, detailed))
        if found is None:
            learnt = not self.mender.unsure
        else:
            as_hoped = found.short <= short and found.points <= self._least_points(short)
            learnt = as_hoped or number > 0 or self.mender.dearer(self.bend, detailed, packed=True)
        if not learnt:
            self.stuck.add(short)

    def _find_lowest(self) -> None:
        """The least that can be short, where more than before must be."""
        answer = self._everywhere([(self.bend.short, ANY, ANY)])[0]
        if answer.bound is not None:
            self.proofs.append((answer.bound - 1, ANY))
            self.low = max(self.base, answer.bound)

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
            fewest = self._least(self.bend.changes, short=short)
            if not fewest.status.solved:
                return best
            bound = (fewest.bound or 0) + self.ahead.fixed_points
            if best is not None and best.points <= bound:
                return best
            soon = best is None and number >= SOON
            if not last and self._counted_low(fewest, soon):
                continue
            answer = self._detailed(fewest, short, proven=False)
            if not last and self._counted_low(answer, soon):
                continue
            found = self._made(self.mender.mend(self.bend, answer, settle=last and not self.made))
            good = found if found is not None and found.short <= short else None
            if last or (good and (good.points <= bound or not self.mender.dearer(self.bend, answer, packed=True))):
                break
        return next((f for f in self.plans() if f.short <= short), None)

    def _counted_low(self, answer: Answer, soon: bool) -> bool:
        """Whether fitting the days is of no use yet: they take more than was thought. Soon: only if they can't be."""
        low = self.mender.dearer(self.bend, answer, packed=False)
        return low and (self.mender.barred or not soon)

    def _least(self, goal: cp_model.IntVar, short: int = ANY) -> Answer:
        """One search near the old plan."""
        answer = self.bend.least(goal, self.limits, self.hints, short=short)
        self.answers.append(answer)
        return answer

    def _detailed(self, fewest: Answer, short: int, proven: bool = True) -> Answer:
        """The least short, and then the fewest packs lost, with no more changes."""
        answer, changes = fewest, fewest[self.bend.changes]
        quick = replace(self.limits, effort=DETAIL * self.effort)
        for goal in (self.bend.short, None):
            if goal is self.bend.short and short <= self.base:
                continue  # it can't be less
            better = self.bend.least(goal, quick, self._hints_of(answer), changes, short, proven)
            self.answers.append(better)
            if better.status.solved:
                answer, short = better, better[self.bend.short]
        return answer

    def _hints_of(self, answer: Answer) -> dict[cp_model.IntVar, int]:
        return {v: answer[v] for v in self.bend.board.variables() if answer.knows(v)}

    def plans(self) -> list[Found]:
        """Plans made so far that no other beats, by points."""
        out: list[Found] = []
        for key in sorted(self.made):
            if not out or key[1] < out[-1].short:
                out.append(self.made[key])
        return out

    # Proofs ------------------------------------------------------------------------------

    def _ask(self, questions: list[tuple[int, int]]) -> list[Answer]:
        """For each (short, points), two side by side: the fewest points of all plans with at most so much short.

        A glance by search, then HiGHS, whose relaxation and cuts prove what search does not.
        """
        easy = [q for q in questions if q[0] not in self.hard]
        with ThreadPoolExecutor(2) as pool:
            told = dict(zip(easy, pool.map(lambda q: self._look(q[0], q[1], {}), easy), strict=True))
        self.answers += told.values()
        left = [q for q in questions if q not in told or told[q].status not in (Status.OPTIMAL, Status.INFEASIBLE)]
        self.hard.update(short for short, _ in left)
        told |= zip(left, self._everywhere([(self.bend.changes, self._fewer(p), n) for n, p in left]), strict=True)
        self.broken = {short for short, _ in left if not self.asked[short]}
        for short, points in questions:
            self.asked[short] += 1
            self._proven(short, points, told[short, points])
        return [told[q] for q in questions]

    def _glance(self, short: int, points: int, hints: Mapping[cp_model.IntVar, int] | None = None) -> Answer:
        self.answers.append(self._look(short, points, hints or {}))
        return self.answers[-1]

    def _look(self, short: int, points: int, hints: Mapping[cp_model.IntVar, int]) -> Answer:
        """A short search among all plans with at most so much short and fewer points."""
        if (fewer := self._fewer(points)) < 0:
            return Answer(Status.INFEASIBLE, None, None, None)
        quick = replace(self.limits, effort=(REPAIR if hints else GLANCE) * self.effort)
        return self.bend.least(self.bend.changes, quick, hints, fewer, short, proven=True)

    def _fewer(self, points: int) -> int:
        return min(points - self.ahead.fixed_points - 1, ANY)

    def _everywhere(self, questions: list[tuple[cp_model.IntVar, int, int]]) -> list[Answer]:
        """The least of each goal among all plans with at most so many (changes, short), by HiGHS side by side.

        With broken packs where a level is asked for the first time. Not asked where that would take too long.
        """
        whole = [self.asked[short] > 0 or goal is not self.bend.changes for goal, _, short in questions]
        seconds = self._for_highs * (1.0 if any(whole) else BROKEN)
        left = self._left
        if left <= 0 or seconds > self.everywhere:
            answers = [Answer(Status.UNKNOWN, None, None, None) for _ in questions]
        else:
            clock = None if left == math.inf else left
            found = side_by_side(
                [self.bend.question(*q, clock, w) for q, w in zip(questions, whole, strict=True)], self.workers
            )
            answers = [replace(a, effort=seconds / FOR_EFFORT) for a in found]
        self.answers += answers
        return answers

    def _proven(self, short: int, points: int, answer: Answer) -> None:
        """Keep what an answer proves of all plans."""
        if answer.status is Status.INFEASIBLE:
            self.proofs.append((short, points))
        elif answer.bound is not None:
            self.proofs.append((short, min(points, answer.bound + self.ahead.fixed_points)))

    def _least_points(self, short: int) -> int:
        """Points that every plan with at most so much short has."""
        return max((points for level, points in self.proofs if level >= short), default=0)

    def told(self, most: int) -> Frontier:
        """The plans with what is proven of them."""
        plans = [replace(p, least_points=min(p.points, self._least_points(p.short))) for p in self.plans()]
        levels = [ANY, *(p.short - 1 for p in plans)]
        complete = bool(plans) and all(self._least_points(n) >= p.points for n, p in zip(levels, plans, strict=False))
        if plans and plans[-1].short > self.base:
            complete = complete and self._least_points(levels[-1]) >= ANY
        while len(plans) > most:  # the one that is least missed: next to its neighbours in points
            at = min(range(1, len(plans) - 1), key=lambda i: plans[i + 1].points - plans[i - 1].points)
            del plans[at]
            complete = False
        none = not plans and any(a.status is Status.INFEASIBLE for a in self.answers)
        return Frontier(tuple(plans), complete, none)

    def _made(self, mended: Mended | None) -> Found | None:
        """The plan of fitted days, kept with those found before."""
        if mended is None:
            return None
        found = made_real(self.ahead, mended)
        return self.made.setdefault((found.points, found.short), found)
