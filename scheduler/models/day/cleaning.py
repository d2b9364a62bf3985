"""Cleaning between batches in the day model: who follows whom on a place, and who cleans."""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model
from scheduler.models.day.work import Day, Job, TaskVars, Time, skilled
from scheduler.season.rules import Cleaning, cleaning
from scheduler.season.types import Design


@dataclass
class Visit:
    """Runs of one batch that follow one another on one place without a wait."""

    batch: int
    runs: list[int]
    design: Design
    start: Time
    end: Time


def visits(day: Day, station: str) -> list[Visit]:
    """The visits of all batches to a station: candy stays on its place while it need not leave it."""
    out: list[Visit] = []
    for b, batch in enumerate(day.batches):
        for r, run in enumerate(batch.runs):
            if run.need.station != station:
                continue
            last = out[-1] if out else None
            if last and last.batch == b and last.runs[-1] == r - 1 and run.need.wait_to == 0:
                last.runs.append(r)
                last.end = run.end
            else:
                out.append(Visit(b, [r], batch.design, run.start, run.end))
    return out


def add_cleaning(day: Day) -> None:
    """`cleaning`: between consecutive batches on a place it is cleaned, by people; allergens also at the day's end.

    If j follows i on a place: clean start >= end[i], clean end <= start[j], clean minutes and
    people as ``rules.cleaning`` says for (i, j). Example: dark to light 10 min by one: a light
    batch on the table starts at least 10 min after a dark one, and someone cleans between.
    """
    for station in day.season.places:
        here = visits(day, station)
        designs = {v.design.name: v.design for v in here}.values()
        afters = (*designs, None)
        if any(cleaning(day.season, station, a, b) for a in designs for b in afters):
            _order_on_places(day, station, here)


def _order_on_places(day: Day, station: str, here: list[Visit]) -> None:
    """Routes of visits, one route a place: node 0 is the place itself, clean at both ends of the day."""
    model = day.model
    arcs: list[tuple[int, int, cp_model.IntVar]] = []
    firsts: list[cp_model.IntVar] = []
    for i, before in enumerate(here):
        first, last = (model.new_bool_var(f"{kind} {station} {i}") for kind in ("first", "last"))
        arcs += [(0, i + 1, first), (i + 1, 0, last)]
        firsts.append(first)
        dues: list[tuple[cp_model.IntVar, Cleaning, Time]] = []
        end_of_day = cleaning(day.season, station, before.design, None)
        if end_of_day:
            dues.append((last, end_of_day, day.ends_work))
        for j, after in enumerate(here):
            if i == j or (before.batch == after.batch and j < i):
                continue
            follows = model.new_bool_var(f"follows {station} {i} {j}")
            arcs.append((i + 1, j + 1, follows))
            day.after_clean.append(((before.batch, before.runs[-1]), (after.batch, after.runs[0]), follows))
            due = cleaning(day.season, station, before.design, after.design)
            model.add(after.start >= before.end + (due.minutes if due else 0)).only_enforce_if(follows)
            if due:
                dues.append((follows, due, after.start))
        if dues:
            _clean_after(day, station, i, before, dues)
    model.add_multiple_circuit(arcs)
    model.add(sum(firsts) <= day.season.places[station])
    day.routes[station] = sum(firsts)


def _clean_after(
    day: Day, station: str, i: int, before: Visit, dues: list[tuple[cp_model.IntVar, Cleaning, Time]]
) -> None:
    """One possible clean after a visit; its minutes and people depend on what follows."""
    model = day.model
    held = model.new_bool_var(f"clean {station} {i}")
    model.add(sum(literal for literal, _, _ in dues) == held)
    lengths = sorted({due.minutes for _, due, _ in dues})
    start = model.new_int_var(day.opens, day.closes, f"clean from {station} {i}")
    size = model.new_int_var_from_domain(cp_model.Domain.from_values(lengths), f"clean for {station} {i}")
    end = model.new_int_var(day.opens, day.closes, f"clean to {station} {i}")
    model.add(start + size == end)
    model.add(start >= before.end).only_enforce_if(held)
    for literal, due, until in dues:
        model.add(size == due.minutes).only_enforce_if(literal)
        model.add(end <= until).only_enforce_if(literal)
    day.cleans.setdefault(station, []).append(model.new_optional_interval_var(start, size, end, held, ""))
    picks: dict[str, cp_model.IntVar] = {}
    able = {due.skill: set(skilled(day, due.skill)) for _, due, _ in dues}
    for hand in day.request.hands:
        name = hand.person
        if not any(name in names for names in able.values()):
            continue
        does = picks[name] = model.new_bool_var(f"cleans {station} {i} {name}")
        model.add_implication(does, held)
        for literal, due, _ in dues:
            if name not in able[due.skill]:
                model.add_implication(literal, ~does)
        interval = model.new_optional_interval_var(start, size, end, does, f"clean {station} {i} {name}")
        day.people[name].jobs.append(Job(does, start, end, interval, lengths[0] * does))
    model.add(sum(picks.values()) == sum(due.people * literal for literal, due, _ in dues))
    day.tasks.append(TaskVars("clean", start, end, picks, held, station=station, run=(before.batch, before.runs[-1])))
