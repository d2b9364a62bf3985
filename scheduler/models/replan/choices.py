"""What lies ahead after news: the days that are free to plan, and the ways in which a day that has begun can go on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from scheduler.demand.build import build_demand
from scheduler.models.counts.deal import dealt_beside
from scheduler.models.facts import Facts
from scheduler.models.replan.today import ways_on, with_lost
from scheduler.plan.begun import disturbed, has_begun, still_possible
from scheduler.plan.changes import compare
from scheduler.plan.lots import Allocation, allocate
from scheduler.plan.types import DayPlan, Plan, packs_by_line
from scheduler.season.rules import forecast_packs
from scheduler.season.types import Season


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
        out = set[tuple[str, date]]()
        for day in self.plan.days:
            if day.day >= self.today:
                out |= {(s.person, day.day) for s in set(day.shifts) - set(still_possible(self.season, day))}
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

    @cached_property
    def freed(self) -> frozenset[str]:
        """Products of lines that want fewer packs than the old plan gives them: others may gain."""
        wanted = {o.id: 0 if o.cancelled else o.packs for o in self.season.orders}
        wanted |= {f.id: forecast_packs(self.season, f) for f in self.season.forecasts}
        product, filled = {f.line: f.product for f in self.plan.fills}, packs_by_line(self.plan.fills)
        return frozenset(product[line] for line, packs in filled.items() if packs > wanted.get(line, 0))

    @cached_property
    def had(self) -> dict[str, int]:
        """Packs still to come of each line that the old plan knew: all but what was short already."""
        plan, lines = self.plan, self.facts.demand.lines
        short = plan.short_packs
        known = set(short) | {f.line for f in plan.fills}
        whole = {line.id for line in lines if not line.partial and short.get(line.id)}
        return {n.id: 0 if n.id in whole else max(0, n.packs - short.get(n.id, 0)) for n in lines if n.id in known}

    @cached_property
    def given(self) -> Allocation:
        """What the old plan's days give to whom from now on, as it was where that can still be."""
        still = [f for f in self.plan.fills if f.packed is not None and f.packed >= self.today]
        days = (*(() if self.going is None else (self.going,)), *self.before.values())
        deal = dealt_beside(still, (), self.season)
        return allocate(self.season, self.facts.demand, days, deal=deal)

    @cached_property
    def touched(self) -> frozenset[str]:
        """Designs that the news touches: of days when somebody is away, of batches that went wrong, of new orders."""
        away = {day for _, day in self.absent}
        design_of = {b.id: b.design for d in self.plan.days for b in d.batches}
        out = {b.design for d in self.plan.days if d.day in away for b in d.batches}
        for fact in self.season.made:
            if fact.pieces < self.season.design_by_name[fact.design].pieces and fact.batch in design_of:
                out.add(fact.design)
        for product in self.freed:
            out |= set(self.season.contents_of[product])
        known = {s.line for s in self.plan.shortfalls} | {f.line for f in self.plan.fills}
        for line in self.facts.demand.lines:
            if line.id not in known:
                out |= set(self.season.contents_of[line.product])
        return frozenset(out)


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
        others = tuple(d for d in plan.days if d.day != today)
        points = compare(plan, replace(plan, days=(*others, way.day)), today, now.absent).points
        out.append(Ahead(told, plan, today, minute, way.day, points))
    return tuple(out)
