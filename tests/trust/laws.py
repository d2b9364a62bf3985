"""Laws that hold whatever the season: on the proven bound of the shortfall, and on whole plans.

Two seasons that a law compares need not be planned to the end: what is proven of the one must
not be above what a plan of the other reaches.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, partial

from scheduler.audit import audit
from scheduler.demand.build import build_demand
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.bound import shortfall_bound_of
from scheduler.models.facts import Facts
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.types import Plan, StageResult
from scheduler.season.fingerprint import fingerprint
from scheduler.season.types import Person, Season, Skill, SpecialDay
from tests.audit.test_workbook import renamed
from tests.seasons import small_random, tiny
from tests.trust.table import Row, Table

ROWS = ("designs", "crew", "skills", "products", "contents", "orders", "forecasts", "stock", "absences", "availability")
UNDECIDED = "undecided"  # a bound was not solved to its end, so nothing was compared
Change = Callable[[Season, int], Season]


def busy(seed: int) -> Season:
    """A tiny season that asks for more than it can make, with a day that is closed."""
    season = tiny(seed, days=4)
    return replace(
        season,
        orders=tuple(replace(o, packs=3 * o.packs) for o in season.orders),
        special_days=(SpecialDay(season.days[seed % 4], "closed"),),
    )


# What is changed ---------------------------------------------------------------------


def one_more_person(season: Season, seed: int) -> Season:
    extra = Person("Extra", 2400, 2400, 60, pulls_day=225, pulls_week=900, wage_cents=1500)
    return replace(season, crew=(*season.crew, extra), skills=(*season.skills, Skill("Extra", "building", 1)))


def one_more_day(season: Season, seed: int) -> Season:
    return replace(season, special_days=())


def longer_sell_by(season: Season, seed: int) -> Season:
    return replace(season, designs=tuple(replace(d, sell_by_days=d.sell_by_days + 3) for d in season.designs))


def other_order(season: Season, seed: int) -> Season:
    rng = random.Random(seed)
    return replace(season, **{n: tuple(rng.sample(getattr(season, n), len(getattr(season, n)))) for n in ROWS})


def other_names(season: Season, seed: int) -> Season:
    """People, designs, products and orders under other names, which sort the other way round."""
    old = [p.name for p in season.crew] + [d.name for d in season.designs] + [p.name for p in season.products]
    old += [o.id for o in season.orders]
    new: Season = renamed(season, {name: f"{len(old) - i:03d} {name[::-1]}" for i, name in enumerate(old)})
    return new


def split_orders(season: Season, seed: int) -> Season:
    """Two orders for a part each, where parts are accepted."""
    orders = []
    for o in season.orders:
        if o.partial and o.packs > 1:
            orders += [replace(o, id=f"{o.id}a", packs=o.packs // 2)]
            orders += [replace(o, id=f"{o.id}b", packs=o.packs - o.packs // 2)]
        else:
            orders.append(o)
    return replace(season, orders=tuple(orders))


@dataclass(frozen=True)
class Law:
    """A change of a season: ``same``: the shortfall stays as it is; else it never grows."""

    change: Change
    same: bool


LAWS = {
    "one more person never worsens the shortfall": Law(one_more_person, False),
    "one more day never worsens it": Law(one_more_day, False),
    "longer sell-by never worsens it": Law(longer_sell_by, False),
    "order of rows does not matter": Law(other_order, True),
    "names do not matter": Law(other_names, True),
    "splitting an order changes nothing": Law(split_orders, True),
}


# How it is held against the law ------------------------------------------------------


def bound(season: Season) -> int | None:
    """The proven least shortfall where the bound was solved to its end; None otherwise."""
    facts = Facts(season, build_demand(season))
    found = shortfall_bound_of(facts, DayLimits(facts), nodes=2000, effort=0)  # as it is before days are asked
    return found.value if found.exact else None


def on_bounds(law: Law, seed: int) -> str | None:
    """The proven least shortfall of both seasons, compared."""
    before, after = bound(busy(seed)), bound(law.change(busy(seed), seed))
    if before is None or after is None:
        return UNDECIDED
    held = before == after if law.same else after <= before
    return None if held else f"season {seed}: {before} became {after}"


@cache
def _reached(seed: int, change: Change | None = None) -> StageResult:
    season = busy(seed) if change is None else change(busy(seed), seed)
    return next(s for s in plan_season(season, PlanOptions(effort=0.03)).stages if s.name == "shortfall")


def on_plans(law: Law, seed: int) -> str | None:
    """Nothing proven of the one is above what the other's plan reaches; UNDECIDED: it held, but neither is optimal."""
    before, after = _reached(seed), _reached(seed, law.change)
    false = (after.bound or 0) > before.value or (law.same and (before.bound or 0) > after.value)
    if false:
        return f"season {seed}: {before.bound} to {before.value} became {after.bound} to {after.value}"
    optimal = before.value == before.bound and after.value == after.bound
    return None if optimal else UNDECIDED


