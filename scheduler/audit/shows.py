"""The show rule: the stage of one fitting batch at the show's minute and the extra hands, or a missed show."""

from __future__ import annotations

from datetime import date

from scheduler.audit.readings import Reading, suits
from scheduler.audit.violation import Findings, Violation, clock, span
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.types import Show


def show(r: Reading, day: DayPlan) -> Findings:
    """At each show's minute the show's stage of exactly one fitting batch starts, and extra people stay.

    Fits: difficulty and strength within the show's limits, no allergens. Otherwise the day
    names the show as missed.
    """
    shows = r.shows(day.day)
    names = {s.name for s in shows}
    for missed in day.missed_shows:
        if missed not in names:
            yield Violation("show", str(day.day), f"{missed!r} is named as missed, but there is no such show.")
    for batch in day.batches:
        if batch.show and batch.show not in names:
            where = f"{day.day} batch {batch.id}"
            yield Violation("show", where, f"It is for the show {batch.show!r}, but there is no such show.")
    for s in shows:
        there = [b for b in day.batches if b.show == s.name]
        if s.name in day.missed_shows:
            if there:
                yield Violation("show", f"{day.day} {s.name}", f"Batch {there[0].id} is for a show named as missed.")
            continue
        yield from _held(r, day, s)


def _held(r: Reading, day: DayPlan, s: Show) -> Findings:
    where = f"{day.day} {s.name}"
    there = [b for b in day.batches if b.show == s.name]
    if len(there) != 1:
        yield Violation("show", where, f"{len(there)} batches are for the show at {clock(s.starts)}; it needs one.")
    for batch in day.batches:
        if not batch.show and batch.runs and batch.runs[0].starts == r.begins(s):
            yield Violation("show", where, f"Batch {batch.id} starts with the show's batch, and is not for it.")
    for batch in there:
        shown = [run.starts for run in batch.runs if not s.stage or run.stage == s.stage]
        if not shown or shown[0] != s.starts:
            what = f"{s.stage} of batch {batch.id}" if s.stage else f"Batch {batch.id}"
            yield Violation("show", where, f"{what} does not start at {clock(s.starts)}.")
        design = r.season.design_by_name.get(batch.design)
        if design is None or not suits(design, s):
            yield Violation("show", where, f"Batch {batch.id} is a {batch.design}, which does not fit the show.")
    if s.extra_people <= 0 or s.extra_minutes <= 0:
        return
    until = s.starts + s.extra_minutes
    hands: set[str] = set()
    for task in day.tasks:
        if task.kind == "show" and task.note == s.name and task.starts <= s.starts and task.ends >= until:
            hands |= {p for p in task.people if p in r.season.person_by_name}
    able = {p for p in hands if not s.extra_skill or r.level(p, s.extra_skill) > 0}
    if len(able) < s.extra_people:
        what = f"{len(able)} extra people stay {span(s.starts, until)}; the show needs {s.extra_people}."
        yield Violation("show", where, what)


def shows_of_empty_days(r: Reading, plan: Plan) -> Findings:
    """A day on which nothing is planned holds no show: it must say so."""
    planned = {day.day for day in plan.days}
    for day in r.season.days:
        if day not in planned and not _past(plan, day):
            for s in r.shows(day):
                yield Violation("show", f"{day} {s.name}", "Nothing is planned, and the show is not named as missed.")


def _past(plan: Plan, day: date) -> bool:
    return day < plan.from_day
