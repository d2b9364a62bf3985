"""Pulling shared out more evenly: the same days and hours, with people changing places.

What a planner does when the season stands: whoever pulls most gives pulling to whoever pulls
least, for nothing or for a quieter job at the same time. No solver, an instant; costs nothing.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from math import inf

from scheduler.models.day.shifts import break_of
from scheduler.models.facts import Facts
from scheduler.plan.changes import jobs_of
from scheduler.plan.summary import pulls_by_person
from scheduler.plan.types import DayPlan
from scheduler.season import rules
from scheduler.season.rules import RoleNeed

Slot = tuple[int, int, str]  # batch, run, role
Spans = list[tuple[int, int]]


def evened(facts: Facts, days: Sequence[DayPlan], until: float = inf) -> tuple[DayPlan, ...]:
    """The same days in which the largest share of pulls that anyone has of what they may pull is smaller, or as it was.

    Batches, times, shifts and packing stay. Nothing more is shared out after ``until``, a reading of the monotonic
    clock. Example: Ana has 900 of 1,000, Ben 500 of 1,000; Ben
    pulls one of her batches of 150 while she does what he did: 750 and 650.
    """
    out = [_Known(facts, day) for day in days]
    weeks = max(1, len(facts.weeks))
    most = {p.name: p.pulls_week * weeks for p in facts.season.crew if p.pulls_week > 0}
    pulls = sum((Counter(known.pulls) for known in out), Counter[str]())
    while most:
        share = {n: pulls[n] / most[n] for n in most}
        top = max(sorted(share), key=lambda n: share[n])
        for k in _by_pulls_of(facts, out, top):
            if time.monotonic() > until:
                return tuple(known.day for known in out)
            better = next(_lighter_for(facts, out, out[k], top, share, most), None)
            if better is not None:
                pulls = pulls - Counter(out[k].pulls) + Counter(better.pulls)
                out[k] = better
                break
        else:
            break
    return tuple(known.day for known in out)


class _Known:
    """A day, and what was found out of it: asked again in every round, and the same as long as the day is."""

    def __init__(self, facts: Facts, day: DayPlan) -> None:
        self.facts, self.day = facts, day
        self.week = facts.week(facts.season.index(day.day))
        self.pulls = pulls_by_person(facts.season, day)
        self._able: dict[str, bool] = {}
        self._units: dict[str, list[tuple[Slot, ...]]] = {}
        self._swaps: dict[tuple[tuple[Slot, ...], str, str], _Known | None] = {}

    def able(self, name: str) -> bool:
        """Whether a person may work the day as it is: inside the shift, one job at a time, rest between pulls."""
        if name not in self._able:
            jobs, rest = _jobs(self.day, name), self.facts.season.kitchen.pull_rest_minutes
            shift = next(s for s in self.day.shifts if s.person == name)
            inside = all(shift.starts <= s and e <= shift.ends for s, e in jobs)
            self._able[name] = inside and _apart(jobs, 0) and _apart(_pulling(self.facts, self.day, name), rest)
        return self._able[name]

    def units(self, name: str) -> list[tuple[Slot, ...]]:
        """``_units`` of a person."""
        if name not in self._units:
            self._units[name] = _units(self.facts, self.day, name)
        return self._units[name]

    def swapped(self, unit: tuple[Slot, ...], one: str, other: str) -> _Known | None:
        """The day with places changed, as ``_changed_places``."""
        key = unit, one, other
        if key not in self._swaps:
            changed = _changed_places(self, unit, one, other)
            self._swaps[key] = None if changed is None else _Known(self.facts, changed)
        return self._swaps[key]


def _by_pulls_of(facts: Facts, days: Sequence[_Known], name: str) -> list[int]:
    """Places in the plan of the free days on which somebody pulls, the heaviest first."""
    free = [k for k, known in enumerate(days) if facts.season.index(known.day.day) in facts.hands]
    return sorted((k for k in free if days[k].pulls.get(name, 0)), key=lambda k: (-days[k].pulls[name], k))


def _lighter_for(
    facts: Facts, days: Sequence[_Known], here: _Known, top: str, share: dict[str, float], most: dict[str, int]
) -> Iterator[_Known]:
    """The day with somebody else in one of a person's pulling jobs, where both then have less of a share than that."""
    people = [s.person for s in here.day.shifts]
    others = sorted((name for name in people if name in most and name != top), key=lambda n: share[n])
    for unit in here.units(top):
        for other in others:
            changed = here.swapped(unit, top, other)
            if changed is None:
                continue
            gives = here.pulls[top] - changed.pulls.get(top, 0)
            takes = changed.pulls.get(other, 0) - here.pulls.get(other, 0)
            would = (round(share[other] * most[other]) + takes) / most[other]  # exact: a tie by a rounding never ends
            if gives > 0 and would < share[top] and _may(facts, days, changed, top, other):
                yield changed


