"""Bending a plan: the season model again, with every change to the old plan counted.

Two figures bind each other: changes in points (see ``plan.changes``, the same weights) and
what is short. ``Bend.least`` makes one as small as can be while the other stays within a
limit, which is how the choices on the frontier between them are found and proven.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from ortools.sat.python import cp_model
from scheduler.demand.lines import Line
from scheduler.models.caps.limits import Clause, DayLimits, Signature, families
from scheduler.models.counts.board import Board, Expression, Wish
from scheduler.models.counts.solve import build
from scheduler.models.facts import Facts, Stretch
from scheduler.models.solvers import engine
from scheduler.models.solvers.engine import Answer, Limits
from scheduler.models.solvers.linear import Job, MipLimits, job
from scheduler.plan.changes import BATCH, DAY_ON_OR_OFF, HOURS, JOBS, PACKING, notice
from scheduler.plan.request import DayRequest, Hand
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
    had: Mapping[str, int] = field(default_factory=dict)  # packs that each line had in the old plan
    fixed_short: int = 0  # what is short where nothing may change
    gains: bool = False  # a line may get more than it had
    hours_points: dict[int, cp_model.IntVar] = field(default_factory=dict)  # for hours and jobs on a day
    people: dict[int, Expression] = field(default_factory=dict)  # points for people on and off, hours and jobs
    whole: dict[int, Expression] = field(default_factory=dict)  # points of a day
    heuristic: cp_model.IntVar = field(init=False)  # the literal that switches on cuts without proof
    _fewer_of: dict[tuple[str, int, int], cp_model.IntVar] = field(default_factory=dict)
    _said: set[tuple[int, Clause]] = field(default_factory=set)

    def __post_init__(self) -> None:
        model = self.board.model
        self.heuristic = model.new_bool_var("heuristic cuts")
        for t in self.board.free:
            self.whole[t] = sum(self._day(t))
        self.changes = _total(model, list(self.whole.values()), "changes")
        self.short = _total(model, [*_missing(self.board), self.fixed_short], "short")
        if not self.gains:
            self._no_gains()

    def _day(self, t: int) -> list[Expression]:
        """Points of one day: people on and off, batches, hours, packing."""
        weight = notice(self.board.facts.season.days[t], self.today)
        old = self._old(t)
        people = self._people(t, old, weight)
        self.people[t] = sum(people)
        self._put_on(t, old, weight)
        return [*people, *self._batches(t, old, weight), *self._packing(t, old, weight)]

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
        felt = self.hours_points[t] = model.new_int_var(0, (HOURS + JOBS) * weight * max(1, len(lengths)), f"felt {t}")
        model.add(felt >= sum(hours))
        return [*terms, felt]

    def _put_on(self, t: int, old: DayPlan, weight: int) -> None:
        """A batch put on a day gives new jobs to as many people as it needs at once, or to new people.

        felt + notice * new people >= notice * heads. Example: rolling by 3, tomorrow: 3 x 4 points at least.
        """
        board, model = self.board, self.board.model
        had = Counter(b.design for b in old.batches)
        here = [(design, var) for (design, day), var in board.make.items() if day == t]
        if here:
            more = model.new_bool_var(f"put on {t}")
            for design, var in here:
                model.add(var <= had[design]).only_enforce_if(~more)
            there = {s.person for s in old.shifts}
            new = [board.comes[name, t] for name in board.facts.hands[t] if name not in there]
            heads = min(board.facts.heads(design) for design, _ in here)
            model.add(self.hours_points[t] + weight * sum(new) >= JOBS * weight * heads * more)

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
        had = old.packs
        here = [(p, var) for (p, day), var in self.board.pack.items() if day == t]
        if not here:
            return []
        more = model.new_bool_var(f"more packing {t}")
        for product, var in here:
            model.add(var <= had[product]).only_enforce_if(~more)
        return [PACKING * weight * more]

    def _lost(self, model: cp_model.CpModel) -> Iterator[Expression]:
        """Packs that were to be packed on a day, or to go to a line, and are not any more."""
        board = self.board
        for (product, t), var in board.pack.items():
            before = sum(r.packs for r in self._old(t).packing if r.product == product)
            yield from _fewer_than(model, before, var)
        for line in board.facts.demand.lines:
            got = board.fill[line.id] + board.late.get(line.id, 0)
            yield from _fewer_than(model, min(line.packs, self.had.get(line.id, 0)), got)

    def _no_gains(self) -> None:
        """A line gets no more than it had: what one customer loses is not made good by what another gains.

        What is left over is given out all the same, once the days are fitted (``plan.lots``).
        """
        board = self.board
        for line in board.facts.demand.lines:
            if line.id in self.had:
                got = board.fill[line.id] + board.late.get(line.id, 0)
                board.model.add(got <= max(0, self.had[line.id]))

    def least(
        self,
        goal: cp_model.IntVar | None,
        limits: Limits,
        hints: Mapping[cp_model.IntVar, int],
        changes: int | None = None,
        short: int | None = None,
        proven: bool = False,
        like: Answer | None = None,
    ) -> Answer:
        """Make ``goal`` least while changes and short stay within what is given; None: packs lost.

        Near the old plan, which is fast; with ``proven`` among all plans: the bound then holds for every plan. With
        the batches, the shows and the people of ``like``, where that is given: an instant.
        """
        model = self._asked(goal, changes, short, proven)
        if like is not None:
            for var in (*self.board.make.values(), *self.board.comes.values(), *self.board.held.values()):
                if like.knows(var):
                    model.add(model.get_int_var_from_proto_index(var.index) == like[var])
        if hints:
            engine.hint(model, hints)
        return engine.solve(model, replace(limits, confirm=False))

    def question(
        self, goal: cp_model.IntVar, changes: int, short: int, seconds: float | None, whole: bool = True
    ) -> Job:
        """The same among all plans for HiGHS, which needs the same few seconds for most questions.

        Not ``whole``: packs and minutes may be fractional, which is faster; the bound holds, the plan is a guide.
        """
        board, search = self.board, MipLimits(gap=0.99, nodes=1, stall=1, seconds=seconds)
        counts = None if whole else [*board.make.values(), *board.comes.values(), self.changes]
        return job(self._asked(goal, changes, short, proven=True), search, whole=counts)

    def _asked(
        self, goal: cp_model.IntVar | None, changes: int | None, short: int | None, proven: bool
    ) -> cp_model.CpModel:
        model = self.board.model.clone()
        model.add(self.heuristic == int(not proven))
        if changes is not None and changes < engine.LARGEST_SUM:
            model.add(self.changes <= changes)
        if short is not None and short < engine.LARGEST_SUM:
            model.add(self.short <= short)
        model.minimize(_total(model, list(self._lost(model)), "lost") if goal is None else goal)
        return model

    def stay_near(self, near: frozenset[str]) -> None:
        """A guide, no proof: designs and products that the news does not touch stay, but where somebody is away."""
        board, facts, only = self.board, self.board.facts, self.heuristic
        hit = {t for _, t in self.absent}
        products = {p for p, inside in facts.season.contents_of.items() if near & set(inside)}
        for (design, t), var in board.make.items():
            if design not in near and t not in hit:
                count = sum(b.design == design for b in self._old(t).batches)
                board.model.add(var == count).only_enforce_if(only)
        for (product, t), var in board.pack.items():
            if product not in products:
                packs = sum(r.packs for r in self._old(t).packing if r.product == product)
                board.model.add(var == packs).only_enforce_if(only)

    def _old(self, t: int) -> DayPlan:
        return self.before.get(t, DayPlan(self.board.facts.season.days[t]))

    def costs(self, t: int, wish: Wish, points: int, packing: bool) -> None:
        """Hours and jobs take at least so many points on a day with these batches, or more, and no other people.

        Fewer of these people make it no easier: one of the old crew can be in with nothing new
        to do. With ``packing`` only where the day packs no less than wished, too.
        """
        board = self.board
        people = {name for name, _ in wish.shift.get(t, ())}
        ways: list[cp_model.LiteralT] = list(self._ways_out(t, wish.batches.get(t, ()), frozenset(people)))
        ways += [~board.held[t, show] for show in sorted(wish.held.get(t, frozenset()))]
        for product, packs in wish.packing.get(t, ()) if packing else ():
            ways.append(self._fewer(board.pack[product, t], packs))
        self._at_least(self.hours_points[t], points, ways)

    def takes(self, t: int, designs: Sequence[str], points: int) -> None:
        """People's changes take at least so many points on a day with these batches, or more, whoever comes."""
        self._at_least(self.people[t], points, list(self._ways_out(t, designs, frozenset(self.board.facts.hands[t]))))

    def _at_least(self, what: Expression, points: int, ways: list[cp_model.LiteralT]) -> None:
        holds = self.board.model.new_bool_var("")
        self.board.model.add(what >= points).only_enforce_if(holds)
        self.board.model.add_bool_or([holds, *ways])

    def learn(self, t: int, designs: Sequence[str]) -> None:
        """These batches do not fit on a day, whoever comes: nor do harder ones, nor on days that offer less."""
        self.limits.learn(t, designs)
        for day in self.board.free:
            for clause in self.limits.cuts(day):
                if (day, clause) not in self._said:
                    self._said.add((day, clause))
                    ways = [self._fewer(self.board.batches(day, names), count) for names, count in clause]
                    self.board.model.add_bool_or(ways)

    def bar(self, t: int, designs: Sequence[str], people: frozenset[str]) -> None:
        """Never again these batches (or more of them) with only these people, on days that offer no more."""
        facts = self.board.facts
        for day in self.board.free:
            odd = self.limits.odd_starts[day] <= self.limits.odd_starts[t]
            if odd and facts.hours(day) == facts.hours(t) and all(
                _inside(facts.hands[day][n], facts.hands[t][n]) for n in people if n in facts.hands[day]
            ):
                self.board.model.add_bool_or(self._ways_out(day, designs, people))

    def avoid(self, t: int, designs: Sequence[str], people: frozenset[str], seconds: int | None) -> None:
        """No proof: not these batches with only these people on this day, or (seconds) not with more packing."""
        ways: list[cp_model.LiteralT] = [*self._ways_out(t, designs, people), ~self.heuristic]
        if seconds is not None:
            products = self.board.facts.season.product_by_name
            packing = [products[p].packing_seconds * var for (p, day), var in self.board.pack.items() if day == t]
            ways.append(self._fewer(sum(packing), seconds + 1))
        self.board.model.add_bool_or(ways)

    def _ways_out(self, t: int, designs: Sequence[str], people: frozenset[str]) -> list[cp_model.IntVar]:
        """Fewer batches of some design, or somebody else comes."""
        ways = [
            self._fewer_batches(design, t, count)
            for design, count in sorted(Counter(designs).items())
            if (design, t) in self.board.make
        ]
        return ways + [self.board.comes[name, t] for name in self.board.facts.hands[t] if name not in people]

    def _fewer_batches(self, design: str, t: int, count: int) -> cp_model.IntVar:
        key = (design, t, count)
        if key not in self._fewer_of:
            self._fewer_of[key] = self._fewer(self.board.make[design, t], count)
        return self._fewer_of[key]

    def _fewer(self, batches: Expression, count: int) -> cp_model.IntVar:
        fewer = self.board.model.new_bool_var("")
        self.board.model.add(batches <= count - 1).only_enforce_if(fewer)
        return fewer


