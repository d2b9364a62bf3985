"""Packing laid out anew on days that stand: the same packs in fewer runs, for no more wages.

What a planner does when the season stands: packs that were put in a few at a time are given to the longest idle
minutes of those who are in. Batches, and what is packed on which day, stay. No solver, an instant.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

from scheduler.models.counts.days import as_they_are, held_on
from scheduler.models.day.pack_in import pack_in
from scheduler.models.facts import Facts
from scheduler.models.search.cheaper import wages
from scheduler.plan.request import DayRequest
from scheduler.plan.types import DayPlan

FIRST = 2  # people at most who are asked before all others


def in_fewer_runs(facts: Facts, day: DayPlan) -> DayPlan:
    """The day for the least wages that are found, then in the fewest pack runs, then the earliest; or the day itself.

    Example: Lin packs 1 jar from 11:27 and 38 from 14:00, Jem 20 from 13:00; Lin packs all 59 from 14:00. Example:
    Jem is in from 12:00 and packs from 13:00, since what was packed before went to another day; he packs from 12:00.
    """
    if not day.packing or facts.season.index(day.day) not in facts.hands:
        return day
    return min((day, *_ways(facts, day)), key=lambda d: (wages(facts, d), len(d.packing), _begun(d)))


def _begun(day: DayPlan) -> int:
    """The minutes at which its pack runs begin, added up."""
    return sum(run.starts for run in day.packing)


def _ways(facts: Facts, day: DayPlan) -> Iterator[DayPlan]:
    """The day with its packs in idle minutes of those who are in, this one's first or that one's."""
    season, t = facts.season, facts.season.index(day.day)
    asked = DayRequest(day.day, day.designs, tuple(sorted(day.packs.items())), as_they_are(facts, t, day), held_on(day))
    bare = replace(day, packing=())
    for count in range(FIRST + 1):
        for first in combinations([s.person for s in day.shifts], count):
            if (found := pack_in(season, asked, bare, first=first)) is not None:
                yield found
