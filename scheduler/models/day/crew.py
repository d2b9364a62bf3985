"""The people of a day planned by hand: who fills which role and does which duty."""

from __future__ import annotations

import random
from collections.abc import Sequence

from scheduler.models.day.floor import Ask, Block, Floor
from scheduler.models.day.minutes import at_least
from scheduler.models.day.shifts import shortest_of
from scheduler.models.day.worker import State, Worker
from scheduler.plan.types import Task, TaskKind

Mark = tuple[list[State], list[Task]]
Filled = dict[int, list[tuple[str, str]]]  # number of the run -> (role, person)


class Crew:
    """Everyone's day and all duties so far; ``noise`` and ``grow`` decide who is asked first."""

    def __init__(self, floor: Floor, luck: random.Random, noise: float, grow: float) -> None:
        self.floor, self.luck, self.noise, self.grow = floor, luck, noise, grow
        kitchen = floor.season.kitchen
        self.workers = [
            Worker(
                hand, shortest_of(floor.season, hand.person), kitchen.clock_step, kitchen.break_after_minutes,
                kitchen.break_minutes, kitchen.around_break_minutes, kitchen.pull_rest_minutes,
            )
            for hand in floor.hands
        ]  # fmt: skip
        self.tasks: list[Task] = []
        self._changes = 0  # of the workers, after which the following was worked out
        self._starts: dict[int, int] = {}  # by block
        self._known: dict[Ask, int] = {}

    def mark(self) -> Mark:
        """How things stand, for ``back``."""
        return [w.save() for w in self.workers], self.tasks.copy()

    def back(self, mark: Mark) -> None:
        """Forget what was decided since."""
        for worker, state in zip(self.workers, mark[0], strict=True):
            worker.restore(state)
        self.tasks = mark[1].copy()

    def may_start(self, block: Block) -> int:
        """Minutes at which a block may start as far as numbers of free people tell."""
        changes = sum(w.changes for w in self.workers)
        if changes != self._changes:
            self._changes = changes
            self._starts.clear()
            self._known.clear()
        if id(block) not in self._starts:
            self._starts[id(block)] = self._may_start(block)
        return self._starts[id(block)]

    def _may_start(self, block: Block) -> int:
        out, leads = -1, dict[int, int]()
        for offset, ask in self.floor.asks(block):
            if ask.leads:
                free = {n: self.workers[n].open(ask.pulls, ask.minutes) >> offset for n in ask.able}
                leads = {n: leads.get(n, -1) & m for n, m in free.items() if n in leads or not leads}
                out &= at_least(1, leads.values())
            else:
                out &= self._enough(ask) >> offset
            if not out:
                return 0
        return out

    def _enough(self, ask: Ask) -> int:
        """Minutes from which on there are as many people as asked for."""
        found = self._known.get(ask)
        if found is None:
            workers, pulls, minutes = self.workers, ask.pulls, ask.minutes
            found = self._known[ask] = at_least(ask.people, [workers[n].open(pulls, minutes) for n in ask.able])
        return found

    def leaders(self, block: Block, at: int) -> list[int | None]:
        """Who may lead a block, whoever is best asked first; nobody where nobody need lead."""
        leads = [role for _, _, need in block.runs for role in need.roles if role.leads]
        if not leads:
            return [None]
        able = set(self.floor.able(leads[0])).intersection(*(self.floor.able(r) for r in leads))
        return list(self._ordered(sorted(able), at, at + block.minutes))

    def fill(self, block: Block, at: int, leader: int | None) -> Filled | None:
        """People for each run of a block, who take the jobs; None where somebody is missing."""
        runs = [(at + offset, at + offset + need.minutes, k, need) for k, offset, need in block.runs]
        for starts, ends, _, need in runs:  # the leader's jobs first
            for role in need.roles:
                if role.leads and (leader is None or not self.workers[leader].take(starts, ends, role.pulls)):
                    return None
        out: Filled = {}
        for starts, ends, k, need in runs:
            chosen: dict[str, list[int]] = {}
            for role in sorted(need.roles, key=lambda r: len(self.floor.able(r))):
                if role.leads and leader is not None:
                    chosen[role.name] = [leader]
                    continue
                chosen[role.name] = self._pick(self.floor.able(role), role.people, starts, ends, role.pulls)
                if len(chosen[role.name]) < role.people:
                    return None
            out[k] = [(r.name, self.workers[n].hand.person) for r in need.roles for n in sorted(chosen[r.name])]
        return out

    def _pick(self, able: Sequence[int], people: int, starts: int, ends: int, pulls: int = 0) -> list[int]:
        """So many of the able people who take a job, or as many as can."""
        picked: list[int] = []
        for n in self._ordered(able, starts, ends):
            if len(picked) < people and self.workers[n].take(starts, ends, pulls):
                picked.append(n)
        return picked

    def _ordered(self, able: Sequence[int], starts: int, ends: int) -> list[int]:
        """People for a job: whoever is in anyway and can do little else first, with some luck."""

        if len(able) < 2:
            return list(able)
        workers, use, luck, grow, noise = self.workers, self.floor.use, self.luck.random, self.grow, 3 * self.noise
        cost = {n: grow * workers[n].grows(starts, ends) / 30 + use[n] / 4 + noise * luck() for n in able}
        return sorted(able, key=cost.__getitem__)

    def when(self, people: int, skill: str, minutes: int) -> int:
        """Minutes from which on so many people with a skill are free for so long, breaks left out."""
        return at_least(people, [self.workers[n].open(0, minutes) for n in self.floor.skilled(skill)])

    def task(
        self, kind: TaskKind, starts: int, ends: int, people: int, skill: str = "", note: str = "",
        station: str = "", place: int = 0,
    ) -> bool:  # fmt: skip
        """A duty by so many people; nothing has changed where they are not there."""
        mark = self.mark()
        picked = self._pick(self.floor.skilled(skill), people, starts, ends)
        if len(picked) < people:
            self.back(mark)
            return False
        names = tuple(self.workers[n].hand.person for n in sorted(picked))
        self.tasks.append(Task(kind, starts, ends, names, station, place, note))
        return True

    def undo(self, task: Task) -> None:
        """Take a duty out again."""
        self.tasks.remove(task)
        for worker in self.workers:
            if worker.hand.person in task.people:
                worker.drop(task.starts, task.ends)
