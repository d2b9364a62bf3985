"""The frontier between changes and shortfall: plans that no other plan beats in both.

Epsilon-constraint: the fewest changes whatever is short, the least short whatever
changes, and levels between; at each the other figure is then made least, too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Any

from ortools.sat.python import cp_model
from scheduler.demand.build import build_demand
from scheduler.models.bend import MISSED_SHOW, PROTECTED, Bend, bend
from scheduler.models.engine import Answer, Limits, Status
from scheduler.models.facts import Facts
from scheduler.models.mend import Mended, Mender
from scheduler.models.result import stages_of
from scheduler.models.season_hint import hints_from
from scheduler.models.today import ways_on, with_lost
from scheduler.plan.begun import disturbed, has_begun
from scheduler.plan.changes import compare
from scheduler.plan.lots import allocate
from scheduler.plan.types import DayPlan, Plan, Shortfall
from scheduler.season.fingerprint import fingerprint
from scheduler.season.rules import presence
from scheduler.season.types import Season

TRIES = 12  # of a choice, each with what was learnt from the one before
EFFORT = 0.4  # of one search
DETAIL = 0.1  # of its second thoughts: less short, and fewer packs lost, for the same changes
BUDGET = 2.5  # of effort, after which no new choice is looked for and none is refined
SETTING_UP = 0.06  # effort counted for building and simplifying a model


@dataclass(frozen=True)
class Ahead:
    """What lies ahead: the season with all facts, the plan before, and the moment."""

    season: Season
    plan: Plan
    today: date
    minute: int
    fixed: DayPlan | None = None  # today, where it has begun: what it becomes is decided
    fixed_points: int = 0

    @cached_property
    def index(self) -> int:
        return max(0, self.season.index(self.today))

    @cached_property
    def first(self) -> int:
        """The first day that is free to plan."""
        return self.index + (self.fixed is not None)

    @cached_property
    def going(self) -> DayPlan | None:
        """Today with the packing that is still to come: the rest of it are facts of the season."""
        if self.fixed is None:
            return None
        return replace(self.fixed, packing=tuple(r for r in self.fixed.packing if r.ends > self.minute))

    @cached_property
    def before(self) -> dict[int, DayPlan]:
        """Days of the old plan that are free to plan, by index."""
        return {t: d for d in self.plan.days if (t := self.season.index(d.day)) >= self.first}

    @cached_property
    def past(self) -> tuple[DayPlan, ...]:
        return tuple(d for d in self.plan.days if d.day < self.today)

    @cached_property
    def absent(self) -> frozenset[tuple[str, date]]:
        """People and days on which the plan has someone in who can't be in so any more."""
        out = set()
        for day in self.plan.days:
            for shift in day.shifts if day.day >= self.today else ():
                window = presence(self.season, self.season.person_by_name[shift.person], day.day)
                if window is None or shift.starts < window[0] or shift.ends > window[1]:
                    out.add((shift.person, day.day))
        return frozenset(out)

    @cached_property
    def facts(self) -> Facts:
        done = tuple(replace(d, packing=()) for d in self.past)  # their packs are facts of the season
        going = () if self.going is None else (self.going,)
        demand = build_demand(self.season, self.index, self.packed_for)
        return Facts(self.season, demand, self.first, (*done, *going))

    @cached_property
    def packed_for(self) -> dict[str, int]:
        """Packs that stand ready for each line by the old plan: packed before now, and not shipped."""
        ready: dict[str, int] = {}
        still = {run.product for run in self.going.packing} if self.going else set()
        for fill in self.plan.fills:
            today = fill.packed == self.today and self.fixed is not None and fill.product not in still
            if fill.packed is None or fill.packed < self.today or today:
                ready[fill.line] = ready.get(fill.line, 0) + fill.packs
        for fact in self.season.shipped:
            ready[fact.order] = ready.get(fact.order, 0) - fact.packs
        return {line: packs for line, packs in ready.items() if packs > 0}


