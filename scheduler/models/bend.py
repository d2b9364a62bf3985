"""Bending a plan: the season model again, with every change to the old plan counted.

Two figures bind each other: changes in points (see ``plan.changes``, the same weights) and
what is short. ``Bend.least`` makes one as small as can be while the other stays within a
limit, which is how the choices on the frontier between them are found and proven.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from ortools.sat.python import cp_model
from scheduler.models import engine
from scheduler.models.engine import Answer, Limits
from scheduler.models.facts import Facts, Stretch
from scheduler.models.limits import Clause, DayLimits
from scheduler.models.season import Board, Expression, Wish
from scheduler.models.season_solve import build
from scheduler.plan.changes import BATCH, DAY_ON_OR_OFF, HOURS, JOBS, PACKING, notice
from scheduler.plan.types import DayPlan
from scheduler.season import rules

PROTECTED = 10  # a pack promised to a customer weighs so many times its usual weight: before all others
MISSED_SHOW = 1_000_000  # a show that is given up, in the same measure


@dataclass
class Bend:
    """The season model with ``changes`` (points) and ``short`` (weight, promised packs first) as variables.

    ``absent`` are (person, day index) whom the news keeps away.
    """

    board: Board
    limits: DayLimits
    before: Mapping[int, DayPlan]
    today: date
    absent: frozenset[tuple[str, int]]
    changes: cp_model.IntVar = field(init=False)
    short: cp_model.IntVar = field(init=False)
    lost: cp_model.IntVar = field(init=False)  # packs taken off a day's packing, or from a line that had them
    had: Mapping[str, int] = field(default_factory=dict)  # packs that each line had in the old plan: no more count
    felt: dict[int, cp_model.IntVar] = field(default_factory=dict)  # points for hours and jobs on a day
    _said: set[tuple[int, Clause]] = field(default_factory=set)

    def __post_init__(self) -> None:
        model = self.board.model
        points = [term for t in self.board.facts.days for term in self._day(t)]
        self.changes = _total(model, points, "changes")
        self.short = _total(model, _missing(self.board), "short")
        self.lost = _total(model, list(self._lost()), "lost")
        self._no_gains()

    def _day(self, t: int) -> list[Expression]:
        """Points of one day: people on and off, batches, hours, packing."""
        weight = notice(self.board.facts.season.days[t], self.today)
        old = self._old(t)
        return [*self._people(t, old, weight), *self._batches(t, old, weight), *self._packing(t, old, weight)]

    def _people(self, t: int, old: DayPlan, weight: int) -> list[Expression]:
        """Someone called in or sent home; other hours at least where a shift is longer or shorter than it was."""
        model = self.board.model
        terms: list[Expression] = []
        hours: list[Expression] = []
        lengths = {s.person: s.ends - s.starts for s in old.shifts}
        for name in self.board.facts.hands[t]:
            comes, shift = self.board.comes[name, t], self.board.shift[name, t]
            if name not in lengths:
                terms.append(DAY_ON_OR_OFF * weight * comes)
            elif (name, t) not in self.absent:
                terms.append(DAY_ON_OR_OFF * weight * (1 - comes))
                other = model.new_bool_var(f"other hours {name} {t}")
                model.add(shift == lengths[name]).only_enforce_if(comes, ~other)
                hours.append(HOURS * weight * other)
        felt = self.felt[t] = model.new_int_var(0, (HOURS + JOBS) * weight * max(1, len(lengths)), f"felt {t}")
        model.add(felt >= sum(hours))
        return [*terms, felt]

    def _batches(self, t: int, old: DayPlan, weight: int) -> list[Expression]:
        """|make - before| for each design."""
        model = self.board.model
        terms: list[Expression] = []
        had = Counter(b.design for b in old.batches)
        for design in self.board.facts.season.designs:
            var, count = self.board.make.get((design.name, t)), had[design.name]
            if var is None:
                terms.append(BATCH * weight * count)
            elif count == 0:
                terms.append(BATCH * weight * var)
            else:
                moved = model.new_int_var(0, max(count, int(var.proto.domain[1])), f"moved {design.name} {t}")
                model.add(moved >= var - count)
                model.add(moved >= count - var)
                terms.append(BATCH * weight * moved)
        return terms

    def _packing(self, t: int, old: DayPlan, weight: int) -> list[Expression]:
        """Whether any product is packed more than before; fewer packs change nobody's day."""
        model = self.board.model
        had: Counter[str] = Counter()
        for run in old.packing:
            had[run.product] += run.packs
        here = [(p, var) for (p, day), var in self.board.pack.items() if day == t]
        if not here:
            return []
        more = model.new_bool_var(f"more packing {t}")
        for product, var in here:
            model.add(var <= had[product]).only_enforce_if(~more)
        return [PACKING * weight * more]

    def _lost(self) -> Iterator[Expression]:
        """Packs that were to be packed on a day, or to go to a line, and are not any more."""
        board = self.board
        for (product, t), var in board.pack.items():
            yield from self._fewer_than(sum(r.packs for r in self._old(t).packing if r.product == product), var)
        for line in board.facts.demand.lines:
            got = board.fill[line.id] + board.late.get(line.id, 0)
            yield from self._fewer_than(min(line.packs, self.had.get(line.id, 0)), got)

    def _no_gains(self) -> None:
        """A line gets no more than it had: what one customer loses is not made good by what another gains.

        What is left over is given out all the same, once the days are fitted (``plan.lots``).
        """
        board = self.board
        for line in board.facts.demand.lines:
            if line.id in self.had:
                got = board.fill[line.id] + board.late.get(line.id, 0)
                board.model.add(got <= max(0, self.had[line.id]))

    def _fewer_than(self, before: int, now: Expression) -> Iterator[Expression]:
        if before > 0:
            lost = self.board.model.new_int_var(0, before, "")
            self.board.model.add(lost >= before - now)
            yield lost

    def least(
        self,
        goal: cp_model.IntVar,
        limits: Limits,
        hints: Mapping[cp_model.IntVar, int],
        changes: int | None = None,
        short: int | None = None,
        near: frozenset[str] | None = None,
    ) -> Answer:
        """Make ``goal`` least while changes and short stay within what is given.

        With ``near`` only these designs may move, and days hold no more than days like them
        held before: much faster, and no bound for all plans.
        """
        model = self.board.model.clone()
        if near is not None:
            self._stay_near(model, near)
        if changes is not None:
            model.add(self.changes <= changes)
        if short is not None:
            model.add(self.short <= short)
        model.minimize(goal)
        if hints:
            engine.hint(model, hints)
        return engine.solve(model, limits, confirm_infeasible=False)

    def _stay_near(self, model: cp_model.CpModel, near: frozenset[str]) -> None:
        """Fix designs and products that the news does not touch, but on days when somebody is away."""
        board, facts = self.board, self.board.facts
        hit = {t for _, t in self.absent}
        products = {p for p, inside in facts.season.contents_of.items() if near & set(inside)}
        for (design, t), var in board.make.items():
            if design not in near and t not in hit:
                model.add(var == sum(b.design == design for b in self._old(t).batches))
        for (product, t), var in board.pack.items():
            if product not in products:
                model.add(var == sum(r.packs for r in self._old(t).packing if r.product == product))
        held: Counter[object] = Counter()
        for t in facts.days:
            sort = self.limits.signature(t)
            held[sort] = max(held[sort], len(self._old(t).batches))
        for t in facts.days:
            model.add(board.batches(t) <= held[self.limits.signature(t)])

    def _old(self, t: int) -> DayPlan:
        return self.before.get(t, DayPlan(self.board.facts.season.days[t]))

    def costs(self, t: int, wish: Wish, points: int, packing: bool) -> None:
        """Hours and jobs take at least so many points where a day has just these batches and people.

        With ``packing`` only where it packs no less than wished, too.
        """
        model, board = self.board.model, self.board
        ways: list[cp_model.LiteralT] = []
        wanted = Counter(wish.batches.get(t, ()))
        for (design, day), var in board.make.items():
            if day == t:
                ways.append(self._fewer(-var, -wanted[design]))
                if wanted[design]:
                    ways.append(self._fewer(var, wanted[design]))
        people = {name for name, _ in wish.shift.get(t, ())}
        for name in board.facts.hands[t]:
            ways.append(~board.comes[name, t] if name in people else board.comes[name, t])
        for product, packs in wish.packing.get(t, ()) if packing else ():
            ways.append(self._fewer(board.pack[product, t], packs))
        holds = model.new_bool_var("")
        model.add(self.felt[t] >= points).only_enforce_if(holds)
        model.add_bool_or([holds, *ways])

    def learn(self, t: int, designs: Sequence[str]) -> None:
        """These batches do not fit on a day, whoever comes: nor do harder ones, nor on days that offer less."""
        self.limits.learn(t, designs)
        for day in self.board.facts.days:
            for clause in self.limits.cuts(day):
                if (day, clause) not in self._said:
                    self._said.add((day, clause))
                    ways = [self._fewer(self.board.batches(day, names), count) for names, count in clause]
                    self.board.model.add_bool_or(ways)

    def bar(self, t: int, designs: Sequence[str], people: frozenset[str]) -> None:
        """Never again these batches (or more of them) with only these people, on days that offer no more."""
        facts = self.board.facts
        for day in facts.days:
            if facts.hours(day) == facts.hours(t) and all(
                _inside(facts.hands[day][n], facts.hands[t][n]) for n in people if n in facts.hands[day]
            ):
                self.board.model.add_bool_or(self._ways_out(day, designs, people))

    def bar_packing(self, t: int, designs: Sequence[str], people: frozenset[str], seconds: int) -> None:
        """At most so many seconds of packing beside these batches (or more) with only these people."""
        model, products = self.board.model, self.board.facts.season.product_by_name
        less = model.new_bool_var("")
        packing = [products[p].packing_seconds * var for (p, day), var in self.board.pack.items() if day == t]
        model.add(sum(packing) <= seconds).only_enforce_if(less)
        model.add_bool_or([less, *self._ways_out(t, designs, people)])

    def _ways_out(self, t: int, designs: Sequence[str], people: frozenset[str]) -> list[cp_model.IntVar]:
        """Fewer batches of some design, or somebody else comes."""
        ways = [
            self._fewer(self.board.make[design, t], count)
            for design, count in sorted(Counter(designs).items())
            if (design, t) in self.board.make
        ]
        return ways + [self.board.comes[name, t] for name in self.board.facts.hands[t] if name not in people]

    def _fewer(self, batches: Expression, count: int) -> cp_model.IntVar:
        fewer = self.board.model.new_bool_var("")
        self.board.model.add(batches <= count - 1).only_enforce_if(fewer)
        return fewer


