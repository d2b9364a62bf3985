"""Rule sets of working time that a kitchen switches on: settings at their edge and one beyond."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from scheduler.audit import audit
from scheduler.season.check import warnings
from scheduler.season.faults import SeasonFaults
from scheduler.season.read import read_season
from scheduler.season.schema import TABLES
from scheduler.season.types import Season
from scheduler.season.values import csv_rows, records_of
from tests.audit.sabotage import kitchen, person
from tests.handmade import handmade_plan, handmade_season
from tests.season_examples import save_folder


def said(season: Season, folder: Path) -> list[str]:
    """Faults of a season that is read from a folder."""
    tables = {t.name: csv_rows(t, records_of(season, t)) for t in TABLES}
    try:
        read_season(save_folder(tables, folder))
    except SeasonFaults as trouble:
        return [str(f) for f in trouble.faults]
    return []


EDGES = [  # rule set, setting or person, the last value that is allowed, the first that is not, what is said
    ("european", "rest_minutes", 660, 659, "11 hours of rest between days"),  # 2003/88/EC art. 3
    ("european", "break_after_minutes", 360, 361, "a break where the day is longer than 6 hours"),  # art. 4
    ("european", "break_minutes", 1, 0, "a break where the day is longer than 6 hours"),
    ("european", "days_in_a_row", 6, 7, "a day off in each 7 days"),  # art. 5
    ("american with meal breaks", "break_after_minutes", 300, 301, "a meal break where the day is over 5 hours"),  # 512
    ("american with meal breaks", "break_minutes", 30, 29, "a meal break of 30 minutes"),
    ("american with meal breaks", "longest_day_minutes", 600, 601, "a second meal break over 10 hours"),
]


@pytest.mark.parametrize(("rules", "setting", "last", "first", "why"), EDGES)
def test_settings_at_their_edge(tmp_path: Path, rules: str, setting: str, last: int, first: int, why: str) -> None:
    """The last allowed value is read; the next is refused, with the rule and what to write."""
    def spoiled(value: int) -> Season:
        return kitchen(**{"working_time": rules, "longest_day_minutes": 600, setting: value})(handmade_season())

    assert said(spoiled(last), tmp_path / "fine") == []
    (line,) = said(spoiled(first), tmp_path / "bad")
    assert why in line and "; write " in line
    assert said(kitchen(working_time="none", **{setting: first})(handmade_season()), tmp_path / "off") == []


CREW = [
    ("european", "Ana", {"longest_minutes": 2880}, {"longest_minutes": 2881}, "this set holds every week"),  # art. 6
    ("european", "Cleo", {"longest_shift": 480}, {"longest_shift": 481}, "8 hours a day for young workers"),  # 94/33/EC
    ("european", "Cleo", {"contracted_minutes": 2400, "longest_minutes": 2400},
     {"contracted_minutes": 2401, "longest_minutes": 2401}, "40 hours a week for young workers"),
    ("american", "Ana", {"longest_minutes": 2880, "overtime_percent": 150},
     {"longest_minutes": 2880, "overtime_percent": 149}, "time and a half beyond 40 hours"),  # 29 CFR 778.107
    ("american", "Ana", {"longest_minutes": 2880, "contracted_minutes": 2400},
     {"longest_minutes": 2880, "contracted_minutes": 2401}, "time and a half beyond 40 hours"),
]  # fmt: skip


@pytest.mark.parametrize(("rules", "who", "fine", "bad", "why"), CREW)
def test_people_at_their_edge(
    tmp_path: Path, rules: str, who: str, fine: dict[str, int], bad: dict[str, int], why: str
) -> None:
    """The same for what is written of a person."""
    season = kitchen(working_time=rules)(handmade_season())
    assert said(person(who, **fine)(season), tmp_path / "fine") == []
    (line,) = said(person(who, **bad)(season), tmp_path / "bad")
    assert line.startswith("crew row ") and why in line


@pytest.mark.parametrize("rules", ["european", "american", "american with meal breaks"])
def test_a_good_plan_keeps_every_rule_set(rules: str) -> None:
    """The plan made by hand is sound under each; the caution that local law decides is said."""
    season = kitchen(working_time=rules)(handmade_season())
    assert audit(season, handmade_plan()) == ()
    assert any("local law" in str(w) for w in warnings(season))
    assert any("stricter than the directive" in str(w) for w in warnings(season)) is (rules == "european")
    assert not any("local law" in str(w) for w in warnings(handmade_season()))


def test_a_missing_setting_is_judged_by_its_usual_value(tmp_path: Path) -> None:
    """10 hours is the usual longest day; 9 hours of rest that are written are at fault in their row."""
    season = kitchen(working_time="european", rest_minutes=540)(handmade_season())
    (line,) = said(replace(season), tmp_path / "s")
    assert line.endswith("9 is too little for the working time that is switched on (11 hours of rest between days); "
                         "write 11 or more.")  # fmt: skip
