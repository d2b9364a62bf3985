"""Recording: by command, by typing into a run sheet, by editing the tables, all three the same; never lost."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from openpyxl import load_workbook
from scheduler.answers.facts import Moment
from scheduler.answers.record import batch_record, cancelled, record, save
from scheduler.answers.told import Told, absence, inside, moment, records
from scheduler.paper.read_back import read_back
from scheduler.paper.run_sheet import MADE_HEADINGS, PACKED_HEADINGS
from scheduler.paper.workbook import write_workbook
from scheduler.season.faults import SeasonFaults
from scheduler.season.read import read_season
from scheduler.season.types import Absence, MadeBatch, Order, PackedPacks, ShippedPacks
from scheduler.season.write import write_season
from tests.handmade import MONDAY, THURSDAY, TUESDAY, WEDNESDAY, handmade_plan, handmade_season

FACTS = (
    MadeBatch(MONDAY, "0302-1", "lemon", "made", 870, 40, "thin ends"),
    MadeBatch(MONDAY, "0302-2", "heart", "failed"),
    PackedPacks(TUESDAY, "lemon jar", 25),
)


def fill_in(path: Path, sheet: str, headings: tuple[str, ...], name: str, typed: dict[str, object]) -> None:
    """Type into the blanks of a batch or product, as a person would, and save."""
    book = load_workbook(path)
    page = book[sheet]
    starts = next(row for row in page.iter_rows() if set(headings) <= {cell.value for cell in row})
    columns = {cell.value: cell.column for cell in starts}
    names = columns["Batch" if headings == MADE_HEADINGS else "To pack"]
    row = next(r for r in range(starts[0].row + 1, page.max_row + 1) if page.cell(r, names).value == name)
    for heading, value in typed.items():
        page.cell(row, columns[heading]).value = value  # type: ignore[assignment]
    book.save(path)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The handmade plan's workbook with three blanks filled in."""
    path = tmp_path_factory.mktemp("sheets") / "plan.xlsx"
    write_workbook(handmade_season(), handmade_plan(), path)
    made, spoilt, became, remark = MADE_HEADINGS[3:]
    fill_in(path, "Day 2026-03-02", MADE_HEADINGS, "0302-1", {made: 870, spoilt: "40", remark: "thin ends"})
    fill_in(path, "Day 2026-03-02", MADE_HEADINGS, "0302-2", {became: "failed"})
    fill_in(path, "Day 2026-03-03", PACKED_HEADINGS, "lemon jar", {PACKED_HEADINGS[2]: 25})
    return path


def test_all_three_ways_of_recording_mean_the_same(filled: Path, tmp_path: Path) -> None:
    """By command, by run sheet and by table: equal seasons."""
    season, plan = handmade_season(), handmade_plan()
    told = Told(made=["0302-1=870+40"], remark="thin ends")
    by_command = record(season, records(season, plan, told))
    by_command = record(by_command, records(season, plan, Told(failed=["0302-2"], packed=["2026-03-03 lemon jar=25"])))
    by_sheet = record(season, read_back(filled, season, plan))
    by_table = replace(season, made=FACTS[:2], packed=FACTS[2:])  # type: ignore[arg-type]
    assert by_command == by_sheet == by_table
    write_season(by_table, tmp_path / "season")
    assert read_season(tmp_path / "season") == by_command


def test_a_workbook_with_nothing_typed_records_nothing(tmp_path: Path) -> None:
    """Blanks left blank say nothing."""
    write_workbook(handmade_season(), handmade_plan(), tmp_path / "plan.xlsx")
    assert read_back(tmp_path / "plan.xlsx", handmade_season(), handmade_plan()) == ()


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ({"Pieces made": "many"}, '"many" is not a count; write a whole number such as 880'),
        ({"Pieces made": -5}, '"-5" is not a count'),
        ({"Pieces made": 12.5}, '"12.5" is not a count'),
        ({"Seconds": 40}, "what became of batch 0302-1"),
        ({"What became of it": "burnt"}, '"burnt" is not known; write made, failed or not started'),
        ({"What became of it": "made"}, "batch 0302-1 was made: count its pieces"),
    ],
)
def test_a_blank_that_makes_no_sense_is_named(tmp_path: Path, typed: dict[str, object], message: str) -> None:
    """Sheet, row and what to write instead; nothing is recorded."""
    path = tmp_path / "plan.xlsx"
    write_workbook(handmade_season(), handmade_plan(), path)
    fill_in(path, "Day 2026-03-02", MADE_HEADINGS, "0302-1", typed)
    with pytest.raises(SeasonFaults, match=f"Day 2026-03-02 row .*{message}"):
        read_back(path, handmade_season(), handmade_plan())


