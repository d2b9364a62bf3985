"""The season model whole: build it, hint it, solve it stage by stage, read what days are asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Board, Expression, Wish
from scheduler.models.counts.demand import add_fills, add_material, add_packing, add_windows, shortfall
from scheduler.models.counts.heads import Heads, add_heads_room
from scheduler.models.counts.known import add_known
from scheduler.models.counts.making import (
    add_crew_cuts,
    add_cuts,
    add_day_limits,
    add_making,
    add_making_pins,
    add_settled,
    add_shows,
)
from scheduler.models.counts.people import (
    add_days_in_a_row,
    add_heads,
    add_packing_places,
    add_pulls,
    add_shifts,
    add_week_hours,
    add_weekly_pulls,
    add_work,
    paid,
)
from scheduler.models.facts import Facts
from scheduler.models.solvers.engine import Answer, Status
from scheduler.models.solvers.linear import MipLimits, job, side_by_side
from scheduler.plan.types import DayPlan
from scheduler.season import rules

PIECE = 15_000  # what a weighted piece weighs in labour cost: about an hour and a half


@dataclass(frozen=True)
class SeasonAnswer:
    """What the season model found: a wish for each day, values of the stages, and statuses."""

    status: Status
    wish: Wish | None
    shortfall: int | None


def build(
    facts: Facts,
    limits: DayLimits,
    settled: Mapping[int, DayPlan] | None = None,
    known: Mapping[int, Sequence[DayPlan]] | None = None,
    heads: Heads | None = None,
) -> Board:
    """The whole season model, one rule group after the other.

    ``settled`` days stay as they are; ``known`` are days that fit, offered to the free ones;
    ``heads`` tells guesses how much so many people get done.
    """
    board = Board(facts, settled or {})
    shows = [show for today in facts.shows.values() for show in today]
    fitting = {d.name for d in facts.season.designs if any(rules.fits_show(d, show) for show in shows)}
    add_making(board, limits, frozenset(fitting))
    add_shows(board)
    add_fills(board)
    add_packing(board)
    _add_days(board, limits, known or {}, heads)
    add_making_pins(board)
    add_windows(board)
    add_material(board)
    add_week_hours(board)
    add_weekly_pulls(board)
    add_days_in_a_row(board)
    add_packing_places(board)
    add_settled(board)
    return board


def _add_days(
    board: Board, limits: DayLimits, known: Mapping[int, Sequence[DayPlan]], heads: Heads | None
) -> None:  # fmt: skip
    """What a free day holds that may be a guess: who comes in, and the work that they get done."""
    add_shifts(board)
    add_known(board, known)
    add_day_limits(board, limits)
    add_cuts(board, limits)
    add_pulls(board)
    add_work(board, limits)
    if heads is not None:
        add_heads_room(board, heads)
    add_heads(board)
    add_crew_cuts(board, limits)


def goal(board: Board) -> Expression:
    """Least shortfall; among plans alike the cheaper: a piece weighs more than an hour of anyone."""
    return PIECE * shortfall(board) + labour(board)


def labour(board: Board) -> Expression:
    """Labour cost of the season in sixtieths of ten cents: wages, overtime on top, lateness.

    Per person and ISO week: wage * paid + wage * (percent - 100) / 100 * (paid - contracted)+.
    """
    facts = board.facts
    total: Expression = 0
    for week, days in facts.weeks.items():
        for person in facts.season.crew:
            terms = [paid(board, person.name, t) for t in days if (person.name, t) in board.shift]
            if not terms:
                continue
            wage = max(1, person.wage_cents // 10)
            total = total + wage * sum(terms)
            most = rules.week_limit(person) - person.contracted_minutes
            if person.overtime and most > 0:
                over = board.model.new_int_var(0, most, f"over {person.name} {week}")
                board.model.add(over >= sum(terms) - person.contracted_minutes)
                total = total + wage * max(0, person.overtime_percent - 100) // 100 * over
    for line in facts.demand.lines:
        if line.id in board.late and line.late is not None:
            total = total + 6 * line.late.cents * board.late[line.id]
    return total


@dataclass(frozen=True)
class Question:
    """A season model for HiGHS; ``hints``: a plan that works and misses so many shows, by main variables."""

    board: Board
    search: MipLimits
    hints: Mapping[cp_model.IntVar, int]
    missed: int


def guides(asked: Sequence[Question], workers: int = 1) -> list[SeasonAnswer]:
    """Shows first, then the goal.

    Batches and who comes in are whole; packs and minutes may be fractional and are rounded: three times as fast
    (measured on the demo), and days are fitted to the minute in any case.
    """
    jobs = []
    _hold_shows([q for q in asked if q.board.held], workers)
    for q in asked:
        q.board.model.minimize(goal(q.board))
        make, up = q.board.make.values(), (*q.board.pack.values(), *q.board.shift.values())
        jobs.append(job(q.board.model, replace(q.search, gap=PIECE * q.search.gap), q.hints, make, up))
    answers = side_by_side(jobs, workers)
    return [
        SeasonAnswer(a.status, read(q.board, a), evaluate(shortfall(q.board), a)) if a.status.solved
        else SeasonAnswer(a.status, None, None)
        for q, a in zip(asked, answers, strict=True)
    ]  # fmt: skip


def _hold_shows(asked: Sequence[Question], workers: int) -> None:
    """No more shows are missed than must be, as far as HiGHS finds."""
    missing = [q for q in asked if q.missed]
    for q in missing:
        q.board.model.maximize(sum(q.board.held.values()))
    found = side_by_side([job(q.board.model, replace(q.search, gap=0.5), q.hints) for q in missing], workers)
    more = {id(q): a for q, a in zip(missing, found, strict=True) if a.status.solved}
    for q in asked:
        held = sum(q.board.held.values())
        at_least = evaluate(held, more[id(q)]) if id(q) in more else len(q.board.held) - q.missed
        q.board.model.add(held >= at_least)


def evaluate(expression: Expression, answer: Answer) -> int:
    """Value of a linear expression in an answer."""
    if isinstance(expression, int):
        return expression
    return answer.value(expression)


def read(board: Board, answer: Answer) -> Wish:
    """What an answer asks of each day."""
    facts = board.facts
    batches: dict[int, list[str]] = {}
    packing: dict[int, list[tuple[str, int]]] = {}
    shift: dict[int, list[tuple[str, int]]] = {}
    for (design, t), var in board.make.items():
        batches.setdefault(t, []).extend([design] * answer[var])
    for (product, t), var in board.pack.items():
        if answer[var]:
            packing.setdefault(t, []).append((product, answer[var]))
    for (name, t), minutes in board.shift.items():
        comes = board.comes.get((name, t), minutes)
        if answer[comes]:
            shortest = rules.shortest_shift(facts.season, facts.person(name))
            shift.setdefault(t, []).append((name, max(answer[minutes], shortest)))
    held: dict[int, set[str]] = {}
    for (t, show), var in board.held.items():
        if answer[var]:
            held.setdefault(t, set()).add(show)
    return Wish(
        {t: tuple(sorted(names)) for t, names in sorted(batches.items()) if names},
        {t: tuple(sorted(packs)) for t, packs in sorted(packing.items())},
        {t: tuple(people) for t, people in sorted(shift.items())},
        {t: frozenset(names) for t, names in held.items()},
        {line.id: answer[board.fill[line.id]] for line in facts.demand.lines},
        {line: answer[var] for line, var in board.late.items()},
    )
