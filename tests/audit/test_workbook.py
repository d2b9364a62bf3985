"""What hangs on the wall is what was audited: the workbook read back cell by cell."""

from __future__ import annotations

import random
import zipfile
from dataclasses import fields, is_dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from scheduler.audit.violation import clock
from scheduler.audit.wall.cells import CannotRead, Cells, read_sheets
from scheduler.audit.wall.why import MEND, PARTS, WHY
from scheduler.audit.wall.words import plain
from scheduler.audit.wall.workbook import audit_sheets, audit_workbook
from scheduler.paper.workbook import write_workbook
from scheduler.pipeline import AuditFailed, write_audited
from scheduler.plan.types import Plan
from scheduler.season.types import Season, Station
from tests.audit.sabotage import SABOTAGES, Sabotage
from tests.audit.test_certificates import CASES, explained
from tests.audit.wall_sabotage import CELL_KINDS, changed_plan, mended_plan, named, sabotages, told_rows, told_sabotages
from tests.handmade import handmade_plan, handmade_season

ODD = {
    "Ana": "Zoë, and =A1", "Ben": "בן & <Ben>", "Cleo": "  Cleo  \"Queen\"  ", "lemon": "=lemon+1",
    "heart": "hëart\u200b", "bench": "bench: long", "O1": "=O1", "S1": "-1+S1", "market show": "a show, and more",
    "mixed bag": "mixed\tbag",
}  # fmt: skip


def renamed(value: Any, names: dict[str, str]) -> Any:
    """A record with names changed wherever they stand."""
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, tuple):
        return tuple(renamed(v, names) for v in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: renamed(getattr(value, f.name), names) for f in fields(value)})
    return value


def more_places(season: Season) -> Season:
    return replace(season, stations=tuple(Station(s.name, 2) for s in season.stations))


