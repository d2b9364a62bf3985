"""What a plan leaves to spare, worked out again for the first sheet: days before due days, batches, contract hours."""

from __future__ import annotations

from datetime import date, timedelta

from scheduler.audit.wall.lists import told_of
from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.scarce import rounded
from scheduler.audit.wall.words import count, money, names
from scheduler.audit.wanted import wanted_lines


def no_slack(wall: Wall) -> str:
    """What is still to be packed on the last open day up to a due day within the season; firm orders by name."""
    r, plan, tell = wall.r, wall.plan, told_of(wall)
    lines = {name: line for name, line in wanted_lines(r.season).items() if line.asked}
    packs: dict[str, int] = {}
    for fill in plan.fills:
        line, day = lines.get(fill.line), fill.packed
        if line is None or day is None or day < plan.from_day or not day <= line.due <= r.kitchen.last_day:
            continue
        between = range(day.toordinal() + 1, line.due.toordinal() + 1)
        if r.hours(day) is not None and all(r.hours(date.fromordinal(d)) is None for d in between):
            packs[fill.line] = packs.get(fill.line, 0) + fill.packs
    if not packs:
        return ""
    firm = []
    for name in packs:
        customer, kind, priority, confirmed = tell[name]
        if kind == "firm":
            firm.append((not confirmed, priority, lines[name].due, name, f"{name} ({customer})" if customer else name))
    shown = [words for *_, words in sorted(firm)[:3]]
    shown += [f"{len(firm) - 3} more"] if len(firm) > 3 else []
    words = f"{len(packs):,} of {len(lines):,} orders and forecasts, in full or in part"
    words += f" ({count(sum(packs.values()), 'pack')})."
    words += f" Firm among them: {names(shown)}." if shown else ""
    return f"Packed on the due day itself, or the last open day before it: {words}"


def spare_batches(wall: Wall) -> str:
    """Whole batches of candy that no order or forecast gets, in time for a design's last delivery, and fresh then."""
    r, plan, said, lines = wall.r, wall.plan, [], list(wanted_lines(wall.r.season).values())
    inside = {(c.product, c.design) for c in r.season.contents}
    for design in sorted(r.season.designs, key=lambda d: d.name):
        dues = [(x.due, x.life_days) for x in lines if x.asked and (x.product, design.name) in inside]
        if not design.spare_batches or not dues:
            continue
        due, life = max(dues)
        packed = [day for day in r.season.days if day <= due and r.hours(day) is not None]
        first = due + timedelta(days=life - design.sell_by_days)
        last = packed[-1] - timedelta(days=r.kitchen.packing_from_days) if packed else date.min
        lots = [x for x in plan.lots if x.design == design.name and first <= x.made <= last]
        there, wished = sum(x.pieces - wall.drawn[x.id] for x in lots), design.spare_batches
        said.append(f"{min(wished, there // design.pieces)} of {wished} of {design.name}")
    return f"In case one fails, candy that nobody gets: {names(said)}." if said else ""


def contracts(wall: Wall, cost: int) -> str:
    """Hours of the contracts in all weeks of the season, those not used, and labour in cents with them paid."""
    weeks = {day.isocalendar()[:2] for day in wall.r.season.days}
    idle = [
        (max(0, person.contracted_minutes - wall.paid.get((person.name, *week), 0)), person.wage_cents)
        for week in weeks
        for person in wall.r.season.crew
    ]
    whole, unused = len(weeks) * sum(p.contracted_minutes for p in wall.r.season.crew), sum(m for m, _ in idle)
    if not whole:
        return ""
    words = f"{rounded(whole)} in {f'these {len(weeks)} weeks' if len(weeks) != 1 else 'this week'}"
    words += ", absences not taken off"
    if not unused:
        return f"{words}: all of them used."
    more, currency = sum((minutes * wage + 30) // 60 for minutes, wage in idle), wall.r.kitchen.currency
    words += f"; {rounded(unused)} of them are not used. Paid in full all the same, "
    return f"{words}labour comes to {money(cost + more, currency)}, {money(more, currency)} more."
