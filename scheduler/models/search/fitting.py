"""Single days looked for, by hand or with the day model, and remembered: what was found once is not sought again."""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from scheduler.models.caps.limits import DayLimits, request_with_all
from scheduler.models.caps.oracle import DayOracle, dated, undated_shows
from scheduler.models.caps.too_much import TooMuch
from scheduler.models.counts.days import Book, held_on
from scheduler.models.day.by_hand import TRIES
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

Kind = tuple[tuple[int, int] | None, tuple[Show, ...], tuple[tuple[str, str], ...]]  # hours, shows, pins "not in role"
Sort = tuple[Kind, frozenset[str], tuple[str, ...]]  # kind of day, shows held, designs


@dataclass(frozen=True)
class Care:
    """How a day is looked for: with the day model where it is not found by hand, or ``by hand`` alone, in ``tries``."""

    want: Want = "any"
    tries: int = TRIES


CAREFULLY, BY_HAND, QUICKLY = Care(), Care("by hand"), Care("by hand", FEW)


@dataclass
class Fitter:
    """Looks for days, and knows all that were found.

    ``effort`` is spent on each day at most: a day that is not found in it counts as one that does not fit.
    """

    facts: Facts
    limits: DayLimits
    workers: int = 2
    effort: float = 0.3
    until: float = math.inf  # of time.monotonic(); afterwards only days that were found before are used
    processes: int = 1  # that days are fitted in side by side; the season must be worth them

    def __post_init__(self) -> None:
        self.oracle = DayOracle(self.facts.season, Limits(effort=self.effort))
        self._found: dict[DayRequest, DayPlan | None] = {}
        self._vain: dict[DayRequest, int] = {}  # looked for by hand in so many tries, and not found
        self._tried_out: set[object] = set()  # kinds of days
        self.too_much = TooMuch(self.facts, self.limits)
        self._days: dict[Sort, list[tuple[DayPlan, Mapping[str, int]]]] = {}  # found days without packing, and pulls

    def add_to(
        self, book: Book, t: int, hands: tuple[Hand, ...], care: Care, designs: tuple[str, ...] = (),
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
        plan = self.find(asked, care, hard=bool(designs or show))
        if plan is None or (t in book.days and len(plan.missed_shows) > len(old.missed_shows)):
            return False
        book.days[t] = replace(plan, day=old.day)
        return True

    def find(self, asked: DayRequest, care: Care = CAREFULLY, hard: bool = True) -> DayPlan | None:
        """Any day that does what is asked, or None where none was found; ``hard`` as in ``How``."""
        if asked in self._found:
            plan = self._found[asked]
        else:
            plan = do_task(self.facts.season, self._task(asked, care), self._how(care, hard))
        if plan is not None or (hard and not self.over):
            self.keep(asked, plan, care)
        return plan

    def find_all(self, asked: Sequence[DayRequest], care: Care, effort: float | None = None) -> list[DayPlan | None]:
        """Days that do what is asked, side by side: in processes where the season is worth them.

        Nothing is remembered: what is found does not depend on who else is searching. An ``effort`` of their own.
        """
        how = self._how(care, False, effort)
        new = [one for one in dict.fromkeys(asked) if one not in self._found]
        tasks = [self._task(one, care) for one in new]
        if self.processes <= 1:
            with ThreadPoolExecutor(self.workers) as pool:
                plans = list(pool.map(lambda task: do_task(self.facts.season, task, how), tasks))
        else:
            plans = do_tasks(self.facts.season, tasks, how, self.processes)
        found = dict(zip(new, plans, strict=True))
        return [found[one] if one in found else self._found[one] for one in asked]

    def _task(self, asked: DayRequest, care: Care) -> DayTask:
        bare = replace(asked, packing=())
        known = self._found[bare] if bare in self._found else self._known(bare)
        vain = bare in self._found or (care.want == "by hand" and self._vain.get(bare, 0) >= care.tries)
        return DayTask(asked, known, known is None and vain)

    def _how(self, care: Care, hard: bool, effort: float | None = None) -> How:
        return How(self.effort if effort is None else effort, self.until, care.want, hard, care.tries)

    def keep(self, asked: DayRequest, plan: DayPlan | None, care: Care = CAREFULLY) -> None:
        """Remember what was found, with so much care, where something was asked for; None: nothing."""
        if plan is None and care.want == "by hand":
            self._vain[asked] = max(care.tries, self._vain.get(asked, 0))
            return
        if self._found.get(asked) is not None:
            return
        self._found[asked] = plan
        if plan is not None and plan.batches:
            bare = replace(plan, packing=())
            self._days.setdefault(self._sort(asked), []).append((bare, pulls_by_person(self.facts.season, bare)))

    def use(self, day: DayPlan, asked: DayRequest) -> None:
        """A day is from now on the one that is found where its batches are asked for, if those asked may work it."""
        if (day.designs, held_on(day)) == (asked.designs, asked.held):
            hands = {h.person: h for h in asked.hands}
            if _can_work(day, pulls_by_person(self.facts.season, day), hands):
                self._found[replace(asked, packing=())] = dated(replace(day, packing=()), asked)

    def remember(self, day: DayPlan) -> None:
        """A day of a plan that is there: known to fit without its packing, for people who may be in as long."""
        hands = tuple(
            Hand(s.person, s.starts, s.ends, s.ends - s.starts, self.facts.person(s.person).pulls_day)
            for s in day.shifts
        )
        self.keep(DayRequest(day.day, day.designs, (), hands, held_on(day)), day)

    def try_out(self, asked: Sequence[DayRequest], solver: bool = False) -> int:
        """Build days by hand, side by side, and remember them; how many were found.

        With a ``solver`` where that finds none: a tenth of a second tells whether such a day can be at all.
        """
        plans = self.find_all(asked, Care("any" if solver else "by hand", FEW), TRYING)
        looked = not self.over  # else the clock may have ended before all were
        for one, plan in zip(asked, plans, strict=True):
            if plan is not None:
                self.keep(one, plan)
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

    @property
    def over(self) -> bool:
        """Whether the clock is over: what is not found now may not have been looked for."""
        return time.monotonic() > self.until

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

    def polish(self, days: Sequence[DayPlan]) -> tuple[DayPlan, ...]:
        """The same days made cheaper: nobody stays longer, nobody else comes, the work is the same."""
        if self.processes <= 1:
            with ThreadPoolExecutor(self.workers) as pool:
                return tuple(pool.map(lambda day: cheaper(self.facts, day, self.until), days))
        return cheaper_side_by_side(self.facts, days, self.until, self.processes)

def _can_work(day: DayPlan, pulls: Mapping[str, int], hands: Mapping[str, Hand]) -> bool:
    """Whether these people may be in for the shifts of a day, and pull what it asks of them."""
    return all(
        (hand := hands.get(s.person)) is not None
        and hand.from_minute <= s.starts and s.ends <= hand.to_minute
        and s.ends - s.starts <= hand.longest and pulls.get(s.person, 0) <= hand.pulls
        for s in day.shifts
    )  # fmt: skip
