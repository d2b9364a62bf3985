"""What a plan leaves to spare: days from packing to due days, batches, hours of contracts that nobody is in for."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from scheduler.demand.lines import Line
from scheduler.paper.figures import Figures, week_of
from scheduler.paper.words import count, hours, listed, money
from scheduler.plan.spare import Spare, spares
from scheduler.season.rules import opening

MOST_FIRM = 3  # firm orders named


def no_slack(figures: Figures) -> str:
    """Orders and forecasts of which something is packed on the last day that is in time; blank where none is.

    Firm orders are named, confirmed ones first, then by priority and due day. Packing that is past is no risk any more.
    """
    season, last = figures.season, dict[int, int]()
    for t, day in enumerate(season.days):
        last[t] = t if opening(season, day) is not None else last.get(t - 1, -1)
    tight: list[Line] = []
    packs = 0
    for line in figures.lines.values():
        day = season.kitchen.first_day + timedelta(days=last.get(line.due, -1))
        on_it = sum(f.packs for f in figures.fills.get(line.id, ()) if f.packed == day >= figures.plan.from_day)
        packs += on_it
        tight += [line] if on_it else []
    if not tight:
        return ""
    firm = [x for x in tight if x.kind == "firm"]
    firm.sort(key=lambda x: (not x.confirmed, figures.priority(x.id), x.due, x.id))
    names = [x.id + (f" ({x.customer})" if x.customer else "") for x in firm[:MOST_FIRM]]
    rest = len(firm) - len(names)
    named = f" Firm among them: {listed([*names, f'{rest} more'] if rest else names)}." if firm else ""
    return (
        f"Packed on the due day itself, or the last open day before it: {len(tight):,} of {len(figures.lines):,} "
        f"orders and forecasts, in full or in part ({count(packs, 'pack')}).{named}"
    )


def spare_batches(figures: Figures) -> str:
    """Whole batches of candy that nobody gets, of those that are wished for; blank where none are."""
    plan = figures.plan
    there = spares(figures.season, figures.lines.values(), plan.lots, plan.fills)
    return f"In case one fails, candy that nobody gets: {of_those_wished(there)}." if there else ""


def of_those_wished(there: Iterable[Spare]) -> str:
    """Example: 1 of 2 of Hare and 0 of 1 of Lamb."""
    return listed([f"{spare.batches} of {spare.design.spare_batches} of {spare.design.name}" for spare in there])


def not_in(figures: Figures) -> tuple[int, int]:
    """Minutes of contracts, in the season's weeks, that nobody is in for, and cents if they are paid all the same."""
    unused = cents = 0
    for person in figures.season.crew:
        for week in {week_of(day) for day in figures.season.days}:
            own = figures.week.get((person.name, *week))
            idle = max(0, person.contracted_minutes - (own.paid_minutes if own else 0))
            unused, cents = unused + idle, cents + (idle * person.wage_cents + 30) // 60
    return unused, cents


def contracts(figures: Figures) -> str:
    """Hours of all contracts in the season's weeks against those in, and labour if contracts are paid in full."""
    weeks = {week_of(day) for day in figures.season.days}
    whole = len(weeks) * sum(person.contracted_minutes for person in figures.season.crew)
    if not whole:
        return ""
    unused, cents = not_in(figures)
    when = f"these {len(weeks)} weeks" if len(weeks) > 1 else "this week"
    begin = f"{hours(whole)} in {when}, absences not taken off"
    if not unused:
        return f"{begin}: all of them used."
    currency, cost = figures.summary.currency, round(figures.summary.labour_cost * 100)
    return (
        f"{begin}; {hours(unused)} of them are not used. Paid in full all the same, labour comes to "
        f"{money(cost + cents, currency)}, {money(cents, currency)} more."
    )
