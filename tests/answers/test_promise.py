"""Promises: the earliest day, from left-over candy or spare room, and never at anybody's cost."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date

import pytest
from scheduler.answers import promise as promises
from scheduler.answers.promise import ASKED, as_dict, promise
from scheduler.audit import audit
from scheduler.models.search.loop import plan_season
from scheduler.paper.promise_words import answer
from scheduler.paper.words import day_long
from scheduler.plan.types import Plan
from scheduler.season.types import Content, Order, Pin, Product, Season, StockLot
from tests.answers.hand import day, kitchen
from tests.handmade import handmade_plan, handmade_season
from tests.seasons import tiny


def order(name: str, packs: int, due: int, **more: object) -> Order:
    return Order(name, "Kite jar", packs, day(due), customer=f"Customer {name}", **more)  # type: ignore[arg-type]


def half_full() -> Season:
    """Four days that hold two batches each on days 1 to 3; three wanted by day 4, half a jar's candy in stock."""
    return replace(
        kitchen(4),
        orders=(order("A", 3, 4),),
        products=(Product("Kite jar"), Product("Half jar")),
        contents=(Content("Kite jar", "Kite", 100), Content("Half jar", "Kite", 50)),
        stock=(StockLot("S", 60, day(-1), design="Kite"),),
    )


@pytest.fixture(scope="module")
def planned() -> tuple[Season, Plan]:
    season = half_full()
    return season, plan_season(season)


def test_left_over_candy_is_named_beside_the_earliest_day(planned: tuple[Season, Plan]) -> None:
    """60 in stock and three batches are 360; A takes 300: 60 are over, enough for one half jar and no batch more."""
    made = promise(*planned, "Half jar", 1)
    assert made.ready is not None and made.from_left_over is not None
    assert made.ready <= made.from_left_over


def test_left_over_candy_is_enough_where_no_batch_can_be_made(planned: tuple[Season, Plan]) -> None:
    """Nothing more may be made: the half jar comes from what is over, with no batch more."""
    season, plan = planned
    closed = replace(season, pins=tuple(Pin("do not make", d, design="Kite") for d in season.days))
    made = promise(closed, plan, "Half jar", 1)
    assert (made.more, made.ready) == ((), made.from_left_over)
    assert made.ready is not None


def test_a_batch_more_where_a_day_has_room(planned: tuple[Season, Plan]) -> None:
    """One jar more takes a batch on day 1, which holds two, and is packed on day 2; or left-over candy sooner."""
    season, plan = planned
    made = promise(season, plan, "Kite jar", 1)
    assert made.ready is not None and made.ready <= day(2)


def test_more_than_the_season_holds(planned: tuple[Season, Plan]) -> None:
    """Six batches by day 3 and 60 pieces in stock, A has 3 of them: 3 jars more at the most, not 5."""
    season, plan = planned
    assert promise(season, plan, "Kite jar", 3).ready is not None
    made = promise(season, plan, "Kite jar", 5)
    assert made.ready is None
    assert made.by_then <= 3


def test_by_a_day_that_is_too_soon_names_who_would_give_way(planned: tuple[Season, Plan]) -> None:
    """By the last day five jars need 5 batches, three are free: two of A, which nobody confirmed, would give way."""
    season, plan = planned
    made = promise(season, plan, "Kite jar", 5, by=day(4))
    assert made.ready is None
    assert [line for line, _ in made.displaced] == ["A"]
    assert "would have to give way" in answer(season, made)
    assert made.otherwise is None and "All of it can be ready" not in answer(season, made)


def test_by_a_day_that_is_too_soon_tells_the_day_that_is_not(planned: tuple[Season, Plan]) -> None:
    """Two jars by today: nothing can be packed; the first day for both is the one without any day asked for."""
    season, plan = planned
    made = promise(season, plan, "Kite jar", 2, by=day(0))
    assert made.ready is None
    assert made.otherwise == promise(season, plan, "Kite jar", 2).ready
    assert "All of it can be ready on " in answer(season, made)


def test_what_can_be_ready_is_told_with_its_day(planned: tuple[Season, Plan]) -> None:
    """Far more than the season holds: so many packs, and the day by which they can be; asked for just these, it is."""
    season, plan = planned
    made = promise(season, plan, "Kite jar", 5000)
    assert made.ready is None and made.by_then > 0 and made.by_then_day is not None
    packs = f"{made.by_then} pack{'s' if made.by_then > 1 else ''}"
    assert f"\n{packs} can be ready by {day_long(made.by_then_day)}." in answer(season, made)
    assert as_dict(made)["packs_by_then_day"] == made.by_then_day.isoformat()
    assert promise(season, plan, "Kite jar", made.by_then).ready == made.by_then_day


