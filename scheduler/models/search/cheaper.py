"""A day made cheaper: the same work, nobody else comes, nobody stays longer."""

from __future__ import annotations

import time
from collections.abc import Sequence

from scheduler.models.counts.days import held_on
from scheduler.models.day.by_hand import TRIES
from scheduler.models.day.fit import days_by_hand, fit_day
from scheduler.models.facts import Facts
from scheduler.models.solvers.engine import Limits
from scheduler.models.solvers.spread import spread
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.summary import pulls_by_person
from scheduler.plan.types import DayPlan, Shift
from scheduler.season.rules import rest_reaches

POLISH = 0.6  # effort of making all days cheaper by the day model
CHUNKS = 4  # pieces of work for each process
POLISH_DAYS = 35  # or more: fewer do not get more each


def cheaper(facts: Facts, day: DayPlan, until: float) -> DayPlan:
    """A day of the same batches and packs for less money, by hand and then near the best of it; or the day itself.

    ``until`` (of time.monotonic()): afterwards days stay as they are.
    """
    t = facts.season.index(day.day)
    left = until - time.monotonic()
    if t not in facts.hands or not day.shifts or left <= 0:
        return day
    asked = asked_again(facts, t, day)
    tries = max(4, TRIES * POLISH_DAYS // max(POLISH_DAYS, len(facts.days)))
    ways = [day, *days_by_hand(facts.season, asked, tries)]
    best = min((w for w in ways if len(w.missed_shows) <= len(day.missed_shows)), key=lambda d: wages(facts, d))
    effort = POLISH / max(POLISH_DAYS, len(facts.days))
    limits = Limits(effort=effort, seconds=None if left == float("inf") else left, confirm=False)
    found = fit_day(facts.season, asked, limits, "cheapest", best).plan
    if found is None or len(found.missed_shows) > len(day.missed_shows):
        return best
    return min(found, best, key=lambda d: wages(facts, d))


def cheaper_side_by_side(facts: Facts, days: Sequence[DayPlan], until: float, processes: int) -> tuple[DayPlan, ...]:
    """``cheaper`` for several days, side by side in processes."""
    size = CHUNKS * processes
    out = list(days)
    chunks = [(facts, days[first::size], until) for first in range(min(size, len(days)))]
    for first, found in spread(_cheaper_days, chunks, processes):
        out[first::size] = found
    return tuple(out)


def _cheaper_days(work: tuple[Facts, Sequence[DayPlan], float]) -> list[DayPlan]:
    facts, days, until = work
    return [cheaper(facts, day, until) for day in days]


def asked_again(facts: Facts, t: int, day: DayPlan) -> DayRequest:
    """What a day holds, with those who are in for as long as they are."""
    pulls, week = pulls_by_person(facts.season, day), facts.week(t)
    free = {p.name: p.pulls_week >= p.pulls_day * len(facts.weeks[week]) for p in facts.season.crew}
    hands = tuple(
        Hand(
            s.person, *_stay(facts, t, s), s.ends - s.starts,
            facts.person(s.person).pulls_day if free[s.person] else pulls.get(s.person, 0),
            (s.person, t) in facts.called,
        )
        for s in day.shifts
    )  # fmt: skip
    return DayRequest(day.day, day.designs, tuple(sorted(day.packs.items())), hands, held_on(day))


def _stay(facts: Facts, t: int, shift: Shift) -> tuple[int, int]:
    """When a person may be in: the whole stretch, or the shift itself where rest between days could bind."""
    stretch = facts.hands[t][shift.person]
    for d in (t + way * days for days in rest_reaches(facts.season) for way in (-1, 1)):
        near = facts.hands.get(d, {}).get(shift.person)
        if near is not None:
            first, second = (near, stretch) if d < t else (stretch, near)
            if first.ends + facts.season.kitchen.rest_minutes > second.starts + 1440 * abs(d - t):
                return shift.starts, shift.ends
    return stretch.starts, stretch.ends


def wages(facts: Facts, day: DayPlan) -> int:
    """Wages of a day without overtime, in sixtieths of a cent."""
    return sum(
        facts.person(s.person).wage_cents * (s.ends - s.starts - (0 if s.break_starts is None else facts.unpaid_break))
        for s in day.shifts
    )
