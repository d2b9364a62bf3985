"""A day that is fitted again: the same work as before with as little change for people as can be.

The same model as ``day.fit``, with another goal: first the changes that ``plan.changes`` counts
(somebody in or out, other hours, new jobs), then every single job and pour time that
differs, then money.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model
from scheduler.models.day.fit import MORE, DayAnswer, build
from scheduler.models.day.pack_in import pack_in
from scheduler.models.day.packing import fill_stretches, more_packing
from scheduler.models.day.read import read_plan, stretches
from scheduler.models.day.rest import build_rest, composed, left_already
from scheduler.models.day.work import Day
from scheduler.models.solvers import engine
from scheduler.models.solvers.engine import Answer, Limits, Status
from scheduler.plan.begun import still_possible
from scheduler.plan.changes import DAY_ON_OR_OFF, HOURS, JOBS, felt
from scheduler.plan.request import DayRequest
from scheduler.plan.types import Batch, DayPlan, Shift
from scheduler.season.types import Season

Goal = cp_model.LinearExpr | int
GIVEN_UP = 1000  # a show that is missed, in points: before all changes


@dataclass
class Kept:
    """The old day laid over the model of the new one: ``match`` is model batch -> old batch."""

    day: Day
    old: DayPlan
    match: dict[int, Batch]
    gone: frozenset[str] = frozenset()  # people whose day is over

    @property
    def free(self) -> list[Shift]:
        """Old shifts that the news leaves possible: what changes on others is not counted."""
        return [s for s in still_possible(self.day.season, self.old) if s.person not in self.gone]


def fit_again(season: Season, request: DayRequest, limits: Limits, detail: bool = True) -> DayAnswer:
    """Fit a day with few changes to ``request.keep``; ``cost`` and ``bound`` are points before notice.

    Without ``detail`` only the points are sought, for their bound.
    Raises ValueError where there is no day to keep.
    """
    if request.keep is None:
        raise ValueError("there is no day to keep; use fit_day")
    request = replace(request, designs=tuple(sorted(request.designs)))
    if not request.packing or request.frozen or not detail:
        return _fit_again(season, request, limits, detail)
    bare = _fit_again(season, replace(request, packing=()), limits, detail)
    if bare.plan is None:
        return bare
    by_hand = _packed(season, request, bare.plan)
    if by_hand.cost == bare.cost:  # nobody feels the packing
        return replace(by_hand, status=bare.status, bound=bare.bound, effort=bare.effort)
    found = _fit_again(season, request, limits, detail)
    return replace(min(by_hand, found, key=_dear), bound=found.bound or bare.bound, effort=bare.effort + found.effort)


def _dear(answer: DayAnswer) -> tuple[bool, int]:
    """How dear a day is; none at all is dearest."""
    return answer.plan is None, answer.cost or 0


def _packed(season: Season, request: DayRequest, bare: DayPlan) -> DayAnswer:
    """A day with the packs put in by hand, first by those who packed before; UNKNOWN where no room is found."""
    old = request.keep
    assert old is not None
    plan = pack_in(season, request, bare, first={run.person for run in old.packing})
    if plan is None:
        return DayAnswer(Status.UNKNOWN, None, None, None, 0.0)
    away = {s.person for s in old.shifts} - {s.person for s in still_possible(season, old)}
    return DayAnswer(Status.FEASIBLE, plan, felt(old, plan, frozenset(away)), None, 0.0)


def _fit_again(season: Season, request: DayRequest, limits: Limits, detail: bool) -> DayAnswer:
    """The same with packing in a few stretches of the model.

    Where packs do not come out even in them they are put in by hand, and at last a few minutes more are asked for.
    """
    old = request.keep
    assert old is not None
    match = matched(season, request.designs, old)
    gone = left_already(request.frozen) if request.frozen else frozenset()
    spent, spare = 0.0, 0
    best = DayAnswer(Status.UNKNOWN, None, None, None, 0.0)
    for _ in range(MORE):
        day = build_rest(season, request, match) if request.frozen else build(season, request)
        if day is None:
            return DayAnswer(Status.INFEASIBLE, None, None, None, spent)
        if spare:
            more_packing(day, spare)
        found = _solve(Kept(day, old, match, gone), limits, detail)
        spent += sum(a.effort for a in found.answers)
        if not found.answers:
            unsure = found.status is Status.INFEASIBLE and bool(day.blocks)
            return replace(best, status=best.status if best.plan or unsure else found.status, effort=spent)
        if not detail:
            return DayAnswer(found.status, None, found.points, found.bound, spent)
        for answer in found.answers:
            pieces, missing = fill_stretches(season, request.packing, stretches(day, answer))
            plan = _numbered(day, answer, match, read_plan(day, answer, pieces if missing == 0 else [], False))
            if missing == 0:
                plan = composed(season, request.frozen, old, plan) if request.frozen else plan
                return DayAnswer(found.status, plan, found.points, found.bound, spent)
            if not request.frozen:
                packed = replace(_packed(season, request, plan), bound=found.bound)
                best = min(best, packed, key=_dear)
        if best.plan is not None and best.cost is not None and best.cost <= found.points:
            return replace(best, effort=spent)
        spare += missing
    return replace(best, effort=spent)


def _numbered(day: Day, answer: Answer, match: dict[int, Batch], plan: DayPlan) -> DayPlan:
    """Batches that go on keep the numbers they had; new ones get numbers that the old day had not."""
    order = sorted(range(len(day.batches)), key=lambda b: (answer.value(day.batches[b].pour), b))  # as in read_plan
    taken = {b.id for b in match.values()} | {m.batch for m in day.season.made}
    named = []
    for b, batch in zip(order, plan.batches, strict=True):
        name = match[b].id if b in match else ""
        number = 0
        while not name:
            number += 1
            free = f"{plan.day:%m%d}-{number}"
            name = "" if free in taken else free
        taken.add(name)
        named.append(replace(batch, id=name))
    return replace(plan, batches=tuple(named))


def matched(season: Season, designs: tuple[str, ...], old: DayPlan) -> dict[int, Batch]:
    """Which batch of the model continues which old one: same design, in order of the pour.

    A batch that is known to have failed, or not to have been started, is continued by none.
    """
    ended = {m.batch for m in season.made if m.outcome != "made"}
    left: dict[str, list[Batch]] = defaultdict(list)
    for batch in sorted(old.batches, key=lambda b: b.pour):
        if batch.id not in ended:
            left[batch.design].append(batch)
    return {b: left[design].pop(0) for b, design in enumerate(designs) if left[design]}


@dataclass(frozen=True)
class Found:
    """Answers with the same least points, the one that differs least in detail first."""

    status: Status
    answers: tuple[Answer, ...] = ()
    points: int = 0
    bound: int = 0


def _solve(kept: Kept, limits: Limits, detail: bool) -> Found:
    """Points first, then single differences and money together."""
    model = kept.day.model
    missed = [GIVEN_UP * var for var in kept.day.missed.values()] if detail else []
    points = cp_model.LinearExpr.sum([*_points(kept), *missed])
    differences = cp_model.LinearExpr.sum([*_differences(kept), *_money(kept)])
    model.minimize(points)
    # Measured: five times faster here than with relaxation, and a fifth is saved with one round of presolve.
    quick = replace(limits, linearization=0, probing=0, presolve=1, confirm=False)
    _start_from_old(kept, quick)
    strong = bool(kept.day.blocks)  # measured: twice as fast with packing, five times slower without
    first = engine.solve(model, replace(quick, strong=strong))
    if not first.status.solved:
        return Found(first.status)
    given_up = GIVEN_UP * sum(first[var] for var in kept.day.missed.values()) if detail else 0
    reached = first.objective or 0
    bound = max(0, (first.bound or 0) - given_up)
    if not detail:
        return Found(first.status, (first,), reached - given_up, bound)
    model.add(points <= reached)
    model.minimize(differences)
    engine.hint_all(model, first)
    second = engine.solve(model, replace(quick, effort=limits.effort / 8))
    answers = (second, first) if second.status.solved else (first,)
    return Found(first.status, answers, reached - given_up, bound)


def _start_from_old(kept: Kept, limits: Limits) -> None:
    """Hint a day in which all go on as they did, but for the jobs of those who are gone; else the old day as it was.

    Where the times stay and only some jobs are open such a day is there at once or not at all.
    """
    model = kept.day.model
    engine.hint(model, dict(_old_values(kept)))
    there = {s.person for s in kept.free}
    times = [(kept.day.batches[b].pour, old.pour) for b, old in kept.match.items()]
    jobs = [(does, 1) for name, was, does in _roles(kept) if was and name in there]
    quick = replace(limits, effort=limits.effort / 4)
    for same in ([*times, *jobs], times):
        small = model.clone()
        for variable, before in same:
            if isinstance(variable, cp_model.IntVar):
                small.add(small.get_int_var_from_proto_index(variable.index) == before)
        answer = engine.solve(small, quick)
        if answer.status.solved:
            engine.hint_all(model, answer)
            return


def _points(kept: Kept) -> Iterator[Goal]:
    """What ``plan.changes.compare`` will count for each person, before notice."""
    model = kept.day.model
    shifts = {s.person: s for s in kept.free}
    before = {s.person for s in kept.old.shifts}
    new_jobs = _new_jobs(kept)
    for name, who in kept.day.people.items():
        old = shifts.get(name)
        if old is None:
            if name not in before:
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
    yield from _roles(kept)
    for task in kept.day.tasks:
        had = {p for t in kept.old.tasks if (t.kind, t.station) == (task.kind, task.station) for p in t.people}
        for name, does in task.people.items():
            yield name, name in had, does
    packers = {run.person for run in kept.old.packing}
    for block in kept.day.blocks:
        yield block.person, block.person in packers, block.held


def _roles(kept: Kept) -> Iterator[tuple[str, bool, cp_model.IntVar]]:
    """The same for runs of batches alone."""
    for b, batch in enumerate(kept.day.batches):
        old = kept.match.get(b)
        for run in batch.runs:
            crew = {c for r in old.runs if r.stage == run.need.name for c in r.crew} if old else set()
            for role, picks in zip(run.need.roles, run.fills, strict=True):
                for name, does in picks.items():
                    yield name, (role.name, name) in crew, does


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
        if who is not None and shift.person not in kept.gone:
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
