"""The answer to a customer on the phone, in a few sentences that can be read out."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from scheduler.demand.build import build_demand
from scheduler.paper.margins import of_those_wished
from scheduler.paper.words import count, day_long, day_short, listed, money
from scheduler.plan.spare import Spare, spares
from scheduler.season.types import Season

if TYPE_CHECKING:
    from scheduler.answers.promise import Promise

SURE = "Nobody else gets less than the plan gives them."


def answer(season: Season, promise: Promise) -> str:
    """The promise first, then what it takes; or what is possible, and who would have to give way."""
    p = promise
    wanted = f"{p.quantity:,} {p.product}"
    if p.ready is None:
        return "\n".join(_no(season, p, wanted))
    out = [f"{wanted}: ready on {day_long(p.ready)}. {SURE}"]
    if not p.more:
        out.append("All of it comes from candy that is made already or planned, and that nobody has asked for.")
        fewer = [spare for spare in _spares(p) if spare.batches < spare.design.spare_batches]
        out += [f"Spare batches left then: {of_those_wished(fewer)}."] if fewer else []
    else:
        by_day = Counter((day, design) for day, design in p.more)
        batches = [f"{count(n, 'batch', 'batches')} of {d} on {day_short(day)}" for (day, d), n in by_day.items()]
        out.append(f"It takes {listed(batches)} beside the plan; the days are fitted to the minute.")
    if p.called:
        days: dict[str, list[str]] = {}
        for day, person in p.called:
            days.setdefault(day_short(day), []).append(person)
        called = [f"{listed(people)} on {day}" for day, people in days.items()]
        out.append(f"To be called in: {'; '.join(called)}.")
    if p.extra_cents > 0:
        out.append(f"Labour: {money(p.extra_cents, season.kitchen.currency)} more.")
    if p.more and p.from_left_over is not None:
        out.append(f"From candy left over, with no batch more, it is ready on {day_long(p.from_left_over)}.")
    out.append("To take it on, add the order to the season and rebalance the plan.")
    return "\n".join(out)


def _spares(p: Promise) -> list[Spare]:
    """What is to spare of the designs in the product, with the promise taken on."""
    inside = p.season.contents_of[p.product]
    given = ((), ()) if p.plan is None else (p.plan.lots, p.plan.fills)
    there = spares(p.season, build_demand(p.season).lines, *given)
    return [spare for spare in there if spare.design.name in inside]


def _no(season: Season, p: Promise, wanted: str) -> list[str]:
    when = f"by {day_long(p.by)}" if p.by is not None else "in this season"
    can_not = "can't be ready" if p.whole else "were not found to be ready"
    out = [f"{wanted} {can_not} {when} without taking from somebody."]
    if p.by_then and p.by_then_day is not None:
        out.append(f"{count(p.by_then, 'pack')} can be ready by {day_long(p.by_then_day)}.")
    if p.otherwise is not None:
        out.append(f"All of it can be ready on {day_long(p.otherwise)}, without taking from anybody.")
    if p.displaced:
        rows = [f"{count(packs, 'pack')} of {_line(season, line)}" for line, packs in p.displaced]
        orders = any(line in season.order_by_id for line, _ in p.displaced)
        told = " None of these orders is ticked as confirmed; think who was told of them before you take from them."
        out.append(f"For all of it this would have to give way: {listed(rows)}.{told if orders else ''}")
    else:
        out.append("Taking from orders that are not marked as confirmed would not be enough either.")
    if not p.whole:
        out.append("Not every day could be tried in the time of a phone call.")
    return out


def _line(season: Season, line: str) -> str:
    order = season.order_by_id.get(line)
    if order is None:
        return f"the forecast {line}"
    return f"{line} ({order.kind}{', ' + order.customer if order.customer else ''})"
