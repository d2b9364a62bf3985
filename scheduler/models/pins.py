"""Pins that can't be kept together: named before anything is planned."""

from __future__ import annotations

from scheduler.models.facts import Facts
from scheduler.models.no_plan import Contradiction
from scheduler.season import rules
from scheduler.season.types import Pin


def check_pins(facts: Facts) -> None:
    """Raise Contradiction for the first pin that can't hold, by day."""
    pins = [p for p in facts.season.pins if p.day is None or facts.season.index(p.day) >= facts.from_index]
    for pin in sorted(pins, key=lambda p: (str(p.day), p.kind, p.design, p.person)):
        if pin.kind == "make":
            _check_make(facts, pin, pins)
        elif pin.kind == "works":
            _check_works(facts, pin, pins)


def _check_make(facts: Facts, pin: Pin, pins: list[Pin]) -> None:
    assert pin.day is not None
    what = f'The pin "make {pin.design} on {pin.day}"'
    for other in pins:
        if other.day == pin.day and other.kind == "no making":
            raise Contradiction(f'{what} and the pin "no making on {pin.day}" can\'t both hold; take one out.')
        if other.day == pin.day and other.kind == "do not make" and other.design == pin.design:
            raise Contradiction(
                f'{what} and the pin "do not make {pin.design} on {pin.day}" can\'t both hold; take one out.'
            )
    t = facts.season.index(pin.day)
    if not 0 <= t < facts.season.day_count or facts.hours(t) is None:
        raise Contradiction(f"{what} can't hold: the kitchen is closed on that day; open it or take the pin out.")
    design = facts.season.design_by_name[pin.design]
    if design.from_day is not None and pin.day < design.from_day:
        raise Contradiction(
            f"{what} can't hold: supplies for {pin.design} come on {design.from_day}; move the pin or the supply."
        )
    if t not in facts.makeable[pin.design]:
        raise Contradiction(f"{what} can't hold: {_missing_role(facts, pin.design, t)}")


def _missing_role(facts: Facts, design: str, t: int) -> str:
    for stage in rules.recipe(facts.season, facts.season.design_by_name[design]):
        for role in stage.roles:
            able = facts.able(t, role)
            if len(able) < role.people:
                return (
                    f"the role {role.name} in {stage.name} needs {role.people} who can do it, "
                    f"and {len(able)} can be in that day; take the pin out, or ask somebody in."
                )
    return "nobody can make it that day; take the pin out, or ask somebody in."


def _check_works(facts: Facts, pin: Pin, pins: list[Pin]) -> None:
    assert pin.day is not None
    what = f'The pin "{pin.person} works on {pin.day}"'
    for other in pins:
        if other.kind == "off" and other.day == pin.day and other.person == pin.person:
            raise Contradiction(f'{what} and the pin "{pin.person} off on {pin.day}" can\'t both hold; take one out.')
    t = facts.season.index(pin.day)
    if not 0 <= t < facts.season.day_count or facts.hours(t) is None:
        raise Contradiction(f"{what} can't hold: the kitchen is closed on that day; open it or take the pin out.")
    if pin.person not in facts.hands[t]:
        absent = [a for a in facts.season.absences if a.person == pin.person and a.first_day <= pin.day <= a.last_day]
        why = f"{pin.person} is absent then" if absent else f"{pin.person} can't be in long enough that day"
        raise Contradiction(f"{what} can't hold: {why}; take the pin out or change the table.")
