"""Mending days: what a bent season asks of the days that change, fitted with as little change as can be.

Days of which nothing changes are taken over as they stand and never solved again.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from itertools import combinations, product

from scheduler.models.caps.limits import request_with_all
from scheduler.models.counts.board import Wish
from scheduler.models.counts.days import Book, idle_day
from scheduler.models.counts.solve import read
from scheduler.models.day.fit import DayAnswer, build, fit_day
from scheduler.models.day.keep import fit_again
from scheduler.models.day.pack_in import pack_in
from scheduler.models.facts import Facts
from scheduler.models.replan.bend import Bend
from scheduler.models.solvers import engine
from scheduler.models.solvers.engine import Answer, Limits, Status
from scheduler.plan.changes import BATCH, DAY_ON_OR_OFF, notice
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan

DAY_EFFORT = 0.12
LEAST_EFFORT = 0.08  # of proving what a day takes at least: what is not proven soon is not proven at all


@dataclass(frozen=True)
class Mended:
    """Days from today on by index, and the packs meant for each line."""

    days: Mapping[int, DayPlan]
    wish: Wish


@dataclass
class Mender:
    """Fits changed days and remembers them. ``unsure``: the last day that did not fit is not proven not to.

    ``left`` tells what is left of the clock, in seconds. ``barred``: when last asked what days take, one of them was
    proven not to fit; ``extra``: points more than the model counted that they take.
    """

    facts: Facts
    before: Mapping[int, DayPlan]
    left: Callable[[], float] = lambda: math.inf
    unsure: bool = False
    barred: bool = False
    extra: int = 0
    fitted: dict[DayRequest, DayAnswer] = field(default_factory=dict)
    bounds: dict[DayRequest, DayAnswer] = field(default_factory=dict)  # least points, whatever other days leave
    taken: dict[int, int] = field(default_factory=dict)  # points that the last fit of a day took, before notice
    known: dict[DayRequest, Answer] = field(default_factory=dict)  # whether work without packing fits

    def mend(self, bend: Bend, answer: Answer, settle: bool = False) -> Mended | None:
        """All days of an answer, or None where one does not fit; the model has learnt why then.

        With ``settle`` such a day gets less work instead, until it fits.
        """
        wish = read(bend.board, answer)
        changed = [t for t in bend.board.free if self.differs(t, wish)]
        book = Book(self.facts, {t: d for t, d in self.before.items() if t not in changed})
        for t in sorted(changed, key=lambda t: (len(self.facts.hands[t]), t)):
            if not self._asked(t, wish):
                if (idle := idle_day(self.facts, t)).missed_shows:
                    book.days[t] = idle
                continue
            request = self._request(book, wish, t)
            fitted = self._fit(request)
            plan, self.taken[t] = fitted.plan, fitted.cost or 0
            if plan is None and not settle:
                self._learn(bend, request, t)
                return None
            plan = plan or self._lighter(book, request, t)
            if plan is not None:
                book.days[t] = plan
        return Mended({t: d for t, d in book.days.items() if t in set(self.facts.days)}, wish)

    def floors(self, bend: Bend) -> int:
        """Teach the model what days take on which somebody is away: with all their batches, with one fewer, and so on.

        The least of it is proven to be spent on the day, whatever else is done; the points of all such days together.
        Days for which the clock does not suffice count nothing.
        """
        total = 0
        for t in sorted({t for _, t in bend.absent}):
            if self.left() <= 0:
                break
            old = self.before.get(t)
            if old is None or t not in bend.whole:  # nothing planned, or closed by the news
                continue
            weight = notice(old.day, bend.today)
            designs = old.designs
            least: int | None = None
            for dropped in range(len(designs) + 1):
                if least is not None and least <= BATCH * dropped:
                    break
                for left in sorted({tuple(sorted(c)) for c in combinations(designs, len(designs) - dropped)}):
                    answer = self._least(replace(self._with_old_crew(bend, t, left), keep=old))
                    everyone = request_with_all(self.facts, t, left)
                    if answer.status is Status.INFEASIBLE and self._fits(everyone) is Status.INFEASIBLE:
                        bend.learn(t, self._smallest(everyone))
                        continue
                    points = answer.bound or 0
                    spent = BATCH * dropped + points
                    least = spent if least is None else min(least, spent)
                    if points and left:
                        bend.takes(t, left, weight * points)
            if least:
                bend.board.model.add(bend.whole[t] >= weight * least)
                total += weight * least
        return total

    def _with_old_crew(self, bend: Bend, t: int, designs: tuple[str, ...]) -> DayRequest:
        """A day at its freest; the old crew is in, be it with nothing to do: that is no change for them."""
        everyone = request_with_all(self.facts, t, designs)
        stay = {s.person for s in self.before[t].shifts if (s.person, t) not in bend.absent}
        hands = tuple(replace(h, must=h.must or h.person in stay) for h in everyone.hands)
        return replace(everyone, hands=hands)

    def add_cuts(self, bend: Bend, answer: Answer, packed: bool) -> bool:
        """Teach the model what hours and jobs of the changed days take; whether it counted them too low.

        ``packed``: days were fitted, and what their packing takes is asked, too. Days whose
        batches do not fit with these people at all are barred, and ``barred`` says so.
        """
        wish = read(bend.board, answer)
        found, self.barred, self.extra = False, False, 0
        changed = [t for t in bend.board.free if self.differs(t, wish) and self.before.get(t) is not None]
        weights = {t: notice(self.facts.season.days[t], bend.today) for t in changed}
        open_ = [t for t in changed if not packed or weights[t] * self.taken.get(t, 0) > answer[bend.hours_points[t]]]
        freest = {t: self._freest(t, replace_packing(wish, t, ())) for t in open_}
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(self._least, freest.values()))
        for t, asked in freest.items():
            weight, counted = weights[t], answer[bend.hours_points[t]]
            if not packed and asked.designs and self._least(asked).status is Status.INFEASIBLE:
                self.barred = found = self._bar(bend, t, asked) or self.barred
                continue
            least = weight * self._felt(t, asked)
            more = packed and wish.packing.get(t) and least < weight * self.taken.get(t, 0)
            full = weight * self._felt(t, self._freest(t, wish)) if more else least
            if max(least, full) > counted:
                found = True
                self.extra += max(least, full) - counted
                bend.costs(t, wish, max(least, full), packing=full > least)
        return found or self.barred

    def _freest(self, t: int, wish: Wish) -> DayRequest:
        """A day with the people called in and all that other days might leave them."""
        called = {name for name, _ in wish.shift.get(t, ())}
        everyone = request_with_all(self.facts, t, wish.batches.get(t, ()))
        hands = tuple(replace(h, must=True) for h in everyone.hands if h.person in called)
        return replace(
            everyone, hands=hands, packing=wish.packing.get(t, ()), keep=self.before[t],
            held=wish.held.get(t, frozenset()),
        )  # fmt: skip

    def _felt(self, t: int, asked: DayRequest) -> int:
        """Points that hours and jobs take at least with these batches and people, whatever other days leave."""
        new = {h.person for h in asked.hands} - {s.person for s in self.before[t].shifts}
        return max(0, (self._least(asked).bound or 0) - DAY_ON_OR_OFF * len(new))

    def _least(self, request: DayRequest) -> DayAnswer:
        """The fewest points of a day with people at their freest."""
        if request not in self.bounds:
            self.bounds[request] = fit_again(self.facts.season, request, self._limits(LEAST_EFFORT), detail=False)
        return self.bounds[request]

    def differs(self, t: int, wish: Wish) -> bool:
        """Whether a day has other batches, other people, other hours or more packing than before."""
        old = self.before.get(t)
        if old is None:
            return self._asked(t, wish)
        packs = old.packs
        return (
            old.designs != wish.batches.get(t, ())
            or {(s.person, s.ends - s.starts) for s in old.shifts} != set(wish.shift.get(t, ()))
            or any(n > packs[p] for p, n in wish.packing.get(t, ()))
        )

    def _asked(self, t: int, wish: Wish) -> bool:
        return bool(wish.batches.get(t) or wish.packing.get(t) or wish.shift.get(t))

    def _request(self, book: Book, wish: Wish, t: int) -> DayRequest:
        """The day with the people whom the season calls in; those who were in before are in again."""
        old = self.before.get(t)
        stay = {s.person for s in old.shifts} if old else set()
        called = dict(wish.shift.get(t, ()))
        hands = tuple(
            replace(hand, must=hand.must or hand.person in stay)
            for hand in book.hands(t, wish)
            if hand.person in called
        )
        return DayRequest(
            self.facts.season.days[t],
            wish.batches.get(t, ()),
            wish.packing.get(t, ()),
            hands,
            held=wish.held.get(t, frozenset()),
            keep=old,
        )

    def _fit(self, request: DayRequest) -> DayAnswer:
        if request not in self.fitted:
            fit = fit_day if request.keep is None else fit_again
            self.fitted[request] = fit(self.facts.season, request, self._limits(DAY_EFFORT))
        return self.fitted[request]

    def _limits(self, effort: float) -> Limits:
        left = self.left()
        return Limits(effort=effort, seconds=None if left == math.inf else max(0.1, left))

    def _fits(self, request: DayRequest) -> Status:
        """Whether work without packing fits: a short plain search, then a stronger one.

        INFEASIBLE is not confirmed without presolve, which takes four times as long: the audit
        reads whatever comes of it.
        """
        if request not in self.known:
            day = build(self.facts.season, request)
            plain = Limits(effort=DAY_EFFORT / 2, linearization=0, probing=0, confirm=False)
            answer = Answer(Status.INFEASIBLE, None, None, None)
            for limits in (plain, replace(plain, strong=True)):
                if day is None:
                    break
                answer = engine.solve(day.model, limits)
                if answer.status is not Status.UNKNOWN:
                    break
            self.known[request] = answer
        return self.known[request].status

    def _learn(self, bend: Bend, request: DayRequest, t: int) -> None:
        """Bar what did not fit: for good where it is proven, else in these circumstances."""
        self.unsure = False
        if request.designs and self._bar(bend, t, request):
            return
        people = frozenset(h.person for h in request.hands)
        self.unsure = True
        products = self.facts.season.product_by_name
        seconds = sum(products[p].packing_seconds * n for p, n in request.packing)
        lighter = seconds and self._fits(replace(request, packing=())).solved
        bend.avoid(t, request.designs, people, seconds * 85 // 100 if lighter else None)

    def _bar(self, bend: Bend, t: int, request: DayRequest) -> bool:
        """Bar the day's batches for good where it is proven that they fit with nobody, or not with these people."""
        everyone = request_with_all(self.facts, t, request.designs)
        if self._fits(everyone) is Status.INFEASIBLE:
            bend.learn(t, self._smallest(everyone))
            return True
        people = frozenset(h.person for h in request.hands)
        these = replace(everyone, hands=tuple(h for h in everyone.hands if h.person in people))
        if self._fits(these) is Status.INFEASIBLE:
            bend.bar(t, self._smallest(these), people)
            return True
        return False

    def _smallest(self, request: DayRequest) -> tuple[str, ...]:
        """Batches taken away as long as the rest is still proven not to fit."""
        left = list(request.designs)
        for design in request.designs:
            fewer = left.copy()
            fewer.remove(design)
            if fewer and self._fits(replace(request, designs=tuple(fewer))) is Status.INFEASIBLE:
                left = fewer
        return tuple(left)

    def _lighter(self, book: Book, request: DayRequest, t: int) -> DayPlan | None:
        """The day with as many packs as find room, then fewer batches, then no shows, then help from who can come."""
        free = book.hands(t)
        packers = {run.person for run in request.keep.packing} if request.keep else set()
        wanted = Counter(request.designs)
        pinned = self.facts.pinned_on(t) & wanted
        designs = [*pinned.elements(), *(wanted - pinned).elements()]
        for hands, held in product((request.hands, free), dict.fromkeys((request.held, frozenset()))):
            for count in range(len(designs), pinned.total() - 1, -1):
                bare = replace(request, designs=tuple(sorted(designs[:count])), packing=(), hands=hands, held=held)
                if (plan := self._fit(bare).plan) is not None:
                    asked = replace(bare, packing=request.packing)
                    return pack_in(self.facts.season, asked, plan, partly=True, first=packers) or plan
        return None


def replace_packing(wish: Wish, t: int, packing: tuple[tuple[str, int], ...]) -> Wish:
    """The same wish with other packing on one day."""
    return replace(wish, packing={**wish.packing, t: packing})
