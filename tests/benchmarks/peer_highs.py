"""HiGHS alone: the relaxation of the bound taken as a plan, with windows as intervals or as flows.

It runs in the OR-Tools wheel (one thread: that build takes no more) or through highspy with two,
once, for all the seconds that there are or until it has proven its optimum.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import timedelta
from math import ceil, isinf
from typing import Any

import highspy
from ortools.math_opt.python import mathopt
from scheduler.models.counts.board import Wish
from scheduler.models.counts.demand import items_of, stock_of
from scheduler.models.counts.relaxation import SeasonRelaxation
from scheduler.models.search.sketch import add_slack, wish_of
from scheduler.models.solvers.warm_lp import as_lp
from tests.benchmarks.ground import THREADS, Ground

GAP = 1e-6
# A line of the log of HiGHS: source, nodes, queue, leaves, explored, then the bound and the best so far.
PROGRESS = re.compile(r" ?\w? +\d+ +\d+ +\d+ +[\d.]+% +(-?[\w.+]+) +(-?[\w.+]+) ")


class Flows(SeasonRelaxation):
    """The same season, but pieces flow from each making day to each order: a variable for each pair."""

    def _windows(self) -> None:
        for design in self.facts.season.designs:
            used: dict[tuple[str, int], list[Any]] = defaultdict(list)  # ("day" or "lot", number) -> pieces taken
            lots = stock_of(self.facts, design.name)
            for first, last, line, late, pieces in items_of(self.facts, design.name):
                if (line, late) not in self.fill:
                    continue
                sources = [("day", t) for d, t in self.make if d == design.name and first <= t <= last]
                sources += [("lot", i) for i, (day, _) in enumerate(lots) if first <= day <= last]
                flows = [self.model.add_variable(lb=0) for _ in sources]
                for source, flow in zip(sources, flows, strict=True):
                    used[source].append(flow)
                self.model.add_linear_constraint(mathopt.fast_sum(flows) == pieces * self.fill[line, late])
            for (kind, number), taken in used.items():
                have = design.pieces * self.make[design.name, number] if kind == "day" else lots[number][1]
                self.model.add_linear_constraint(mathopt.fast_sum(taken) <= have)


def highs(ground: Ground, flows: bool = False, own: bool = False, guided: bool = False) -> Callable[[Any], Wish]:
    """HiGHS on intervals or ``flows``, in the wheel or on its ``own`` through highspy.

    ``guided``: days are left the air that planners know they need; then it proves nothing for other plans.
    """
    relaxation = (Flows if flows else SeasonRelaxation)(ground.facts, ground.limits)
    relaxation.build()
    if guided:
        ground.limits.prepare()
        add_slack(relaxation)
    if ground.left > 0:
        (through_highspy if own else through_wheel)(ground, relaxation.model, not guided)
    return lambda values: wish_of(relaxation, values)


def step(ground: Ground, short: float, bound: float | None) -> None:
    """Something better is known; bounds that prove nothing for other plans are None."""
    whole = None if bound is None or isinf(bound) else max(0, ceil(bound - GAP * max(100.0, abs(bound))))
    ground.step(None if isinf(short) else round(short), whole)


def through_wheel(ground: Ground, model: mathopt.Model, proves: bool) -> None:
    """HiGHS as it ships inside the OR-Tools wheel. What it has on the way is read from its log: only figures."""
    told: list[tuple[float, float]] = []  # (seconds, short)

    def heard(lines: Sequence[str]) -> None:
        for line in lines:
            found = PROGRESS.match(line)
            if found:
                bound, short = map(float, found.groups())
                if not told or told[-1][1] != short or proves:
                    told.append((ground.now, short))
                    step(ground, short, bound if proves else None)

    params = mathopt.SolveParameters(time_limit=timedelta(seconds=ground.left), relative_gap_tolerance=GAP)
    result = mathopt.solve(model, mathopt.SolverType.HIGHS, params=params, msg_cb=heard)
    if not result.has_primal_feasible_solution():
        return
    step(ground, result.objective_value(), result.dual_bound() if proves else None)
    values = {variable.id: value for variable, value in result.variable_values().items()}
    first = min((at for at, short in told if short <= result.objective_value() + 0.5), default=ground.now)
    ground.kept |= {mark: values for mark in ground.marks if mark >= min(first, ground.seconds)}


def through_highspy(ground: Ground, model: mathopt.Model, proves: bool) -> None:
    """The same model given to highspy, with two threads."""
    proto = model.export_model()
    highspy.Highs.resetGlobalScheduler(True)  # its threads are counted once for a whole process
    solver = highspy.Highs()
    for option, value in (
        ("output_flag", False), ("threads", THREADS), ("time_limit", ground.left), ("mip_rel_gap", GAP),
    ):  # fmt: skip
        solver.setOptionValue(option, value)
    lp, kinds = as_lp(proto), highspy.HighsVarType
    lp.integrality_ = [kinds.kInteger if whole else kinds.kContinuous for whole in proto.variables.integers]
    solver.passModel(lp)

    def better(event: Any) -> None:
        found = event.data_out
        step(ground, found.objective_function_value, found.mip_dual_bound if proves else None)
        ground.keep(dict(zip(proto.variables.ids, list(found.mip_solution), strict=True)))

    solver.cbMipImprovingSolution.subscribe(better)
    solver.run()
    info = solver.getInfo()
    if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
        step(ground, info.objective_function_value, info.mip_dual_bound if proves else None)
        last = dict(zip(proto.variables.ids, solver.getSolution().col_value, strict=True))
        ground.kept |= {mark: last for mark in ground.marks if mark >= min(ground.now, ground.seconds)}
