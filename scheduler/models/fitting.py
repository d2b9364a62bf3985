"""Fitting the days that a season asks for, and what is done with days that do not fit."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

from scheduler.models.day_oracle import DayOracle
from scheduler.models.days import Book, asked_days, pulls_on, request, wished_hands
from scheduler.models.facts import Facts
from scheduler.models.limits import DayLimits, request_with_all
from scheduler.models.season import Wish
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan
from scheduler.season import rules


@dataclass
class Fitter:
    """Fits wishes day by day, and teaches the limits what did not fit."""

    facts: Facts
    limits: DayLimits
    workers: int = 2
    failed: list[int] = field(default_factory=list)  # days of the last wish that did not fit as asked

    def __post_init__(self) -> None:
        self.oracle = DayOracle(self.facts.season)

    def fit(self, wish: Wish) -> Book:
        """Fit every day: side by side as wished, then one by one with whoever can come, then with less work."""
        facts, book = self.facts, Book(self.facts)
        days = asked_days(facts, wish)
        requests = [request(facts, wish, t, wished_hands(facts, wish, t)) for t in days]
        with ThreadPoolExecutor(self.workers) as pool:
            plans = list(pool.map(self._try, requests))
        self.failed = []
        for t, plan in zip(days, plans, strict=True):
            if plan is not None and self._keeps_limits(book, t, plan):
                book.days[t] = plan
        for t in days:
            if t not in book.days:
                self._fit_alone(book, wish, t)
        return book

    def _try(self, asked: DayRequest) -> DayPlan | None:
        return self.oracle.fit(asked).plan

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
        """Fit one day with everyone who may still come; learn from it and lighten it if it does not fit."""
        hands = book.hands(t, wish)
        asked = request(self.facts, wish, t, hands)
        plan = self._try(asked)
        if plan is None:
            self.failed.append(t)
            self._learn(t, asked)
            plan = self._lighter(asked, t)
        if plan is not None:
            book.days[t] = plan

    def _learn(self, t: int, asked: DayRequest) -> None:
        """A cut where the batches fit with nobody missing, otherwise more idle time on that day."""
        facts = self.facts
        everyone = replace(request_with_all(facts, t, asked.designs), hold_shows=asked.hold_shows)
        if asked.designs and not self.oracle.fits(everyone).solved:
            self.limits.learn(t, self._smallest(everyone))
            return
        self.limits.learn_idle(t, self.limits.idle_percent(t) + 6)

    def _smallest(self, asked: DayRequest) -> tuple[str, ...]:
        """Drop batches one after the other as long as the rest still does not fit."""
        left = list(asked.designs)
        for design in sorted(set(left)):
            while len(left) > 1 and design in left:
                fewer = left.copy()
                fewer.remove(design)
                if self.oracle.fits(replace(asked, designs=tuple(fewer))).solved:
                    break
                left = fewer
        return tuple(left)

    def _lighter(self, asked: DayRequest, t: int) -> DayPlan | None:
        """The day with less work: fewer packs, then fewer batches, until it fits; pins are kept to the last."""
        pinned = Counter(
            {p.design: p.batches for p in self.facts.season.pins if p.kind == "make" and p.day == asked.day}
        )
        designs = list(asked.designs)
        weights = {d: sum(n.weight * n.packs for n in self.facts.wanted.get(d, ())) for d in set(designs)}
        while True:
            for share in (100, 50, 0):
                packs = tuple((p, n * share // 100) for p, n in asked.packing if n * share // 100)
                plan = self._try(replace(asked, designs=tuple(designs), packing=packs, hold_shows=False))
                if plan is not None:
                    return plan
                if not asked.packing:
                    break
            spare = [d for d in sorted(set(designs)) if designs.count(d) > pinned[d]]
            if not spare:
                return None
            designs.remove(min(spare, key=lambda d: (weights[d], d)))
