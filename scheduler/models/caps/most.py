"""How many batches a day can hold at most: a day without names, so every real day is one of these.

People are counted as heads by what they can do; breaks, call-ins and packing are left out, cleaning, too, where it
is not asked for (with it the answer is a day that people can nearly always work, but takes longer). What this model
can't hold, no crew can: its answers are limits for every plan.

The day is a row of slots in order of their pour (of their turn at the station that is cleaned),
and each slot chooses its design: there is one timetable to search instead of one for each design
and copy, and it is proven in an instant.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

from ortools.sat.python import cp_model
from scheduler.models.caps.most_cleaning import Cleaned, cleaned_of, cleaned_station
from scheduler.models.facts import unions
from scheduler.models.solvers import engine
from scheduler.models.solvers.engine import Limits
from scheduler.plan.request import DayRequest
from scheduler.season import rules
from scheduler.season.types import Design, Season

Sums = dict[frozenset[str], list[cp_model.LinearExpr | int]]


@dataclass(frozen=True)
class Most:
    """``limit``: no day holds more, in weighted batches. ``example``: batches that come nearest."""

    limit: int
    example: dict[str, int]
    effort: float = 0.0

    def reached(self, weights: Mapping[str, int]) -> int:
        """What the example comes to."""
        return sum(weights.get(design, 0) * n for design, n in self.example.items())


def most(
    season: Season, request: DayRequest, weights: Mapping[str, int], limits: Limits = Limits(effort=2.0),
    cleaned: bool = False,
) -> Most:  # fmt: skip
    """A proven upper limit of sum(weights[design] * batches) on a day with the request's hands.

    Rules kept: opening hours, duties, last pour, recipe and waits, station places, heads by
    skill at every minute, minutes and pulls of the day; where it is ``cleaned``, cleaning at one
    station (``cleaned_of``). Example: a table that serves one batch for 40 minutes,
    first pour 8:20, last pour 16:00, 5 people: 6 batches.
    """
    hours, work = rules.opening(season, request.day), rules.work_hours(season, request.day)
    kinds = _kinds(season, request, weights, cleaned)
    if hours is None or work is None or not kinds:
        return Most(0, {})
    row = _Row(season, request, hours, *work, kinds, cleaned_of(season, kinds) if cleaned else None)
    slots = _slots(season, work[1] - work[0], kinds)
    if slots == 0:
        return Most(0, {})
    for _ in range(slots):
        row.add_slot()
    row.add_cleaning()
    row.add_stations()
    row.add_people()
    row.model.maximize(sum(weights[d.name] * x for slot in row.chosen for d, x in zip(kinds, slot, strict=True)))
    answer = engine.solve(row.model, limits)
    if answer.bound is None:
        return Most(max(weights.values()) * len(row.chosen), {}, answer.effort)
    counts = {d.name: sum(answer[slot[j]] for slot in row.chosen) for j, d in enumerate(kinds)}
    return Most(answer.bound, {name: n for name, n in counts.items() if n}, answer.effort)


def _kinds(season: Season, request: DayRequest, weights: Mapping[str, int], cleaned: bool) -> list[Design]:
    """One design for each recipe and weight, and each sort of cleaning: designs alike are one to a day."""
    out: dict[object, Design] = {}
    apart = cleaned and cleaned_station(season) != ""
    for design in season.designs:
        stages = rules.recipe(season, design)
        if weights.get(design.name, 0) <= 0 or not stages:
            continue
        if all(len(_able(season, request, role)) >= role.people for s in stages for role in s.roles):
            out.setdefault((stages, weights[design.name], apart and rules.cleaned_alike(design)), design)
    return list(out.values())


def _able(season: Season, request: DayRequest, role: rules.RoleNeed) -> frozenset[str]:
    people = season.person_by_name
    return frozenset(h.person for h in request.hands if rules.can_fill(season, people[h.person], role, request.day))


def _slots(season: Season, span: int, kinds: list[Design]) -> int:
    """Batches of these designs that the narrowest station could hold in the minutes between the day's duties.

    At a stage that all have: places * (span less the least before and after it) // its least minutes.
    """
    recipes = [rules.recipe(season, d) for d in kinds]
    most = sum(_at_stages(season, span, [recipe]) for recipe in recipes)
    return min(most, _at_stages(season, span, recipes))


def _at_stages(season: Season, span: int, recipes: list[tuple[rules.StageNeed, ...]]) -> int:
    common = set.intersection(*({s.name for s in recipe} for recipe in recipes))
    out = [span * sum(season.places.values())]  # no stage in common: a minute for each batch at least
    for name in sorted(common):
        minutes, rest = [], []
        for recipe in recipes:
            here = next(s for s in recipe if s.name == name)
            minutes.append(here.minutes)
            rest.append(rules.shortest_length(recipe) - here.minutes)
        station = next(s.station for s in recipes[0] if s.name == name)
        out.append(season.places[station] * max(0, (span - min(rest)) // min(minutes)))
    return min(out)


@dataclass
class _Row:
    """The slots of a day under construction."""

    season: Season
    request: DayRequest
    hours: tuple[int, int]
    first: int  # earliest minute of a batch
    last: int  # latest end of one
    kinds: list[Design]
    cleaned: Cleaned | None
    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    chosen: list[list[cp_model.IntVar]] = field(default_factory=list)  # slot, kind
    starts: list[cp_model.IntVar] = field(default_factory=list)  # of the stage that tells the slots' order
    leaves: list[list[cp_model.IntVar]] = field(default_factory=list)  # slot: ends at the station that is cleaned
    cleans: list[tuple[cp_model.IntervalVar, cp_model.IntVar]] = field(default_factory=list)  # and their minutes
    present: list[cp_model.IntVar] = field(default_factory=list)
    runs: list[tuple[str, int, cp_model.IntervalVar]] = field(default_factory=list)  # stage, slot, interval

    def __post_init__(self) -> None:
        self.recipes = [{s.name: s for s in _from_the_start(rules.recipe(self.season, d))} for d in self.kinds]
        self.stages = [s for s in self.season.stages if any(s.name in recipe for recipe in self.recipes)]
        pours = rules.start_minutes(self.season, None, self.hours[0], self.last)  # what is proven holds for any day
        self.order = self.cleaned.stage if self.cleaned else self.stages[0].name
        here = {s.name for s in self.stages if self.cleaned and s.station == self.cleaned.station}
        self.kept_clean = here.intersection(*self.recipes)  # stages there that all kinds have
        self.pours = cp_model.Domain.from_values([*pours, self.last])  # its last minute where there is no batch

    def add_slot(self) -> None:
        """One more batch, later than those before it, of any kind; or none, where none follows."""
        model, number = self.model, len(self.chosen)
        slot = [model.new_bool_var(f"{d.name} {number}") for d in self.kinds]
        present = model.new_bool_var(f"present {number}")
        model.add(sum(slot) == present)
        if number:
            model.add_implication(present, self.present[-1])
        end: cp_model.IntVar | None = None
        leaves = list[cp_model.IntVar]()
        anywhere = cp_model.Domain(self.hours[0], self.last)
        for stage in self.stages:
            when = self.pours if end is None else anywhere
            start = model.new_int_var_from_domain(when, f"start {number} {stage.name}")
            stop = model.new_int_var(self.hours[0], self.last, f"end {number} {stage.name}")
            minutes = self._chosen(slot, [r[stage.name].minutes if stage.name in r else 0 for r in self.recipes])
            run = model.new_optional_interval_var(start, minutes, stop, present, f"run {number} {stage.name}")
            model.add(stop == start + minutes)
            self.runs.append((stage.name, number, run))
            if end is None:
                self._pour(start, present)
            else:
                waits = [r.get(stage.name) for r in self.recipes]
                model.add(start >= end + sum(x * (w.wait_from if w else 0) for x, w in zip(slot, waits, strict=True)))
                model.add(start <= end + sum(x * (w.wait_to if w else 0) for x, w in zip(slot, waits, strict=True)))
            end = stop
            if stage.name == self.order:
                if number:
                    model.add(start >= self.starts[-1])
                self.starts.append(start)
            if stage.name in self.kept_clean:
                leaves.append(stop)
        self.leaves.append(leaves)
        self.chosen.append(slot)
        self.present.append(present)

    def _pour(self, start: cp_model.IntVar, present: cp_model.IntVar) -> None:
        """The first stage: after the opening duty, by the last pour."""
        self.model.add(start >= min(self.first, self.last))
        self.model.add(start <= self.season.kitchen.last_pour).only_enforce_if(present)

    def _chosen(self, slot: list[cp_model.IntVar], values: list[int]) -> cp_model.LinearExpr | int:
        """The figure of the kind that a slot chooses, 0 for none; a number where all are alike."""
        if len(set(values)) == 1:
            return values[0]
        domain = cp_model.Domain.from_values(sorted({0, *values}))
        figure = self.model.new_int_var_from_domain(domain, "")
        self.model.add(figure == sum(n * x for n, x in zip(values, slot, strict=True)))
        return figure

    def add_cleaning(self) -> None:
        """`cleaning` between slots that follow each other, after the first has left and before the next comes."""
        if self.cleaned is None:
            return
        model, minutes, levels = self.model, self.cleaned.minutes, self.cleaned.levels
        for number, (before, after) in enumerate(pairwise(self.chosen)):
            as_long = [model.new_bool_var(f"clean {number} {level}") for level in levels]  # as the level, or longer
            for level, long in zip(levels, as_long, strict=True):
                for x, row in zip(before, minutes, strict=True):
                    model.add(x + sum(y for y, m in zip(after, row, strict=True) if m >= level) <= 1 + long)
            for shorter, longer in pairwise(as_long):
                model.add_implication(longer, shorter)
            size = model.new_int_var_from_domain(cp_model.Domain.from_values([0, *levels]), f"minutes {number}")
            model.add(size == sum((b - a) * x for (a, b), x in zip(pairwise([0, *levels]), as_long, strict=True)))
            start, stop = (model.new_int_var(self.hours[0], self.last, f"clean {what} {number}") for what in "<>")
            for leaves in self.leaves[number]:
                model.add(start >= leaves).only_enforce_if(as_long[0])
            model.add(stop <= self.starts[number + 1]).only_enforce_if(as_long[0])
            self.cleans.append((model.new_optional_interval_var(start, size, stop, as_long[0], ""), size))

    def add_stations(self) -> None:
        """`station places`: runs at a station at any minute."""
        station = {s.name: s.station for s in self.stages}
        for name in sorted(set(station.values())):
            used = [run for stage, _, run in self.runs if station[stage] == name]
            if self.cleaned and name == self.cleaned.station:
                used += [run for run, _ in self.cleans]
            self.model.add_cumulative(used, [1] * len(used), self.season.places[name])

    def add_people(self) -> None:
        """`role filled` without names: for each set of people heads at every minute, minutes and pulls (Hall)."""
        needs = {
            (stage, kind): [(_able(self.season, self.request, role), role) for role in recipe[stage].roles]
            for kind, recipe in enumerate(self.recipes)
            for stage in recipe
        }
        hands = {h.person: h for h in self.request.hands}
        for group in unions(able for roles in needs.values() for able, _ in roles):
            inside = {key: [role for able, role in roles if able <= group] for key, roles in needs.items()}
            self._heads(group, {key: sum(r.people for r in roles) for key, roles in inside.items()})
            work = {k: sum(r.people for r in roles) * self.recipes[k[1]][k[0]].minutes for k, roles in inside.items()}
            pulls = {k: sum(r.people * r.pulls for r in roles) for k, roles in inside.items()}
            time = sum(_work_minutes(self.season, hands[name].longest) for name in group)
            cleaning = sum(minutes for _, minutes in self.cleans) if len(group) == len(hands) else 0
            self.model.add(self._sum(work) + cleaning <= time)
            self.model.add(self._sum(pulls) <= sum(hands[name].pulls for name in group))
            for charge in {r.pulls for roles in inside.values() for r in roles} - {0}:
                heavy = {k: sum(r.people for r in roles if r.pulls >= charge) for k, roles in inside.items()}
                self.model.add(self._sum(heavy) <= sum(hands[name].pulls // charge for name in group))

    def _sum(self, amounts: Mapping[tuple[str, int], int]) -> cp_model.LinearExpr | int:
        """Sum over all slots of the amounts of the kinds that they choose."""
        each = [sum(n for (_, kind), n in amounts.items() if kind == j) for j in range(len(self.kinds))]
        return sum(n * x for slot in self.chosen for n, x in zip(each, slot, strict=True) if n)

    def _heads(self, group: frozenset[str], people: Mapping[tuple[str, int], int]) -> None:
        """At every minute: work that only the group can do takes no more heads than are in."""
        intervals, heads = [], []
        for stage, slot, run in self.runs:
            values = [people.get((stage, kind), 0) for kind in range(len(self.kinds))]
            if any(values):
                intervals.append(run)
                heads.append(self._chosen(self.chosen[slot], values))
        if len(group) == len(self.request.hands):  # one of them cleans
            intervals += [run for run, _ in self.cleans]
            heads += [1] * len(self.cleans)
        for hand in self.request.hands:
            for start, end in ((0, hand.from_minute), (hand.to_minute, 2880)):
                if hand.person in group and start < end:
                    intervals.append(self.model.new_fixed_size_interval_var(start, end - start, "away"))
                    heads.append(1)
        if intervals:
            self.model.add_cumulative(intervals, heads, len(group))


def _from_the_start(recipe: tuple[rules.StageNeed, ...]) -> tuple[rules.StageNeed, ...]:
    """A recipe whose first stage waits for nothing, whatever stage it is of the season's."""
    return (replace(recipe[0], wait_from=0, wait_to=0), *recipe[1:])


def _work_minutes(season: Season, shift: int) -> int:
    """Most working minutes in a shift of at most so many: a longer one has a break."""
    after, rest = season.kitchen.break_after_minutes, season.kitchen.break_minutes
    return max(min(shift, after), shift - rest if shift > after else 0)
