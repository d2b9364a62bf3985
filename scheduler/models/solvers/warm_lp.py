"""The LP relaxation of a model, kept by HiGHS: after a few bounds have changed the simplex goes on from its basis.

Through highspy, whose simplex keeps where it stopped: some milliseconds for a step on 13 weeks, where the same
step takes ten times as long through MathOpt, most of it for passing the answer on (measured).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

import highspy
import numpy as np
from ortools.math_opt import model_pb2

Start = tuple[Sequence[int], Sequence[int]]  # where each column and each row is, in HiGHS' numbers
STEPS = 3000  # of the simplex once a model has been solved; few models make it go round in circles
AT_LOWER, BASIC = int(highspy.HighsBasisStatus.kLower), int(highspy.HighsBasisStatus.kBasic)


@dataclass(frozen=True)
class NamedBasis:
    """A simplex basis by the names of columns and rows: a warm start for a model like it."""

    columns: Mapping[Hashable, int]
    rows: Mapping[Hashable, int]

    def start(self, columns: Sequence[Hashable], rows: Sequence[Hashable]) -> Start:
        """The same for a model with these: a new column is nonbasic at its lower bound, a new row basic."""
        return [self.columns.get(name, AT_LOWER) for name in columns], [self.rows.get(name, BASIC) for name in rows]


def row_names(model: model_pb2.ModelProto, names: Sequence[Hashable]) -> list[Hashable]:
    """What tells the rows from each other: their columns, without those of known days where there are others."""
    inside: list[list[Hashable]] = [[] for _ in model.linear_constraints.ids]
    days: list[set[Hashable]] = [set() for _ in inside]
    for row, column in zip(
        model.linear_constraint_matrix.row_ids, model.linear_constraint_matrix.column_ids, strict=True
    ):
        name = names[column]
        if isinstance(name, tuple):
            days[row].add(name[0])
        else:
            inside[row].append(name)
    keys = [(*some, *(() if some else sorted(map(str, known)))) for some, known in zip(inside, days, strict=True)]
    seen = Counter[Hashable]()
    out: list[Hashable] = []
    for key in keys:
        out.append((key, seen[key]))
        seen[key] += 1
    return out


class WarmLp:
    """The LP relaxation of a model in MathOpt's form whose columns are 0, 1, 2 and so on."""

    def __init__(
        self, model: model_pb2.ModelProto, start: Start | None = None, seconds: float | None = None,
        steps: int = STEPS, first: str = "ipm",
    ) -> None:  # fmt: skip
        """Solve it, from a ``start`` where one is given, else by the solver ``first``; in so many seconds at most.

        ``steps``: of the simplex in each solution that follows. By interior points with crossover, seasons of known
        days take a third of the simplex's time; seasons of counts five times as long (measured).
        """
        self._highs = highspy.Highs()  # type: ignore[no-untyped-call]
        self._set(output_flag=False)
        self._highs.passModel(as_lp(model))
        if seconds is not None:
            self._set(time_limit=max(0.0, seconds))
        if start is not None:
            basis = highspy.HighsBasis()
            basis.valid = True
            basis.col_status, basis.row_status = ([highspy.HighsBasisStatus(n) for n in some] for some in start)
            self._highs.setBasis(basis)
        else:
            self._set(solver=first)
        self._highs.run()
        self._set(solver="simplex", simplex_iteration_limit=steps, time_limit=math.inf)

    def _set(self, **options: bool | float | str) -> None:
        for option, value in options.items():
            self._highs.setOptionValue(option, value)

    def bound(self, columns: Sequence[int], least: Sequence[float], most: Sequence[float]) -> None:
        """Set what columns are at least and at most."""
        if columns:
            ends = np.array(least, float), np.array(most, float)
            self._highs.changeColsBounds(len(columns), np.array(columns, np.int32), *ends)

    def add_row(self, terms: Mapping[int, float], most: float) -> int:
        """One more rule: the sum of columns times figures is at most so much; its number."""
        columns, figures = np.array(list(terms), np.int32), np.array(list(terms.values()), float)
        self._highs.addRow(-highspy.kHighsInf, most, len(terms), columns, figures)
        return int(self._highs.getNumRow()) - 1

    def add_column(self, terms: Mapping[int, float]) -> None:
        """One more column that costs nothing, at least 0, with its figures in rows."""
        rows, figures = np.array(list(terms), np.int32), np.array(list(terms.values()), float)
        self._highs.addCol(0.0, 0.0, highspy.kHighsInf, len(terms), rows, figures)

    def solve(self) -> tuple[float, Sequence[float]] | None:
        """Go on to the solution with these bounds."""
        self._highs.run()
        return self.solution()

    def solution(self) -> tuple[float, Sequence[float]] | None:
        """(value, values by column); None where there is none, or none was found."""
        if self._highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        return self._highs.getObjectiveValue(), self._highs.getSolution().col_value

    def basis(self) -> highspy.HighsBasis:
        """The basis, to go back to."""
        return self._highs.getBasis()

    def go_back(self, basis: highspy.HighsBasis) -> None:
        """Begin from a basis again, with nothing left of what came after."""
        self._highs.clearSolver()
        self._highs.setBasis(basis)

    def named_basis(self, columns: Sequence[Hashable], rows: Sequence[Hashable]) -> NamedBasis:
        """The basis by the names of its columns and rows."""
        basis = self._highs.getBasis()
        at = [list(map(int, some)) for some in (basis.col_status, basis.row_status)]
        return NamedBasis(*(dict(zip(*pair, strict=True)) for pair in zip((columns, rows), at, strict=True)))

    def duals(self) -> tuple[Sequence[float], Sequence[float]]:
        """Dual values by row, reduced costs by column."""
        found = self._highs.getSolution()
        return found.row_dual, found.col_dual


