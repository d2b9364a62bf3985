"""How many batches a day can hold at most: a day without names, so every real day is one of these.

People are counted as heads by what they can do; breaks, call-ins, cleaning and packing are left
out. What this model can't hold, no crew can: its answers are limits for every plan.
"""

from __future__ import annotations

from collections.abc import Mapping
from ortools.sat.python import cp_model

from scheduler.models import engine
from scheduler.models.engine import Limits
from scheduler.models.facts import unions
from scheduler.plan.request import DayRequest
from scheduler.season import rules
from scheduler.season.types import Design, Season


class _Crowd:
    """Work by who can do it: intervals with heads, for Hall's condition minute by minute."""

    def __init__(self) -> None:
        self.intervals: dict[frozenset[str], list[tuple[cp_model.IntervalVar, int]]] = {}
        self.minutes: dict[frozenset[str], list[cp_model.LinearExprT]] = {}
        self.pulls: dict[frozenset[str], list[cp_model.LinearExprT]] = {}


def most(season: Season, request: DayRequest, weights: Mapping[str, int], limits: Limits = Limits(effort=2.0)) -> int:
    """A proven upper limit of sum(weights[design] * batches) on a day with the request's hands.

    Rules kept: opening hours, duties, last pour, recipe and waits, station places, heads by
    skill at every minute, minutes and pulls of the day. Example: a table that serves one batch
    for 40 minutes, first pour 8:20, last pour 16:00, 5 people: 6 batches.
    """
    hours = rules.opening(season, request.day)
    if hours is None:
        return 0
    model, crowd = cp_model.CpModel(), _Crowd()
    stations: dict[str, list[cp_model.IntervalVar]] = {}
    goal: list[cp_model.LinearExprT] = []
    top = 0
    for kind in _kinds(season, request, weights):
        copies = _copies(season, hours, kind)
        top += weights[kind.name] * copies
        before: tuple[cp_model.IntVar, cp_model.IntVar] | None = None
        for copy in range(copies):
            present, start = _batch(model, season, request, hours, kind, copy, stations, crowd)
            if before is not None:  # copies are alike: earlier ones first
                model.add_implication(present, before[0])
                model.add(start >= before[1])
            before = present, start
            goal.append(weights[kind.name] * present)
    for name, used in stations.items():
        if len(used) > season.places[name]:
            model.add_cumulative(used, [1] * len(used), season.places[name])
    _people(model, crowd, request, season)
    model.maximize(sum(goal))
    answer = engine.solve(model, limits)
    return top if answer.bound is None else min(top, answer.bound)


def _kinds(season: Season, request: DayRequest, weights: Mapping[str, int]) -> list[Design]:
    """One design for each recipe and weight: designs alike in both are one to a day."""
    out: dict[object, Design] = {}
    for design in season.designs:
        stages = rules.recipe(season, design)
        if weights.get(design.name, 0) <= 0 or not stages:
            continue
        if all(len(_able(season, request, role)) >= role.people for s in stages for role in s.roles):
            out.setdefault((stages, weights[design.name]), design)
    return list(out.values())


def _able(season: Season, request: DayRequest, role: rules.RoleNeed) -> frozenset[str]:
    people = season.person_by_name
    return frozenset(
        h.person for h in request.hands if rules.can_fill(season, people[h.person], role, request.day)
    )


def _copies(season: Season, hours: tuple[int, int], design: Design) -> int:
    """Copies that the narrowest station alone could hold."""
    span = hours[1] - hours[0]
    return max(1, min(season.places[s.station] * (span // s.minutes) for s in rules.recipe(season, design)))


def _batch(
    model: cp_model.CpModel,
    season: Season,
    request: DayRequest,
    hours: tuple[int, int],
    design: Design,
    copy: int,
    stations: dict[str, list[cp_model.IntervalVar]],
    crowd: _Crowd,
) -> tuple[cp_model.IntVar, cp_model.IntVar]:
    """One optional batch: (present, start of its first stage)."""
    kitchen, name = season.kitchen, f"{design.name} {copy}"
    first = hours[0] + (kitchen.opening_minutes if kitchen.opening_people else 0)
    last = hours[1] - (kitchen.closing_minutes if kitchen.closing_people else 0)
    present = model.new_bool_var(f"present {name}")
    start = model.new_int_var(min(first, last), last, f"start {name}")
    model.add(start <= kitchen.last_pour).only_enforce_if(present)
    pour: cp_model.IntVar = start
    stages = rules.recipe(season, design)
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
            able = _able(season, request, role)
            crowd.intervals.setdefault(able, []).append((run, role.people))
            crowd.minutes.setdefault(able, []).append(stage.minutes * role.people * present)
            if role.pulls:
                crowd.pulls.setdefault(able, []).append(role.people * role.pulls * present)
    return present, pour


def _people(model: cp_model.CpModel, crowd: _Crowd, request: DayRequest, season: Season) -> None:
    """For each set of people: heads at every minute, minutes and pulls of the day (Hall)."""
    hands = {h.person: h for h in request.hands}
    away = {
        name: [
            model.new_fixed_size_interval_var(a, b - a, f"away {name} {a}")
            for a, b in ((0, h.from_minute), (h.to_minute, 2880))
            if a < b
        ]
        for name, h in hands.items()
    }
    for group in unions(crowd.intervals):
        inside = [pair for able, pairs in crowd.intervals.items() if able <= group for pair in pairs]
        both = inside + [(interval, 1) for name in sorted(group) for interval in away[name]]
        model.add_cumulative([i for i, _ in both], [n for _, n in both], len(group))
        work = [term for able, terms in crowd.minutes.items() if able <= group for term in terms]
        model.add(sum(work) <= sum(_work_minutes(season, hands[n].longest) for n in group))
    for group in unions(crowd.pulls):
        charged = [term for able, terms in crowd.pulls.items() if able <= group for term in terms]
        model.add(sum(charged) <= sum(hands[n].pulls for n in group))


def _work_minutes(season: Season, shift: int) -> int:
    """Most working minutes in a shift of at most so many: a longer one has a break."""
    after, rest = season.kitchen.break_after_minutes, season.kitchen.break_minutes
    return max(min(shift, after), shift - rest if shift > after else 0)
