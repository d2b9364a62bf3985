"""What is written for the wall is the plan: cells read back, print settings, safe text, equal bytes."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet
from scheduler.audit.wall.workbook import audit_workbook
from scheduler.paper.figures import Figures
from scheduler.paper.shares import shares
from scheduler.paper.text import clean
from scheduler.paper.words import day_long, span
from scheduler.paper.workbook import workbook_bytes, write_workbook
from scheduler.plan.summary import person_weeks, summarize
from scheduler.plan.types import DayPlan, Plan
from scheduler.season.safe_write import CannotWrite
from scheduler.season.types import MadeBatch, Season, SpecialDay
from tests.handmade import MONDAY, handmade_plan, handmade_season
from tests.paper.reading import read, texts


def table(ws: Worksheet, first: str) -> list[dict[str, object]]:
    """Rows under the heading row that begins with a word, down to an empty first cell."""
    start = next(c.row for row in ws.iter_rows(max_col=1) for c in row if c.value == first)
    heads = [c.value for c in ws[start]]
    out = []
    for row in ws.iter_rows(min_row=start + 1, values_only=True):
        if row[0] is None:
            break
        out.append({str(h): v for h, v in zip(heads, row, strict=True) if h is not None})
    return out


def test_orders_say_what_is_covered_short_and_from_which_lots(book: Workbook) -> None:
    """O3 asks 50, gets 45 from lot 0303-2 packed on Wednesday; O4 gets nothing; F1 has 5 finished packs."""
    rows = {(r["Order"], r["Packs"]): r for r in table(book["Orders"], "Order")}
    o3 = rows["O3", 45]
    assert (o3["Asked"], o3["Covered"], o3["Short"], o3["Ready"]) == (50, 45, 5, "part")
    assert o3["Packed on"].date() == date(2026, 3, 4)  # type: ignore[attr-defined]
    assert o3["Sell by"].date() == date(2026, 7, 1)  # type: ignore[attr-defined]
    assert o3["From these lots (day made)"] == "nut: 900 from 0303-2 (3 Mar)"
    assert (rows["O4", None]["Covered"], rows["O4", None]["Short"], rows["O4", None]["Ready"]) == (0, 60, "no")
    assert rows["O5", 10]["Ready"] == "yes, 1 day late"
    assert rows["F1", 5]["From these lots (day made)"] == "finished packs, lot P1"
    assert "O6" not in {r["Order"] for r in table(book["Orders"], "Order")}  # cancelled


def test_every_fill_and_shortfall_is_on_the_orders_sheet(toy: tuple[Season, Plan, Workbook]) -> None:
    """Packs on the sheet, by order, packing day and lot, are the plan's; so are the packs short."""
    _, plan, book = toy
    rows = table(book["Orders"], "Order")
    seen = sorted((r["Order"], r["Packs"]) for r in rows if r["Packs"])
    assert seen == sorted((f.line, f.packs) for f in plan.fills)
    assert {r["Order"]: r["Short"] for r in rows if r["Short"]} == {s.line: s.packs for s in plan.shortfalls}
    drawn = sum(d.pieces for f in plan.fills for d in f.draws)
    told = sum(
        int(pieces.replace(",", ""))
        for r in rows
        for pieces in re.findall(r"([\d,]+) from", str(r["From these lots (day made)"] or ""))
    )
    assert told == drawn


def test_shortfall_sheet_is_the_plans_shortfall(book: Workbook) -> None:
    """Firm before standing: O4 60 packs and 900 pieces, then O3 5 packs and 100 pieces."""
    rows = table(book["Shortfall"], "Order")
    assert [(r["Order"], r["Packs short"], r["Pieces short"]) for r in rows] == [("O4", 60, 900), ("O3", 5, 100)]
    assert rows[0]["What stands in the way"] == (
        "Too little heart, 600 pieces needed and 450 left. The order is filled whole or not at all."
    )
    said = texts(book["Shortfall"])
    assert "65 packs of 210 asked for can't be ready (1,000 pieces): 60 of firm orders, 5 of standing orders." in said
    assert any(t.startswith("1.  Harbour Hotel: mixed bag, order O4, due Thu 5 Mar.") for t in said)


