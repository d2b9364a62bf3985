"""A day that is fitted again: the same work as before with as little change for people as can be.

The same model as ``day``, with another goal: first the changes that ``plan.changes`` counts
(somebody in or out, other hours, new jobs), then every single job and pour time that
differs, then money.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model
from scheduler.models import engine
from scheduler.models.day import TRIES, DayAnswer, build
from scheduler.models.day_packing import fill_stretches, more_packing
from scheduler.models.day_read import read_plan, stretches
from scheduler.models.day_work import Day
from scheduler.models.engine import Answer, Limits, Status
from scheduler.plan.changes import DAY_ON_OR_OFF, HOURS, JOBS
from scheduler.plan.request import DayRequest
from scheduler.plan.types import Batch, DayPlan
from scheduler.season.types import Season

Goal = cp_model.LinearExprT


@dataclass
class Kept:
    """The old day laid over the model of the new one: ``match`` is model batch -> old batch."""

    day: Day
    old: DayPlan
    match: dict[int, Batch]


def fit_again(season: Season, request: DayRequest, limits: Limits) -> DayAnswer:
    """Fit a day with few changes to ``request.keep``; ``cost`` and ``bound`` are points before notice.

    Raises ValueError where there is no day to keep.
    """
    if request.keep is None:
        raise ValueError("there is no day to keep; use fit_day")
    old = request.keep
    request = replace(request, designs=tuple(sorted(request.designs)))
    spent, spare = 0.0, 0
    for _ in range(TRIES):
        day = build(season, request)
        if day is None:
            return DayAnswer(Status.INFEASIBLE, None, None, None, spent)
        if spare:
            more_packing(day, spare)
        answer, points, bound, effort = _solve(Kept(day, old, matched(day, old)), limits)
        spent += effort
        if not answer.status.solved:
            unsure = answer.status is Status.INFEASIBLE and bool(day.blocks)
            return DayAnswer(Status.UNKNOWN if unsure else answer.status, None, None, None, spent)
        pieces, missing = fill_stretches(season, request.packing, stretches(day, answer))
        if missing == 0:
            return DayAnswer(answer.status, read_plan(day, answer, pieces, False), points, bound, spent)
        spare += missing
    return DayAnswer(Status.UNKNOWN, None, None, None, spent)


def matched(day: Day, old: DayPlan) -> dict[int, Batch]:
    """Which batch of the model continues which old one: same design, in order of the pour."""
    left: dict[str, list[Batch]] = defaultdict(list)
    for batch in sorted(old.batches, key=lambda b: b.pour):
        left[batch.design].append(batch)
    out = {}
    for b, batch_vars in enumerate(day.batches):
        if left[batch_vars.design.name]:
            out[b] = left[batch_vars.design.name].pop(0)
    return out


def _solve(kept: Kept, limits: Limits) -> tuple[Answer, int, int, float]:
    """Points first, then single differences and money together."""
    model = kept.day.model
    points = cp_model.LinearExpr.sum(list(_points(kept)))
    differences = cp_model.LinearExpr.sum([*_differences(kept), *_money(kept)])
    model.minimize(points)
    engine.hint(model, dict(_old_values(kept)))
    first = engine.solve(model, limits, confirm_infeasible=False)
    if not first.status.solved:
        return first, 0, 0, first.effort
    reached = first.objective or 0
    model.add(points <= reached)
    model.minimize(differences)
    engine.hint_all(model, first)
    second = engine.solve(model, replace(limits, effort=limits.effort / 4), confirm_infeasible=False)
    best = replace(second, status=first.status) if second.status.solved else first
    return best, reached, first.bound or 0, first.effort + second.effort


def _points(kept: Kept) -> Iterator[Goal]:
    """What ``plan.changes.compare`` will count for each person, before notice."""
    model = kept.day.model
    shifts = {s.person: s for s in kept.old.shifts}
    new_jobs = _new_jobs(kept)
    for name, who in kept.day.people.items():
        old = shifts.get(name)
        if old is None:
            yield DAY_ON_OR_OFF * who.inside
            continue
        other = model.new_bool_var(f"other hours {name}")
        model.add(who.start == old.starts).only_enforce_if(who.inside, ~other)
        model.add(who.end == old.ends).only_enforce_if(who.inside, ~other)
        yield DAY_ON_OR_OFF * (1 - who.inside) + HOURS * other
        if new_jobs[name]:
            more = model.new_bool_var(f"new jobs {name}")
            for does in new_jobs[name]:
                model.add_implication(does, more)
            yield JOBS * more


def _new_jobs(kept: Kept) -> dict[str, list[cp_model.IntVar]]:
    """Choices that would give a person of the old day a job that was not theirs."""
    out: dict[str, list[cp_model.IntVar]] = defaultdict(list)
    for name, was, does in _jobs(kept):
        if not was:
            out[name].append(does)
    return out


def _jobs(kept: Kept) -> Iterator[tuple[str, bool, cp_model.IntVar]]:
    """(person, whether the job was theirs, choice) for runs, duties and packing."""
    for b, batch in enumerate(kept.day.batches):
        old = kept.match.get(b)
        for run in batch.runs:
            crew = {c for r in old.runs if r.stage == run.need.name for c in r.crew} if old else set()
            for role, picks in zip(run.need.roles, run.fills, strict=True):
                for name, does in picks.items():
                    yield name, (role.name, name) in crew, does
    for task in kept.day.tasks:
        had = {p for t in kept.old.tasks if (t.kind, t.station) == (task.kind, task.station) for p in t.people}
        for name, does in task.people.items():
            yield name, name in had, does
    packers = {run.person for run in kept.old.packing}
    for block in kept.day.blocks:
        yield block.person, block.person in packers, block.held


def _differences(kept: Kept) -> Iterator[Goal]:
    """Every job of somebody else's, and minutes by which pours, shifts and breaks move."""
    model, day = kept.day.model, kept.day
    for _, was, does in _jobs(kept):
        if not was:
            yield 60 * does
    for b, old in kept.match.items():
        yield _moved(model, day.batches[b].pour, old.pour)
    for shift in kept.old.shifts:
        who = day.people.get(shift.person)
        if who is not None:
            yield _moved(model, who.start, shift.starts)
            yield _moved(model, who.end, shift.ends)


def _moved(model: cp_model.CpModel, time: Goal, before: int) -> Goal:
    moved = model.new_int_var(0, 1440, "")
    model.add(moved >= time - before)
    model.add(moved >= before - time)
    return moved


def _money(kept: Kept) -> Iterator[Goal]:
    """Labour cost, small beside the differences: up to ten units for a minute of somebody's time."""
    wages = {p.name: p.wage_cents for p in kept.day.season.crew}
    highest = max(wages.values(), default=0)
    for name, who in kept.day.people.items():
        if wages[name] > 0:
            yield (10 * wages[name] // highest) * who.length


def _old_values(kept: Kept) -> Iterator[tuple[cp_model.IntVar, int]]:
    """The old day's times and jobs as a hint."""
    for b, old in kept.match.items():
        pour = kept.day.batches[b].pour
        if isinstance(pour, cp_model.IntVar):
            yield pour, old.pour
    for _, was, does in _jobs(kept):
        yield does, int(was)
    shifts = {s.person: s for s in kept.old.shifts}
    for name, who in kept.day.people.items():
        shift = shifts.get(name)
        yield who.inside, int(shift is not None)
        if shift is not None:
            yield who.start, shift.starts
            yield who.end, shift.ends
