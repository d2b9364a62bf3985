"""One day to the minute: does this work fit, with these people, and what is the cheapest way?

``fit_day`` builds the model rule by rule, solves it in stages, and reads a DayPlan back.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from scheduler.models.day.by_hand import TRIES, by_hand
from scheduler.models.day.cleaning import add_cleaning
from scheduler.models.day.pack_in import pack_in
from scheduler.models.day.packing import add_idle_minutes, add_packing, fill_stretches, more_packing
from scheduler.models.day.people import add_duties, add_one_job_at_a_time, add_people, add_pulls, add_roles
from scheduler.models.day.read import read_plan, stretches
from scheduler.models.day.shows import add_shows
from scheduler.models.day.solve import EFFORT, Want, quick, solve_again, solve_day
from scheduler.models.day.work import (
    Day,
    add_batches,
    add_heads,
    add_station_places,
    new_day,
    order_twins,
)
from scheduler.models.solvers import engine
from scheduler.models.solvers.engine import Limits, Status
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan
from scheduler.season.rules import opening
from scheduler.season.types import Season

MORE = 5  # times that packing is tried with more and more spare minutes


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


def fit_day(
    season: Season, request: DayRequest, limits: Limits | None = None, want: Want = "cheapest",
    start: DayPlan | None = None, tries: int = TRIES,
) -> DayAnswer:  # fmt: skip
    """Fit a day's batches, people and packing to the minute.

    "any" stops at the first day that works, "by hand" asks no solver, in so many ``tries``; "cheapest" seeks the least
    labour cost, shows held before money; "shortest" the earliest end of the last batch, in minutes from opening.
    A ``start`` is a day that does what is asked: a cheaper one is sought near it. The request's
    ``keep`` is no matter here (see ``day.keep``). Raises ValueError for a day that has begun: that is the work of
    ``day.rest``.
    """
    if request.frozen is not None:
        raise ValueError("this day has begun; fit the rest of it instead")
    limits = limits or Limits(effort=EFFORT[want])
    request = replace(request, designs=tuple(sorted(request.designs)))
    if opening(season, request.day) is None:
        return _closed(request)
    if want in ("by hand", "any") and (plan := next(days_by_hand(season, request, tries), None)) is not None:
        return DayAnswer(Status.OPTIMAL, plan, None, None, 0.0)
    if want == "by hand":
        return DayAnswer(Status.UNKNOWN, None, None, None, 0.0)
    spent = 0.0
    if start is None:
        easier = engine.solve(without_names(season, request).model, quick(limits))
        spent = easier.effort
        if easier.status is Status.INFEASIBLE:
            return DayAnswer(Status.INFEASIBLE, None, None, None, spent)
    day = build(season, request)
    assert day is not None
    solved = solve_day(day, limits, want, start)
    spent += solved.effort
    for _ in range(MORE):
        answer = solved.answer
        if not answer.status.solved:
            break
        pieces, missing = fill_stretches(season, request.packing, stretches(day, answer))
        if missing == 0:
            proven = answer.status is Status.OPTIMAL and not day.blocks
            status = Status.OPTIMAL if proven or want == "any" else Status.FEASIBLE
            return DayAnswer(status, read_plan(day, answer, pieces, proven), solved.cost, solved.bound, spent)
        more_packing(day, missing)
        solved = solve_again(day, solved, limits, want, anew=start is None)
        spent += solved.effort
    if solved.answer.status is Status.INFEASIBLE and day.blocks:
        return _without_stretches(season, request, limits, spent)
    return DayAnswer(Status.UNKNOWN if day.spare else solved.answer.status, None, None, None, spent)


def days_by_hand(season: Season, request: DayRequest, tries: int = TRIES) -> Iterator[DayPlan]:
    """Days built by hand that hold the packs, too."""
    for bare in by_hand(season, replace(request, packing=()), tries):
        plan = pack_in(season, request, bare) if request.packing else bare
        if plan is not None:
            yield plan


def _closed(request: DayRequest) -> DayAnswer:
    """Nothing happens on a closed day: fine if nothing was asked."""
    if request.designs or request.packing or any(hand.must for hand in request.hands):
        return DayAnswer(Status.INFEASIBLE, None, None, None, 0.0)
    return DayAnswer(Status.OPTIMAL, DayPlan(request.day, proven=True), 0, 0, 0.0)


def day_fits(season: Season, request: DayRequest, limits: Limits | None = None) -> Status:
    """Whether a day's work fits: OPTIMAL (it does), INFEASIBLE (it can't) or UNKNOWN."""
    return fit_day(season, request, limits, "any").status


def build(season: Season, request: DayRequest, whole_stretches: bool = True) -> Day | None:
    """The whole model of a day, one rule after the other; None on a closed day."""
    day = new_day(season, request)
    if day is None:
        return None
    add_work(day, whole_stretches)
    add_heads(day)
    add_limits_of_people(day)
    return day


def add_work(day: Day, whole_stretches: bool = True) -> None:
    """What is done by whom and where: batches, roles, cleaning, duties, shows, packing, places."""
    add_batches(day)
    order_twins(day)
    add_people(day)
    add_roles(day)
    add_cleaning(day)
    add_duties(day)
    add_shows(day)
    (add_packing if whole_stretches else add_idle_minutes)(day)
    add_station_places(day)


def add_limits_of_people(day: Day) -> None:
    """What nobody may exceed in a day: pulls, and one job at a time."""
    add_pulls(day)
    add_one_job_at_a_time(day)


def without_names(season: Season, request: DayRequest) -> Day:
    """An easier day: batches, stations and heads alone. If it can't be, the day can't, and that shows at once."""
    day = new_day(season, request)
    assert day is not None
    add_batches(day)
    order_twins(day)
    add_station_places(day)
    add_heads(day)
    return day


def _without_stretches(season: Season, request: DayRequest, limits: Limits, spent: float) -> DayAnswer:
    """Packing in a few stretches can't be done: proven only if any idle minutes would not do either."""
    bare = build(season, request, whole_stretches=False)
    assert bare is not None
    answer = solve_day(bare, limits, "any").answer
    status = Status.INFEASIBLE if answer.status is Status.INFEASIBLE else Status.UNKNOWN
    return DayAnswer(status, None, None, None, spent + answer.effort)