def test_stock_tells_used_and_left(book: Workbook) -> None:
    """Lot 0303-1: 900 made on Tuesday, 200 used by F1, 700 left."""
    rows = {r["Lot"]: r for r in table(book["Stock"], "Lot")}
    assert (rows["0303-1"]["Pieces"], rows["0303-1"]["Used"], rows["0303-1"]["Left"]) == (900, 200, 700)
    assert rows["0303-1"]["For"] == "F1 200"
    assert rows["S1"]["Where from"] == "in stock"
    assert rows["S1"]["Sell by"].date() == date(2026, 8, 1)  # type: ignore[attr-defined]


def test_calendar_counts_batches_and_marks_days(book: Workbook) -> None:
    """Lemon on Monday and Tuesday, heart on Monday, nut on Tuesday; the missed show is X, due days D."""
    rows = {r[0]: r[1:8] for r in book["Calendar"].iter_rows(values_only=True)}
    assert rows["lemon"][:4] == (1, 1, None, None)
    assert rows["heart"][:4] == (1, None, None, None)
    assert rows["nut"][:4] == (None, 1, None, None)
    assert rows["Marks"][:4] == ("D", "S", "D", "XD")
    assert rows["Batches"][:2] == (2, 2)
    assert rows["Packs packed"][:4] == (None, 80, 60, None)
    # bench on Monday, 8:50 to 17:15: 505 minutes, 45 for a lemon: 11; on Wednesday too few are in for a batch
    assert rows["Most batches"][:4] == (11, 11, None, 11)


def test_how_full_counts_what_batches_can_use(book: Workbook) -> None:
    """Bench on Monday: 20 + 25 + 40 + 25 minutes of batches and 10 of cleaning, of 505; 11 batches less the 2 made."""
    row = table(book["How full"], "Day")[0]
    assert (row["Batches"], row["Room for more"], row["bench"]) == (2, 9, round(120 / 505, 4))


def test_what_is_scarce_is_told_first() -> None:
    """300 of 525 pulls (225 a week for Ana, 300 for Ben) come before the bench, 4 h of 26; all within their most."""
    figures = Figures(handmade_season(), handmade_plan())
    found = shares(figures)
    assert found[0].line == "█████████░░░░░░░ 57 %: 300 of the 525 that the limits allow"
    assert [s.name for s in found[:4]] == ["Pulls", "Ben's time", "Everyone's time", "bench"]
    assert all(s.used <= s.most for s in found)
    assert found[2].words.endswith("; of the 25 h paid it is 64 % (the Calendar has it by days)")
    assert next(s for s in found if s.name == "Batches").words == "4 of the 33 batches that could be started"


def test_run_sheet_has_every_run_with_times_and_people(book: Workbook) -> None:
    """Each batch is a row with the clock times and people of each of its stages."""
    for day in handmade_plan().days:
        ws = book[f"Day {day.day}"]
        assert ws["A1"].value == day_long(day.day)
        said = texts(ws)
        for number, batch in enumerate(day.batches, 1):
            row = next(r for r in ws.iter_rows(values_only=True) if str(r[0]).startswith(f"{number}  {batch.design}"))
            cells = [str(c) for c in row if c is not None]
            assert batch.id in cells
            for run in batch.runs:
                own = next(c for c in cells if c.startswith(span(run.starts, run.ends)))
                assert all(person in own for _, person in run.crew)
        for task in day.tasks:
            assert span(task.starts, task.ends) in said
        for name in day.missed_shows:
            assert any(f"SHOW NOT HELD: {name}" in t for t in said)


