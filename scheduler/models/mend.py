"""Mending days: what a bent season asks of the days that change, fitted with as little change as can be.

Days of which nothing changes are taken over as they stand and never solved again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from scheduler.models.bend import Bend
from scheduler.models.day import DayAnswer, fit_day
from scheduler.models.day_keep import fit_again
from scheduler.models.days import Book
from scheduler.models.engine import Answer, Limits, Status
from scheduler.models.facts import Facts
from scheduler.models.limits import request_with_all
from scheduler.models.season import Wish
from scheduler.models.season_solve import read
from scheduler.plan.changes import DAY_ON_OR_OFF, notice
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan

DAY_EFFORT = 0.3


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
    bounds: dict[DayRequest, DayAnswer] = field(default_factory=dict)  # least points, whatever other days leave
    taken: dict[int, int] = field(default_factory=dict)  # points that the last fit of a day took, before notice
    known: dict[DayRequest, DayAnswer] = field(default_factory=dict)  # whether work without packing fits

    def mend(self, bend: Bend, answer: Answer, settle: bool = False) -> Mended | None:
        """All days of an answer, or None where one does not fit; the model has learnt why then.

        With ``settle`` such a day gets less work instead, until it fits.
        """
        wish = read(bend.board, answer)
        changed = [t for t in self.facts.days if self.differs(t, wish)]
        book = Book(self.facts, {t: d for t, d in self.before.items() if t not in changed})
        for t in sorted(changed, key=lambda t: (len(self.facts.hands[t]), t)):
            if not self._asked(t, wish):
                continue
            request = self._request(book, wish, t)
            fitted = self._fit(request)
            plan, self.taken[t] = fitted.plan, fitted.cost or 0
            if plan is None and not settle:
                self._learn(bend, request, t)
                return None
            plan = plan or self._lighter(book, request, t)
            if plan is not None:
                book.days[t] = plan
        return Mended({t: d for t, d in book.days.items() if t in set(self.facts.days)}, wish)

    def dearer(self, bend: Bend, answer: Answer) -> bool:
        """Teach the model what hours and jobs of the changed days take; whether it counted them too low."""
        wish = read(bend.board, answer)
        found = False
        for t in self.facts.days:
            if not self.differs(t, wish) or self.before.get(t) is None:
                continue
            weight = notice(self.facts.season.days[t], bend.today)
            if weight * self.taken.get(t, 0) <= answer[bend.felt[t]]:
                continue
            least = weight * self._felt(t, replace_packing(wish, t, ()))
            more = wish.packing.get(t) and least < weight * self.taken.get(t, 0)
            packed = weight * self._felt(t, wish) if more else least
            if max(least, packed) > answer[bend.felt[t]]:
                found = True
                bend.costs(t, wish, max(least, packed), packing=packed > least)
        return found

    def _felt(self, t: int, wish: Wish) -> int:
        """Points that hours and jobs take at least with these batches and people, whatever other days leave."""
        called = {name for name, _ in wish.shift.get(t, ())}
        old = self.before[t]
        everyone = request_with_all(self.facts, t, wish.batches.get(t, ()))
        hands = tuple(replace(h, must=True) for h in everyone.hands if h.person in called)
        asked = replace(everyone, hands=hands, packing=wish.packing.get(t, ()), keep=old)
        new = called - {s.person for s in old.shifts}
        if asked not in self.bounds:
            self.bounds[asked] = fit_again(self.facts.season, asked, Limits(effort=DAY_EFFORT), detail=False)
        return max(0, (self.bounds[asked].bound or 0) - DAY_ON_OR_OFF * len(new))

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
            fit = fit_day if request.keep is None else fit_again
            self.fitted[request] = fit(self.facts.season, request, Limits(effort=DAY_EFFORT))
        return self.fitted[request]

    def _fits(self, request: DayRequest) -> Status:
        if request not in self.known:
            self.known[request] = fit_day(self.facts.season, request, Limits(effort=DAY_EFFORT), "any")
        return self.known[request].status

    def _learn(self, bend: Bend, request: DayRequest, t: int) -> None:
        """Bar what did not fit: for good where it is proven, else in these circumstances."""
        people = frozenset(h.person for h in request.hands)
        everyone = request_with_all(self.facts, t, request.designs)
        if request.designs and self._fits(everyone) is Status.INFEASIBLE:
            bend.learn(t, self._smallest(everyone))
            return
        these = replace(everyone, hands=tuple(h for h in everyone.hands if h.person in people))
        if request.designs and self._fits(these) is Status.INFEASIBLE:
            bend.bar(t, self._smallest(these), people)
            return
        self.certain = False
        products = self.facts.season.product_by_name
        seconds = sum(products[p].packing_seconds * n for p, n in request.packing)
        if seconds and self._fits(replace(request, packing=())).solved:
            bend.bar_packing(t, request.designs, people, seconds * 85 // 100)
        else:
            bend.bar_packing(t, request.designs, people, -1)

    def _smallest(self, request: DayRequest) -> tuple[str, ...]:
        """Batches taken away as long as the rest is still proven not to fit."""
        left = list(request.designs)
        for design in request.designs:
            fewer = left.copy()
            fewer.remove(design)
            if fewer and self._fits(replace(request, designs=tuple(fewer))) is Status.INFEASIBLE:
                left = fewer
        return tuple(left)

    def _lighter(self, book: Book, request: DayRequest, t: int) -> DayPlan | None:
        """The day with fewer packs, then fewer batches, and help from whoever can come at last."""
        free = tuple(replace(h, must=False) for h in book.hands(t))
        for hands in (request.hands, free):
            designs = list(request.designs)
            while True:
                for share in (60, 30, 0):
                    packs = tuple((p, n * share // 100) for p, n in request.packing if n * share // 100)
                    less = replace(request, designs=tuple(designs), packing=packs, hands=hands, hold_shows=False)
                    plan = self._fit(less).plan
                    if plan is not None:
                        return plan
                if not designs:
                    break
                designs.pop()
        return None


def replace_packing(wish: Wish, t: int, packing: tuple[tuple[str, int], ...]) -> Wish:
    """The same wish with other packing on one day."""
    return replace(wish, packing={**wish.packing, t: packing})
