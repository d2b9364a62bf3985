"""Days to choose from: those that are known to fit, and new ones that a season made of them would pay for.

Column generation after Gilmore and Gomory (1961): the season is made of broken known days, its prices
tell what a batch is worth on which day, and days that are worth more are built by hand. Here a
pattern is a day to the minute, so a season that is made of whole ones fits as it stands.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import islice

from ortools.math_opt.python import mathopt
from scheduler.models.caps.limits import DayLimits, request_with_all
from scheduler.models.caps.most import Most
from scheduler.models.counts.days import held_on
from scheduler.models.counts.part import Part
from scheduler.models.facts import Facts
from scheduler.models.search.fitting import Fitter
from scheduler.models.search.known_season import WEIGHED, KnownSeason
from scheduler.models.solvers.relaxed import Corner, Prices
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan

ROUNDS = 20
STALLED = 2  # rounds that bring hardly anything, then enough
STEP = 0.0005  # share of what is asked for that counts as something
IDEAS = 1.7  # days tried in a round for each day that is planned (measured on 6 and on 13 weeks)
OFFERED, KEPT = 150, 50  # known days of each day that are priced, and those of them that are priced once more
BORROWED = 20  # ideas for each day from other days
CHOICES = 1200  # known days that are left to choose from in all, the cheapest at these prices
FEWEST = 12  # for each day
USED = 0.02  # share of a day from which on a known day counts as used
ENOUGH = 0.04  # share of the days of which a better one was found that is enough for a round
ASIDE = 6  # days of which it is found out beside each round what is worth most on them
SHARE = 0.35  # of the clock that is left at most: the rest is for choosing among the days

Idea = tuple[float, DayRequest]  # what a day would gain at these prices, and the day


@dataclass(frozen=True)
class Menu:
    """Known days to choose from for each free day; ``short``: what a season of broken ones misses (weight)."""

    days: Mapping[int, Sequence[DayPlan]]
    short: float
    corner: Corner  # where that season stopped


def menu(
    part: Part, now: Mapping[int, DayPlan], fitter: Fitter, limits: DayLimits, bound: Callable[[], float],
    weighed: int = WEIGHED,
) -> Menu | None:  # fmt: skip
    """The known days of a part after some rounds of new ones; the plan so far is among them. None without any.

    ``now``: the days of the plan so far. As many shows are held as it holds. No more days are sought where the
    season of broken ones is as little short as the ``bound``, which is asked after a round. ``weighed``: as there.
    """
    beside = ThreadPoolExecutor(1)
    try:
        return _rounds(part, now, fitter, limits, bound, weighed, beside)
    finally:
        beside.shutdown(wait=False, cancel_futures=True)


def _rounds(
    part: Part, now: Mapping[int, DayPlan], fitter: Fitter, limits: DayLimits, bound: Callable[[], float],
    weighed: int, beside: Executor,
) -> Menu | None:  # fmt: skip
    """Rounds of new days; what is worth most is found out ``beside`` one for the next."""
    step = STEP * part.facts.demand.weight
    best, stalled, out = float("inf"), 0, None
    asked: dict[int, Future[Most]] = {}
    offered, seen = known_days(part.facts, now, fitter, OFFERED), set[int]()
    late = time.monotonic() + SHARE * (fitter.until - time.monotonic())
    for number in range(ROUNDS):
        began = time.monotonic()
        seen.update(id(day) for days in offered.values() for day in days)
        board = season_of(part, now, offered, limits, weighed)
        found = board.priced(fitter.left, None if out is None else out.corner)
        if found is None:
            return out
        out = _menu(board, found, now)
        stalled = 0 if out.short < best - step else stalled + 1
        best = min(best, out.short)
        if stalled > STALLED or (number and best <= bound() + step):
            break
        if 2 * time.monotonic() - began > late:  # as long again, with the days that are built, is too long
            break
        fullest, asked = asked, _fullest(board, found, limits, _some_days(board, number), beside)
        if not _some_found(board, found, fitter, limits, late, fullest):
            break
        news = known_days(part.facts, {}, fitter, OFFERED)
        kept = _cheapest(board, found, now, KEPT)
        offered = {t: [*kept.get(t, ()), *(d for d in days if id(d) not in seen)] for t, days in news.items()}
    return out


def season_of(
    part: Part, now: Mapping[int, DayPlan], offered: Mapping[int, Sequence[DayPlan]], limits: DayLimits,
    weighed: int = WEIGHED,
) -> KnownSeason:  # fmt: skip
    """The season of a part made of the known days that are offered alone, with as many shows as it has now."""
    held = sum(len(held_on(now[t])) for t in part.facts.days if t in now and t not in part.settled)
    return KnownSeason(part.facts, limits, offered, part.settled, held, weighed)


def known_days(facts: Facts, now: Mapping[int, DayPlan], fitter: Fitter, most: int) -> dict[int, list[DayPlan]]:
    """For each day that of the plan so far, and so many known ones."""
    return {t: [*([now[t]] if t in now else []), *fitter.known(t, most)] for t in facts.days}


def known_menu(part: Part, now: Mapping[int, DayPlan], fitter: Fitter, limits: DayLimits) -> Menu | None:
    """The known days of a part as they are, without new ones; else as ``menu``."""
    board = season_of(part, now, known_days(part.facts, now, fitter, OFFERED), limits)
    found = board.priced(fitter.left)
    return None if found is None else _menu(board, found, now)


def _menu(board: KnownSeason, found: Prices, now: Mapping[int, DayPlan]) -> Menu:
    """The known days among which whole ones are chosen, as the prices have it."""
    return Menu(_cheapest(board, found, now, max(FEWEST, CHOICES // len(board.free))), found.value, found.corner)


def _cheapest(board: KnownSeason, found: Prices, now: Mapping[int, DayPlan], most: int) -> dict[int, list[DayPlan]]:
    """The day of the plan so far, and so many that cost least beyond what they are worth."""
    out = {}
    for t, uses in board.uses.items():
        here = [day for day, _ in sorted(uses, key=lambda use: found.reduced[use[1].id])]
        out[t] = [*([now[t]] if t in now else []), *(d for d in here[:most] if d is not now.get(t))]
    return out


def _days(board: KnownSeason) -> list[int]:
    """Free days of which any are known."""
    return [t for t in board.free if board.uses.get(t)]


def _some_days(board: KnownSeason, number: int) -> list[int]:
    """So many of them from all over the season, others in each round."""
    days = _days(board)
    step = max(1, len(days) // ASIDE)
    return days[number % step :: step]


def _fullest(
    board: KnownSeason, found: Prices, limits: DayLimits, days: Iterable[int], pool: Executor
) -> dict[int, Future[Most]]:
    """What is worth most of all that a day without names holds, cleaning and all."""
    worth = _worth(board, found)
    return {t: pool.submit(limits.best, t, {d: round(x) for d, x in worth[t].items()}) for t in days}


def _some_found(
    board: KnownSeason, found: Prices, fitter: Fitter, limits: DayLimits, late: float,
    fullest: Mapping[int, Future[Most]],
) -> bool:  # fmt: skip
    """Try ideas out, the most promising first, until some are found; False where there are no more, or it is late.

    First what is worth most in a row of pours, on each day, with the day model where it is not found by hand. Where
    that brings little: changes of the days in use, batches that other days have, and what was worth most on some days
    a round ago; where none of them is found, all days are made anew.
    """
    rows = _best_first(_best_rows(board, found, limits), fitter, limits)
    if fitter.try_out(list(rows), solver=True) >= max(1, ENOUGH * len(board.free)):
        return True
    anew = _made_anew(board, found, limits, _examples(fullest))
    ideas = [_changed(board, found, limits), _borrowed(board, found, limits), anew]
    if _any_found(ideas, board, fitter, limits, late):
        return True
    if time.monotonic() >= late:
        return False
    with ThreadPoolExecutor(2) as pool:
        asked = _examples(_fullest(board, found, limits, _days(board), pool))
    return _any_found([_made_anew(board, found, limits, asked)], board, fitter, limits, late)


def _examples(fullest: Mapping[int, Future[Most]]) -> dict[int, Mapping[str, int]]:
    """The batches that were found to be worth most, by day."""
    return {t: most.result().example for t, most in fullest.items()}


def _any_found(
    sources: Iterable[Iterable[Idea]], board: KnownSeason, fitter: Fitter, limits: DayLimits, late: float
) -> bool:
    """Try the best of each source side by side, then the next best, until some are found."""
    left = [_best_first(ideas, fitter, limits) for ideas in sources]
    while left and time.monotonic() < late:
        some = [list(islice(ideas, round(IDEAS * len(board.free)))) for ideas in left]
        if sum(fitter.try_out(asked) for asked in some if asked):
            return True
        left = [ideas for ideas, asked in zip(left, some, strict=True) if asked]
    return False


def _best_first(ideas: Iterable[Idea], fitter: Fitter, limits: DayLimits) -> Iterator[DayRequest]:
    """Days that would gain something and may fit, the most promising first: of those that are one search the best."""
    gains: dict[object, Idea] = {}
    for gain, asked in ideas:
        key = fitter.kind_of(asked)
        if gain > 0 and (key not in gains or gain > gains[key][0]):
            gains[key] = gain, asked
    order = sorted(gains.values(), key=lambda idea: (-idea[0], idea[1].day, idea[1].designs))
    return (asked for _, asked in order if _may_fit(limits, fitter, asked))


def _may_fit(limits: DayLimits, fitter: Fitter, asked: DayRequest) -> bool:
    """Whether a day's batches are within all that is proven of such days, and all that was tried."""
    if fitter.looked_for(fitter.kind_of(asked)) or fitter.too_much.covers(asked):
        return False
    counts, t = Counter(asked.designs), limits.facts.season.index(asked.day)
    return all(sum(counts[d] for d in designs) <= most for designs, most in limits.caps(t)) and all(
        sum(w * counts[d] for d, w in limit.weights.items()) <= limit.most for limit in limits.proven(t)
    )