def test_run_sheet_leaves_blanks_under_fixed_headings(book: Workbook) -> None:
    """Beside each batch and product are blanks for pieces, seconds, outcome, packs, remarks, open to be typed into."""
    made = table(book["Day 2026-03-03"], "Batches in order")[:2]
    assert [(r["Batch"], r["Pieces planned"]) for r in made] == [("0303-1", 900), ("0303-2", 900)]
    assert all(row[h] is None for row in made for h in ("Pieces made", "Seconds", "What became of it", "Remarks"))
    ws = book["Day 2026-03-03"]
    heads = next(row for row in ws.iter_rows() if "To pack" in {c.value for c in row})
    at = {c.value: c.column for c in heads if c.value is not None}
    rows = [r for r in range(heads[0].row + 1, ws.max_row + 1) if ws.cell(r, at["To pack"]).value]
    packed = [[ws.cell(r, at[h]).value for h in ("To pack", "Packs planned", "Packs packed", "Remarks")] for r in rows]
    assert packed == [["lemon jar", 40, None, None], ["mixed bag", 40, None, None]]
    assert not any(ws.cell(r, at[h]).protection.locked for r in rows for h in ("Packs packed", "Remarks"))


def test_the_blanks_can_be_chosen_from_a_list(book: Workbook) -> None:
    """What became of a batch is made, failed or not started, on the rows of the day's two batches."""
    ws = book["Day 2026-03-03"]
    (choice,) = ws.data_validations.dataValidation
    assert choice.formula1 == '"made,failed,not started"'
    rows = [c.row for c in next(ws.iter_cols(max_col=1)) if str(c.value).startswith(("1  ", "2  "))]
    column = next(c.column_letter for row in ws.iter_rows() for c in row if c.value == "What became of it")
    assert str(choice.sqref) == f"{column}{rows[0]}:{column}{rows[-1]}"


def test_cautions_stand_where_they_belong(book: Workbook) -> None:
    """Hot sugar and pulling on days with a batch only; allergens on the nut day; local rules come first, said so."""
    tuesday, wednesday = texts(book["Day 2026-03-03"]), texts(book["Day 2026-03-04"])
    hot = next(t for t in tuesday if t.startswith("Hot sugar"))
    assert "cold water at hand, visitors behind a barrier" in hot
    assert hot.endswith("No hot work for Cleo (young worker).")
    pulls = next(t for t in tuesday if t.startswith("Pulls today"))
    assert "Ana 75 of 150" in pulls
    assert pulls.endswith("The pull limits are the kitchen's own. Stop when arms hurt; local rules come first.")
    assert any(t.startswith("Allergens today: tree nuts, ") and "not a cleaning validation" in t for t in tuesday)
    assert not any(t.startswith(("Hot sugar", "Pulls today")) for t in wednesday)
    mind = " ".join(texts(book["At a glance"]))
    assert "Local rules on working time, young workers and manual work come first" in mind
    assert "Sell-by days are the kitchen's own, under local food law." in mind
    assert any("local rules on working time come first" in t for t in texts(book["Crew"]))
    assert any("under local food law" in t for t in texts(book["Orders"]))


def test_crew_sheet_has_hours_pulls_and_overtime(toy: tuple[Season, Plan, Workbook]) -> None:
    """Paid hours, overtime and pulls of each week are those that the summary counts."""
    season, plan, book = toy
    rows = list(book["Crew"].iter_rows(values_only=True))
    seen: dict[tuple[str, int], tuple[object, ...]] = {}
    week = 0
    for row in rows:
        if str(row[0]).startswith("Week "):
            week = int(str(row[0])[5:])
        elif row[0] in season.person_by_name and week:
            seen[str(row[0]), week] = (row[8], row[11], row[12])
    weeks = person_weeks(season, plan)
    assert weeks
    for w in weeks:
        hours, over, pulls = seen[w.person, w.week]
        assert (_minutes(hours), _minutes(over), pulls) == (w.paid_minutes, w.overtime_minutes, w.pulls)


