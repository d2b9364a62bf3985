"""What is known of days before they are fitted: how many batches they hold at most, and what did not fit.

Caps come from the day model on an easier stand-in for a family of designs, so they hold for
every plan. Cuts are learnt from days that did not fit and guide the season model.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import chain, combinations

from scheduler.models.caps.in_a_row import PourSequences
from scheduler.models.caps.mixes import Mixes, MixLimit
from scheduler.models.caps.most import Most
from scheduler.models.caps.oracle import DayOracle
from scheduler.models.day.fit import fit_day
from scheduler.models.facts import Facts
from scheduler.models.solvers.engine import Limits
from scheduler.plan.request import DayRequest, Hand
from scheduler.season import rules
from scheduler.season.types import Design

Signature = tuple[object, ...]
Caps = tuple[tuple[tuple[str, ...], int], ...]  # (designs, most batches of them on a day)
Asked = dict[tuple[tuple[str, int], ...], list[tuple[int, Most]]]  # by weights: days, and what they hold at most
Proven = tuple[dict[Signature, tuple[Caps, int]], Asked]
Clause = tuple[tuple[tuple[str, ...], int], ...]  # one of: fewer batches of these designs than so many


@dataclass
class DayLimits:
    """Caps and cuts of the days of one season."""

    facts: Facts
    _signatures: dict[int, Signature] = field(default_factory=dict)
    _caps: dict[Signature, tuple[Caps, int]] = field(default_factory=dict)  # and a day of the sort
    _usual: dict[tuple[str, ...], dict[Signature, tuple[int, int]]] = field(default_factory=dict)  # by designs: as caps
    _asked: Asked = field(default_factory=dict)
    _cuts: list[tuple[int, Counter[str]]] = field(default_factory=list)
    _crew_cuts: list[tuple[int, frozenset[str], Counter[str]]] = field(default_factory=list)
    _idle: dict[int, int] = field(default_factory=dict)
    in_rows: dict[int, MixLimit] = field(default_factory=dict)  # by day: what a row of pours holds, as it is worth
    usual_idle: int = 10  # per cent of the time in that can't be worked, even with packing to fill it
    batch_idle: int = 60  # per cent of the batches' work that is waiting between jobs; packing may fill it

    def signature(self, t: int) -> Signature:
        """What makes two days alike: hours, who can be in when, and who may not do what."""
        if t not in self._signatures:
            hands = tuple((n, s.starts, s.ends, s.longest) for n, s in self.facts.hands[t].items())
            self._signatures[t] = self.facts.hours(t), hands, self.barred(t)
        return self._signatures[t]

    def barred(self, t: int) -> tuple[tuple[str, str], ...]:
        """(person, role) that pins forbid on a day."""
        day, pins = self.facts.season.days[t], self.facts.season.pins
        return tuple((p.person, p.role) for p in pins if p.kind == "not in role" and p.day in (None, day))

    def caps(self, t: int) -> Caps:
        """What is proven of each family of designs on a day."""
        key = self.signature(t)
        if key not in self._caps:
            self._caps[key] = self._work_out(t), t
        return self._caps[key][0]

    def likely(self, t: int) -> Caps:
        """The caps of a day; until they are worked out those known of a day with no less to offer."""
        if self.signature(t) in self._caps:
            return self.caps(t)
        better = [caps for caps, day in self._caps.values() if self.offers_no_more(t, day)]
        return min(better, key=lambda caps: sum(most for _, most in caps)) if better else self.caps(t)

    def most_of(self, t: int, design: str) -> int:
        """Most batches of one design on a day."""
        return most_in(self.caps(t), (design,))

    def most_at(self, t: int) -> int:
        """Most batches on a day."""
        return most_in(self.caps(t))

    def _work_out(self, t: int) -> Caps:
        """Caps of one sort of day, each proven by the day without names."""
        facts = self.facts
        able = [d for d in facts.season.designs if facts.possible(d, t)]
        if not able:
            return ((tuple(d.name for d in facts.season.designs), 0),)
        nested = [tuple(d.name for d in family) for family in families(facts, able)]
        most: dict[int, int] = {}

        def ask(low: int, high: int) -> None:
            """Caps of the families between two; where both ends hold as many, so do all between."""
            for number in (low, high):
                if number not in most:
                    most[number] = self.most(t, dict.fromkeys(nested[number], 1)).limit
            if most[low] > most[high] and high - low > 1:
                ask(low, (low + high) // 2)
                ask((low + high) // 2, high)

        ask(0, len(nested) - 1)
        out: list[tuple[tuple[str, ...], int]] = []
        for number in sorted(most):
            if not out or most[number] < out[-1][1]:  # else the wider family says as much
                out.append((nested[number], most[number]))
        return tuple(out)

    def most(self, t: int, weights: Mapping[str, int]) -> Most:
        """The proven most of weighted batches on a day with everyone who can be in.

        Known without asking where a better day holds no more than a poorer one.
        """
        asked = self._asked.setdefault(tuple(sorted(weights.items())), [])
        better = [m for day, m in asked if self.offers_no_more(t, day)]
        poorer = [m for day, m in asked if self.offers_no_more(day, t)]
        high = min((m.limit for m in better), default=None)
        low = max(poorer, key=lambda m: m.reached(weights), default=None)
        if high is not None and low is not None and low.reached(weights) >= high:
            return Most(high, low.example)
        found = self.oracle.most_and_how(request_with_all(self.facts, t, ()), weights)
        found = found if high is None or found.limit <= high else replace(found, limit=high)
        asked.append((t, found))
        return found

    def best(self, t: int, weights: Mapping[str, int]) -> Most:
        """The most of weighted batches on a day with cleaning, with an example that people can mostly work."""
        return self.oracle.most_and_how(request_with_all(self.facts, t, ()), weights, cleaned=True)

    @cached_property
    def rows(self) -> PourSequences:
        """What days hold in a row of pours, people left out."""
        return PourSequences(self.facts.season)

    @cached_property
    def mixes(self) -> Mixes:
        """Limits of mixes that were proven where a bound asked for them."""
        return Mixes(self)

    def proven(self, t: int) -> Iterator[MixLimit]:
        """Limits of mixes that are known to hold on a day."""
        yield from self.mixes.proven(t)
        if t in self.in_rows:
            yield self.in_rows[t]

    def usual(self, t: int, designs: tuple[str, ...] = ()) -> int:
        """Batches (of some designs alone) that a day is known to take: what is wanted most, one less until all find a
        place by hand.

        A guide, not a limit: a day of easy batches may take more. It is no less than that of a day with less to offer,
        and no more than that of a day with more.
        """
        key, known = self.signature(t), self._usual.setdefault(designs, {})
        if key not in known:
            least = max((n for n, weaker in known.values() if self.offers_no_more(weaker, t)), default=0)
            most = [n for n, better in known.values() if self.offers_no_more(t, better)]
            order = self.wanted_first(t, max(least, min([most_in(self.likely(t), designs), *most])), designs)
            fitted = len(order)
            while fitted > least and not self.by_hand(request_with_all(self.facts, t, order[:fitted])):
                fitted -= 1
            known[key] = max(least, fitted), t
        return known[key][0]

    def by_hand(self, asked: DayRequest) -> bool:
        """Whether a day is found without a solver: a guide, in milliseconds."""
        return fit_day(self.facts.season, asked, want="by hand").status.solved

    def wanted_first(self, t: int, most: int, designs: tuple[str, ...] = ()) -> list[str]:
        """So many batches (of some designs) for a day, by what the season wants: each as often as its share asks."""
        facts = self.facts
        yields = facts.season.design_by_name
        wanted = {
            d: sum(w.pieces * line.packs for line in lines for w in line.windows if w.design == d) / yields[d].pieces
            for d, lines in sorted(facts.wanted.items())
            if facts.possible(yields[d], t) and most_in(self.likely(t), (d,)) > 0 and (not designs or d in designs)
        }
        order: list[str] = []
        while wanted and len(order) < most:
            order.append(max(wanted, key=lambda d: wanted[d] / (1 + order.count(d))))
        return order

    def prepare(self) -> None:
        """Work out what all sorts of days hold, and what they usually take."""
        self.prove()
        self.guess()

    def prove(self) -> Proven:
        """Work out the caps of all sorts of days; they can be given to ``take`` elsewhere."""
        for t in self._from_both_ends():
            self.caps(t)
        return self._caps, self._asked

    def take(self, proven: Proven) -> None:
        """Know what was proven elsewhere."""
        self._caps, self._asked = proven

    def guess(self) -> None:
        """Work out what all sorts of days usually take."""
        for t in self._from_both_ends():
            self.usual(t)

    def _from_both_ends(self) -> dict[int, None]:
        """A day of each sort: the best, the poorest, the next best, and so on, which tell of all between."""
        firsts = sorted({self.signature(t): t for t in reversed(self.facts.days)}.values())
        firsts.sort(key=lambda t: sum(s.longest for s in self.facts.hands[t].values()))
        return dict.fromkeys(chain.from_iterable(zip(reversed(firsts), firsts, strict=True)))

    def copy(self) -> DayLimits:
        """What is known so far without cached solvers, for another process; here the tables are shared, not copied."""
        return replace(self)

    @cached_property
    def oracle(self) -> DayOracle:
        """The memory of days that the caps share."""
        return DayOracle(self.facts.season, Limits(effort=0.2))

    def idle_percent(self, t: int) -> int:
        """Share of the day's working time that waits between jobs take: the usual, and what was learnt."""
        return min(60, self.usual_idle + self._idle.get(t, 0))

    @property
    def learnt(self) -> int:
        """How much was learnt so far."""
        return len(set(map(repr, self._cuts))) + len(set(map(repr, self._crew_cuts))) + sum(self._idle.values())

    def learn_idle(self, t: int, percent: int) -> None:
        """Remember that a day wastes so much more of its time than was thought."""
        self._idle[t] = self._idle.get(t, 0) + percent

    def learn(self, t: int, designs: Iterable[str]) -> None:
        """Remember that these batches did not fit on a day with everyone who can be in."""
        self._cuts.append((t, Counter(designs)))

    @cached_property
    def groups(self) -> tuple[frozenset[str], ...]:
        """Groups of people that matter to a day: all, those with each skill and level, those who pull so much."""
        season = self.facts.season
        needs = [r for d in season.designs for s in rules.recipe(season, d) for r in s.roles]
        roles = {(r.skill, r.level) for r in needs if r.skill}
        out = [frozenset(p.name for p in season.crew)]
        for skill, level in sorted(roles):
            out.append(frozenset(p.name for p in season.crew if season.level_of.get((p.name, skill), 0) >= level))
        for pulls in sorted({p.pulls_day for p in season.crew}):
            out.append(frozenset(p.name for p in season.crew if p.pulls_day >= pulls))
        out.append(frozenset(p.name for p in season.crew if not p.young))
        return tuple(dict.fromkeys(g for g in out if g))

    def learn_crew(self, t: int, people: Iterable[str], designs: Iterable[str]) -> None:
        """Remember that these batches did not fit on a day with only these people in."""
        self._crew_cuts.append((t, frozenset(people), Counter(designs)))

    def crew_cuts(self, t: int) -> list[tuple[tuple[tuple[frozenset[str], int], ...], Clause]]:
        """For a day: (groups of which more must be in, or a clause of fewer batches), from days like it.

        A crew with no more of any group than the one that failed is taken to be no better.
        """
        out = []
        here = frozenset(self.facts.hands[t])
        for source, people, counts in self._crew_cuts:
            if source != t and not self._like(t, source, people):
                continue
            more = tuple(
                (group, len(group & people) + 1) for group in self.groups if len(group & here) > len(group & people)
            )
            out.append((more, self._clause(counts)))
        return list(dict.fromkeys(out))

    def _like(self, t: int, source: int, people: frozenset[str]) -> bool:
        """Whether what was learnt with some people on one day says something about another day."""
        facts = self.facts
        if facts.hours(t) != facts.hours(source):
            return False
        begin_there, begin_here = ({facts.begins(s) for s in facts.shows.get(d, ())} for d in (source, t))
        if begin_there - begin_here:
            return False
        hours = facts.hours(source)
        whole = all((facts.hands[source][n].starts, facts.hands[source][n].ends) == hours for n in people)
        return whole or self.signature(t) == self.signature(source)

    def cuts(self, t: int) -> list[Clause]:
        """Clauses for a day from all that was learnt on days no worse than it."""
        out = []
        for source, counts in self._cuts:
            if source == t or self._no_better(t, source):
                out.append(self._clause(counts))
        return list(dict.fromkeys(out))

    def _no_better(self, t: int, source: int) -> bool:
        """Whether day t has no more to offer than the source day, its shows heeded, too."""
        if set(s.name for s in self.facts.shows.get(source, ())) - set(s.name for s in self.facts.shows.get(t, ())):
            return False
        return self.offers_no_more(t, source)

    @cached_property
    def odd_starts(self) -> dict[int, frozenset[int]]:
        """Minutes beside the steps of the clock at which a batch may start on each day: where that of a show does."""
        season, step = self.facts.season, self.facts.season.kitchen.clock_step
        return {
            t: frozenset(m for show in rules.shows_on(season, day) if (m := rules.begins(season, show)) % step)
            for t, day in enumerate(season.days)
        }

    def offers_no_more(self, t: int, source: int) -> bool:
        """Whether day t has no more hours and people than the source day, and may use them no more freely."""
        here, there = self.facts.hours(t), self.facts.hours(source)
        if here is None or there is None or here[0] < there[0] or here[1] > there[1]:
            return False
        if not self.odd_starts[t] <= self.odd_starts[source]:
            return False
        hands = self.facts.hands[source]
        if set(self.barred(source)) - set(self.barred(t)):
            return False
        return all(
            name in hands
            and hands[name].starts <= s.starts and s.ends <= hands[name].ends and s.longest <= hands[name].longest
            for name, s in self.facts.hands[t].items()
        )  # fmt: skip

    def _clause(self, counts: Counter[str]) -> Clause:
        """At least one of: fewer batches, at least as hard as some of these, than there are here."""
        kinds = sorted(counts)
        if len(kinds) > 4:
            kinds_sets = [tuple(kinds)] + [(k,) for k in kinds]
        else:
            kinds_sets = [c for size in range(1, len(kinds) + 1) for c in combinations(kinds, size)]
        out = []
        for group in kinds_sets:
            harder = tuple(
                d.name for d in self.facts.season.designs if any(self.at_least_as_hard(d.name, k) for k in group)
            )
            need = sum(n for k, n in counts.items() if k in harder)
            out.append((harder, need))
        return tuple(dict.fromkeys(out))

    def at_least_as_hard(self, one: str, other: str) -> bool:
        """Whether a batch of ``one`` asks at least as much of everything as one of ``other``."""
        if one == other:
            return True
        by_name = self.facts.season.design_by_name
        a, b = by_name[one], by_name[other]
        if rules.cleaned_alike(a) != rules.cleaned_alike(b):
            return False
        return _harder(rules.recipe(self.facts.season, a), rules.recipe(self.facts.season, b))


