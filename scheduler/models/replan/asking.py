"""Questions about a bent season: searches near the old plan, questions about all plans, and what their answers prove.

What is proven are pairs (short, points): no plan with at most so much short has fewer points.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from threading import Thread

from ortools.sat.python import cp_model
from scheduler.models.replan.bend import Bend
from scheduler.models.solvers.engine import LARGEST_SUM, Answer, Limits, Status
from scheduler.models.solvers.linear import get_ready, run, side_by_side
from scheduler.models.solvers.spread import aside, cores, in_time

EFFORT = 0.4  # of one search
DETAIL = 0.1  # of its second thoughts: less short, and fewer packs lost, for the same changes
GLANCE, REPAIR = 0.12, 0.25  # of a look among all plans, before HiGHS is asked, and near what it found
ANY = LARGEST_SUM  # as a level: whatever is short

# What things cost in seconds of a core, as measured on the demo, so that budgets hold without a look at the clock.
A_SEARCH, FOR_EFFORT = 0.12, 2.6
PER_RULE = 8e-4  # of the model, for HiGHS
FRACTIONAL = 0.5  # of that, where packs may be fractional (measured)
WORTH_PROCESSES = 1.0  # seconds of a question that are worth a process of its own


@dataclass
class Asker:
    """Asks and remembers. ``most`` core seconds that one question to HiGHS may take; ``left`` tells what is left of
    the clock (seconds, infinite without an end); points of all plans include ``fixed_points``.

    ``hard`` are levels that a glance does not settle; ``fractional`` those of the last round with fractional packs.
    """

    bend: Bend
    hints: Mapping[cp_model.IntVar, int]
    effort: float
    most: float
    left: Callable[[], float]
    fixed_points: int
    workers: int = field(default_factory=lambda: min(2, cores()))
    answers: list[Answer] = field(default_factory=list)
    proofs: list[tuple[int, int]] = field(default_factory=list)
    asked: Counter[int] = field(default_factory=Counter)  # how often, by level
    hard: set[int] = field(default_factory=set)
    fractional: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        # Measured: with much relaxation searches are proven in a third of the time that they take without, and with
        # one round of presolve a sixth less is spent on the same answers.
        self.limits = Limits(effort=EFFORT * self.effort, linearization=2, probing=0, presolve=1)
        if self._for_highs > WORTH_PROCESSES:
            Thread(target=get_ready, args=(self.workers,), daemon=True).start()

    @property
    def spent(self) -> float:
        """Seconds of a core so far, as the effort of the answers tells."""
        return A_SEARCH * len(self.answers) + FOR_EFFORT * sum(a.effort for a in self.answers)

    @property
    def _for_highs(self) -> float:
        """Seconds of a core for one question among all plans."""
        return PER_RULE * len(self.bend.board.model.proto.constraints)

    @property
    def _clock(self) -> float | None:
        """What is left for a solver; None where there is no end."""
        left = self.left()
        return None if left == math.inf else max(0.0, left)

    # Near the old plan ------------------------------------------------------------------

    def least(self, short: int) -> Answer:
        """The fewest changes near the old plan with at most so much short."""
        self.answers.append(self.bend.least(self.bend.changes, self.limits, self.hints, short=short))
        return self.answers[-1]

    def detailed(
        self, fewest: Answer, short: int, can_be_less: bool, extra: int = 0, proven: bool = True,
        changes: int | None = None,
    ) -> Answer:  # fmt: skip
        """The least short where it can be less, then the fewest packs lost, with no more changes (than so many).

        ``extra``: what the days of ``fewest`` were found to take beyond its changes; so many more where there is no
        other plan. What is least short with the same batches and people is there in an instant, and where the search
        begins.
        """
        changes = fewest[self.bend.changes] if changes is None else changes
        answer, most = fewest, changes
        if can_be_less:
            for limit, like in ((changes + extra, fewest), (changes, None)):
                hints = self._hints_of(answer)
                better = self.bend.least(self.bend.short, self._quick, hints, limit, short, proven, like)
                self.answers.append(better)
                if better.status.solved:
                    answer, most = better, limit
            short = min(short, answer[self.bend.short])
        for limit in dict.fromkeys((most, changes + extra)):
            better = self.bend.least(None, self._quick, self._hints_of(answer), limit, short, proven)
            self.answers.append(better)
            if better.status.solved:
                return better
        return answer

    def less(self, points: int, short: int) -> Answer:
        """The least short near the old plan, below so much, with at most so many points; then the fewest lost packs."""
        changes = points - self.fixed_points
        answer = self.bend.least(self.bend.short, self._quick, self.hints, changes, short - 1)
        self.answers.append(answer)
        if not answer.status.solved:
            return answer
        return self.detailed(answer, answer[self.bend.short], False, proven=False, changes=changes)

    @property
    def _quick(self) -> Limits:
        """Limits of second thoughts."""
        return replace(self.limits, effort=DETAIL * self.effort)

    def _hints_of(self, answer: Answer) -> dict[cp_model.IntVar, int]:
        return {v: answer[v] for v in self.bend.board.variables() if answer.knows(v)}

    # Among all plans ----------------------------------------------------------------------

    def ask(self, questions: list[tuple[int, int]]) -> list[Answer]:
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
        self.fractional = {short for short, _ in left if not self.asked[short]}
        for short, points in questions:
            self.asked[short] += 1
            self._prove(short, points, told[short, points])
        return [told[q] for q in questions]

    def ask_aside(self, levels: Iterable[int]) -> dict[int, Future[Answer | None]]:
        """By level, the fewest changes of all plans with at most so much short, packs fractional: one after the other,
        by HiGHS on the core that searches near the old plan leave alone.
        """
        asked: dict[int, Future[Answer | None]] = {}
        if self.workers > 1 and self._for_highs > WORTH_PROCESSES and self._for_highs * FRACTIONAL < self.most:
            for short in levels:
                one = self.bend.question(self.bend.changes, ANY, short, self._clock, False)
                asked[short] = aside(partial(run, one), self.workers, next(reversed(asked.values()), None))
        return asked

    def hear(self, short: int, future: Future[Answer | None]) -> Answer | None:
        """What was asked aside about a level, with what it proves; None where the clock did not suffice."""
        answer = in_time(future, self._clock)
        if answer is not None:
            answer = replace(answer, effort=self._for_highs * FRACTIONAL / FOR_EFFORT)
            self.answers.append(answer)
            self.asked[short] += 1
            self.fractional = {short}
            self._prove(short, ANY, answer)
        return answer

    def glance(self, short: int, points: int) -> None:
        """Whether any plan with at most so much short has fewer points, as far as a short search proves it."""
        self.answers.append(self._look(short, points, {}))
        self._prove(short, points, self.answers[-1])

    def near(self, answer: Answer, short: int, points: int) -> Answer:
        """A plan like an answer, by a short search among all plans with at most so much short and fewer points."""
        self.answers.append(self._look(short, points, self._hints_of(answer)))
        return self.answers[-1]

    def least_short(self) -> int | None:
        """A bound on what is short in any plan, kept as a proof; None where HiGHS tells none."""
        bound = self._everywhere([(self.bend.short, ANY, ANY)])[0].bound
        if bound is not None:
            self.proofs.append((bound - 1, ANY))
        return bound

    def _look(self, short: int, points: int, hints: Mapping[cp_model.IntVar, int]) -> Answer:
        if (fewer := self._fewer(points)) < 0:
            return Answer(Status.INFEASIBLE, None, None, None)
        quick = replace(self.limits, effort=(REPAIR if hints else GLANCE) * self.effort)
        return self.bend.least(self.bend.changes, quick, hints, fewer, short, proven=True)

    def _fewer(self, points: int) -> int:
        return min(points - self.fixed_points - 1, ANY)

    def _everywhere(self, questions: list[tuple[cp_model.IntVar, int, int]]) -> list[Answer]:
        """The least of each goal among all plans with at most so many (changes, short), by HiGHS side by side.

        With fractional packs where a level is asked for the first time. Not asked where that would take too long.
        """
        whole = [self.asked[short] > 0 or goal is not self.bend.changes for goal, _, short in questions]
        seconds = self._for_highs * (1.0 if any(whole) else FRACTIONAL)
        if self.left() <= 0 or seconds > self.most:
            answers = [Answer(Status.UNKNOWN, None, None, None) for _ in questions]
        else:
            jobs = [self.bend.question(*q, self._clock, w) for q, w in zip(questions, whole, strict=True)]
            answers = [replace(a, effort=seconds / FOR_EFFORT) for a in side_by_side(jobs, self.workers)]
        self.answers += answers
        return answers

    # Proofs ---------------------------------------------------------------------------------

    def _prove(self, short: int, points: int, answer: Answer) -> None:
        """Keep what an answer proves of all plans."""
        if answer.status is Status.INFEASIBLE:
            self.proofs.append((short, points))
        elif answer.bound is not None:
            self.proofs.append((short, min(points, answer.bound + self.fixed_points)))

    def least_points(self, short: int) -> int:
        """Points that every plan with at most so much short has."""
        return max((points for level, points in self.proofs if level >= short), default=0)