def _minutes(value: object) -> int:
    if isinstance(value, timedelta):
        return round(value.total_seconds() / 60)
    if hasattr(value, "hour"):
        return int(value.hour * 60 + value.minute)  # type: ignore[attr-defined]
    return round(float(value) * 1440)  # type: ignore[arg-type]


def test_a_persons_page_has_own_jobs_and_nothing_of_others(book: Workbook) -> None:
    """Ana's page: her jobs on Monday with times and candy; no customer, price or wage, nobody else's name."""
    ws = book["Person Ana"]
    plan = handmade_plan()
    day = next(r for r in ws.iter_rows() if r[0].value == "Mon 2 Mar")
    jobs = str(ws.cell(day[0].row + 2, 1).value).split("\n")
    own = [
        (r.starts, r.ends, r.stage, number)
        for number, b in enumerate(plan.days[0].batches, 1) for r in b.runs if "Ana" in [who for _, who in r.crew]
    ]  # fmt: skip
    assert {f"{span(starts, ends)} {number} {stage}" for starts, ends, stage, number in own} <= {
        j.split(",")[0] for j in jobs
    }
    free = ["08:40–08:50 free", "09:55–10:15 free"]  # while Ben pulls
    assert [j for j in jobs if j.endswith("free")] == free
    assert len(jobs) == len(own) + sum("Ana" in t.people for t in plan.days[0].tasks) + len(free)
    assert ws.cell(day[0].row + 1, 1).value == "08:00–11:20, 3 h 20 paid\n1 lemon, 2 heart"
    said = " ".join(texts(ws))
    for secret in ("NamedBasis Cafe", "Harbour", "Wedding", "Ben", "Cleo", "20.00", "EUR"):
        assert secret not in said


def test_a_page_says_why_somebody_is_in_with_nothing_set(book: Workbook) -> None:
    """On Wednesday Cleo packs until 9:00 and is in until 11:00: three hours are her shortest call-in."""
    said = texts(book["Person Cleo"])
    assert "08:00–11:00, 3 h paid, the shortest call-in" in said
    assert any(t.endswith("\n09:00–11:00 free") for t in said)
    assert "08:00–11:20, 3 h 20 paid" in " ".join(texts(book["Person Ana"]))


def test_crew_only_leaves_out_customers_prices_and_pay() -> None:
    """The workbook for the crew has calendar, crew, run sheets and people, and no customer anywhere."""
    book = read(handmade_season(), handmade_plan(), crew_only=True)
    assert [t for t in book.sheetnames if not t.startswith(("Day", "Person"))] == ["Contents", "Calendar", "Crew"]
    everything = " ".join(t for ws in book.worksheets for t in texts(ws))
    for order in handmade_season().orders:
        assert order.customer not in everything
    assert "EUR" not in everything


def test_hardly_anything_to_gain_is_said_and_read_back(tmp_path: Path) -> None:
    """A gap of one weighted piece is less than 0.1 % of the shortage, not 0.0 %; the audit of the wall reads it so."""
    season, plan = handmade_season(), handmade_plan()
    short = sum(s.weighted for s in plan.shortfalls)
    stages = tuple(replace(s, bound=short - 1, proven=False) if s.name == "shortfall" else s for s in plan.stages)
    plan = replace(plan, stages=stages)
    said = " ".join(texts(read(season, plan)["At a glance"]))
    assert "it could mend at most less than 0.1 % of this shortage, worth about 1 pack." in said
    write_workbook(season, plan, tmp_path / "plan.xlsx")
    assert not [v for v in audit_workbook(season, plan, tmp_path / "plan.xlsx") if "At a glance" in v.where]


