"""The totals rule: what the plan claims is what its parts add up to."""

from __future__ import annotations

from collections import Counter, defaultdict

from scheduler.audit.lots import lots_of
from scheduler.audit.people import pulls_of
from scheduler.audit.readings import MINUTES_A_DAY, Reading
from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wanted import filled_packs, wanted_lines
from scheduler.audit.weeks import paid_weeks
from scheduler.plan.types import Plan, StageResult

ALWAYS = ("missed shows", "shortfall", "cost")


def totals(r: Reading, plan: Plan) -> Findings:
    """Season, shortfalls, weights and objective values agree with the plan's own parts."""
    yield from _header(r, plan)
    yield from _days_in_order(plan)
    yield from _fills(r, plan)
    yield from _shortfalls(r, plan)
    yield from _stages(r, plan)


def _header(r: Reading, plan: Plan) -> Findings:
    told, said = r.kitchen, plan
    if (said.kitchen, said.first_day, said.last_day) != (told.name, told.first_day, told.last_day):
        what = f"It is for {said.kitchen}, {said.first_day} to {said.last_day}; the season is {told.name}, "
        yield Violation("totals", "plan", what + f"{told.first_day} to {told.last_day}.")
    if not told.first_day <= plan.from_day <= told.last_day or not 0 <= plan.from_minute < MINUTES_A_DAY:
        what = f"Planned from {plan.from_day}, minute {plan.from_minute}; that is not in the season."
        yield Violation("totals", "plan", what)
    if plan.rule_of_thumb_weighted is not None and plan.rule_of_thumb_weighted < 0:
        yield Violation("totals", "plan", f"The rule of thumb's shortfall is {plan.rule_of_thumb_weighted}.")


def _days_in_order(plan: Plan) -> Findings:
    for before, after in zip(plan.days, plan.days[1:], strict=False):
        if not before.day < after.day:
            yield Violation("totals", str(after.day), f"This day comes after {before.day} in the plan.")


def _fills(r: Reading, plan: Plan) -> Findings:
    lines = wanted_lines(r.season)
    for fill in plan.fills:
        if fill.packs < 1:
            yield Violation("totals", fill.line, f"A fill of {fill.packs} packs.")
    for name, packs in sorted(filled_packs(plan).items()):
        if name not in lines:
            yield Violation("totals", name, f"{packs} packs are filled; there is no such order or forecast.")
        elif packs > lines[name].asked:
            yield Violation("totals", name, f"{packs} packs are filled; {lines[name].asked} are asked for.")


def _shortfalls(r: Reading, plan: Plan) -> Findings:
    """packs = asked - filled; pieces = packs * pieces in a pack; weighted = packs * weight of a pack."""
    filled, lines = filled_packs(plan), wanted_lines(r.season)
    for name, count in sorted(Counter(s.line for s in plan.shortfalls).items()):
        if count > 1:
            yield Violation("totals", name, f"Its shortfall is listed {count} times.")
    for listed in plan.shortfalls:
        line = lines.get(listed.line)
        packs = 0 if line is None else max(0, line.asked - filled[listed.line])
        pieces, weighted = (0, 0) if line is None else (packs * line.pack_pieces, packs * line.weight)
        if (listed.packs, listed.pieces, listed.weighted) != (packs, pieces, weighted) or packs == 0:
            what = (
                f"Short by {packs} packs, {pieces} pieces, weighted {weighted}; "
                f"listed are {listed.packs}, {listed.pieces} and {listed.weighted}."
            )
            yield Violation("totals", listed.line, what)
    for name in sorted(lines.keys() - {s.line for s in plan.shortfalls}):
        if filled[name] < lines[name].asked:
            what = f"Short by {lines[name].asked - filled[name]} packs, but not in the list of shortfalls."
            yield Violation("totals", name, what)


def _stages(r: Reading, plan: Plan) -> Findings:
    """Objective values are recomputed; a bound is never above its value, and proven means equal."""
    named = Counter(stage.name for stage in plan.stages)
    for name in ALWAYS:
        if named[name] != 1:
            yield Violation("totals", name, f"The plan gives this figure {named[name]} times instead of once.")
    true = {
        "missed shows": sum(len(day.missed_shows) for day in plan.days),
        "shortfall": sum(s.weighted for s in plan.shortfalls),
        "cost": labour_cost(r, plan) + late_cost(r, plan),
        "freshness": piece_days(r, plan),
    }
    for stage in plan.stages:
        if stage.name == "evenness":
            true["evenness"] = _share(r, plan, stage.value)
        yield from _stage(stage, true.get(stage.name, stage.value))


def _stage(stage: StageResult, value: int) -> Findings:
    if stage.value != value:
        yield Violation("totals", stage.name, f"Given as {stage.value} {stage.unit}; the parts add up to {value}.")
    if stage.bound is not None and stage.bound > stage.value:
        yield Violation("totals", stage.name, f"The bound {stage.bound} is above the value {stage.value}.")
    if stage.proven and stage.bound != stage.value:
        yield Violation("totals", stage.name, f"Called proven, with value {stage.value} and bound {stage.bound}.")


def labour_cost(r: Reading, plan: Plan) -> int:
    """Cents: contracted minutes at the wage, the rest at the overtime wage, half up per person and week.

    Example: 380 minutes, contracted 300, 20.00 an hour, 150 %: 100.00 + 40.00 = 140.00.
    """
    total = 0
    for week, minutes in paid_weeks(r, plan).items():
        person = r.season.person_by_name.get(week[0])
        if person is not None:
            usual = min(minutes, person.contracted_minutes)
            percents = usual * 100 + (minutes - usual) * person.overtime_percent
            total += (2 * percents * person.wage_cents + 6000) // 12000
    return total


def late_cost(r: Reading, plan: Plan) -> int:
    """Cents: the agreed price of every pack that is packed after its due day."""
    lines = wanted_lines(r.season)
    return sum(f.packs * lines[f.line].late_cents for f in plan.fills if f.late and f.line in lines)


def piece_days(r: Reading, plan: Plan) -> int:
    """Days between making and packing, added up over all pieces that are packed."""
    made = {name: lot.made for name, lot in lots_of(r, plan).items()}
    return sum(
        draw.pieces * (fill.packed - made[draw.lot]).days
        for fill in plan.fills
        for draw in fill.draws
        if fill.packed is not None and draw.lot in made
    )


def _share(r: Reading, plan: Plan, said: int) -> int:
    """The largest share, per mille, that anyone pulls of the week limit times the weeks planned.

    A plan that goes on from another counts the weeks from its own first day: any number of
    weeks of the season that gives the figure said is accepted, else that of all weeks is told.
    """
    pulls: dict[str, int] = defaultdict(int)
    for day in plan.days:
        for name, runs in pulls_of(r, day).items():
            pulls[name] += sum(number for _, _, number, _ in runs)
    weeks = {day.isocalendar()[:2] for day in r.season.days if r.hours(day) is not None}
    shares = [
        max((1000 * pulls[p.name] // (p.pulls_week * n) for p in r.season.crew if p.pulls_week > 0), default=0)
        for n in range(max(1, len(weeks)), 0, -1)
    ]
    return said if said in shares else shares[0]
