"""Column generation after Gilmore and Gomory (1961): new days to the minute, at the duals of a season of known ones.

The restricted master problem (``master_problem.py``) is solved with fractional columns; its duals tell what a batch is
worth on which day, and days of negative reduced cost are built by hand (the pricing problem, solved by heuristics: no
bound comes of it). A column is a day to the minute, so a season that is made of whole columns fits as it stands.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice

from scheduler.models.caps.limits import DayLimits, request_with_all
from scheduler.models.caps.most import Most
from scheduler.models.counts.days import held_on
from scheduler.models.counts.part import Part, size_of
from scheduler.models.facts import Facts
from scheduler.models.search.fitting import Fitter
from scheduler.models.search.master_problem import WEIGHED, MasterProblem
from scheduler.models.solvers.warm_lp import LpSolution, NamedBasis
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan

ROUNDS = 20
STALLED = 2  # rounds of less gain, then enough
STEP = 0.0005  # share of the demand that counts as a gain of the master problem
IDEAS = 1.7  # days tried in a round for each day that is planned (measured on 6 and on 13 weeks)
OFFERED, KEPT = 150, 50  # known days of each date in a round's master problem, and those of them that stay
BORROWED = 20  # ideas for each day from other days
CHOICES = 1200  # columns of the pool in all, those of least reduced cost
FEWEST = 12  # for each day
USED = 0.02  # value from which on a column counts as used
ENOUGH = 0.04  # share of the days of which a better one was found that is enough for a round
ASIDE = 6  # days of which it is found out beside each round what is worth most on them
TINY = 100  # days times designs up to which days that are not found by hand are asked of the day model
SHARE = 0.35  # of the clock that is left at most: the rest is for choosing among the days

Idea = tuple[float, DayRequest]  # what a day would gain at these duals, and the day
Batches = Mapping[str, int]
Worth = dict[str, float]  # what a batch of each design is worth on a day


@dataclass(frozen=True)
class ColumnPool:
    """Known days to choose from for each free day; ``lp_value``: optimum of the master problem (weighted pieces)."""

    days: Mapping[int, Sequence[DayPlan]]
    lp_value: float
    basis: NamedBasis  # of that optimum


def generate_columns(
    part: Part, now: Mapping[int, DayPlan], fitter: Fitter, limits: DayLimits, bound: Callable[[], float],
    weighed: int = WEIGHED,
) -> ColumnPool | None:  # fmt: skip
    """The known days of a part after some rounds of new ones; the plan so far is among them. None without any.

    ``now``: the days of the plan so far. As many shows are held as it holds. No more days are sought where the
    optimum of the master problem is down at the ``bound``, which is asked after a round. ``weighed``: as there.
    """
    beside = ThreadPoolExecutor(1)
    try:
        return _rounds(part, now, fitter, limits, bound, weighed, beside)
    finally:
        beside.shutdown(wait=False, cancel_futures=True)


def _rounds(
    part: Part, now: Mapping[int, DayPlan], fitter: Fitter, limits: DayLimits, bound: Callable[[], float],
    weighed: int, beside: Executor,
) -> ColumnPool | None:  # fmt: skip
    """Rounds of new days; what is worth most is found out ``beside`` one for the next."""
    step = STEP * part.facts.demand.weight
    best, stalled, out = float("inf"), 0, None
    asked: dict[int, Future[Most]] = {}
    offered, seen = known_days(part.facts, now, fitter, OFFERED), set[int]()
    late = time.monotonic() + SHARE * (fitter.until - time.monotonic())
    for number in range(ROUNDS):
        began = time.monotonic()
        seen.update(id(day) for days in offered.values() for day in days)
        master = master_of(part, now, offered, limits, weighed)
        found = master.solve_lp(fitter.left, None if out is None else out.basis)
        if found is None:
            return out
        pricing = _Pricing(master, found, fitter, limits)
        out = pricing.pool(now)
        stalled = 0 if out.lp_value < best - step else stalled + 1
        best = min(best, out.lp_value)
        if stalled > STALLED or (number and best <= bound() + step):
            break
        if 2 * time.monotonic() - began > late:  # as long again, with the days that are built, is too long
            break
        fullest, asked = asked, pricing.fullest(pricing.some_days(number), beside)
        if not pricing.some_found(late, fullest):
            break
        news = known_days(part.facts, {}, fitter, OFFERED)
        kept = pricing.cheapest(now, KEPT)
        offered = {t: [*kept.get(t, ()), *(d for d in days if id(d) not in seen)] for t, days in news.items()}
    return out


def master_of(
    part: Part, now: Mapping[int, DayPlan], offered: Mapping[int, Sequence[DayPlan]], limits: DayLimits,
    weighed: int = WEIGHED,
) -> MasterProblem:  # fmt: skip
    """The season of a part made of the known days that are offered alone, with as many shows as it has now."""
    held = sum(len(held_on(now[t])) for t in part.facts.days if t in now and t not in part.settled)
    return MasterProblem(part.facts, limits, offered, part.settled, held, weighed)


def known_days(facts: Facts, now: Mapping[int, DayPlan], fitter: Fitter, most: int) -> dict[int, list[DayPlan]]:
    """For each day that of the plan so far, and so many known ones."""
    return {t: [*([now[t]] if t in now else []), *fitter.known(t, most)] for t in facts.days}


def known_columns(part: Part, now: Mapping[int, DayPlan], fitter: Fitter, limits: DayLimits) -> ColumnPool | None:
    """The known days of a part as they are, without new ones; else as ``generate_columns``."""
    master = master_of(part, now, known_days(part.facts, now, fitter, OFFERED), limits)
    found = master.solve_lp(fitter.left)
    return None if found is None else _Pricing(master, found, fitter, limits).pool(now)


@dataclass(frozen=True)
class _Pricing:
    """A master problem and its optimum ``lp``, at whose duals new days are sought."""

    master: MasterProblem
    lp: LpSolution
    fitter: Fitter
    limits: DayLimits

    @cached_property
    def worth(self) -> dict[int, Worth]:
        """What a batch of each design is worth, by free day."""
        out: dict[int, Worth] = {t: {} for t in self.master.free}
        for (design, t), rule in self.master.linking.items():
            out[t][design] = -self.lp.duals[rule.id]
        return out

    @property
    def _days(self) -> list[int]:
        """Free days of which any are known."""
        return [t for t in self.master.free if self.master.columns.get(t)]

    @property
    def _tiny(self) -> bool:
        """Whether there is time to ask the day model of every idea."""
        return size_of(self.master.facts) <= TINY

    def pool(self, now: Mapping[int, DayPlan]) -> ColumnPool:
        """The known days among which whole ones are chosen."""
        days = self.cheapest(now, max(FEWEST, CHOICES // len(self.master.free)))
        return ColumnPool(days, self.lp.value, self.lp.basis)

    def cheapest(self, now: Mapping[int, DayPlan], most: int) -> dict[int, list[DayPlan]]:
        """The day of the plan so far, and so many of least reduced cost."""
        out = {}
        for t, columns in self.master.columns.items():
            here = [day for day, _ in sorted(columns, key=lambda column: self.lp.reduced_costs[column[1].id])]
            out[t] = [*([now[t]] if t in now else []), *(d for d in here[:most] if d is not now.get(t))]
        return out

    def some_days(self, number: int) -> list[int]:
        """So many days from all over the season, others in each round."""
        days = self._days
        step = max(1, len(days) // ASIDE)
        return days[number % step :: step]

    def fullest(self, days: Iterable[int], pool: Executor) -> dict[int, Future[Most]]:
        """What is worth most of all that a day without names holds, cleaning and all."""
        worth = self.worth
        return {t: pool.submit(self.limits.best, t, {d: round(x) for d, x in worth[t].items()}) for t in days}

    def some_found(self, late: float, fullest: Mapping[int, Future[Most]]) -> bool:
        """Try ideas out, the most promising first, until some are found; False where there are no more, or it is late.

        First what is worth most in a row of pours, on each day, with the day model where it is not found by hand. Where
        that brings little: changes of the days in use, batches that other days have, and what was worth most on some
        days a round ago; where none of them is found, all days are made anew.
        """
        rows = self._best_first(self._best_rows())
        if self.fitter.try_out(list(rows), solver=True) >= max(1, ENOUGH * len(self.master.free)):
            return True
        if self._any_found([self._changed(), self._borrowed(), self._made_anew(_examples(fullest))], late):
            return True
        if time.monotonic() >= late:
            return False
        with ThreadPoolExecutor(2) as pool:
            asked = _examples(self.fullest(self._days, pool))
        return self._any_found([self._made_anew(asked)], late)

    def _any_found(self, sources: Iterable[Iterable[Idea]], late: float) -> bool:
        """Try the best of each source side by side, then the next best, until some are found."""
        left = [self._best_first(ideas) for ideas in sources]
        while left and time.monotonic() < late:
            some = [list(islice(ideas, round(IDEAS * len(self.master.free)))) for ideas in left]
            if sum(self.fitter.try_out(asked, solver=self._tiny) for asked in some if asked):
                return True
            left = [ideas for ideas, asked in zip(left, some, strict=True) if asked]
        return False

    def _best_first(self, ideas: Iterable[Idea]) -> Iterator[DayRequest]:
        """Days that would gain and may fit, the most promising first: of those that are one search the best."""
        gains: dict[object, Idea] = {}
        for gain, asked in ideas:
            key = self.fitter.kind_of(asked)
            if gain > 0 and (key not in gains or gain > gains[key][0]):
                gains[key] = gain, asked
        order = sorted(gains.values(), key=lambda idea: (-idea[0], idea[1].day, idea[1].designs))
        return (asked for _, asked in order if self._may_fit(asked))

    def _may_fit(self, asked: DayRequest) -> bool:
        """Whether a day's batches are within all that is proven of such days, and all that was tried."""
        if self.fitter.looked_for(self.fitter.kind_of(asked)) or self.fitter.too_much.covers(asked):
            return False
        counts, t = Counter(asked.designs), self.limits.facts.season.index(asked.day)
        return all(sum(counts[d] for d in designs) <= most for designs, most in self.limits.caps(t)) and all(
            sum(w * counts[d] for d, w in limit.weights.items()) <= limit.most for limit in self.limits.proven(t)
        )

    def _with_all(self, t: int) -> DayRequest:
        """A day for which anybody may come."""
        return request_with_all(self.limits.facts, t, ())

    def _changed(self) -> Iterator[Idea]:
        """The days in use with a batch more, for which anybody may come, or with another batch in the place of one."""
        for t in self.master.free:
            worth, everyone = self.worth[t], self._with_all(t)
            for day, column in self.master.columns.get(t, ()):
                if self.lp.values[column.id] < USED:
                    continue
                people = {s.person for s in day.shifts}
                hands, designs = tuple(h for h in everyone.hands if h.person in people), day.designs
                for more, price in worth.items():
                    yield price, replace(everyone, designs=tuple(sorted((*designs, more))), held=held_on(day))
                for gain, others in _swapped(designs, worth):
                    yield gain, replace(everyone, designs=others, hands=hands, held=held_on(day))

    def _borrowed(self) -> Iterator[Idea]:
        """The batches of known days of other dates, where they are worth more than those of the day that is used most.

        Of each day so many at most, that all days get their share of what is tried.
        """
        sets = {day.designs for columns in self.master.columns.values() for day, _ in columns}
        for t in self._days:
            worth, now = self.worth[t], self._used_most(t)
            least, others = _value(now.designs, worth), sets - {day.designs for day, _ in self.master.columns[t]}
            gains = sorted(((_value(designs, worth) - least, designs) for designs in others), reverse=True)
            asked = replace(self._with_all(t), held=held_on(now))
            for gain, designs in gains[:BORROWED]:
                yield gain, replace(asked, designs=designs)

    def _best_rows(self) -> Iterator[Idea]:
        """What is worth most of all that a day holds in a row of pours, people left out."""
        days = self._days
        dates = [self.limits.facts.season.days[t] for t in days]
        best = self.limits.rows.most(dates, [self.worth[t] for t in days])
        for t, (_, batches) in zip(days, best, strict=True):
            yield self._instead(t, batches)

    def _instead(self, t: int, batches: Batches) -> Idea:
        """These batches on a day, with whoever may come, in the place of the day that is used most, with its shows."""
        worth, now, designs = self.worth[t], self._used_most(t), tuple(sorted(Counter(batches).elements()))
        asked = replace(self._with_all(t), designs=designs, held=held_on(now))
        return _value(designs, worth) - _value(now.designs, worth), asked

    def _made_anew(self, fullest: Mapping[int, Batches]) -> Iterator[Idea]:
        """What is worth most of all that a day without names holds, and batches near it: one less, one exchanged.

        Gains are those beyond the day that is used most. Changes end where seven easy batches are worth more than
        six hard ones, and nothing between them fits.
        """
        for t, batches in fullest.items():
            more, asked = self._instead(t, batches)
            yield more, asked
            for gain, others in (*_swapped(asked.designs, self.worth[t]), *_fewer(asked.designs, self.worth[t])):
                yield more + gain, replace(asked, designs=others)

    def _used_most(self, t: int) -> DayPlan:
        """The known day of which the season has most on a date."""
        return max(self.master.columns[t], key=lambda column: self.lp.values[column[1].id])[0]


def _examples(fullest: Mapping[int, Future[Most]]) -> dict[int, Batches]:
    """The batches that were found to be worth most, by day."""
    return {t: most.result().example for t, most in fullest.items()}


def _swapped(designs: tuple[str, ...], worth: Mapping[str, float]) -> Iterator[tuple[float, tuple[str, ...]]]:
    """(gain, batches) with another batch in the place of one."""
    for loss, left in _fewer(designs, worth):
        for more, price in worth.items():
            yield price + loss, tuple(sorted((*left, more)))


def _fewer(designs: tuple[str, ...], worth: Mapping[str, float]) -> Iterator[tuple[float, tuple[str, ...]]]:
    """(gain, batches) with one batch less; the gain is a loss."""
    for less in sorted(set(designs)):
        k = designs.index(less)
        yield -worth.get(less, 0.0), (*designs[:k], *designs[k + 1 :])


def _value(designs: Iterable[str], worth: Mapping[str, float]) -> float:
    """What some batches are worth together."""
    return sum(worth.get(design, 0.0) for design in designs)