def test_at_a_glance_says_no_more_than_was_proven() -> None:
    """Not proven: at most so much better. Proven: no plan can do better."""
    season, plan = handmade_season(), handmade_plan()
    said = " ".join(texts(read(season, plan)["At a glance"]))
    assert (
        "it could mend at most 2.7 % of this shortage, worth about 2 packs." in said
    )  # 500 of 18,500; 65 * 500 / 18,500
    assert "No plan can do better" not in said
    assert "405.50 EUR, 1 h 20 of overtime." in said or f"{summarize(season, plan).labour_cost:,.2f} EUR" in said
    proven = replace(plan.stages[1], bound=plan.stages[1].value, proven=True)
    better = replace(plan, stages=(plan.stages[0], proven, plan.stages[2]))
    assert "No plan can do better: this is proven" in " ".join(texts(read(season, better)["At a glance"]))


def test_what_is_not_proven_to_be_short_is_not_called_proven() -> None:
    """A bound of 0 proves nothing: no percentage is made of it. Certificates looked for and not found say so."""
    plan = handmade_plan()
    open_stage = replace(plan.stages[1], bound=0, proven=False)
    plan = replace(plan, stages=(plan.stages[0], open_stage, plan.stages[2]), extras={"certificates": []})
    book = read(handmade_season(), plan)
    said = texts(book["Shortfall"])
    assert "A better plan may exist: it is not proven that anything must be short." in said
    assert "Why: sums to check on paper" in said
    assert any(t.startswith("For O4 (60 packs) and O3 (5 packs) no single limit shows") for t in said)


def test_closed_days_holidays_shows_and_due_days_are_marked() -> None:
    """Wednesday closed with orders due, Thursday a named holiday with a missed show: CD, HXD, and the day's name."""
    season = handmade_season()
    special = (SpecialDay(date(2026, 3, 4), "closed", "Stocktaking"), SpecialDay(date(2026, 3, 5), "holiday", "Fair"))
    ws = read(replace(season, special_days=special), handmade_plan())["Calendar"]
    marks = next(row for row in ws.iter_rows(values_only=True) if row[0] == "Marks")
    assert marks[1:5] == ("D", "S", "CD", "HXD")
    assert "To know: Wed 4 Mar Stocktaking, Thu 5 Mar Fair." in texts(ws)


NASTY = '=HYPERLINK("http://x","y")'


def test_typed_text_stays_text() -> None:
    """Names that look like formulas are text, marked so that editing keeps them text; no cell is a formula."""
    season = handmade_season()
    designs = tuple(replace(d, name=NASTY) if d.name == "lemon" else d for d in season.designs)
    contents = tuple(replace(c, design=NASTY) if c.design == "lemon" else c for c in season.contents)
    stock = tuple(replace(s, design=NASTY) if s.design == "lemon" else s for s in season.stock)
    orders = tuple(replace(o, customer="+1+2", id=o.id) for o in season.orders)
    season = replace(
        season, kitchen=replace(season.kitchen, name="@SUM(A1) & <b>\x07 Kitchen"), designs=designs, contents=contents,
        stock=stock, orders=orders,
    )  # fmt: skip
    plan = handmade_plan()
    days = tuple(
        replace(d, batches=tuple(replace(b, design=NASTY) if b.design == "lemon" else b for b in d.batches))
        for d in plan.days
    )
    lots = tuple(replace(lot, design=NASTY) if lot.design == "lemon" else lot for lot in plan.lots)
    book = read(season, replace(plan, days=days, lots=lots))
    found = 0
    for ws in book.worksheets:
        for row in ws.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                if isinstance(cell.value, str):
                    assert cell.quotePrefix, (ws.title, cell.coordinate)
                    found += cell.value == NASTY
    assert found >= 3
    assert book["At a glance"]["A1"].value == "@SUM(A1) & <b> Kitchen"
    assert "@SUM(A1) && <b> Kitchen" in str(book["At a glance"].oddFooter.left.text)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("Ana\x00\x1f", "Ana"),
        ("two\r\nlines", "two lines"),
        ("a\ud800b", "ab"),
        ("\u202egnirts", "gnirts"),
        ("Žofie \u05e9\u05dc\u05d5\u05dd", "Žofie \u05e9\u05dc\u05d5\u05dd"),
        ("x" * 40000, "x" * 31999 + "…"),
    ],
)
def test_text_that_a_spreadsheet_cannot_hold_is_taken_out(typed: str, kept: str) -> None:
    """Control and direction characters go, accents and other scripts stay, very long text is cut."""
    assert clean(typed) == kept


