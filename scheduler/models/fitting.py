"""Fitting the days that a season asks for, and what is done with days that do not fit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

from scheduler.models.day import fit_day
from scheduler.models.day_oracle import DayOracle
from scheduler.models.days import Book, asked_days, pulls_on, request, wished_hands
from scheduler.models.engine import Limits
from scheduler.models.facts import Facts
from scheduler.models.limits import DayLimits
from scheduler.models.season import Wish
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.types import DayPlan, Shift
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
    effort: float = 0.3
    polish_effort: float = 0.05
    failed: list[int] = field(default_factory=list)  # days of the last wish that did not fit as asked

    def __post_init__(self) -> None:
        self.oracle = DayOracle(self.facts.season, Limits(effort=self.effort))
        self._found: dict[DayRequest, DayPlan | None] = {}

    def fit(self, wish: Wish, learn: bool = True, settled: Mapping[int, DayPlan] | None = None) -> Book:
        """Fit every day that is not settled: side by side as wished, then one by one with whoever
        can come, then with less work."""
        facts, book = self.facts, Book(self.facts, dict(settled or {}))
        days = [t for t in asked_days(facts, wish) if t not in book.days]
        requests = [request(facts, wish, t, wished_hands(facts, wish, t)) for t in days]
        with ThreadPoolExecutor(self.workers) as pool:
            plans = list(pool.map(self.find, requests))
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

    def find(self, asked: DayRequest) -> DayPlan | None:
        """Any day that does what is asked, or None where none was found."""
        if asked not in self._found:
            self._found[asked] = fit_day(self.facts.season, asked, Limits(effort=self.effort), "any").plan
        return self._found[asked]

    def _fits(self, asked: DayRequest) -> bool:
        return self.oracle.fits(asked).solved

    def polish(self, days: Sequence[DayPlan]) -> tuple[DayPlan, ...]:
        """The same days made cheaper: nobody stays longer, nobody else comes, the work is the same."""
        with ThreadPoolExecutor(self.workers) as pool:
            return tuple(pool.map(self._cheaper, days))

    def _cheaper(self, day: DayPlan) -> DayPlan:
        facts, t = self.facts, self.facts.season.index(day.day)
        if t not in facts.hands or not day.shifts:
            return day
        called = {p.person for p in facts.season.pins if p.kind == "works" and p.day == day.day}
        pulls = pulls_on(facts, day)
        week = facts.week(t)
        free = {p.name: p.pulls_week >= p.pulls_day * len(facts.weeks[week]) for p in facts.season.crew}
        hands = tuple(
            Hand(
                s.person, *self._stay(t, s), s.ends - s.starts,
                facts.person(s.person).pulls_day if free[s.person] else pulls.get(s.person, 0), s.person in called,
            )
            for s in day.shifts
        )  # fmt: skip
        packs: Counter[str] = Counter()
        for run in day.packing:
            packs[run.product] += run.packs
        asked = DayRequest(
            day.day, tuple(sorted(b.design for b in day.batches)), tuple(sorted(packs.items())), hands,
            hold_shows=not day.missed_shows,
        )  # fmt: skip
        better = fit_day(facts.season, asked, Limits(effort=self.polish_effort)).plan
        if better is None or len(better.missed_shows) > len(day.missed_shows):
            return day
        if _paid(facts, better) > _paid(facts, day):
            return day
        return better

    def _stay(self, t: int, shift: Shift) -> tuple[int, int]:
        """When a person may be in: the whole stretch, or the shift itself where rest between days could bind."""
        stretch, facts = self.facts.hands[t][shift.person], self.facts
        for d in (t - 1, t + 1):
            near = facts.hands.get(d, {}).get(shift.person)
            if near is not None:
                first, second = (near, stretch) if d < t else (stretch, near)
                if first.ends + facts.season.kitchen.rest_minutes > second.starts + 1440:
                    return shift.starts, shift.ends
        return stretch.starts, stretch.ends

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
        plan = self.find(asked)
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
                    self.limits.learn_idle(t, 2)
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
        return people, self._smallest(asked)

    def _smallest(self, asked: DayRequest) -> tuple[str, ...]:
        """Drop batches one after the other as long as the rest still does not fit."""
        left, tries = list(asked.designs), 4
        for design in sorted(set(left)):
            while len(left) > 1 and design in left and tries:
                fewer = left.copy()
                fewer.remove(design)
                tries -= 1
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
            less = replace(asked, designs=tuple(designs))
            bare = self.find(replace(less, packing=()))
            if bare is not None:
                for share in (80, 50):
                    packs = tuple((p, n * share // 100) for p, n in asked.packing if n * share // 100)
                    plan = self.find(replace(less, packing=packs)) if packs else None
                    if plan is not None:
                        return plan
                return bare
            spare = [d for d in sorted(set(designs)) if designs.count(d) > pinned[d]]
            if not spare:
                return self._lighter(replace(asked, hold_shows=False)) if asked.hold_shows else None
            designs.remove(min(spare, key=lambda d: (weights[d], d)))


def _paid(facts: Facts, day: DayPlan) -> int:
    """Wages of a day without overtime, in sixtieths of a cent."""
    return sum(
        facts.person(s.person).wage_cents * (s.ends - s.starts - (0 if s.break_starts is None else facts.unpaid_break))
        for s in day.shifts
    )
