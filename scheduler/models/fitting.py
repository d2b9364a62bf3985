"""Fitting the days that a season asks for, and what is done with days that do not fit."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

from scheduler.models.day_oracle import DayOracle
from scheduler.models.days import Book, asked_days, pulls_on, request, wished_hands
from scheduler.models.engine import Limits
from scheduler.models.facts import Facts
from scheduler.models.limits import DayLimits, request_with_all
from scheduler.models.season import Wish
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.types import DayPlan
from scheduler.season import rules


@dataclass
class Fitter:
    """Fits wishes day by day, and teaches the limits what did not fit.

    ``effort`` is spent on each day at most: a day that is not found in it counts as one
    that does not fit.
    """

    facts: Facts
    limits: DayLimits
    workers: int = 2
    effort: float = 0.5
    failed: list[int] = field(default_factory=list)  # days of the last wish that did not fit as asked

    def __post_init__(self) -> None:
        self.oracle = DayOracle(self.facts.season, Limits(effort=self.effort))

    def fit(self, wish: Wish, learn: bool = True) -> Book:
        """Fit every day: side by side as wished, then one by one with whoever can come, then with less work."""
        facts, book = self.facts, Book(self.facts)
        days = asked_days(facts, wish)
        requests = [request(facts, wish, t, wished_hands(facts, wish, t)) for t in days]
        with ThreadPoolExecutor(self.workers) as pool:
            plans = list(pool.map(self._try, requests))
        self.failed = []
        lessons = [t for t, plan in zip(days, plans, strict=True) if plan is None]
        if learn:
            self._learn_all(wish, lessons)
        for t, plan in zip(days, plans, strict=True):
            if plan is not None and self._keeps_limits(book, t, plan):
                book.days[t] = plan
        for t in days:
            if t not in book.days:
                self._fit_alone(book, wish, t)
        return book

    def _try(self, asked: DayRequest) -> DayPlan | None:
        return self.oracle.fit(asked).plan

    def _fits(self, asked: DayRequest) -> bool:
        return self.oracle.fits(asked).solved

    def _keeps_limits(self, book: Book, t: int, plan: DayPlan) -> bool:
        """Whether a day leaves everyone within week hours and weekly pulls."""
        facts, week = self.facts, self.facts.week(t)
        pulls = pulls_on(facts, plan)
        for shift in plan.shifts:
            person = facts.person(shift.person)
            paid = book.paid_in(person.name, week, t) + facts.paid_of(shift.ends - shift.starts)
            if paid > rules.week_limit(person):
                return False
            if pulls.get(person.name, 0) + book.pulls_in(person.name, week, t) > person.pulls_week:
                return False
        return True

    def _fit_alone(self, book: Book, wish: Wish, t: int) -> None:
        """Fit one day with everyone who may still come; lighten it if it does not fit."""
        asked = request(self.facts, wish, t, book.hands(t, wish))
        plan = self._try(asked)
        if plan is None:
            self.failed.append(t)
            plan = self._lighter(asked)
        if plan is not None:
            book.days[t] = plan

    def _learn_all(self, wish: Wish, days: list[int]) -> None:
        """Learn from the days that did not fit, side by side; the order of what is learnt is that of the days."""
        with ThreadPoolExecutor(self.workers) as pool:
            for t, lesson in zip(days, list(pool.map(lambda t: self._lesson(wish, t), days)), strict=True):
                if lesson is None:
                    self.limits.learn_idle(t, self.limits.idle_percent(t) + 4)
                else:
                    self.limits.learn_crew(t, lesson[0], lesson[1])

    def _lesson(self, wish: Wish, t: int) -> tuple[frozenset[str], tuple[str, ...]] | None:
        """People and batches that do not fit even with whole days; None where the hours are what is missing."""
        facts = self.facts
        people = frozenset(name for name, _ in wish.shift.get(t, ()))
        hands = tuple(
            Hand(n, s.starts, s.ends, s.longest, facts.person(n).pulls_day)
            for n, s in facts.hands[t].items()
            if n in people
        )
        asked = replace(request(facts, wish, t, hands), packing=())
        if not asked.designs or self._fits(asked):
            return None
        everyone = replace(asked, hands=request_with_all(facts, t, ()).hands)
        if not self._fits(everyone):
            people, asked = frozenset(facts.hands[t]), everyone
        return people, self._smallest(asked)

    def _smallest(self, asked: DayRequest) -> tuple[str, ...]:
        """Drop batches one after the other as long as the rest still does not fit."""
        left = list(asked.designs)
        for design in sorted(set(left)):
            while len(left) > 1 and design in left:
                fewer = left.copy()
                fewer.remove(design)
                if self._fits(replace(asked, designs=tuple(fewer))):
                    break
                left = fewer
        return tuple(left)

    def _lighter(self, asked: DayRequest) -> DayPlan | None:
        """The day with less work: fewer packs, then fewer batches, until it fits; pins are kept to the last."""
        pinned = Counter(
            {p.design: p.batches for p in self.facts.season.pins if p.kind == "make" and p.day == asked.day}
        )
        designs = list(asked.designs)
        weights = {d: sum(n.weight * n.packs for n in self.facts.wanted.get(d, ())) for d in set(designs)}
        while True:
            bare = replace(asked, designs=tuple(designs), packing=(), hold_shows=False)
            if self._fits(bare):
                for share in (100, 75, 50, 0):
                    packs = tuple((p, n * share // 100) for p, n in asked.packing if n * share // 100)
                    plan = self._try(replace(bare, packing=packs))
                    if plan is not None:
                        return plan
            spare = [d for d in sorted(set(designs)) if designs.count(d) > pinned[d]]
            if not spare:
                return None
            designs.remove(min(spare, key=lambda d: (weights[d], d)))
