"""A sketch, or a season that is drawn, keeps the decisions that are pinned, however little their candy is worth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from scheduler.audit import audit
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Wish
from scheduler.models.facts import Facts
from scheduler.models.search.drawn import drawn
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.models.search.sketch import sketch
from scheduler.season.types import Pin
from tests.benchmarks.generate import generated


def sketched(facts: Facts, limits: DayLimits) -> Wish | None:
    return sketch(facts, limits, None)


def drawn_whole(facts: Facts, limits: DayLimits) -> Wish | None:
    found = drawn(facts, limits, None)
    return found and found.wish


@pytest.mark.parametrize("first", [sketched, drawn_whole])
def test_a_season_that_cannot_be_met_keeps_its_pin(first: Callable[[Facts, DayLimits], Wish | None]) -> None:
    """All orders are twenty times as large, and the design that is wanted least is pinned to a day."""
    season = generated(2, 4, 4, 12, 1, seed=1)
    orders = tuple(replace(order, packs=20 * order.packs) for order in season.orders)
    season = replace(season, orders=orders)
    facts = facts_of(season, PlanOptions())
    limits = DayLimits(facts)
    bare = first(facts, limits)
    assert bare is not None
    design, t = next(
        (d, t) for d, days in sorted(facts.makeable.items()) for t in days
        if limits.most_of(t, d) and limits.usual(t) > 1 and d in facts.wanted and d not in bare.batches.get(t, ())
    )  # fmt: skip
    season = replace(season, pins=(*season.pins, Pin("make", season.days[t], design, 1)))
    facts = facts_of(season, PlanOptions())
    wish = first(facts, DayLimits(facts))
    assert wish is not None and design in wish.batches[t]
    assert not audit(season, plan_season(season, PlanOptions(effort=0.3)))