def doubled(season: Season) -> tuple[Season, Season]:
    """A season, and one with twice the pieces a batch for twice the packs, packed twice as fast."""
    slow = replace(season, products=tuple(replace(p, packing_seconds=2 * p.packing_seconds) for p in season.products))
    fast = replace(
        season,
        designs=tuple(replace(d, pieces=2 * d.pieces) for d in season.designs),
        orders=tuple(replace(o, packs=2 * o.packs, late_cents=o.late_cents // 2) for o in season.orders),
    )
    return slow, fast


def doubling_doubles(seed: int) -> str | None:
    """The bound is rounded up to what a pack weighs, so twice a rounded figure may be more by one step."""
    slow, fast = doubled(busy(seed))
    one, two = bound(slow), bound(fast)
    if one is None or two is None:
        return UNDECIDED
    step = max((line.weight for line in build_demand(slow).lines), default=1)
    return None if 2 * one - 2 * step < two <= 2 * one else f"season {seed}: {one}, doubled {two}"


def doubling_keeps_the_batches(seed: int) -> str | None:
    """A plan with twice of everything in every pack run, lot and delivery is a sound plan of the doubled season."""
    slow, fast = doubled(busy(seed))
    plan = plan_season(slow, PlanOptions(effort=0.03))
    found = audit(fast, twice(plan, fast))
    return f"season {seed}: {found[0]}" if found else None


def twice(plan: Plan, season: Season) -> Plan:
    """The same batches, people and minutes with twice the pieces and packs."""
    days = tuple(replace(d, packing=tuple(replace(p, packs=2 * p.packs) for p in d.packing)) for d in plan.days)
    fills = tuple(
        replace(f, packs=2 * f.packs, draws=tuple(replace(d, pieces=2 * d.pieces) for d in f.draws)) for f in plan.fills
    )
    short = tuple(replace(s, packs=2 * s.packs, pieces=2 * s.pieces, weighted=2 * s.weighted) for s in plan.shortfalls)
    stages = tuple(
        replace(s, value=2 * s.value, bound=None if s.bound is None else 2 * s.bound)
        if s.name in ("shortfall", "freshness") else s
        for s in plan.stages
    )  # fmt: skip
    return replace(
        plan, days=days, fills=fills, shortfalls=short, stages=stages, season=fingerprint(season),
        lots=tuple(replace(lot, pieces=2 * lot.pieces) for lot in plan.lots),
        rule_of_thumb_weighted=2 * plan.rule_of_thumb_weighted,
    )  # fmt: skip


def sound_plan(seed: int) -> str | None:
    """Any season gives a plan that keeps every rule, between its bound and the rule of thumb."""
    season = small_random(seed)
    season = replace(season, pins=tuple(p for p in season.pins if p.kind not in ("make", "works")))
    plan = plan_season(season, PlanOptions(effort=0.03))
    found = audit(season, plan)
    if found:
        return f"season {seed}: {found[0]}"
    short = next(s for s in plan.stages if s.name == "shortfall")
    missed = next(s for s in plan.stages if s.name == "missed shows")
    if short.bound is not None and short.bound > short.value:
        return f"season {seed}: {short.value} short, and {short.bound} proven"
    worse = missed.value == 0 and short.value > plan.rule_of_thumb_weighted and not season.shows
    return f"season {seed}: worse than the rule of thumb" if worse else None


def table(quick: bool) -> Table:
    """Each law on so many seasons: on bounds, then on whole plans."""
    tries: list[tuple[str, Callable[[int], str | None], int, str]] = []
    tries += [(f"{name}: bounds", partial(on_bounds, law), 12, "compared to the end") for name, law in LAWS.items()]
    tries.append(("doubling yield and demand doubles the bound", doubling_doubles, 12, "compared to the end"))
    if not quick:
        tries += [(f"{name}: plans", partial(on_plans, law), 12, "both plans optimal") for name, law in LAWS.items()]
    tries.append(("doubling yield and demand: the same batches are sound", doubling_keeps_the_batches, 12, ""))
    tries.append(("any season: sound plan, between bound and rule of thumb", sound_plan, 16, ""))
    rows = []
    for name, law, count, decided in tries:
        row, open_ = Row(name), 0
        for seed in range(1 if quick else count):
            found = law(seed)
            open_ += found == UNDECIDED
            row.count(None if found == UNDECIDED else found)
        row.note = f"{row.tried - open_} of {row.tried} {decided}" if decided else ""
        rows.append(row)
    return Table("Laws over random seasons", rows)
