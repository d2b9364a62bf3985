"""People: who comes in, for how long, within week hours, days in a row, pulls and skills."""

from __future__ import annotations

from ortools.sat.python import cp_model
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Board, Expression
from scheduler.models.counts.known import (
    guessed_making,
    guessed_show,
    guessed_time,
    idle_there,
)
from scheduler.models.facts import unions
from scheduler.plan.summary import paid_minutes, pulls_by_person
from scheduler.season import rules


def add_shifts(board: Board) -> None:
    """`call-in`, `presence`, `pins`: a shift is 0, or from the shortest call-in to what the day allows.

    shortest * comes <= shift <= longest * comes. Example: 180 to 540 minutes, or not in.
    A shift longer than the kitchen's stretch has a break (`meal break`).
    """
    facts, model = board.facts, board.model
    after = facts.season.kitchen.break_after_minutes
    for t in facts.days:
        for name, stretch in facts.hands[t].items():
            shortest = rules.shortest_shift(facts.season, facts.person(name))
            comes = model.new_bool_var(f"in {name} {t}")
            shift = model.new_int_var(0, stretch.longest, f"shift {name} {t}")
            model.add(shift >= shortest).only_enforce_if(comes)
            model.add(shift <= stretch.longest * comes)
            board.comes[name, t], board.shift[name, t] = comes, shift
            if stretch.longest > after:
                rest = model.new_bool_var(f"break {name} {t}")
                model.add(shift <= after + (stretch.longest - after) * rest)
                model.add(shift >= (after + 1) * rest)
                board.rests[name, t] = rest
            if (name, t) in facts.called:
                model.add(comes == 1)


def paid(board: Board, name: str, t: int) -> Expression:
    """Paid minutes of a person on a day: the shift less an unpaid break."""
    kitchen = board.facts.season.kitchen
    rest = board.rests.get((name, t))
    if rest is None or kitchen.break_paid:
        return board.shift[name, t]
    return board.shift[name, t] - kitchen.break_minutes * rest


def working(board: Board, name: str, t: int) -> Expression:
    """Minutes of a shift in which a person can work: the shift less the break."""
    rest = board.rests.get((name, t))
    if rest is None:
        return board.shift[name, t]
    return board.shift[name, t] - board.facts.season.kitchen.break_minutes * rest


def add_week_hours(board: Board) -> None:
    """`week hours`: paid minutes in an ISO week <= the person's limit.

    Example: 40 h contracted, no overtime: 2,400 minutes. Days already decided count.
    """
    facts = board.facts
    for week, days in facts.weeks.items():
        for person in facts.season.crew:
            terms = [paid(board, person.name, t) for t in days if (person.name, t) in board.shift]
            if terms:
                limit = rules.week_limit(person) - done_paid(board, person.name, week)
                board.model.add(sum(terms) <= max(0, limit))


def done_paid(board: Board, name: str, week: tuple[int, int]) -> int:
    """Paid minutes of a person in a week on days already decided, with the breaks that were had."""
    facts = board.facts
    return sum(
        paid_minutes(facts.season, shift)
        for t, day in facts.done_by_index.items()
        if facts.week(t) == week
        for shift in day.shifts
        if shift.person == name
    )


def add_days_in_a_row(board: Board) -> None:
    """`days in a row`: in any n + 1 calendar days, shifts on at most n.

    Example: n = 6: of seven consecutive days at least one is free.
    """
    facts = board.facts
    most = facts.season.kitchen.days_in_a_row
    worked = {(s.person, t) for t, day in facts.done_by_index.items() for s in day.shifts}
    for person in facts.season.crew:
        name = person.name
        for first in range(-most, facts.season.day_count - most):
            span = range(first, first + most + 1)
            terms = [board.comes[name, t] for t in span if (name, t) in board.comes]
            past = sum((name, t) in worked for t in span)
            if len(terms) + past > most and terms:
                board.model.add(sum(terms) <= most - past)


