"""Spare batches, put on when all who asked have what there is: a failed batch costs a whole one.

What a planner does when the season stands: on the day where one batch more costs least, it is made as well. Nobody gets
less by it, and none is made where no day has room.
"""

from __future__ import annotations

from scheduler.models.counts.days import Book
from scheduler.models.counts.result import labour_cost
from scheduler.models.facts import Facts
from scheduler.models.search.fitted import Fitted, missed_shows
from scheduler.models.search.fitting import QUICKLY, Fitter
from scheduler.models.search.for_less import polished
from scheduler.plan.lots import allocate
from scheduler.plan.spare import Spare, spares
from scheduler.plan.types import DayPlan, in_time_and_late


def with_spare(facts: Facts, fitter: Fitter, plan: Fitted) -> Fitted:
    """The plan with the spare batches that the kitchen wishes for, as far as there is room; their days are polished.

    Example: 2 batches of 850 hares are wished for and 300 pieces are left over; one day takes one more: 1,150 are left
    over, which is one batch to spare.
    """
    best = plan
    for spare in _spares(facts, plan):
        missing = spare.design.spare_batches - spare.batches
        while missing > 0 and (more := _one_more(facts, fitter, best, spare)) is not None:
            best, missing = more, missing - 1
    return best if best is plan else polished(fitter, best, plan.given.days)


def _spares(facts: Facts, plan: Fitted) -> list[Spare]:
    return spares(facts.season, facts.demand.lines, plan.given.lots, plan.given.fills)


def _one_more(facts: Facts, fitter: Fitter, plan: Fitted, spare: Spare) -> Fitted | None:
    """The plan with one more batch of a design, where it costs least; of such days the first."""
    days = {facts.season.index(day.day): day for day in plan.given.days}
    name, window = spare.design.name, spare.window
    ways = list[tuple[int, int, dict[int, DayPlan]]]()
    for t in (t for t in facts.makeable[name] if window.first <= t <= window.last):
        book = Book(facts, dict(days))
        if fitter.add_to(book, t, book.hands(t), QUICKLY, (name,)):
            ways.append((labour_cost(facts, tuple(book.days.values())), t, book.days))
    if not ways:
        return None
    made = min(ways, key=lambda way: way[:2])[2]
    given = allocate(
        facts.season, facts.demand, tuple(made[t] for t in sorted(made)), *in_time_and_late(plan.given.fills)
    )  # fmt: skip
    more = Fitted(given.days, given, missed_shows(facts, given.days))
    return more if more.worth <= plan.worth else None
