"""Solving a built day: first any day that works, then a cheaper one, then a tidy one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from ortools.sat.python import cp_model
from scheduler.models import engine
from scheduler.models.day_work import Day, Time
from scheduler.models.engine import Answer, Limits, hint_all

Want = Literal["any", "cheapest", "shortest"]
EFFORT: dict[Want, float] = {"any": 2.0, "cheapest": 2.0, "shortest": 20.0}
ROUNDS = 2  # of "other people at these times" and "other times for these people"


@dataclass(frozen=True)
class Solved:
    """An answer, what it costs and the proven bound (cents or minutes), and the effort spent."""

    answer: Answer
    cost: int | None
    bound: int | None
    effort: float


def solve_day(day: Day, limits: Limits, want: Want) -> Solved:
    """Solve a day in stages; each stage keeps what the one before reached."""
    first = _first(day, limits, want)
    if not first.answer.status.solved or want == "any":
        return first
    if want == "shortest":
        return _shortest(day, limits, first)
    return _cheapest(day, limits, first)


def solve_again(day: Day, before: Solved, limits: Limits, want: Want) -> Solved:
    """After a small change of the model: the same pours first, a new day if that fails."""
    day.model.clear_hints()  # type: ignore[no-untyped-call]
    found = _with_fixed(day.model, _times(day), before.answer, replace(_quick(limits), effort=limits.effort / 4))
    if not found.status.solved:
        again = solve_day(day, limits, want)
        return replace(again, bound=before.bound)
    value = cents(found.value(cost(day))) if want == "cheapest" else before.cost
    return Solved(replace(found, status=before.answer.status), value, before.bound, found.effort)


def _times(day: Day) -> list[cp_model.IntVar]:
    return [batch.pour for batch in day.batches if isinstance(batch.pour, cp_model.IntVar)]


def _quick(limits: Limits) -> Limits:
    """No linear relaxation and little probing: much faster where there is nothing to minimise."""
    return replace(limits, linearization=0, probing=0, strong=True)


def _first(day: Day, limits: Limits, want: Want) -> Solved:
    """Any day that works; where a plan is wanted, with the fewest shows missed."""
    model = day.model
    count_missed = bool(day.missed) and not day.request.hold_shows and want != "any"
    if count_missed:
        model.minimize(sum(day.missed.values()))
    answer = engine.solve(model, _quick(limits))
    if answer.status.solved and count_missed:
        assert answer.objective is not None
        model.add(sum(day.missed.values()) <= answer.objective)
    return Solved(answer, None, None, answer.effort)


def _shortest(day: Day, limits: Limits, first: Solved) -> Solved:
    last = day.model.new_int_var(0, day.closes - day.opens, "last end")
    for batch in day.batches:
        day.model.add(last >= batch.end - day.opens)
    day.model.minimize(last)
    answer = engine.solve(day.model, replace(limits, linearization=0, strong=True))
    return Solved(answer, answer.objective, answer.bound, first.effort + answer.effort)


def _cheapest(day: Day, limits: Limits, first: Solved) -> Solved:
    """Least labour cost: other people, other times, then both at once for the bound; then tidy."""
    model, goal = day.model, cost(day)
    model.minimize(goal)
    best, spent = first.answer, first.effort
    times = _times(day)
    names = [job.does for who in day.people.values() for job in who.jobs]
    if day.batches:
        for _ in range(ROUNDS):
            for fixed in (times, names):
                found = _with_fixed(model, fixed, best, replace(_quick(limits), effort=limits.effort / 12))
                spent += found.effort
                best = found if found.status.solved else best
    hint_all(model, best)
    whole = engine.solve(model, replace(limits, effort=limits.effort / 2))
    spent += whole.effort
    if not whole.status.solved:  # the hint was not taken up in the time given
        value = best.value(goal)
        return Solved(replace(best, status=engine.Status.FEASIBLE), cents(value), None, spent)
    assert whole.bound is not None and whole.objective is not None
    model.add(goal <= whole.objective)
    minutes = sum(who.length for who in day.people.values())
    model.minimize(minutes + sum(batch.end for batch in day.batches))
    hint_all(model, whole)
    tidy = engine.solve(model, replace(_quick(limits), effort=limits.effort / 8))
    spent += tidy.effort
    answer = replace(tidy, status=whole.status) if tidy.status.solved else whole
    return Solved(answer, cents(whole.objective), cents(whole.bound), spent)


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
