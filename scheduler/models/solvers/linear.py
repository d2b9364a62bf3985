"""A CP-SAT model whose rules are linear, solved as a mixed-integer programme by HiGHS.

HiGHS ships inside OR-Tools. Its relaxation and cuts settle far more of a season at once than
search does (measured: six weeks and ten designs to the proven optimum in the time in which
CP-SAT improves two of the weeks). One thread and limits on nodes: the same answer on every run.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import ceil, floor, inf, isfinite

from ortools.math_opt import model_pb2
from ortools.math_opt.python import mathopt
from ortools.sat.python import cp_model
from scheduler.models.solvers.engine import Answer, Status
from scheduler.models.solvers.rows import Rows
from scheduler.models.solvers.spread import spread

LARGEST = 1e5  # coefficient of a goal; larger ones are told in larger units
WHOLE = 1e-5  # what is this near to a whole number is one
FAR = 2**50  # a domain that ends beyond this has no end


@dataclass(frozen=True)
class MipLimits:
    """When HiGHS stops: ``gap`` between plan and bound in units of the goal; nodes; a cap on the clock.

    ``stall``: nodes without a better plan. A run that hits ``seconds`` is not repeatable.
    """

    gap: float = 0.0
    nodes: int = 8
    stall: int = 8
    seconds: float | None = None


@dataclass(frozen=True)
class Job:
    """A model as HiGHS gets it, in a form that other processes can be given."""

    model: bytes
    unit: float
    search: MipLimits
    hints: Mapping[int, int]
    up: frozenset[int]

    @property
    def large(self) -> bool:
        """Whether it is worth a process of its own."""
        return len(self.model) > 150_000


def job(
    model: cp_model.CpModel,
    search: MipLimits,
    hints: Mapping[cp_model.IntVar, int] | None = None,
    whole: Collection[cp_model.IntVar] | None = None,
    up: Collection[cp_model.IntVar] = (),
) -> Job:
    """A model of linear rules and clauses, which may have conditions, with its objective.

    ``whole``: the counts that must not be fractional, where all others but yes-or-nos may be; those in
    ``up`` are told rounded up, other fractional ones rounded down. None: nothing may be fractional.
    Raises ValueError for a model with other rules.
    """
    unit = unit_of(model)
    proto = rows_of(model, unit)
    if whole is not None:
        decided = {var.index for var in whole}
        for k, (low, high) in enumerate(zip(proto.variables.lower_bounds, proto.variables.upper_bounds, strict=True)):
            proto.variables.integers[k] = k in decided or high - low <= 1
    values = {var.index: n for var, n in (hints or {}).items()}
    return Job(proto.SerializeToString(), unit, search, values, frozenset(var.index for var in up))


def unit_of(model: cp_model.CpModel) -> float:
    """What a goal is told in, so that its coefficients are no larger than LARGEST."""
    return max(1.0, max(map(abs, model.proto.objective.coeffs), default=0) / LARGEST)


def side_by_side(jobs: Sequence[Job], workers: int) -> list[Answer]:
    """Answers to several jobs; large ones in processes of their own, as MathOpt lets one thread work at a time."""
    found = dict(spread(run, jobs, workers if any(one.large for one in jobs) else 1))
    return [found[k] for k in range(len(jobs))]


def get_ready(workers: int) -> None:
    """Start the processes of ``side_by_side`` before they are needed."""
    for _ in spread(_ready, range(workers), workers):
        pass


def _ready(_number: int) -> None:
    """Nothing: whoever gets here has loaded this module."""


def run(asked: Job) -> Answer:
    """Have HiGHS solve a job."""
    proto, search = model_pb2.ModelProto.FromString(asked.model), asked.search
    params = mathopt.SolveParameters(
        absolute_gap_tolerance=search.gap / asked.unit, relative_gap_tolerance=1e-6, node_limit=search.nodes,
        time_limit=None if search.seconds is None else timedelta(seconds=search.seconds),
    )  # fmt: skip
    params.highs.int_options["mip_max_stall_nodes"] = search.stall
    model = mathopt.Model.from_model_proto(proto)
    start = mathopt.ModelSolveParameters()
    if asked.hints:
        values = {model.get_variable(k): float(n) for k, n in asked.hints.items()}
        start.solution_hints.append(mathopt.SolutionHint(variable_values=values))
    result = mathopt.solve(model, mathopt.SolverType.HIGHS, params=params, model_params=start)
    reason, reasons = result.termination.reason, mathopt.TerminationReason
    if reason in (reasons.INFEASIBLE, reasons.INFEASIBLE_OR_UNBOUNDED):
        return Answer(Status.INFEASIBLE, None, None, None)
    if not result.has_primal_feasible_solution():
        return Answer(Status.UNKNOWN, None, None, None)
    found = {
        v.id: round(x) if abs(x - round(x)) < WHOLE else ceil(x) if v.id in asked.up else floor(x)
        for v, x in result.variable_values().items()
    }
    proven = result.dual_bound() - 1e-6 * max(100.0, abs(result.dual_bound()))
    bound = ceil(asked.unit * proven) if isfinite(proven) else None  # where the time ended before anything was proven
    status = Status.OPTIMAL if reason is reasons.OPTIMAL and search.gap == 0 else Status.FEASIBLE
    return Answer(status, round(asked.unit * result.objective_value()), bound, found)


def rows_of(model: cp_model.CpModel, unit: float) -> model_pb2.ModelProto:
    """The model in MathOpt's form, variables by their index."""
    variables = [list(v.domain) for v in model.proto.variables]
    rows = Rows([float(d[0]) for d in variables], [float(d[-1]) for d in variables])
    for rule in model.proto.constraints:
        if rule.has_linear():
            terms: dict[int, float] = {}
            for var, coefficient in zip(list(rule.linear.vars), list(rule.linear.coeffs), strict=True):
                terms[var] = terms.get(var, 0.0) + coefficient
            least, most = list(rule.linear.domain)[0], list(rule.linear.domain)[-1]
            rows.add_under(
                terms, least if least > -FAR else -inf, most if most < FAR else inf, list(rule.enforcement_literal)
            )
        elif rule.has_bool_or():
            terms, least = {}, 1.0
            for literal in [*rule.bool_or.literals, *(-x - 1 for x in rule.enforcement_literal)]:
                var = literal if literal >= 0 else -literal - 1
                terms[var] = terms.get(var, 0.0) + (1 if literal >= 0 else -1)
                least -= literal < 0
            rows.add(terms, least, inf)
        else:
            raise ValueError("this model has rules that are not linear")
    goal: dict[int, float] = {}
    for var, coefficient in zip(list(model.proto.objective.vars), list(model.proto.objective.coeffs), strict=True):
        goal[var] = goal.get(var, 0.0) + coefficient
    told = {var: coefficient / unit for var, coefficient in goal.items()}
    return rows.proto(told, [True] * len(variables), model.proto.objective.offset / unit)