def _inside(one: Stretch, other: Stretch) -> bool:
    return other.starts <= one.starts and one.ends <= other.ends and one.longest <= other.longest


class RoughLimits(DayLimits):
    """Caps by the narrowest station alone: at once, and valid for every plan; cuts are learnt where it matters."""

    def __init__(self, facts: Facts) -> None:
        super().__init__(facts, usual_idle=0, batch_idle=0)  # only what is proven: the bounds must hold

    def _work_out(self, t: int) -> tuple[tuple[tuple[str, ...], int], ...]:
        able = [d for d in self.facts.season.designs if self.facts.possible(d, t)]
        everything = tuple(d.name for d in self.facts.season.designs)
        if not able:
            return ((everything, 0),)
        return ((everything, self._by_station(t, [rules.recipe(self.facts.season, d) for d in able])),)

    def _by_station(self, t: int, recipes: list[tuple[rules.StageNeed, ...]]) -> int:
        """Runs of a stage that every batch has, one after another between opening and closing, on all places."""
        facts, k = self.facts, self.facts.season.kitchen
        opens, closes = facts.hours(t) or (0, 0)
        span = closes - opens - (k.opening_minutes if k.opening_people > 0 else 0)
        span -= k.closing_minutes if k.closing_people > 0 else 0
        most = 60
        for name in {n.name for n in recipes[0]}.intersection(*({n.name for n in r} for r in recipes)):
            stages = [next(n for n in r if n.name == name) for r in recipes]
            minutes = min(n.minutes for n in stages)
            others = min(sum(n.minutes for n in r) for r in recipes) - minutes
            places = max(facts.season.places.get(n.station, 0) for n in stages)
            most = min(most, places * (max(0, span - max(0, others)) // minutes))
        return most


def bend(
    facts: Facts,
    before: Mapping[int, DayPlan],
    absent: frozenset[tuple[str, int]],
    today: date,
    had: Mapping[str, int],
) -> Bend:
    """The model of all plans from today on, with changes counted against the days and packs before."""
    limits = RoughLimits(facts)
    return Bend(build(facts, limits), limits, before, today, absent, had)


def _missing(board: Board) -> list[Expression]:
    """Weight of what nobody gets; promised packs weigh more, shows given up most."""
    terms: list[Expression] = []
    for line in board.facts.demand.lines:
        weight = line.weight * (PROTECTED if line.confirmed else 1)
        if line.partial:
            terms.append(weight * (line.packs - board.fill[line.id] - board.late.get(line.id, 0)))
        elif line.packs:
            terms.append(weight * line.asked * (1 - board.whole[line.id]))
    terms += [MISSED_SHOW * (1 - held) for held in board.held.values()]
    return terms


def _total(model: cp_model.CpModel, terms: list[Expression], name: str) -> cp_model.IntVar:
    """A variable that is the sum; 2^31 - 1 is the most that it may be (see ``engine``)."""
    total = model.new_int_var(0, engine.LARGEST_SUM, name)
    model.add(total == sum(terms))
    return total
