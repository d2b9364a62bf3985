"""The rest of a day that has begun: what happened is fixed, whoever left is replaced from now on.

The same rules as in ``day.fit``; ``freeze`` ties down all that began before ``Frozen.now``.
Somebody who left keeps what they had finished, and does nothing more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from ortools.sat.python import cp_model
from scheduler.models.day.begun_places import on_their_places
from scheduler.models.day.fit import add_limits_of_people, add_work
from scheduler.models.day.work import Day, Job, RunVars, TaskVars, new_day
from scheduler.plan.request import DayRequest, Frozen
from scheduler.plan.types import Batch, DayPlan, Shift, StageRun, Task
from scheduler.season.rules import shows_on
from scheduler.season.types import Season

MANY_PULLS = 10**6  # of somebody who left: their pulls are done and not counted again


def build_rest(season: Season, request: DayRequest, match: dict[int, Batch]) -> Day | None:
    """The model of the rest of a day; ``match`` is model batch -> batch of the day as it was."""
    day = new_day(season, request)
    if day is None or request.frozen is None:
        return None
    add_work(day)
    _Freezer(day, request.frozen, match).freeze()
    add_limits_of_people(day)
    return day


def left_already(frozen: Frozen) -> frozenset[str]:
    """People who can do nothing more today."""
    return frozenset(name for name, _ in frozen.gone)


@dataclass
class _Freezer:
    day: Day
    frozen: Frozen
    match: dict[int, Batch]

    def freeze(self) -> None:
        self.now, self.gone = self.frozen.now, left_already(self.frozen)
        for b in range(len(self.day.batches)):
            self._batch(b)
        self._routes()
        for task in self.day.tasks:
            self._task(task)
        for block in self.day.blocks:
            self.day.model.add(block.start >= self.now).only_enforce_if(block.held)
        self._shows()
        self._people()

    def _batch(self, b: int) -> None:
        batch, old, model = self.day.batches[b], self.match.get(b), self.day.model
        if old is None or old.pour >= self.now:
            model.add(batch.pour >= self.now)
            return
        model.add(batch.pour == old.pour)
        runs = {r.stage: r for r in old.runs}
        for run in batch.runs:
            before = runs.get(run.need.name)
            if before is None or before.starts >= self.now:
                model.add(run.start >= self.now)
                continue
            model.add(run.start == before.starts)
            self._crew(run, before, leading=self._leading(b))

    def _routes(self) -> None:
        """What began at a station that is cleaned follows, on its place, what it followed there."""
        begun = {
            (b, r): old
            for b, was in self.match.items()
            for r, run in enumerate(self.day.batches[b].runs)
            for old in was.runs if old.stage == run.need.name and old.starts < self.now
        }  # fmt: skip
        followed = {}
        for key, run in begun.items():
            earlier = [
                (old.ends, other) for other, old in begun.items()
                if (old.station, old.place) == (run.station, run.place) and old.ends <= run.starts
            ]  # fmt: skip
            followed[key] = max(earlier)[1] if earlier else None
        for before, after, follows in self.day.after_clean:
            if after in followed:
                self.day.model.add(follows == int(followed[after] == before))

    def _leading(self, b: int) -> bool:
        """Whether a batch still needs a leader: not where all that is led was over by now."""
        old = {r.stage: r for r in self.match[b].runs}
        led = [run.need.name for run in self.day.batches[b].runs if any(role.leads for role in run.need.roles)]
        return any(old[stage].ends > self.now for stage in led if stage in old)

    def _crew(self, run: RunVars, before: StageRun, leading: bool) -> None:
        """Who was in a begun run stays in it; for somebody gone another takes over from now."""
        for role, picks in zip(run.need.roles, run.fills, strict=True):
            had = {name for r, name in before.crew if r == role.name}
            left = had & self.gone
            if role.leads and left and leading:
                self._new_leader(run, before, picks, left)
                continue
            for name, does in picks.items():
                if before.ends <= self.now or name not in self.gone:
                    if name in had or not left or before.ends <= self.now:
                        self.day.model.add(does == (1 if name in had else 0))
                    else:
                        self._from_now(name, does, run, before.ends)

    def _new_leader(self, run: RunVars, before: StageRun, picks: dict[str, cp_model.IntVar], left: set[str]) -> None:
        """The leader left: whoever leads on has nothing to do with the runs that are over."""
        for name, does in picks.items():
            if name in left:
                continue
            if before.ends <= self.now:
                who = self.day.people[name]
                who.jobs = [j for j in who.jobs if not (j.does.index == does.index and j.start is run.start)]
            else:
                self._from_now(name, does, run, before.ends)

    def _from_now(self, name: str, does: cp_model.IntVar, run: RunVars, ends: int) -> None:
        """Somebody who takes over is busy from now to the end of the run, and is charged its pulls."""
        who, minutes = self.day.people[name], ends - self.now
        interval = self.day.model.new_optional_fixed_size_interval_var(self.now, minutes, does, "")
        for at, job in enumerate(who.jobs):
            if job.does.index == does.index and job.start is run.start:
                who.jobs[at] = Job(does, self.now, ends, interval, minutes * does, minutes, job.pulls)

    def _task(self, task: TaskVars) -> None:
        """A duty that began keeps its time; its people stay in it, others take over from somebody gone."""
        model, old = self.day.model, self._old_task(task)
        if task.kind == "show" and old is not None and task.note not in {b.show for b in self.match.values()}:
            return  # its batch is lost: the show counts as missed
        if old is None or old.starts >= self.now:
            if task.held is None:
                model.add(task.start >= self.now)
            elif isinstance(task.held, cp_model.IntVar):
                model.add(task.start >= self.now).only_enforce_if(task.held)
            return
        left = set(old.people) & self.gone
        if task.kind == "clean" and isinstance(task.held, cp_model.IntVar) and not left:
            self._clean(task, task.held, old)
            return
        if isinstance(task.held, cp_model.IntVar):
            model.add(task.held == 1)
        model.add(task.start == old.starts)
        model.add(task.end == old.ends)
        for name, does in task.people.items():
            if old.ends <= self.now or name not in self.gone:
                if name in old.people or not left or old.ends <= self.now:
                    model.add(does == (1 if name in old.people else 0))
                else:
                    self._take_over_task(name, does, task, old.ends)

    def _clean(self, task: TaskVars, held: cp_model.IntVar, old: Task) -> None:
        """A clean that began is the one that is due, where one as long is; a batch failed, and none may be due."""
        model = self.day.model
        same = model.new_bool_var("")
        model.add_implication(same, held)
        model.add(task.start == old.starts).only_enforce_if(same)
        model.add(task.end == old.ends).only_enforce_if(same)
        for name, does in task.people.items():
            model.add(does == int(name in old.people)).only_enforce_if(same)
        model.add(task.start >= self.now).only_enforce_if(held, ~same)
        model.add(task.end - task.start != old.ends - old.starts).only_enforce_if(held, ~same)

    def _take_over_task(self, name: str, does: cp_model.IntVar, task: TaskVars, ends: int) -> None:
        who, minutes = self.day.people[name], ends - self.now
        interval = self.day.model.new_optional_fixed_size_interval_var(self.now, minutes, does, "")
        for at, job in enumerate(who.jobs):
            if job.does.index == does.index:
                who.jobs[at] = Job(does, self.now, ends, interval, minutes * does, minutes)

    def _old_task(self, task: TaskVars) -> Task | None:
        """The duty of the day as it was that a duty of the model continues."""
        same = [t for t in self.frozen.tasks if t.kind == task.kind and t.station == task.station]
        if task.kind == "show":
            return next((t for t in same if t.note == task.note), None)
        if task.run is None:
            return next(iter(same), None)
        old = self.match.get(task.run[0])
        stage = self.day.batches[task.run[0]].runs[task.run[1]].need.name
        run = next((r for r in old.runs if r.stage == stage), None) if old else None
        if run is None:
            return None
        later = [t for t in same if t.place == run.place and t.starts >= run.ends]
        first = min(later, key=lambda t: t.starts, default=None)
        between = [
            r.starts for b in self.match.values() for r in b.runs
            if r.station == task.station and r.place == run.place and r.starts >= run.ends and r is not run
        ]  # fmt: skip
        return first if first is not None and first.ends <= min(between, default=first.ends) else None

    def _shows(self) -> None:
        """Shows whose hour is past were held or missed as they were."""
        model, held = self.day.model, {b.show: n for n, b in self.match.items() if b.show}
        for s, show in enumerate(shows_on(self.day.season, self.day.request.day)):
            if show.starts < self.now and s in self.day.missed:
                model.add(self.day.missed[s] == (0 if show.name in held else 1))

    def _people(self) -> None:
        model, arrived = self.day.model, dict(self.frozen.arrived)
        breaks = {name: starts for name, starts, _ in self.frozen.breaks}
        for name, who in self.day.people.items():
            if name in self.gone:
                self._none_of(name)
                continue
            if name in arrived:
                model.add(who.inside == 1)
                model.add(who.start == arrived[name])
                model.add(who.end >= self.now)
            if who.break_held is not None and who.break_start is not None:
                if name in breaks:
                    model.add(who.break_held == 1)
                    model.add(who.break_start == breaks[name])
                else:
                    model.add(who.break_start >= self.now).only_enforce_if(who.break_held)

    def _none_of(self, name: str) -> None:
        """Somebody who left: finished jobs stay theirs, nothing else does, and their shift is no matter."""
        who, model = self.day.people[name], self.day.model
        done = self._finished(name)
        for job in who.jobs:
            if job.does.index not in done:
                model.add(job.does == 0)
        who.jobs = []
        model.add(who.inside == 0)

    def _finished(self, name: str) -> set[int]:
        """Choices that stand for what somebody had finished before leaving."""
        out: set[int] = set()
        for b, old in self.match.items():
            runs = {r.stage: r for r in old.runs}
            for run in self.day.batches[b].runs:
                before = runs.get(run.need.name)
                if before is None or before.ends > self.now:
                    continue
                for role, picks in zip(run.need.roles, run.fills, strict=True):
                    over = not role.leads or not self._leading(b)
                    if (role.name, name) in before.crew and name in picks and over:
                        out.add(picks[name].index)
        for task in self.day.tasks:
            old_task = self._old_task(task)
            if old_task and old_task.ends <= self.now and name in old_task.people and name in task.people:
                out.add(task.people[name].index)
        return out


def composed(season: Season, frozen: Frozen, was: DayPlan, fitted: DayPlan) -> DayPlan:
    """The whole day: what happened as it was, and the rest as fitted; packing that was done comes first."""
    fitted = on_their_places(season, was, frozen.now, fitted)
    begun = {b.id: b for b in was.batches if b.pour < frozen.now}
    batches = [
        replace(b, show=begun[b.id].show, runs=tuple(_run(frozen, begun[b.id], run) for run in b.runs))
        if b.id in begun else b
        for b in fitted.batches
    ]  # fmt: skip
    gone = dict(frozen.gone)
    shifts = [*fitted.shifts, *(_cut(frozen, was, s, gone[s.person]) for s in was.shifts if s.person in gone)]
    return replace(
        fitted,
        batches=tuple(batches),
        packing=(*frozen.packing, *fitted.packing),
        shifts=tuple(sorted(shifts, key=lambda s: s.person)),
        proven=False,
    )


def _run(frozen: Frozen, old: Batch, run: StageRun) -> StageRun:
    before = next((r for r in old.runs if r.stage == run.stage), None)
    if before is None or before.starts >= frozen.now:
        return run
    return before if before.ends <= frozen.now else replace(before, crew=run.crew)


def _cut(frozen: Frozen, was: DayPlan, shift: Shift, gone: int) -> Shift:
    """The shift of somebody who left: to the moment of leaving, or the end of what was finished by now."""
    ends = [r.ends for b in was.batches for r in b.runs if any(p == shift.person for _, p in r.crew)]
    ends += [t.ends for t in was.tasks if shift.person in t.people]
    ends += [p.ends for p in was.packing if p.person == shift.person]
    last = min(shift.ends, max([gone, shift.starts + 1, *(e for e in ends if e <= frozen.now)]))
    held = shift.break_ends is not None and shift.break_ends <= last
    return replace(shift, ends=last, break_starts=shift.break_starts if held else None,
                   break_ends=shift.break_ends if held else None)  # fmt: skip