def _fewer_than(model: cp_model.CpModel, before: int, now: Expression) -> Iterator[Expression]:
    if before > 0:
        lost = model.new_int_var(0, before, "")
        model.add(lost >= before - now)
        yield lost


def _inside(one: Stretch, other: Stretch) -> bool:
    return other.starts <= one.starts and one.ends <= other.ends and one.longest <= other.longest


class SharedLimits(DayLimits):
    """Proven caps, worked out once for days with the same hours, as if everyone were in as long as on any of them."""

    def __init__(self, facts: Facts) -> None:
        super().__init__(facts, usual_idle=0, batch_idle=0)  # only what is proven: the bounds must hold

    def signature(self, t: int) -> Signature:
        hours, _, barred = super().signature(t)
        return hours, barred

    def at_least_as_hard(self, one: str, other: str) -> bool:
        """The same where it is a proof: whatever runs ``one`` runs ``other`` with the same starts in its stead."""
        recipes = (rules.recipe(self.facts.season, self.facts.season.design_by_name[name]) for name in (one, other))
        same = all(x.minutes == y.minutes for x, y in zip(*(recipe[:-1] for recipe in recipes), strict=False))
        return same and super().at_least_as_hard(one, other)

    def _work_out(self, t: int) -> tuple[tuple[tuple[str, ...], int], ...]:
        facts = self.facts
        alike = [d for d in facts.days if self.signature(d) == self.signature(t)]
        able = [d for d in facts.season.designs if any(facts.possible(d, day) for day in alike)]
        if not able:
            return ((tuple(d.name for d in facts.season.designs), 0),)
        most = {}
        for family in families(facts, able):
            names = tuple(d.name for d in family)
            most[names] = self.oracle.most(self._everyone(alike), dict.fromkeys(names, 1))
        return tuple(most.items())

    def _everyone(self, days: list[int]) -> DayRequest:
        """A day with everyone who can be in on any of these days, for as long as on the best of them."""
        facts, widest = self.facts, dict[str, Stretch]()
        for name, s in (item for t in days for item in facts.hands[t].items()):
            w = widest.get(name, s)
            widest[name] = Stretch(min(w.starts, s.starts), max(w.ends, s.ends), max(w.longest, s.longest))
        hands = (Hand(n, w.starts, w.ends, w.longest, facts.person(n).pulls_day) for n, w in widest.items())
        return DayRequest(facts.season.days[days[0]], (), (), tuple(hands))


def bend(
    facts: Facts,
    before: Mapping[int, DayPlan],
    absent: frozenset[tuple[str, int]],
    today: date,
    had: Mapping[str, int],
    beside: int = 0,
    settled: Mapping[int, DayPlan] | None = None,
    gains: bool = False,
) -> Bend:
    """The model of all plans from today on, with changes counted against the days and packs before.

    ``settled`` days stay as they are, but for packs; with ``gains`` lines may get more than they had.
    """
    limits = SharedLimits(facts)
    return Bend(build(facts, limits, settled), limits, before, today, absent, had, beside, gains)


def weigh(line: Line) -> int:
    """Weight of a missing pack of a line in the measure of the bend: promised packs before all others."""
    return line.weight * (PROTECTED if line.confirmed else 1)


def _missing(board: Board) -> list[Expression]:
    """Weight of what nobody gets; promised packs weigh more, shows given up most."""
    terms: list[Expression] = []
    for line in board.facts.demand.lines:
        weight = weigh(line)
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
