"""Packs on the days on which they serve most: a small case by hand. Dealing out itself: ``tests/plan/test_lots.py``."""

from __future__ import annotations

from dataclasses import replace

from scheduler.models.counts.board import Wish
from scheduler.models.counts.deal import PackingTime, dealt_beside, repacked
from scheduler.models.search.loop import PlanOptions, facts_of
from scheduler.plan.lots import wants_of
from scheduler.plan.serving import Serving
from scheduler.plan.types import Draw, Fill
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


def test_packs_go_to_idle_minutes_before_anybody_stays() -> None:
    """20 packs of a minute, due on day 5: day 2 has 6 idle minutes and day 4 has 9; 10 more on each, 4 in all.

    15 fit into idle minutes, 4 more into what the week leaves, one does not.
    """
    season = paper(
        7,
        designs=(Design("Daisy", 1, 400, 30),),
        products=(Product("jar", packing_seconds=60),),
        contents=(Content("jar", "Daisy", 10),),
        orders=(Order("A", "jar", 20, day(5)),),
    )
    wish = Wish({1: ("Daisy",)}, {}, {}, {}, {}, {})
    time = PackingTime({2: 6, 4: 9}, {2: 10, 4: 10}, {(2, 4): 4})
    packing = repacked(facts_of(season, PlanOptions()), wish, (), time).packing
    packed = {t: sum(n for _, n in packs) for t, packs in packing.items()}
    assert sum(packed.values()) == 19
    assert packed[2] >= 6 and packed[4] >= 9


def test_a_part_of_a_fill_stays_where_a_part_of_its_candy_does() -> None:
    """A has 6 packs of 10 from two lots of 30; one lot is gone: 3 stay, 3 are asked anew, beside B's three.

    Three packs' worth of another lot is there: B, who had none of it, does not come before what A had.
    """
    season = paper(
        9,
        designs=(Design("Daisy", 1, 30, 30),),
        products=(Product("jar"),),
        contents=(Content("jar", "Daisy", 10),),
        orders=(Order("A", "jar", 6, day(8)), Order("B", "jar", 3, day(8))),
    )
    lines = {line.id: line for line in facts_of(season, PlanOptions()).demand.lines}
    had = Fill("A", "jar", 6, day(3), False, (Draw("one", "Daisy", 30), Draw("gone", "Daisy", 30)), "", day(30))
    lots = {"one": ("Daisy", 1, 30), "new": ("Daisy", 2, 30)}
    wants = [want for line in lines.values() for want in wants_of(line)]
    parcels = dealt_beside([had], [lines["B"]], season)(Serving(lots, {(3, "jar"): 6}, 1), wants)
    assert parcels is not None
    stays = parcels[0]
    assert (stays.want.line, stays.day, stays.packs, stays.draws) == ("A", 3, 3, (("one", 30),))
    assert sum(p.packs for p in parcels) == 6


def test_finished_packs_do_not_stand_in_for_those_to_come() -> None:
    """A has 2 finished packs and 4 of day 3, of 6: those 4 stay as they are, and nothing is asked anew."""
    season = paper(
        9,
        designs=(Design("Daisy", 1, 40, 30),),
        products=(Product("jar"),),
        contents=(Content("jar", "Daisy", 10),),
        orders=(Order("A", "jar", 6, day(8)),),
    )
    (line,) = facts_of(season, PlanOptions()).demand.lines
    (want,) = wants_of(replace(line, packs=4))  # two are there
    finished = Fill("A", "jar", 2, None, False, (), "P1", day(30))
    fill = Fill("A", "jar", 4, day(3), False, (Draw("one", "Daisy", 40),), "", day(30))
    serving = Serving({"one": ("Daisy", 1, 40), "two": ("Daisy", 2, 40)}, {(3, "jar"): 4, (4, "jar"): 4}, 1)
    parcels = dealt_beside([finished, fill], (), season)(serving, [want])
    assert parcels is not None
    assert [(p.day, p.packs, p.draws) for p in parcels] == [(3, 4, (("one", 40),))]


def test_what_nobody_packs_any_more_does_not_undo_the_rest() -> None:
    """A's jars are not packed any more, B's tins are: B keeps them, whatever becomes of A."""
    season = paper(
        9,
        designs=(Design("Daisy", 1, 40, 30),),
        products=(Product("jar"), Product("tin")),
        contents=(Content("jar", "Daisy", 10), Content("tin", "Daisy", 10)),
        orders=(Order("A", "jar", 2, day(8)), Order("B", "tin", 2, day(8))),
    )
    wants = [want for line in facts_of(season, PlanOptions()).demand.lines for want in wants_of(line)]
    draws = (Draw("one", "Daisy", 20),)
    had = [Fill(line, product, 2, day(3), False, draws, "", day(30)) for line, product in (("A", "jar"), ("B", "tin"))]
    parcels = dealt_beside(had, (), season)(Serving({"one": ("Daisy", 1, 40)}, {(3, "tin"): 2}, 1), wants)
    assert parcels is not None
    assert [(p.want.line, p.packs) for p in parcels] == [("B", 2)]