@dataclass(frozen=True)
class Found:
    """A plan on the frontier. It is proven that no plan with at most ``short`` has fewer than ``least_points``."""

    plan: Plan
    short: int
    points: int
    least_points: int


def ahead_of(season: Season, plan: Plan, today: date, minute: int) -> tuple[Ahead, ...]:
    """What lies ahead, once for each way in which a day that has begun can go on.

    ``season`` holds the facts up to now. Where the day has not begun, all of it is free.
    """
    now = Ahead(season, plan, today, minute)
    old = next((d for d in plan.days if d.day == today), None)
    if old is None or not has_begun(old, minute):
        return (now,)
    if not disturbed(season, old, minute):
        return (replace(now, fixed=old),)
    out = []
    for way in ways_on(now.facts, old, {t: d for t, d in now.before.items() if t > now.index}, minute):
        why = "lost: " + ", ".join(sorted(name for name, day in now.absent if day == today)) + " left"
        told = with_lost(season, old, way.lost, why)
        out.append(Ahead(told, plan, today, minute, way.day, way.least_points))
    return tuple(out)


def frontier(ahead: Ahead, effort: float, most: int, say: Callable[[str], None]) -> list[Found]:
    """Plans between the fewest changes and no more short than before, at most so many."""
    search = _Search(ahead, effort)
    found = search.found(most, say)
    say("looking for anything better")
    return search.proven(found)


