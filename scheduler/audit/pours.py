"""How many batches a day holds, worked out again for the audit: how close two pours can be, who is in, shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from scheduler.audit.readings import Reading, Step, suits
from scheduler.season.types import Design, Person, Role


@dataclass(frozen=True)
class Moment:
    """A stage of a design's batch: earliest and latest offset from the pour, and what must follow it."""

    step: Step
    early: int
    late: int
    after: int  # minutes from its end to the end of the batch, waits at their shortest


def _overlap(before: Moment, after: Moment, gap: int) -> bool:
    begins = after.early + gap
    return begins < before.early + before.step.minutes and before.early < begins + after.step.minutes


class Pours:
    """A season's days and recipes, and how many batches can be poured a day."""

    def __init__(self, r: Reading, names: list[str], today: date) -> None:
        self.r, self.names = r, names
        self._moments: dict[str, list[Moment]] = {}
        self._minutes: dict[tuple[str, date], int] = {}
        self._pairs: dict[tuple[object, object, frozenset[str] | None], int] = {}
        self._shapes: dict[str, object] = {}
        self._who: dict[tuple[str, int, bool], tuple[str, ...]] = {}
        span = (r.kitchen.last_day - today).days + 1
        every = [today + timedelta(days=i) for i in range(span)]
        self.days = [d for d in every if r.hours(d) is not None]
        self.designs = {d.name: d for d in r.season.designs}

    def moments(self, name: str) -> list[Moment]:
        """A design's stages with their offsets from the pour."""
        if name not in self._moments:
            self._moments[name] = self._work_out(name)
        return self._moments[name]

    def _work_out(self, name: str) -> list[Moment]:
        steps = self.r.recipe(name) or ()
        out, early, late = [], 0, 0
        for i, step in enumerate(steps):
            if i:
                early, late = early + step.wait_from, late + step.wait_to
            after = sum(s.wait_from + s.minutes for s in steps[i + 1 :])
            out.append(Moment(step, early, late, after))
            early, late = early + step.minutes, late + step.minutes
        return out

    def day_span(self, day: date) -> tuple[int, int]:
        """From the end of the opening duty to the start of the closing duty."""
        k, open_hours = self.r.kitchen, self.r.hours(day)
        assert open_hours is not None
        opening = k.opening_minutes if k.opening_people else 0
        closing = k.closing_minutes if k.closing_people else 0
        return open_hours[0] + opening, open_hours[1] - closing

    def latest_pour(self, name: str, day: date) -> int:
        moments = self.moments(name)
        length = moments[-1].early + moments[-1].step.minutes if moments else 0
        return min(self.r.kitchen.last_pour, self.day_span(day)[1] - length)

    def can_make(self, name: str, day: date) -> bool:
        start = self.designs[name].from_day
        if start is not None and day < start:
            return False
        for pin in self.r.season.pins:
            if pin.day == day and (pin.kind == "no making" or (pin.kind == "do not make" and pin.design == name)):
                return False
        return self.latest_pour(name, day) >= self.day_span(day)[0]

    def pours(self, names: list[str], day: date, people: bool = False) -> int:
        """Batches a day by how close two pours can be."""
        here = self.here(day) if people else None
        today = self.today(names, day, here)
        if not today:
            return 0
        room = max(self.latest_pour(n, day) for n in today) - self.day_span(day)[0]
        return room // max(1, self.apart(today, today, here)) + 1

    def today(self, names: list[str], day: date, here: frozenset[str] | None) -> list[str]:
        """Designs that can be made on a day, with people enough for each of their stages."""
        today = [n for n in names if self.can_make(n, day)]
        if here is None:
            return today
        return [n for n in today if all(self.together([m], here, n, n) for m in self.moments(n))]

    def show_pours(self, names: list[str], day: date, missed: set[str]) -> int:
        """Batches a day when each show's batch starts for its hour: counted minute by minute."""
        here = self.here(day)
        today = self.today(names, day, here)
        if not today:
            return 0
        first, last = self.day_span(day)[0], max(self.latest_pour(n, day) for n in today)
        gap, count = max(1, self.apart(today, today, here)), 0
        held = sorted((s for s in self.r.shows(day) if s.name not in missed), key=lambda s: (self.r.begins(s), s.name))
        for show in held:
            fit = [n for n, d in self.designs.items() if suits(d, show)]
            if fit:
                count += len(range(first, self.r.begins(show) - self.apart(today, fit, here) + 1, gap))
                count += 1 if set(fit) & set(today) else 0
                first = max(first, self.r.begins(show) + self.apart(fit, today, here))
        return count + len(range(first, last + 1, gap))

    def here(self, day: date) -> frozenset[str]:
        return frozenset(p.name for p in self.r.season.crew if self.work_minutes(p, day) > 0)

    def apart(self, before: list[str], after: list[str], here: frozenset[str] | None) -> int:
        """Minutes between two pours: tried one after the other until nothing is wanted twice."""
        unlike = [{self._shape(n): n for n in names}.values() for names in (before, after)]
        return min((self._pair(a, b, here) for a in unlike[0] for b in unlike[1]), default=0)

    def _pair(self, a: str, b: str, here: frozenset[str] | None) -> int:
        key = (self._shape(a), self._shape(b), here)
        if key not in self._pairs:
            clashes = [(m, n) for m in self._sure(a) for n in self._sure(b) if not self.together([m, n], here, a, b)]
            gap = 0
            while any(_overlap(m, n, gap) for m, n in clashes):
                gap += 1
            self._pairs[key] = gap
        return self._pairs[key]

    def _shape(self, name: str) -> object:
        """What makes two designs' batches alike: the same stages at the same offsets, for the same people."""
        if name not in self._shapes:
            self._shapes[name] = tuple(
                (m.step.station, m.early, m.step.minutes)
                + tuple((self.who_can(role, self.designs[name]), role.people) for role in m.step.roles)
                for m in self._sure(name)
            )
        return self._shapes[name]

    def together(self, moments: list[Moment], here: frozenset[str] | None, *names: str) -> bool:
        """Whether there are places and people for these stages at the same minute."""
        stations = [m.step.station for m in moments]
        if any(stations.count(s) > self.r.season.places[s] for s in stations):
            return False
        if here is None:
            return True
        wanted: list[tuple[set[str], int]] = []
        for moment, name in zip(moments, names, strict=False):
            for role in moment.step.roles:
                wanted.append((set(self.who_can(role, self.designs[name])) & here, role.people))
        groups = [set(here)] + [group for group, _ in wanted]
        return not any(sum(n for who, n in wanted if who <= group) > len(group) for group in groups)

    def _sure(self, name: str) -> list[Moment]:
        """Stages at a fixed offset from the pour: those before the first that may wait more or less."""
        out = []
        for moment in self.moments(name):
            if moment.early != moment.late:
                break
            out.append(moment)
        return out

    def who_can(self, role: Role, design: Design) -> tuple[str, ...]:
        key = role.skill, self.r.level_needed(role, design), role.hot
        if key not in self._who:
            self._who[key] = tuple(
                p.name
                for p in self.r.season.crew
                if not (role.hot and p.young) and (not role.skill or self.r.level(p.name, role.skill) >= key[1])
            )
        return self._who[key]

    def work_minutes(self, person: Person, day: date) -> int:
        """Most minutes of work in a shift that day, tried shift by shift."""
        key = (person.name, day)
        if key not in self._minutes:
            self._minutes[key] = self._try_shifts(person, day)
        return self._minutes[key]

    def _try_shifts(self, person: Person, day: date) -> int:
        k = self.r.kitchen
        span = self.r.presence(person, day)
        off = any(p.kind == "off" and p.person == person.name and p.day == day for p in self.r.season.pins)
        if span is None or off or span[1] - span[0] < max(1, person.shortest_shift):
            return 0
        lengths = range(1, min(span[1] - span[0], self.r.longest_shift(person)) + 1)
        return max((n - (k.break_minutes if n > k.break_after_minutes else 0) for n in lengths), default=0)
