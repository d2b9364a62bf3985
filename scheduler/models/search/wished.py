"""The days that a wish asks for, fitted to the minute: as wished, else with whoever can come, else with less work."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

from scheduler.models.counts.board import Wish
from scheduler.models.counts.days import Book, asked_days, request, wished_hands
from scheduler.models.day.pack_in import pack_in
from scheduler.models.facts import Facts
from scheduler.models.search.fitting import CAREFULLY, Care, Fitter
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.summary import pulls_by_person
from scheduler.plan.types import DayPlan
from scheduler.season import rules

PACKING_DAYS = 12  # days tried for packs that found no room


def fit_days(
    fitter: Fitter, wish: Wish, care: Care = CAREFULLY, learn: bool = False,
    settled: Mapping[int, DayPlan] | None = None, fewer: bool = True,
) -> tuple[Book, int]:  # fmt: skip
    """Every day of a wish, those that are ``settled`` as they are; and how many did not fit as asked.

    Side by side as wished, then one by one with whoever can come, then with less work. ``learn``: the limits are taught
    what did not fit. Not ``fewer``: as many packs as go in, rather than fewer batches that leave time for all of them.
    """
    fitting = _Fitting(fitter, wish, care, fewer, Book(fitter.facts, dict(settled or {})))
    fitting.run(learn)
    return fitting.book, fitting.failed


@dataclass
class _Fitting:
    """The days of a wish so far; ``failed``: how many of them did not fit as asked."""

    fitter: Fitter
    wish: Wish
    care: Care
    fewer: bool
    book: Book
    failed: int = 0
    facts: Facts = field(init=False)

    def __post_init__(self) -> None:
        self.facts = self.fitter.facts

    def run(self, learn: bool) -> None:
        """Fit all days that are asked for and not there."""
        days = [t for t in asked_days(self.facts, self.wish) if t not in self.book.days]
        requests = [request(self.facts, self.wish, t, wished_hands(self.facts, self.wish, t)) for t in days]
        for t, asked in zip(days, requests, strict=True):
            if t in self.wish.known:
                self.fitter.use(self.wish.known[t], asked)
        plans = self.fitter.find_all(requests, self.care)
        looked = not self.fitter.over  # else the clock may have ended before all were
        for asked, plan in zip(requests, plans, strict=True):
            if plan is not None or (looked and self.care.want == "by hand" and not asked.packing):
                self.fitter.keep(asked, plan, self.care)
        if learn and looked:
            self._learn_all([t for t, plan in zip(days, plans, strict=True) if plan is None])
        for t, plan in zip(days, plans, strict=True):
            if plan is not None and self._keeps_limits(t, plan):
                self.book.days[t] = plan
        for t in days:
            if t not in self.book.days:
                self._fit_alone(t)
        self._pack_elsewhere()

    def _find(self, asked: DayRequest) -> DayPlan | None:
        return self.fitter.find(asked, self.care)

    def _keeps_limits(self, t: int, plan: DayPlan) -> bool:
        """Whether a day leaves everyone within week hours, weekly pulls and days in a row, and rested."""
        facts, book, week = self.facts, self.book, self.facts.week(t)
        pulls = pulls_by_person(facts.season, plan)
        for shift in plan.shifts:
            person = facts.person(shift.person)
            earliest, latest = book.rested(person.name, t)
            if shift.starts < earliest or shift.ends > latest or book.row_full(person.name, t):
                return False
            paid = book.paid_in(person.name, week, t) + facts.paid_of(shift.ends - shift.starts)
            if paid > rules.week_limit(person):
                return False
            if pulls.get(person.name, 0) + book.pulls_in(person.name, week, t) > person.pulls_week:
                return False
        return True

    def _fit_alone(self, t: int) -> None:
        """Fit one day with everyone who may still come; lighten it if it does not fit."""
        asked = request(self.facts, self.wish, t, self.book.hands(t, self.wish))
        plan = self._find(asked)
        if plan is None:
            self.failed += 1
            bare = None if self.fewer else self._find(replace(asked, packing=()))
            plan = self._lighter(asked) if bare is None else self._some_packs(asked, bare)
        if plan is not None:
            self.book.days[t] = plan

    def _pack_elsewhere(self) -> None:
        """Packs that found no room on their day, on the nearest that take them: a whole order may hang on a few."""
        book = self.book
        for t, packing in self.wish.packing.items():
            packed = book.days[t].packs if t in book.days else Counter[str]()
            left = Counter({product: packs - packed[product] for product, packs in packing})
            others = sorted((d for d in self.facts.days if d != t), key=lambda d: (abs(d - t), d < t))[:PACKING_DAYS]
            for product, d in ((p, d) for p in sorted(+left) for d in others):
                for packs in (left[product], left[product] // 2):
                    more, hands = ((product, packs),), book.hands(d, self.wish)
                    if 0 < packs <= left[product] and self.fitter.add_to(book, d, hands, self.care, packing=more):
                        left[product] -= packs

    def _learn_all(self, days: Sequence[int]) -> None:
        """Learn from the days that did not fit, side by side; the order of what is learnt is that of the days."""
        with ThreadPoolExecutor(self.fitter.workers) as pool:
            for t, lesson in zip(days, list(pool.map(self._lesson, days)), strict=True):
                if lesson is None:
                    self.fitter.limits.learn_idle(t, 2)
                else:
                    self.fitter.limits.learn_crew(t, lesson[0], lesson[1])

    def _lesson(self, t: int) -> tuple[frozenset[str], tuple[str, ...]] | None:
        """People and batches that do not fit even with whole days; None where the hours are what is missing."""
        facts = self.facts
        people = frozenset(name for name, _ in self.wish.shift.get(t, ()))
        hands = tuple(
            Hand(n, s.starts, s.ends, s.longest, facts.person(n).pulls_day)
            for n, s in facts.hands[t].items()
            if n in people
        )
        asked = replace(request(facts, self.wish, t, hands), packing=())
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

    def _fits(self, asked: DayRequest) -> bool:
        if self.care.want == "by hand":
            return self.fitter.find(asked, self.care, hard=False) is not None
        return self.fitter.oracle.fits(asked).solved

    def _lighter(self, asked: DayRequest) -> DayPlan | None:
        """The day with less work: fewer batches until they fit, then as many packs as there is room for.

        One batch more is left out for packs as long as that gets at least as many pieces packed. Pins are kept to the
        last.
        """
        pinned = self.facts.pinned_on(self.facts.season.index(asked.day))
        designs = list(asked.designs)
        weights = {d: sum(n.weight * n.packs for n in self.facts.wanted.get(d, ())) for d in set(designs)}
        if asked.held and not self._shows_fit(asked):
            return self._one_show_less(asked)
        best, packs_for = None, 0  # the fullest day so far, and pieces of batches that were left out since
        while True:
            bare = self._find(replace(asked, designs=tuple(designs), packing=()))
            able = [d for d in sorted(set(designs)) if designs.count(d) > pinned[d]]
            spare = [d for d in able if self._show_left(asked, designs, d)]
            if bare is not None:
                plan = self._some_packs(asked, bare)
                left = self._pieces_left(asked, plan)
                if best is not None and self._pieces_left(asked, best) - left < packs_for:
                    return best
                if not spare or left <= self._yield(designs):
                    return plan
                best, packs_for = plan, 0
            if not spare:
                return best or (self._one_show_less(asked) if asked.held else None)
            less = min(spare, key=lambda d: (weights[d], d))
            packs_for += self.facts.season.design_by_name[less].pieces
            designs.remove(less)

    def _one_show_less(self, asked: DayRequest) -> DayPlan | None:
        """The lighter day with one of its shows given up: whichever leaves most of the others."""
        ways = [self._lighter(replace(asked, held=asked.held - {show})) for show in sorted(asked.held)]
        return min((way for way in ways if way is not None), key=lambda d: len(d.missed_shows), default=None)

    def _some_packs(self, asked: DayRequest, bare: DayPlan) -> DayPlan:
        """A day with as many of the packs as there is room for."""
        if not asked.packing:
            return bare
        return pack_in(self.facts.season, asked, bare, partly=True) or bare

    def _pieces_left(self, asked: DayRequest, plan: DayPlan) -> int:
        """Pieces in the packs that a day was asked for and does not pack."""
        packs = Counter(dict(asked.packing))
        for run in plan.packing:
            packs[run.product] -= run.packs
        inside = self.facts.season.contents_of
        return sum(n * sum(inside[p].values()) for p, n in packs.items() if n > 0)

    def _yield(self, designs: Sequence[str]) -> int:
        """Pieces of the smallest batch: what it costs to make one batch less."""
        return min(self.facts.season.design_by_name[d].pieces for d in designs)

    def _show_left(self, asked: DayRequest, designs: Sequence[str], less: str) -> bool:
        """Whether every show that is to be held still has a fitting batch when there is one batch less."""
        season, left = self.facts.season, Counter(designs)
        left[less] -= 1
        shows = [s for s in rules.shows_on(season, asked.day) if s.name in asked.held]
        return all(any(n and rules.fits_show(season.design_by_name[d], s) for d, n in left.items()) for s in shows)

    def _shows_fit(self, asked: DayRequest) -> bool:
        """Whether the shows that are to be held can be, with little else on the day."""
        season = self.facts.season
        shows = [s for s in rules.shows_on(season, asked.day) if s.name in asked.held]
        kinds = [season.design_by_name[d] for d in sorted(set(asked.designs))]
        fitting = [next((d.name for d in kinds if rules.fits_show(d, s)), "") for s in shows]
        alone = replace(asked, designs=tuple(sorted(fitting)), packing=())
        return all(fitting) and self._find(alone) is not None
