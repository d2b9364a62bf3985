"""From a season to a plan: rule of thumb, season model, days to the minute, and back until all fit."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property, partial
from threading import Thread

from scheduler.demand.build import build_demand
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Board, Wish
from scheduler.models.counts.bound import shortfall_bound_of
from scheduler.models.counts.deal import repacked
from scheduler.models.counts.heads import Heads
from scheduler.models.counts.hint import hints_from
from scheduler.models.counts.part import Part, Weeks, is_large, is_small, part_of, short_in, size_of, spans_of
from scheduler.models.counts.solve import Question, SeasonAnswer, build, guides
from scheduler.models.facts import Facts
from scheduler.models.pins import check_pins
from scheduler.models.search.column_generation import generate_columns, known_days, master_of
from scheduler.models.search.drawn import drawn
from scheduler.models.search.earlier import brought_forward
from scheduler.models.search.even import evened
from scheduler.models.search.fewer_runs import in_fewer_runs
from scheduler.models.search.finish import finish
from scheduler.models.search.first_plan import FILLING, FirstPlan
from scheduler.models.search.fitted import Fitted, filled, fit_counted, fit_whole
from scheduler.models.search.fitting import BY_HAND, CAREFULLY, Fitter
from scheduler.models.search.for_less import for_less, polished
from scheduler.models.search.spare import with_spare
from scheduler.models.solvers.linear import MipLimits, get_ready
from scheduler.plan.lots import followed
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.types import Season

# How weeks are planned: made of known days alone (no guess), or with two guesses side by side: shares of the time in,
# and of the batches' work, that are taken to be waiting. The next way where one brings nothing new.
KNOWN_DAYS, CAREFUL, BOLD = (), ((16, 75), (10, 60)), ((5, 25), (0, 0))
LITTLE = 0.03  # share of the demand to gain at most where guesses come first: there days make little difference
TINY = 100  # days times designs up to which all ways are tried: they take no time
TURNS = 5  # more bring little (measured on 6 weeks); of a season that is planned in parts each week is planned once
KNOWN = 12  # days that are known to fit, offered for each day beside a guess
WORTH_PROCESSES = 200  # days times designs that are planned in processes of their own
CLOSE = 0.0015  # share of the demand within which a guide is good enough; half of what may be left to gain, if less
HALF = 0.5
ENOUGH = 0.2  # or of what may be left to gain
TREE = 200  # nodes of HiGHS, for the choice among days in a small season: 6 to 9 s (measured)
WORTH_FILLING = 0.02  # of what the weeks are asked for: plans that are worse by more are not filled up
MANY = 0.5  # share of the days asked for that are not found by hand, from which on the day model is asked
NEARLY = 0.001  # share of the demand between plan and bound within which hardly more is to gain but money
LAST_TRIES = 60  # days that are fitted with a batch more at the end, by the day model where not by hand
NOT_FOR_LESS = 0.5  # of the clock, after which a plan that is near enough to the bound is not made less short any more
TAIL_SECONDS = 2.0  # beyond the clock, for spare batches, packing brought forward and pulling shared out
DRAWING_AGAIN = 0.65  # of the clock that is left, for drawing what a turn brought again
AGAIN_IN_A_SECOND = 1000  # days times designs; where there is no time for that, it is not begun
BOUNDING = 0.7  # of the clock, after which nothing more is proven: the core is wanted for the plan
TURNING = 0.9  # of the clock, after which no turn begins: it would end too late
OF_WHAT_IS_LEFT = 0.75  # of the clock: HiGHS' part of it; what it finds is fitted in the rest
LESS_OF_IT = 0.45  # where the season is drawn again after it

Guess = tuple[int, int]
Progress = Callable[[str], None]


@dataclass(frozen=True)
class PlanOptions:
    """How hard to try, and from when.

    ``effort`` 1 is the usual work; ``seconds`` caps the clock (then a plan may differ next
    time). Days before ``from_day`` are taken from ``keep``.
    ``watch(seconds, shortfall, bound)`` hears of every better plan.
    """

    effort: float = 1.0
    seconds: float | None = None
    workers: int = 2
    near: float = 0.0003  # stop when what is short is this near to the bound, as a share of all demand
    from_day: date | None = None
    keep: Plan | None = None
    watch: Callable[[float, int, int], None] | None = None


@dataclass(frozen=True)
class Clock:
    """When a search began, and how many seconds it has; None: as many as it takes."""

    began: float
    seconds: float | None

    def at(self, share: float) -> float:
        """The reading of the monotonic clock when so much of the time is over."""
        return math.inf if self.seconds is None else self.began + share * self.seconds


def plan_season(season: Season, options: PlanOptions = PlanOptions(), progress: Progress | None = None) -> Plan:
    """The best plan found for a season, every day fitted to the minute; what does not fit is left out as short.

    Raises Contradiction where two pins, or a pin and a fact of the season, can't both hold. Other pins that can't
    all be kept are left to the audit. Where ``seconds`` is short, the plan is a poorer one.
    """
    say, clock = progress or (lambda _line: None), Clock(time.monotonic(), options.seconds)
    facts = facts_of(season, options)
    check_pins(facts)
    processes = options.workers if size_of(facts) >= WORTH_PROCESSES else 1
    ready = Thread(target=get_ready, args=(processes,))  # while the rule of thumb plans
    ready.start()

    def heard(best: Fitted, bound: int = 0) -> None:
        if options.watch is not None:
            options.watch(time.monotonic() - clock.began, best.given.weighted, bound)

    limits, bounding = DayLimits(facts), clock.at(BOUNDING)
    fitter = Fitter(facts, limits, options.workers, until=clock.at(1), processes=processes)
    first = FirstPlan(facts, limits, fitter, partial(_bound, facts, bounding, 0), say, heard)
    best, thumb = first.make()
    say(f"at first {best.given.weighted} short, {best.missed} shows missed")
    proof = None if best.missed else first.proof
    told = partial(_bound, facts, bounding, best.missed, limits) if proof is None else lambda: proof.result() or 0
    ready_now = None if proof is None or options.seconds is None else proof.done
    nodes = round(TREE * options.effort)
    search = Search(facts, limits, Heads(facts, limits), fitter, best, told, say, ready_now, nodes=nodes)
    if is_small(facts):
        heard(best, search.bound_so_far)
    ready.join()
    _take_turns(search, options, clock, heard)
    say("looking with more care for room for what is missing")
    search.best = filled(facts, fitter, search.best, round(LAST_TRIES * options.effort), care=CAREFULLY)
    best = _at_the_end(fitter, _cheaper(search, options), clock.at(1))
    return finish(facts, options, best, thumb, search.bound)


def _take_turns(search: Search, options: PlanOptions, clock: Clock, heard: Callable[[Fitted, int], None]) -> None:
    """Turn after turn, until hardly anything is left to gain or the clock is over."""
    fitter, small = search.fitter, is_small(search.facts)
    near = round(options.near / options.effort * search.demand)
    for turn in range(max(4, math.ceil(options.effort * max(TURNS, len(search.tried) / 2)))):
        weeks, ends = search.most_promising(), clock.at(TURNING)
        if search.at_bound(near if small else search.nearly):
            ends = fitter.until = clock.at(NOT_FOR_LESS)
        if weeks is None or time.monotonic() > ends:
            break
        if (turn or small) and search.at_bound(near):
            break
        for step in (partial(search.turn, weeks), search.draw_again):
            step()
            heard(search.best, search.bound_so_far)
    fitter.until = clock.at(1)


def _cheaper(search: Search, options: PlanOptions) -> Fitted:
    """The best plan, its days made cheaper; where it is near enough to the bound, days that do the same for less."""
    search.say("making the days cheaper")
    best = polished(search.fitter, search.best)
    if not search.at_bound(search.nearly):
        return best
    search.say("looking for days that do the same for less")
    return for_less(search.facts, search.limits, search.fitter, best, options.effort)


def _at_the_end(fitter: Fitter, best: Fitted, until: float) -> Fitted:
    """Spare batches put on, packing brought forward and laid out in fewer runs, pulling shared out more evenly."""
    facts, evening = fitter.facts, max(until, time.monotonic()) + TAIL_SECONDS
    fitter.until = evening
    best = with_spare(facts, fitter, best)
    given = brought_forward(facts, best.given, evening)
    given = followed(given, tuple(in_fewer_runs(facts, day) for day in given.days))
    return replace(best, given=followed(given, evened(facts, given.days, evening)))


def _bound(facts: Facts, until: float, missed: int, limits: DayLimits) -> int:
    """The bound of plans that miss no more shows than so many."""
    return shortfall_bound_of(facts, limits, missed=missed, until=until).value


def facts_of(season: Season, options: PlanOptions) -> Facts:
    """What planning starts from: demand and the days already decided."""
    first = 0 if options.from_day is None else max(0, season.index(options.from_day))
    done: tuple[DayPlan, ...] = ()
    if options.keep is not None:
        done = tuple(d for d in options.keep.days if 0 <= season.index(d.day) < first)
    return Facts(season, build_demand(season, first), first, done)


@dataclass
class Search:
    """The best plan so far, made better turn by turn: some weeks are planned anew, the others stay."""

    facts: Facts
    limits: DayLimits
    heads: Heads
    fitter: Fitter
    best: Fitted
    find_bound: Callable[[], int]  # asked as late as can be: it may still be worked out aside
    say: Progress
    proven: Callable[[], bool] | None = None  # whether the bound is there; None: it is waited for
    guesses: Sequence[Sequence[Guess]] = ()
    enough: float = ENOUGH
    nodes: int = TREE

    def __post_init__(self) -> None:
        self.guesses = self.guesses or self._ways()
        self.tried = dict.fromkeys(spans_of(self.facts), 0)  # turns of these weeks that brought nothing
        self.turns = Counter[Weeks]()
        self._drawn: Fitted | None = None  # the plan as it was drawn last

    @cached_property
    def bound(self) -> int:
        """No plan that misses no more shows than the first is less short."""
        return self.find_bound()

    @property
    def bound_so_far(self) -> int:
        """The bound, or 0 where the clock is limited and it would have to be waited for."""
        return self.bound if self.proven is None or self.proven() else 0

    @property
    def nearly(self) -> int:
        """Weight beyond the bound within which hardly more is to gain but money."""
        return round(NEARLY * self.demand)

    def at_bound(self, near: int) -> bool:
        """Whether the plan is as near to the bound, with no show missed."""
        return not self.best.missed and self.best.given.weighted <= self.bound_so_far + near

    def _ways(self) -> Sequence[Sequence[Guess]]:
        """How to plan weeks: of known days alone where there are any and they make a difference."""
        if size_of(self.facts) <= TINY or not any(day.batches for day in self.best.given.days):
            return KNOWN_DAYS, CAREFUL, BOLD
        if is_large(self.facts) or (is_small(self.facts) and self._to_gain <= LITTLE * self.demand):
            return CAREFUL, KNOWN_DAYS
        return (KNOWN_DAYS,)

    @cached_property
    def demand(self) -> int:
        """Weight of all that is asked for."""
        return self.facts.demand.weight

    def most_promising(self) -> Weeks | None:
        """The weeks to plan anew: of those planned least often the latest; None where all were tried to the end."""
        left = [w for w, times in self.tried.items() if times < len(self.guesses)]
        left = [w for w in left if self.best.missed or short_in(self.facts, self.best.given, w)]
        return min(left, key=lambda w: self.turns[w], default=None)

    def turn(self, weeks: Weeks) -> None:
        """Plan some weeks anew and keep the outcome if it is better.

        In the first way of ``guesses`` that still brings news of these weeks.
        """
        before, guesses = self.best, self.guesses[self.tried[weeks]]
        self.turns[weeks] += 1
        news = self._turn(weeks, guesses)
        if self.best is not before:
            self.tried = {w: 0 if w & weeks else times for w, times in self.tried.items()}
        elif not news:
            self.tried[weeks] += 1

    def _turn(self, weeks: Weeks, guesses: Sequence[Guess]) -> bool:
        """Whether anything was learnt or gained."""
        days = {self.facts.season.index(d.day): d for d in self.best.given.days}
        part = part_of(self.facts, days, self.best.given, weeks)
        if guesses == KNOWN_DAYS:
            answers = self._of_known_days(part, days)
        else:
            answers = guides(self._questions(part, days, guesses), self.fitter.workers)
        learnt, rest = self.limits.learnt, self.best.given.weighted - part.short()
        for answer in sorted(answers, key=lambda a: -1 if a.shortfall is None else a.shortfall):
            if answer.wish is None or answer.shortfall is None:
                continue
            if not self.best.missed and rest + answer.shortfall >= self.best.given.weighted:
                continue
            if guesses == KNOWN_DAYS:
                fitted = fit_counted(self.facts, self.fitter, answer.wish, part=part)
            else:
                fitted = self._fitted(answer.wish, part)
            failed = fitted.failed
            near = self.best.given.weighted + WORTH_FILLING * part.facts.demand.weight
            if fitted.given.weighted <= near and not self._draws_again:
                fitted = self._filled(fitted, part)
            if fitted.worth < self.best.worth:
                self.best = fitted
            self.say(
                f"weeks {sorted(w for _, w in weeks)}: hoped for {rest + answer.shortfall}, {failed} days gave less: "
                f"{fitted.given.weighted}; best {self.best.given.weighted}, no plan below {self.bound_so_far}"
            )
        return self.limits.learnt > learnt

    def _fitted(self, asked: Wish, part: Part) -> Fitted:
        """The days that a season with guesses asks of a part: by hand, with a solver where many are not found so.

        With packs where it asks for them, or where they serve most in as much time; the best of these.
        """
        facts, fitter, wish = self.facts, self.fitter, part.whole(asked)
        fitted = fit_whole(facts, fitter, wish, BY_HAND, True, part.stand, part.deal)
        if fitted.failed > MANY * len(asked.batches):
            fitted = min(fitted, fit_whole(facts, fitter, wish, learn=True, settled=part.stand), key=lambda f: f.worth)
        other = repacked(part.facts, asked, part.settled)
        if other is not asked:
            again = fit_whole(facts, fitter, part.whole(other), BY_HAND, False, part.stand, part.deal)
            fitted = min(fitted, again, key=lambda f: f.worth)
        return fitted

    @property
    def _draws_again(self) -> bool:
        """Whether what a turn brings is drawn again: parts of a large season are planned after it was drawn."""
        return not is_large(self.facts)

    def draw_again(self) -> None:
        """The plan drawn again from where it is, where there is time for it."""
        facts, began, left = self.facts, time.monotonic(), self.fitter.left or math.inf
        if not self._draws_again or self.best is self._drawn:
            return
        if DRAWING_AGAIN * left < size_of(facts) / AGAIN_IN_A_SECOND:
            return
        days = {facts.season.index(d.day): d for d in self.best.given.days}
        batches = {t: day.designs for t, day in days.items()}
        missed = self.best.missed if facts.shows else None
        until = began + DRAWING_AGAIN * left
        found = drawn(facts, self.limits, missed, until, self.fitter.processes, self.say, batches, slack=False)
        if found is None:
            return
        for day in found.days:
            self.fitter.remember(day)
        fitted = fit_counted(facts, self.fitter, found.wish)
        self.best = self._drawn = min(self.best, fitted, key=lambda f: f.worth)
        self.say(f"drawn again: best {self.best.given.weighted}")

    def _filled(self, fitted: Fitted, part: Part) -> Fitted:
        """Filled up for the lines that a part touches."""
        lines = {line.id for line in part.facts.demand.lines}
        return filled(self.facts, self.fitter, fitted, FILLING, lines)

    def _of_known_days(self, part: Part, days: Mapping[int, DayPlan]) -> list[SeasonAnswer]:
        """A part made of known days alone, if any are known."""
        now = {t: days[t] for t in part.facts.days if t in days}
        offered = generate_columns(part, now, self.fitter, self.limits, lambda: part.short() - self._to_gain)
        if offered is None:
            return []
        season = master_of(part, now, offered.days, self.limits)
        if self.best.missed:
            season.hold(season.most_held())
        gap, left = self._gap(part.short() - offered.lp_value), self.fitter.left
        share = LESS_OF_IT if self._draws_again else OF_WHAT_IS_LEFT
        nodes = self.nodes if is_small(part.facts) else 0
        return [season.chosen(now, gap, left and share * left, self.fitter.workers, offered.basis, nodes)]

    def _questions(self, part: Part, days: Mapping[int, DayPlan], guesses: Sequence[Guess]) -> list[Question]:
        """The season model of a part with each guess of what a day holds."""
        known = known_days(part.facts, days, self.fitter, KNOWN)
        out = []
        for guess in guesses:
            self.limits.usual_idle, self.limits.batch_idle = guess
            board = build(part.facts, self.limits, part.settled, known, self.heads)
            share = part.short() / max(1, self.best.given.weighted)
            out.append(self._question(part, days, board, self._to_gain * share))
        return out

    @property
    def _to_gain(self) -> int:
        return self.best.given.weighted - self.bound_so_far

    def _question(self, part: Part, days: Mapping[int, DayPlan], board: Board, to_gain: float) -> Question:
        """A season model with the plan so far as its hint."""
        season = self.facts.season
        now = {t: part.settled.get(t, days.get(t, DayPlan(season.days[t]))) for t in part.facts.days}
        hints = hints_from(board, tuple(now[t] for t in sorted(now)), part.given)
        missed = sum(1 - hints[held] for held in board.held.values())
        left = self.fitter.left
        search = MipLimits(gap=self._gap(to_gain), seconds=left and OF_WHAT_IS_LEFT * left)
        return Question(board, search, hints, missed)

    def _gap(self, to_gain: float) -> float:
        """Between a guide and its bound, where there is so much to gain: within it a guide is good enough."""
        return max(min(CLOSE * self.demand, HALF * to_gain), self.enough * to_gain)