@dataclass(frozen=True)
class LpSolution:
    """An optimum of an LP: objective, primal values, duals, reduced costs, basis."""

    value: float
    values: Sequence[float]  # by column
    duals: Sequence[float]  # by row
    reduced_costs: Sequence[float]  # by column
    basis: NamedBasis


def solve_lp(
    model: model_pb2.ModelProto,
    seconds: float | None = None,
    names: Sequence[Hashable] | None = None,
    basis: NamedBasis | None = None,
) -> LpSolution | None:
    """The LP relaxation of a model solved; None where it is infeasible, or not solved in so many seconds.

    ``names`` tell its columns apart, for a warm start from the ``basis`` of a model like it.
    """
    names = names or range(len(model.variables.ids))
    named = row_names(model, names)
    relaxed = WarmLp(model, None if basis is None else basis.start(names, named), seconds)
    found = relaxed.solution()
    if found is None:
        return None
    return LpSolution(*found, *relaxed.duals(), relaxed.named_basis(names, named))


def as_columns(model: model_pb2.ModelProto) -> dict[int, int]:
    """The column of each variable, by its number in MathOpt."""
    return {name: i for i, name in enumerate(model.variables.ids)}


def as_lp(model: model_pb2.ModelProto) -> highspy.HighsLp:
    """A MathOpt model in the arrays that HiGHS reads, with nothing whole."""
    column = as_columns(model)
    row = {name: i for i, name in enumerate(model.linear_constraints.ids)}
    goal, matrix = model.objective.linear_coefficients, model.linear_constraint_matrix
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(column), len(row)
    costs = np.zeros(len(column))
    for name, cost in zip(goal.ids, goal.values, strict=True):
        costs[column[name]] = cost
    lp.col_cost_, lp.offset_ = costs, model.objective.offset
    lp.col_lower_, lp.col_upper_ = np.array(model.variables.lower_bounds), np.array(model.variables.upper_bounds)
    lp.row_lower_ = np.array(model.linear_constraints.lower_bounds)
    lp.row_upper_ = np.array(model.linear_constraints.upper_bounds)
    rows = np.array([row[name] for name in matrix.row_ids])  # entries are sorted by row
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.searchsorted(rows, np.arange(len(row) + 1))
    lp.a_matrix_.index_ = np.array([column[name] for name in matrix.column_ids])
    lp.a_matrix_.value_ = np.array(matrix.coefficients)
    return lp