def test_a_line_that_gives_way_on_two_days_is_named_once(planned: tuple[Season, Plan]) -> None:
    """A's three packs come in three fills of one: two of them give way, told as one sum of A."""
    season, plan = planned
    fill = next(f for f in plan.fills if f.line == "A")
    parts = tuple(
        replace(fill, packs=1, draws=tuple(replace(d, pieces=100) for d in fill.draws[:1])) for _ in range(3)
    )
    split = replace(plan, fills=parts)
    asked = promises._Asked(season, split, "Kite jar", 5, day(4), None)
    assert asked.displaced() == (("A", 2),)


def test_confirmed_orders_never_give_way(planned: tuple[Season, Plan]) -> None:
    season, plan = planned
    confirmed = replace(season, orders=(replace(season.orders[0], confirmed=True),))
    assert promise(confirmed, plan, "Kite jar", 5, by=day(4)).displaced == ()


def test_finished_packs_of_others_could_give_way(planned: tuple[Season, Plan]) -> None:
    """Three jars stand packed for A, due on day 4: for two by today A would have to wait, unless it is confirmed."""
    season, _ = planned
    packed = StockLot("P", 3, day(0), product="Kite jar")
    season = replace(season, stock=(packed,))
    plan = plan_season(season)
    assert [(f.line, f.packs, f.pack_lot) for f in plan.fills] == [("A", 3, "P")]
    assert promise(season, plan, "Kite jar", 2, by=day(0)).displaced == (("A", 2),)
    confirmed = replace(season, orders=(replace(season.orders[0], confirmed=True),))
    assert promise(confirmed, plan, "Kite jar", 2, by=day(0)).displaced == ()


def test_what_has_left_gives_nothing(planned: tuple[Season, Plan]) -> None:
    """A was due yesterday: its jars are gone, whoever asks today."""
    season, plan = planned
    early = replace(season, orders=(replace(season.orders[0], due=day(3)),))
    plan = plan_season(early)
    assert promise(early, plan, "Kite jar", 5, by=day(4), now=day(3)).displaced != ()
    assert promise(early, plan, "Kite jar", 5, by=day(4), now=day(4)).displaced == ()


def test_nothing_before_today(planned: tuple[Season, Plan]) -> None:
    """Asked on day 3: nothing is made or packed before that."""
    made = promise(*planned, "Kite jar", 1, now=day(3))
    assert made.ready is None or made.ready >= day(3)
    assert all(when >= day(3) for when, _ in made.more)


def test_asked_later_what_was_packed_before_still_counts() -> None:
    """A is packed on day 2; asked on day 3 with nothing recorded, a jar more is ready on day 4, A keeps two."""
    season = replace(kitchen(5), orders=(order("A", 2, 2),))
    plan = plan_season(season)
    assert packs_of(plan) == {"A": 2}
    made = promise(season, plan, "Kite jar", 1, now=day(3))
    assert (made.ready, made.more) == (day(4), ((day(3), "Kite"),))
    assert made.plan is not None
    assert audit(made.season, made.plan) == ()


def test_an_unknown_product_is_refused(planned: tuple[Season, Plan]) -> None:
    with pytest.raises(KeyError, match="Moon jar"):
        promise(*planned, "Moon jar", 1)


def packs_of(plan: Plan) -> dict[str, int]:
    got: dict[str, int] = {}
    for fill in plan.fills:
        got[fill.line] = got.get(fill.line, 0) + fill.packs
    return got


CASES = [handmade_season(), tiny(3), tiny(8)]


@pytest.mark.parametrize("season", CASES)
def test_a_promise_is_a_sound_plan_in_which_nobody_loses(season: Season) -> None:
    """The plan with the promise keeps every rule, fills the promise, and gives everybody at least as much."""
    plan = handmade_plan() if season is CASES[0] else plan_season(season)
    for quantity in (1, 8):
        product = season.products[0].name
        began = time.monotonic()
        made = promise(season, plan, product, quantity)
        assert time.monotonic() - began < 10  # 5 s are promised on an idle machine
        if made.ready is None:
            continue
        held = made.plan
        assert held is not None
        assert audit(made.season, held) == ()
        got, had = packs_of(held), packs_of(plan)
        assert got[ASKED] == quantity
        assert all(got.get(line, 0) >= packs for line, packs in had.items())


def test_the_answer_can_be_read_out(planned: tuple[Season, Plan]) -> None:
    season, plan = planned
    said = answer(season, promise(season, plan, "Kite jar", 2))
    assert said.startswith("2 Kite jar: ready on ")
    assert "Nobody else gets less" in said


def test_json_is_plain(planned: tuple[Season, Plan]) -> None:
    fields = as_dict(promise(*planned, "Half jar", 1))
    assert date.fromisoformat(str(fields["ready"])) >= day(1)
