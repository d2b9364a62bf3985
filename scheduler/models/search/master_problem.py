"""The restricted master problem: a season made of known days, each a column from 0 to 1, on each date at most 1 in all.

What the relaxation says of mixes, hours and pulls of a day is left to the days themselves, which are known to fit; of
people there are the rules that go beyond a day. The rest is the same: who is served by what is made when. On 13
weeks it is as short, within 0.03 per cent of the demand, as a season in which everyone's shift and each product's packs
are counted; it has a third of the rows, and a dive takes a third of the time (measured).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import replace

from ortools.math_opt.python import mathopt
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.days import held_on
from scheduler.models.counts.deal import SECOND
from scheduler.models.counts.demand import stock_of
from scheduler.models.counts.relaxation import SeasonRelaxation
from scheduler.models.counts.solve import PIECE, SeasonAnswer
from scheduler.models.day.pack_in import idle_of, longer_minutes
from scheduler.models.facts import Facts
from scheduler.models.search.cheaper import wages
from scheduler.models.search.dive import Options, dive_and_search
from scheduler.models.search.sketch import keep_pins, wish_of
from scheduler.models.solvers.engine import Status
from scheduler.models.solvers.warm_lp import LpSolution, NamedBasis, row_names, solve_lp
from scheduler.plan.summary import paid_minutes, pulls_by_person
from scheduler.plan.types import DayPlan
from scheduler.season import rules

NODES = 8  # of HiGHS, where days are whole
WEIGHED = 10 * PIECE  # weight of a weighted piece in the goal, in sixtieths of a cent (PIECE: of ten cents)

Days = Mapping[int, Sequence[DayPlan]]


class MasterProblem(SeasonRelaxation):
    """``columns``: for each free day its known days, with the variable of each; ``settled`` days are as they are.

    ``linking``: make <= batches of the columns, for each design and free day; minus its dual is what a batch is worth
    there. At least so many shows are ``held``. The goal is in weighted pieces, of which one is ``weighed`` like so many
    sixtieths of a cent of wages without overtime, and of what being late costs: they count little.
    """

    def __init__(
        self, facts: Facts, limits: DayLimits, known: Days, settled: Mapping[int, DayPlan] | None = None,
        held: int = 0, weighed: int = WEIGHED,
    ) -> None:  # fmt: skip
        super().__init__(facts, limits)
        self.known, self.settled, self.held, self.weighed = known, settled or {}, held, weighed
        self.columns: dict[int, list[tuple[DayPlan, mathopt.Variable]]] = {}
        self.linking: dict[tuple[str, int], mathopt.LinearConstraint] = {}
        self.stays: dict[int, mathopt.Variable] = {}  # minutes for which packers stay, or come
        self.keeps_pins = False  # as far as it knows of them
        self.costs: dict[int, float] = {}  # by variable: wages, and what being late costs, in weighted pieces
        self.build()

    @property
    def free(self) -> list[int]:
        """Days that are not settled."""
        return [t for t in self.facts.days if t not in self.settled]

    def build(self) -> None:
        """All conditions, one rule after the other."""
        self._counts()
        self._fills()
        self._windows()
        self._packing()
        self._days()
        self._time_to_pack()
        self._candy_first()
        self._people()
        self.hold(self.held)
        self.keeps_pins = keep_pins(self)
        for made in self.make.values():
            made.integer = False  # whole days have whole batches

    def _days(self) -> None:
        """At most one known day for each free day: `make` <= its batches; what is settled makes nothing more."""
        for t in self.free:
            self.columns[t] = [(day, self.model.add_variable(lb=0, ub=1)) for day in self.known.get(t, ())]
            if self.columns[t]:
                self.model.add_linear_constraint(mathopt.fast_sum(use for _, use in self.columns[t]) <= 1)
            for day, use in self.columns[t]:
                self.costs[use.id] = wages(self.facts, day) / self.weighed
                self.model.objective.set_linear_coefficient(use, self.costs[use.id])
        for line in self.facts.demand.lines:
            if line.late is not None and (late := self.fill.get((line.id, True))) is not None:
                worth = self.model.objective.get_linear_coefficient(late)
                self.costs[late.id] = 60 * line.late.cents / self.weighed
                self.model.objective.set_linear_coefficient(late, worth + self.costs[late.id])
        for (design, t), made in self.make.items():
            if t in self.settled:
                made.upper_bound = 0
                continue
            there = [day.designs.count(design) * use for day, use in self.columns[t]]
            self.linking[design, t] = self.model.add_linear_constraint(made <= mathopt.fast_sum(there))

    def _time_to_pack(self) -> None:
        """No more than what packers' idle minutes hold, and some for which one of them stays or comes."""
        facts = self.facts
        self.stays = {t: self.model.add_variable(lb=0, name=f"stays {t}") for t in self.free}
        for stays in self.stays.values():
            self.costs[stays.id] = 60 * SECOND * WEIGHED / self.weighed
            self.model.objective.set_linear_coefficient(stays, self.costs[stays.id])
        each = {product.name: product.packing_seconds for product in facts.season.products}
        for t, seconds in self.seconds.items():
            if t in self.settled:
                seconds.upper_bound = sum(each[product] * packs for product, packs in self.settled[t].packs.items())
                continue
            packers = facts.skilled(t, facts.season.kitchen.packing_skill)
            idle = [idle_of(facts, day, packers) * use for day, use in self.columns[t]]
            self.model.add_linear_constraint(seconds <= 60 * mathopt.fast_sum([self.stays[t], *idle]))
            empty = longer_minutes(facts, t, None, packers)
            less = [(empty - longer_minutes(facts, t, day, packers)) * use for day, use in self.columns[t]]
            self.model.add_linear_constraint(mathopt.fast_sum([self.stays[t], *less]) <= empty)

    def _candy_first(self) -> None:
        """`candy before packing`: seconds of packing up to a day are no more than what is made before it takes.

        A piece takes at most what it does in the product in which it takes longest.
        """
        facts, season = self.facts, self.facts.season
        longest = dict[str, float]()
        for product in season.products:
            inside = season.contents_of.get(product.name, {})
            for name in inside:
                longest[name] = max(longest.get(name, 0.0), product.packing_seconds / sum(inside.values()))
        lead, there = season.kitchen.packing_from_days, defaultdict[int, list[mathopt.LinearTypes]](list)
        for design in season.designs:
            each = longest.get(design.name, 0.0)
            for day, pieces in stock_of(facts, design.name):
                there[max(day + lead, facts.from_index)].append(each * pieces)
            for t in facts.days:
                if (design.name, t) in self.make:
                    there[t + lead].append(each * design.pieces * self.make[design.name, t])
        packed: list[mathopt.LinearTypes] = []
        made: list[mathopt.LinearTypes] = []
        days = sorted(there)
        for t in facts.days:
            while days and days[0] <= t:
                made += there[days.pop(0)]
            packed.append(self.seconds[t])
            spent, ready = (self.model.add_variable(lb=0, name=f"{what} until {t}") for what in ("packed", "made"))
            self.model.add_linear_constraint(spent == mathopt.fast_sum(packed))
            self.model.add_linear_constraint(ready == mathopt.fast_sum(made))
            self.model.add_linear_constraint(spent <= ready)
            packed, made = [spent], [ready]

    def _people(self) -> None:
        """`week hours`, `pulls a week`, `days in a row`, of the shifts of known days; what is decided counts."""
        facts = self.facts
        paid, pulls, present = (defaultdict[tuple[str, int], list[mathopt.LinearTypes]](list) for _ in range(3))
        for t, day, use in self._everything():
            for shift in day.shifts:
                paid[shift.person, t].append(paid_minutes(facts.season, shift) * use)
                present[shift.person, t].append(use)
            for name, count in pulls_by_person(facts.season, day).items():
                pulls[name, t].append(count * use)
        weeks = defaultdict[tuple[int, int], list[int]](list)
        for t in sorted({t for _, t in present}):
            weeks[facts.week(t)].append(t)
        skill = facts.season.kitchen.packing_skill
        for days in weeks.values():
            packers = frozenset[str]().union(*(facts.skilled(t, skill) for t in days if t in facts.hands))
            there = [term for t in days for name in packers for term in paid[name, t]]
            there += [self.stays[t] for t in days if t in self.stays]
            self._at_most(there, sum(rules.week_limit(facts.person(name)) for name in packers))
            for person in facts.season.crew:
                for terms, most in ((paid, rules.week_limit(person)), (pulls, person.pulls_week)):
                    self._at_most([term for t in days for term in terms[person.name, t]], most)
        most = facts.season.kitchen.days_in_a_row
        for person in facts.season.crew:
            for first in range(-most, facts.season.day_count - most):
                span = [present[person.name, t] for t in range(first, first + most + 1)]
                if all(span):
                    self._at_most([use for uses in span for use in uses], most)

    def _everything(self) -> Iterable[tuple[int, DayPlan, mathopt.LinearTypes]]:
        """(day, plan, share): all known days, and those that are decided or settled, whole."""
        for t, uses in self.columns.items():
            for day, use in uses:
                yield t, day, use
        for t, day in (*self.facts.done_by_index.items(), *self.settled.items()):
            yield t, day, 1

    def _at_most(self, terms: Sequence[mathopt.LinearTypes], most: int) -> None:
        """The sum of some terms is at most so much, or what the decided days among them have already."""
        fixed = sum(term for term in terms if isinstance(term, int))
        loose = [term for term in terms if not isinstance(term, int)]
        if loose:
            self.model.add_linear_constraint(mathopt.fast_sum(loose) <= max(0, most - fixed))

    def hold(self, shows: int) -> None:
        """At least so many shows are held on the free days."""
        if shows:
            there = [len(held_on(day)) * use for uses in self.columns.values() for day, use in uses if held_on(day)]
            self.model.add_linear_constraint(mathopt.fast_sum(there) >= shows)

    def solve_lp(self, seconds: float | None = None, basis: NamedBasis | None = None) -> LpSolution | None:
        """Its LP relaxation, from the ``basis`` of one with other columns; None: infeasible, or not in the time."""
        return solve_lp(self.model.export_model(), seconds, self.names(), basis) if self.keeps_pins else None

    def names(self) -> list[Hashable]:
        """What tells the variables from each other, and says which are the same in a season with other known days."""
        names = dict[int, Hashable]((var.id, var.name or var.id) for var in self.model.variables())
        names |= {use.id: (t, id(day)) for t, uses in self.columns.items() for day, use in uses}
        return list(names.values())

    def most_held(self) -> int:
        """Shows that a season of whole days can hold, as far as is found at once."""
        model = mathopt.Model.from_model_proto(self.model.export_model())
        shares = [(model.get_variable(use.id), day) for uses in self.columns.values() for day, use in uses]
        for share, _ in shares:
            share.integer = True
        model.maximize(mathopt.fast_sum(len(held_on(day)) * share for share, day in shares))
        result = mathopt.solve(model, mathopt.SolverType.HIGHS, params=mathopt.SolveParameters(node_limit=NODES))
        return round(result.objective_value()) if result.has_primal_feasible_solution() else self.held

    def chosen(
        self, now: Mapping[int, DayPlan], gap: float, seconds: float | None, workers: int,
        basis: NamedBasis | None = None, nodes: int = 0,
    ) -> SeasonAnswer:  # fmt: skip
        """Whole days, as good as are found, and who is served; ``now``: those of the plan so far.

        ``gap``: between the choice and the LP relaxation, in weighted pieces, that is near enough; ``nodes``: of HiGHS'
        tree at most, where dives end further away.
        """
        model, names = self.model.export_model(), self.names()
        days = tuple(tuple(use.id for _, use in self.columns[t]) for t in self.free)
        had = tuple(next((use.id for day, use in self.columns[t] if day is now.get(t)), None) for t in self.free)
        start = None if basis is None else basis.start(names, row_names(model, names))
        asked = Options(model.SerializeToString(), days, had, start, gap, seconds, nodes)
        best = dive_and_search(asked, max(1, workers))
        if best is None:
            return SeasonAnswer(Status.UNKNOWN, None, None)
        there = dict(zip(self.free, best.days, strict=True))
        for t, uses in self.columns.items():
            for _, use in uses:
                use.lower_bound = use.upper_bound = float(use.id == there[t])
        return self._read({t: day for t, uses in self.columns.items() for day, use in uses if use.id == there[t]})

    def _read(self, days: Mapping[int, DayPlan]) -> SeasonAnswer:
        """What these days ask for, with whole orders settled."""
        result = mathopt.solve(self.model, mathopt.SolverType.HIGHS, params=mathopt.SolveParameters(node_limit=NODES))
        if not result.has_primal_feasible_solution():
            return SeasonAnswer(Status.UNKNOWN, None, None)
        values = {variable.id: value for variable, value in result.variable_values().items()}
        paid = sum(cost * values[name] for name, cost in self.costs.items())
        counts = {var.id: days[t].designs.count(d) if t in days else 0 for (d, t), var in self.make.items()}
        wish = wish_of(self, values | counts)
        packing = {t: packs for t, packs in wish.packing.items() if t not in self.settled}
        packing |= {t: tuple(sorted(day.packs.items())) for t, day in self.settled.items()}
        people = {t: tuple((s.person, s.ends - s.starts) for s in day.shifts) for t, day in days.items()}
        held = {t: held_on(day) for t, day in days.items()}
        wish = replace(wish, packing=packing, shift={**wish.shift, **people}, held=held, known=days)
        return SeasonAnswer(Status.FEASIBLE, wish, max(0, round(result.objective_value() - paid)))
