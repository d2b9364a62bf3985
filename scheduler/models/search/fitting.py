"""Fitting the days that a season asks for, and what is done with days that do not fit."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

from scheduler.models.caps.limits import DayLimits, request_with_all
from scheduler.models.caps.oracle import DayOracle, dated, undated_shows
from scheduler.models.caps.too_much import TooMuch
from scheduler.models.counts.board import Wish
from scheduler.models.counts.days import Book, asked_days, held_on, request, wished_hands
from scheduler.models.day.by_hand import TRIES
from scheduler.models.day.pack_in import pack_in
from scheduler.models.day.solve import Want
from scheduler.models.day.task import DayTask, How, do_task, do_tasks
from scheduler.models.facts import Facts
from scheduler.models.search.cheaper import cheaper, cheaper_side_by_side, wages
from scheduler.models.solvers.engine import Limits
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.summary import pulls_by_person
from scheduler.plan.types import DayPlan
from scheduler.season import rules
from scheduler.season.types import Show

FEW = 8  # tries at a day that is only an idea, or a sketch: nine of ten are found in so many (measured)
TRYING = 0.1  # effort of a solver at a day that is only an idea
PACKING_DAYS = 12  # days tried for packs that found no room

Kind = tuple[tuple[int, int] | None, tuple[Show, ...], tuple[tuple[str, str], ...]]  # hours, shows, pins "not in role"
Sort = tuple[Kind, frozenset[str], tuple[str, ...]]  # kind of day, shows held, designs


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
    until: float = math.inf  # of time.monotonic(); afterwards only days that were found before are used
    processes: int = 1  # that days are fitted in side by side; the season must be worth them
    failed: list[int] = field(default_factory=list)  # days of the last wish that did not fit as asked

    def __post_init__(self) -> None:
        self.oracle = DayOracle(self.facts.season, Limits(effort=self.effort))
        self._found: dict[DayRequest, DayPlan | None] = {}
        self._vain: dict[DayRequest, int] = {}  # looked for by hand in so many tries, and not found
        self.want: Want = "any"
        self.tries = TRIES
        self._tried_out: set[object] = set()  # kinds of days
        self.too_much = TooMuch(self.facts, self.limits)
        self._days: dict[Sort, list[tuple[DayPlan, Mapping[str, int]]]] = {}  # found days without packing, and pulls

    def fit(
        self, wish: Wish, learn: bool = True, settled: Mapping[int, DayPlan] | None = None, by_hand: bool = False,
        tries: int = TRIES, fewer: bool = True,
    ) -> Book:  # fmt: skip
        """Fit every day that is not settled: side by side as wished, then one by one with whoever can
        come, then with less work. ``by_hand``: without a solver, at once; ``tries`` at each day then.
        Not ``fewer``: as many packs as go in, rather than fewer batches that leave time for all of them."""
        self.want, self.tries = "by hand" if by_hand else "any", tries
        facts, book = self.facts, Book(self.facts, dict(settled or {}))
        days = [t for t in asked_days(facts, wish) if t not in book.days]
        requests = [request(facts, wish, t, wished_hands(facts, wish, t)) for t in days]
        self._use_known(wish, requests)
        plans = self._find_all(requests)
        for asked, plan in zip(requests, plans, strict=True):
            if plan is not None or (by_hand and not asked.packing):
                self._remember(asked, plan)
        self.failed = []
        lessons = [t for t, plan in zip(days, plans, strict=True) if plan is None]
        if learn:
            self._learn_all(wish, lessons)
        for t, plan in zip(days, plans, strict=True):
            if plan is not None and self._keeps_limits(book, t, plan):
                book.days[t] = plan
        for t in days:
            if t not in book.days:
                self._fit_alone(book, wish, t, fewer)
        self._pack_elsewhere(book, wish)
        return book

    def _use_known(self, wish: Wish, requests: Sequence[DayRequest]) -> None:
        """Days that a wish is made of are the ones that are found, where the people who are asked for may work them."""
        for asked in requests:
            day = wish.known.get(self.facts.season.index(asked.day))
            if day is not None and (day.designs, held_on(day)) == (asked.designs, asked.held):
                hands = {h.person: h for h in asked.hands}
                if _can_work(day, pulls_by_person(self.facts.season, day), hands):
                    self._found[replace(asked, packing=())] = dated(replace(day, packing=()), asked)

    def _pack_elsewhere(self, book: Book, wish: Wish) -> None:
        """Packs that found no room on their day, on the next days that take them: a whole order may hang on a few."""
        for t, packing in wish.packing.items():
            packed = book.days[t].packs if t in book.days else Counter[str]()
            left = Counter({product: packs - packed[product] for product, packs in packing})
            others = sorted((d for d in self.facts.days if d != t), key=lambda d: (d < t, abs(d - t)))[:PACKING_DAYS]
            for product, d in ((p, d) for p in sorted(+left) for d in others):
                for packs in (left[product], left[product] // 2):
                    more = ((product, packs),)
                    if 0 < packs <= left[product] and self.add_to(book, d, book.hands(d, wish), packing=more):
                        left[product] -= packs

    def add_to(
        self, book: Book, t: int, hands: tuple[Hand, ...], designs: tuple[str, ...] = (),
        packing: tuple[tuple[str, int], ...] = (), show: str = "",
    ) -> bool:  # fmt: skip
        """Fit a day of a book with more work, or one more show; False, and nothing changed, where it doesn't go in."""
        old = book.days.get(t, DayPlan(self.facts.season.days[t]))
        packs = old.packs
        packs.update(dict(packing))
        asked = DayRequest(
            old.day,
            tuple(sorted([*old.designs, *designs])),
            tuple(sorted(packs.items())),
            hands,
            held_on(old) | ({show} if show else set()),
        )
        plan = self.find(asked, hard=bool(designs or show))
        if plan is None or (t in book.days and len(plan.missed_shows) > len(old.missed_shows)):
            return False
        book.days[t] = replace(plan, day=old.day)
        return True

    def find(self, asked: DayRequest, hard: bool = True) -> DayPlan | None:
        """Any day that does what is asked, or None where none was found; ``hard`` as in ``How``."""
        plan = self._find(asked, hard)
        if plan is not None or hard:
            self._remember(asked, plan)
        return plan

    def _find(self, asked: DayRequest, hard: bool = False) -> DayPlan | None:
        """As ``find``, but nothing is remembered: what is found does not depend on who else is searching."""
        if asked in self._found:
            return self._found[asked]
        return do_task(self.facts.season, self._task(asked), self._how(hard))

    def _find_all(self, asked: Sequence[DayRequest], how: How | None = None) -> list[DayPlan | None]:
        """``_find`` for several days, side by side: in processes where the season is worth them."""
        how = how or self._how(False)
        new = [one for one in dict.fromkeys(asked) if one not in self._found]
        tasks = [self._task(one) for one in new]
        if self.processes <= 1:
            with ThreadPoolExecutor(self.workers) as pool:
                plans = list(pool.map(lambda task: do_task(self.facts.season, task, how), tasks))
        else:
            plans = do_tasks(self.facts.season, tasks, how, self.processes)
        found = dict(zip(new, plans, strict=True))
        return [found[one] if one in found else self._found[one] for one in asked]

    def _task(self, asked: DayRequest) -> DayTask:
        bare = replace(asked, packing=())
        known = self._found[bare] if bare in self._found else self._known(bare)
        vain = bare in self._found or (self.want == "by hand" and self._vain.get(bare, 0) >= self.tries)
        return DayTask(asked, known, known is None and vain)

    def _how(self, hard: bool) -> How:
        return How(self.effort, self.until, self.want, hard, self.tries)

    def _remember(self, asked: DayRequest, plan: DayPlan | None) -> None:
        if plan is None and self.want == "by hand":
            self._vain[asked] = max(self.tries, self._vain.get(asked, 0))
            return
        if self._found.get(asked) is not None:
            return
        self._found[asked] = plan
        if plan is not None and plan.batches:
            bare = replace(plan, packing=())
            self._days.setdefault(self._sort(asked), []).append((bare, pulls_by_person(self.facts.season, bare)))

    def remember(self, day: DayPlan) -> None:
        """A day of a plan that is there: known to fit without its packing, for people who may be in as long."""
        hands = tuple(
            Hand(s.person, s.starts, s.ends, s.ends - s.starts, self.facts.person(s.person).pulls_day)
            for s in day.shifts
        )
        self._remember(DayRequest(day.day, day.designs, (), hands, held_on(day)), day)

    def try_out(self, asked: Sequence[DayRequest], solver: bool = False) -> int:
        """Build days by hand, side by side, and remember them; how many were found.

        With a ``solver`` where that finds none: a tenth of a second tells whether such a day can be at all.
        """
        self.want = "any" if solver else "by hand"
        plans = self._find_all(asked, replace(self._how(False), tries=FEW, effort=TRYING))
        self.want = "by hand"
        looked = time.monotonic() < self.until  # else the clock may have ended before all were
        for one, plan in zip(asked, plans, strict=True):
            if plan is not None:
                self._remember(one, plan)
            elif looked:
                self.too_much.add(one)
        if looked:
            self._tried_out.update(map(self.kind_of, asked))
        return sum(plan is not None for plan in plans)

    def kind_of(self, asked: DayRequest) -> object:
        """What two days have in common for which looking by hand is one search."""
        return self._sort(asked), asked.hands

    def looked_for(self, kind: object) -> bool:
        """Whether a day of a kind was tried out before."""
        return kind in self._tried_out

    @property
    def left(self) -> float | None:
        """Seconds that are left; None without a limit."""
        return None if self.until == math.inf else max(0.1, self.until - time.monotonic())

    def _sort(self, asked: DayRequest) -> Sort:
        """What two days must have in common for one to be the other's plan."""
        season = self.facts.season
        barred = self.limits.barred(season.index(asked.day))
        kind = rules.opening(season, asked.day), undated_shows(season, asked.day), barred
        return kind, asked.held, asked.designs

    def known(self, t: int, most: int) -> list[DayPlan]:
        """Days found before that the people of a day could work: of each set of batches the cheapest, fullest first."""
        facts, asked = self.facts, request_with_all(self.facts, t, ())
        here, hands = self._sort(asked)[0], {h.person: h for h in asked.hands}
        best: dict[tuple[tuple[str, ...], tuple[str, ...]], DayPlan] = {}
        for (kind, _, designs), days in self._days.items():
            if kind != here:
                continue
            for day, pulls in days:
                if _can_work(day, pulls, hands):
                    key = day.missed_shows, designs
                    if key not in best or wages(facts, day) < wages(facts, best[key]):
                        best[key] = day
        return sorted(best.values(), key=lambda d: (-len(d.batches), wages(facts, d)))[:most]

    def _known(self, asked: DayRequest) -> DayPlan | None:
        """A day found before with the same batches, if the people of this day may work it."""
        must, hands = {h.person for h in asked.hands if h.must}, {h.person: h for h in asked.hands}
        for day, pulls in self._days.get(self._sort(asked), ()):
            if must <= {s.person for s in day.shifts} and _can_work(day, pulls, hands):
                return dated(day, asked)
        return None

    def _fits(self, asked: DayRequest) -> bool:
        if self.want == "by hand":
            return self.find(asked, hard=False) is not None
        return self.oracle.fits(asked).solved

    def polish(self, days: Sequence[DayPlan]) -> tuple[DayPlan, ...]:
        """The same days made cheaper: nobody stays longer, nobody else comes, the work is the same."""
        if self.processes <= 1:
            with ThreadPoolExecutor(self.workers) as pool:
                return tuple(pool.map(lambda day: cheaper(self.facts, day, self.until), days))
        return cheaper_side_by_side(self.facts, days, self.until, self.processes)

    def _keeps_limits(self, book: Book, t: int, plan: DayPlan) -> bool:
        """Whether a day leaves everyone within week hours, weekly pulls and days in a row, and rested."""
        facts, week = self.facts, self.facts.week(t)
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

    def _fit_alone(self, book: Book, wish: Wish, t: int, fewer: bool) -> None:
        """Fit one day with everyone who may still come; lighten it if it does not fit."""
        asked = request(self.facts, wish, t, book.hands(t, wish))
        plan = self.find(asked)
        if plan is None:
            self.failed.append(t)
            bare = None if fewer else self.find(replace(asked, packing=()))
            plan = self._lighter(asked) if bare is None else self._some_packs(asked, bare)
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
        """The day with less work: fewer batches until they fit, then as many packs as there is room for.

        Pins are kept to the last.
        """
        pinned = self.facts.pinned_on(self.facts.season.index(asked.day))
        designs = list(asked.designs)
        weights = {d: sum(n.weight * n.packs for n in self.facts.wanted.get(d, ())) for d in set(designs)}
        if asked.held and not self._shows_fit(asked):
            return self._one_show_less(asked)
        while True:
            bare = self.find(replace(asked, designs=tuple(designs), packing=()))
            able = [d for d in sorted(set(designs)) if designs.count(d) > pinned[d]]
            spare = [d for d in able if self._show_left(asked, designs, d)]
            if bare is not None:
                plan = self._some_packs(asked, bare)
                if not spare or self._pieces_left(asked, plan) <= self._yield(designs):
                    return plan
            if not spare:
                return self._one_show_less(asked) if asked.held else None
            designs.remove(min(spare, key=lambda d: (weights[d], d)))

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
        return all(fitting) and self.find(alone) is not None


def _can_work(day: DayPlan, pulls: Mapping[str, int], hands: Mapping[str, Hand]) -> bool:
    """Whether these people may be in for the shifts of a day, and pull what it asks of them."""
    return all(
        (hand := hands.get(s.person)) is not None
        and hand.from_minute <= s.starts and s.ends <= hand.to_minute
        and s.ends - s.starts <= hand.longest and pulls.get(s.person, 0) <= hand.pulls
        for s in day.shifts
    )  # fmt: skip
