"""Shifts and gaps on paper: jobs of a person as spans, breaks, free stretches, shifts cut to what they hold."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from scheduler.plan.changes import jobs_of
from scheduler.plan.request import Hand
from scheduler.plan.types import DayPlan, Shift
from scheduler.season.rules import shortest_shift, step_from, step_until
from scheduler.season.types import Kitchen, Season

Span = tuple[int, int]


def break_of(shift: Shift) -> list[Span]:
    """The meal break of a shift, if it has one."""
    return [] if shift.break_starts is None or shift.break_ends is None else [(shift.break_starts, shift.break_ends)]


def busy_of(day: DayPlan, person: str) -> list[Span]:
    """(from, to) of every run, duty and pack run of a person."""
    return [(job.starts, job.ends) for job in jobs_of(day, person)]


def on_steps(season: Season, hand: Hand, opens: int = 0, closes: int = 2880) -> Hand:
    """`clock step`: the hand with whole steps of the kitchen's clock alone, inside the opening hours.

    Steps of 5, in from 8:02 to 13:58 for 333 minutes at most: from 8:05 to 13:55, 330 minutes.
    """
    kitchen = season.kitchen
    low, high = max(hand.from_minute, opens), min(hand.to_minute, closes)
    return replace(
        hand,
        from_minute=step_from(kitchen, low),
        to_minute=step_until(kitchen, high),
        longest=step_until(kitchen, hand.longest),
    )


def comes(hand: Hand, shortest: int) -> bool:
    """`call-in`: whether somebody may be called in at all, for a shift of so many minutes or more."""
    return hand.from_minute + shortest <= hand.to_minute and hand.longest >= shortest


def shortest_of(season: Season, name: str) -> int:
    """``shortest_shift`` of a person by name."""
    return shortest_shift(season, season.person_by_name[name])


def trimmed(season: Season, day: DayPlan, hands: Iterable[Hand]) -> DayPlan:
    """Shifts no longer than their jobs, the shortest call-in and the break ask; nobody without a job who need not come.

    Example: in from 8:00 to 17:00 with jobs from 9:00 to 13:00 becomes 9:00 to 13:00, without a break.
    """
    kitchen, must = season.kitchen, {h.person for h in hands if h.must}
    shifts = []
    for shift in day.shifts:
        here = busy_of(day, shift.person)
        if not here and shift.person not in must:
            continue
        starts = step_until(kitchen, min((s for s, _ in here), default=shift.starts))
        ends = step_from(kitchen, max((e for _, e in here), default=shift.starts))
        shortest = min(shortest_of(season, shift.person), shift.ends - shift.starts)
        ends = min(shift.ends, max(ends, starts + shortest))
        starts = min(starts, ends - shortest)
        if ends - starts <= kitchen.break_after_minutes:
            shifts.append(Shift(shift.person, starts, ends))
        else:
            rests, around = break_of(shift), kitchen.around_break_minutes
            starts = min([starts, *(step_until(kitchen, s - around) for s, _ in rests)])
            ends = max([ends, *(step_from(kitchen, e + around) for _, e in rests)])
            shifts.append(replace(shift, starts=starts, ends=ends))
    return replace(day, shifts=tuple(shifts))


def break_within(kitchen: Kitchen, busy: list[Span], starts: int, ends: int) -> int | None:
    """Where a meal break can lie in a shift, no job broken and no part too long or too short; the middle if free."""
    long, rest, around = kitchen.break_after_minutes, kitchen.break_minutes, kitchen.around_break_minutes
    first, last = max(starts + around, ends - rest - long), min(ends - rest - around, starts + long)
    for at in sorted({(starts + ends - rest) // 2, first, last, *(e for _, e in busy), *(s - rest for s, _ in busy)},
                     key=lambda x: (abs(2 * x + rest - starts - ends), x)):  # fmt: skip
        if first <= at <= last and all(e <= at or s >= at + rest for s, e in busy):
            return at
    return None


def free_in(starts: int, ends: int, busy: Iterable[Span]) -> list[Span]:
    """The parts of [starts, ends) that no span touches. (8, 12) without (9, 10): (8, 9) and (10, 12)."""
    out, at = [], starts
    for s, e in sorted(busy):
        if at < min(s, ends):
            out.append((at, min(s, ends)))
        at = max(at, e)
    if at < ends:
        out.append((at, ends))
    return out


def crowded(spans: Iterable[Span], places: int) -> list[Span]:
    """When all places are taken: (8, 10) and (9, 11) on one place: (8, 9), (9, 10) and (10, 11); on two: (9, 10)."""
    steps = sorted([(s, 1) for s, _ in spans] + [(e, -1) for _, e in spans])
    out, used, since = [], 0, 0
    for at, step in steps:
        if used >= places and since < at:
            out.append((since, at))
        used, since = used + step, at
    return out if places > 0 else [(0, 2880)]
