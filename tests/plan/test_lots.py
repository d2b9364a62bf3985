"""Giving packs to lines and candy to packs: small cases by hand, published and random ones against outside solvers.

One design (100 pieces a batch, keeps 30 days) and jars of 10; days are indices from
Monday 1 February 2027, every day open; candy is packed from the day after it was made.
"""

from __future__ import annotations

import random
from dataclasses import replace

import networkx as nx
import numpy as np
import pytest
from scheduler.demand.build import build_demand
from scheduler.models.counts import deal
from scheduler.models.counts.deal import dealt, dealt_beside, dealt_roughly
from scheduler.plan.lots import Allocation, allocate, followed
from scheduler.plan.types import Batch, DayPlan, Draw, PackRun
from scheduler.season.types import (
    Content,
    Design,
    MadeBatch,
    Order,
    Product,
    Season,
    StockLot,
)
from scipy.optimize import Bounds, LinearConstraint, milp
from tests.handmade import day, paper

SHARING = ("jar", "tin", "mix")  # products that share candy


def kitchen(*orders: Order, days: int = 14, **changes: object) -> Season:
    plain = paper(
        days,
        designs=(Design("Daisy", 1, 100, 30), Design("Kite", 1, 100, 30)),
        products=(Product("jar"), Product("tin"), Product("mix"), Product("box")),
        contents=(
            Content("jar", "Daisy", 10),
            Content("tin", "Daisy", 30),
            Content("mix", "Daisy", 5),
            Content("mix", "Kite", 5),
            Content("box", "Daisy", 100),
        ),
        orders=orders,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def plans(made: dict[int, str], packed: dict[int, dict[str, int]]) -> list[DayPlan]:
    """Days from a string of design initials a day, and packs by product a day."""
    names = {"D": "Daisy", "K": "Kite"}
    return [
        DayPlan(
            day(t),
            tuple(Batch(f"{t}-{i + 1}", names[c], ()) for i, c in enumerate(made.get(t, ""))),
            packing=tuple(
                PackRun(p, n, "Ada", 1, 480 + 60 * i, 540 + 60 * i)
                for i, (p, n) in enumerate(packed.get(t, {}).items())
            ),
        )
        for t in sorted({*made, *packed})
    ]


def given(season: Season, days: list[DayPlan], **more: object) -> Allocation:
    return allocate(season, build_demand(season), days, **more)  # type: ignore[arg-type]


def packs(result: Allocation) -> dict[str, int]:
    out: dict[str, int] = {}
    for fill in result.fills:
        out[fill.line] = out.get(fill.line, 0) + fill.packs
    return out


def test_who_is_due_first_is_served_first_from_the_oldest_candy() -> None:
    """10 jars packed on day 2 and 10 on day 4, made on days 0 and 1: the order due on day 3 gets the first."""
    season = kitchen(Order("late", "jar", 10, day(9)), Order("soon", "jar", 10, day(3)))
    result = given(season, plans({0: "D", 1: "D"}, {2: {"jar": 10}, 4: {"jar": 10}}))
    assert [(f.line, f.packed, f.draws[0].lot, f.late) for f in result.fills] == [
        ("late", day(4), "1-1", False),
        ("soon", day(2), "0-1", False),
    ]
    assert result.fills[1].sell_by == day(30)
    assert result.shortfalls == ()


@pytest.mark.parametrize(("packed", "got"), [(1, 10), (0, 0)])
def test_candy_before_packing(packed: int, got: int) -> None:
    """Candy of day 0 is packed from day 1 on, not on the same day; packs without candy leave the pack run."""
    season = kitchen(Order("A", "jar", 10, day(5)))
    result = given(season, plans({0: "D"}, {packed: {"jar": 10}}))
    assert packs(result).get("A", 0) == got
    assert sum(run.packs for d in result.days for run in d.packing) == got


@pytest.mark.parametrize(("life", "got"), [(20, 10), (21, 0)])
def test_remaining_life(life: int, got: int) -> None:
    """Made on day 0, sell by day 30, due on day 10: 20 days of life, not 21."""
    season = kitchen(Order("A", "jar", 10, day(10), least_life_days=life))
    result = given(season, plans({0: "D"}, {3: {"jar": 10}}))
    assert packs(result).get("A", 0) == got
    assert [(s.packs, s.pieces, s.weighted) for s in result.shortfalls] == ([] if got else [(10, 100, 2000)])


@pytest.mark.parametrize(("latest", "late"), [(None, None), (13, True), (12, None)])
def test_packed_before_due_or_late_where_agreed(latest: int | None, late: bool | None) -> None:
    """Packed on day 13, the last of the season, for an order due on day 9: only if day 13 is acceptable."""
    order = Order("A", "jar", 10, day(9), latest=None if latest is None else day(latest))
    result = given(kitchen(order), plans({0: "D"}, {13: {"jar": 10}}), late={"A": 10})
    assert [f.late for f in result.fills] == ([] if late is None else [late])


def test_heavier_line_is_served_and_the_lighter_goes_short() -> None:
    """10 jars for 20 wanted: the priority-1 order gets them although the other is due first."""
    season = kitchen(Order("light", "jar", 10, day(4), priority=3), Order("heavy", "jar", 10, day(9), priority=1))
    result = given(season, plans({0: "D"}, {2: {"jar": 10}}))
    assert packs(result) == {"heavy": 10}
    assert [(s.line, s.packs, s.weighted) for s in result.shortfalls] == [("light", 10, 1000)]


def test_whole_order_gets_all_or_gives_all_back() -> None:
    """12 jars wanted whole, 10 packed: none; the 10 go to the lighter order that takes a part."""
    whole = Order("whole", "jar", 12, day(4), priority=1, partial=False)
    season = kitchen(whole, Order("part", "jar", 12, day(4), priority=3))
    result = given(season, plans({0: "D"}, {2: {"jar": 10}}))
    assert packs(result) == {"part": 10}
    enough = given(season, plans({0: "DD"}, {2: {"jar": 13}}))
    assert packs(enough) == {"whole": 12, "part": 1}


def test_whole_order_hands_finished_packs_on() -> None:
    """5 finished packs given to a whole order of 8 that can't be filled go to the next line."""
    whole = Order("whole", "jar", 8, day(4), priority=1, partial=False)
    season = kitchen(whole, Order("part", "jar", 8, day(6)), stock=(StockLot("K", 5, day(-2), product="jar"),))
    result = given(season, [])
    assert [(f.line, f.packs, f.pack_lot, f.packed, f.sell_by) for f in result.fills] == [
        ("part", 5, "K", None, day(28))
    ]
    assert {s.line: s.packs for s in result.shortfalls} == {"whole": 8, "part": 3}


def test_surplus_goes_to_who_is_short_beyond_what_was_meant() -> None:
    """The plan meant 4 packs for A and none for B; all 10 packed are given out."""
    season = kitchen(Order("A", "jar", 6, day(4)), Order("B", "jar", 6, day(4), priority=3))
    result = given(season, plans({0: "D"}, {2: {"jar": 10}}), wanted={"A": 4})
    assert packs(result) == {"A": 6, "B": 4}


def test_assortment_takes_every_design_and_the_scarcest_decides() -> None:
    """6 jars leave 40 of the 100 Daisy: 8 mixes of 5 Daisy and 5 Kite, although there is Kite for 20."""
    season = kitchen(Order("jars", "jar", 6, day(4), priority=1), Order("mixes", "mix", 20, day(4)))
    result = given(season, plans({0: "DK"}, {2: {"jar": 6, "mix": 20}}))
    assert packs(result) == {"jars": 6, "mixes": 8}
    (mixes,) = [f for f in result.fills if f.line == "mixes"]
    assert {(d.design, d.pieces) for d in mixes.draws} == {("Daisy", 40), ("Kite", 40)}
    assert {run.product: run.packs for d in result.days for run in d.packing} == {"jar": 6, "mix": 8}


def test_recorded_batches_and_past_pack_runs_are_not_counted_twice() -> None:
    """The batch of day 0 is a fact of 40 pieces; the pack run of day 1 is past, that of day 2 is not."""
    season = kitchen(Order("A", "jar", 20, day(4)), made=(MadeBatch(day(0), "0-1", "Daisy", "made", 40),))
    days = plans({0: "D"}, {1: {"jar": 9}, 2: {"jar": 9}})
    result = given(season, days, from_index=1, from_minute=540)
    assert packs(result) == {"A": 4}
    assert [(lot.id, lot.pieces) for lot in result.lots] == [("0-1", 40)]
    assert [run.packs for d in result.days for run in d.packing] == [9, 4]


def test_published_convex_windows() -> None:
    """Glover 1967, Maximum matching in a convex bipartite graph (Naval Res. Logist. Q. 14), quoted from memory:

    two batches a day on days 1 to 3, five one-batch orders for days 1 to 2, one for days 2 to 3: 5 are met.
    """
    early = [Order(f"early{i}", "box", 1, day(3)) for i in range(5)]
    fresh = Order("fresh", "box", 1, day(4), least_life_days=28)  # made on day 2 or later
    season = kitchen(*early, fresh)
    result = given(season, plans({1: "DD", 2: "DD", 3: "DD"}, {t: {"box": 6} for t in (2, 3, 4)}))
    assert sum(packs(result).values()) == 5
    assert "fresh" in packs(result)


@pytest.mark.parametrize("seed", range(60))
def test_lots_are_given_out_as_well_as_a_maximum_flow_does(seed: int) -> None:
    """One-batch orders of equal weight, packing no limit: packs given = maximum flow (networkx)."""
    rng = random.Random(seed)
    orders, flow = [], nx.DiGraph()
    made = {t: "D" * rng.randint(0, 2) for t in range(10)}
    for t, batches in made.items():
        flow.add_edge("made", t, capacity=len(batches))
    for i in range(rng.randint(3, 14)):
        due, wanted = rng.randint(1, 12), rng.randint(1, 2)
        life = rng.choice((0, rng.randint(30 - due, 29)))
        orders.append(Order(f"O{i}", "box", wanted, day(due), least_life_days=life))
        for t in range(max(0, due + life - 30), due):
            flow.add_edge(t, f"O{i}", capacity=wanted)
        flow.add_edge(f"O{i}", "given", capacity=wanted)
    result = given(kitchen(*orders), plans(made, {t: {"box": 40} for t in range(14)}))
    assert sum(packs(result).values()) == nx.maximum_flow_value(flow, "made", "given")


@pytest.mark.parametrize("products", [("jar",), ("jar", "tin"), ("jar", "mix"), ("jar", "tin", "mix")])
def test_what_can_be_met_is_met(products: tuple[str, ...]) -> None:
    """Random pack runs and windows: what HiGHS (scipy.optimize.milp) can give to each line is given."""
    for seed in range(25):
        season, days = _random_case(random.Random(seed), products)
        weight, wanted = _best(season, days)
        result = given(season, days, wanted=wanted)
        assert _weight(season, result) >= weight, seed


@pytest.mark.parametrize("products", [("jar",), ("jar", "mix")])
def test_the_weight_given_is_the_best_there_is(products: tuple[str, ...]) -> None:
    """More wanted than there is: the same weight is given as by HiGHS on packs and pieces."""
    for seed in range(25):
        season, days = _random_case(random.Random(seed), products)
        assert _weight(season, given(season, days)) == _best(season, days)[0], seed


@pytest.mark.parametrize("products", [("jar",), ("jar", "mix"), ("jar", "tin", "mix")])
def test_dealt_out_the_weight_is_the_best_there_is(products: tuple[str, ...]) -> None:
    """The same with products that share candy, where day by day is only a good rule; outside check: scipy's milp."""
    for seed in range(40):
        season, days = _random_case(random.Random(seed), products)
        assert _weight(season, given(season, days, deal=dealt)) == _best(season, days)[0], seed


def test_where_packs_are_made_whole_last_hardly_any_are_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """As large seasons do it; outside check: scipy's milp. Cutting broken packs off lost three times as much."""
    monkeypatch.setattr(deal, "SMALL", 0)
    weight = best = 0
    for seed in range(40):
        rng = random.Random(seed)
        made = {t: "".join(rng.choice("DDK") for _ in range(rng.choice((0, 1, 2)))) for t in range(11)}
        days = plans(made, {rng.randint(1, 12): {rng.choice(SHARING): rng.randint(3, 12)} for _ in range(8)})
        orders = [
            Order(f"O{n}", rng.choice(SHARING), rng.randint(3, 14), day(rng.randint(4, 12)), priority=rng.randint(1, 3))
            for n in range(10)
        ]
        season = kitchen(*orders)
        weight += _weight(season, given(season, days, deal=dealt_roughly))
        best += _best(season, days)[0]
    assert 0.997 * best <= weight <= best


def test_dealt_out_a_whole_order_is_not_lost_for_a_pack() -> None:
    """10 jars for 6 wanted whole by day 9 and 5 by day 3: the whole order gets 6, though the other is due first."""
    season = kitchen(Order("A", "jar", 5, day(3)), Order("whole", "jar", 6, day(9), partial=False))
    days = plans({0: "D"}, {2: {"jar": 10}})
    assert packs(given(season, days, deal=dealt)) == {"A": 4, "whole": 6}


def test_with_too_much_to_look_at_packs_are_given_out_day_by_day() -> None:
    """No pair may be looked at: as without."""
    season, days = _random_case(random.Random(3), ("jar", "mix"))
    assert given(season, days, deal=lambda serving, wants: dealt(serving, wants, 0)) == given(season, days)


def test_beside_what_stays_the_rest_is_given_out_as_well_as_can_be() -> None:
    """What every other line has of the best there is (scipy's milp) stays with it: the rest comes to the best again."""
    for seed in range(30):
        season, days = _random_case(random.Random(seed), ("jar", "tin", "mix"))
        best, lines = given(season, days, deal=dealt), build_demand(season).lines
        stay = [fill for fill in best.fills if fill.line[-1] in "02468"]
        others = [line for line in lines if line.id not in {fill.line for fill in stay}]
        after = given(season, days, deal=dealt_beside(stay, others, season))
        assert [fill for fill in after.fills if fill in stay] == stay, seed
        assert _weight(season, after) == _best(season, days)[0], seed


def test_beside_what_stays_a_whole_order_is_not_lost_for_a_pack() -> None:
    """20 jars, 10 of which stay with B: of the other 10 the whole order gets 6, though A is due first."""
    whole = Order("whole", "jar", 6, day(9), partial=False)
    season = kitchen(Order("A", "jar", 5, day(3)), Order("B", "jar", 10, day(9)), whole)
    days = plans({0: "DD"}, {2: {"jar": 20}})
    stay = [fill for fill in given(season, days, wanted={"B": 10}).fills if fill.line == "B"]
    others = [line for line in build_demand(season).lines if line.id != "B"]
    result = given(season, days, deal=dealt_beside(stay, others, season))
    assert packs(result) == {"A": 4, "B": 10, "whole": 6}


def test_what_can_not_stay_is_given_out_anew() -> None:
    """One fill draws on a lot of another plan: its line gets other candy, and all others keep what they have."""
    season, days = _random_case(random.Random(3), ("jar", "mix"))
    fills = given(season, days).fills
    other = (replace(fills[0], draws=(Draw("gone", "Daisy", 10),)), *fills[1:])
    again = given(season, days, deal=dealt_beside(other, (), season))
    assert set(again.fills) >= set(fills[1:])
    assert sum(f.packs for f in again.fills) == sum(f.packs for f in fills)


def test_nobody_keeps_more_than_is_still_asked() -> None:
    """Ten were meant, six are wanted now: six, and the other four for whoever is short."""
    season = kitchen(Order("A", "jar", 10, day(9)), Order("B", "jar", 10, day(9), priority=3))
    days = plans({0: "D"}, {2: {"jar": 10}})
    fills = given(season, days).fills
    assert [(f.line, f.packs) for f in fills] == [("A", 10)]
    fewer = replace(season, orders=(replace(season.orders[0], packs=6), season.orders[1]))
    again = given(fewer, days, deal=dealt_beside(fills, (), fewer))
    assert packs(again) == {"A": 6, "B": 4}
    gone = replace(season, orders=season.orders[1:])
    assert packs(given(gone, days, deal=dealt_beside(fills, (), gone))) == {"B": 10}


def _weight(season: Season, result: Allocation) -> int:
    got = packs(result)
    return sum(line.weight * got.get(line.id, 0) for line in build_demand(season).lines)


def _random_case(rng: random.Random, products: tuple[str, ...]) -> tuple[Season, list[DayPlan]]:
    made = {t: "".join(rng.choice("DDK") for _ in range(rng.choice((0, 0, 1)))) for t in range(11)}
    packed: dict[int, dict[str, int]] = {}
    for _ in range(rng.randint(2, 7)):
        run = packed.setdefault(rng.randint(1, 12), {})
        run[rng.choice(products)] = rng.randint(1, 6)
    orders = []
    for i in range(rng.randint(2, 6)):
        due = rng.randint(2, 12)
        life = rng.choice((0, 0, rng.randint(30 - due, 29)))
        product, priority = rng.choice(products), rng.randint(1, 3)
        orders.append(Order(f"O{i}", product, rng.randint(1, 8), day(due), least_life_days=life, priority=priority))
    return kitchen(*orders), plans(made, packed)


def _best(season: Season, days: list[DayPlan]) -> tuple[int, dict[str, int]]:
    """Best weight, and packs by line: max sum weight x over x[line, day] packs of a run and y[line, day, lot] pieces.

    The y of a design are x times its pieces in a pack; y of a lot stay within its pieces.
    """
    lines = build_demand(season).lines
    lots = [(season.index(d.day), b.design) for d in days for b in d.batches]
    runs = [(season.index(d.day), r.product, r.packs) for d in days for r in d.packing]
    x = [(n, t) for n in lines for t, product, _ in runs if product == n.product and t <= n.pack_by]
    y = [
        (n, t, w, k)
        for n, t in x
        for w in n.windows
        for k, (made, design) in enumerate(lots)
        if design == w.design and w.first <= made <= t - 1
    ]
    if not x:
        return 0, {}
    rows, low, high = [], [], []

    def row(cells: list[tuple[int, int]], at_least: int, at_most: int) -> None:
        line = np.zeros(len(x) + len(y))
        for at, factor in cells:
            line[at] += factor
        rows.append(line)
        low.append(at_least)
        high.append(at_most)

    for n in lines:
        row([(i, 1) for i, (line, _) in enumerate(x) if line is n], 0, n.packs)
    for t, product, count in runs:
        row([(i, 1) for i, (n, day_) in enumerate(x) if (n.product, day_) == (product, t)], 0, count)
    for k in range(len(lots)):
        row([(len(x) + j, 1) for j, cell in enumerate(y) if cell[3] == k], 0, 100)
    for i, (n, t) in enumerate(x):
        for w in n.windows:
            inside = [(len(x) + j, 1) for j, (line, day_, v, _) in enumerate(y) if (line, day_, v) == (n, t, w)]
            row([(i, -w.pieces), *inside], 0, 0)
    cost = np.concatenate([[-n.weight for n, _ in x], np.zeros(len(y))])
    whole = np.concatenate([np.ones(len(x)), np.zeros(len(y))])
    found = milp(cost, constraints=LinearConstraint(np.array(rows), low, high), integrality=whole, bounds=Bounds(0))
    met = {n.id: sum(round(found.x[i]) for i, (line, _) in enumerate(x) if line is n) for n in lines}
    return round(-found.fun), met


def test_lots_follow_days_poured_in_another_order() -> None:
    """Day 0 pours K before D instead of D before K: each lot and each draw is still of its own design."""
    season = kitchen(Order("A", "mix", 10, day(5)))
    result = given(season, plans({0: "DK"}, {2: {"mix": 10}}))
    (first, *rest) = result.days
    turned = replace(first, batches=tuple(
        replace(b, id=f"0-{i + 1}") for i, b in enumerate(reversed(first.batches))))  # fmt: skip
    after = followed(result, [turned, *rest])
    assert {(x.id, x.design) for x in after.lots} == {("0-1", "Kite"), ("0-2", "Daisy")}
    assert {(d.lot, d.design) for f in after.fills for d in f.draws} == {("0-1", "Kite"), ("0-2", "Daisy")}
    assert (after.days[0], after.shortfalls) == (turned, result.shortfalls)
