"""What to buy and when, on paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from openpyxl import load_workbook
from scheduler.audit.wall.workbook import audit_workbook
from scheduler.paper.figures import Figures
from scheduler.paper.to_buy import purchases
from scheduler.paper.workbook import build, write_workbook
from scheduler.plan.types import Ancestry
from scheduler.season.fingerprint import fingerprint
from scheduler.season.materials import Material
from tests.handmade import TUESDAY, WEDNESDAY, handmade_plan, handmade_season


def test_what_is_ordered_first_stands_first() -> None:
    """40 jars are filled on Tuesday and 60 on Wednesday, 60 are there: two cartons of 24, out on Wednesday.

    Four batches take 4,000 g of sugar each, of which there is enough; the nut batch on Tuesday takes all its paste.
    """
    season = handmade_season()
    season = replace(season, materials=(*season.materials, Material("ribbon")))
    found = purchases(Figures(season, handmade_plan()))
    told = [(p.material.name, p.needed, p.to_buy, p.runs_out, p.order_by) for p in found]
    assert told == [
        ("jars", 100, 48, WEDNESDAY, date(2026, 1, 21)),
        ("nut paste", 500, 1000, TUESDAY, date(2026, 2, 26)),
        ("ribbon", 0, 0, None, None),
        ("sugar", 16_000, 0, None, None),
    ]
    assert found[0].takers == (("lemon jar", 55), ("nut jar", 45))
    assert found[3].takers == (("lemon", 8000), ("heart", 4000), ("nut", 4000))


@pytest.mark.parametrize(("there", "out"), [(16_000, None), (15_999, TUESDAY), (8000, TUESDAY)])
def test_the_last_bit_counts(there: int, out: date | None) -> None:
    """16,000 g of sugar are enough; a gram less runs out with the last batch."""
    season = replace(handmade_season(), materials=(Material("sugar", "g", there),))
    assert purchases(Figures(season, handmade_plan()))[0].runs_out == out


def test_what_has_begun_is_not_needed_any_more() -> None:
    """From Tuesday 12:15 on: the nut batch starts then, the lemon batch has started."""
    plan = replace(handmade_plan(), from_day=TUESDAY, from_minute=735)
    needed = {p.material.name: p.needed for p in purchases(Figures(handmade_season(), plan))}
    assert (needed["sugar"], needed["nut paste"]) == (4000, 500)
    plan = replace(plan, from_minute=736)
    needed = {p.material.name: p.needed for p in purchases(Figures(handmade_season(), plan))}
    assert (needed["sugar"], needed["nut paste"]) == (0, 0)


def test_what_should_have_been_ordered_is_named_as_late_once_the_season_is_under_way(tmp_path: Path) -> None:
    """Jars and nut paste had to be ordered before Tuesday; before the season nobody knows what day it is."""
    season, plan = handmade_season(), handmade_plan()
    going = replace(plan, from_day=TUESDAY, history=(Ancestry("x", TUESDAY, 0, "records"),))
    for told, late in ((plan, set()), (replace(plan, from_day=TUESDAY), set()), (going, {"jars", "nut paste"})):
        write_workbook(season, told, tmp_path / "plan.xlsx")
        rows = list(load_workbook(tmp_path / "plan.xlsx")["To buy"].iter_rows(values_only=True))
        assert {row[0] for row in rows if str(row[8]).startswith("LATE: order at once")} == late
    assert not [v for v in audit_workbook(season, going, tmp_path / "plan.xlsx") if v.where == "To buy"]


def test_a_season_without_materials_has_no_such_sheet() -> None:
    season = replace(handmade_season(), materials=(), uses=())
    assert "To buy" not in build(season, handmade_plan()).book.sheetnames
    assert "To buy" in build(handmade_season(), handmade_plan()).book.sheetnames
    assert "To buy" not in build(handmade_season(), handmade_plan(), crew_only=True).book.sheetnames


def test_no_plan_is_out_of_date_for_a_carton_more() -> None:
    """What is bought decides no plan."""
    assert fingerprint(replace(handmade_season(), materials=(), uses=())) == fingerprint(handmade_season())
