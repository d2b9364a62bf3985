"""Do a plan and a season belong together at all? Before a plan is asked anything.

A season may have changed since its plan was made: that is news, and rebalancing mends the days
ahead. Not mended can be what the plan names and the season knows no more, nor what is past.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from scheduler.audit import audit_day
from scheduler.plan.types import Plan
from scheduler.season.types import Season

KEEP = "leave its row in the season"


def strangers(season: Season, plan: Plan) -> tuple[str, ...]:
    """Sentences about what the plan names and the season does not know; () where all is known."""
    return tuple(dict.fromkeys(_strangers(season, plan)))


def _strangers(season: Season, plan: Plan) -> Iterator[str]:
    if plan.kitchen != season.kitchen.name:
        yield f"The plan is for {plan.kitchen}, the season is of {season.kitchen.name}."
    lines = {o.id for o in season.orders} | {f.id for f in season.forecasts}
    known_stages = {s.name for s in season.stages}
    days = [d.day for d in plan.days]
    for one, other in zip(days, days[1:], strict=False):
        if other <= one:
            yield f"The plan has {other} after {one}."
    for day in plan.days:
        if not season.kitchen.first_day <= day.day <= season.kitchen.last_day:
            yield f"{day.day} is in the plan, and the season runs from {season.kitchen.first_day} to " \
                  f"{season.kitchen.last_day}."  # fmt: skip
        for shift in day.shifts:
            if shift.person not in season.person_by_name:
                yield f"{shift.person} is in the plan and not in crew: {KEEP} and write the days off into absences."
        for batch in day.batches:
            if batch.design not in season.design_by_name:
                yield f"{batch.design} is made in the plan and not in designs: {KEEP}."
            if not batch.runs:
                yield f"Batch {batch.id} of the plan has no stages."
            for run in batch.runs:
                if run.stage not in known_stages or run.station not in season.places:
                    yield f"{run.stage} at the {run.station} is in the plan and not in stages: {KEEP}."
        for packing in day.packing:
            if packing.product not in season.product_by_name:
                yield f"{packing.product} is packed in the plan and not in products: {KEEP}."
    for name in [f.line for f in plan.fills] + [s.line for s in plan.shortfalls]:
        if name not in lines:
            yield f"{name} is in the plan and not in orders or forecasts: {KEEP}, with yes under cancelled."
    if {s.name for s in plan.stages} < {"missed shows", "shortfall", "cost"}:
        yield "The plan does not say what is short and what it costs."


def past_that_fits_no_more(season: Season, plan: Plan, now: date) -> str:
    """The first thing of the days before ``now`` that the season's tables don't allow any more, or ""."""
    return next((str(v) for d in plan.days if d.day < now for v in audit_day(season, d, 1440)), "")
