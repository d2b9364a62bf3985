"""Which mixes of batches a day can hold: proven limits of weighted batches, sought where they are asked for.

A sort of day has the mixes that it is known to hold and the limits proven of it so far. Where a
season asks for a mix beyond them, the weights that tell it apart best are sought (a small
linear program over the known mixes), and the day without names proves the most of them that any
day holds: local cuts, after Applegate, Bixby, Chvatal and Cook (2001). Designs of one recipe are one kind.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from ortools.math_opt.python import mathopt
from scheduler.models.caps.most import Most
from scheduler.models.facts import Facts
from scheduler.season import rules

TRIES = 8  # mixes learnt for one limit at most
BEYOND = 0.003  # share by which a limit must be broken to be worth a row
FINEST = 24  # weights are whole numbers up to this

Weights = dict[str, int]  # of a batch, by kind: the first design of the recipe
Mix = Mapping[str, float]  # batches by kind


@dataclass(frozen=True)
class MixLimit:
    """No day of the sort holds more than ``most`` weighted batches. Weights by design."""

    weights: Weights
    most: int


@dataclass
class _Sort:
    """What is known of one sort of day."""

    days: list[int]
    known: list[dict[str, float]] = field(default_factory=list)
    proven: list[MixLimit] = field(default_factory=list)
    asked: dict[tuple[tuple[str, int], ...], MixLimit] = field(default_factory=dict)  # by weights


class Days(Protocol):
    """What mixes ask of the days of a season (see ``limits.DayLimits``)."""

    facts: Facts

    def signature(self, t: int) -> object:
        """What makes two days alike."""

    def offers_no_more(self, t: int, source: int) -> bool:
        """Whether a day offers no more than the source day."""

    def most(self, t: int, weights: Mapping[str, int]) -> Most:
        """The proven most of weighted batches on a day."""


class Mixes:
    """The mixes of one season's days."""

    def __init__(self, limits: Days) -> None:
        self.limits = limits
        season = limits.facts.season
        alike: dict[object, list[str]] = {}
        for design in season.designs:
            alike.setdefault(rules.recipe(season, design), []).append(design.name)
        self.kinds = {designs[0]: tuple(designs) for designs in alike.values()}
        self.kind_of = {d: kind for kind, designs in self.kinds.items() for d in designs}
        self.sorts: dict[object, _Sort] = {}
        for t in limits.facts.days:
            self.sorts.setdefault(limits.signature(t), _Sort([])).days.append(t)
        self.effort = 0.0  # spent so far

    def alike(self) -> list[list[int]]:
        """Days of each sort, the best first, then the poorest, which tells what all hold, then the others."""
        hands = self.limits.facts.hands
        sorts = [sort.days for sort in self.sorts.values()]
        sorts.sort(key=lambda days: -sum(s.longest for s in hands[days[0]].values()))
        return sorts[:1] + sorts[1:][-1:] + sorts[1:-1]

    def by_kind(self, batches: Mix) -> dict[str, float]:
        """Batches of a day by kind, from batches by design."""
        out: dict[str, float] = {}
        for design, n in batches.items():
            out[self.kind_of[design]] = out.get(self.kind_of[design], 0.0) + n
        return out

    def proven(self, t: int) -> Iterable[MixLimit]:
        """Limits that hold for a day: those of its sort, and those of days with no less to offer."""
        for sort in self.sorts.values():
            if sort.proven and self.limits.offers_no_more(t, sort.days[0]):
                yield from sort.proven

    def _known(self, sort: _Sort) -> list[dict[str, float]]:
        """Mixes that days of a sort are known to hold, because days with no more to offer do."""
        day = sort.days[0]
        return [
            m for s in self.sorts.values() if s.known and self.limits.offers_no_more(s.days[0], day) for m in s.known
        ]

    def beyond(self, t: int, wanted: Mapping[str, float]) -> MixLimit | None:
        """A proven limit that a mix (batches by kind) breaks on a day; None where none was found."""
        sort = self.sorts[self.limits.signature(t)]
        if not sort.asked:
            for kind in self.kinds:
                self._ask(sort, {kind: 1})
        for _ in range(TRIES):
            weights = _separate(wanted, self._known(sort))
            if not weights:
                return None
            news = tuple(sorted(weights.items())) not in sort.asked
            limit = self._ask(sort, weights)
            if self.breaks(wanted, limit):
                sort.proven.append(limit)
                return limit
            if not news:
                return None
        return None

    def breaks(self, wanted: Mix, limit: MixLimit) -> bool:
        """Whether a mix (batches by kind) is beyond a limit by enough to be worth a row."""
        asked = sum(limit.weights.get(self.kinds[kind][0], 0) * n for kind, n in wanted.items())
        return asked > limit.most * (1 + BEYOND)

    def _ask(self, sort: _Sort, weights: Weights) -> MixLimit:
        """The proven most of weighted batches (by kind) on a sort of day; the mix that comes nearest is known then."""
        key = tuple(sorted(weights.items()))
        if key in sort.asked:
            return sort.asked[key]
        by_design = {d: n for kind, n in weights.items() for d in self.kinds[kind]}
        found = self.limits.most(sort.days[0], by_design)
        self.effort += found.effort
        mix = self.by_kind(found.example)
        if mix and mix not in sort.known:
            sort.known.append(mix)
        sort.asked[key] = MixLimit(by_design, found.limit)
        return sort.asked[key]


def _separate(wanted: Mix, known: list[dict[str, float]]) -> Weights:
    """Separation: whole weights of an inequality that a mix breaks and all known ones keep; empty where there is none.

    maximise sum(w * wanted) with sum(w * mix) <= 1 for each known mix, 0 <= w <= 1.
    """
    model = mathopt.Model()
    weight = {kind: model.add_variable(lb=0, ub=1) for kind, n in wanted.items() if n > 1e-6}
    for mix in known:
        model.add_linear_constraint(
            mathopt.fast_sum(n * weight[kind] for kind, n in mix.items() if kind in weight) <= 1
        )
    model.maximize(mathopt.fast_sum((wanted[kind] - 1e-5) * var for kind, var in weight.items()))
    result = mathopt.solve(model, mathopt.SolverType.GLOP)
    if not result.has_primal_feasible_solution() or result.objective_value() <= 1.005:
        return {}
    values = {kind: result.variable_values()[var] for kind, var in weight.items()}
    top = max(values.values())
    for scale in range(1, FINEST + 1):
        scaled = {kind: value / top * scale for kind, value in values.items()}
        if scale == FINEST or all(abs(x - round(x)) < 0.02 for x in scaled.values()):
            return {kind: round(x) for kind, x in scaled.items() if round(x)}
    raise AssertionError("the last scale always answers")