def add_pulls(board: Board) -> None:
    """`pulls a day`, `pulls a week`: pulls charged by the roles filled stay within the limits.

    For each pulling role: sum of people's runs = people * batches; pulls * runs <= limit.
    Example: 75 pulls a load, 150 a day: two one-load batches.
    """
    facts, model = board.facts, board.model
    charged: dict[tuple[str, int], list[Expression]] = {}
    for t in facts.days:
        groups: dict[rules.RoleNeed, list[str]] = {}
        for design in [d for d, day in board.make if day == t]:
            for role, _people in facts.pulls_of(design):
                groups.setdefault(role, []).append(design)
        for number, (role, designs) in enumerate(groups.items()):
            runs = []
            for name in sorted(facts.able(t, role)):
                limit = facts.person(name).pulls_day // role.pulls
                if limit > 0:
                    count = model.new_int_var(0, limit, f"pulls {number} {name} {t}")
                    model.add(count <= limit * board.comes[name, t])
                    runs.append(count)
                    board.pulling[f"{number}", name, t] = count
                    charged.setdefault((name, t), []).append(role.pulls * count)
            model.add(sum(runs) == role.people * board.batches(t, designs))
    for key, terms in charged.items():
        board.pulls[key] = sum(terms)
        if len(terms) > 1:
            model.add(sum(terms) <= facts.person(key[0]).pulls_day)


def add_weekly_pulls(board: Board) -> None:
    """`pulls a week`: those of the days of an ISO week. Days already decided count."""
    facts = board.facts
    for week, days in facts.weeks.items():
        for person in facts.season.crew:
            terms = [board.pulls[person.name, t] for t in days if (person.name, t) in board.pulls]
            if terms:
                past = done_pulls(board, person.name, week)
                board.model.add(sum(terms) <= max(0, person.pulls_week - past))


def done_pulls(board: Board, name: str, week: tuple[int, int]) -> int:
    """Pulls of a person in a week on days already decided."""
    facts = board.facts
    return sum(
        pulls_by_person(facts.season, day).get(name, 0)
        for t, day in facts.done_by_index.items()
        if facts.week(t) == week
    )


def add_work(board: Board, limits: DayLimits) -> None:
    """`role filled`, `one job at a time` summed over a day: work fits the time of those able to do it.

    For each set U of people (unions of who can do something): minutes of work that only U
    can do <= working minutes of U (Hall, Gale). Example: 5 batches with 90 minutes of
    building, two builders in for 8 hours: 450 <= 960. A learnt share of the time is idle.
    """
    facts, model = board.facts, board.model
    for t in board.free:
        work: dict[frozenset[str], list[Expression]] = {}
        for design in [d for d, day in board.make if day == t]:
            for load in facts.loads_of(design, t):
                work.setdefault(load.able, []).append(load.minutes * board.guessed(t, [design]))
        everyone = frozenset(facts.hands[t])
        for people, minutes in facts.duties():
            work.setdefault(everyone, []).append(people * minutes * guessed_making(board, t))
        for show in facts.shows.get(t, ()):
            able = facts.skilled(t, show.extra_skill)
            extra = show.extra_people * show.extra_minutes
            work.setdefault(able, []).append(extra * guessed_show(board, t, show.name))
        packers = facts.skilled(t, facts.season.kitchen.packing_skill)
        seconds = packing_seconds(board, t)
        useful = 100 - limits.idle_percent(t)
        time = {name: guessed_time(board, name, t) for name in sorted(everyone)}
        batch_work = sum(term for terms in work.values() for term in terms)
        model.add((100 + limits.batch_idle) * batch_work <= 100 * sum(time.values()))
        for group in unions([*work, packers]):
            inside = sum(term for able, terms in work.items() if able <= group for term in terms)
            there = sum(time[name] for name in sorted(group))
            if packers <= group and seconds:
                idle = idle_there(board, t, packers)
                model.add(5 * (60 * inside + sum(seconds)) <= 3 * useful * there + 300 * idle)
            elif any(able <= group for able in work):
                model.add(100 * inside <= useful * there)


def packing_seconds(board: Board, t: int) -> list[cp_model.LinearExpr | int]:
    products = board.facts.season.product_by_name
    return [products[p].packing_seconds * var for (p, day), var in board.pack.items() if day == t]


def add_packing_places(board: Board) -> None:
    """`station places` at the packing bench: packing minutes of a day <= places * opening minutes."""
    facts = board.facts
    places = facts.season.places.get(facts.season.kitchen.packing_station, 0)
    for t in board.free:
        hours = facts.hours(t)
        seconds = packing_seconds(board, t)
        if hours is not None and seconds:
            board.model.add(sum(seconds) <= 60 * places * (hours[1] - hours[0]))


def add_heads(board: Board) -> None:
    """At least as many people come in as a batch needs at once: heads * making <= sum of comes."""
    facts = board.facts
    for t in board.free:
        designs = [d for d, day in board.make if day == t]
        if designs:
            least = min(facts.heads(d) for d in designs)
            board.model.add(sum(board.comes[n, t] for n in facts.hands[t]) >= least * board.making[t])
