"""The frontier between changes and shortfall: plans that no other plan beats in both.

Epsilon-constraint: the fewest changes whatever is short, the least short whatever
changes, and levels between; at each the other figure is then made least, too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from ortools.sat.python import cp_model
from scheduler.demand.build import build_demand
from scheduler.models.bend import Bend, bend
from scheduler.models.engine import Answer, Limits
from scheduler.models.facts import Facts
from scheduler.models.limits import DayLimits
from scheduler.models.mend import Mended, Mender
from scheduler.models.result import stages_of
from scheduler.models.season_hint import hints_from
from scheduler.plan.lots import allocate
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.fingerprint import fingerprint
from scheduler.season.rules import presence
from scheduler.season.types import Season

TRIES = 6  # of a choice, each with the days that did not fit barred


@dataclass(frozen=True)
class Ahead:
    """What lies ahead: the season with all facts, the plan before, and the moment."""

    season: Season
    plan: Plan
    today: date
    minute: int

    @cached_property
    def first(self) -> int:
        return max(0, self.season.index(self.today))

    @cached_property
    def before(self) -> dict[int, DayPlan]:
        """Days of the old plan from today on, by index."""
        return {t: d for d in self.plan.days if (t := self.season.index(d.day)) >= self.first}

    @cached_property
    def past(self) -> tuple[DayPlan, ...]:
        return tuple(d for d in self.plan.days if self.season.index(d.day) < self.first)

    @cached_property
    def absent(self) -> frozenset[tuple[str, date]]:
        """People and days on which the plan has someone in who can't be in so any more."""
        out = set()
        for day in self.before.values():
            for shift in day.shifts:
                window = presence(self.season, self.season.person_by_name[shift.person], day.day)
                if window is None or shift.starts < window[0] or shift.ends > window[1]:
                    out.add((shift.person, day.day))
        return frozenset(out)

    @cached_property
    def facts(self) -> Facts:
        done = tuple(replace(d, packing=()) for d in self.past)  # their packs are facts of the season
        return Facts(self.season, build_demand(self.season, self.first), self.first, done)


@dataclass(frozen=True)
class Found:
    """A plan on the frontier. No plan with at most ``short`` has fewer than ``least_points``."""

    plan: Plan
    short: int
    least_points: int
    proven: bool


def frontier(ahead: Ahead, effort: float, most: int, say: Callable[[str], None]) -> Iterator[Found]:
    """Plans between the fewest changes and the least short, at most so many."""
    search = _Search(ahead, effort)
    first = search.at(None)
    if first is None:
        return
    yield first
    goal = search.floor(first)
    if first.short <= goal:
        return
    last = search.at(goal)
    if last is None:
        return
    yield last
    gaps, count = [(first, last)], 2
    while gaps and count < most:
        gaps.sort(key=lambda g: g[1].short - g[0].short)
        upper, lower = gaps.pop(0)
        level = (upper.short + lower.short) // 2
        if level <= lower.short or lower.least_points <= upper.least_points:
            continue
        say(f"looking for a plan between {upper.least_points} and {lower.least_points} points")
        between = search.at(level)
        if between is not None:
            yield between
            count += 1
            if between.short < upper.short:
                gaps.append((upper, between))


class _Search:
    def __init__(self, ahead: Ahead, effort: float) -> None:
        self.ahead = ahead
        self.limits = Limits(effort=effort)
        facts = ahead.facts
        absent = frozenset((name, ahead.season.index(day)) for name, day in ahead.absent)
        self.bend: Bend = bend(facts, DayLimits(facts), ahead.before, absent, ahead.today)
        self.mender = Mender(facts, ahead.before)
        self.hints: Mapping[cp_model.IntVar, int] = self._old()

    def _old(self) -> dict[cp_model.IntVar, int]:
        ahead = self.ahead
        days = tuple(ahead.before.values())
        given = allocate(ahead.season, ahead.facts.demand, days)
        return hints_from(self.bend.board, days, given)

    def floor(self, first: Found) -> int:
        """The least that can be short, as far as the effort goes."""
        answer = self.bend.least(self.bend.short, self.limits, self.hints, short=first.short)
        if not answer.status.solved:
            return first.short
        assert answer.objective is not None
        return answer.objective

    def at(self, short: int | None) -> Found | None:
        """Fewest changes with at most so much short; then the least short with no more changes."""
        for _ in range(TRIES):
            fewest = self.bend.least(self.bend.changes, self.limits, self.hints, short=short)
            if not fewest.status.solved:
                return None
            assert fewest.objective is not None and fewest.bound is not None
            variables = self.bend.board.variables()
            answer = self.bend.least(
                self.bend.short, self.limits, {v: fewest[v] for v in variables}, changes=fewest.objective, short=short
            )
            answer = answer if answer.status.solved else fewest
            mended = self.mender.mend(self.bend, answer)
            if mended is not None:
                return self._found(mended, answer, fewest.bound)
        return None

    def _found(self, mended: Mended, answer: Answer, bound: int) -> Found:
        ahead = self.ahead
        season, facts = ahead.season, ahead.facts
        days = tuple(mended.days[t] for t in sorted(mended.days))
        given = allocate(season, facts.demand, days, mended.wish.fills, mended.wish.late)
        whole = (*ahead.past, *given.days)
        plan = replace(
            ahead.plan,
            season=fingerprint(season),
            days=whole,
            lots=given.lots,
            fills=given.fills,
            shortfalls=given.shortfalls,
            stages=stages_of(facts, whole, given, 0),
            from_day=ahead.today,
            from_minute=ahead.minute,
        )
        return Found(plan, answer[self.bend.short], bound, self.mender.certain)
