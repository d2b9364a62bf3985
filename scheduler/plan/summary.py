"""A plan in figures: what was asked, what is short, hours, pulls, money, and how good it is.

Packs are units; minutes are clock minutes; money is in cents.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import asdict, dataclass
from datetime import date

from scheduler.demand.lines import KIND_WEIGHT, PRIORITY_WEIGHT, LineKind
from scheduler.plan.types import DayPlan, Plan, Shift, packs_by_line
from scheduler.season.rules import forecast_packs, recipe
from scheduler.season.types import Person, Season


@dataclass(frozen=True, slots=True)
class PersonDay:
    """One person's day: shift, paid minutes, minutes of work, and pulls."""

    day: date
    person: str
    starts: int
    ends: int
    paid_minutes: int
    busy_minutes: int  # in runs, tasks and packing
    pulls: int


@dataclass(frozen=True, slots=True)
class PersonWeek:
    """One person's ISO week: paid minutes, those beyond the contract, pulls and cost in cents."""

    person: str
    year: int
    week: int
    days: int
    paid_minutes: int
    overtime_minutes: int
    pulls: int
    cost_cents: int


@dataclass(frozen=True, slots=True)
class Asked:
    """An order or forecast in packs: asked for (less what was shipped), filled, and its weight a pack."""

    line: str
    kind: LineKind
    asked: int
    filled: int
    weight: int


@dataclass(frozen=True, slots=True)
class Summary:
    """A plan's figures. Units are packs; ``status`` is "optimal" only where the shortfall is proven."""

    status: str
    batches: int
    demand_units: int
    shortfall_units: int
    shortfall_firm_units: int
    demand_weighted: int
    shortfall_weighted: int
    bound_weighted: int | None
    gap_percent: float | None
    rule_of_thumb_shortfall_weighted: int | None
    missed_shows: int
    late_units: int
    overtime_minutes: int
    labour_cost: float  # in the kitchen's currency, two decimals
    currency: str
    days: int
    making_days: int
    days_proven_to_the_minute: int
    audit_violations: int

    def as_dict(self) -> dict[str, object]:
        """The fields by name, as plain JSON."""
        return asdict(self)


def summarize(season: Season, plan: Plan, broken_days: Collection[date] = (), violations: int = 0) -> Summary:
    """A plan's figures. ``broken_days`` and ``violations`` come from the audit; a plan that
    is written has none, since nothing that fails the audit is written.

    gap_percent = 100 * (shortfall - bound) / weighted demand, None where there is no bound.
    """
    lines = asked_lines(season, plan)
    shortfall = plan.stage("shortfall")
    demand_weighted = sum(line.asked * line.weight for line in lines)
    weighted = sum((line.asked - line.filled) * line.weight for line in lines)
    bound = shortfall.bound if shortfall is not None else None
    gap = None if bound is None else round(100 * (weighted - bound) / max(1, demand_weighted), 3)
    weeks = person_weeks(season, plan)
    return Summary(
        status="optimal" if shortfall is not None and shortfall.proven else "feasible",
        batches=sum(len(day.batches) for day in plan.days),
        demand_units=sum(line.asked for line in lines),
        shortfall_units=sum(line.asked - line.filled for line in lines),
        shortfall_firm_units=sum(line.asked - line.filled for line in lines if line.kind == "firm"),
        demand_weighted=demand_weighted,
        shortfall_weighted=weighted,
        bound_weighted=bound,
        gap_percent=gap,
        rule_of_thumb_shortfall_weighted=plan.rule_of_thumb_weighted,
        missed_shows=sum(len(day.missed_shows) for day in plan.days),
        late_units=sum(fill.packs for fill in plan.fills if fill.late),
        overtime_minutes=sum(week.overtime_minutes for week in weeks),
        labour_cost=sum(week.cost_cents for week in weeks) / 100,
        currency=season.kitchen.currency,
        days=len(plan.days),
        making_days=sum(1 for day in plan.days if day.batches),
        days_proven_to_the_minute=sum(1 for day in plan.days if day.day not in broken_days),
        audit_violations=violations,
    )


