"""What a finished plan reached in each stage: figures from its parts, bounds only where proven."""

from __future__ import annotations

from scheduler.models.caps.show_proof import fewest_missed
from scheduler.models.facts import Facts
from scheduler.plan.lots import Allocation
from scheduler.plan.summary import paid_minutes, pulls_by_person, week_cost
from scheduler.plan.types import DayPlan, StageResult


def stages_of(facts: Facts, days: tuple[DayPlan, ...], given: Allocation, bound: int) -> tuple[StageResult, ...]:
    """Missed shows, shortfall, cost, evenness and freshness of a plan."""
    missed = sum(len(d.missed_shows) for d in days)
    short = given.weighted
    bound, fewest = max(0, bound), fewest_missed(facts, days)
    return (
        StageResult("missed shows", "shows", missed, fewest, missed == fewest),
        StageResult("shortfall", "weighted pieces", short, bound, bound == short),
        StageResult("cost", "cents", cost(facts, days, given), None, False),
        StageResult("evenness", "per mille of pull limit", largest_share(facts, days), None, False),
        StageResult("freshness", "piece days", piece_days(facts, given), None, False),
    )


def cost(facts: Facts, days: tuple[DayPlan, ...], given: Allocation) -> int:
    """Cents for labour, and for what is late."""
    return labour_cost(facts, days) + late_cost(facts, given)


def labour_cost(facts: Facts, days: tuple[DayPlan, ...]) -> int:
    """Cents: contracted minutes at the wage, the rest at the overtime wage, half up per person and week."""
    paid: dict[tuple[str, tuple[int, int]], int] = {}
    for day in days:
        week = facts.week(facts.season.index(day.day))
        for shift in day.shifts:
            key = (shift.person, week)
            paid[key] = paid.get(key, 0) + paid_minutes(facts.season, shift)
    return sum(week_cost(facts.person(name), minutes) for (name, _), minutes in paid.items())


def late_cost(facts: Facts, given: Allocation) -> int:
    """Cents: the agreed price of every pack that is packed late."""
    price = {line.id: line.late.cents for line in facts.demand.lines if line.late is not None}
    return sum(fill.packs * price.get(fill.line, 0) for fill in given.fills if fill.late)


def largest_share(facts: Facts, days: tuple[DayPlan, ...]) -> int:
    """The largest share that anyone pulls of what they may pull in the weeks planned, per mille."""
    pulls: dict[str, int] = {}
    for day in days:
        for name, count in pulls_by_person(facts.season, day).items():
            pulls[name] = pulls.get(name, 0) + count
    weeks = max(1, len(facts.weeks))
    shares = [
        1000 * pulls.get(p.name, 0) // (p.pulls_week * weeks) for p in facts.season.crew if p.pulls_week > 0
    ]
    return max(shares, default=0)


def piece_days(facts: Facts, given: Allocation) -> int:
    """Days that the pieces of all packs waited between making and packing, added up."""
    made = {lot.id: lot.made for lot in given.lots}
    return sum(
        draw.pieces * (fill.packed - made[draw.lot]).days
        for fill in given.fills
        if fill.packed is not None
        for draw in fill.draws
    )
