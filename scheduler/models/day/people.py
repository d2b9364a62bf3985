"""The people of the day model: who fills which role, duties, shifts, breaks, pulls."""

from __future__ import annotations

from dataclasses import replace

from ortools.sat.python import cp_model
from scheduler.models.day.shifts import comes, on_steps, shortest_of
from scheduler.models.day.work import Day, Job, PersonVars, TaskVars, Time, able, skilled
from scheduler.plan.request import Hand
from scheduler.season.rules import step_from


def add_people(day: Day) -> None:
    """`presence`, `call-in`: a shift lies inside the person's stretch and is neither too short nor too long.

    from <= start, end <= to, shortest call-in <= end - start <= longest. Whoever is not
    called in has an empty shift. Example: call-in 180 min, in 8:00 to 14:00: 8:00 to 10:59
    is too short. `clock step`: start and end are whole steps, but for whoever is in already. House rules.
    """
    model, begun = day.model, dict(day.request.frozen.arrived) if day.request.frozen else {}
    kitchen = day.season.kitchen
    for asked in day.request.hands:
        name = asked.person
        hand, shortest = _bounds(day, asked, name in begun)
        low, high = hand.from_minute, hand.to_minute
        inside = model.new_bool_var(f"in {name}")
        if not comes(hand, shortest):
            model.add(inside == 0)
            high = low = day.opens
        steps = {begun.get(name, low), low, high, *range(step_from(kitchen, low), high + 1, kitchen.clock_step)}
        when = cp_model.Domain.from_values(sorted(steps))
        start = model.new_int_var_from_domain(when, f"from {name}")
        end = model.new_int_var_from_domain(when, f"to {name}")
        longest = max(0, min(hand.longest, high - low))
        lengths = cp_model.Domain.from_intervals([[0, 0], [min(shortest, longest), longest]])
        length = model.new_int_var_from_domain(lengths, f"length {name}")
        model.add(start + length == end)
        model.add(length >= min(shortest, longest) * inside)
        model.add(length <= longest * inside)
        model.add(start == low).only_enforce_if(~inside)
        if hand.must:
            model.add(inside == 1)
        day.people[name] = PersonVars(hand, inside, start, end, length)
        _meal_break(day, day.people[name], low, high)


def _bounds(day: Day, asked: Hand, begun: bool) -> tuple[Hand, int]:
    """Between what and how long a shift may be: in whole steps; for somebody who is in already in any minutes."""
    if not begun:
        return on_steps(day.season, asked, day.opens, day.closes), shortest_of(day.season, asked.person)
    low, high = max(asked.from_minute, day.opens), min(asked.to_minute, day.closes)
    shortest = max(1, day.season.person_by_name[asked.person].shortest_shift)
    return replace(asked, from_minute=low, to_minute=high), shortest


def _meal_break(day: Day, who: PersonVars, low: int, high: int) -> None:
    """`meal break`: nobody is in for more than so many minutes at a stretch.

    With a break [b, b + m): around <= b - start <= after and around <= end - (b + m) <= after; without one:
    end - start <= after. Example: after 300, break 30: a shift of 301 min needs a break.
    California Labor Code 512 is of this kind; the figures are the kitchen's own.
    """
    model, kitchen = day.model, day.season.kitchen
    after, minutes = kitchen.break_after_minutes, kitchen.break_minutes
    frozen = day.request.frozen
    here = frozen is not None and who.hand.person in dict(frozen.arrived)  # and may be sent home at any minute
    around = 0 if here else kitchen.around_break_minutes
    if min(high - low, who.hand.longest) <= after:
        return
    name = who.hand.person
    held = model.new_bool_var(f"break {name}")
    start = model.new_int_var(low, high, f"break from {name}")
    who.break_held, who.break_start = held, start
    who.break_interval = model.new_optional_fixed_size_interval_var(start, minutes, held, f"break of {name}")
    model.add_implication(held, who.inside)
    model.add(who.length <= after).only_enforce_if(~held)
    model.add(who.length >= after + 1).only_enforce_if(held)
    model.add(start - who.start <= after).only_enforce_if(held)
    model.add(start >= who.start + around).only_enforce_if(held)
    model.add(who.end - start <= after + minutes).only_enforce_if(held)
    model.add(start + minutes + around <= who.end).only_enforce_if(held)
    model.add(start == low).only_enforce_if(~held)


def give_job(day: Day, name: str, does: cp_model.IntVar, start: Time, minutes: int, label: str, pulls: int = 0) -> None:
    """Let a person do a piece of work of fixed length: it will take the person's time if done."""
    interval = day.model.new_optional_fixed_size_interval_var(start, minutes, does, label)
    day.people[name].jobs.append(Job(does, start, start + minutes, interval, minutes * does, minutes, pulls))