def asked_lines(season: Season, plan: Plan) -> tuple[Asked, ...]:
    """Every order that is not cancelled and every forecast, with what the plan gives it."""
    filled = packs_by_line(plan.fills)
    shipped: dict[str, int] = defaultdict(int)
    for fact in season.shipped:
        shipped[fact.order] += fact.packs
    rows: list[tuple[str, LineKind, int, str, int]] = [
        (o.id, o.kind, max(0, o.packs - shipped[o.id]), o.product, o.priority) for o in season.orders if not o.cancelled
    ]
    rows += [
        (f.id, "forecast", max(0, forecast_packs(season, f) - shipped[f.id]), f.product, f.priority)
        for f in season.forecasts
    ]
    lines = []
    for name, kind, asked, product, priority in rows:
        pieces = sum(season.contents_of.get(product, {}).values())
        weight = KIND_WEIGHT[kind] * PRIORITY_WEIGHT[priority] * pieces
        lines.append(Asked(name, kind, asked, min(asked, filled[name]), weight))
    return tuple(lines)


def paid_minutes(season: Season, shift: Shift) -> int:
    """Length of a shift less an unpaid break: 08:00 to 14:00 with 30 minutes is 330."""
    rest = 0
    if not season.kitchen.break_paid and shift.break_starts is not None and shift.break_ends is not None:
        rest = shift.break_ends - shift.break_starts
    return shift.ends - shift.starts - rest


def pulls_by_person(season: Season, day: DayPlan) -> dict[str, int]:
    """Pulls that a day charges to each person; nobody is named who has none. A design that is gone charges none."""
    pulls: dict[str, int] = {}
    for batch in day.batches:
        design = season.design_by_name.get(batch.design)
        charge = {(n.name, r.name): r.pulls for n in recipe(season, design) for r in n.roles} if design else {}
        for run in batch.runs:
            for role, person in run.crew:
                if count := charge.get((run.stage, role), 0):
                    pulls[person] = pulls.get(person, 0) + count
    return pulls


def busy_by_person(day: DayPlan) -> dict[str, int]:
    """Minutes of runs, tasks and packing that a day asks of each person."""
    busy: dict[str, int] = defaultdict(int)
    for batch in day.batches:
        for run in batch.runs:
            for _, person in run.crew:
                busy[person] += run.ends - run.starts
    for task in day.tasks:
        for person in task.people:
            busy[person] += task.ends - task.starts
    for pack in day.packing:
        busy[pack.person] += pack.ends - pack.starts
    return busy


def person_days(season: Season, plan: Plan) -> tuple[PersonDay, ...]:
    """Every shift of the plan, by day and then person."""
    rows = []
    for day in plan.days:
        pulls, busy = pulls_by_person(season, day), busy_by_person(day)
        for s in sorted(day.shifts, key=lambda s: s.person):
            paid = paid_minutes(season, s)
            rows.append(
                PersonDay(day.day, s.person, s.starts, s.ends, paid, busy.get(s.person, 0), pulls.get(s.person, 0))
            )
    return tuple(rows)


def person_weeks(season: Season, plan: Plan) -> tuple[PersonWeek, ...]:
    """Every person's ISO weeks in which there is a shift, by person and week."""
    weeks: dict[tuple[str, int, int], list[PersonDay]] = defaultdict(list)
    for row in person_days(season, plan):
        year, week, _ = row.day.isocalendar()
        weeks[row.person, year, week].append(row)
    return tuple(_week(season.person_by_name.get(key[0]), key, rows) for key, rows in sorted(weeks.items()))


def _week(person: Person | None, key: tuple[str, int, int], rows: list[PersonDay]) -> PersonWeek:
    minutes = sum(r.paid_minutes for r in rows)
    overtime = max(0, minutes - person.contracted_minutes) if person is not None else 0
    cents = week_cost(person, minutes) if person is not None else 0
    return PersonWeek(*key, len(rows), minutes, overtime, sum(r.pulls for r in rows), cents)


def week_cost(person: Person, minutes: int) -> int:
    """Cents for a person's paid minutes of an ISO week, half up.

    (usual * 100 + overtime * percent) * wage / (60 * 100). Example: 46 h at 12.00, contract
    40 h, 150 %: 588.00 (29 CFR 778.110).
    """
    usual = min(minutes, person.contracted_minutes)
    hundredths = (usual * 100 + (minutes - usual) * person.overtime_percent) * person.wage_cents
    return (hundredths + 3000) // 6000
