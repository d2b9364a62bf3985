"""What a plan leaves to spare, worked out again for the first sheet: days before due days, hours of contracts."""

from __future__ import annotations

from datetime import date

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
