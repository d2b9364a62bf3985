"""Rules about the clock of one day: opening hours, last pour, opening and closing duty."""

from __future__ import annotations

from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation, clock, span
from scheduler.plan.types import DayPlan


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
            what = f"Poured at {clock(batch.runs[0].starts)}; the last pour is at {clock(r.kitchen.last_pour)}."
            yield Violation("last pour", f"{day.day} batch {batch.id}", what)


def opening_duty(r: Reading, day: DayPlan) -> Findings:
    """Before the first batch run of a day, so many people do one opening task of so many minutes."""
    starts = [run.starts for b in day.batches for run in b.runs]
    yield from _duty(r, day, "opening")
    for task in day.tasks:
        if task.kind == "opening" and starts and min(starts) < task.ends:
            what = f"The first batch starts at {clock(min(starts))}, the opening ends at {clock(task.ends)}."
            yield Violation("opening duty", str(day.day), what)


def closing_duty(r: Reading, day: DayPlan) -> Findings:
    """After the last batch run and clean of a day, so many people do one closing task."""
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
    if wanted and len(tasks) != 1:
        yield Violation(f"{kind} duty", str(day.day), f"There are {len(tasks)} {kind} tasks instead of one.")
    for task in tasks if wanted else ():
        if task.ends - task.starts != minutes or len(set(task.people)) != people or len(task.people) != people:
            what = (
                f"The {kind} is {task.ends - task.starts} minutes by {len(set(task.people))}; "
                f"it takes {minutes} minutes by {people}."
            )
            yield Violation(f"{kind} duty", str(day.day), what)
