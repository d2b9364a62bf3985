"""A customer on the phone: by when can so many packs be ready without hurting anything already promised?

Candy that nobody has yet comes first, then batches that days can take on beside what they
hold, fitted to the minute. Every answer is a whole plan in which nobody gets less than before.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduler.answers import work
from scheduler.answers.ahead import day_in_progress, demand_of
from scheduler.demand.lines import Line
from scheduler.models.counts.days import Book
from scheduler.models.counts.result import labour_cost, stages_of
from scheduler.models.day.fit import fit_day
from scheduler.models.day.solve import Want
from scheduler.models.facts import Facts
from scheduler.models.solvers.engine import Limits
from scheduler.plan.lots import allocate
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan, Fill, Plan, packs_by_line, pieces_drawn
from scheduler.season import rules
from scheduler.season.fingerprint import fingerprint
from scheduler.season.types import Design, Forecast, Season

ASKED = "asked on the phone"
DAY_EFFORT = 0.5  # deterministic seconds for each day that is tried
SECONDS = 3.0  # no new day is tried after this long


@dataclass(frozen=True, slots=True)
class Promise:
    """What can be promised. ``ready`` None: not before the day that was asked for (or the season's end).

    ``more`` are batches beside the plan's, ``called`` the people who come in or stay longer for
    it, ``extra_cents`` the labour that it costs beside the plan. ``from_left_over`` is the first day on
    which candy that nobody has would do alone. ``by_then`` packs can be ready by the day that was asked
    for, the last of them on ``by_then_day`` (None with ``ready``), and all of them on the day ``otherwise``.
    ``displaced`` are packs of others that would have to give way; ``whole`` False: time ran out before all days were
    tried.
    """

    product: str
    quantity: int
    by: date | None
    ready: date | None
    more: tuple[tuple[date, str], ...]
    called: tuple[tuple[date, str], ...]
    extra_cents: int
    from_left_over: date | None
    by_then: int
    displaced: tuple[tuple[str, int], ...]
    whole: bool
    season: Season  # with the promise in it, as a forecast of its own
    plan: Plan | None  # the whole plan with the promise in it, where there is one
    by_then_day: date | None = None
    otherwise: date | None = None


def promise(
    season: Season, plan: Plan, product: str, quantity: int, by: date | None = None, now: date | None = None
) -> Promise:
    """The earliest day found on which ``quantity`` packs of a product can be ready.

    Raises KeyError for a product that is not in the season.
    """
    if product not in season.product_by_name:
        raise KeyError(product)
    began = time.monotonic()
    asked, found = _earliest(season, plan, product, quantity, by, now)
    if found is None:
        gives = asked.displaced()
        whole, day = not asked.late, asked.most_day
        later = None if by is None else _earliest(season, plan, product, quantity, None, now)[1]
        otherwise = None if later is None else later[0]
        return Promise(
            product, quantity, by, None, (), (), 0, None, asked.most, gives, whole, season, None, day, otherwise
        )
    ready, held = found
    fuller = promised_season(season, product, quantity, ready)
    more, called, cents = asked.more(held.days), asked.called(held.days), asked.extra_cents(held.days)
    by_hand = _Asked(season, plan, product, quantity, by, now, "by hand")
    left_over = ready if not more else by_hand.left_over(ready, began)
    return Promise(product, quantity, by, ready, more, called, cents, left_over, quantity, (), True, fuller, held)


def _earliest(
    season: Season, plan: Plan, product: str, quantity: int, by: date | None, now: date | None
) -> tuple[_Asked, tuple[date, Plan] | None]:
    """The earliest day, with whoever found it: all days by hand, which is quick, then with more care those before."""
    quick = _Asked(season, plan, product, quantity, by, now, "by hand")
    found = quick.earliest()
    if found is None:
        careful = _Asked(season, plan, product, quantity, by, now)
        return careful, careful.earliest()
    before = _Asked(season, plan, product, quantity, found[0] - timedelta(1), now)
    sooner = before.earliest()
    return (before, sooner) if sooner is not None else (quick, found)


class _Asked:
    """One question: the plan's days, candy that is free, and what has been added so far."""

    def __init__(
        self, season: Season, plan: Plan, product: str, quantity: int, by: date | None, now: date | None,
        want: Want = "any",
    ) -> None:  # fmt: skip
        self.want: Want = want
        self.season, self.plan, self.product, self.quantity = season, plan, product, quantity
        self.began = time.monotonic()
        self.late = False
        self.most = 0
        self.most_day: date | None = None
        self.since = max(0, season.index(plan.from_day))
        self.first = max(self.since + (day_in_progress(plan) is not None), season.index(now or plan.from_day))
        self.end = season.day_count - 1 if by is None else min(season.index(by), season.day_count - 1)
        self.inside = season.contents_of[product]
        self.facts = Facts(season, demand_of(season, plan), self.first)
        self.old = {season.index(d.day): d for d in plan.days}
        self.book = Book(self.facts, dict(self.old))
        self.filled = packs_by_line(plan.fills)

    def left_over(self, after: date, began: float) -> date | None:
        """The first day after another on which free candy is enough and can be packed, with no batch more."""
        self.began = began
        for t in self.facts.days:
            if t > self.end or self.season.days[t] <= after or self.ready_packs(t) < self.quantity:
                continue
            if self.packed_on(t, self.quantity) is not None:
                return self.season.days[t]
        return None

    def earliest(self) -> tuple[date, Plan] | None:
        """Day by day: is the candy there; can it be packed; else may one more batch be made today?"""
        for t in self.facts.days:
            if t > self.end:
                break
            enough = self.ready_packs(t)
            if enough:
                held = self.packed_on(t, min(enough, self.quantity))
                if held is not None:
                    if min(enough, self.quantity) > self.most:
                        self.most, self.most_day = min(enough, self.quantity), self.season.days[t]
                    if enough >= self.quantity:
                        return self.season.days[t], held
            self.add_batches(t)
        return None

    def ready_packs(self, t: int) -> int:
        """Packs that free candy is enough for on a day: fresh, rested, and nobody else's."""
        free = self.free_pieces(t)
        return min(free[d] // n for d, n in self.inside.items())

    def free_pieces(self, t: int) -> Counter[str]:
        """Pieces of each design that nobody has and that could be packed on a day."""
        drawn = pieces_drawn(self.plan.fills)
        day = self.season.days[t]
        rested = timedelta(days=self.season.kitchen.packing_from_days)
        life = timedelta(days=self.season.kitchen.least_life_days)
        free: Counter[str] = Counter()
        for lot in self.plan.lots:
            if lot.made + rested <= day and lot.sell_by >= day + life:
                free[lot.design] += max(0, lot.pieces - drawn[lot.id])
        for made, name in self.more(self.book.days.values()):
            if made + rested <= day:
                free[name] += self.season.design_by_name[name].pieces
        return free

    def add_batches(self, t: int) -> None:
        """Make what is still missing today, as many batches as the day takes on."""
        while True:
            name = self._scarcest(t)
            if name is None or not work.makeable(self.season, self.season.design_by_name[name], t):
                return
            today = [b.design for b in self.book.days[t].batches] if t in self.book.days else []
            here = frozenset(h.person for h in self.book.hands(t))
            most = work.pours_a_day(self.season, self._kinds([*today, name]), t, here)
            fitted = self.fit(t, [*today, name], 0) if len(today) < most else None
            if fitted is None:
                return
            self.book.days[t] = fitted

    def _kinds(self, names: list[str]) -> list[Design]:
        return [self.season.design_by_name[n] for n in dict.fromkeys(names)]

    def _scarcest(self, t: int) -> str | None:
        """The design that most packs wait for, counting what is made up to today; None when there is enough."""
        later = min(t + self.season.kitchen.packing_from_days, self.season.day_count - 1)
        free = self.free_pieces(later)
        missing = {d: n * self.quantity - free[d] for d, n in self.inside.items() if n * self.quantity > free[d]}
        return max(missing, key=lambda d: (missing[d] / self.inside[d], d)) if missing else None

    def packed_on(self, t: int, packs: int) -> Plan | None:
        """The plan with the packs packed on a day, or None where it can't be without harm."""
        today = [b.design for b in self.book.days[t].batches] if t in self.book.days else []
        fitted = self.fit(t, today, packs)
        if fitted is None:
            return None
        days = tuple(d for _, d in sorted({**self.book.days, t: fitted}.items()))
        return self.without_harm(days, t, packs)

    def fit(self, t: int, designs: list[str], packs: int) -> DayPlan | None:
        """A day with these batches, its packing and some more packs, with whoever may still come."""
        if time.monotonic() - self.began > SECONDS:
            self.late = True
            return None
        packing = self.book.days[t].packs if t in self.book.days else Counter[str]()
        packing[self.product] += packs
        shows = {s.name for s in rules.shows_on(self.season, self.season.days[t])}
        missed = set(self.old[t].missed_shows) if t in self.old else shows
        packs_by_product = tuple(sorted((+packing).items()))
        held = frozenset(shows - missed)
        request = DayRequest(self.season.days[t], tuple(sorted(designs)), packs_by_product, self.book.hands(t), held)
        plan = fit_day(self.season, request, Limits(effort=DAY_EFFORT), self.want).plan
        return plan if plan is not None and set(plan.missed_shows) <= missed else None

    def without_harm(self, days: tuple[DayPlan, ...], t: int, packs: int) -> Plan | None:
        """A plan with these days in which all lines keep what they have, and the promise gets its packs."""
        season = promised_season(self.season, self.product, packs, self.season.days[t])
        demand = demand_of(season, self.plan)
        on_shelf = Counter[str]()
        for row in demand.given:
            on_shelf[row.line] += row.packs
        meant = {n.id: max(0, self.filled[n.id] - on_shelf[n.id]) for n in demand.lines}
        meant[ASKED] = packs - on_shelf[ASKED]
        late = Counter[str]()
        for fill in self.plan.fills:
            late[fill.line] += fill.packs if fill.late else 0
        in_time = {line: n - late[line] for line, n in meant.items()}
        given = allocate(season, demand, days, in_time, +late, self.since, self.plan.from_minute)
        got = packs_by_line(given.fills)
        if got[ASKED] < packs or any(got[line] < n for line, n in self.filled.items()):
            return None
        return replace(
            self.plan,
            season=fingerprint(season),
            days=given.days,
            lots=given.lots,
            fills=given.fills,
            shortfalls=given.shortfalls,
            stages=stages_of(Facts(season, demand, self.first), given.days, given, 0),
            extras={},
        )

    def more(self, days: Iterable[DayPlan]) -> tuple[tuple[date, str], ...]:
        """Batches that are added to the plan."""
        out = []
        for day in days:
            before = self.old.get(self.season.index(day.day))
            had = Counter(b.design for b in before.batches) if before else Counter[str]()
            out += [(day.day, name) for name in sorted((Counter(b.design for b in day.batches) - had).elements())]
        return tuple(out)

    def called(self, days: tuple[DayPlan, ...]) -> tuple[tuple[date, str], ...]:
        """People who come in on a day on which they were to stay at home."""
        out = []
        for day in days:
            before = self.old.get(self.season.index(day.day))
            had = {s.person for s in before.shifts} if before else set()
            out += [(day.day, s.person) for s in day.shifts if s.person not in had]
        return tuple(out)

    def extra_cents(self, days: tuple[DayPlan, ...]) -> int:
        """Labour of these days less labour of the plan's."""
        return labour_cost(self.facts, days) - labour_cost(self.facts, self.plan.days)

    def displaced(self) -> tuple[tuple[str, int], ...]:
        """Packs of lighter lines, not confirmed, that would have to give way: finished ones, or their candy.

        The lightest a piece first, until every design is enough. Empty where even that does not do.
        """
        free = self.free_pieces(self.end) if self.end >= self.first else Counter[str]()
        missing = Counter({d: n * self.quantity - free[d] for d, n in self.inside.items()})
        missing = +missing
        lines: dict[str, Line] = {n.id: n for n in self.facts.demand.lines}
        out: Counter[str] = Counter()  # a line that gives way on several days is named once
        day = self.season.days[max(0, min(self.end, self.season.day_count - 1))]
        fills = [f for f in self.plan.fills if f.line in lines and not lines[f.line].confirmed and self._useful(f, day)]
        for fill in sorted(fills, key=lambda f: (lines[f.line].weight / max(1, lines[f.line].pieces), f.line)):
            if not missing:
                break
            if lines[fill.line].due < self.first:  # it has left by now
                continue
            each = self.season.contents_of[fill.product]
            useful = [-(-missing[d] // n) for d, n in each.items() if missing[d] > 0]
            packs = min(fill.packs, max(useful, default=0))
            if packs:
                out[fill.line] += packs
                missing = +(missing - Counter({d: packs * n for d, n in each.items()}))
        return () if missing else tuple(out.items())

    def _useful(self, fill: Fill, day: date) -> bool:
        """Whether a delivery's candy could be packed by a day, or its finished packs are the product, and keep."""
        if fill.draws:
            return fill.packed is not None and fill.packed <= day
        life = timedelta(days=self.season.kitchen.least_life_days)
        return fill.product == self.product and (fill.sell_by is None or fill.sell_by >= day + life)


def promised_season(season: Season, product: str, packs: int, day: date) -> Season:
    """The season with the promise in it, lighter than anything else so that it takes nothing from anybody."""
    row = Forecast(ASKED, product, day, packs, packs, packs, 3)
    return replace(season, forecasts=(*season.forecasts, row))


def as_dict(found: Promise) -> dict[str, object]:
    """A promise as plain JSON, without the days' plans."""
    return {
        "product": found.product,
        "quantity": found.quantity,
        "by": found.by.isoformat() if found.by else None,
        "ready": found.ready.isoformat() if found.ready else None,
        "more_batches": [[day.isoformat(), design] for day, design in found.more],
        "called_in": [[day.isoformat(), person] for day, person in found.called],
        "extra_labour": found.extra_cents / 100,
        "from_left_over": found.from_left_over.isoformat() if found.from_left_over else None,
        "packs_by_then": found.by_then,
        "packs_by_then_day": found.by_then_day.isoformat() if found.by_then_day else None,
        "otherwise_ready": found.otherwise.isoformat() if found.otherwise else None,
        "would_displace": [[line, packs] for line, packs in found.displaced],
        "all_days_tried": found.whole,
    }
