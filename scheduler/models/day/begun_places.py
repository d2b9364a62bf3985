"""Place numbers of a day that has begun: what began stays where it is, and the rest takes the places around it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from scheduler.plan.types import Batch, DayPlan, PackRun, StageRun, Task
from scheduler.season.types import Season

Key = tuple[str, int]  # batch and number of the run, or "" and number of the pack run


def on_their_places(season: Season, was: DayPlan, now: int, fitted: DayPlan) -> DayPlan:
    """The fitted day with the places of what began before ``now`` as they were, and all others around them.

    Where batches follow each other on a place as they did, its number alone changes, with cleans and all; else each
    gets the lowest place that is free. Example: in progress on table 2 as table 1 of the fitted day: 1 and 2 change.
    """
    begun = {(b.id, k): r for b in was.batches for k, r in enumerate(b.runs) if r.starts < now}
    runs: dict[str, dict[Key, StageRun | PackRun]] = defaultdict(dict)
    for batch in fitted.batches:
        for k, run in enumerate(batch.runs):
            runs[run.station][batch.id, k] = run
    for n, pack in enumerate(fitted.packing):
        runs[season.kitchen.packing_station]["", n] = pack
    places: dict[Key, int] = {}
    numbers: dict[tuple[str, int], int] = {}
    for station, here in runs.items():
        fixed = {key: begun[key].place for key in here if key in begun}
        other = _renamed({key: run.place for key, run in here.items()}, fixed, season.places[station])
        if other is None:
            places |= _lowest_free(here, fixed, season.places[station])
        else:
            places |= {key: other[run.place] for key, run in here.items()}
            numbers |= {(station, place): number for place, number in other.items()}
    return replace(
        fitted,
        batches=tuple(_batch(batch, places) for batch in fitted.batches),
        packing=tuple(replace(run, place=places["", n]) for n, run in enumerate(fitted.packing)),
        tasks=tuple(_task(task, numbers) for task in fitted.tasks),
    )


def _batch(batch: Batch, places: dict[Key, int]) -> Batch:
    return replace(batch, runs=tuple(replace(run, place=places[batch.id, k]) for k, run in enumerate(batch.runs)))


def _task(task: Task, numbers: dict[tuple[str, int], int]) -> Task:
    return replace(task, place=numbers.get((task.station, task.place), task.place))


def _renamed(had: dict[Key, int], fixed: dict[Key, int], most: int) -> dict[int, int] | None:
    """Other numbers for the places, so that all runs lie where they are fixed; None where no such numbers are."""
    out: dict[int, int] = {}
    for key, place in fixed.items():
        if out.setdefault(had[key], place) != place:
            return None
    if len(set(out.values())) < len(out):
        return None
    left = [n for n in range(1, most + 1) if n not in out.values()]
    return out | dict(zip(sorted(set(had.values()) - set(out)), left, strict=False))


def _lowest_free(here: dict[Key, StageRun | PackRun], fixed: dict[Key, int], most: int) -> dict[Key, int]:
    """The place of the run before of the same batch, if it goes on there, or the lowest that is free, by start."""
    out = dict(fixed)
    for key, run in sorted(here.items(), key=lambda item: (item[1].starts, item[0])):
        if key not in out:
            taken = {out[k] for k, r in here.items() if k in out and r.starts < run.ends and run.starts < r.ends}
            free = [n for n in range(1, most + 1) if n not in taken]
            before = out.get((key[0], key[1] - 1)) if key[0] else None
            out[key] = before if before in free else free[0]
    return out
