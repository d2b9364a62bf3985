"""What changed between two plans, as people feel it: days on and off, hours, batches, jobs.

Changes are counted in points. One change weighs its kind times its notice; both are house
rules, no published scale is known:

    a person called in, or sent home, on a day     4
    a batch put on a day, or taken off it          2
    a person's hours on a day                      1
    new jobs for a person on a day                 1     (more of the same, as packing, is none)
    a day's packing list (fewer packs only: 0)     1

    today 8, tomorrow 4, in the week after that 2, later 1

What the news itself forces is listed, but not counted: somebody absent who stays away.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from scheduler.plan.types import Batch, DayPlan, Plan, Shift

DAY_ON_OR_OFF, BATCH, HOURS, JOBS, PACKING = 4, 2, 1, 1, 1
TODAY, TOMORROW, THIS_WEEK, LATER = 8, 4, 2, 1


def notice(day: date, today: date) -> int:
    """Weight of a change by how soon it bites: today 8, tomorrow 4, within seven days 2, later 1."""
    ahead = (day - today).days
    return TODAY if ahead <= 0 else TOMORROW if ahead == 1 else THIS_WEEK if ahead <= 7 else LATER


PACK = "packing"  # the name of that job


@dataclass(frozen=True, slots=True)
class Job:
    """One thing that a person does on a day; ``what`` and ``batch`` name it whatever the clock says."""

    starts: int
    ends: int
    what: str
    batch: str = ""
    product: str = ""  # with packing: what is packed makes no other job of it

    @property
    def name(self) -> tuple[str, str]:
        return self.what, self.batch


@dataclass(frozen=True, slots=True)
class PersonChange:
    """A person's day before and after. ``absent``: the news keeps the person away."""

    day: date
    person: str
    before: Shift | None
    after: Shift | None
    jobs_before: tuple[Job, ...]
    jobs_after: tuple[Job, ...]
    absent: bool
    points: int

    @property
    def other_hours(self) -> bool:
        """In before and after, arriving or leaving at another time."""
        old, new = self.before, self.after
        return old is not None and new is not None and (old.starts, old.ends) != (new.starts, new.ends)


@dataclass(frozen=True, slots=True)
class DayChange:
    """A day's batches and packing before and after. ``moved``: same batch, poured at another time."""

    day: date
    taken_off: tuple[Batch, ...]
    put_on: tuple[Batch, ...]
    moved: tuple[tuple[Batch, Batch], ...]
    packing: tuple[tuple[str, int, int], ...]  # product, packs before, packs after
    print_again: bool
    points: int


@dataclass(frozen=True, slots=True)
class Changes:
    """All changes from a day on, by day and then person, and their points together."""

    today: date
    people: tuple[PersonChange, ...]
    days: tuple[DayChange, ...]

    @property
    def points(self) -> int:
        return sum(p.points for p in self.people) + sum(d.points for d in self.days)

    @property
    def calls(self) -> int:
        """People called in or sent home, counted by days, who are not absent."""
        return sum((p.before is None) != (p.after is None) and not p.absent for p in self.people)

    @property
    def batches(self) -> int:
        """Batches put on or taken off, counted on the day with more of them: a move is one."""
        return max(sum(len(d.put_on) for d in self.days), sum(len(d.taken_off) for d in self.days))

    def __bool__(self) -> bool:
        return bool(self.people or self.days)


def compare(before: Plan, after: Plan, today: date, absent: frozenset[tuple[str, date]] = frozenset()) -> Changes:
    """What changed from ``today`` on. ``absent`` are people and days that the news keeps away.

    Example: Ana comes in on Thursday, unplanned, five days ahead: 4 x 2 = 8 points.
    """
    old, new = _by_day(before), _by_day(after)
    people: list[PersonChange] = []
    days: list[DayChange] = []
    for day in sorted(set(old) | set(new)):
        one, other = old.get(day, DayPlan(day)), new.get(day, DayPlan(day))
        if day >= today and one != other:
            found = list(_people(one, other, today, absent))
            people += found
            days.append(_day(one, other, today, bool(found)))
    return Changes(today, tuple(people), tuple(d for d in days if d.print_again))


