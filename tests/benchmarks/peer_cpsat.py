"""CP-SAT alone: on counts of batches, or with one yes-or-no for each batch and day. Its own two threads, no more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from ortools.sat.python import cp_model
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Board, Wish
from scheduler.models.counts.demand import (
    add_fills,
    add_material,
    add_packing,
    add_windows,
    made_until,
    shortfall,
    stock_of,
)
from scheduler.models.counts.making import add_day_limits, add_making_pins, add_shows
from scheduler.models.counts.people import (
    add_days_in_a_row,
    add_heads,
    add_packing_places,
    add_pulls,
    add_shifts,
    add_week_hours,
    add_weekly_pulls,
    add_work,
)
from scheduler.models.counts.solve import build, read
from scheduler.models.facts import Facts
from scheduler.models.solvers.engine import Answer, Status
from tests.benchmarks.ground import THREADS, Ground, demand_of


def set_limits(ground: Ground, guided: bool) -> DayLimits:
    """What days hold: proven caps only, or (``guided``) with the planner's first allowance for waiting."""
    limits = ground.limits
    limits.usual_idle, limits.batch_idle = (10, 60) if guided else (0, 0)
    if guided:
        limits.prepare()
    return limits


def counts(ground: Ground, guided: bool = False) -> Callable[[Any], Wish]:
    """Our season model as it is, without the loop."""
    board = build(ground.facts, set_limits(ground, guided))
    search(ground, board, bound_holds=not guided)
    return lambda found: read(board, found)


def labelled(ground: Ground, guided: bool = False) -> Callable[[Any], Wish]:
    """The same rules with batches that have names: at[batch, day] is yes or no, each batch at most once."""
    limits = set_limits(ground, guided)
    board = Board(ground.facts)
    add_labelled_making(board, limits)
    for add in (
        lambda b: add_day_limits(b, limits), add_shows, add_making_pins, add_fills, add_windows, add_packing,
        add_material, add_shifts, add_week_hours, add_days_in_a_row, add_pulls, add_weekly_pulls,
        lambda b: add_work(b, limits), add_packing_places, add_heads,
    ):  # fmt: skip
        add(board)
    search(ground, board, bound_holds=not guided)
    return lambda found: read_labelled(board, found)


def add_labelled_making(board: Board, limits: DayLimits) -> None:
    """Batches by name; what the other rules read as a count is the sum of a day's names."""
    facts, model = board.facts, board.model
    for design, count in batches_wanted(facts).items():
        days = [t for t in facts.makeable[design] if limits.most_of(t, design) > 0]
        at = {(i, t): model.new_bool_var(f"{design} {i} on {t}") for i in range(count) for t in days}
        for i in range(count):
            model.add_at_most_one(at[i, t] for t in days)
        total: Any = 0
        for t in days:
            board.make[design, t] = sum(at[i, t] for i in range(count))  # type: ignore[assignment]
            running = model.new_int_var(0, count, f"made {design} {t}")
            model.add(running == total + board.make[design, t])
            board.made.setdefault(design, []).append((t, running))
            total = running
        made_until(board, design)  # finds the totals above
    for t in facts.days:
        board.making[t] = model.new_bool_var(f"making {t}")
        model.add(board.batches(t) <= limits.most_at(t) * board.making[t])
        model.add(board.making[t] <= board.batches(t))


def batches_wanted(facts: Facts) -> dict[str, int]:
    """Batches of each design that all orders together could use, and one for the shows."""
    out = {}
    for design, lines in facts.wanted.items():
        pieces = sum(line.packs * w.pieces for line in lines for w in line.windows if w.design == design)
        pieces -= sum(pieces for _, pieces in stock_of(facts, design))
        out[design] = 1 - min(0, -pieces // facts.season.design_by_name[design].pieces)
    return out


def read_labelled(board: Board, found: Answer) -> Wish:
    """The wish of the other variables, with the batches counted."""
    batches: dict[int, list[str]] = {}
    for (design, t), names in board.make.items():
        batches.setdefault(t, []).extend([design] * found.value(names))
    bare = read(replace(board, make={}), found)
    return replace(bare, batches={t: tuple(sorted(names)) for t, names in sorted(batches.items()) if names})


def search(ground: Ground, board: Board, bound_holds: bool) -> None:
    """Shows before shortfall in one sum, until the time is over; the best at each mark is kept."""
    shows = 1 + demand_of(ground.facts)
    missed = sum(1 - held for held in board.held.values())
    board.model.minimize(shows * missed + shortfall(board))
    if ground.left <= 0:
        return
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = THREADS
    solver.parameters.random_seed = 7
    solver.parameters.max_time_in_seconds = ground.left
    news = _News(ground, shows, bound_holds)
    solver.best_bound_callback = news.bounded
    if solver.solve(board.model, news) == cp_model.OPTIMAL:
        news.bounded(solver.best_objective_bound)


@dataclass
class _Best:
    short: int | None = None
    missed: int = 0


class _News(cp_model.CpSolverSolutionCallback):
    """Passes on what CP-SAT finds and proves."""

    def __init__(self, ground: Ground, shows: int, bound_holds: bool) -> None:
        super().__init__()
        self.ground, self.shows, self.bound_holds, self.best = ground, shows, bound_holds, _Best()

    def on_solution_callback(self) -> None:
        self.best.missed, self.best.short = divmod(round(self.objective_value), self.shows)
        values = dict(enumerate(self.response_proto.solution))
        self.ground.keep(Answer(Status.FEASIBLE, None, None, values))
        self.ground.step(self.best.short)

    def bounded(self, value: float) -> None:
        """No plan that misses no more shows is less short than what the bound leaves."""
        if self.bound_holds and self.best.short is not None:
            bound = round(value + 0.499) - self.shows * self.best.missed
            if bound > (-1 if self.ground.bound is None else self.ground.bound):
                self.ground.step(self.best.short, bound)