@pytest.fixture(scope="module")
def wall(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("wall") / "plan.xlsx"
    write_workbook(handmade_season(), handmade_plan(), path)
    return path


@pytest.fixture(scope="module")
def sheets(wall: Path) -> dict[str, Cells]:
    return read_sheets(wall)


def test_a_fresh_workbook_says_what_the_plan_says(wall: Path) -> None:
    """Nothing differs, as written and after another program has saved it."""
    assert audit_workbook(handmade_season(), handmade_plan(), wall) == ()
    again = wall.with_name("again.xlsx")
    load_workbook(wall).save(again)
    assert audit_workbook(handmade_season(), handmade_plan(), again) == ()


@pytest.mark.parametrize(
    "share, words",
    [
        (1.0, "Planning by rule of thumb comes out the same."),
        (1.04, "Planned by rule of thumb, a little more would be short."),
        (1.06, "Planned by rule of thumb, the shortage would weigh 1.1 times as much."),
        (7.0, "Planned by rule of thumb, the shortage would weigh 7.0 times as much."),
    ],
)
def test_the_rule_of_thumb_is_told_as_a_share_where_that_says_something(
    share: float, words: str, tmp_path: Path
) -> None:
    """On the first page; 1.0 times as much would say nothing. The sheet passes the audit each time."""
    plan = handmade_plan()
    short = sum(s.weighted for s in plan.shortfalls)
    assert short > 100
    plan = replace(plan, rule_of_thumb_weighted=round(share * short))
    write_workbook(handmade_season(), plan, tmp_path / "plan.xlsx")
    glance = read_sheets(tmp_path / "plan.xlsx")["At a glance"]
    assert any(words in str(value) for row in glance.values() for value in row.values())
    assert audit_workbook(handmade_season(), plan, tmp_path / "plan.xlsx") == ()


@pytest.mark.parametrize("change", [lambda s: renamed(s, ODD), more_places], ids=["odd names", "several places"])
def test_other_names_and_places_are_read_back(change: Any, tmp_path: Path) -> None:
    """Names that look like formulas, run right to left or hold commas are read back as they are."""
    season, plan = change(handmade_season()), handmade_plan()
    plan = renamed(plan, ODD) if "=O1" in season.order_by_id else plan
    write_workbook(season, plan, tmp_path / "plan.xlsx")
    assert audit_workbook(season, plan, tmp_path / "plan.xlsx") == ()


HARD = (
    "Week 10", "Batches", "Design", "Made: fill in", "When", "Order", "Batches in order", "Who is where", "Labour", "1",
    "Each person's day", "08:00–11:20", "nothing set", "–", "'quoted", "a, b and c", "in stock", "no", "B" * 300, "é̂",
    "\u05e9\u05dc\u05d5\u05dd", "\U0001f600\U0001f36c", "a<b>&c", "]]>", "=1+1", "1e5", "\u202eevil", "nb\u00a0x",
    "a\u00adb",
)  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
def test_names_that_look_like_our_own_headings_are_read_back(seed: int, tmp_path: Path) -> None:
    """Whatever people, candy, stations and orders are called, the sheets are told apart from their content."""
    rng = random.Random(seed)
    called = ("Ana", "Ben", "lemon", "heart", "table", "hook", "pour", "roll", "puller", "O1", "F1", "S1", "lemon jar",
              "market show", "NamedBasis Cafe", "tree nuts", "Lantern Row Kitchen", "0302-1")  # fmt: skip
    names = dict(zip(called, rng.sample(HARD, len(called)), strict=True))
    season, plan = renamed(handmade_season(), names), renamed(handmade_plan(), names)
    write_workbook(season, plan, tmp_path / "plan.xlsx")
    assert audit_workbook(season, plan, tmp_path / "plan.xlsx") == ()


def test_a_workbook_that_differs_is_not_put_in_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the sheets say something else than the plan, nothing is written and the old files stay."""
    write_audited(handmade_season(), handmade_plan(), tmp_path)
    old = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert sorted(old) == ["plan.json", "plan.xlsx"]
    monkeypatch.setattr("scheduler.paper.run_sheet.span", lambda starts, ends: f"{clock(starts)}–{clock(ends + 5)}")
    with pytest.raises(AuditFailed, match="rules are broken"):
        write_audited(handmade_season(), handmade_plan(), tmp_path)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == old


def test_the_crew_workbook_is_read_back_without_customers(tmp_path: Path) -> None:
    """The workbook without customers is sound as such, and incomplete as the whole one."""
    path = tmp_path / "crew.xlsx"
    write_workbook(handmade_season(), handmade_plan(), path, crew_only=True)
    assert audit_workbook(handmade_season(), handmade_plan(), path, crew_only=True) == ()
    missing = audit_workbook(handmade_season(), handmade_plan(), path)
    assert {v.where for v in missing} >= {"Orders", "Stock", "Shortfall", "At a glance"}
    assert {v.rule for v in missing} == {"workbook"}


def test_every_cell_on_the_wall_is_held_against_the_plan(tmp_path: Path) -> None:
    """Another figure, time or word, an empty cell, a row less or twice, two cells exchanged: noticed and named."""
    season, plan = handmade_season(), changed_plan()
    write_workbook(season, plan, tmp_path / "plan.xlsx")
    sheets = read_sheets(tmp_path / "plan.xlsx")
    assert audit_sheets(season, plan, sheets) == ()
    tried: dict[str, set[str]] = {}
    for title, cells in sheets.items():
        for kind, spoilt in sabotages(title, cells, 12):
            assert named(audit_sheets(season, plan, {**sheets, title: spoilt}), title), (title, kind)
            tried.setdefault(title, set()).add(kind)
    assert tried.keys() == sheets.keys()
    assert all(len(kinds) >= 5 for kinds in tried.values())


@pytest.mark.parametrize("kind", [*sorted(CASES), "remedies"])
def test_every_sentence_of_a_sum_and_of_a_remedy_is_held_against_the_plan(kind: str, tmp_path: Path) -> None:
    """Another figure, day, clock time, unit or word, a sentence left out, twice or elsewhere: noticed and named."""
    season, plan = (handmade_season(), mended_plan()) if kind == "remedies" else explained(kind)[:2]
    write_workbook(season, plan, tmp_path / "plan.xlsx")
    sheets = read_sheets(tmp_path / "plan.xlsx")
    assert audit_sheets(season, plan, sheets) == ()
    cells = sheets["Shortfall"]
    for head in (WHY, MEND) if kind == "remedies" else (WHY,):
        tried = set()
        for how, spoilt in told_sabotages(cells, told_rows(cells, head)):
            found = audit_sheets(season, plan, {"Shortfall": spoilt})
            assert any(v.where == f"Shortfall, {PARTS[head]}" for v in found), how
            tried.add(how)
        assert len(tried) >= 5
    first = sheets["At a glance"]
    (number,) = (n for n, row in first.items() if row.get(1) == "What would mend it")
    spoilt = [value for change in CELL_KINDS.values() if (value := change(first[number][2])) is not None]
    for value in spoilt:
        less = first | {number: first[number] | {2: value}}
        assert named(audit_sheets(season, plan, {**sheets, "At a glance": less}), "At a glance")
    assert spoilt


def test_a_damaged_sum_is_named_and_nothing_breaks(tmp_path: Path) -> None:
    """A plan file whose sums or remedies lack a field: one plain finding, no traceback."""
    season, plan, stored = explained("pulls")
    write_workbook(season, plan, tmp_path / "plan.xlsx")
    less = replace(plan, extras={"certificates": [{k: v for k, v in stored.items() if k != "parts"}]})
    (found,) = audit_workbook(season, less, tmp_path / "plan.xlsx")
    assert "damaged" in found.what


UNSEEN = {  # what the sheets do not show: the one place of a station, weights and bounds, the order of lists
    "two stages change places in the list", "place 2 of one", "place 0", "no such packing place",
    "ready packs called late", "another product than ordered", "a shortfall weighs less", "a better shortfall value",
    "no missed show", "the cost is a cent less", "a bound above the value", "called proven with a gap",
    "called proven with no bound", "a stage is left out", "one more stage, called proven", "another kitchen",
    "another last day", "days out of order", "evenness is not what people pull",
    "freshness is not how long candy waits", "a role that the stage has not",
}  # fmt: skip
SEEN = [
    s for s in SABOTAGES
    if s.plan() != handmade_plan() and s.season() == handmade_season() and s.name not in UNSEEN
]  # fmt: skip


@pytest.mark.parametrize("spoiled", SEEN, ids=lambda s: f"{s.rule}: {s.name}")
def test_a_sheet_of_another_plan_is_noticed(spoiled: Sabotage, sheets: dict[str, Cells]) -> None:
    """The wall says one thing, the plan another: whatever was changed in the plan."""
    assert audit_sheets(spoiled.season(), spoiled.plan(), sheets)


def test_days_more_and_days_less(sheets: dict[str, Cells]) -> None:
    """A run sheet too many and one too few are both named."""
    plan = handmade_plan()
    shorter: Plan = replace(plan, days=plan.days[:3])
    said = {str(v) for v in audit_sheets(handmade_season(), shorter, sheets)}
    assert "workbook, Day 2026-03-05: This run sheet is of no day of the plan." in said
    less = {title: cells for title, cells in sheets.items() if title != "Day 2026-03-03"}
    said = {str(v) for v in audit_sheets(handmade_season(), plan, less)}
    assert "workbook, 2026-03-03: The day has 0 run sheets instead of one." in said


def test_blanks_are_for_the_kitchen(wall: Path, tmp_path: Path) -> None:
    """What people write into the blanks is no difference."""
    book = load_workbook(wall)
    sheet = book["Day 2026-03-02"]
    heads = next(row for row in sheet.iter_rows() if row[0].value == "Batches in order")
    blanks = [c.column for c in heads if c.value in ("Pieces made", "Seconds", "What became of it", "Remarks")]
    assert len(blanks) == 4
    for column in blanks:
        sheet.cell(heads[0].row + 1, column).value = "made"
    book.save(tmp_path / "filled.xlsx")
    assert audit_workbook(handmade_season(), handmade_plan(), tmp_path / "filled.xlsx") == ()


def _zip(path: Path, **parts: str) -> Path:
    with zipfile.ZipFile(path, "w") as out:
        for name, content in parts.items():
            out.writestr(name.replace("__", "/").replace("_dot_", "."), content)
    return path


def test_files_that_are_no_workbooks_are_named(tmp_path: Path, wall: Path) -> None:
    """A missing file, a text, half a file and one with entities end in one plain violation."""
    (tmp_path / "text.xlsx").write_text("no workbook")
    (tmp_path / "half.xlsx").write_bytes(wall.read_bytes()[:3000])
    _zip(tmp_path / "empty.xlsx", a="b")
    _zip(
        tmp_path / "bomb.xlsx",
        xl___rels__workbook_dot_xml_dot_rels='<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>',
        xl__workbook_dot_xml="<a/>",
    )
    for name in ("none.xlsx", "text.xlsx", "half.xlsx", "empty.xlsx", "bomb.xlsx"):
        with pytest.raises(CannotRead, match=f"{name} can't be read back"):
            read_sheets(tmp_path / name)
        (found,) = audit_workbook(handmade_season(), handmade_plan(), tmp_path / name)
        assert (found.rule, found.where) == ("workbook", "file")


def test_values_are_compared_as_a_workbook_keeps_them() -> None:
    """Days are counted from 30 December 1899; text is squeezed; invisible characters do not count."""
    assert plain(date(2026, 3, 2)) == 46083.0
    assert plain("  a\n b\u200b\x00 ") == "a b"
    assert plain("") is None
