"""An aggregated relaxation: every plan of the season maps to a solution of it, so its optimum is a lower bound.

Batches a day within what the day model proved, work, duties and packing within the hours of those able, weekly hours
and pulls, sell-by windows by Hall's condition. Clock times and names are left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ortools.math_opt.python import mathopt
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.demand import Item, in_late, in_time, intervals, items_of, stock_of
from scheduler.models.facts import Facts, unions
from scheduler.season import rules
from scheduler.season.types import Design

FLOWS = 2000  # terms in a design's interval conditions above which flows are the smaller model


class SeasonRelaxation:
    """A season's relaxation under construction (``build``); the goal is the weighted shortfall."""

    def __init__(self, facts: Facts, limits: DayLimits, missed: int | None = None) -> None:
        self.facts, self.limits, self.missed = facts, limits, missed
        self.fitting = {} if missed is None else self._fitting()
        shown = {d for designs in self.fitting.values() for d in designs}
        self.designs = [d.name for d in facts.season.designs if d.name in facts.wanted or d.name in shown]
        self.model = mathopt.Model(name="bound")
        self.make: dict[tuple[str, int], mathopt.Variable] = {}
        self.fill: dict[tuple[str, bool], mathopt.Variable] = {}
        self.seconds: dict[int, mathopt.Variable] = {}  # of packing on a day
        self.working: dict[int, mathopt.Variable] = {}  # 1 on a day with a batch; a share of it is a share of the day
        self.extra: dict[int, list[tuple[frozenset[str], mathopt.LinearTypes]]] = {}  # minutes of extra hands

    def _fitting(self) -> dict[tuple[int, str], frozenset[str]]:
        """(day, show) -> designs of which a batch can be poured there."""
        facts = self.facts
        return {
            (t, show.name): frozenset(d.name for d in facts.season.designs if facts.can_hold(t, d, show))
            for t, today in facts.shows.items()
            for show in today
        }

    def build(self) -> None:
        """All conditions, one rule after the other."""
        self._counts()
        self._caps()
        self._fills()
        self._windows()
        self._packing()
        self._shows()
        self._work()
        self._pulls()

    def _counts(self) -> None:
        """Batches of each design on each day."""
        for design in self.designs:
            for t in self.facts.makeable[design]:
                most = self.limits.most_of(t, design)
                if most > 0:
                    self.make[design, t] = self.model.add_integer_variable(lb=0, ub=most, name=f"make {design} {t}")

    def _caps(self) -> None:
        """Batches a day within the proven caps."""
        for t in self.facts.days:
            self.working[t] = self.model.add_variable(lb=0, ub=1, name=f"working {t}")
            for designs, most in self.limits.caps(t):
                self.mix(t, dict.fromkeys(designs, 1), most)
            for limit in self.limits.proven(t):
                self.mix(t, limit.weights, limit.most)

    def mix(self, t: int, weights: Mapping[str, int], most: int) -> None:
        """Weighted batches of a day are at most so many, and none where the day has no batch."""
        terms = [weights[d] * self.make[d, t] for d in weights if (d, t) in self.make]
        if terms:
            self.model.add_linear_constraint(mathopt.fast_sum(terms) <= most * self.working[t])

    def made_on(self, t: int) -> list[tuple[str, mathopt.Variable]]:
        return [(d, self.make[d, t]) for d in self.designs if (d, t) in self.make]

    def _fills(self) -> None:
        """Packs of each line in time and late; a whole order is all or nothing."""
        goal: list[mathopt.LinearTypes] = []
        for line in self.facts.demand.lines:
            terms = []
            for late, possible in ((False, in_time(line)), (True, in_late(line))):
                if possible and line.packs:
                    var = self.model.add_variable(lb=0, ub=line.packs, name=f"{line.id} {late}")
                    self.fill[line.id, late] = var
                    terms.append(var)
            got = mathopt.fast_sum(terms)
            if line.partial:
                if len(terms) > 1:
                    self.model.add_linear_constraint(got <= line.packs)
                goal.append(line.weight * (line.packs - got))
            elif line.packs:
                whole = self.model.add_binary_variable(name=f"whole {line.id}")
                self.model.add_linear_constraint(got == line.packs * whole)
                goal.append(line.whole_weight * (1 - whole))
        self.model.minimize(mathopt.fast_sum(goal))

    def _windows(self) -> None:
        """For each design and interval of windows: pieces of the lines inside <= stock + what is made in it."""
        for design in self.facts.season.designs:
            items = [i for i in items_of(self.facts, design.name) if (i[2], i[3]) in self.fill]
            stock = stock_of(self.facts, design.name)
            days = sorted(t for d, t in self.make if d == design.name)
            spans = intervals(items)
            if sum(len(span.items) for span in spans) > FLOWS:
                self._flows(design, items, stock, days)
                continue
            for span in spans:
                need = [n * self.fill[line, late] for line, late, n in span.items]
                have = sum(pieces for day, pieces in stock if span.first <= day <= span.last)
                made = [self.make[design.name, t] for t in days if span.first <= t <= span.last]
                self.model.add_linear_constraint(
                    mathopt.fast_sum(need) <= have + design.pieces * mathopt.fast_sum(made)
                )

    def _flows(self, design: Design, items: list[Item], stock: list[tuple[int, int]], days: list[int]) -> None:
        """The same for a design with many orders: pieces of each from each stretch of days that no window cuts."""
        cuts = sorted({i[0] for i in items} | {i[1] + 1 for i in items})
        used: dict[int, list[mathopt.Variable]] = {}
        for first, last, line, late, pieces in items:
            taken = []
            for cut in cuts:
                if first <= cut <= last:
                    var = self.model.add_variable(lb=0)
                    taken.append(var)
                    used.setdefault(cut, []).append(var)
            self.model.add_linear_constraint(mathopt.fast_sum(taken) == pieces * self.fill[line, late])
        for cut, end in zip(cuts, [*cuts[1:], 10**6], strict=True):
            if cut in used:
                have = sum(pieces for day, pieces in stock if cut <= day < end)
                made = [self.make[design.name, t] for t in days if cut <= t < end]
                self.model.add_linear_constraint(
                    mathopt.fast_sum(used[cut]) <= have + design.pieces * mathopt.fast_sum(made)
                )

    def _packing(self) -> None:
        """Packing seconds by each deadline are worked by then, at the places there are."""
        facts, products = self.facts, self.facts.season.product_by_name
        places = facts.season.places.get(facts.season.kitchen.packing_station, 0)
        for t in facts.days:
            hours = facts.hours(t)
            assert hours is not None
            self.seconds[t] = self.model.add_variable(lb=0, ub=60 * places * (hours[1] - hours[0]), name=f"packing {t}")
        done = sum(
            run.packs * products[run.product].packing_seconds
            for day in facts.done_by_index.values()
            for run in day.packing
        )
        lines = {line.id: line for line in facts.demand.lines}
        deadline: dict[int, list[mathopt.LinearTypes]] = {}
        for (name, late), var in self.fill.items():
            line = lines[name]
            last = line.late.pack_by if late and line.late is not None else line.pack_by
            deadline.setdefault(last, []).append(products[line.product].packing_seconds * var)
        total: list[mathopt.LinearTypes] = []
        for last in sorted(deadline):
            total += deadline[last]
            worked = [self.seconds[t] for t in facts.days if t <= last]
            self.model.add_linear_constraint(mathopt.fast_sum(total) <= done + mathopt.fast_sum(worked))

    def _shows(self) -> None:
        """All shows but ``missed`` have a batch of their own that fits, and the extra people's time."""
        facts = self.facts
        if self.missed is None or not facts.shows:
            return
        every: list[mathopt.Variable] = []
        for t, today in facts.shows.items():
            held = {s.name: self.model.add_variable(lb=0, ub=1, name=f"held {s.name} {t}") for s in today}
            every += held.values()
            for group in unions(self.fitting[t, s.name] for s in today):
                inside = [held[s.name] for s in today if self.fitting[t, s.name] <= group]
                made = [var for d, var in self.made_on(t) if d in group]
                self.model.add_linear_constraint(mathopt.fast_sum(made) >= mathopt.fast_sum(inside))
            self.extra[t] = [
                (facts.skilled(t, s.extra_skill), s.extra_people * s.extra_minutes * held[s.name]) for s in today
            ]
        self.model.add_linear_constraint(mathopt.fast_sum(every) >= len(every) - self.missed)

    def _work(self) -> None:
        """For each day and week and each set of people: work that only they can do fits their hours (Hall)."""
        facts = self.facts
        packers = facts.season.kitchen.packing_skill
        by_week: dict[tuple[tuple[int, int], frozenset[str]], list[mathopt.LinearTypes]] = {}
        for t in facts.days:
            work: dict[frozenset[str], list[mathopt.LinearTypes]] = {}
            for design in self.designs:
                if (design, t) in self.make:
                    for load in facts.loads_of(design, t):
                        work.setdefault(load.able, []).append(load.minutes * self.make[design, t])
            work.setdefault(facts.skilled(t, packers), []).append(self.seconds[t] / 60)
            for able, minutes in self.extra.get(t, ()):
                work.setdefault(able, []).append(minutes)
            duties = sum(people * minutes for people, minutes in facts.duties())
            if t in self.working and duties:
                work.setdefault(frozenset(facts.hands[t]), []).append(duties * self.working[t])
            for group in unions(work):
                inside = mathopt.fast_sum(term for able, terms in work.items() if able <= group for term in terms)
                hands = facts.hands[t]
                time = sum(facts.work_of(hands[n].longest) for n in group)
                self.model.add_linear_constraint(inside <= time)
            for able, terms in work.items():
                names = frozenset(p.name for p in facts.season.crew if p.name in able)
                by_week.setdefault((facts.week(t), names), []).extend(terms)
        for week, days in facts.weeks.items():
            loads = {able: terms for (w, able), terms in by_week.items() if w == week}
            for group in unions(loads):
                inside = mathopt.fast_sum(term for able, terms in loads.items() if able <= group for term in terms)
                self.model.add_linear_constraint(inside <= sum(self.week_minutes(n, days) for n in group))

    def week_minutes(self, name: str, days: Sequence[int]) -> int:
        """Most working minutes of a person in a week: the paid limit, or what days give without too many in a row.

        Whoever keeps `days in a row` comes on some of the days, of which no more than allowed follow each other in the
        calendar; the most that any such choice gives is a most for every plan. Days before and after are left out: with
        them no more choices are left. Four days of 60 minutes, 1 in a row: 120; 3 in a row: 180; a day closed between
        the second and the third and 2 in a row: 240.
        """
        facts = self.facts
        most = facts.season.kitchen.days_in_a_row
        best = [0]  # minutes up to here, by how many days in a row were the last
        for t in range(days[0], days[-1] + 1):
            stretch = facts.hands.get(t, {}).get(name)
            comes = [] if stretch is None else [n + facts.work_of(stretch.longest) for n in best[:most]]
            best = [max(best), *comes]
        return min(rules.week_limit(facts.person(name)), max(best))

    def _pulls(self) -> None:
        """Pulls of a week (and a day) fit what those able may pull, in whole charges where a batch charges more."""
        facts = self.facts
        for days in [[t] for t in facts.days] + list(facts.weeks.values()):
            loads: dict[frozenset[str], list[tuple[int, int, mathopt.Variable]]] = {}
            for t in days:
                for design, var in self.made_on(t):
                    for role, people in facts.pulls_of(design):
                        loads.setdefault(facts.able(t, role), []).append((role.pulls, people, var))
            for group in unions(loads):
                inside = [load for able, some in loads.items() if able <= group for load in some]
                total = mathopt.fast_sum(pulls * people * var for pulls, people, var in inside)
                self.model.add_linear_constraint(total <= sum(self._may_pull(n, days, 1) for n in group))
                for charge in {pulls for pulls, _, _ in inside}:
                    heavy = mathopt.fast_sum(people * var for pulls, people, var in inside if pulls >= charge)
                    self.model.add_linear_constraint(heavy <= sum(self._may_pull(n, days, charge) for n in group))

    def _may_pull(self, name: str, days: list[int], charge: int) -> int:
        """Most pulls of so large a charge that a person may have on some days of a week."""
        person = self.facts.person(name)
        present = sum(name in self.facts.hands[t] for t in days)
        return min(person.pulls_day // charge * present, person.pulls_week // charge)
