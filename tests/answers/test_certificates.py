"""Certificates: for each limit a sum done by hand, the published example, and what may never be claimed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.answers.certificate import Certificate, from_json, to_json
from scheduler.answers.certificates import certify
from scheduler.answers.explain import with_certificates
from scheduler.answers.sums import pieces_short, use
from scheduler.answers.windows import search
from scheduler.audit.certificates import certificates as audit_certificates
from scheduler.audit.readings import Reading
from scheduler.demand.build import build_demand
from scheduler.plan.types import Plan
from scheduler.season.types import (
    Absence,
    Content,
    Design,
    Kitchen,
    Order,
    Person,
    Pin,
    Product,
    Role,
    Season,
    Show,
    Skill,
    Stage,
    Station,
    StockLot,
)
from tests.answers.hand import day, fresh_life, kitchen, plan_short, with_orders


def strongest(season: Season, plan: Plan) -> Certificate:
    """The first certificate, after the audit has found every one of them to hold."""
    return all_of(season, plan)[0]


def all_of(season: Season, plan: Plan) -> list[Certificate]:
    explained = with_certificates(season, plan)
    assert list(audit_certificates(Reading(season, (plan.from_day, 0)), explained)) == []
    stored = explained.extras["certificates"]
    assert isinstance(stored, list) and stored
    return [from_json(c) for c in stored]


def order(name: str, packs: int, due: int, **more: object) -> Order:
    return Order(name, "Kite jar", packs, day(due), **more)  # type: ignore[arg-type]


def convex_windows() -> Season:
    """Two batches a day; orders E0 to E4 for days 1 to 2, L for days 2 to 3."""
    season = kitchen(4)
    late = order("L", 1, 4, least_life_days=fresh_life(season, 2, 4))
    return with_orders(season, *(order(f"E{i}", 1, 3) for i in range(5)), late)


def test_convex_windows_as_published() -> None:
    """Two batches a day on days 1 to 3; five orders of one batch for days 1 to 2, one for days 2 to 3.

    Glover, "Maximum matching in a convex bipartite graph", Naval Research Logistics 14 (1967):
    5 of 6 can be met though supply and demand both total 6; the proof is days 1 to 2, 5 against 4.
    Candy is packed the day after, so days 1 to 2 are due on day 3, days 2 to 3 on day 4.
    """
    season = convex_windows()
    made = strongest(season, plan_short(season, {"E4": 1}))
    assert (made.first, made.last) == (day(1), day(2))
    assert {i.line for i in made.inside} == {f"E{i}" for i in range(5)}
    assert (made.needed, made.there, made.missing, made.pieces_short) == (5, 4, 1, 100)
    assert made.share == 1.0


def test_pours_a_day() -> None:
    """8:00 to 10:00, 60 minutes a batch on one place: the last pour at 9:00, 60 / 60 + 1 = 2 batches a day."""
    season = with_orders(kitchen(3), order("A", 7, 3))
    made = strongest(season, plan_short(season, {"A": 3}))
    assert (made.kind, made.unit) == ("pours a day", "batches")
    assert (made.needed, made.there, made.pieces_short) == (7, 4, 300)


def test_a_design_that_takes_longer_is_counted_in_minutes() -> None:
    """Kite 60 and Plum 90 minutes; open 180 minutes a day, one day: 2 Kite and 1 Plum take 210 of 180."""
    base = kitchen(2, closes=660)
    season = replace(
        base,
        stages=(Stage("build", "bench", 60, minutes_per_level=30),),
        designs=(*base.designs, Design("Plum", 2, 100, 300, pull_loads=0)),
        products=(*base.products, Product("Plum jar")),
        contents=(*base.contents, Content("Plum jar", "Plum", 100)),
        orders=(order("A", 2, 2), Order("B", "Plum jar", 1, day(2))),
    )
    found = [
        f for f in search(season, build_demand(season), plan_short(season, {"B": 1}))
        if (f.limit.kind, f.limit.unit, len(f.uses)) == ("station minutes", "minutes", 2)
    ]  # fmt: skip
    # 180 minutes give 2 Kite (120) and two thirds of a Plum (67 pieces): 33 pieces are missing at least
    assert [(sum(u.needs for u in f.uses), f.there, f.pieces_short) for f in found] == [(210, 180, 33)]


def test_leaders() -> None:
    """Two places at the bench, one person who can build: the station allows 4 batches a day, she leads 2."""
    base = kitchen(2)
    season = replace(
        base,
        stations=(Station("bench", 2), Station("packing bench", 2)),
        skills=(Skill("AA", "building", 1),),
        orders=(order("A", 4, 2),),
    )
    made = strongest(season, plan_short(season, {"A": 2}))
    assert (made.kind, made.what, made.people, made.there) == ("leaders", "building 1", ("AA",), 2)
    assert made.pieces_short == 200


def test_leave_takes_a_leader_away() -> None:
    """Three days of two batches; the only builder is away on the second: 4 of 6."""
    season = replace(
        kitchen(4), skills=(Skill("AA", "building", 1),), absences=(Absence("AA", day(2), day(2)),),
        orders=(order("A", 6, 4),),
    )  # fmt: skip
    made = strongest(season, plan_short(season, {"A": 2}))
    assert (made.kind, made.there, made.pieces_short) == ("leaders", 4, 200)
    assert [(p.first, p.last, p.days) for p in made.parts] == [(day(1), day(3), 2)]


def test_a_weekly_limit_counts_in_every_week() -> None:
    """One builder of 180 minutes a week: 3 batches a week however many days; 2 weeks give 6."""
    base = kitchen(10)
    season = replace(
        base, crew=(Person("AA", 180, 180, shortest_shift=60), base.crew[1]), skills=(Skill("AA", "building", 1),),
        orders=(order("A", 9, 10),),
    )  # fmt: skip
    made = strongest(season, plan_short(season, {"A": 3}))
    assert (made.there, made.pieces_short) == (6, 300)
    assert [(p.by_day, p.week_limit, p.amount) for p in made.parts] == [(14, 3, 3), (4, 3, 3)]


def test_pulls() -> None:
    """75 pulls a batch, one puller with 100 a day: one whole charge of 75 a day, whatever the station allows."""
    base = kitchen(3)
    season = replace(
        base,
        designs=(replace(base.designs[0], pull_loads=1),),
        roles=(*base.roles, Role("build", "puller", skill="pulling", pulls=True)),
        crew=(base.crew[0], replace(base.crew[1], pulls_day=100)),
        skills=(*base.skills, Skill("BB", "pulling", 1)),
        orders=(order("A", 4, 3),),
    )
    made = strongest(season, plan_short(season, {"A": 2}))
    assert (made.kind, made.needed, made.there, made.pieces_short) == ("pulls", 300, 150, 200)


def test_people_at_once() -> None:
    """Two benches but three people a batch and four in the crew: one batch at a time, 3 in 180 minutes."""
    season = replace(
        kitchen(2, closes=660, people=4),
        stations=(Station("bench", 2), Station("packing bench", 2)),
        roles=(Role("build", "builder", skill="building", leads=True), Role("build", "helper", people=2)),
        orders=(order("A", 5, 2),),
    )
    made = strongest(season, plan_short(season, {"A": 2}))
    assert (made.kind, made.there, made.pieces_short) == ("people at once", 3, 200)


def test_a_show_at_an_awkward_hour_costs_a_batch() -> None:
    """8:00 to 10:00 holds two batches, but a show at 8:30 leaves room for one: 8:30, and no other fits."""
    season = replace(kitchen(2), shows=(Show("Early", 510, day=day(1)),), orders=(order("A", 2, 2),))
    made = strongest(season, plan_short(season, {"A": 1}))
    assert (made.kind, made.there, made.pieces_short) == ("shows", 1, 100)


def test_everyones_hours() -> None:
    """Two people of 120 minutes: 240. A batch takes both for 60 and 100 s of packing: 121 min 40 s; 1 of 2 fits."""
    season = replace(
        kitchen(2, closes=2 * 60 + 480),
        stations=(Station("bench", 9), Station("packing bench", 2)),
        roles=(Role("build", "builder", skill="building", leads=True), Role("build", "helper")),
        crew=(Person("AA", 120, 120, 60), Person("BB", 120, 120, 60)),
        products=(Product("Kite jar", packing_seconds=100),),
        orders=(order("A", 2, 2),),
    )
    found = [
        f for f in search(season, build_demand(season), plan_short(season, {"A": 1}))
        if f.limit.kind == "people's hours"
    ]  # fmt: skip
    # a hundred pieces take 120 minutes of making and 100 seconds of packing: 7,300 seconds
    assert [(f.uses[0].each, f.uses[0].needs, f.there, f.pieces_short) for f in found] == [(7300, 14600, 14400, 2)]


def test_packing() -> None:
    """Packing on day 2 only, one packer of 120 minutes, 25 minutes a jar: 4 of 6 jars, though all candy is there."""
    base = kitchen(2, closes=600)
    season = replace(
        base,
        kitchen=replace(base.kitchen, packing_skill="packing"),
        stages=(Stage("build", "bench", 10),),
        skills=(*base.skills, Skill("AA", "packing", 1)),
        products=(Product("Kite jar", packing_seconds=1500),),
        orders=(order("A", 6, 2),),
    )
    made = strongest(season, plan_short(season, {"A": 2}))
    assert (made.kind, made.what, made.people) == ("packing minutes", "packing", ("AA",))
    assert (made.needed, made.there, made.pieces_short) == (9000, 7200, 200)


def test_stock_is_taken_off_first() -> None:
    """250 pieces in stock for 4 jars: 150 to make are 2 batches; one day holds 2, so nothing is proven short."""
    season = replace(
        kitchen(2), orders=(order("A", 4, 2),), stock=(StockLot("S", 250, day(-3), design="Kite"),),
    )  # fmt: skip
    plan = plan_short(season, {"A": 1})
    assert certify(season, build_demand(season), plan) == ()
    without = replace(season, stock=())
    assert certify(without, build_demand(without), plan)[0].pieces_short == 200


def test_stock_that_is_too_old_does_not_count() -> None:
    """The same stock, but the order asks for candy made from day 1 on."""
    base = kitchen(2)
    season = replace(
        base,
        orders=(order("A", 3, 2, least_life_days=fresh_life(base, 1, 2)),),
        stock=(StockLot("S", 250, day(-3), design="Kite"),),
    )
    made = strongest(season, plan_short(season, {"A": 1}))
    assert (made.uses[0].on_hand, made.there, made.pieces_short) == (0, 2, 100)


def test_supplies_that_come_too_late() -> None:
    """The flavour comes on day 3, the candy must be packed on day 3: no day is left to make it."""
    base = kitchen(4)
    season = replace(base, designs=(replace(base.designs[0], from_day=day(3)),), orders=(order("A", 1, 3),))
    made = strongest(season, plan_short(season, {"A": 1}))
    assert (made.kind, made.there, made.pieces_short) == ("supplies", 0, 100)


def test_no_day_in_the_window() -> None:
    """Due on the first day, packed the day after it was made at the earliest: there is no such day."""
    season = replace(kitchen(3), orders=(order("A", 1, 1),))
    made = strongest(season, plan_short(season, {"A": 1}))
    assert (made.kind, made.there, made.pieces_short) == ("no day in the window", 0, 100)


def test_who_has_no_day_left_is_told_apart_and_stock_does_not_serve_them() -> None:
    """From day 3 on: A was due on day 2 and can't be packed any more, 300 pieces in stock or not; B alone asks of days.

    Days 3 and 4 hold four batches; B wants eight jars on day 5, three of them from stock: one is short.
    """
    season = replace(
        kitchen(5), orders=(order("A", 2, 2), order("B", 8, 5)), stock=(StockLot("S", 300, day(-3), design="Kite"),)
    )
    made = all_of(season, replace(plan_short(season, {"A": 2, "B": 1}), from_day=day(3)))
    assert [(c.kind, [i.line for i in c.inside], c.pieces_short) for c in made] == [
        ("no day in the window", ["A"], 200), ("pours a day", ["B"], 100),
    ]  # fmt: skip


def test_late_delivery_widens_the_window() -> None:
    """Due on day 2, accepted to day 3: four batches fit on days 1 and 2, so nothing is proven short."""
    season = replace(kitchen(3), orders=(order("A", 4, 2, latest=day(3)),))
    assert certify(season, build_demand(season), plan_short(season, {"A": 1})) == ()


def test_pins_close_days() -> None:
    """No making on day 1: of days 1 and 2, one holds two batches."""
    season = replace(kitchen(3), orders=(order("A", 4, 3),), pins=(Pin("no making", day(1)),))
    assert strongest(season, plan_short(season, {"A": 2})).there == 2


def test_a_plan_with_nothing_short_has_no_certificate() -> None:
    season = replace(kitchen(2), orders=(order("A", 2, 2),))
    assert certify(season, build_demand(season), plan_short(season, {})) == ()


def test_lines_that_are_served_are_in_the_window_too() -> None:
    """Days 1 to 2 hold 4 of the 6 Kite of A and C; days 1 to 5 hold 10 of 11 with B: C is served, and counted once."""
    base = kitchen(6)
    season = replace(
        base,
        designs=(*base.designs, Design("Plum", 1, 100, 300, pull_loads=0)),
        products=(*base.products, Product("Plum jar")),
        contents=(*base.contents, Content("Plum jar", "Plum", 100)),
        orders=(order("A", 5, 3), order("C", 1, 3), Order("B", "Plum jar", 5, day(6))),
    )
    plan = plan_short(season, {"A": 2, "B": 1})
    made = strongest(season, plan)
    assert (made.pieces_short, {i.line for i in made.inside}) == (200, {"A", "C"})
    assert len(certify(season, build_demand(season), plan)) == 1


def test_the_last_day_of_the_season_counts() -> None:
    """Due on the last day, day 3, and made on day 2 at the latest: two days of two batches."""
    season = with_orders(kitchen(3), order("A", 5, 3))
    made = strongest(season, plan_short(season, {"A": 1}))
    assert (made.last, made.there) == (day(2), 4)


@pytest.mark.parametrize(
    ("there", "whole", "short"),
    [
        (3, True, 0),
        (2, True, 50),  # the part batch is left out
        (1, True, 150),
        (0, True, 250),
    ],
)
def test_pieces_short_counts_whole_batches(there: int, whole: bool, short: int) -> None:
    """250 pieces in batches of 100 are 100, 100 and 50."""
    assert pieces_short([use("Kite", 250, 0, 100, 1, whole)], there, whole) == short


def test_json_keeps_a_certificate() -> None:
    season = with_orders(kitchen(3), order("A", 7, 3))
    made = strongest(season, plan_short(season, {"A": 3}))
    assert from_json(to_json(made)) == made


def test_kitchen_with_a_last_pour() -> None:
    """Last pour 8:30, 60 minutes a batch: only the batch of 8:00 can be poured."""
    base = kitchen(2)
    season = replace(base, kitchen=_last_pour(base.kitchen, 510), orders=(order("A", 2, 2),))
    assert strongest(season, plan_short(season, {"A": 1})).there == 1


def _last_pour(kitchen_row: Kitchen, minute: int) -> Kitchen:
    return replace(kitchen_row, last_pour=minute)
