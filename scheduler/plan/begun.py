"""A day that has begun: what of it is past, who leaves it early, whether it can go on as it stands."""

from __future__ import annotations

from scheduler.plan.types import DayPlan, PackRun, Shift
from scheduler.season.rules import presence
from scheduler.season.types import Season


def has_begun(day: DayPlan, minute: int) -> bool:
    """Whether anything of a day started before a minute."""
    starts = [s.starts for s in day.shifts] + [b.pour for b in day.batches]
    return any(s < minute for s in starts)


def disturbed(season: Season, day: DayPlan, minute: int) -> bool:
    """Whether the rest of a day can't go on as it stands: somebody away, a batch failed or not started."""
    ended = {m.batch for m in season.made if m.outcome != "made"}
    if any(b.id in ended and (b.pour >= minute or b.ends > minute) for b in day.batches):
        return True
    return any(leaves_at(season, day, s, minute) is not None for s in day.shifts if s.ends > minute)


def still_possible(season: Season, day: DayPlan) -> list[Shift]:
    """Shifts of a day that lie inside what people can do now."""
    windows = {s.person: presence(season, season.person_by_name[s.person], day.day) for s in day.shifts}
    return [
        s for s in day.shifts
        if (window := windows[s.person]) is not None and window[0] <= s.starts and s.ends <= window[1]
    ]  # fmt: skip


def leaves_at(season: Season, day: DayPlan, shift: Shift, minute: int) -> int | None:
    """The minute at which somebody leaves or left before the end of the shift, None where nobody does."""
    starts = [
        a.starts if a.first_day == day.day else 0
        for a in season.absences
        if a.person == shift.person
        and a.first_day <= day.day <= a.last_day
        and (a.starts if a.first_day == day.day else 0) < shift.ends
        and (a.ends if a.last_day == day.day else 1440) > max(minute, shift.starts)
    ]
    return min(starts, default=None)


def packed_by(season: Season, run: PackRun, minute: int) -> int:
    """Packs of a pack run that were done by a minute: whole ones only. 20 minutes of 90 s each: 13."""
    if run.ends <= minute:
        return run.packs
    seconds = season.product_by_name[run.product].packing_seconds
    return 0 if run.starts >= minute else min(run.packs, (minute - run.starts) * 60 // max(1, seconds))
