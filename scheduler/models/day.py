"""One day to the minute: does this work fit, with these people, and what is the cheapest way?

``fit_day`` builds the model rule by rule, solves it in stages, and reads a DayPlan back.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from scheduler.models import engine
from scheduler.models.day_cleaning import add_cleaning
from scheduler.models.day_packing import PackPiece, add_packing, fill_stretches
from scheduler.models.day_people import add_duties, add_one_job_at_a_time, add_people, add_pulls, add_roles
from scheduler.models.day_read import read_plan, stretches
from scheduler.models.day_shows import add_shows
from scheduler.models.day_work import (
    Day,
    Time,
    add_batches,
    add_heads,
    add_station_places,
    new_day,
    order_twins,
)
from scheduler.models.engine import Answer, Limits, Status, hint_all
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan
from scheduler.season.types import Season

Want = Literal["any", "cheapest", "shortest"]
TRIES = 5  # of packing with more and more spare minutes


@dataclass(frozen=True)
class DayAnswer:
    """A day's status and plan. ``cost`` and ``bound`` are cents ("cheapest") or minutes ("shortest").

    INFEASIBLE is proven: the work does not fit. UNKNOWN: no day found, and none ruled out.
    """

    status: Status
    plan: DayPlan | None
    cost: int | None
    bound: int | None
    effort: float


def fit_day(season: Season, request: DayRequest, limits: Limits | None = None, want: Want = "cheapest") -> DayAnswer:
    """Fit a day's batches, people and packing to the minute.

    "any" stops at the first day that works; "cheapest" seeks the least labour cost, shows
    held before money; "shortest" the earliest end of the last batch, in minutes from opening.
    """
    limits = limits or Limits(effort=4.0 if want == "any" else 8.0)
    request = replace(request, designs=tuple(sorted(request.designs)))
    spent, spare = 0.0, 0
    for _ in range(TRIES):
        day = build(season, request, spare)
        if day is None:
            empty = not (request.designs or request.packing or any(h.must for h in request.hands))
            plan = DayPlan(request.day, proven=True) if empty else None
            return DayAnswer(Status.OPTIMAL if empty else Status.INFEASIBLE, plan, 0 if empty else None, None, spent)
        answer, cost, bound, effort = _solve(day, limits, want)
        spent += effort
        if not answer.status.solved:
            surely = answer.status is Status.INFEASIBLE and spare == 0 and not day.blocks
            if answer.status is Status.INFEASIBLE and not surely:
                return _without_proof(season, request, limits, spent)
            return DayAnswer(answer.status, None, None, None, spent)
        pieces, missing = _pack(day, answer)
        if missing == 0:
            proven = answer.status is Status.OPTIMAL and spare == 0 and not day.blocks
            status = Status.OPTIMAL if proven or want == "any" else Status.FEASIBLE
            return DayAnswer(status, read_plan(day, answer, pieces, proven), cost, bound, spent)
        spare += missing
    return DayAnswer(Status.UNKNOWN, None, None, None, spent)


def day_fits(season: Season, request: DayRequest, limits: Limits | None = None) -> Status:
    """Whether a day's work fits: OPTIMAL (it does), INFEASIBLE (it can't) or UNKNOWN."""
    return fit_day(season, request, limits, "any").status


def build(season: Season, request: DayRequest, spare: int = 0) -> Day | None:
    """The whole model of a day, one rule after the other; None on a closed day."""
    day = new_day(season, request)
    if day is None:
        return None
    add_batches(day)
    order_twins(day)
    add_people(day)
    add_roles(day)
    add_cleaning(day)
    add_duties(day)
    add_shows(day)
    add_packing(day, spare)
    add_station_places(day)
    add_heads(day)
    add_pulls(day)
    add_one_job_at_a_time(day)
    return day


def _pack(day: Day, answer: Answer) -> tuple[list[PackPiece], int]:
    return fill_stretches(day.season, day.request.packing, stretches(day, answer))


def _without_proof(season: Season, request: DayRequest, limits: Limits, spent: float) -> DayAnswer:
    """Packing in a few stretches can't be done: proven only if the day fails without packing too."""
    bare = build(season, replace(request, packing=()))
    assert bare is not None
    answer = engine.solve(bare.model, limits)
    status = Status.INFEASIBLE if answer.status is Status.INFEASIBLE else Status.UNKNOWN
    return DayAnswer(status, None, None, None, spent + answer.effort)


def _solve(day: Day, limits: Limits, want: Want) -> tuple[Answer, int | None, int | None, float]:
    """Solve in stages: shows missed, then cost or end of day, then a tidy day for no more."""
    model, spent = day.model, 0.0
    if day.missed and not day.request.hold_shows and want != "any":
        model.minimize(sum(day.missed.values()))
        answer = engine.solve(model, limits)
        spent += answer.effort
        if not answer.status.solved:
            return answer, None, None, spent
        assert answer.objective is not None
        model.add(sum(day.missed.values()) <= answer.objective)
        hint_all(model, answer)
    if want == "any":
        answer = engine.solve(model, limits)
        return answer, None, None, spent + answer.effort
    goal = shortest(day) if want == "shortest" else cost(day)
    model.minimize(goal)
    answer = engine.solve(model, limits)
    spent += answer.effort
    if not answer.status.solved:
        return answer, None, None, spent
    assert answer.objective is not None and answer.bound is not None
    if want == "shortest":
        return answer, answer.objective, answer.bound, spent
    tidy_answer = _tidy(day, goal, answer, limits)
    return tidy_answer, cents(answer.objective), cents(answer.bound), spent + tidy_answer.effort


def _tidy(day: Day, goal: Time, answer: Answer, limits: Limits) -> Answer:
    """The same cost with fewer minutes in and earlier ends; its status stays that of the cost."""
    model = day.model
    assert answer.objective is not None
    model.add(goal <= answer.objective)
    hint_all(model, answer)
    minutes = sum(who.length for who in day.people.values())
    model.minimize(minutes + sum(batch.end for batch in day.batches))
    better = engine.solve(model, replace(limits, effort=limits.effort / 4))
    if not better.status.solved:
        return answer
    return replace(better, status=answer.status)


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


def shortest(day: Day) -> Time:
    """Minutes from opening to the end of the last batch."""
    last = day.model.new_int_var(0, day.closes - day.opens, "last end")
    for batch in day.batches:
        day.model.add(last >= batch.end - day.opens)
    return last
