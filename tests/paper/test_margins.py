"""What a plan leaves to spare: days before due days, hours of contracts; on the first sheet, and read back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from scheduler.audit.readings import Reading
from scheduler.audit.totals import labour_cost
from scheduler.audit.wall.margins import contracts as contracts_again
from scheduler.audit.wall.margins import no_slack as no_slack_again
from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.workbook import audit_workbook
from scheduler.paper.figures import Figures
from scheduler.paper.margins import contracts, no_slack
from scheduler.paper.workbook import write_workbook
from scheduler.plan.types import Plan
from scheduler.season.types import Season, SpecialDay
from tests.handmade import THURSDAY, TUESDAY, WEDNESDAY, handmade_plan, handmade_season

HEAD = "Packed on the due day itself, or the last open day before it: "


def wall(season: Season, plan: Plan) -> Wall:
    return Wall(Reading(season, (plan.from_day, plan.from_minute)), plan)


def due_on_tuesday(season: Season, *names: str) -> Season:
    """O1 and O2 are packed on Tuesday."""
    return replace(season, orders=tuple(replace(o, due=TUESDAY) if o.id in names else o for o in season.orders))


def slack(season: Season, plan: Plan) -> str:
    """What is said of slack, the same from the sheet's code and the audit's."""
    said = no_slack(Figures(season, plan))
    assert said == no_slack_again(wall(season, plan))
    return said


def test_what_is_packed_on_its_due_day_is_counted_and_firm_orders_are_named() -> None:
    """Everything a day or more ahead: nothing said. O1 of 30 packs due when it is packed: one of six, by name."""
    season, plan = handmade_season(), handmade_plan()
    assert slack(season, plan) == ""
    one = slack(due_on_tuesday(season, "O1"), plan)
    count = "1 of 6 orders and forecasts, in full or in part (30 packs)."
    assert one == f"{HEAD}{count} Firm among them: O1 (NamedBasis Cafe)."
    both = slack(due_on_tuesday(season, "O1", "O2"), plan)
    assert both.endswith("(70 packs). Firm among them: O1 (NamedBasis Cafe) and O2 (Wedding of May and Jo).")
    assert slack(due_on_tuesday(season, "O1"), replace(plan, from_day=WEDNESDAY)) == ""  # packed and past


def test_a_day_before_a_closed_due_day_is_no_day_to_spare() -> None:
    """Thursday closed: what is due then and packed on Wednesday has no day left, 45 of O3 and 15 of F1, none firm."""
    season = replace(handmade_season(), special_days=(SpecialDay(THURSDAY, "closed", "Stocktaking"),))
    assert slack(season, handmade_plan()) == f"{HEAD}2 of 6 orders and forecasts, in full or in part (60 packs)."


def test_of_many_firm_orders_three_are_named_confirmed_ones_first() -> None:
    season, plan = due_on_tuesday(handmade_season(), "O1", "O2"), handmade_plan()
    o1, o2 = season.orders[:2]
    more = tuple(replace(o1, id=f"O{n}", customer="") for n in (7, 8))
    fills = tuple(replace(f, line=o.id) for o in more for f in plan.fills if f.line == "O1")
    season = replace(season, orders=(o1, replace(o2, confirmed=True), *season.orders[2:], *more))
    said = slack(season, replace(plan, fills=(*plan.fills, *fills)))
    assert said.endswith("Firm among them: O2 (Wedding of May and Jo), O1 (NamedBasis Cafe), O7 and 1 more.")


@pytest.mark.parametrize(
    ("ana", "ben", "cleo", "said"),
    [
        (300, 600, 700, "27 h in this week, absences not taken off; 3 h of them are not used. Paid in full all the "
                        "same, labour comes to 460.00 EUR, 54.50 EUR more."),  # 175 minutes at 18.00, 10 at 12.00
        (300, 425, 690, "24 h in this week, absences not taken off: all of them used."),
        (0, 0, 0, ""),
    ],
)  # fmt: skip
def test_hours_of_contracts_that_nobody_is_in_for(ana: int, ben: int, cleo: int, said: str) -> None:
    """Ana is in for 380 minutes, Ben for 425, Cleo for 690; overtime of one makes no hours of another."""
    season, plan, hours = handmade_season(), handmade_plan(), {"Ana": ana, "Ben": ben, "Cleo": cleo}
    season = replace(season, crew=tuple(replace(p, contracted_minutes=hours[p.name]) for p in season.crew))
    assert contracts(Figures(season, plan)) == said
    assert contracts_again(wall(season, plan), labour_cost(Reading(season, (plan.from_day, 0)), plan)) == said


def test_both_stand_on_the_first_sheet_and_are_read_back(tmp_path: Path) -> None:
    """The sheet is sound for its season; for one with other due days, contracts or wages it is not."""
    season, plan = due_on_tuesday(handmade_season(), "O1"), handmade_plan()
    write_workbook(season, plan, tmp_path / "plan.xlsx")
    assert audit_workbook(season, plan, tmp_path / "plan.xlsx") == ()
    ana, *rest = season.crew
    for other in (handmade_season(), *(replace(season, crew=(a, *rest)) for a in (
        replace(ana, contracted_minutes=600), replace(ana, wage_cents=ana.wage_cents + 1),
    ))):  # fmt: skip
        found = audit_workbook(other, plan, tmp_path / "plan.xlsx")
        assert "At a glance" in {v.where for v in found}
