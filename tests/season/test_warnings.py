
"""Each doubt about a season is said in one sentence, and a good season has none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from scheduler.season.check import nothing_can_be_made, warnings
from scheduler.season.materials import Material
from scheduler.season.types import Forecast, Order, Pin, Season, ShippedPacks, Show, Skill, SpecialDay, StockLot
from tests.season_examples import SEASON

GOOD = replace(
    SEASON,
    designs=tuple(replace(d, allergens=()) for d in SEASON.designs),
    shows=tuple(replace(show, hardest=3) for show in SEASON.shows),
    crew=tuple(
        replace(p, contracted_minutes=hours * 60) for p, hours in zip(SEASON.crew, (38, 10, 8), strict=True)
    ),
)


def said(season: Season) -> list[str]:
    return [str(w) for w in warnings(season)]


def change(season: Season, table: str, row: int, **values: Any) -> Season:
    rows = list(getattr(season, table))
    rows[row] = replace(rows[row], **values)
    return replace(season, **{table: tuple(rows)})


def add(table: str, record: Any) -> Callable[[Season], Season]:
    return lambda season: replace(season, **{table: (*getattr(season, table), record)})


def kitchen(**values: Any) -> Callable[[Season], Season]:
    return lambda season: replace(season, kitchen=replace(season.kitchen, **values))


def at(table: str, row: int, **values: Any) -> Callable[[Season], Season]:
    return lambda season: change(season, table, row, **values)


def test_nobody_who_can_make_anything_is_a_fault() -> None:
    """Without skills nothing can be made: one fault for all designs. None with candy on hand, or nothing to make."""
    assert nothing_can_be_made(GOOD) is None
    nobody = replace(GOOD, skills=(), stock=(), made=())
    fault = nothing_can_be_made(nobody)
    assert fault is not None
    assert f"nobody can make any of the {len(GOOD.designs)} designs: " in fault.message
    assert nothing_can_be_made(replace(nobody, stock=GOOD.stock)) is None
    assert nothing_can_be_made(replace(nobody, designs=())) is None


def test_without_roles_one_note() -> None:
    """Nobody is needed: said once, not of each person and skill."""
    notes = [note for note in said(replace(GOOD, roles=())) if note.startswith(("roles", "crew", "skills"))]
    assert notes == ["roles: there are none, so batches take nobody's time; say who works at each stage."]


MARCH = date(2026, 3, 17)
DOUBTS: list[tuple[str, Callable[[Season], Season], str]] = [
    ("order due on a closed day", at("orders", 0, due=MARCH),
     "orders 1001: is due on 2026-03-17, when the kitchen is closed; it has to be packed by 2026-03-16."),
    ("spare batches of what nobody asks for",
     lambda s: change(replace(s, orders=(), forecasts=()), "designs", 0, spare_batches=1),
     "designs Lighthouse: spare batches are wished for, but no order or forecast has it inside: none are planned."),
    ("order after the season", add("orders", Order("9", "tin", 1, date(2026, 4, 1))),
     "orders 9: is due on 2026-04-01, after the season's last day 2026-03-29."),
    ("order before the season", add("orders", Order("9", "tin", 1, date(2026, 2, 1))),
     "orders 9: is due on 2026-02-01, before the season's first day 2026-03-02."),
    ("forecast on a closed day", add("forecasts", Forecast("f", "tin", MARCH, 1, 1, 1)),
     "forecasts f: is due on 2026-03-17, when the kitchen is closed; it has to be packed by 2026-03-16."),
    ("sell-by shorter than the order needs", at("orders", 0, least_life_days=200),
     "orders 1001: Lighthouse keeps 200 days, too few: it must still keep 200 when delivered, and is packed 1 after it "
     "is made."),
    ("empty window", lambda s: change(replace(s, stock=()), "designs", 0, from_day=date(2026, 3, 20)),
     "orders 1001: there is no open day on which Lighthouse could be made for it."),
    ("late cost without a latest day", at("orders", 0, late_cents=50),
     "orders 1001: has a late cost but no later latest day, so it is never delivered late."),
    ("design nobody can build", at("skills", 0, level=2),
     "designs Lighthouse: nobody can make it: pour needs 1 as lead with pictures at level 3, and 0 can."),
    ("skill written in two ways", at("roles", 1, skill="puling"),
     "designs Lighthouse: nobody can make it: pull needs 1 as puller with puling at level 1, and 0 can "
     "(did you mean pulling?)."),
    ("skill that no role asks for", add("skills", Skill("Ada", "packings", 1)),
     "skills packings: no role asks for this skill; did you mean packing?"),
    ("batch longer than the day", at("stages", 2, minutes=600),
     "designs Größe ♥ 42: nobody can make it: a batch takes 630 minutes and the longest day leaves 550 between opening "
     "and closing duties."),
    ("leader without a break", at("stages", 0, minutes=301),
     "designs Lighthouse: nobody can make it: its leader works 301 minutes at a stretch and a break is due after 300."),
    ("overtime that is none", at("crew", 0, longest_minutes=2280),
     "crew Ada: overtime is allowed, but the longest week is no longer than the contracted one."),
    ("longest week shorter", at("crew", 1, longest_minutes=540),
     "crew Zoë: the longest week is shorter than the contracted one."),
    ("contract longer than anybody can be in", at("crew", 0, contracted_minutes=60 * 60, longest_minutes=61 * 60),
     "crew Ada: has a contract of 60 hours a week and can come in for 54 at most, as hours, availability and absences "
     "are written."),
    ("young worker", at("crew", 2, longest_minutes=2460),
     "crew מאיה: is a young worker with overtime or more than 40 hours a week; check the local rules."),
    ("never in", at("availability", 0, ends=600),
     "crew מאיה: can never come in: opening hours, availability, absences and the shortest shift leave no day."),
    ("show without a design", at("shows", 0, hardest=1, strongest=1),
     "shows Saturday show: no design is simple and mild enough and free of allergens."),
    ("show on a closed day", add("shows", Show("x", 600, day=MARCH)),
     "shows x: it is on no day on which the kitchen is open."),
    ("show outside hours", at("shows", 0, starts=1100),
     "shows Saturday show: 18:20 is outside opening hours on 4 days from 2026-03-07."),
    ("show after the last pour", at("shows", 0, starts=970), "shows Saturday show: 16:10 is after the last start."),
    ("show whose batch is too early", at("shows", 0, starts=490, stage="pull"),
     "shows Saturday show: for 08:10 its batch starts at 07:50, which is before the kitchen is ready on 4 days from "
     "2026-03-07."),
    ("show of a stage that is late", at("shows", 0, starts=989, stage="pull"),
     "shows Saturday show: for 16:29 its batch starts at 16:09, which is after the last start."),
    ("a material that nothing takes", add("materials", Material("ribbon")),
     "materials ribbon: nothing takes it; say in the table uses what does."),
    ("extra hands", at("shows", 1, extra_people=2),
     "shows fair show: needs 2 extra people with talking, and 1 can."),
    ("always closed", lambda s: replace(s, hours=(), special_days=()),
     "hours: the kitchen is closed on every day of the season, so nothing can be made."),
    ("last pour before opening", kitchen(last_pour=480),
     "kitchen last start: 08:00 is before a batch can start on 24 days from 2026-03-02."),
    ("no whole step before the last start", kitchen(last_pour=505, clock_step=30),
     "kitchen last start: 08:25 is before a batch can start on 24 days from 2026-03-02."),
    ("duty for more than there are", kitchen(closing_people=4),
     "kitchen closing people: 4 are asked for and the crew has 3: no day can have a batch."),
    ("packing skill", kitchen(packing_skill="pakcing"),
     "kitchen packing skill: nobody has the skill pakcing, so nothing can be packed (did you mean packing?)."),
    ("cleaning", at("changeovers", 1, people=4),
     "changeovers allergen to free at the table: needs 4 people, and 3 can."),
    ("stock made later", add("stock", StockLot("S-9", 1, MARCH, design="Lighthouse")),
     "stock S-9: was made on 2026-03-17, after the season's first day; write it in made instead."),
    ("stock past its day", add("stock", StockLot("S-9", 1, date(2025, 3, 1), design="Lighthouse")),
     "stock S-9: is past its sell-by day when the season begins."),
    ("pin outside the season", add("pins", Pin("no making", date(2026, 4, 1))),
     "pins no making: 2026-04-01 is outside the season."),
    ("nothing asked for", lambda s: replace(s, orders=(), forecasts=(), shipped=()),
     "orders: there are neither orders nor forecasts, so nothing is to be made."),
    ("forecasts alone", lambda s: replace(s, orders=(), shipped=()),
     "orders: there are none, so the forecasts alone are planned for."),
    ("shipped too much", add("shipped", ShippedPacks(MARCH, "1001", 18)),
     "shipped 1001: 21 packs were shipped and 20 ordered."),
]


def test_a_good_season_has_no_warnings() -> None:
    """Nothing is said about a season in order, nor about one in the past."""
    assert said(GOOD) == []


@pytest.mark.parametrize(("spoil", "line"), [d[1:] for d in DOUBTS], ids=[d[0] for d in DOUBTS])
def test_each_doubt(spoil: Callable[[Season], Season], line: str) -> None:
    """One change to a good season gives its sentence."""
    assert line in said(spoil(GOOD))


def test_duties_of_nobody_take_no_time() -> None:
    """With nobody to open or close a batch may start at 8:00 and take all of the longest day's ten hours."""
    season = kitchen(last_pour=480)(at("stages", 2, minutes=570)(GOOD))
    assert any("a batch takes 600 minutes and the longest day leaves 550" in line for line in said(season))
    assert any("08:00 is before a batch can start on 24 days" in line for line in said(season))
    nobody = kitchen(opening_people=0, closing_people=0)(season)
    assert said(nobody) == [  # it opens at 10:00 for the fair
        "kitchen last start: 08:00 is before a batch can start on 2026-03-22.",
        *(line for line in said(nobody) if line.startswith("shows")),
    ]


def test_a_special_opening_counts_as_open() -> None:
    """The last day of the season may be opened for an order that is due on it."""
    order = add("orders", Order("9", "tin", 1, date(2026, 3, 29)))
    assert said(order(GOOD)) == [
        "orders 9: is due on 2026-03-29, when the kitchen is closed; it has to be packed by 2026-03-28."
    ]
    opened = add("special_days", SpecialDay(date(2026, 3, 29), "open", "", 600, 900))
    assert said(opened(order(GOOD))) == []


@pytest.mark.parametrize(("pulling", "held"), [(10, True), (30, False)])
def test_a_leader_needs_a_gap_for_the_break(pulling: int, held: bool) -> None:
    """Leading 200, pulling, leading 120: with 10 minutes between there is no break in 330, with 30 there is."""
    season = change(GOOD, "roles", 2, leads=True)
    season = change(change(season, "stages", 0, minutes=200), "stages", 1, minutes_per_load=pulling)
    season = change(replace(season, exceptions=()), "stages", 2, minutes=120, minutes_per_level=0)
    line = (
        "designs Größe ♥ 42: nobody can make it: its leader works 330 minutes at a stretch "
        "and a break is due after 300."
    )
    assert (line in said(season)) is held