def _changed(board: KnownSeason, found: Prices, limits: DayLimits) -> Iterator[Idea]:
    """The days in use with a batch more, for which anybody may come, or with another batch in the place of one."""
    prices_of = _worth(board, found)
    for t in board.free:
        worth, everyone = prices_of[t], request_with_all(limits.facts, t, ())
        for day, use in board.uses.get(t, ()):
            if found.values[use.id] < USED:
                continue
            people = {s.person for s in day.shifts}
            hands, designs = tuple(h for h in everyone.hands if h.person in people), day.designs
            for more, price in worth.items():
                yield price, replace(everyone, designs=tuple(sorted((*designs, more))), held=held_on(day))
            for gain, others in _swapped(designs, worth):
                yield gain, replace(everyone, designs=others, hands=hands, held=held_on(day))


def _borrowed(board: KnownSeason, found: Prices, limits: DayLimits) -> Iterator[Idea]:
    """The batches of known days of other dates, where they are worth more than those of the day that is used most.

    Of each day so many at most, that all days get their share of what is tried.
    """
    sets = {day.designs for uses in board.uses.values() for day, _ in uses}
    prices_of = _worth(board, found)
    for t, uses in board.uses.items():
        if uses:
            worth, now = prices_of[t], _used_most(uses, found)
            least, others = _value(now.designs, worth), sets - {day.designs for day, _ in uses}
            gains = sorted(((_value(designs, worth) - least, designs) for designs in others), reverse=True)
            asked = replace(request_with_all(limits.facts, t, ()), held=held_on(now))
            for gain, designs in gains[:BORROWED]:
                yield gain, replace(asked, designs=designs)


