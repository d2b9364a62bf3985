"""From a solution of the day model to a DayPlan: batches with ids and places, tasks, packing, shifts."""

from __future__ import annotations

import heapq
from typing import cast

from scheduler.models.day.packing import PackPiece, Stretch
from scheduler.models.day.work import Day
from scheduler.models.solvers.engine import Answer
from scheduler.plan.types import Batch, DayPlan, PackRun, Shift, StageRun, Task, TaskKind
from scheduler.season.rules import shows_on

RunKey = tuple[int, int]  # batch, run


def read_plan(day: Day, answer: Answer, pieces: list[PackPiece], proven: bool) -> DayPlan:
    """The day as decided, with place numbers and batch ids in order of the pour."""
    shows = shows_on(day.season, day.request.day)
    bench = day.season.kitchen.packing_station
    places, bench_places = _places(day, answer, pieces)
    order = sorted(range(len(day.batches)), key=lambda b: (answer.value(day.batches[b].pour), b))
    batches = []
    for number, b in enumerate(order, start=1):
        vars_ = day.batches[b]
        runs = tuple(
            StageRun(
                run.need.name,
                run.need.station,
                places[b, r],
                answer.value(run.start),
                answer.value(run.end),
                tuple(
                    (role.name, p)
                    for role, picks in zip(run.need.roles, run.fills, strict=True)
                    for p, does in picks.items()
                    if answer[does]
                ),
            )
            for r, run in enumerate(vars_.runs)
        )
        show = next((shows[s].name for s, there in vars_.shows.items() if answer[there]), "")
        batches.append(Batch(f"{day.request.day:%m%d}-{number}", vars_.design.name, runs, show))
    packing = tuple(
        PackRun(piece.product, piece.packs, piece.person, place, piece.starts, piece.ends)
        for piece, place in zip(pieces, bench_places, strict=True)
    )
    return DayPlan(
        day=day.request.day,
        batches=tuple(batches),
        tasks=_tasks(day, answer, places),
        packing=tuple(sorted(packing, key=lambda p: (p.starts, p.place))) if bench else (),
        shifts=_shifts(day, answer),
        missed_shows=tuple(shows[s].name for s, missed in day.missed.items() if answer[missed]),
        proven=proven,
    )


def stretches(day: Day, answer: Answer) -> list[Stretch]:
    """The stretches of packing in a solution."""
    return [Stretch(b.person, answer[b.start], answer[b.start] + answer[b.size]) for b in day.blocks if answer[b.held]]


def _shifts(day: Day, answer: Answer) -> tuple[Shift, ...]:
    minutes = day.season.kitchen.break_minutes
    out = []
    for name, who in day.people.items():
        if not answer[who.inside]:
            continue
        held = who.break_held is not None and bool(answer[who.break_held])
        rest = answer[who.break_start] if held and who.break_start is not None else None
        out.append(Shift(name, answer[who.start], answer[who.end], rest, None if rest is None else rest + minutes))
    return tuple(out)


def _tasks(day: Day, answer: Answer, places: dict[RunKey, int]) -> tuple[Task, ...]:
    followed = {before: after for before, after, follows in day.after_clean if answer[follows]}
    out = []
    for task in day.tasks:
        if task.held is not None and not answer.value(task.held):
            continue
        people = tuple(p for p, does in task.people.items() if answer[does])
        note, place = task.note, 0
        if task.run is not None:
            place = places[task.run]
            after = followed.get(task.run)
            before = day.batches[task.run[0]].design.name
            note = f"{before} to {day.batches[after[0]].design.name}" if after else f"{before}, end of day"
        starts, ends = answer.value(task.start), answer.value(task.end)
        out.append(Task(cast(TaskKind, task.kind), starts, ends, people, task.station, place, note))
    return tuple(sorted(out, key=lambda t: (t.starts, t.ends, t.kind, t.station, t.place)))


def _places(day: Day, answer: Answer, pieces: list[PackPiece]) -> tuple[dict[RunKey, int], list[int]]:
    """Place numbers: routes where the model ordered the runs, first free place elsewhere."""
    places: dict[RunKey, int] = {}
    bench: list[int] = [0] * len(pieces)
    for station in day.season.places:
        runs = [
            ((b, r), answer.value(run.start), answer.value(run.end))
            for b, batch in enumerate(day.batches)
            for r, run in enumerate(batch.runs)
            if run.need.station == station
        ]
        runs.sort(key=lambda x: (x[1], x[0]))
        packs = pieces if station == day.season.kitchen.packing_station else []
        spans = [(piece.starts, piece.ends, (-1, n), n) for n, piece in enumerate(packs)]
        taken = 0
        if station in day.routes:
            taken = _route_places(day, answer, runs, places)
            if day.season.places[station] == 1:
                taken = 0
        else:
            spans += [(s, e, key, -1) for key, s, e in runs]
        first_free(sorted(spans), places, bench, taken)
    return places, bench


def first_free(
    spans: list[tuple[int, int, RunKey, int]], places: dict[RunKey, int], bench: list[int], made: int
) -> None:
    """Give each span the lowest place after ``made`` that is free; a batch that goes on keeps its place."""
    busy: list[tuple[int, int]] = []  # (free from, place)
    free: list[int] = []
    for starts, ends, key, pack in spans:
        while busy and busy[0][0] <= starts:
            heapq.heappush(free, heapq.heappop(busy)[1])
        kept = places.get((key[0], key[1] - 1)) if pack < 0 else None
        if kept is not None and kept in free and _goes_on(spans, key, starts):
            free.remove(kept)
            heapq.heapify(free)
            place = kept
        elif free:
            place = heapq.heappop(free)
        else:
            made += 1
            place = made
        heapq.heappush(busy, (ends, place))
        if pack >= 0:
            bench[pack] = place
        else:
            places[key] = place


def _goes_on(spans: list[tuple[int, int, RunKey, int]], key: RunKey, starts: int) -> bool:
    """Whether the run before of the same batch was at this station and ended at this minute."""
    return any(other == (key[0], key[1] - 1) and ends == starts for _, ends, other, _ in spans)


def _route_places(day: Day, answer: Answer, runs: list[tuple[RunKey, int, int]], places: dict[RunKey, int]) -> int:
    """Follow the routes: a visit that follows another takes its place, a first one opens the next place."""
    came_from = {after: before for before, after, follows in day.after_clean if answer[follows]}
    used = 0
    for key, _, _ in runs:
        before = came_from.get(key)
        earlier = (key[0], key[1] - 1)
        if before is not None:
            places[key] = places[before]
        elif earlier in places and _same_visit(day, key):
            places[key] = places[earlier]
        else:
            used += 1
            places[key] = used
    return used


def _same_visit(day: Day, key: RunKey) -> bool:
    """Whether a run goes on, without a wait, where the run before it of its batch was."""
    before, run = day.batches[key[0]].runs[key[1] - 1].need, day.batches[key[0]].runs[key[1]].need
    return before.station == run.station and run.wait_to == 0
