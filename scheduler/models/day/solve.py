"""Solving a built day: first any day that works, then a cheaper one, then a tidy one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from ortools.sat.python import cp_model
from scheduler.models.day.start import start_from
from scheduler.models.day.work import Day, Time
from scheduler.models.solvers import engine
from scheduler.models.solvers.engine import Answer, Limits, hint_all
from scheduler.plan.types import DayPlan

Want = Literal["by hand", "any", "cheapest", "shortest"]
EFFORT: dict[Want, float] = {"by hand": 0.0, "any": 2.0, "cheapest": 0.6, "shortest": 20.0}
PLAIN = 0.1  # effort of the first, plain search


@dataclass(frozen=True)
class Solved:
    """An answer, what it costs and the proven bound (cents or minutes), and the effort spent."""

    answer: Answer
    cost: int | None
    bound: int | None
    effort: float


def solve_day(day: Day, limits: Limits, want: Want, start: DayPlan | None = None) -> Solved:
    """Solve a day in stages; each stage keeps what the one before reached.

    With a ``start`` that does what is asked, only what is near it is searched.
    """
    if start is not None:
        told = start_from(day, start, quick(limits))
        if told.status.solved:
            return _nearby(day, limits, told)
        return Solved(replace(told, status=engine.Status.UNKNOWN), None, None, told.effort)
    first = _first(day, limits, want)
    if not first.answer.status.solved or want == "any":
        return first
    if want == "shortest":
        return _shortest(day, limits, first)
    return _cheapest(day, limits, first)


def solve_again(day: Day, before: Solved, limits: Limits, want: Want, anew: bool = True) -> Solved:
    """After a small change of the model: the same pours first, a new day if that fails (unless not ``anew``)."""
    day.model.clear_hints()  # type: ignore[no-untyped-call]
    found = _with_fixed(day.model, _times(day), before.answer, replace(quick(limits), effort=limits.effort / 4))
    if not found.status.solved and not anew:
        return Solved(replace(found, status=engine.Status.UNKNOWN), None, None, found.effort)
    if not found.status.solved:
        again = solve_day(day, limits, want)
        return replace(again, bound=before.bound)
    value = cents(found.value(cost(day))) if want == "cheapest" else before.cost
    return Solved(replace(found, status=before.answer.status), value, before.bound, found.effort)


def _times(day: Day) -> list[cp_model.IntVar]:
    return [batch.pour for batch in day.batches if isinstance(batch.pour, cp_model.IntVar)]


def _names(day: Day) -> list[cp_model.IntVar]:
    return [job.does for who in day.people.values() for job in who.jobs]


def quick(limits: Limits) -> Limits:
    """No linear relaxation and little probing: much faster where there is nothing to minimise."""
    return replace(limits, linearization=0, probing=0)


def _any(day: Day, limits: Limits) -> Answer:
    """Any day that works: a short plain search finds most days, a stronger one finds or rules out the rest.

    Packing in stretches never rules a day out by itself, so that "can't" is not confirmed here.
    """
    plain = engine.solve(day.model, replace(quick(limits), effort=min(PLAIN, limits.effort / 2), confirm=False))
    if plain.status.solved or (day.blocks and plain.status is engine.Status.INFEASIBLE):
        return plain
    confirm = limits.confirm and not day.blocks
    strong = engine.solve(day.model, replace(quick(limits), strong=True, confirm=confirm))
    return replace(strong, effort=strong.effort + plain.effort)


def _first(day: Day, limits: Limits, want: Want) -> Solved:
    """Any day that works; where a plan is wanted, with the fewest shows missed."""
    answer = _any(day, limits)
    spent = answer.effort
    if answer.status.solved and len(day.missed) > len(day.request.held) and want != "any":
        missed = sum(day.missed.values())
        if answer.value(missed) > 0:
            day.model.minimize(missed)
            hint_all(day.model, answer)
            fewest = engine.solve(day.model, replace(quick(limits), strong=True))
            spent += fewest.effort
            answer = fewest if fewest.status.solved else answer
        day.model.add(missed <= answer.value(missed))
    return Solved(answer, None, None, spent)


def _shortest(day: Day, limits: Limits, first: Solved) -> Solved:
    last = day.model.new_int_var(0, day.closes - day.opens, "last end")
    for batch in day.batches:
        day.model.add(last >= batch.end - day.opens)
    day.model.minimize(last)
    answer = engine.solve(day.model, replace(limits, linearization=0, strong=True))
    return Solved(answer, answer.objective, answer.bound, first.effort + answer.effort)


def _cheapest(day: Day, limits: Limits, first: Solved) -> Solved:
    """Least labour cost, by turns with times fixed, with people fixed and with nothing fixed; then tidy.

    Shares of the effort were found by trial: 0.4, 0.1, 0.1, 0.4, and 0.1 for tidying.
    """
    model, goal = day.model, cost(day)
    model.minimize(goal)
    names = _names(day)
    best, bound, spent = first.answer, None, first.effort
    proven = False
    for fixed, share in (([], 0.4), (_times(day), 0.1), (names, 0.1), ([], 0.4)):
        if not proven:
            step = _with_fixed(model, fixed, best, replace(limits, effort=share * limits.effort, probing=0))
            spent += step.effort
            best = step if step.status.solved else best
            if not fixed and step.bound is not None:
                bound = step.bound if bound is None else max(bound, step.bound)
                proven = step.status is engine.Status.OPTIMAL
    reached = best.value(goal)
    tidy = _tidy(day, goal, reached, best, replace(quick(limits), effort=limits.effort / 10))
    status = engine.Status.OPTIMAL if proven else engine.Status.FEASIBLE
    answer = replace(tidy if tidy.status.solved else best, status=status)
    return Solved(answer, cents(reached), None if bound is None else cents(bound), spent + tidy.effort)


def _nearby(day: Day, limits: Limits, start: Answer) -> Solved:
    """Less labour cost near a day that is good already: with its people, then with its times."""
    goal, best, spent = cost(day), start, start.effort
    day.model.minimize(goal)
    for fixed in (_names(day), _times(day)):
        step = _with_fixed(day.model, fixed, best, replace(quick(limits), effort=limits.effort / 2))
        spent += step.effort
        best = step if step.status.solved else best
    return Solved(replace(best, status=engine.Status.FEASIBLE), cents(best.value(goal)), None, spent)


def _tidy(day: Day, goal: Time, reached: int, best: Answer, limits: Limits) -> Answer:
    """For the same money fewer minutes in, and earlier ends."""
    day.model.add(goal <= reached)
    minutes = sum(who.length for who in day.people.values())
    day.model.minimize(minutes + sum(batch.end for batch in day.batches))
    hint_all(day.model, best)
    return engine.solve(day.model, limits)


def _with_fixed(model: cp_model.CpModel, fixed: list[cp_model.IntVar], best: Answer, limits: Limits) -> Answer:
    """The best answer in which some variables keep the values of the best one so far."""
    smaller = model.clone()
    for variable in fixed:
        smaller.add(smaller.get_int_var_from_proto_index(variable.index) == best[variable])
    hint_all(smaller, best)
    return engine.solve(smaller, limits)


def cost(day: Day) -> Time:
    """Labour cost in cents times 60: paid minutes at the hourly wage, overtime left to the season."""
    kitchen, crew = day.season.kitchen, day.season.person_by_name
    total: Time = 0
    for name, who in day.people.items():
        paid: Time = who.length
        if who.break_held is not None and not kitchen.break_paid:
            paid = paid - kitchen.break_minutes * who.break_held
        total = total + crew[name].wage_cents * paid
    return total


def cents(value: int) -> int:
    """Cents of a cost in sixtieths of a cent, half up."""
    return (value + 30) // 60