@pytest.mark.parametrize("heading", ["Pieces made", "Packs packed"])
def test_changed_headings_are_named(tmp_path: Path, heading: str) -> None:
    """Who renames the heading over blanks is told which there should be; nothing is recorded."""
    path = tmp_path / "plan.xlsx"
    write_workbook(handmade_season(), handmade_plan(), path)
    book = load_workbook(path)
    cell = next(c for row in book["Day 2026-03-03"].iter_rows() for c in row if c.value == heading)
    cell.value = "How many"
    book.save(path)
    with pytest.raises(SeasonFaults, match=f"Day 2026-03-03.* the headings over the blanks were changed.*{heading}"):
        read_back(path, handmade_season(), handmade_plan())


def test_a_file_that_is_no_workbook_is_refused(tmp_path: Path) -> None:
    """A text file with the name of a workbook."""
    (tmp_path / "plan.xlsx").write_text("hello")
    with pytest.raises(SeasonFaults, match="not an Excel workbook"):
        read_back(tmp_path / "plan.xlsx", handmade_season(), handmade_plan())
    with pytest.raises(SeasonFaults, match="there is no such file"):
        read_back(tmp_path / "none.xlsx", handmade_season(), handmade_plan())


def test_a_later_record_of_the_same_thing_replaces_the_earlier() -> None:
    """0302-1 with 870 pieces, then failed: one row, failed; so for packs of a day."""
    season = record(handmade_season(), FACTS)
    season = record(season, [MadeBatch(MONDAY, "0302-1", "lemon", "failed"), PackedPacks(TUESDAY, "lemon jar", 30)])
    assert [(m.batch, m.outcome) for m in season.made] == [("0302-1", "failed"), ("0302-2", "failed")]
    assert [p.packs for p in season.packed] == [30]


@pytest.mark.parametrize(
    ("bad", "message"),
    [
        (MadeBatch(MONDAY, "0302-1", "limon", "made", 5), 'made, "design": "limon" is not known; did you mean lemon'),
        (MadeBatch(MONDAY, "0302-1", "lemon", "made", 0), "was made with 0 pieces; write failed instead"),
        (MadeBatch(MONDAY, "0302-1", "lemon", "made", 9000), "9,000 pieces of batch 0302-1, .* are taken for a slip"),
        (MadeBatch(MONDAY, "0302-1", "lemon", "failed", 9), "batch 0302-1 failed, so it has no pieces"),
        (MadeBatch(MONDAY, "0302-1", "lemon", "made", -1), "-1 is below 0"),
        (PackedPacks(TUESDAY, "jar of lemon", 5), '"jar of lemon" is not known'),
        (ShippedPacks(TUESDAY, "O77", 5), 'shipped, "order": "O77" is not known'),
        (Absence("Anna", MONDAY, MONDAY), '"Anna" is not known; did you mean Ana'),
        (Absence("Ana", TUESDAY, MONDAY), "Ana's absence ends before it begins"),
        (Order("O9", "lemon jar", 0, THURSDAY), "order O9 asks for 0 packs"),
    ],
)
def test_a_record_that_cannot_be_is_named(bad: object, message: str) -> None:
    """Table, column and what to write instead."""
    with pytest.raises(SeasonFaults, match=message):
        record(handmade_season(), [bad])  # type: ignore[list-item]


def test_every_fault_of_all_records_is_told_at_once() -> None:
    """Two faults, two lines."""
    with pytest.raises(SeasonFaults) as caught:
        record(handmade_season(), [PackedPacks(TUESDAY, "jar", 5), ShippedPacks(TUESDAY, "O77", 5)])
    assert len(caught.value.faults) == 2


