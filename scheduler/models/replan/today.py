"""A day that has begun when the news comes: who is still there, what goes on, what may be lost.

``ways_on`` gives the few days that today can become: with the people of today alone, and,
where they can't do it all, with whoever could still come in.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations

from scheduler.models.counts.days import Book
from scheduler.models.day.fit import DayAnswer
from scheduler.models.day.keep import fit_again
from scheduler.models.day.rest import MANY_PULLS
from scheduler.models.facts import Facts
from scheduler.models.solvers.engine import Limits, Status
from scheduler.plan.begun import leaves_at, packed_by
from scheduler.plan.changes import BATCH, TODAY
from scheduler.plan.request import DayRequest, Frozen, Hand
from scheduler.plan.types import Batch, DayPlan, PackRun, Shift, Task
from scheduler.season.rules import presence
from scheduler.season.types import MadeBatch, Season

EFFORT = 0.3
SHARES = (100, 50)  # of the packing still to do, in per cent


@dataclass(frozen=True)
class WayOn:
    """What today becomes. ``lost``: batches that were poured and can't be finished."""

    day: DayPlan
    lost: tuple[Batch, ...] = ()
    least_points: int = 0


def ways_on(facts: Facts, old: DayPlan, later: Mapping[int, DayPlan], minute: int) -> tuple[WayOn, ...]:
    """The days that today can become; none where nothing can be saved but the hours worked."""
    rest = _Rest(facts, old, later, minute)
    alone = rest.best(rest.hands(others=False)) or rest.with_few()
    found = [alone] if alone is not None else []
    if alone is None or alone.lost or alone.least_points >= BATCH * TODAY or _packs(alone.day) < _packs(old):
        helped = rest.best(rest.hands(others=True))
        if helped is not None and (alone is None or _worth(helped) > _worth(alone)):
            found.append(helped)
    return tuple(found)


def _packs(day: DayPlan) -> int:
    return sum(run.packs for run in day.packing)


def _worth(way: WayOn) -> tuple[int, int, int]:
    """More is better: fewer lost, more batches, more packs."""
    return -len(way.lost), len(way.day.batches), _packs(way.day)


