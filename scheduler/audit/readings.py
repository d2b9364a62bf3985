"""The audit's own reading of the season's tables, written again from the text of the rules.

A second opinion: nothing here is shared with the models, nor with the readings that the
models use. It never raises on names that a damaged plan made up; it answers None or 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property

from scheduler.season.types import Changeover, Design, Person, Role, Season, Show, Stage, StageException

MINUTES_A_DAY = 1440


@dataclass(frozen=True, slots=True)
class Step:
    """One stage of a design's batches as the tables say."""

    stage: str
    station: str
    minutes: int
    wait_from: int
    wait_to: int
    roles: tuple[Role, ...]


@dataclass(frozen=True, slots=True)
class Clean:
    """Cleaning due: minutes, how many people, and with which skill (blank: any)."""

    minutes: int
    people: int
    skill: str


class Reading:
    """A season as the audit reads it, and the moment before which a plan's contents are facts.

    ``facts_to`` is (day, minute): what a plan says of earlier moments has happened.
    """

    def __init__(self, season: Season, facts_to: tuple[date, int]) -> None:
        self.season = season
        self.kitchen = season.kitchen
        self._facts_to = facts_to
        self._recipes: dict[str, tuple[Step, ...]] = {}

    def facts_until(self, day: date) -> int:
        """Clock minute of a day before which everything has happened already: 0, a minute, or 1440."""
        if day > self._facts_to[0]:
            return 0
        return self._facts_to[1] if day == self._facts_to[0] else MINUTES_A_DAY

    @cached_property
    def _weekday_hours(self) -> dict[int, tuple[int, int]]:
        return {h.weekday: (h.opens, h.closes) for h in self.season.hours}

    def hours(self, day: date) -> tuple[int, int] | None:
        """Opening hours of a day, None on a closed day and outside the season."""
        if not self.kitchen.first_day <= day <= self.kitchen.last_day:
            return None
        open_hours = self._weekday_hours.get(day.weekday())
        for special in self.season.special_days:
            if special.day != day:
                continue
            if special.mark == "closed":
                open_hours = None
            elif special.mark == "open" and special.opens is not None and special.closes is not None:
                open_hours = (special.opens, special.closes)
        return open_hours

    def free_minutes(self, person: Person, day: date, absences: bool = True) -> bytearray:
        """One flag for each minute of a day: may this person be in?"""
        flags = bytearray(MINUTES_A_DAY)
        open_hours = self.hours(day)
        if open_hours is None:
            return flags
        stretches = [(0, MINUTES_A_DAY)]
        own = [a for a in self.season.availability if a.person == person.name]
        if own:
            stretches = [(a.starts, a.ends) for a in own if a.weekday == day.weekday()]
        for starts, ends in stretches:
            for minute in range(max(starts, open_hours[0], 0), min(ends, open_hours[1], MINUTES_A_DAY)):
                flags[minute] = 1
        for away in self.season.absences if absences else ():
            if away.person == person.name and away.first_day <= day <= away.last_day:
                gone = away.starts if day == away.first_day else 0
                back = away.ends if day == away.last_day else MINUTES_A_DAY
                for minute in range(gone, min(back, MINUTES_A_DAY)):
                    flags[minute] = 0
        return flags

    def presence(self, person: Person, day: date) -> tuple[int, int] | None:
        """The longest stretch in which a person may be in; the earlier of two equal ones."""
        flags = self.free_minutes(person, day)
        best: tuple[int, int] | None = None
        minute = 0
        while (starts := flags.find(1, minute)) >= 0:
            ends = flags.find(0, starts)
            ends = MINUTES_A_DAY if ends < 0 else ends
            if best is None or ends - starts > best[1] - best[0]:
                best = (starts, ends)
            minute = ends
        return best

    def recipe(self, design_name: str) -> tuple[Step, ...] | None:
        """Stages of a design's batches in order, without those of 0 minutes; None for no such design."""
        design = self.season.design_by_name.get(design_name)
        if design is None:
            return None
        if design_name not in self._recipes:
            steps = (self._step(design, stage) for stage in self.season.stages)
            self._recipes[design_name] = tuple(s for s in steps if s.minutes > 0)
        return self._recipes[design_name]

    def _step(self, design: Design, stage: Stage) -> Step:
        minutes = stage.minutes
        minutes += stage.minutes_per_level * (design.difficulty - 1)
        minutes += stage.minutes_per_load * design.pull_loads
        own = StageException(design.name, stage.name)
        for exception in self.season.exceptions:
            if (exception.design, exception.stage) == (design.name, stage.name):
                own = exception
        return Step(
            stage.name,
            stage.station,
            own.minutes if own.minutes is not None else minutes,
            own.wait_from if own.wait_from is not None else stage.wait_from,
            own.wait_to if own.wait_to is not None else stage.wait_to,
            tuple(r for r in self.season.roles if r.stage == stage.name and r.people > 0),
        )

    def level(self, person: str, skill: str) -> int:
        """A person's level in a skill, 0 without it."""
        return max((s.level for s in self.season.skills if (s.person, s.skill) == (person, skill)), default=0)

    def level_needed(self, role: Role, design: Design) -> int:
        """Level that a role asks for: the design's difficulty where the role leaves it open."""
        if not role.skill:
            return 0
        return design.difficulty if role.level is None else role.level

    def pulls(self, design_name: str, stage: str, role_name: str) -> int:
        """Pulls charged to each person of a role: loads times pulls a load, shared, rounded up."""
        design = self.season.design_by_name.get(design_name)
        if design is None:
            return 0
        for role in self.season.roles:
            if role.stage == stage and role.name == role_name and role.pulls and role.people > 0:
                total = design.pull_loads * design.pulls_per_load
                return (total + role.people - 1) // role.people
        return 0

    def cleaning(self, station: str, before: str, after: str | None) -> Clean | None:
        """Cleaning due at a station between two designs, or after the day's last (None)."""
        first = self.season.design_by_name.get(before)
        second = None if after is None else self.season.design_by_name.get(after)
        if first is None or (after is not None and second is None):
            return None
        due = [c for c in self.season.changeovers if c.station == station and c.minutes > 0 and _due(c, first, second)]
        if not due:
            return None
        minutes = max(c.minutes for c in due)
        longest = [c for c in due if c.minutes == minutes]
        lead = max(longest, key=lambda c: c.people)
        return Clean(minutes, max(c.people for c in due), lead.skill)

    def shows(self, day: date) -> list[Show]:
        """Shows of an open day."""
        if self.hours(day) is None:
            return []
        return [s for s in self.season.shows if (s.weekday == day.weekday() if s.day is None else s.day == day)]

    def begins(self, show: Show) -> int:
        """Minute at which the batch of a show starts, so that its stage starts at the show's minute."""
        for design in self.season.designs:
            if suits(design, show):
                before = 0
                for number, step in enumerate(self.recipe(design.name) or ()):
                    before += step.wait_from if number else 0
                    if show.stage in ("", step.stage):
                        return show.starts - before
                    before += step.minutes
        return show.starts

    def longest_shift(self, person: Person) -> int:
        """Longest shift of a person: the kitchen's longest day or the person's own, if shorter."""
        limits = [self.kitchen.longest_day_minutes]
        if person.longest_shift is not None:
            limits.append(person.longest_shift)
        return min(limits)

    def week_limit(self, person: Person) -> int:
        """Most paid minutes in an ISO week."""
        limit = person.longest_minutes
        return limit if person.overtime else min(limit, person.contracted_minutes)


def suits(design: Design, show: Show) -> bool:
    """Whether a design may be made before visitors: simple and mild enough, and free of allergens."""
    return design.difficulty <= show.hardest and design.strength <= show.strongest and not design.allergens


def _due(change: Changeover, before: Design, after: Design | None) -> bool:
    kind = change.kind
    if after is None:
        return kind == "allergen to free" and len(before.allergens) > 0
    if kind == "light to dark":
        return after.colour > before.colour
    if kind == "dark to light":
        return after.colour < before.colour
    if kind == "mild to strong":
        return after.strength > before.strength
    if kind == "strong to mild":
        return after.strength < before.strength
    if kind == "sour to plain":
        return before.sour and not after.sour
    return any(allergen not in after.allergens for allergen in before.allergens)
