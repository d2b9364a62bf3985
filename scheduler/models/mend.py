"""Mending days: what a bent season asks of the days that change, fitted with as little change as can be.

Days of which nothing changes are taken over as they stand and never solved again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from scheduler.models.bend import Bend
from scheduler.models.day import DayAnswer, fit_day
from scheduler.models.days import Book
from scheduler.models.engine import Answer, Limits, Status
from scheduler.models.facts import Facts
from scheduler.models.limits import request_with_all
from scheduler.models.season import Wish
from scheduler.models.season_solve import read
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.types import Batch, DayPlan

DAY_EFFORT = 2.0


@dataclass(frozen=True)
class Mended:
    """Days from today on by index, and the packs meant for each line."""

    days: Mapping[int, DayPlan]
    wish: Wish


@dataclass
class Mender:
    """Fits changed days and remembers them; ``certain`` turns false with a cut that is not proven."""

    facts: Facts
    before: Mapping[int, DayPlan]
    certain: bool = True
    fitted: dict[DayRequest, DayAnswer] = field(default_factory=dict)

    def mend(self, bend: Bend, answer: Answer) -> Mended | None:
        """All days of an answer, or None where one does not fit; the model has learnt why then."""
        wish = read(bend.board, answer)
        changed = [t for t in self.facts.days if self.differs(t, wish)]
        book = Book(self.facts, {t: d for t, d in self.before.items() if t not in changed})
        for t in sorted(changed, key=lambda t: (len(self.facts.hands[t]), t)):
            if not self._asked(t, wish):
                continue
            request = self._request(book, wish, t)
            plan = self._fit(request).plan
            if plan is None:
                self._learn(bend, request, t)
                return None
            book.days[t] = self._named(t, plan)
        return Mended({t: d for t, d in book.days.items() if t in set(self.facts.days)}, wish)

    def differs(self, t: int, wish: Wish) -> bool:
        """Whether a day has other batches, other people, other hours or more packing than before."""
        old = self.before.get(t)
        if old is None:
            return self._asked(t, wish)
        packs: Counter[str] = Counter()
        for run in old.packing:
            packs[run.product] += run.packs
        return (
            tuple(sorted(b.design for b in old.batches)) != wish.batches.get(t, ())
            or {(s.person, s.ends - s.starts) for s in old.shifts} != set(wish.shift.get(t, ()))
            or any(n > packs[p] for p, n in wish.packing.get(t, ()))
        )

    def _asked(self, t: int, wish: Wish) -> bool:
        return bool(wish.batches.get(t) or wish.packing.get(t) or wish.shift.get(t))

    def _request(self, book: Book, wish: Wish, t: int) -> DayRequest:
        """The day with the people whom the season calls in; those who were in before are in again."""
        old = self.before.get(t)
        stay = {s.person for s in old.shifts} if old else set()
        called = dict(wish.shift.get(t, ()))
        hands = tuple(
            replace(hand, must=hand.must or hand.person in stay)
            for hand in book.hands(t, wish)
            if hand.person in called
        )
        shows = {s.name for s in self.facts.shows.get(t, ())}
        return DayRequest(
            self.facts.season.days[t],
            wish.batches.get(t, ()),
            wish.packing.get(t, ()),
            hands,
            hold_shows=shows == set(wish.held.get(t, frozenset())),
            keep=old,
        )

    def _fit(self, request: DayRequest) -> DayAnswer:
        if request not in self.fitted:
            self.fitted[request] = fit_day(self.facts.season, request, Limits(effort=DAY_EFFORT))
        return self.fitted[request]

    def _learn(self, bend: Bend, request: DayRequest, t: int) -> None:
        """Bar what did not fit: for good where it can't fit with all hours that people have, else as asked."""
        batches, packs = Counter(request.designs), dict(request.packing)
        people = frozenset(h.person for h in request.hands)
        widest = request_with_all(self.facts, t, request.designs)
        hands: tuple[Hand, ...] = tuple(h for h in widest.hands if h.person in people)
        bare = replace(request, packing=(), hands=hands, keep=None)
        if batches and self._fit(bare).status is Status.INFEASIBLE:
            bend.bar(t, batches, people)
            return
        self.certain = self.certain and self._fit(replace(bare, packing=request.packing)).status is Status.INFEASIBLE
        bend.bar_packing(t, packs, batches, people)

    def _named(self, t: int, plan: DayPlan) -> DayPlan:
        """Batches that were there before keep their numbers; new ones get numbers that nobody had."""
        old = self.before.get(t)
        day = self.facts.season.days[t]
        left = list(old.batches) if old else []
        taken = {b.id for b in left} | {m.batch for m in self.facts.season.made if m.day == day}
        named: list[Batch] = []
        for batch in plan.batches:
            same = next((b for b in left if b.design == batch.design), None)
            if same is not None:
                left.remove(same)
                named.append(replace(batch, id=same.id))
                continue
            number = next(n for n in range(1, 1000) if f"{day:%m%d}-{n}" not in taken)
            taken.add(f"{day:%m%d}-{number}")
            named.append(replace(batch, id=f"{day:%m%d}-{number}"))
        return replace(plan, batches=tuple(named))
