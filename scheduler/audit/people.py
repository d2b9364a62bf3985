"""Rules about the people of one day: one job at a time, pulls, presence, shifts, breaks."""

from __future__ import annotations

from collections import defaultdict

from scheduler.audit.batches import overlaps
from scheduler.audit.readings import Reading
from scheduler.audit.violation import Findings, Violation, span
from scheduler.plan.types import DayPlan, Shift


def jobs_of(day: DayPlan) -> dict[str, list[tuple[int, int, str]]]:
    """Person -> (starts, ends, job) of everything the day asks of them, breaks included."""
    jobs: dict[str, list[tuple[int, int, str]]] = defaultdict(list)
    for batch in day.batches:
        for run in batch.runs:
            for role, person in run.crew:
                jobs[person].append((run.starts, run.ends, f"{role} of batch {batch.id}"))
    for task in day.tasks:
        for person in task.people:
            jobs[person].append((task.starts, task.ends, f"the {task.kind} task"))
    for pack in day.packing:
        jobs[pack.person].append((pack.starts, pack.ends, f"packing {pack.product}"))
    for shift in day.shifts:
        if shift.break_starts is not None and shift.break_ends is not None:
            jobs[shift.person].append((shift.break_starts, shift.break_ends, "the break"))
    return jobs


def one_job_at_a_time(r: Reading, day: DayPlan) -> Findings:
    """A person does one run, task, pack run or break at a time, inside the shift."""
    shifts: dict[str, list[Shift]] = defaultdict(list)
    for shift in day.shifts:
        shifts[shift.person].append(shift)
    for person, jobs in sorted(jobs_of(day).items()):
        where = f"{day.day} {person}"
        if person not in r.season.person_by_name:
            yield Violation("one job at a time", where, f"There is nobody called {person!r} in the crew.")
        jobs = _to_come(jobs, r.facts_until(day.day))
        for first, second in overlaps(jobs):
            what = f"{first[2]} ({span(*first[:2])}) and {second[2]} ({span(*second[:2])}) overlap."
            yield Violation("one job at a time", where, what)
        for starts, ends, job in jobs:
            if not any(s.starts <= starts and ends <= s.ends for s in shifts[person]):
                yield Violation("one job at a time", where, f"{job} ({span(starts, ends)}) is outside the shift.")


def _to_come(jobs: list[tuple[int, int, str]], until: int) -> list[tuple[int, int, str]]:
    """Jobs as far as they lie after the facts: who takes over from somebody ill was not there from the start."""
    return [(max(starts, until), ends, job) for starts, ends, job in jobs if ends > until]


def pulls_of(r: Reading, day: DayPlan) -> dict[str, list[tuple[int, int, int, str]]]:
    """Person -> (starts, ends, pulls, batch) of every run that charges pulls to them."""
    pulls: dict[str, list[tuple[int, int, int, str]]] = defaultdict(list)
    for batch in day.batches:
        for run in batch.runs:
            charged: dict[str, int] = defaultdict(int)
            for role, person in run.crew:
                charged[person] += r.pulls(batch.design, run.stage, role)
            for person, number in charged.items():
                if number > 0:
                    pulls[person].append((run.starts, run.ends, number, batch.id))
    return pulls


def pulls_a_day(r: Reading, day: DayPlan) -> Findings:
    """Pulls charged to a person on a day are at most the person's day limit.

    Example: two loads of 75 and one of 75 are 225; a limit of 150 is broken.
    """
    for name, runs in sorted(pulls_of(r, day).items()):
        person = r.season.person_by_name.get(name)
        total = sum(pulls for _, _, pulls, _ in runs)
        if person is not None and total > person.pulls_day:
            what = f"{total} pulls are planned; the limit a day is {person.pulls_day}."
            yield Violation("pulls a day", f"{day.day} {name}", what)


