"""The search for one day as a piece of work that another process can be given."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

from scheduler.models.day.by_hand import TRIES
from scheduler.models.day.fit import fit_day
from scheduler.models.day.pack_in import pack_in
from scheduler.models.day.shifts import trimmed
from scheduler.models.day.solve import Want
from scheduler.models.solvers.engine import Limits
from scheduler.models.solvers.spread import spread
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan
from scheduler.season.types import Season

CHUNKS = 4  # pieces of work for each process: days differ much in what they take


@dataclass(frozen=True)
class How:
    """``effort`` for each day at most, until a reading of the monotonic clock; ``hard``: where packs find no room
    beside the batches, the day model looks for another day. ``tries`` by hand at most.
    """

    effort: float
    until: float
    want: Want
    hard: bool
    tries: int = TRIES


@dataclass(frozen=True)
class DayTask:
    """``bare``: a day with these batches that is there already, without packing; ``hopeless``: none was found."""

    asked: DayRequest
    bare: DayPlan | None
    hopeless: bool


def do_task(season: Season, task: DayTask, how: How) -> DayPlan | None:
    """A day that does what is asked, in the time there is; None where none was found."""
    asked, plan = task.asked, task.bare
    if plan is None and not task.hopeless:
        found = _fitted(season, replace(asked, packing=()), how)
        plan = None if found is None else trimmed(season, found, asked.hands)
    if plan is None or not asked.packing:
        return plan
    packed = pack_in(season, asked, plan)
    if packed is not None or not how.hard:
        return packed
    return _fitted(season, asked, how)


def do_tasks(season: Season, tasks: Sequence[DayTask], how: How, processes: int) -> list[DayPlan | None]:
    """The same for several days, side by side in processes."""
    size = max(1, CHUNKS * processes)
    chunks = [(season, tasks[first::size], how) for first in range(min(size, len(tasks)))]
    out: list[DayPlan | None] = [None] * len(tasks)
    for first, plans in spread(_chunk, chunks, processes):
        out[first::size] = plans
    return out


def _chunk(work: tuple[Season, Sequence[DayTask], How]) -> list[DayPlan | None]:
    season, tasks, how = work
    return [do_task(season, task, how) for task in tasks]


def _fitted(season: Season, asked: DayRequest, how: How) -> DayPlan | None:
    left = how.until - time.monotonic()
    if left <= 0:
        return None
    limits = Limits(effort=how.effort, seconds=None if left == math.inf else left, confirm=False)
    return fit_day(season, asked, limits, how.want, tries=how.tries).plan