def test_batches_are_looked_up_in_the_plan() -> None:
    """An unknown batch is named with near ones; a batch of the plan gets its day and design."""
    season, plan = handmade_season(), handmade_plan()
    assert batch_record(season, plan, "0303-2", "made", 880) == MadeBatch(TUESDAY, "0303-2", "nut", "made", 880)
    with pytest.raises(SeasonFaults, match='"0303-3" is not known; did you mean 0303'):
        batch_record(season, plan, "0303-3", "made", 880)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Ana:2026-03-03", Absence("Ana", TUESDAY, TUESDAY, 0, 1440, "ill")),
        ("Ana:2026-03-03T10:30", Absence("Ana", TUESDAY, TUESDAY, 630, 1440, "ill")),
        ("Ana:2026-03-03T10:30..2026-03-05", Absence("Ana", TUESDAY, THURSDAY, 630, 1440, "ill")),
        ("Ana:2026-03-03..2026-03-05T12:00", Absence("Ana", TUESDAY, THURSDAY, 0, 720, "ill")),
        ("Ana:2026-03-03..2026-03-05T24:00", Absence("Ana", TUESDAY, THURSDAY, 0, 1440, "ill")),
        ("Ana:2026-03-03..2026-03-05T00:00", Absence("Ana", TUESDAY, WEDNESDAY, 0, 1440, "ill")),
        ("Ana:2026-03-02T24:00..2026-03-03", Absence("Ana", TUESDAY, TUESDAY, 0, 1440, "ill")),
    ],
)
def test_absences_as_typed(text: str, expected: Absence) -> None:
    """PERSON:FROM[..TO], to the end of the day where no time is given."""
    assert absence(handmade_season(), text, "ill") == expected


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("Ana", "can't be understood; write it like Ana:2026-03-12"),
        ("Zoe:2026-03-03", 'nobody is called "Zoe"; the crew are Ana, Ben, Cleo'),
        ("Ana:2026-03-03..2026-03-02", "it ends before it begins"),
        ("Ana:2026-03-03T24:00", "it ends before it begins"),
        ("Ana:2026-03-03..2026-03-03T00:00", "it ends before it begins"),
        ("Ana:2026-02-30", '"2026-02-30" is no day of the calendar'),
        ("Ana:2026-03-03T25:00", "has no clock time"),
        ("Ana:2025-03-03", "Ana would be away outside the season, which is .*; is the day right"),
        ("Ana:2026-03-02", "Ana is back before Tuesday 3 March, 06:30, the moment of --now"),
        ("Ana:2026-03-02..2026-03-03T06:30", "is back before"),
    ],
)
def test_absences_that_make_no_sense(text: str, message: str) -> None:
    """What to write instead."""
    with pytest.raises(SeasonFaults, match=message):
        absence(handmade_season(), text, "ill", now=Moment(TUESDAY, 390))


def test_orders_as_typed() -> None:
    """A new order, one that is taken already, and a cancelled one."""
    season = handmade_season()
    new = list(records(season, None, Told(order=["W-200 lemon jar=60 due 2026-03-05"])))
    assert new == [Order("W-200", "lemon jar", 60, THURSDAY)]
    new = list(records(season, None, Told(order=["W-200 lemon jar=60 due 2026-03-05 for Blue Door Tea Room"])))
    assert new == [Order("W-200", "lemon jar", 60, THURSDAY, customer="Blue Door Tea Room")]
    o1 = season.order_by_id["O1"]
    changed = ["O1=7", "O1 due 2026-03-05", "O1 = 7 due 2026-03-05"]
    new = list(records(season, None, Told(order=changed)))
    assert new == [replace(o1, packs=7), replace(o1, due=THURSDAY), replace(o1, packs=7, due=THURSDAY)]
    for text, message in (("O1", "what of it"), ("O9 due 2026-03-05", "there is no order O9 to change"),
                          ("O1 due 2026-02-30", "is no day of the calendar")):  # fmt: skip
        with pytest.raises(SeasonFaults, match=message):
            list(records(season, None, Told(order=[text])))
    with pytest.raises(SeasonFaults, match="there is an order O1 already"):
        list(records(season, None, Told(order=["O1 lemon jar=60 due 2026-03-05"])))
    with pytest.raises(SeasonFaults, match="or write O1=60 if that order is for 60 now"):
        list(records(season, None, Told(order=["O1 lemon jar=60 due 2026-03-05"])))
    with pytest.raises(SeasonFaults, match="there is no order O9 to change"):
        list(records(season, None, Told(order=["O9=7"])))
    assert list(records(season, None, Told(order=["O1=7"]))) == [replace(season.order_by_id["O1"], packs=7)]
    after = record(season, [cancelled(season, "O2")])
    assert after.order_by_id["O2"].cancelled
    assert [o.id for o in after.orders] == [o.id for o in season.orders]
    with pytest.raises(SeasonFaults, match='"O22" is not known'):
        cancelled(season, "O22")


