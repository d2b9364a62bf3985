"""Bending a plan: the season model again, with every change to the old plan counted.

Two figures bind each other: changes in points (see ``plan.changes``, the same weights) and
what is short. ``Bend.least`` makes one as small as can be while the other stays within a
limit, which is how the choices on the frontier between them are found and proven.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from ortools.sat.python import cp_model
from scheduler.models import engine
from scheduler.models.engine import Answer, Limits
from scheduler.models.facts import Facts
from scheduler.models.limits import DayLimits
from scheduler.models.season import Board, Expression
from scheduler.models.season_solve import build
from scheduler.plan.changes import BATCH, DAY_ON_OR_OFF, HOURS, PACKING, notice
from scheduler.plan.types import DayPlan

PROTECTED = 10  # a pack promised to a customer weighs so many times its usual weight: before all others
MISSED_SHOW = 1_000_000  # a show that is given up, in the same measure


@dataclass
class Bend:
    """The season model with ``changes`` (points) and ``short`` (weight, promised packs first) as variables.

    ``absent`` are (person, day index) whom the news keeps away.
    """

    board: Board
    before: Mapping[int, DayPlan]
    today: date
    absent: frozenset[tuple[str, int]]
    changes: cp_model.IntVar = field(init=False)
    short: cp_model.IntVar = field(init=False)

    def __post_init__(self) -> None:
        model = self.board.model
        points = [term for t in self.board.facts.days for term in self._day(t)]
        self.changes = _total(model, points, "changes")
        self.short = _total(model, _missing(self.board), "short")

    def _day(self, t: int) -> list[Expression]:
        """Points of one day: people on and off, batches, hours, packing."""
        weight = notice(self.board.facts.season.days[t], self.today)
        old = self.before.get(t, DayPlan(self.board.facts.season.days[t]))
        return [*self._people(t, old, weight), *self._batches(t, old, weight), *self._packing(t, old, weight)]

    def _people(self, t: int, old: DayPlan, weight: int) -> list[Expression]:
        """Someone called in or sent home; someone's shift longer or shorter than it was."""
        model = self.board.model
        terms: list[Expression] = []
        lengths = {s.person: s.ends - s.starts for s in old.shifts}
        for name in self.board.facts.hands[t]:
            comes, shift = self.board.comes[name, t], self.board.shift[name, t]
            if name not in lengths:
                terms.append(DAY_ON_OR_OFF * weight * comes)
            elif (name, t) not in self.absent:
                terms.append(DAY_ON_OR_OFF * weight * (1 - comes))
                other = model.new_bool_var(f"other hours {name} {t}")
                model.add(shift == lengths[name]).only_enforce_if(comes, ~other)
                terms.append(HOURS * weight * other)
        return terms

    def _batches(self, t: int, old: DayPlan, weight: int) -> list[Expression]:
        """|make - before| for each design."""
        model = self.board.model
        terms: list[Expression] = []
        had = Counter(b.design for b in old.batches)
        for design in self.board.facts.season.designs:
            var, count = self.board.make.get((design.name, t)), had[design.name]
            if var is None:
                terms.append(BATCH * weight * count)
            elif count == 0:
                terms.append(BATCH * weight * var)
            else:
                moved = model.new_int_var(0, max(count, int(var.proto.domain[1])), f"moved {design.name} {t}")
                model.add(moved >= var - count)
                model.add(moved >= count - var)
                terms.append(BATCH * weight * moved)
        return terms

    def _packing(self, t: int, old: DayPlan, weight: int) -> list[Expression]:
        """Whether any product is packed more than before; fewer packs change nobody's day."""
        model = self.board.model
        had: Counter[str] = Counter()
        for run in old.packing:
            had[run.product] += run.packs
        here = [(p, var) for (p, day), var in self.board.pack.items() if day == t]
        if not here:
            return []
        more = model.new_bool_var(f"more packing {t}")
        for product, var in here:
            model.add(var <= had[product]).only_enforce_if(~more)
        return [PACKING * weight * more]

    def least(
        self,
        goal: cp_model.IntVar,
        limits: Limits,
        hints: Mapping[cp_model.IntVar, int],
        changes: int | None = None,
        short: int | None = None,
    ) -> Answer:
        """Make ``goal`` least while changes and short stay within what is given."""
        model = self.board.model.clone()
        if changes is not None:
            model.add(self.changes <= changes)
        if short is not None:
            model.add(self.short <= short)
        model.minimize(goal)
        if hints:
            engine.hint(model, hints)
        return engine.solve(model, limits, confirm_infeasible=False)

    def bar(self, t: int, batches: Mapping[str, int], people: frozenset[str]) -> None:
        """Never again these batches (or more of them) on a day with only these people."""
        model = self.board.model
        ways: list[cp_model.IntVar] = []
        for design, count in batches.items():
            var = self.board.make.get((design, t))
            if var is not None:
                fewer = model.new_bool_var("")
                model.add(var <= count - 1).only_enforce_if(fewer)
                ways.append(fewer)
        ways += [self.board.comes[name, t] for name in self.board.facts.hands[t] if name not in people]
        model.add_bool_or(ways)

    def bar_packing(self, t: int, packs: Mapping[str, int], batches: Mapping[str, int], people: frozenset[str]) -> None:
        """Never again this packing (or more) beside these batches (or more) with only these people."""
        model = self.board.model
        ways: list[cp_model.IntVar] = []
        counted = [(self.board.make.get((d, t)), n) for d, n in batches.items()]
        counted += [(self.board.pack.get((p, t)), n) for p, n in packs.items()]
        for var, count in counted:
            if var is not None and count > 0:
                fewer = model.new_bool_var("")
                model.add(var <= count - 1).only_enforce_if(fewer)
                ways.append(fewer)
        ways += [self.board.comes[name, t] for name in self.board.facts.hands[t] if name not in people]
        model.add_bool_or(ways)


def bend(
    facts: Facts, limits: DayLimits, before: Mapping[int, DayPlan], absent: frozenset[tuple[str, int]], today: date
) -> Bend:
    """The model of all plans from today on, with changes counted against the days before."""
    return Bend(build(facts, limits), before, today, absent)


def _missing(board: Board) -> list[Expression]:
    """Weight of what nobody gets; promised packs weigh more, shows given up most."""
    terms: list[Expression] = []
    for line in board.facts.demand.lines:
        weight = line.weight * (PROTECTED if line.confirmed else 1)
        if line.partial:
            terms.append(weight * (line.packs - board.fill[line.id] - board.late.get(line.id, 0)))
        elif line.packs:
            terms.append(weight * line.asked * (1 - board.whole[line.id]))
    terms += [MISSED_SHOW * (1 - held) for held in board.held.values()]
    return terms


def _total(model: cp_model.CpModel, terms: list[Expression], name: str) -> cp_model.IntVar:
    """A variable that is the sum; 2^31 - 1 is the most that it may be (see ``engine``)."""
    total = model.new_int_var(0, engine.LARGEST_SUM, name)
    model.add(total == sum(terms))
    return total
