"""Days to choose from: those that are known to fit, and new ones that a season made of them would pay for.

Column generation after Gilmore and Gomory (1961): the season is made of broken known days, its prices
tell which batch is worth having instead of another, and days with that change are built by hand. Here a
pattern is a day to the minute, so a season that is made of whole ones fits as it stands.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from scheduler.models.days import held_on
from scheduler.models.facts import Facts
from scheduler.models.fitting import Fitter
from scheduler.models.limits import DayLimits, request_with_all
from scheduler.models.linear import Prices, prices
from scheduler.models.part import Part
from scheduler.models.season import Board
from scheduler.models.season_solve import PIECE, build, goal
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan

ROUNDS = 4
STALLED = 1  # rounds that bring hardly anything, then enough
STEP = 0.0005  # share of what is asked for that counts as something
IDEAS = 32  # days tried in a round, half of which are found (measured)
OFFERED = 40  # known days of each day that are priced
CHOICE = 25  # that are left to choose from, the cheapest at these prices
USED = 0.02  # share of a day from which on a known day counts as used


@dataclass(frozen=True)
class Menu:
    """Known days to choose from for each free day; ``short``: what a season of broken ones misses (weight)."""

    days: Mapping[int, Sequence[DayPlan]]
    short: float


def menu(part: Part, now: Mapping[int, DayPlan], fitter: Fitter, limits: DayLimits, bound: float) -> Menu | None:
    """The known days of a part after some rounds of new ones; the plan so far is among them. None without any.

    ``now``: the days of the plan so far. As many shows are held as it holds. No more days are sought where the
    season of broken ones is as little short as the ``bound``.
    """
    step = STEP * sum(line.weight * line.asked for line in part.facts.demand.lines)
    best, stalled, out = float("inf"), 0, None
    for _ in range(ROUNDS):
        board = season_of(part, now, fitter, limits)
        found = prices(board.model, fitter.left)
        if found is None:
            return out
        out = Menu(_cheapest(board, found, now), found.value / PIECE)
        stalled = 0 if out.short < best - step else stalled + 1
        best = min(best, out.short)
        if stalled > STALLED or best <= bound + step or not fitter.try_out(_ideas(board, found, fitter, limits)):
            break
    return out


def season_of(part: Part, now: Mapping[int, DayPlan], fitter: Fitter, limits: DayLimits) -> Board:
    """The season of a part made of known days alone, with its goal."""
    facts = part.facts
    board = build(facts, limits, part.settled, known_days(facts, now, fitter, OFFERED), guesses=False)
    held = {(t, show) for t in board.free if t in now for show in held_on(now[t])}
    board.model.add(sum(board.held.values()) >= len(held & set(board.held)))
    board.model.minimize(goal(board))
    return board


def known_days(facts: Facts, now: Mapping[int, DayPlan], fitter: Fitter, most: int) -> dict[int, list[DayPlan]]:
    """For each day that of the plan so far, and so many known ones."""
    return {t: [*([now[t]] if t in now else []), *fitter.known(t, most)] for t in facts.days}


def _cheapest(board: Board, found: Prices, now: Mapping[int, DayPlan]) -> dict[int, list[DayPlan]]:
    """The day of the plan so far, and those that cost least beyond what they are worth."""
    out = {}
    for t, uses in board.uses.items():
        here = [day for day, _ in sorted(uses, key=lambda use: found.reduced[use[1].index])]
        out[t] = [*([now[t]] if t in now else []), *(d for d in here[:CHOICE] if d is not now.get(t))]
    return out


def _ideas(board: Board, found: Prices, fitter: Fitter, limits: DayLimits) -> list[DayRequest]:
    """The most promising days that were not looked for yet: of those that are one search the best."""
    gains: dict[object, tuple[float, int, DayRequest]] = {}
    for t in board.free:
        for gain, asked in _changed(board, found, t):
            key = fitter.kind_of(asked)
            if gain > 0 and (key not in gains or gain > gains[key][0]):
                gains[key] = gain, t, asked
    out: list[DayRequest] = []
    for key, (_, t, asked) in sorted(gains.items(), key=lambda g: (-g[1][0], g[1][1], g[1][2].designs)):
        if len(out) < IDEAS and not fitter.looked_for(key) and _may_fit(limits, t, asked):
            out.append(asked)
    return out


def _changed(board: Board, found: Prices, t: int) -> Iterator[tuple[float, DayRequest]]:
    """(gain at these prices, day) for the days in use with a batch more, or with another in the place of one.

    A batch more may have anybody's help.
    """
    worth = {design: -found.duals[rule.index] for (design, day), rule in board.worth.items() if day == t}
    everyone = request_with_all(board.facts, t, ())
    for day, use in board.uses.get(t, ()):
        if found.values[use.index] < USED:
            continue
        people = {s.person for s in day.shifts}
        hands = tuple(h for h in everyone.hands if h.person in people)
        designs = [b.design for b in day.batches]
        for more, price in worth.items():
            yield price, replace(everyone, designs=tuple(sorted([*designs, more])), held=held_on(day))
        for less in sorted(set(designs)):
            left = designs.copy()
            left.remove(less)
            for more, price in worth.items():
                asked = replace(everyone, designs=tuple(sorted([*left, more])), hands=hands, held=held_on(day))
                yield price - worth.get(less, 0.0), asked


def _may_fit(limits: DayLimits, t: int, asked: DayRequest) -> bool:
    """Whether a day's batches are within all that is proven of such days."""
    counts = Counter(asked.designs)
    return all(sum(counts[d] for d in designs) <= most for designs, most in limits.caps(t)) and all(
        sum(w * counts[d] for d, w in limit.weights.items()) <= limit.most for limit in limits.mixes.proven(t)
    )
