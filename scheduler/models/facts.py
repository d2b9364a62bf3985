"""What the season models need to know, worked out once: days, hands, kinds of batches, who can do what.

Days are season indices; minutes are clock or working minutes. Nothing here solves anything.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from scheduler.demand.lines import Demand, Line
from scheduler.plan.types import DayPlan
from scheduler.season import rules
from scheduler.season.types import Design, Person, Season, Show


@dataclass(frozen=True, slots=True)
class Stretch:
    """When a person can be in on a day, and for how long at most."""

    starts: int
    ends: int
    longest: int


@dataclass(frozen=True, slots=True)
class Load:
    """Person-minutes of one sort in a batch (or duty), and who can do them on a day."""

    able: frozenset[str]
    minutes: int


@dataclass(frozen=True)
class Facts:
    """A season seen from planning: ``done`` are the days that are already decided.

    ``only``: a part of the season with these days alone, in which the candy and packs of done
    days are counted in the demand already.
    """

    season: Season
    demand: Demand
    from_index: int = 0
    done: tuple[DayPlan, ...] = ()
    only: frozenset[int] | None = None

    @cached_property
    def days(self) -> tuple[int, ...]:
        """Open days that are free to plan."""
        inside = range(max(0, self.from_index), self.season.day_count)
        return tuple(t for t in inside if (self.only is None or t in self.only) and self.hours(t) is not None)

    @cached_property
    def idle(self) -> dict[tuple[int, frozenset[str]], tuple[DayPlan, int]]:
        """Minutes for packing of known days, as far as they were asked for: by the day's id and who packs."""
        return {}

    def hours(self, t: int) -> tuple[int, int] | None:
        return rules.opening(self.season, self.season.days[t])

    def week(self, t: int) -> tuple[int, int]:
        """ISO year and week of a day."""
        return self._week_of[t]

    @cached_property
    def _week_of(self) -> tuple[tuple[int, int], ...]:
        return tuple((iso[0], iso[1]) for iso in (day.isocalendar() for day in self.season.days))

    def days_of(self, week: tuple[int, int]) -> range:
        """All days of the season in an ISO week."""
        first = bisect_left(self._week_of, week)
        return range(first, bisect_right(self._week_of, week))

    @cached_property
    def weeks(self) -> dict[tuple[int, int], list[int]]:
        """Free days of each ISO week, in order."""
        out: dict[tuple[int, int], list[int]] = {}
        for t in self.days:
            out.setdefault(self.week(t), []).append(t)
        return out

    @cached_property
    def done_by_index(self) -> dict[int, DayPlan]:
        return {self.season.index(d.day): d for d in self.done}

    @cached_property
    def hands(self) -> dict[int, dict[str, Stretch]]:
        """Day -> person -> stretch, for everyone who can be in ("off" pins heeded), in crew order."""
        off = {(p.person, p.day) for p in self.season.pins if p.kind == "off"}
        out: dict[int, dict[str, Stretch]] = {}
        for t in self.days:
            day = self.season.days[t]
            out[t] = {}
            for person in self.season.crew:
                stretch = rules.reach(self.season, person, day)
                if stretch is not None and (person.name, day) not in off:
                    out[t][person.name] = Stretch(*stretch)
        return out

    @cached_property
    def called(self) -> frozenset[tuple[str, int]]:
        """(person, day) of those whom pins call in ("works")."""
        pins = self.season.pins
        return frozenset((p.person, self.season.index(p.day)) for p in pins if p.kind == "works" and p.day is not None)

    @cached_property
    def pinned(self) -> dict[tuple[str, int], int]:
        """(design, day) -> batches that pins ask for at least ("make")."""
        out: dict[tuple[str, int], int] = {}
        for pin in self.season.pins:
            if pin.kind == "make" and pin.day is not None:
                key = pin.design, self.season.index(pin.day)
                out[key] = max(out.get(key, 0), pin.batches)
        return out

    def pinned_on(self, t: int) -> Counter[str]:
        """Batches that pins ask for at least on a day."""
        return Counter({design: count for (design, day), count in self.pinned.items() if day == t})

    def break_of(self, shift: int) -> int:
        """Minutes of meal break in a shift of so many minutes."""
        kitchen = self.season.kitchen
        return kitchen.break_minutes if shift > kitchen.break_after_minutes else 0

    def work_of(self, shift: int) -> int:
        """Most working minutes in a shift of at most so many minutes."""
        after = self.season.kitchen.break_after_minutes
        return max(shift - self.break_of(shift), min(shift, after))

    def paid_of(self, shift: int) -> int:
        return shift if self.season.kitchen.break_paid else shift - self.break_of(shift)

    @property
    def unpaid_break(self) -> int:
        """Minutes that a meal break takes off the paid ones."""
        return 0 if self.season.kitchen.break_paid else self.season.kitchen.break_minutes

    @cached_property
    def wanted(self) -> dict[str, list[Line]]:
        """Lines that want pieces of each design."""
        out: dict[str, list[Line]] = {}
        for line in self.demand.lines:
            for window in line.windows:
                out.setdefault(window.design, []).append(line)
        return out

    @cached_property
    def shows(self) -> dict[int, tuple[Show, ...]]:
        """Shows of each free open day that can be held at all: a fitting picture is done before the kitchen closes."""
        out = {}
        for t in self.days:
            today = rules.shows_on(self.season, self.season.days[t])
            able = tuple(s for s in today if any(self.can_hold(t, d, s) for d in self.season.designs))
            if able:
                out[t] = able
        return out

    def begins(self, show: Show) -> int:
        """Minute at which a show's batch starts."""
        return rules.begins(self.season, show)

    def can_hold(self, t: int, design: Design, show: Show) -> bool:
        """Whether a batch fits the show, starts after the opening duty and ends before the closing one."""
        hours = rules.work_hours(self.season, self.season.days[t])
        if hours is None or t not in self.makeable[design.name] or not rules.fits_show(design, show):
            return False
        start, takes = self.begins(show), rules.shortest_length(rules.recipe(self.season, design))
        return hours[0] <= start <= self.season.kitchen.last_pour and start + takes <= hours[1]

    @cached_property
    def makeable(self) -> dict[str, tuple[int, ...]]:
        """Design -> free days on which it may be made (pins, supplies, somebody for each role)."""
        pins = self.season.pins
        closed = {p.day for p in pins if p.kind == "no making"}
        barred = {(p.design, p.day) for p in pins if p.kind == "do not make"}
        return {
            design.name: tuple(
                t
                for t in self.days
                if (day := self.season.days[t]) not in closed
                and (design.name, day) not in barred
                and (design.from_day is None or day >= design.from_day)
                and self.possible(design, t)
            )
            for design in self.season.designs
        }

    def possible(self, design: Design, t: int) -> bool:
        """Whether every role of the design has enough able people who can be in."""
        needs = rules.recipe(self.season, design)
        return bool(needs) and all(
            len(self.able(t, role)) >= role.people for stage in needs for role in stage.roles
        )

    def able(self, t: int, role: rules.RoleNeed) -> frozenset[str]:
        """People who can be in on a day and may fill a role."""
        return self._able(t, role)

    @cached_property
    def _able_cache(self) -> dict[tuple[int, rules.RoleNeed], frozenset[str]]:
        return {}

    def _able(self, t: int, role: rules.RoleNeed) -> frozenset[str]:
        key = (t, role)
        if key not in self._able_cache:
            people = self.season.person_by_name
            day = self.season.days[t]
            self._able_cache[key] = frozenset(
                name for name in self.hands[t] if rules.can_fill(self.season, people[name], role, day)
            )
        return self._able_cache[key]

    def skilled(self, t: int, skill: str) -> frozenset[str]:
        """People who can be in and have a skill (blank: anyone)."""
        level = self.season.level_of
        return frozenset(n for n in self.hands[t] if not skill or (n, skill) in level)

    @cached_property
    def loads(self) -> dict[tuple[str, int], tuple[Load, ...]]:
        return {}

    def loads_of(self, design: str, t: int) -> tuple[Load, ...]:
        """Person-minutes of a batch by who can do them on that day."""
        key = (design, t)
        if key not in self.loads:
            sums: dict[frozenset[str], int] = {}
            for stage in rules.recipe(self.season, self.season.design_by_name[design]):
                for role in stage.roles:
                    able = self.able(t, role)
                    sums[able] = sums.get(able, 0) + stage.minutes * role.people
            self.loads[key] = tuple(Load(able, m) for able, m in sums.items())
        return self.loads[key]

    def minutes_of(self, design: str) -> int:
        """Person-minutes of a whole batch."""
        return sum(
            stage.minutes * role.people
            for stage in rules.recipe(self.season, self.season.design_by_name[design])
            for role in stage.roles
        )

    def pulls_of(self, design: str) -> tuple[tuple[rules.RoleNeed, int], ...]:
        """Pulling roles of a batch with the number of people each takes."""
        return tuple(
            (role, role.people)
            for stage in rules.recipe(self.season, self.season.design_by_name[design])
            for role in stage.roles
            if role.pulls > 0
        )

    def duties(self) -> tuple[tuple[int, int], ...]:
        """(people, minutes) of the duties of a day with a batch."""
        k = self.season.kitchen
        both = ((k.opening_people, k.opening_minutes), (k.closing_people, k.closing_minutes))
        return tuple((p, m) for p, m in both if p > 0 and m > 0)

    def person(self, name: str) -> Person:
        return self.season.person_by_name[name]

    def heads(self, design: str) -> int:
        """People that must be in at once for a batch of this design."""
        recipe = rules.recipe(self.season, self.season.design_by_name[design])
        return max((sum(r.people for r in s.roles) for s in recipe), default=0)


def unions(sets: Iterable[frozenset[str]], most: int = 40) -> list[frozenset[str]]:
    """The sets and their unions, smallest first, at most so many: where work meets who can do it.

    For each union U: work that only people of U can do must fit the time of U (Hall, Gale).
    """
    distinct = sorted(set(sets), key=lambda s: (len(s), sorted(s)))
    family: set[frozenset[str]] = set(distinct)
    for one in distinct:
        if len(family) > most:
            break
        family |= {one | other for other in family}
    if distinct:
        family.add(frozenset().union(*distinct))
    return sorted(family, key=lambda s: (len(s), sorted(s)))
