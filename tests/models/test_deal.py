"""Packs on the days on which they serve most: a small case by hand. Dealing out itself: ``tests/plan/test_lots.py``."""

from __future__ import annotations

from scheduler.models.deal import repacked
from scheduler.models.loop import PlanOptions, facts_of
from scheduler.models.season import Wish
from scheduler.season.types import Content, Design, Order, Product
from tests.handmade import day, paper


def test_packs_move_to_the_days_on_which_their_candy_is_there() -> None:
    """Jars must be of day 3 or later, but stand on day 2; tins, of any candy, on day 5: they change places.

    One design of 100 pieces a batch that keeps 30 days; three batches on day 1, one on day 4. 10 jars of 10 due on
    day 9 with 24 days of life, 10 tins of 30.
    """
    season = paper(
        14,
        designs=(Design("Daisy", 1, 100, 30),),
        products=(Product("jar"), Product("tin")),
        contents=(Content("jar", "Daisy", 10), Content("tin", "Daisy", 30)),
        orders=(Order("fresh", "jar", 10, day(9), least_life_days=24), Order("any", "tin", 10, day(9))),
    )
    facts = facts_of(season, PlanOptions())
    made = {1: ("Daisy",) * 3, 4: ("Daisy",)}
    wish = Wish(made, {2: (("jar", 10),), 5: (("tin", 10),)}, {}, {}, {"fresh": 10, "any": 10}, {})
    better = repacked(facts, wish)
    assert better.packing == {2: (("tin", 10),), 5: (("jar", 10),)}
    assert (better.batches, better.fills) == (made, {"fresh": 10, "any": 10})