def lost(before: Plan, after: Plan) -> dict[str, int]:
    """Lines with more packs short than before, whatever others gain, and how many more."""
    had = before.short_packs
    return {line: more for line, packs in after.short_packs.items() if (more := packs - had.get(line, 0)) > 0}


def felt(before: DayPlan, after: DayPlan, away: frozenset[str]) -> int:
    """Points of people on one day before notice; nobody in ``away`` counts."""
    absent = frozenset((name, before.day) for name in away)
    return sum(p.points for p in _people(before, after, date.min, absent)) // LATER


def _by_day(plan: Plan) -> dict[date, DayPlan]:
    return {d.day: d for d in plan.days}


def _people(
    before: DayPlan, after: DayPlan, today: date, absent: frozenset[tuple[str, date]]
) -> Iterator[PersonChange]:
    shifts = {s.person: s for s in before.shifts}, {s.person: s for s in after.shifts}
    weight = notice(before.day, today)
    for person in sorted(set(shifts[0]) | set(shifts[1])):
        old, new = shifts[0].get(person), shifts[1].get(person)
        jobs = tuple(jobs_of(before, person)), tuple(jobs_of(after, person))
        if old == new and jobs[0] == jobs[1]:
            continue
        away = (person, before.day) in absent
        points = 0
        if (old is None) != (new is None):
            points = 0 if away else DAY_ON_OR_OFF * weight
        elif old is not None and new is not None:
            if (old.starts, old.ends) != (new.starts, new.ends) and not away:
                points += HOURS * weight
            if {j.name for j in jobs[1]} - {j.name for j in jobs[0]} and not away:
                points += JOBS * weight
        yield PersonChange(before.day, person, old, new, *jobs, away, points)


def _day(before: DayPlan, after: DayPlan, today: date, people: bool) -> DayChange:
    off, on = _unmatched(before.batches, after.batches)
    old = {b.id: b for b in before.batches}
    moved = tuple((old[b.id], b) for b in after.batches if b not in on and b.id in old and old[b.id].pour != b.pour)
    packs = before.packs, after.packs
    packing = tuple(
        (p, packs[0][p], packs[1][p]) for p in sorted(packs[0] | packs[1]) if packs[0][p] != packs[1][p]
    )
    points = BATCH * (len(off) + len(on)) + PACKING * any(new > old_ for _, old_, new in packing)
    return DayChange(
        before.day, off, on, moved, packing, before != after, points * notice(before.day, today)
    )


def _unmatched(before: tuple[Batch, ...], after: tuple[Batch, ...]) -> tuple[tuple[Batch, ...], tuple[Batch, ...]]:
    """Batches of the day before and after that have no counterpart of the same design."""
    left = list(after)
    off = []
    for batch in before:
        same = next((b for b in left if b.design == batch.design and b.id == batch.id), None)
        same = same or next((b for b in left if b.design == batch.design), None)
        if same is None:
            off.append(batch)
        else:
            left.remove(same)
    return tuple(off), tuple(left)


def jobs_of(day: DayPlan, person: str) -> Iterator[Job]:
    """What a person does on a day, by the clock."""
    jobs = [
        Job(run.starts, run.ends, f"{run.stage} as {role}", f"{batch.design} {batch.id}")
        for batch in day.batches
        for run in batch.runs
        for role, name in run.crew
        if name == person
    ]
    jobs += [
        Job(task.starts, task.ends, f"{task.kind} {task.station or task.note}".strip())
        for task in day.tasks
        if person in task.people
    ]
    jobs += [Job(run.starts, run.ends, PACK, "", run.product) for run in day.packing if run.person == person]
    return iter(sorted(jobs, key=lambda j: (j.starts, j.ends, j.what)))
