"""A proven lower bound of the shortfall: a relaxation, solved as a MIP by HiGHS.

Every plan of the kitchen is a solution of this model, so no plan is less short than its bound:
batches a day within what the day model proved, work, duties and packing within the hours of those able,
weekly hours and pulls, sell-by windows by Hall's condition. Clock times and names are left out.
What rows of pours hold is proven of all days at once (``in_rows``). Where the solution still asks for more of a day
than it can hold, the day model proves a limit of such mixes (``mixes``), and the season is solved again; not where
rows tell something of more than a small season: on 13 weeks mixes add nothing to them (measured).
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from math import gcd, inf, isfinite

from ortools.math_opt.python import mathopt
from scheduler.models.caps.limits import DayLimits
from scheduler.models.caps.mixes import MixLimit
from scheduler.models.counts.in_rows import limits_of_rows
from scheduler.models.counts.part import is_large, is_small
from scheduler.models.counts.relaxation import SeasonRelaxation
from scheduler.models.facts import Facts

LARGE = 5_000  # variables above which batches may be fractional
NODES = 60  # of the last search: measured, hundreds more gain nothing that shows
EFFORT = 1.2  # of proving limits of mixes
LAST = 3.0  # seconds that the last search needs for nearly all that it proves
LEAST = 1.0  # seconds of HiGHS
STALLED, VAIN = 5, 0.2  # rounds of new limits, and share of that effort, without a higher bound, then enough


@dataclass(frozen=True)
class Bound:
    """``value``: no plan is less short, in weighted pieces; 0 where none misses so few shows as were asked for.

    ``exact``: the MIP was solved to its end.
    """

    value: int
    exact: bool


def shortfall_bound_of(
    facts: Facts, limits: DayLimits, nodes: int = NODES, effort: float = EFFORT, missed: int | None = None,
    until: float = inf,
) -> Bound:  # fmt: skip
    """The bound for a season. ``nodes`` and ``effort`` cap the search, so that it is the same on every run.

    With ``missed``: no plan that misses at most so many of the shows that can be held is less short.
    ``until``: a reading of the monotonic clock; what is not proven by then is left out.
    """
    if not facts.demand.lines:
        return Bound(0, True)
    relaxation = SeasonRelaxation(facts, limits, missed)
    relaxation.build()
    if not limits.in_rows and not is_large(facts):
        limits.in_rows = limits_of_rows(relaxation, until - LAST)
        for t, limit in limits.in_rows.items():
            relaxation.mix(t, limit.weights, limit.most)
    if is_small(facts) or not limits.in_rows:
        tighten(relaxation, effort, until - LAST)
    return solve(relaxation, nodes, until)


def tighten(relaxation: SeasonRelaxation, effort: float, until: float = inf) -> None:
    """Limits of mixes where the solution with fractional batches asks for more than a day holds, round by round."""
    mixes = relaxation.limits.mixes
    if not relaxation.make or not relaxation.working:
        return
    whole = [var for var in relaxation.model.variables() if var.integer]
    for var in whole:
        var.integer = False
    most, vain, reached, stalled = mixes.effort + effort, inf, -1.0, 0
    step = 1e-4 * relaxation.facts.demand.weight
    while mixes.effort < min(most, vain) and stalled <= STALLED and time.monotonic() < until:
        result = mathopt.solve(relaxation.model, mathopt.SolverType.GLOP)
        if not result.has_primal_feasible_solution():
            break
        stalled += 1
        if result.dual_bound() > reached + step:
            vain, stalled = mixes.effort + VAIN * effort, 0
        reached = max(reached, result.dual_bound())
        if not _round(relaxation, result.variable_values(), min(most, vain)):
            break
    for var in whole:
        var.integer = True


def _round(relaxation: SeasonRelaxation, values: Mapping[mathopt.Variable, float], until: float) -> bool:
    """A new limit for each sort of day: of what its days make on average, else of one of the fullest two."""
    mixes, news = relaxation.limits.mixes, list[tuple[int, MixLimit]]()
    for days in mixes.alike():
        wanted = [mixes.by_kind({d: values[var] for d, var in relaxation.made_on(t)}) for t in days]
        mean = {kind: sum(w.get(kind, 0.0) for w in wanted) / len(days) for kind in mixes.kinds}
        if any(relaxation.limits.offers_no_more(days[0], day) and mixes.breaks(mean, limit) for day, limit in news):
            continue  # a better day's new limit binds here, too
        for mix in [mean, *sorted(wanted, key=lambda w: -sum(w.values()))[:2]]:
            limit = mixes.beyond(days[0], mix) if mixes.effort < until else None
            if limit is not None:
                news.append((days[0], limit))
                break
    for day, limit in news:
        for t in relaxation.facts.days:
            if relaxation.limits.offers_no_more(t, day):
                relaxation.mix(t, limit.weights, limit.most)
    return bool(news)


def solve(relaxation: SeasonRelaxation, nodes: int, until: float = inf) -> Bound:
    """Solve, and round the bound up to a whole number: weights and packs are whole in every plan.

    A long season is solved without whole batches: measured on 26 weeks, 0.2 % lower and 30 times as fast. So is
    one of which nothing is proven in time.
    """
    proven, done = -inf, False
    if relaxation.model.get_num_variables() <= LARGE:
        params = mathopt.SolveParameters(
            node_limit=nodes, relative_gap_tolerance=1e-6, time_limit=clock_until(until)
        )
        result = mathopt.solve(relaxation.model, mathopt.SolverType.HIGHS, params=params)
        proven, done = result.dual_bound(), result.termination.reason == mathopt.TerminationReason.OPTIMAL
    if not isfinite(proven):
        for var in relaxation.model.variables():
            var.integer = False
        proven = mathopt.solve(relaxation.model, mathopt.SolverType.GLOP).dual_bound()
    if not isfinite(proven):  # no plan at all: it can't miss so few shows
        return Bound(0, False)
    proven -= 1e-6 * max(100.0, abs(proven))
    step = gcd(*(line.weight for line in relaxation.facts.demand.lines))  # every shortfall is a multiple of it
    return Bound(max(0, -int(-proven // step) * step) if step else 0, done)


def clock_until(until: float) -> timedelta | None:
    """What HiGHS has until a reading of the monotonic clock, a second at least; None without a limit."""
    return None if until == inf else timedelta(seconds=max(LEAST, until - time.monotonic()))