def _units(facts: Facts, day: DayPlan, name: str) -> list[tuple[Slot, ...]]:
    """What a person does in a day's batches, in parts that stay together: all that leads a batch, else one role."""
    out: list[tuple[Slot, ...]] = []
    for b, batch in enumerate(day.batches):
        roles = _roles(facts, day, b)
        mine = [(b, k, role) for k, run in enumerate(batch.runs) for role, who in run.crew if who == name]
        leads = tuple(slot for slot in mine if roles[slot[1:]].leads)
        out += [leads] if leads else []
        out += [(slot,) for slot in mine if not roles[slot[1:]].leads]
    return out


def _roles(facts: Facts, day: DayPlan, batch: int) -> dict[tuple[int, str], RoleNeed]:
    """What each role of a batch asks for: by run and name."""
    made = day.batches[batch]
    need = {s.name: s for s in rules.recipe(facts.season, facts.season.design_by_name[made.design])}
    return {(k, role.name): role for k, run in enumerate(made.runs) for role in need[run.stage].roles}


def _changed_places(known: _Known, unit: tuple[Slot, ...], one: str, other: str) -> DayPlan | None:
    """The day with ``other`` in a unit of ``one``, who takes over what ``other`` did in batches meanwhile."""
    facts, day = known.facts, known.day
    spans = [_span(day, slot) for slot in unit]
    back = [u for u in known.units(other) if any(_touch(_span(day, s), span) for s in u for span in spans)]
    goes = {slot: other for slot in unit} | {slot: one for u in back for slot in u}
    for (b, k, role), name in goes.items():
        if not rules.can_fill(facts.season, facts.person(name), _roles(facts, day, b)[k, role], day.day):
            return None
    batches = list(day.batches)
    for b in sorted({b for b, _, _ in goes}):
        runs = []
        for k, run in enumerate(batches[b].runs):
            swap = {role: name for (at, number, role), name in goes.items() if (at, number) == (b, k)}
            gone = {role: other if name == one else one for role, name in swap.items()}
            crew = tuple((role, swap[role] if role in swap and who == gone[role] else who) for role, who in run.crew)
            runs.append(replace(run, crew=crew))
        batches[b] = replace(batches[b], runs=tuple(runs))
    return replace(day, batches=tuple(batches))


def _span(day: DayPlan, slot: Slot) -> tuple[int, int]:
    run = day.batches[slot[0]].runs[slot[1]]
    return run.starts, run.ends


def _touch(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] < other[1] and other[0] < one[1]


def _may(facts: Facts, days: Sequence[_Known], known: _Known, *names: str) -> bool:
    """Whether people may work a day as it is: one job at a time, rest between pulls, pulls a day and week."""
    near = [k for k in days if k.week == known.week and k.day.day != known.day.day]
    for name in names:
        person, today = facts.person(name), known.pulls.get(name, 0)
        of_week = today + sum(k.pulls.get(name, 0) for k in near)
        if today > person.pulls_day or of_week > person.pulls_week or not known.able(name):
            return False
    return True


def _jobs(day: DayPlan, name: str) -> Spans:
    """From and to of all that a person does on a day, the break included; a run twice where they are in it twice."""
    jobs = [(job.starts, job.ends) for job in jobs_of(day, name)]
    return [*jobs, *(span for s in day.shifts if s.person == name for span in break_of(s))]


def _pulling(facts: Facts, day: DayPlan, name: str) -> Spans:
    """From and to of the runs in which a person pulls."""
    return [
        (run.starts, run.ends)
        for b, batch in enumerate(day.batches)
        for k, run in enumerate(batch.runs)
        for role, who in run.crew
        if who == name and _roles(facts, day, b)[k, role].pulls
    ]


def _apart(spans: Iterable[tuple[int, int]], minutes: int) -> bool:
    """Whether so many minutes lie between each span and the next."""
    ordered = sorted(spans)
    return all(b - a >= minutes for (_, a), (b, _) in zip(ordered, ordered[1:], strict=False))
