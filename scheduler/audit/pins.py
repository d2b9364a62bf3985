"""The planner's own decisions."""

from __future__ import annotations

from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation, clock
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.types import Pin


def pins(r: Reading, day: DayPlan) -> Findings:
    """Every pin about this day holds, and nobody is in a role that a pin forbids."""
    for pin in r.season.pins:
        if pin.kind == "not in role":
            if pin.day is None or pin.day == day.day:
                yield from _not_in_role(pin, day)
        elif pin.day == day.day:
            yield from _one(pin, day)


def pins_of_empty_days(r: Reading, plan: Plan) -> Findings:
    """Pins about days on which nothing is planned."""
    planned = {day.day for day in plan.days}
    for pin in r.season.pins:
        if pin.day is not None and pin.day not in planned and pin.kind != "not in role":
            yield from _one(pin, DayPlan(pin.day))


def _one(pin: Pin, day: DayPlan) -> Findings:
    where = f"{day.day} {pin.design or pin.person}".rstrip()
    batches = [b for b in day.batches if b.design == pin.design]
    works = any(s.person == pin.person for s in day.shifts)
    if pin.kind == "make" and len(batches) < pin.batches:
        yield Violation("pins", where, f"{len(batches)} batches of {pin.design}; the pin says {pin.batches} at least.")
    if pin.kind == "do not make" and batches:
        yield Violation("pins", where, f"{len(batches)} batches of {pin.design}; the pin says none.")
    if pin.kind == "no making" and day.batches:
        yield Violation("pins", where, f"{len(day.batches)} batches are planned; the pin says that nothing is made.")
    if pin.kind == "works" and not works:
        yield Violation("pins", where, f"{pin.person} is not in; the pin says that {pin.person} works.")
    if pin.kind == "off" and works:
        yield Violation("pins", where, f"{pin.person} is in; the pin says that {pin.person} is off.")


def _not_in_role(pin: Pin, day: DayPlan) -> Findings:
    for batch in day.batches:
        for run in batch.runs:
            if (pin.role, pin.person) in run.crew:
                what = f"{pin.person} is {pin.role} at {clock(run.starts)}; the pin says never."
                yield Violation("pins", f"{day.day} batch {batch.id}", what)
