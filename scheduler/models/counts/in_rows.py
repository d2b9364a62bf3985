"""What rows of pours prove of a season: the relaxation, each day a convex combination of rows of batches.

Decomposition after Dantzig and Wolfe (1960): the duals of the master problem tell what a batch is worth on which day,
the day's best row at them (the pricing problem, a dynamic programme: ``caps.in_a_row``) is a new column, and so on. At
the duals of the best Lagrangian bound each day's best row is a valid inequality of its batches, with which the
relaxation proves as much.
"""

from __future__ import annotations

import time
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf

from scheduler.models.caps.in_a_row import PourSequences
from scheduler.models.caps.mixes import MixLimit
from scheduler.models.counts.relaxation import SeasonRelaxation
from scheduler.models.solvers.warm_lp import WarmLp, as_columns

ROUNDS = 60
CLOSE = 1e-4  # share of the demand between what is proven and what the offered rows allow, then enough
SMOOTHING = 0.7  # weight of the duals of the best bound so far in those that are asked with: fewer rounds
ENDLESS = 2**31 - 1  # steps of the simplex: a season with new rows takes thousands
FINEST = 10_000  # weights are whole numbers up to this

Worth = dict[int, dict[str, float]]  # of a batch, by day and design


def limits_of_rows(relaxation: SeasonRelaxation, until: float = inf) -> dict[int, MixLimit]:
    """For each day a proven limit of its batches, weighted as they are worth in the season; none if no more is proven.

    ``until``: a reading of the monotonic clock, after which no more prices are sought.
    """
    rows = relaxation.limits.rows
    if not rows.tells or not relaxation.make:
        return {}
    season = _InRows(relaxation, rows)
    step, best, prices = CLOSE * relaxation.facts.demand.weight, -inf, Worth()
    for _ in range(ROUNDS):
        found = season.solve_lp()
        if found is None or time.monotonic() > until:
            break
        value, proven, worth, news = found
        if proven > best:
            best, prices = proven, worth
        if value - max(best, season.alone) < step or not news:
            break
        season.offer(_between(prices, worth))
    return _limits(relaxation, rows, prices) if best > season.alone + step else {}


def _limits(relaxation: SeasonRelaxation, rows: PourSequences, prices: Worth) -> dict[int, MixLimit]:
    """Each day's best row in whole weights."""
    top = max((price for worth in prices.values() for price in worth.values()), default=0.0)
    if top <= 0:
        return {}
    weights = {t: {d: round(FINEST * x / top) for d, x in worth.items()} for t, worth in prices.items()}
    weights = {t: some for t, some in weights.items() if any(some.values())}
    days = [relaxation.facts.season.days[t] for t in weights]
    best = rows.most(days, list(weights.values()))
    return {t: MixLimit(some, round(most)) for (t, some), (most, _) in zip(weights.items(), best, strict=True)}


def _between(one: Worth, other: Worth) -> Worth:
    """Smoothed duals: between two, nearer to the first (Wentges 1997, from memory)."""
    return {
        t: {d: SMOOTHING * one[t].get(d, 0.0) + (1 - SMOOTHING) * price for d, price in worth.items()}
        for t, worth in other.items()
    }


@dataclass
class _InRows:
    """The master problem: the LP relaxation with columns of rows in the place of what it says of a day's batches."""

    relaxation: SeasonRelaxation
    rows: PourSequences
    model: WarmLp = field(init=False)
    alone: float = field(init=False)  # what it comes to without rows
    whole: dict[int, int] = field(init=False)  # by day: the rule that its rows are no more than one
    makes: dict[tuple[int, int], int] = field(default_factory=dict)  # by kind and day: no more than its rows make
    there: set[tuple[int, tuple[int, ...]]] = field(default_factory=set)

    def __post_init__(self) -> None:
        relaxation, kind_of = self.relaxation, self.rows.kind_of
        model = relaxation.model.export_model()
        column = as_columns(model)
        self.model = WarmLp(model, steps=ENDLESS, first="simplex")
        found = self.model.solution()
        self.alone = inf if found is None else found[0]
        made = defaultdict[tuple[int, int], dict[int, float]](dict)
        for (design, t), var in relaxation.make.items():
            made[kind_of[design], t][column[var.id]] = 1.0
        self.makes = {key: self.model.add_row(terms, 0.0) for key, terms in made.items()}
        days = sorted({t for _, t in made})
        self.whole = {t: self.model.add_row({column[relaxation.working[t].id]: -1.0}, 0.0) for t in days}
        for kind in sorted({kind for kind, _ in made}):
            self.offer({t: {self.rows.kinds[kind][0]: 1.0} for t in days})

    def solve_lp(self) -> tuple[float, float, Worth, int] | None:
        """(value, what is proven, what a batch is worth, rows that are new); None where there is no solution."""
        found = self.model.solve()
        if found is None:
            return None
        duals = self.model.duals()[0]
        worth: Worth = {t: {} for t in self.whole}
        for (kind, t), row in self.makes.items():
            worth[t] |= dict.fromkeys(self.rows.kinds[kind], max(0.0, -duals[row]))
        best = self._best(worth)
        gain = sum(max(0.0, value + duals[self.whole[t]]) for t, (value, _) in best.items())
        news = sum(self._add(t, batches) for t, (value, batches) in best.items() if value > -duals[self.whole[t]])
        return found[0], found[0] - gain, worth, news

    def offer(self, worth: Worth) -> None:
        """Offer each day's best row at these prices."""
        for t, (_, batches) in self._best(worth).items():
            self._add(t, batches)

    def _best(self, worth: Worth) -> dict[int, tuple[float, dict[str, int]]]:
        days = self.relaxation.facts.season.days
        return dict(zip(worth, self.rows.most([days[t] for t in worth], list(worth.values())), strict=True))

    def _add(self, t: int, batches: Mapping[str, int]) -> bool:
        """Offer a row; False where it was."""
        counts = Counter[int]()
        for design, count in batches.items():
            counts[self.rows.kind_of[design]] += count
        key = t, tuple(sorted(counts.elements()))
        if key in self.there or not counts:
            return False
        self.there.add(key)
        made = {self.makes[kind, t]: -float(count) for kind, count in counts.items() if (kind, t) in self.makes}
        self.model.add_column({self.whole[t]: 1.0, **made})
        return True