@dataclass
class _Rest:
    facts: Facts
    old: DayPlan
    later: Mapping[int, DayPlan]
    minute: int
    few: int | None = None  # so many people do what is left of closing and cleaning

    def __post_init__(self) -> None:
        self.season = self.facts.season
        self.t = self.season.index(self.old.day)
        ended = {m.batch: m.outcome for m in self.season.made if m.outcome != "made"}
        going = [b for b in self.old.batches if b.id not in ended]
        self.begun = [b for b in going if b.pour < self.minute]
        self.open = [b.design for b in going if b.pour >= self.minute]
        self.open += [b.design for b in self.old.batches if ended.get(b.id) == "not started"]
        self.gone = {
            s.person: min(s.ends, left if left is not None else s.ends)
            for s in self.old.shifts
            if s.starts < self.minute
            and ((left := leaves_at(self.season, self.old, s, self.minute)) is not None or s.ends <= self.minute)
            and not self._stays_a_while(s, left)
        }
        self.done, self.to_pack = self._packing()

    def _stays_a_while(self, shift: Shift, left: int | None) -> bool:
        """Somebody who will leave later today, after a shift long enough to be planned."""
        shortest = max(1, self.season.person_by_name[shift.person].shortest_shift)
        return left is not None and left > self.minute and left - shift.starts >= shortest

    def _packing(self) -> tuple[tuple[PackRun, ...], Counter[str]]:
        """Pack runs done by now, the last ones as far as they got; packs still to do."""
        done: list[PackRun] = []
        left: Counter[str] = Counter()
        for run in self.old.packing:
            packs = packed_by(self.season, run, self.minute)
            if packs:
                done.append(replace(run, packs=packs, ends=min(run.ends, self.minute)))
            if run.packs > packs:
                left[run.product] += run.packs - packs
        return tuple(done), left

    def hands(self, others: bool, later: Mapping[int, DayPlan] | None = None) -> tuple[Hand, ...]:
        """People of today from now on, those who left as they were, and others who may be called in.

        ``later``: the days that leave them no more hours than they do; by default those of the old plan.
        """
        book = Book(self.facts, dict(self.later if later is None else later))
        free = {h.person: h for h in book.hands(self.t)}
        out: list[Hand] = []
        for shift in self.old.shifts:
            name = shift.person
            if name in self.gone:
                out.append(Hand(name, shift.starts, shift.starts, 0, MANY_PULLS))
            elif shift.starts < self.minute:
                usual = free.get(name, Hand(name, shift.starts, shift.ends, shift.ends - shift.starts, MANY_PULLS))
                stretch = presence(self.season, self.season.person_by_name[name], self.old.day)
                until = usual.to_minute if stretch is None else stretch[1]
                out.append(replace(usual, from_minute=shift.starts, to_minute=until, must=True))
            elif name in free and free[name].to_minute > self.minute:
                stays = leaves_at(self.season, self.old, shift, 0) is None
                out.append(replace(free[name], from_minute=max(free[name].from_minute, self.minute), must=stays))
        if others:
            here = {h.person for h in out}
            out += [replace(h, from_minute=max(h.from_minute, self.minute)) for n, h in free.items() if n not in here]
        return tuple(out)

    def best(self, hands: tuple[Hand, ...]) -> WayOn | None:
        """The most that these people can still do: nothing lost before all batches before all packs."""
        unfinished = [b for b in self.begun if b.ends > self.minute]
        for count in range(len(unfinished) + 1):
            for lost in combinations(unfinished, count):
                way = self._with(hands, lost)
                if way is not None:
                    return way
        return None

    def with_few(self) -> WayOn | None:
        """The same with closing and cleaning done by as many as are left, for as much longer.

        With nobody left they are not done at all.
        """
        for later in (self.later, {}):  # at last at the price of their other days in the week
            hands = self.hands(others=False, later=later)
            left = sum(hand.longest > 0 for hand in hands)
            for people in range(left, 0, -1) if left else (0,):
                self.few = people
                way = self.best(hands)
                self.few = None
                if way is not None and self._all_close(way.day):
                    return way
        return None

    def _all_close(self, day: DayPlan) -> bool:
        """Whether everyone who is in at the closing does it."""
        return all(
            shift.person in task.people or shift.ends <= task.starts or shift.starts >= task.ends
            for task in day.tasks
            if task.kind == "closing"
            for shift in day.shifts
        )

    def _starts_over(self, task: Task) -> bool:
        """A closing in progress when somebody leaves: those who are left do all of it from now on."""
        return self.few is not None and task.kind == "closing" and task.ends > self.minute

    def _with(self, hands: tuple[Hand, ...], lost: tuple[Batch, ...]) -> WayOn | None:
        for kept in range(len(self.open), -1, -1):
            best = DayAnswer(Status.UNKNOWN, None, None, None, 0.0)
            for share in (0, *SHARES) if self.to_pack else (0,):  # without packing first: that shows at once
                asked = self._request(hands, lost, self.open[:kept], share)
                answer = fit_again(self._season(lost), asked, Limits(effort=EFFORT))
                best = answer if answer.plan is not None else best
                if best.plan is None or share and answer.plan is not None:
                    break
            if best.plan is not None:
                fewer = len(lost) + len(self.open) - kept
                return WayOn(best.plan, lost, TODAY * ((best.bound or 0) + BATCH * fewer))
        return None

    def _season(self, lost: tuple[Batch, ...]) -> Season:
        season = with_lost(self.season, self.old, lost, "")
        if self.few is None:
            return season
        begun = {t.station for t in self.old.tasks if t.kind == "clean" and t.starts < self.minute}
        return with_few(season, self.few, frozenset(begun))

    def _request(
        self, hands: tuple[Hand, ...], lost: tuple[Batch, ...], designs: list[str], share: int
    ) -> DayRequest:
        begun = [b for b in self.begun if b not in lost]
        packing = tuple(sorted((p, n * share // 100) for p, n in self.to_pack.items() if n * share // 100))
        return DayRequest(
            self.old.day,
            tuple(sorted([b.design for b in begun] + designs)),
            packing,
            hands,
            frozen=self._frozen(begun),
            keep=self.old,
        )

    def _frozen(self, begun: list[Batch]) -> Frozen:
        shifts = [s for s in self.old.shifts if s.starts < self.minute]
        return Frozen(
            self.minute,
            tuple(begun),
            tuple(t for t in self.old.tasks if t.starts < self.minute and not self._starts_over(t)),
            tuple((s.person, s.starts) for s in shifts if s.person not in self.gone),
            tuple(_breaks(shifts, self.minute)),
            tuple(self.gone.items()),
            self.done,
        )


def _breaks(shifts: list[Shift], minute: int) -> Iterator[tuple[str, int, int]]:
    for shift in shifts:
        if shift.break_starts is not None and shift.break_ends is not None and shift.break_starts < minute:
            yield shift.person, shift.break_starts, shift.break_ends


def with_lost(season: Season, day: DayPlan, lost: tuple[Batch, ...], why: str) -> Season:
    """The season in which these batches of a day failed."""
    ids = {b.id for b in lost}
    facts = tuple(MadeBatch(day.day, b.id, b.design, "failed", 0, 0, why) for b in lost)
    return replace(season, made=(*(m for m in season.made if m.batch not in ids), *facts)) if lost else season


def with_few(season: Season, people: int, but: frozenset[str]) -> Season:
    """The season in which closing and cleaning are done by no more people, for as much longer; not at some stations.

    Closing of 30 minutes by 2, done by 1: 60 minutes. By 0: not at all.
    """
    k = season.kitchen
    if people < k.closing_people:
        k = replace(k, closing_people=people, closing_minutes=longer(k.closing_minutes, k.closing_people, people))
    changes = tuple(
        replace(c, people=people, minutes=longer(c.minutes, c.people, people))
        if c.people > people and c.station not in but else c
        for c in season.changeovers
    )  # fmt: skip
    return replace(season, kitchen=k, changeovers=changes)


def longer(minutes: int, people: int, fewer: int) -> int:
    """Minutes that fewer people take for the same work, rounded up; 0 where nobody does it."""
    return -(-minutes * people // fewer) if fewer else 0