def pull_rest(r: Reading, day: DayPlan) -> Findings:
    """Between two pulling runs of one person lie at least so many minutes."""
    rest, until = r.kitchen.pull_rest_minutes, r.facts_until(day.day)
    for person, runs in sorted(pulls_of(r, day).items()):
        ordered = sorted(runs)
        for before, after in zip(ordered, ordered[1:], strict=False):
            gap = max(after[0], until) - before[1]  # somebody who took over began no earlier than the facts end
            if gap < rest and after[1] > until:
                what = f"{gap} minutes between pulling {before[3]} and {after[3]}; it must be {rest}."
                yield Violation("pull rest", f"{day.day} {person}", what)


def presence(r: Reading, day: DayPlan) -> Findings:
    """A shift lies inside the longest stretch in which the person can be in; one shift a day."""
    names = [shift.person for shift in day.shifts]
    for name in sorted({n for n in names if names.count(n) > 1}):
        yield Violation("presence", f"{day.day} {name}", f"{names.count(name)} shifts on one day.")
    for shift in day.shifts:
        where = f"{day.day} {shift.person}"
        person = r.season.person_by_name.get(shift.person)
        if person is None:
            yield Violation("presence", where, f"There is nobody called {shift.person!r} in the crew.")
            continue
        if shift.starts < r.facts_until(day.day):  # already in: only what is still to come can be judged
            free = r.free_minutes(person, day.day)
            rest_of_day = range(max(shift.starts, r.facts_until(day.day)), min(shift.ends, len(free)))
            if not all(free[minute] for minute in rest_of_day):
                yield Violation("presence", where, f"In {span(shift.starts, shift.ends)}, but away for a part of it.")
            continue
        allowed = r.presence(person, day.day)
        if allowed is None:
            yield Violation("presence", where, f"In {span(shift.starts, shift.ends)}, but can't be in on this day.")
        elif not allowed[0] <= shift.starts < shift.ends <= allowed[1]:
            what = f"In {span(shift.starts, shift.ends)}, but can be in only {span(*allowed)}."
            yield Violation("presence", where, what)


def call_in(r: Reading, day: DayPlan) -> Findings:
    """A shift is at least the person's shortest call-in and at most the longest shift."""
    for shift in day.shifts:
        person = r.season.person_by_name.get(shift.person)
        if person is None:
            continue
        length, longest = shift.ends - shift.starts, r.longest_shift(person)
        cut_short = shift.starts < r.facts_until(day.day)  # someone who left early was called in all the same
        if length > longest or (length < person.shortest_shift and not cut_short):
            what = f"The shift is {length} minutes; it must be {person.shortest_shift} to {longest}."
            yield Violation("call-in", f"{day.day} {shift.person}", what)


def meal_break(r: Reading, day: DayPlan) -> Findings:
    """Nobody is in for more than so many minutes at a stretch without the meal break.

    Limit 300: a shift of 310 needs a break with at most 300 before and 300 after it. No break is nearer to coming and
    leaving than the kitchen asks; who is in when a day has to be planned anew may leave at any minute.
    """
    limit, minutes, around = r.kitchen.break_after_minutes, r.kitchen.break_minutes, r.kitchen.around_break_minutes
    for shift in day.shifts:
        where = f"{day.day} {shift.person}"
        starts, ends = shift.break_starts, shift.break_ends
        if starts is None or ends is None:
            if starts is not None or ends is not None:
                yield Violation("meal break", where, "The break has only one end.")
            elif shift.ends - shift.starts > limit and minutes > 0:
                what = f"In for {shift.ends - shift.starts} minutes without a break; at most {limit} at a stretch."
                yield Violation("meal break", where, what)
            continue
        if ends - starts != minutes or not shift.starts <= starts <= ends <= shift.ends:
            what = f"The break is {span(starts, ends)}; it must be {minutes} minutes inside the shift."
            yield Violation("meal break", where, what)
        elif max(starts - shift.starts, shift.ends - ends) > limit:
            what = (
                f"In for {starts - shift.starts} minutes before the break and {shift.ends - ends} after it; "
                f"at most {limit} at a stretch."
            )
            yield Violation("meal break", where, what)
        elif min(starts - shift.starts, shift.ends - ends) < around and shift.starts >= r.facts_until(day.day):
            what = f"The break is {span(starts, ends)}, less than {around} minutes from coming or leaving."
            yield Violation("meal break", where, what)