def add_roles(day: Day) -> None:
    """`role filled`, `young worker`: each role of each run has its number of able people, each in one role.

    sum over able p of does[run, role, p] = people. Example: rolling by 2: exactly two names.
    `leader stays`: the leading roles of a batch share one choice of person. House rules.
    """
    model = day.model
    for b, batch in enumerate(day.batches):
        leaders = _leaders(day, b)
        for r, run in enumerate(batch.runs):
            for role in run.need.roles:
                if role.leads:
                    picks = leaders
                else:
                    picks = {p: model.new_bool_var(f"does {b} {r} {role.name} {p}") for p in able(day, role)}
                    model.add(sum(picks.values()) == role.people)
                run.fills.append(picks)
                for p, does in picks.items():
                    give_job(day, p, does, run.start, run.need.minutes, f"job {b} {r} {role.name} {p}", role.pulls)


def _leaders(day: Day, b: int) -> dict[str, cp_model.IntVar]:
    """One choice of leader for a batch, among those able to fill every leading role."""
    roles = [role for run in day.batches[b].runs for role in run.need.roles if role.leads]
    if not roles:
        return {}
    names = set(able(day, roles[0])).intersection(*(able(day, role) for role in roles))
    picks = {h.person: day.model.new_bool_var(f"leads {b} {h.person}") for h in day.request.hands if h.person in names}
    day.model.add(sum(picks.values()) == 1)
    return picks


def add_duties(day: Day) -> None:
    """`opening duty`, `closing duty`: before the first batch and after the last batch and clean.

    opening end <= every pour; closing start >= every end. Example: opening 20 min by one
    from 8:00: no pour before 8:20. House rule.
    """
    kitchen = day.season.kitchen
    if not day.batches:
        return
    if kitchen.opening_minutes > 0 and kitchen.opening_people > 0:
        start = day.whole(day.opens, day.closes - kitchen.opening_minutes, "opening")
        end = start + kitchen.opening_minutes
        for batch in day.batches:
            day.model.add(end <= batch.pour)
        add_task(day, "opening", start, kitchen.opening_minutes, kitchen.opening_people)
    if kitchen.closing_minutes > 0 and kitchen.closing_people > 0:
        start = day.whole(day.opens, day.closes - kitchen.closing_minutes, "closing")
        for batch in day.batches:
            day.model.add(start >= batch.end)
        for task in day.tasks:
            if task.kind == "clean":
                day.model.add(start >= task.end)
        add_task(day, "closing", start, kitchen.closing_minutes, kitchen.closing_people)


def add_task(
    day: Day,
    kind: str,
    start: Time,
    minutes: int,
    people: int,
    skill: str = "",
    held: Time | None = None,
    note: str = "",
) -> None:
    """A duty of so many people for so many minutes; with ``held`` only where that is true."""
    picks = {p: day.model.new_bool_var(f"{kind} {note} {p}") for p in skilled(day, skill)}
    day.model.add(sum(picks.values()) == (people if held is None else people * held))
    for p, does in picks.items():
        give_job(day, p, does, start, minutes, f"task {kind} {note} {p}")
    day.tasks.append(TaskVars(kind, start, start + minutes, picks, held, note))


def add_one_job_at_a_time(day: Day) -> None:
    """`one job at a time`: jobs, packing and the break of a person never overlap and lie in the shift.

    No overlap of a person's intervals; shift start <= job start, job end <= shift end; the
    shift is as long as all of it together (implied, stated for the bound).
    Someone who is called in without ``must`` does at least one job. House rule.
    """
    model = day.model
    for who in day.people.values():
        intervals = [job.interval for job in who.jobs]
        if who.break_interval is not None:
            intervals.append(who.break_interval)
        model.add_no_overlap(intervals)
        busy = sum(job.minutes for job in who.jobs)
        if who.break_held is not None:
            busy += day.season.kitchen.break_minutes * who.break_held
        if who.idle_packing is not None:
            busy += who.idle_packing
        model.add(who.length >= busy)
        for job in who.jobs:
            model.add_implication(job.does, who.inside)
            model.add(job.start >= who.start).only_enforce_if(job.does)
            model.add(job.end <= who.end).only_enforce_if(job.does)
        if not who.hand.must and who.idle_packing is None:
            model.add_bool_or([job.does for job in who.jobs]).only_enforce_if(who.inside)


def add_pulls(day: Day) -> None:
    """`pulls a day`, `pull rest`: a person's pulls stay within the limit, with rest between two pulls.

    sum of pulls * does <= Hand.pulls; next pull starts >= end + rest. Example: limit 200,
    75 pulls a batch: two batches, not three. House rule: no published limit is known.
    """
    model, rest = day.model, day.season.kitchen.pull_rest_minutes
    for who in day.people.values():
        pulling = [job for job in who.jobs if job.pulls > 0]
        if sum(job.pulls for job in pulling) > who.hand.pulls:
            model.add(sum(job.pulls * job.does for job in pulling) <= who.hand.pulls)
        if rest > 0 and len(pulling) > 1:
            model.add_no_overlap(
                [
                    model.new_optional_fixed_size_interval_var(job.start, job.length + rest, job.does, "")
                    for job in pulling
                ]
            )