def most_in(caps: Caps, designs: Collection[str] = ()) -> int:
    """Most batches that caps leave room for: of some designs together, or of all."""
    if not designs:
        return max((most for _, most in caps), default=0)
    return min((most for family, most in caps if set(designs) <= set(family)), default=0)


def _harder(a: tuple[rules.StageNeed, ...], b: tuple[rules.StageNeed, ...]) -> bool:
    if [s.name for s in a] != [s.name for s in b]:
        return False
    return all(
        x.minutes >= y.minutes and x.wait_from >= y.wait_from and x.wait_to <= y.wait_to
        and all(p.level >= q.level and p.pulls >= q.pulls for p, q in zip(x.roles, y.roles, strict=True))
        for x, y in zip(a, b, strict=True)
    )  # fmt: skip


def families(facts: Facts, designs: list[Design]) -> list[list[Design]]:
    """Families of designs for caps: for each difficulty those at least as difficult."""
    out: list[list[Design]] = []
    for level in sorted({d.difficulty for d in designs}):
        family = [d for d in designs if d.difficulty >= level]
        if family not in out:
            out.append(family)
    return out


def request_with_all(facts: Facts, t: int, designs: Iterable[str]) -> DayRequest:
    """The day with everyone who can be in, for as long as they can."""
    hands = tuple(
        Hand(n, s.starts, s.ends, s.longest, facts.person(n).pulls_day) for n, s in facts.hands[t].items()
    )
    return DayRequest(facts.season.days[t], tuple(sorted(designs)), (), hands)
