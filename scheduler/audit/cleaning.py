"""The cleaning rule: what lies between two runs on one place, and after the last."""

from __future__ import annotations

from collections import defaultdict

from scheduler.audit.hours import by_few, nobody_left
from scheduler.audit.readings import Clean, Reading
from scheduler.audit.violation import Findings, Violation, span
from scheduler.plan.types import DayPlan, Task


def cleaning(r: Reading, day: DayPlan) -> Findings:
    """Between two consecutive runs on a place lies the clean that their designs ask for.

    clean starts >= end of the first, clean ends <= start of the second. Example: lemon to
    heart on the bench, light to dark, 10 minutes by one person. Fewer people as in `closing duty`.
    """
    runs: dict[tuple[str, int], list[tuple[int, int, str]]] = defaultdict(list)
    for batch in day.batches:
        for run in batch.runs:
            runs[run.station, run.place].append((run.starts, run.ends, batch.design))
    for (station, place), things in sorted(runs.items()):
        things.sort()
        tasks = [t for t in day.tasks if t.kind == "clean" and (t.station, t.place) == (station, place)]
        where = f"{day.day} {station} place {place}"
        for before, after in zip(things, things[1:], strict=False):
            due = r.cleaning(station, before[2], after[2])
            if due is not None and not any(_does(r, day, t, due, before[1], after[0]) for t in tasks):
                yield Violation("cleaning", where, _missing(due, before[2], after[2], before[1], after[0]))
        last = things[-1]
        due = r.cleaning(station, last[2], None)
        done = due is None or nobody_left(r, day) or any(_does(r, day, t, due, last[1], 1440) for t in tasks)
        if due is not None and not done:
            yield Violation("cleaning", where, _missing(due, last[2], "end of day", last[1], 1440))


def _does(r: Reading, day: DayPlan, task: Task, due: Clean, after: int, before: int) -> bool:
    able = {p for p in task.people if p in r.season.person_by_name and (not due.skill or r.level(p, due.skill) > 0)}
    enough = task.ends - task.starts >= due.minutes and len(able) >= due.people
    few = able == set(task.people) and by_few(r, day, task, due.minutes, due.people)
    return (enough or few) and after <= task.starts and task.ends <= before


def _missing(due: Clean, first: str, second: str, after: int, before: int) -> str:
    skill = f" with {due.skill}" if due.skill else ""
    return (
        f"From {first} to {second} a clean of {due.minutes} minutes by {due.people}{skill} is due "
        f"in {span(after, before)}; there is none."
    )