def test_links_lead_to_sheets_that_exist(book: Workbook) -> None:
    """Every link of contents and calendar names a sheet of the book."""
    links = [
        c.hyperlink.location for t in ("Contents", "Calendar") for r in book[t].iter_rows() for c in r if c.hyperlink
    ]
    assert len(links) >= len(book.sheetnames) - 1
    assert {x.rsplit("!", 1)[0].strip("'") for x in links} == set(book.sheetnames) - {"Contents"}


def test_the_same_plan_gives_the_same_bytes() -> None:
    """No moment of writing is in the file; another plan is another file."""
    season, plan = handmade_season(), handmade_plan()
    first = workbook_bytes(season, plan)
    time.sleep(1.1)
    assert workbook_bytes(season, plan) == first
    assert workbook_bytes(season, replace(plan, rule_of_thumb_weighted=1)) != first


def test_an_empty_plan_and_an_empty_season_are_written() -> None:
    """No days, no lots, no orders: the sheets say so and open."""
    season = replace(handmade_season(), orders=(), forecasts=(), stock=(), pins=(), shows=())
    plan = replace(handmade_plan(), days=(), lots=(), fills=(), shortfalls=(), stages=(), rule_of_thumb_weighted=0)
    book = read(season, plan)
    assert "No orders and no forecasts." in texts(book["Orders"])
    assert "Nothing is asked for: there are neither orders nor forecasts." in texts(book["Shortfall"])
    bare = replace(season, designs=(), crew=(), products=(), contents=(), skills=(), stations=(), stages=(), roles=(),
                   changeovers=(), availability=(), absences=(), hours=())  # fmt: skip
    assert "Calendar" in read(bare, plan).sheetnames
    empty_day = replace(plan, days=(DayPlan(season.kitchen.first_day),))
    assert "No batch today." in texts(read(season, empty_day)["Day 2026-03-02"])


def test_written_in_one_step_and_a_read_only_target_is_kept(tmp_path: object) -> None:
    """The file opens; where it is marked read-only the old one stays and a second name is told."""
    from pathlib import Path

    path = Path(str(tmp_path)) / "plan.xlsx"
    write_workbook(handmade_season(), handmade_plan(), path)
    assert "At a glance" in load_workbook(path).sheetnames
    before = path.read_bytes()
    path.chmod(0o444)
    with pytest.raises(CannotWrite, match="read-only"):
        write_workbook(handmade_season(), replace(handmade_plan(), rule_of_thumb_weighted=1), path)
    assert path.read_bytes() == before


def test_sheets_say_what_contains_what_and_which_batch_failed(tmp_path: Path) -> None:
    """The nut candy's allergens stand where it is made, where it is packed and on the pages of those who make it."""
    season, plan = handmade_season(), handmade_plan()
    lost = replace(season, made=(MadeBatch(MONDAY, "0302-1", "lemon", "failed"),))
    for told, failed in ((season, 0), (lost, 1)):
        write_workbook(told, plan, tmp_path / "plan.xlsx")
        book = load_workbook(tmp_path / "plan.xlsx")
        said = {ws.title: [str(c.value) for row in ws.iter_rows() for c in row if c.value] for ws in book}
        assert sum(words.endswith("\nFAILED") for words in said["Day 2026-03-02"]) == failed
        packed = [words for title, cells in said.items() if title.startswith("Day") for words in cells]
        assert any(words.startswith("CONTAINS tree nuts, ") for words in packed)
        pages = [words for title, cells in said.items() if title.startswith("Person") for words in cells]
        assert any("nut (tree nuts)" in words for words in pages)
        assert not any("lemon (" in words for words in pages)