class _Search:
    """The bent season and what is known of the old plan in it."""

    def __init__(self, ahead: Ahead, effort: float) -> None:
        self.ahead = ahead
        # Measured: with much relaxation searches are proven in a third of the time that they take without.
        self.limits = Limits(effort=EFFORT * effort, linearization=2, probing=0)
        self.quick = replace(self.limits, effort=DETAIL * effort)
        self.budget = BUDGET * effort
        self.answers: list[Answer] = []
        self.base = self._short(ahead.plan.shortfalls, (*self._going(), *ahead.before.values()))
        facts = ahead.facts
        absent = frozenset((name, ahead.season.index(day)) for name, day in ahead.absent)
        self.bend: Bend = bend(facts, ahead.before, absent, ahead.today, self._had())
        self.mender = Mender(facts, ahead.before)
        days = (*self._going(), *ahead.before.values())
        given = allocate(ahead.season, facts.demand, days)
        self.hints: Mapping[cp_model.IntVar, int] = hints_from(self.bend.board, days, given)
        self.bend.stay_near(self._touched())
        self.mender.floors(self.bend)

    def _had(self) -> dict[str, int]:
        """Packs still to come of each line that the old plan knew: all but what was short already."""
        plan, lines = self.ahead.plan, self.ahead.facts.demand.lines
        short = {s.line: s.packs for s in plan.shortfalls}
        known = set(short) | {f.line for f in plan.fills}
        whole = {line.id for line in lines if not line.partial and short.get(line.id)}
        return {n.id: 0 if n.id in whole else max(0, n.packs - short.get(n.id, 0)) for n in lines if n.id in known}

    def _touched(self) -> frozenset[str]:
        """Designs that the news touches: of days when somebody is away, of batches that went wrong, of new orders."""
        ahead = self.ahead
        away = {day for _, day in ahead.absent}
        design_of = {b.id: b.design for d in ahead.plan.days for b in d.batches}
        out = {b.design for d in ahead.plan.days if d.day in away for b in d.batches}
        for fact in ahead.season.made:
            if fact.pieces < ahead.season.design_by_name[fact.design].pieces and fact.batch in design_of:
                out.add(fact.design)
        known = {s.line for s in ahead.plan.shortfalls} | {f.line for f in ahead.plan.fills}
        for line in ahead.facts.demand.lines:
            if line.id not in known:
                out |= set(ahead.season.contents_of[line.product])
        return frozenset(out)

    @property
    def spent(self) -> float:
        """Deterministic effort so far, with a fixed share for setting up each solve."""
        days = [*self.mender.fitted.values(), *self.mender.bounds.values(), *self.mender.known.values()]
        efforts = [a.effort for a in self.answers] + [a.effort for a in days]
        return sum(efforts) + SETTING_UP * len(efforts)

    def _least(self, *args: Any, **kwargs: Any) -> Answer:
        answer = self.bend.least(*args, **kwargs)
        self.answers.append(answer)
        return answer

    def found(self, most: int, say: Callable[[str], None]) -> list[Found]:
        """The two ends of the frontier, and plans between them, halving points."""
        first = self.at(None)
        if first is None or first.short <= self.base:
            return [] if first is None else [first]  # nothing more is short: no change can be worth anything
        last = self.at(self.base) or self._lowest()
        if last is None or last.short >= first.short:
            return [first]
        out, gaps = [first, last], [(first.points, first, last)]
        while gaps and len(out) < most and self.spent < self.budget:
            gaps.sort(key=lambda g: g[0] - g[2].points)
            low, upper, lower = gaps.pop(0)
            if lower.points <= low + 1:
                continue  # nothing between them can be on the frontier
            say(f"looking for a plan between {low} and {lower.points} points")
            middle = (low + lower.points) // 2
            least = self.least_short(middle)
            fewer = least is not None and lower.short < least < upper.short
            between = self.at(least) if fewer else None
            if between is not None and lower.short < between.short < upper.short:
                out.append(between)
                gaps += [(low, upper, between), (max(middle, between.points), between, lower)]
            else:
                gaps.append((middle, upper, lower))
        return out

    def proven(self, found: list[Found]) -> list[Found]:
        """The same plans, or better ones, with the points that any plan with no more short must have."""
        found = sorted(found, key=lambda f: -f.short)
        with ThreadPoolExecutor(2) as pool:
            answers = list(pool.map(self._better, found))
        self.answers += answers
        out: list[Found] = []
        for one, answer in zip(found, answers, strict=True):
            one = self._settled(one, answer)
            least = max([one.least_points, *(f.least_points for f in out)])  # with less short never fewer points
            out.append(replace(one, least_points=min(one.points, least)))
        return out

    def _better(self, best: Found) -> Answer:
        """Among all plans, one with fewer points and no more short than the best."""
        fewer = best.points - self.ahead.fixed_points - 1
        if fewer < 0:
            return Answer(Status.INFEASIBLE, None, None, None)
        return self.bend.least(self.bend.changes, self.limits, {}, fewer, best.short, proven=True)

    def _settled(self, best: Found, answer: Answer) -> Found:
        """Better plans in the model made real, until there is none or the effort is spent."""
        bound = 0
        for _ in range(TRIES):
            if answer.status is Status.INFEASIBLE:
                return replace(best, least_points=best.points)
            bound = max(bound, (answer.bound or 0) + self.ahead.fixed_points)
            if not answer.status.solved or self.spent > self.budget or best.points <= bound:
                break
            if not self.mender.dearer(self.bend, answer, packed=False):
                detailed = self._detailed(answer, best.short, proven=True)
                mended = self.mender.mend(self.bend, detailed)
                if mended is not None:
                    found = self._found(mended)
                    if found.short <= best.short and found.points < best.points:
                        best = found
                    elif not self.mender.dearer(self.bend, detailed, packed=True):
                        break
                elif self.mender.unsure:
                    break
            answer = self._better(best)
            self.answers.append(answer)
        return replace(best, least_points=min(bound, best.points))

    def _lowest(self) -> Found | None:
        """The plan with the least short near the old plan, where more than before must be short."""
        for _ in range(3):  # what is learnt on the way may leave more short
            answer = self._least(self.bend.short, self.limits, self.hints)
            found = None if answer.objective is None else self.at(max(answer.objective, self.base))
            if found is not None or answer.objective is None:
                return found
        return None

    def least_short(self, points: int) -> int | None:
        """The least that can be short with at most so many points, near the old plan."""
        changes = points - self.ahead.fixed_points
        return self._least(self.bend.short, self.limits, self.hints, changes=changes).objective

    def _short(self, shortfalls: Iterable[Shortfall], days: Iterable[DayPlan]) -> int:
        """What is short in the measure of the bend: promised packs first, shows given up most.

        At least as much of each line as was short before: gains do not make good for losses.
        """
        now = {s.line: s.packs for s in shortfalls}
        before = {s.line: s.packs for s in self.ahead.plan.shortfalls}
        total = MISSED_SHOW * sum(len(d.missed_shows) for d in days)
        for line in self.ahead.facts.demand.lines:
            packs = min(line.asked, max(now.get(line.id, 0), before.get(line.id, 0)))
            total += packs * line.weight * (PROTECTED if line.confirmed else 1)
        return total

    def at(self, short: int | None) -> Found | None:
        """Fewest changes with at most so much short; then the least short with no more changes.

        Days that do not fit, and what the hours and jobs of days take, go back to the model,
        until the plan is as good as its bound.
        """
        best: Found | None = None
        for number in range(TRIES):
            last = number == TRIES - 1 or self.spent > 2 * self.budget
            fewest = self._least(self.bend.changes, self.limits, self.hints, short=short)
            if not fewest.status.solved:
                break
            if not last and self.mender.dearer(self.bend, fewest, packed=False):
                continue
            answer = self._detailed(fewest, short)
            if not last and self.mender.dearer(self.bend, answer, packed=False):
                continue
            mended = self.mender.mend(self.bend, answer, settle=last and best is None)
            if mended is None and not last and (best is None or self.spent <= self.budget):
                continue
            if mended is not None:
                found = self._found(mended)
                if best is None or (found.points, found.short) < (best.points, best.short):
                    best = found
            done = best is not None and best.points <= (fewest.bound or 0) + self.ahead.fixed_points
            if done or last or self.spent > self.budget or not self.mender.dearer(self.bend, answer, packed=True):
                break
        return best

    def _detailed(self, fewest: Answer, short: int | None, proven: bool = False) -> Answer:
        """The least short, and then the fewest packs lost, with no more changes."""
        answer, changes = fewest, fewest[self.bend.changes]
        for goal in (self.bend.short, self.bend.lost):
            better = self._least(goal, self.quick, self._values(answer), changes, short, proven)
            if better.status.solved:
                answer, short = better, better[self.bend.short]
        return answer

    def _values(self, answer: Answer) -> dict[cp_model.IntVar, int]:
        return {v: answer[v] for v in self.bend.board.variables()}

    def _found(self, mended: Mended) -> Found:
        ahead = self.ahead
        season, facts = ahead.season, ahead.facts
        days = (*self._going(), *(mended.days[t] for t in sorted(mended.days)))
        given = allocate(season, facts.demand, days, mended.wish.fills, mended.wish.late)
        whole = (*ahead.past, *(self._whole_today(d) if d.day == ahead.today else d for d in given.days))
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
            extras={},  # what was worked out for the old plan does not hold for this one
        )
        points = compare(ahead.plan, plan, ahead.today, ahead.absent).points
        return Found(plan, self._short(given.shortfalls, given.days), points, 0)

    def _going(self) -> tuple[DayPlan, ...]:
        return () if self.ahead.going is None else (self.ahead.going,)

    def _whole_today(self, day: DayPlan) -> DayPlan:
        """Today with the packing that is done already put back."""
        if self.ahead.fixed is None:
            return day
        done = tuple(r for r in self.ahead.fixed.packing if r.ends <= self.ahead.minute)
        return replace(day, packing=(*done, *day.packing))
