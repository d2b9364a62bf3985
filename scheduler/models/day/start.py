"""A day that is there as a start for the day model: its minutes and names put into the model's own variables."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ortools.sat.python import cp_model
from scheduler.models.day.packing import SHORTEST_STRETCH, Stretch, merged
from scheduler.models.day.work import BatchVars, Day, Time
from scheduler.models.solvers import engine
from scheduler.models.solvers.engine import Answer, Limits
from scheduler.plan.types import Batch, DayPlan


def start_from(day: Day, plan: DayPlan, limits: Limits) -> Answer:
    """The model's answer with the plan's batches, jobs, packing and shifts; duties and cleans are anybody's who can.

    UNKNOWN or INFEASIBLE where the model can't tell such a day, as with more stretches of packing than it knows.
    """
    model = day.model.clone()
    for expression, value in _told(day, plan):
        if isinstance(expression, int):
            continue
        flat = cp_model.FlatIntExpr(expression)
        left = sum(
            int(c) * model.get_int_var_from_proto_index(v.index) for v, c in zip(flat.vars, flat.coeffs, strict=True)
        )
        model.add(left == value - int(flat.offset))
    return engine.solve(model, replace(limits, confirm=False))


def _told(day: Day, plan: DayPlan) -> Iterator[tuple[Time, int]]:
    """(expression, its value) of all that the plan decides."""
    left = sorted(plan.batches, key=lambda b: b.pour)
    for vars_ in day.batches:
        batch = next(b for b in left if b.design == vars_.design.name)
        left.remove(batch)
        yield from _of_batch(vars_, batch)
    shifts = {s.person: s for s in plan.shifts}
    for name, who in day.people.items():
        shift = shifts.get(name)
        yield who.inside, shift is not None
        if shift is not None:
            yield who.start, shift.starts
            yield who.end, shift.ends
            if who.break_start is not None and shift.break_starts is not None:
                yield who.break_start, shift.break_starts
    packing = merged(Stretch(run.person, run.starts, run.ends) for run in plan.packing)
    for name in {b.person: None for b in day.blocks}:
        blocks, here = [b for b in day.blocks if b.person == name], [s for s in packing if s.person == name]
        for n, block in enumerate(blocks):
            yield block.held, n < len(here)
            if n < len(here):
                yield block.start, here[n].starts
                if (minutes := here[n].ends - here[n].starts) >= SHORTEST_STRETCH:  # the packs of one may take less
                    yield block.size, minutes


def _of_batch(vars_: BatchVars, batch: Batch) -> Iterator[tuple[Time, int]]:
    for run, there in zip(vars_.runs, batch.runs, strict=True):
        yield run.start, there.starts
        for role, picks in zip(run.need.roles, run.fills, strict=True):
            names = {person for name, person in there.crew if name == role.name}
            for person, does in picks.items():
                yield does, person in names