def _best_rows(board: KnownSeason, found: Prices, limits: DayLimits) -> Iterator[Idea]:
    """What is worth most of all that a day holds in a row of pours, people left out."""
    days, prices_of = _days(board), _worth(board, found)
    best = limits.rows.most([limits.facts.season.days[t] for t in days], [prices_of[t] for t in days])
    for t, (_, batches) in zip(days, best, strict=True):
        yield _instead(board, found, limits, t, batches, prices_of[t])


def _instead(
    board: KnownSeason, found: Prices, limits: DayLimits, t: int, batches: Mapping[str, int], worth: Mapping[str, float]
) -> Idea:  # fmt: skip
    """These batches on a day, with whoever may come, in the place of the day that is used most, with its shows."""
    now, designs = _used_most(board.uses[t], found), tuple(sorted(Counter(batches).elements()))
    asked = replace(request_with_all(limits.facts, t, designs), held=held_on(now))
    return _value(designs, worth) - _value(now.designs, worth), asked


def _made_anew(
    board: KnownSeason, found: Prices, limits: DayLimits, fullest: Mapping[int, Mapping[str, int]]
) -> Iterator[Idea]:
    """What is worth most of all that a day without names holds, and batches near it: one less, one exchanged.

    Gains are those beyond the day that is used most. Changes end where seven easy batches are worth more than
    six hard ones, and nothing between them fits.
    """
    prices_of = _worth(board, found)
    for t, batches in fullest.items():
        more, asked = _instead(board, found, limits, t, batches, prices_of[t])
        yield more, asked
        for gain, others in (*_swapped(asked.designs, prices_of[t]), *_fewer(asked.designs, prices_of[t])):
            yield more + gain, replace(asked, designs=others)


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


def _used_most(uses: Sequence[tuple[DayPlan, mathopt.Variable]], found: Prices) -> DayPlan:
    """The known day that the season is made of most on a date."""
    return max(uses, key=lambda use: found.values[use[1].id])[0]


def _value(designs: Iterable[str], worth: Mapping[str, float]) -> float:
    """What some batches are worth together."""
    return sum(worth.get(design, 0.0) for design in designs)


def _worth(board: KnownSeason, found: Prices) -> dict[int, dict[str, float]]:
    """What a batch of each design is worth, by day."""
    out: dict[int, dict[str, float]] = {t: {} for t in board.free}
    for (design, t), rule in board.worth.items():
        out[t][design] = -found.duals[rule.id]
    return out
