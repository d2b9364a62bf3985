"""Laws that hold whatever the season: on whole plans, and on the proven bound of the shortfall."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from scheduler.audit import audit
from scheduler.demand.build import build_demand
from scheduler.models.bound import shortfall_bound_of
from scheduler.models.facts import Facts
from scheduler.models.limits import DayLimits
from scheduler.models.loop import PlanOptions, plan_season
from scheduler.season.types import Person, Season, Skill
from tests.audit.test_workbook import renamed
from tests.seasons import small_random, tiny
from tests.trust.table import Row, Table

ROWS = ("designs", "crew", "skills", "products", "contents", "orders", "forecasts", "stock", "absences", "availability")


def bound(season: Season) -> int | None:
    """The proven least shortfall where the bound was solved to its end; None otherwise."""
    facts = Facts(season, build_demand(season))
    found = shortfall_bound_of(facts, DayLimits(facts), nodes=2000, effort=0)  # as it is before days are asked
    return found.value if found.exact else None


def busy(seed: int) -> Season:
    """A tiny season that asks for more than it can make."""
    season = tiny(seed, days=4)
    return replace(season, orders=tuple(replace(o, packs=3 * o.packs) for o in season.orders))


def _never_worse(seed: int, what: str, change: Callable[[Season], Season]) -> str | None:
    before, after = bound(busy(seed)), bound(change(busy(seed)))
    if before is None or after is None or after <= before:
        return None
    return f"season {seed}: {before} became {after} with {what}"


def _same(seed: int, what: str, change: Callable[[Season], Season]) -> str | None:
    before, after = bound(busy(seed)), bound(change(busy(seed)))
    return None if None in (before, after) or before == after else f"season {seed}: {before} became {after} by {what}"


def one_more_person(seed: int) -> str | None:
    """One more pair of hands never makes the proven shortfall larger."""
    extra = Person("Extra", 2400, 2400, 60, pulls_day=225, pulls_week=900, wage_cents=1500)
    return _never_worse(seed, "one more person", lambda s: replace(
        s, crew=(*s.crew, extra), skills=(*s.skills, Skill("Extra", "building", 1))))  # fmt: skip


def one_more_day(seed: int) -> str | None:
    """A day that is open and was closed never makes it larger."""
    from scheduler.season.types import SpecialDay

    season = busy(seed)
    shut = replace(season, special_days=(SpecialDay(season.days[seed % season.day_count], "closed"),))
    before, after = bound(shut), bound(season)
    if before is None or after is None or after <= before:
        return None
    return f"season {seed}: {before} became {after} with one more day"


def longer_sell_by(seed: int) -> str | None:
    """Candy that keeps longer never makes it larger."""
    return _never_worse(seed, "longer sell-by", lambda s: replace(
        s, designs=tuple(replace(d, sell_by_days=d.sell_by_days + 3) for d in s.designs)))  # fmt: skip


def order_of_rows(seed: int) -> str | None:
    """Rows in another order are the same season."""
    def shuffled(season: Season) -> Season:
        rng = random.Random(seed)
        changes = {name: tuple(rng.sample(getattr(season, name), len(getattr(season, name)))) for name in ROWS}
        return replace(season, **changes)

    return _same(seed, "another order of rows", shuffled)


def other_names(seed: int) -> str | None:
    """People, designs, products and orders under other names are the same season."""
    def called(season: Season) -> Season:
        old = [p.name for p in season.crew] + [d.name for d in season.designs] + [p.name for p in season.products]
        old += [o.id for o in season.orders]
        new: Season = renamed(season, {name: f"{len(old) - i:03d} {name[::-1]}" for i, name in enumerate(old)})
        return new

    return _same(seed, "other names", called)


def split_orders(seed: int) -> str | None:
    """Two orders for a part each are one order, where parts are accepted."""
    def split(season: Season) -> Season:
        orders = []
        for o in season.orders:
            if o.partial and o.packs > 1:
                orders += [replace(o, id=f"{o.id}a", packs=o.packs // 2)]
                orders += [replace(o, id=f"{o.id}b", packs=o.packs - o.packs // 2)]
            else:
                orders.append(o)
        return replace(season, orders=tuple(orders))

    return _same(seed, "splitting orders", split)


def all_doubled(seed: int) -> str | None:
    """Twice the pieces a batch for twice the packs, packed twice as fast: the same batches, twice the shortfall.

    The bound is rounded up to what a pack weighs, so twice a rounded figure may be more by one step.
    """
    season = busy(seed)
    slow = replace(season, products=tuple(replace(p, packing_seconds=2 * p.packing_seconds) for p in season.products))
    fast = replace(
        season,
        designs=tuple(replace(d, pieces=2 * d.pieces) for d in season.designs),
        orders=tuple(replace(o, packs=2 * o.packs) for o in season.orders),
    )
    one, two = bound(slow), bound(fast)
    if one is None or two is None:
        return None
    step = max((line.weight for line in build_demand(season).lines), default=1)
    return None if 2 * one - 2 * step < two <= 2 * one else f"season {seed}: {one}, doubled {two}"


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


LAWS: dict[str, Callable[[int], str | None]] = {
    "one more person never worsens the proven shortfall": one_more_person,
    "one more day never worsens it": one_more_day,
    "longer sell-by never worsens it": longer_sell_by,
    "order of rows does not matter": order_of_rows,
    "names do not matter": other_names,
    "splitting an order changes nothing": split_orders,
    "doubling yield and demand doubles the shortfall": all_doubled,
    "any season: sound plan, between bound and rule of thumb": sound_plan,
}


def table(quick: bool) -> Table:
    """Each law on so many seasons."""
    rows = []
    for name, law in LAWS.items():
        row = Row(name)
        for seed in range(1 if quick else 8 if law is sound_plan else 12):
            row.count(law(seed))
        rows.append(row)
    return Table("Laws over random seasons", rows)
