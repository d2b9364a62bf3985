"""The limits that certificates speak of, worked out again from the season: what a batch takes, what a day gives."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date

from scheduler.audit.pours import Pours
from scheduler.audit.readings import Reading, Step
from scheduler.plan.types import Plan
from scheduler.season.types import Design, Person, Role

UNITS = {
    "no day in the window": ("batches",),
    "supplies": ("batches",),
    "pours a day": ("batches",),
    "station minutes": ("minutes", "batches"),
    "leaders": ("minutes", "batches"),
    "people able": ("minutes",),
    "people's hours": ("seconds",),
    "people at once": ("batches",),
    "shows": ("batches",),
    "pulls": ("pulls",),
    "packing minutes": ("seconds",),
}
KITCHEN = "the kitchen"


@dataclass(frozen=True)
class Given:
    """What a batch (or pack) takes of a limit, and what there is by who gives it and day."""

    each: dict[str, int]
    amounts: dict[str, dict[date, int]]
    people: tuple[str, ...] = ()
    week_limits: dict[str, int] = field(default_factory=dict)
    whole: bool = True
    until_packed: bool = False


def given_by(
    r: Reading, plan: Plan, kind: str, what: str, people: tuple[str, ...], unit: str, names: list[str], today: date
) -> Given | None:
    """The limit of a kind for some designs, on days from today on; None where there is no such limit."""
    sums = Sums(r, names, today)
    if kind in ("no day in the window", "supplies", "pours a day"):
        return Given(dict.fromkeys(names, 1), {KITCHEN: {d: sums.pours(names, d) for d in sums.days}})
    if kind == "people at once":
        return Given(dict.fromkeys(names, 1), {KITCHEN: {d: sums.pours(names, d, True) for d in sums.days}})
    if kind == "shows":
        given_up: dict[date, set[str]] = {d.day: set(d.missed_shows) for d in plan.days}
        amounts = {d: sums.show_pours(names, d, given_up.get(d, set())) for d in sums.days}
        return Given(dict.fromkeys(names, 1), {KITCHEN: amounts})
    if kind == "station minutes":
        return sums.station(what, unit) if what in r.season.places else None
    if kind == "people able":
        return sums.people(what, unit, people, leading=False)
    if kind == "leaders":
        return sums.people(what, unit, people, leading=True)
    if kind == "pulls":
        return sums.pulls()
    return sums.hours() if kind == "people's hours" else sums.packing(what)


class Sums(Pours):
    """Every other limit: stations, people, pulls, hours, packing."""

    def kept(self, wanted: Callable[[Step, str], bool], alone: bool, pause: int) -> dict[str, int]:
        """Minutes a batch keeps a place or person, short absences that nobody can use counted in."""
        visits = {name: self._with_gaps(name, wanted) for name in self.names}
        shortest = min((e - s for rows in visits.values() for s, e, _ in rows), default=0)
        out = {}
        for name, rows in visits.items():
            total = sum(e - s for s, e, _ in rows)
            for (_, left, _), (back, _, most) in zip(rows, rows[1:], strict=False):
                if alone and most < min(shortest, pause):
                    total += back - left
            if total:
                out[name] = total
        return out

    def _with_gaps(self, name: str, wanted: Callable[[Step, str], bool]) -> list[tuple[int, int, int]]:
        """Visits of a batch as (earliest start, earliest end, longest possible absence before)."""
        rows: list[tuple[int, int, int]] = []
        slack_at_end = 0
        for m in self.moments(name):
            if not wanted(m.step, name):
                continue
            ends = m.early + m.step.minutes
            slack = m.late - m.early
            if rows:
                away = m.early - rows[-1][1] + slack - slack_at_end
                if away == 0:
                    rows[-1] = (rows[-1][0], ends, rows[-1][2])
                    continue
                rows.append((m.early, ends, away))
            else:
                rows.append((m.early, ends, slack))
            slack_at_end = slack
        return rows

    def stretch(self, wanted: Callable[[Step, str], bool], names: list[str], day: date) -> tuple[int, int] | None:
        """From when to when the wanted stages can run on a day."""
        opens, closes = self.day_span(day)
        starts, ends = [], []
        for name in names:
            latest = self.latest_pour(name, day)
            for m in self.moments(name):
                if wanted(m.step, name):
                    starts.append(opens + m.early)
                    ends.append(min(latest + m.late + m.step.minutes, closes - m.after))
        return (min(starts), max(ends)) if starts and min(starts) < max(ends) else None

    def station(self, station: str, unit: str) -> Given | None:
        places = self.r.season.places[station]

        def here(step: Step, _name: str) -> bool:
            return step.station == station

        each = self.kept(here, places == 1, 10**6)
        amounts = {}
        for day in self.days:
            today = [n for n in each if self.can_make(n, day)]
            span = self.stretch(here, today, day)
            minutes = places * (span[1] - span[0]) if span else 0
            amounts[day] = minutes if unit == "minutes" or not today else minutes // min(each[n] for n in today)
        if unit == "batches":
            each = dict.fromkeys(each, 1)
        return Given(each, {station: amounts})

    def people(self, what: str, unit: str, group: tuple[str, ...], leading: bool) -> Given | None:
        """Work that only a group can do; ``leading``: by one person a batch, kept as long as it lasts."""

        def mine(role: Role, design: Design) -> bool:
            return set(self.who_can(role, design)) <= set(group) and (role.leads or not leading)

        def wanted(step: Step, name: str) -> bool:
            return any(mine(role, self.designs[name]) for role in step.roles)

        if not self._named(what, group):
            return None
        if leading:
            each = self.kept(wanted, True, self.r.kitchen.break_minutes)
        else:
            each = {n: self.minutes_of(n, mine) for n in self.names if self.minutes_of(n, mine)}
        amounts: dict[str, dict[date, int]] = {name: {} for name in group}
        for day in self.days:
            today = [n for n in each if self.can_make(n, day)]
            span = self.stretch(wanted, today, day)
            for name in group:
                minutes = self._work_inside(self.r.season.person_by_name[name], day, span) if span else 0
                share = min((each[n] for n in today), default=1) if unit == "batches" else 1
                amounts[name][day] = minutes // share
        week = {name: self.r.week_limit(self.r.season.person_by_name[name]) for name in group}
        if unit == "batches" and each:
            week = {name: limit // min(each.values()) for name, limit in week.items()}
            each = dict.fromkeys(each, 1)
        return Given(each, amounts, group, week)

    def _named(self, what: str, group: tuple[str, ...]) -> bool:
        """Whether a role of these designs asks for this skill and level, and these are the people for it."""
        for name in self.names:
            for step in self.r.recipe(name) or ():
                for role in step.roles:
                    level = self.r.level_needed(role, self.designs[name])
                    text = f"{role.skill} {level}" if role.skill else ""
                    if text == what and self.who_can(role, self.designs[name]) == group:
                        return True
        return False

    def _work_inside(self, person: Person, day: date, span: tuple[int, int]) -> int:
        there = self.r.presence(person, day)
        if there is None:
            return 0
        return min(self.work_minutes(person, day), max(0, min(there[1], span[1]) - max(there[0], span[0])))

    def minutes_of(self, name: str, mine: Callable[[Role, Design], bool]) -> int:
        """Person-minutes of a batch in some roles."""
        steps = self.r.recipe(name) or ()
        return sum(s.minutes * r.people for s in steps for r in s.roles if mine(r, self.designs[name]))

    def pulls(self) -> Given:
        """Pulls a day and a week of whoever may pull; whole charges only where all are alike."""
        each: dict[str, int] = defaultdict(int)
        charges: set[int] = set()
        people: set[str] = set()
        for name in self.names:
            for step in self.r.recipe(name) or ():
                for role in step.roles:
                    charge = self.r.pulls(name, step.stage, role.name) if role.pulls else 0
                    if charge:
                        each[name] += charge * role.people
                        charges.add(charge)
                        people |= set(self.who_can(role, self.designs[name]))
        unit = min(charges) if len(charges) == 1 else 1
        crew = [p for p in self.r.season.crew if p.name in people]
        amounts = {
            p.name: {d: p.pulls_day - p.pulls_day % unit if self.work_minutes(p, d) else 0 for d in self.days}
            for p in crew
        }
        week = {p.name: p.pulls_week - p.pulls_week % unit for p in crew}
        return Given(dict(each), amounts, tuple(p.name for p in crew), week)

    def hours(self) -> Given:
        """Everyone's seconds; a hundred pieces take making, packing, and a share of opening and closing."""
        k, season = self.r.kitchen, self.r.season
        everything = [d.name for d in season.designs]
        most = max((self.pours(everything, d) for d in self.days), default=0)
        duty = k.opening_minutes * k.opening_people + k.closing_minutes * k.closing_people
        share = duty // most if most else 0
        each = {}
        for name in self.names:
            rates = [
                season.product_by_name[p].packing_seconds * 100 // sum(inside.values())
                for p, inside in season.contents_of.items()
                if name in inside
            ]
            labour = self.minutes_of(name, lambda _role, _design: True) + share
            each[name] = labour * 6000 // self.designs[name].pieces + min(rates, default=0)
        amounts = {p.name: {d: 60 * self.work_minutes(p, d) for d in self.days} for p in season.crew}
        week = {p.name: 60 * self.r.week_limit(p) for p in season.crew}
        return Given(each, amounts, tuple(p.name for p in season.crew), week, whole=False, until_packed=True)

    def packing(self, what: str) -> Given:
        """Seconds of those who pack; or of the places at the packing station, where it is named."""
        k, season = self.r.kitchen, self.r.season
        each = {p.name: p.packing_seconds for p in season.products}
        if what == k.packing_station and what != k.packing_skill:
            bench = {}
            for day in self.days:
                open_hours = self.r.hours(day)
                assert open_hours is not None
                bench[day] = 60 * season.places.get(what, 0) * (open_hours[1] - open_hours[0])
            return Given(each, {what: bench}, until_packed=True)
        packers = [p for p in season.crew if not k.packing_skill or self.r.level(p.name, k.packing_skill) >= 1]
        amounts = {p.name: {d: 60 * self.work_minutes(p, d) for d in self.days} for p in packers}
        week = {p.name: 60 * self.r.week_limit(p) for p in packers}
        return Given(each, amounts, tuple(p.name for p in packers), week, until_packed=True)
