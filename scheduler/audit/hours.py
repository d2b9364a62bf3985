"""Rules about the clock of one day: opening hours, last pour, opening and closing duty."""

from __future__ import annotations

from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation, clock, span
from scheduler.plan.types import DayPlan, Task


def opening_hours(r: Reading, day: DayPlan) -> Findings:
    """Everything lies inside the day's opening hours; nothing happens on a closed day.

    opens <= starts < ends <= closes. Example: open 08:00 to 18:00, a shift to 18:10 breaks it.
    """
    things = _things(day)
    hours = r.hours(day.day)
    if hours is None:
        if things:
            yield Violation("opening hours", str(day.day), f"The kitchen is closed, but {things[0][0]} is planned.")
        return
    for name, starts, ends in things:
        if not hours[0] <= starts < ends <= hours[1]:
            what = f"{name} is planned {span(starts, ends)}; the kitchen is open {span(*hours)}."
            yield Violation("opening hours", str(day.day), what)


def _things(day: DayPlan) -> list[tuple[str, int, int]]:
    """All that takes time on a day: (name, starts, ends)."""
    things = [(f"{run.stage} of batch {b.id}", run.starts, run.ends) for b in day.batches for run in b.runs]
    things += [(f"the {task.kind} task", task.starts, task.ends) for task in day.tasks]
    things += [(f"packing of {pack.product}", pack.starts, pack.ends) for pack in day.packing]
    things += [(f"the shift of {shift.person}", shift.starts, shift.ends) for shift in day.shifts]
    return things


def last_pour(r: Reading, day: DayPlan) -> Findings:
    """No batch starts its first stage after the kitchen's last pour: pour <= last pour."""
    for batch in day.batches:
        if batch.runs and batch.runs[0].starts > r.kitchen.last_pour:
            what = f"Started at {clock(batch.runs[0].starts)}; the last start is at {clock(r.kitchen.last_pour)}."
            yield Violation("last pour", f"{day.day} batch {batch.id}", what)


def clock_step(r: Reading, day: DayPlan) -> Findings:
    """Batches start, and shifts start and end, at whole steps of the kitchen's clock.

    minute mod step = 0. Example: steps of 5, a shift from 10:51 breaks it. A batch at a show starts so that
    its stage meets the hour; what had begun when the plan was made stays, and whoever is in then may leave at any
    minute.
    """
    step, until = r.kitchen.clock_step, r.facts_until(day.day)
    shows = {r.begins(show) for show in r.shows(day.day)}
    times = [(f"batch {b.id}", "starts", b.runs[0].starts) for b in day.batches if b.runs]
    times = [t for t in times if t[2] not in shows]
    times += [(shift.person, "comes", shift.starts) for shift in day.shifts]
    times += [(shift.person, "leaves", shift.ends) for shift in day.shifts if shift.starts >= until]
    for who, does, minute in times:
        if minute >= until and minute % step:
            what = f"{who} {does} at {clock(minute)}; the kitchen's clock goes in steps of {step} minutes."
            yield Violation("clock step", f"{day.day} {who}", what)


def opening_duty(r: Reading, day: DayPlan) -> Findings:
    """Before the first batch run of a day, so many people do one opening task of so many minutes."""
    starts = [run.starts for b in day.batches for run in b.runs]
    yield from _duty(r, day, "opening")
    for task in day.tasks:
        if task.kind == "opening" and starts and min(starts) < task.ends:
            what = f"The first batch starts at {clock(min(starts))}, the opening ends at {clock(task.ends)}."
            yield Violation("opening duty", str(day.day), what)


def closing_duty(r: Reading, day: DayPlan) -> Findings:
    """After the last batch run and clean of a day, so many people do one closing task.

    Where somebody had to leave during the day: all who are left, for as much longer; nobody, if nobody is.
    """
    ends = [run.ends for b in day.batches for run in b.runs] + [t.ends for t in day.tasks if t.kind == "clean"]
    yield from _duty(r, day, "closing")
    for task in day.tasks:
        if task.kind == "closing" and day.batches and ends and task.starts < max(ends):
            what = f"The closing starts at {clock(task.starts)}, but there is work until {clock(max(ends))}."
            yield Violation("closing duty", str(day.day), what)


def _duty(r: Reading, day: DayPlan, kind: str) -> Findings:
    """On a day with a batch there is one such task, of the right length, by the right number of people."""
    k = r.kitchen
    minutes, people = (
        (k.opening_minutes, k.opening_people) if kind == "opening" else (k.closing_minutes, k.closing_people)
    )
    tasks = [t for t in day.tasks if t.kind == kind]
    wanted = 1 if day.batches and minutes > 0 and people > 0 else 0
    if wanted and len(tasks) != 1 and not (kind == "closing" and not tasks and nobody_left(r, day)):
        yield Violation(f"{kind} duty", str(day.day), f"There are {len(tasks)} {kind} tasks instead of one.")
    for task in tasks if wanted else ():
        exact = task.ends - task.starts == minutes and len(set(task.people)) == len(task.people) == people
        if not exact and not (kind == "closing" and by_few(r, day, task, minutes, people)):
            what = (
                f"The {kind} is {task.ends - task.starts} minutes by {len(set(task.people))}; "
                f"it takes {minutes} minutes by {people}."
            )
            yield Violation(f"{kind} duty", str(day.day), what)


def last_leaving(r: Reading, day: DayPlan) -> int | None:
    """The minute at which the last of those had to leave whose absence begins in the middle of a day that has begun."""
    if not r.facts_until(day.day):
        return None
    left = [
        away.starts
        for shift in day.shifts
        for away in r.season.absences
        if away.person == shift.person and away.first_day == day.day and shift.starts < away.starts
        and shift.ends <= max(away.starts, r.facts_until(day.day))
    ]  # fmt: skip
    return max(left, default=None)


def nobody_left(r: Reading, day: DayPlan) -> bool:
    """Whether everyone had to leave, so that nobody could do what was left."""
    leaving = last_leaving(r, day)
    return leaving is not None and all(shift.ends <= leaving for shift in day.shifts)


def by_few(r: Reading, day: DayPlan, task: Task, minutes: int, people: int) -> bool:
    """Whether a duty is done by fewer people, as much longer, because somebody had to leave: by all who are in then.

    Example: closing of 30 minutes by 2, Ben left ill at 11:00: Ana alone, 60 minutes.
    """
    leaving, few = last_leaving(r, day), set(task.people)
    if leaving is None or task.starts < leaving or not 0 < len(few) < people or len(few) != len(task.people):
        return False
    others = [s for s in day.shifts if s.person not in few and s.starts < task.ends and task.starts < s.ends]
    return not others and (task.ends - task.starts) * len(few) >= minutes * people
