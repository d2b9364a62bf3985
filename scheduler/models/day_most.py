"""How many batches a day can hold at most: a day without names, so every real day is one of these.

People are counted as heads by what they can do; breaks, call-ins, cleaning and packing are left
out. What this model can't hold, no crew can: its answers are limits for every plan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from scheduler.models import engine
from scheduler.models.engine import Limits
from scheduler.models.facts import Facts, Stretch, unions
from scheduler.season import rules
from scheduler.season.types import Design


@dataclass(frozen=True)
class Kind:
    """Designs with the same recipe on a day: ``weight`` counts each batch, ``copies`` at most."""

    design: Design
    weight: int
    copies: int


class _Crowd:
    """Work by who can do it: intervals with heads, for Hall's condition minute by minute."""

    def __init__(self) -> None:
        self.intervals: dict[frozenset[str], list[tuple[cp_model.IntervalVar, int]]] = {}
        self.minutes: dict[frozenset[str], list[cp_model.LinearExprT]] = {}
        self.pulls: dict[frozenset[str], list[cp_model.LinearExprT]] = {}


def most_batches(facts: Facts, t: int, kinds: Sequence[Kind], limits: Limits = Limits(effort=2.0)) -> int:
    """A proven upper limit of sum(weight * batches) on day t over the given kinds.

    Rules kept: opening hours, duties, last pour, recipe and waits, station places, heads by
    skill at every minute, minutes and pulls of the day. Example: a table that serves one batch
    for 40 minutes, first pour 8:20, last pour 16:00, 5 people: 6 batches.
    """
    hours = facts.hours(t)
    assert hours is not None
    model, crowd = cp_model.CpModel(), _Crowd()
    stations: dict[str, list[cp_model.IntervalVar]] = {}
    goal: list[cp_model.LinearExprT] = []
    for number, kind in enumerate(kinds):
        before: tuple[cp_model.IntVar, cp_model.IntVar] | None = None
        for copy in range(kind.copies):
            present, start = _batch(model, facts, t, hours, kind, f"{number} {copy}", stations, crowd)
            if before is not None:  # copies are alike: earlier ones first
                model.add_implication(present, before[0])
                model.add(start >= before[1])
            before = present, start
            goal.append(kind.weight * present)
    for name, used in stations.items():
        if len(used) > facts.season.places[name]:
            model.add_cumulative(used, [1] * len(used), facts.season.places[name])
    _people(model, crowd, facts.hands[t], facts)
    model.maximize(sum(goal))
    answer = engine.solve(model, limits)
    if answer.bound is None:
        return sum(k.weight * k.copies for k in kinds)
    return answer.bound


def _batch(
    model: cp_model.CpModel,
    facts: Facts,
    t: int,
    hours: tuple[int, int],
    kind: Kind,
    name: str,
    stations: dict[str, list[cp_model.IntervalVar]],
    crowd: _Crowd,
) -> tuple[cp_model.IntVar, cp_model.IntVar]:
    """One optional batch: (present, start of its first stage)."""
    kitchen = facts.season.kitchen
    first = hours[0] + (kitchen.opening_minutes if kitchen.opening_people else 0)
    last = hours[1] - (kitchen.closing_minutes if kitchen.closing_people else 0)
    present = model.new_bool_var(f"present {name}")
    start = model.new_int_var(min(first, last), last, f"start {name}")
    model.add(start <= kitchen.last_pour).only_enforce_if(present)
    pour: cp_model.IntVar = start
    stages = rules.recipe(facts.season, kind.design)
    for number, stage in enumerate(stages):
        if number:
            gap = model.new_int_var(stage.wait_from, stage.wait_to, f"wait {name} {number}")
            moved = model.new_int_var(hours[0], 2880, f"start {name} {number}")
            model.add(moved == start + stages[number - 1].minutes + gap)
            start = moved
        model.add(start + stage.minutes <= last).only_enforce_if(present)
        run = model.new_optional_fixed_size_interval_var(start, stage.minutes, present, f"run {name} {number}")
        stations.setdefault(stage.station, []).append(run)
        for role in stage.roles:
            able = facts.able(t, role)
            crowd.intervals.setdefault(able, []).append((run, role.people))
            crowd.minutes.setdefault(able, []).append(stage.minutes * role.people * present)
            if role.pulls:
                crowd.pulls.setdefault(able, []).append(role.people * role.pulls * present)
    return present, pour


def _people(model: cp_model.CpModel, crowd: _Crowd, hands: Mapping[str, Stretch], facts: Facts) -> None:
    """For each set of people: heads at every minute, minutes and pulls of the day (Hall)."""
    away = {
        name: [
            model.new_fixed_size_interval_var(a, b - a, f"away {name} {a}")
            for a, b in ((0, s.starts), (s.ends, 2880))
            if a < b
        ]
        for name, s in hands.items()
    }
    for group in unions(crowd.intervals):
        inside = [pair for able, pairs in crowd.intervals.items() if able <= group for pair in pairs]
        blocked = [(interval, 1) for name in sorted(group) for interval in away[name]]
        both = inside + blocked
        model.add_cumulative([i for i, _ in both], [n for _, n in both], len(group))
        work = [term for able, terms in crowd.minutes.items() if able <= group for term in terms]
        model.add(sum(work) <= sum(facts.work_of(hands[n].longest) for n in group))
    for group in unions(crowd.pulls):
        charged = [term for able, terms in crowd.pulls.items() if able <= group for term in terms]
        model.add(sum(charged) <= sum(facts.person(n).pulls_day for n in group))
