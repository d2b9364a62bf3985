"""What is known of days before they are fitted: how many batches they hold at most, and what did not fit.

Caps come from the day model on an easier stand-in for a family of designs, so they hold for
every plan. Cuts are learnt from days that did not fit and guide the season model.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from itertools import combinations

from scheduler.models.facts import Facts
from scheduler.plan.request import DayRequest, Hand
from scheduler.season import rules
from scheduler.season.types import Design, Season, StageException

Signature = tuple[object, ...]
Clause = tuple[tuple[tuple[str, ...], int], ...]  # one of: fewer batches of these designs than so many


@dataclass
class DayLimits:
    """Caps and cuts of the days of one season. ``most`` asks the day model."""

    facts: Facts
    most: Callable[[Season, DayRequest], int] | None = None
    _caps: dict[Signature, tuple[tuple[tuple[str, ...], int], ...]] = field(default_factory=dict)
    _cuts: list[tuple[int, Counter[str]]] = field(default_factory=list)
    _idle: dict[int, int] = field(default_factory=dict)
    usual_idle: int = 0  # per cent of the time in that can't be worked

    def signature(self, t: int) -> Signature:
        """What makes two days alike: hours and who can be in when."""
        hands = tuple((n, s.starts, s.ends, s.longest) for n, s in self.facts.hands[t].items())
        day = self.facts.season.days[t]
        barred = tuple(
            (p.person, p.role) for p in self.facts.season.pins if p.kind == "not in role" and p.day in (None, day)
        )
        return self.facts.hours(t), hands, barred

    def caps(self, t: int) -> tuple[tuple[tuple[str, ...], int], ...]:
        """(designs, most batches of them on the day), for each family of designs."""
        key = self.signature(t)
        if key not in self._caps:
            self._caps[key] = self._work_out(t)
        return self._caps[key]

    def most_of(self, t: int, design: str) -> int:
        """Most batches of one design on a day."""
        return min((n for designs, n in self.caps(t) if design in designs), default=0)

    def most_at(self, t: int) -> int:
        """Most batches on a day."""
        return max((n for _, n in self.caps(t)), default=0)

    def _work_out(self, t: int) -> tuple[tuple[tuple[str, ...], int], ...]:
        facts = self.facts
        able = [d for d in facts.season.designs if facts.possible(d, t)]
        if not able:
            return ((tuple(d.name for d in facts.season.designs), 0),)
        out = []
        for family in families(facts, able):
            names = tuple(d.name for d in family)
            rough = self._by_station(t, family)
            out.append((names, rough))
        return tuple(out)

    def _by_station(self, t: int, family: list[Design]) -> int:
        """Batches of a family by the narrowest station: first starts to last pour and closing."""
        facts = self.facts
        hours = facts.hours(t)
        assert hours is not None
        opens, closes = hours
        duty = {k: m for k, m in (("opening", facts.season.kitchen.opening_minutes),)}
        stand_in = easiest(facts.season, family)
        needs = rules.recipe(stand_in, stand_in.designs[0])
        least = 10**6
        for stage in needs:
            if stage.minutes > 0:
                span = closes - opens - duty["opening"]
                rest = sum(s.minutes for s in needs if s is not stage)
                least = min(least, facts.season.places[stage.station] * (max(0, span - rest) // stage.minutes))
        return least

    def idle_percent(self, t: int) -> int:
        """Share of the day's working time that waits between jobs take, as learnt."""
        return max(self.usual_idle, self._idle.get(t, 0))

    def learn_idle(self, t: int, percent: int) -> None:
        """Remember that a day wastes at least so much of its time."""
        self._idle[t] = min(60, max(self._idle.get(t, 0), percent))

    def learn(self, t: int, designs: Iterable[str]) -> None:
        """Remember that these batches did not fit on a day with everyone who can be in."""
        self._cuts.append((t, Counter(designs)))

    def cuts(self, t: int) -> list[Clause]:
        """Clauses for a day from all that was learnt on days no worse than it."""
        out = []
        for source, counts in self._cuts:
            if source == t or self._no_better(t, source):
                out.append(self._clause(counts))
        return list(dict.fromkeys(out))

    def _no_better(self, t: int, source: int) -> bool:
        """Whether day t has no more to offer than the source day."""
        here, there = self.facts.hours(t), self.facts.hours(source)
        if here is None or there is None or here[0] < there[0] or here[1] > there[1]:
            return False
        if set(s.name for s in self.facts.shows.get(source, ())) - set(s.name for s in self.facts.shows.get(t, ())):
            return False
        hands = self.facts.hands[source]
        return all(
            name in hands and hands[name].starts <= s.starts and s.ends <= hands[name].ends and s.longest <= hands[name].longest
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
        if (a.colour, a.strength, a.sour, a.allergens) != (b.colour, b.strength, b.sour, b.allergens):
            return False
        return _harder(rules.recipe(self.facts.season, a), rules.recipe(self.facts.season, b))


def _harder(a: tuple[rules.StageNeed, ...], b: tuple[rules.StageNeed, ...]) -> bool:
    if [s.name for s in a] != [s.name for s in b]:
        return False
    return all(
        x.minutes >= y.minutes and x.wait_from >= y.wait_from and x.wait_to <= y.wait_to
        and all(p.level >= q.level and p.pulls >= q.pulls for p, q in zip(x.roles, y.roles, strict=True))
        for x, y in zip(a, b, strict=True)
    )  # fmt: skip


def families(facts: Facts, designs: list[Design]) -> list[list[Design]]:
    """Families of designs for caps: all, and for each difficulty those at least as difficult."""
    out = []
    for level in sorted({d.difficulty for d in designs}):
        family = [d for d in designs if d.difficulty >= level]
        if family not in out:
            out.append(family)
    return out


def easiest(season: Season, family: list[Design]) -> Season:
    """The season with one design that asks no more than any of a family.

    Each stage takes its least minutes; what a longer stage would have taken may be spent
    waiting, so every timetable of any of them is one of the stand-in.
    """
    recipes = [{s.name: s for s in rules.recipe(season, d)} for d in family]
    kept = [s.name for s in season.stages if all(s.name in r for r in recipes)]
    least = {name: min(r[name].minutes for r in recipes) for name in kept}
    exceptions = []
    for number, name in enumerate(kept):
        gaps = [_gap(season, d, kept[number - 1], name, least) for d in family] if number else [(0, 0)]
        exceptions.append(
            StageException("easiest", name, least[name], min(g[0] for g in gaps), max(g[1] for g in gaps))
        )
    stand_in = Design(
        "easiest",
        min(d.difficulty for d in family),
        1,
        1,
        min(d.pull_loads for d in family),
        min(d.pulls_per_load for d in family),
    )
    stages = tuple(replace(s, minutes=0, minutes_per_level=0, minutes_per_load=0) for s in season.stages)
    return replace(
        season, designs=(stand_in,), stages=stages, exceptions=tuple(exceptions), changeovers=(), pins=(),
        products=(), contents=(), orders=(), forecasts=(), stock=(), shows=(), made=(), packed=(), shipped=(),
    )  # fmt: skip


def _gap(season: Season, design: Design, before: str, after: str, least: dict[str, int]) -> tuple[int, int]:
    """Least and most minutes from the (shortened) end of one stage to the start of another."""
    low = high = 0
    counting = False
    for stage in rules.recipe(season, design):
        if counting:
            low += stage.wait_from
            high += stage.wait_to
        if stage.name == after:
            break
        if stage.name == before:
            counting = True
            low, high = stage.minutes - least[before], stage.minutes - least[before]
        elif counting:
            low += stage.minutes
            high += stage.minutes
    return low, high


def request_with_all(facts: Facts, t: int, designs: Iterable[str]) -> DayRequest:
    """The day with everyone who can be in, for as long as they can."""
    hands = tuple(
        Hand(n, s.starts, s.ends, s.longest, facts.person(n).pulls_day) for n, s in facts.hands[t].items()
    )
    return DayRequest(facts.season.days[t], tuple(sorted(designs)), (), hands, hold_shows=False)