def test_moments_as_typed() -> None:
    """A day is its first minute."""
    assert moment("2026-03-03", "now").minute == 0
    assert moment("2026-03-03T06:30", "now").minute == 390
    with pytest.raises(SeasonFaults, match='--now: "today" is no moment; write a day'):
        moment("today", "now")


def test_moments_that_are_no_part_of_the_season() -> None:
    """After its end, or with the wrong year; some weeks before it begins are fine."""
    season = handmade_season()
    first, last = season.kitchen.first_day, season.kitchen.last_day
    assert inside(season, Moment(last), "now") == Moment(last)
    assert inside(season, Moment(first, 1440), "now") == Moment(first + timedelta(1))
    assert inside(season, Moment(first - timedelta(30)), "now").day < first
    with pytest.raises(SeasonFaults, match="is after the season, which ends on"):
        inside(season, Moment(last + timedelta(1)), "now")
    with pytest.raises(SeasonFaults, match="is long before the season, .* is the year right"):
        inside(season, Moment(first - timedelta(364)), "now")


def test_a_remark_goes_to_what_failed() -> None:
    """One batch counted and one that burnt: the remark is of the one that burnt."""
    season, plan = handmade_season(), handmade_plan()
    good, bad = [b.id for d in plan.days for b in d.batches][:2]
    rows = list(records(season, plan, Told(made=[f"{good}=90"], failed=[bad], remark="burnt")))
    assert [row.remark for row in rows if isinstance(row, MadeBatch)] == ["", "burnt"]
    (alone,) = records(season, plan, Told(made=[f"{good}=90"], remark="a little dark"))
    assert isinstance(alone, MadeBatch) and alone.remark == "a little dark"


RECORDER = """
import sys
from datetime import timedelta
from pathlib import Path
from scheduler.answers.record import record, save
from scheduler.season.read import read_season
from scheduler.season.types import PackedPacks
from datetime import date
path = Path(sys.argv[1])
for packs in range(1, 500):
    season = record(read_season(path), [PackedPacks(date(2026, 3, 3), "lemon jar", packs)])
    save(season, path)
    print(packs, flush=True)
"""


@pytest.mark.parametrize("kind", ["folder", "workbook"])
def test_killed_while_recording_loses_nothing(tmp_path: Path, kind: str) -> None:
    """Killed at random moments: the season reads whole, with the last record said or the next one."""
    path = tmp_path / ("season.xlsx" if kind == "workbook" else "season")
    save(handmade_season(), path)
    rng = random.Random(4)
    root = Path(__file__).parents[2]
    for _ in range(4 if kind == "workbook" else 6):
        worker = subprocess.Popen(
            [sys.executable, "-c", RECORDER, str(path)], stdout=subprocess.PIPE, text=True,
            env={**os.environ, "PYTHONPATH": str(root)},
        )  # fmt: skip
        assert worker.stdout is not None
        said = int(worker.stdout.readline())
        time.sleep(rng.uniform(0.0, 0.4))
        worker.send_signal(signal.SIGKILL)
        said = max([said, *(int(line) for line in worker.stdout.read().split())])
        worker.wait()
        packs = [p.packs for p in read_season(path).packed]
        assert packs in ([said], [said + 1])
