"""The one place that touches ``CpSolver``: limits, hints, statuses, staged objectives.

Deterministic by default: one worker, a fixed seed, and a limit in deterministic time,
so the same model gives the same answer on every run and every machine.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from ortools.sat.python import cp_model

LARGEST_SUM = 2**31 - 1  # coefficients that add up past this have overflowed in presolve


class Status(Enum):
    """What a solve can honestly say."""

    OPTIMAL = "optimal"
    FEASIBLE = "feasible"  # an answer with a gap
    INFEASIBLE = "infeasible"  # proven; by CP-SAT twice, once without presolve, where ``Limits.confirm`` asks for it
    UNKNOWN = "unknown"  # no answer in the time given

    @property
    def solved(self) -> bool:
        return self in (Status.OPTIMAL, Status.FEASIBLE)


@dataclass(frozen=True)
class Limits:
    """When a solve stops. ``effort`` is deterministic time, about a second of one idle core."""

    effort: float = 10.0
    seconds: float | None = None  # a wall-clock cap; makes a run that hits it not repeatable
    gap: int = 0  # stop when objective and bound are this close
    workers: int = 1  # more than one: interleaved, so still repeatable
    linearization: int | None = None
    probing: int | None = None
    presolve: int | None = None  # rounds of it at most
    strong: bool = False  # more reasoning about who comes first where only one can be at a time
    memory_mb: int = 4000
    confirm: bool = True  # solve an INFEASIBLE once more without presolve before believing it


@dataclass(frozen=True)
class Answer:
    """A status and, only where there is a solution, its values, objective and bound."""

    status: Status
    objective: int | None
    bound: int | None
    _values: Mapping[int, int] | None
    effort: float = 0.0

    def knows(self, variable: cp_model.IntVar) -> bool:
        """Whether the variable was part of the model that was solved."""
        return self._values is not None and variable.index in self._values

    def value(self, expression: cp_model.LinearExpr | int) -> int:
        """Value of a linear expression of integers in the solution."""
        if isinstance(expression, int):
            return expression
        flat = cp_model.FlatIntExpr(expression)
        return int(flat.offset) + sum(int(c) * self[v] for v, c in zip(flat.vars, flat.coeffs, strict=True))

    def __getitem__(self, variable: cp_model.IntVar) -> int:
        """Value of a variable in the solution; LookupError where there is none."""
        if self._values is None:
            raise LookupError(f"no solution to read: the solve ended as {self.status.value}")
        return self._values[variable.index]


def solve(model: cp_model.CpModel, limits: Limits = Limits()) -> Answer:
    """Solve a model once. A model that CP-SAT calls invalid is a fault of ours: RuntimeError."""
    solver = cp_model.CpSolver()
    p = solver.parameters
    p.random_seed = 7
    p.catch_sigint_signal = False  # else, once a model is solved, Ctrl-C ends the process without a word
    p.num_workers = limits.workers
    p.interleave_search = limits.workers > 1
    p.max_deterministic_time = limits.effort
    p.max_memory_in_mb = limits.memory_mb
    if limits.seconds is not None:
        p.max_time_in_seconds = limits.seconds
    if limits.gap:
        p.absolute_gap_limit = float(limits.gap)
    if limits.linearization is not None:
        p.linearization_level = limits.linearization
    if limits.probing is not None:
        p.cp_model_probing_level = limits.probing
    if limits.presolve is not None:
        p.max_presolve_iterations = limits.presolve
    p.use_strong_propagation_in_disjunctive = limits.strong
    status = solver.solve(model)
    if status == cp_model.MODEL_INVALID:
        raise RuntimeError(f"invalid model: {model.validate()}")
    if status == cp_model.INFEASIBLE:
        if limits.confirm:
            p.cp_model_presolve = False
            status = solver.solve(model)
        if status == cp_model.INFEASIBLE:
            return Answer(Status.INFEASIBLE, None, None, None, solver.response_proto.deterministic_time)
    effort = float(solver.response_proto.deterministic_time)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Answer(Status.UNKNOWN, None, None, None, effort)
    has_objective = model.has_objective()
    return Answer(
        Status.OPTIMAL if status == cp_model.OPTIMAL else Status.FEASIBLE,
        round(solver.objective_value) if has_objective else None,
        _bound_up(solver.best_objective_bound) if has_objective else None,
        dict(enumerate(solver.response_proto.solution)),
        effort,
    )


def hint(model: cp_model.CpModel, values: Mapping[cp_model.IntVar, int]) -> None:
    """Replace all hints of a model: duplicates would make it invalid."""
    model.clear_hints()  # type: ignore[no-untyped-call]
    for variable, value in values.items():
        model.add_hint(variable, value)


def hint_all(model: cp_model.CpModel, answer: Answer) -> None:
    """Hint every variable of the model with an answer to this same model."""
    count = len(model.proto.variables)
    hint(model, {v: answer[v] for v in map(model.get_int_var_from_proto_index, range(count))})


def _bound_up(bound: float) -> int:
    """The least integer objective that a lower bound allows."""
    return -int(-bound // 1) if abs(bound - round(bound)) > 1e-6 else round(bound)
