"""A plan's file: exact round trip, stable text, plain messages for everything else."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from scheduler.plan import files
from scheduler.plan.files import PlanFaults, plan_fingerprint, plan_from_bytes, plan_text, read_plan, write_plan
from scheduler.plan.types import Ancestry, Plan
from scheduler.season.safe_write import CannotWrite
from tests.handmade import MONDAY, TUESDAY, handmade_plan


def rich_plan() -> Plan:
    """The plan made by hand with history, extras, and names in several alphabets."""
    return replace(
        handmade_plan(),
        kitchen='Süßes "Eck" \u05d0\u05d1 \U0001f36c\n=1+1',
        history=(Ancestry("e879a28c2eb80f3c", TUESDAY, 390, "Ben is ill"),),
        extras={"certificates": [{"order": "O4", "needs": 600, "there": 450.5, "ok": None}]},
    )


@pytest.mark.parametrize("make", [handmade_plan, rich_plan])
def test_a_plan_comes_back_exactly(make: Callable[[], Plan], tmp_path: Path) -> None:
    """Writing and reading changes nothing, and writing again gives the same bytes."""
    plan = make()
    write_plan(plan, tmp_path / "plan.json")
    first = (tmp_path / "plan.json").read_bytes()
    back = read_plan(tmp_path / "plan.json")
    assert back == plan
    write_plan(back, tmp_path / "plan.json")
    assert (tmp_path / "plan.json").read_bytes() == first
    assert sorted(p.name for p in tmp_path.iterdir()) == ["plan.json"]


def test_the_file_is_what_its_description_says() -> None:
    """Marked, versioned, days as ISO dates, minutes as numbers, people as pairs."""
    content = json.loads(plan_text(handmade_plan()))
    assert (content["file"], content["version"]) == ("rockrota plan", 1)
    run = content["days"][0]["batches"][0]["runs"][0]
    assert content["days"][0]["day"] == "2026-03-02"
    assert (run["starts"], run["ends"], run["crew"]) == (500, 520, [["pourer", "Ana"]])


def test_equal_plans_have_equal_fingerprints() -> None:
    """The fingerprint follows the content: equal for equal plans, different after one change."""
    assert plan_fingerprint(handmade_plan()) == plan_fingerprint(handmade_plan())
    assert plan_fingerprint(handmade_plan()) != plan_fingerprint(replace(handmade_plan(), from_day=date(2026, 3, 3)))


def _changed(change: Callable[[dict[str, Any]], object]) -> bytes:
    content = json.loads(plan_text(handmade_plan()))
    change(content)
    return json.dumps(content).encode()


def _set(key: str, value: Any) -> Callable[[dict[str, Any]], object]:
    return lambda c: c.update({key: value})


RUN = "plan.days[0].batches[0].runs[0]"

DAMAGED = [
    (b"", "plan.json is damaged (line 1): it is not whole JSON. Use a copy, or plan again."),
    (plan_text(handmade_plan()).encode()[:5000], "is damaged (line"),
    (b"\xff\xfe\x00", "plan.json is damaged: it is not whole JSON."),
    (b"[" * 100_000, "is damaged"),
    (b'{"file": "rockrota plan", "version": NaN}', "is damaged"),
    (b'{"file": "rockrota plan", "version": ' + b"9" * 5000 + b"}", "is damaged"),
    (b"[]", 'is no plan of rockrota: it does not begin with "file": "rockrota plan".'),
    (b'{"days": []}', "is no plan of rockrota"),
    (_changed(_set("version", 2)), "has format version 2; this rockrota reads version 1. Plan again with it."),
    (_changed(_set("version", True)), "has format version True"),
    (_changed(lambda c: c.pop("version")), "has format version None"),
    (_changed(lambda c: c.pop("fills")), "plan: 'fills' is missing."),
    (_changed(lambda c: c["days"][0]["batches"][0]["runs"][0].pop("place")), f"{RUN}: 'place' is missing."),
    (_changed(_set("colour", "red")), "plan: 'colour' is not known in a plan of version 1."),
    (_changed(_set("first_day", "2.3.2026")), "plan.first_day: '2.3.2026' is not a day like 2026-03-02."),
    (_changed(_set("first_day", "2026-02-30")), "plan.first_day: '2026-02-30' is not a day"),
    (_changed(_set("first_day", 20260302)), "plan.first_day: 20260302 is not a day"),
    (_changed(_set("days", {})), "plan.days: {} is not a list."),
    (_changed(_set("days", [7])), "plan.days[0]: 7 is not an object."),
    (_changed(_set("kitchen", None)), "plan.kitchen: None is not a text."),
    (_changed(_set("from_minute", 1.0)), "plan.from_minute: 1.0 is not a whole number."),
    (_changed(_set("from_minute", True)), "plan.from_minute: True is not a whole number."),
    (_changed(_set("from_minute", 10**30)), "plan.from_minute: the number is too large."),
    (_changed(lambda c: c["days"][0].update(proven=1)), "plan.days[0].proven: 1 is not true or false."),
    (
        _changed(lambda c: c["days"][0]["tasks"][0].update(kind="sing")),
        "plan.days[0].tasks[0].kind: 'sing' is none of opening, closing, clean, show.",
    ),
    (
        _changed(lambda c: c["days"][0]["tasks"][0].update(kind=["clean"])),
        "plan.days[0].tasks[0].kind: ['clean'] is none of",
    ),
    (
        _changed(lambda c: c["days"][0]["batches"][0]["runs"][0].update(crew=[["pourer"]])),
        f"{RUN}.crew[0]: 1 entries instead of 2.",
    ),
    (_changed(_set("extras", [])), "plan.extras: [] is not an object."),
]


@pytest.mark.parametrize(("data", "message"), DAMAGED, ids=[m[-40:] for _, m in DAMAGED])
def test_damage_is_named(data: bytes, message: str) -> None:
    """Whatever is wrong with a plan file is said with its place, never as a traceback."""
    with pytest.raises(PlanFaults, match=re.escape(message)):
        plan_from_bytes(data)


def test_files_that_are_no_plans(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A missing file, a folder and a file beyond all measure are refused before they are read."""
    with pytest.raises(PlanFaults, match="does not exist; name the plan.json of a plan"):
        read_plan(tmp_path / "none.json")
    with pytest.raises(PlanFaults, match="is not a file"):
        read_plan(tmp_path)
    write_plan(handmade_plan(), tmp_path / "plan.json")
    monkeypatch.setattr(files, "LARGEST_FILE", 1000)
    with pytest.raises(PlanFaults, match="a plan is at most 0 MB"):
        read_plan(tmp_path / "plan.json")


def test_a_plan_saved_by_a_simple_editor_is_read(tmp_path: Path) -> None:
    """A byte-order mark and other line ends, as some editors leave them, do no harm."""
    text = plan_text(handmade_plan()).replace("\n", "\r\n")
    assert plan_from_bytes(b"\xef\xbb\xbf" + text.encode()) == handmade_plan()


def test_the_old_plan_stays_when_writing_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A new file that does not read back equal never takes the old one's place."""
    target = tmp_path / "plan.json"
    write_plan(handmade_plan(), target)
    old = target.read_bytes()
    monkeypatch.setattr(files, "_write", lambda path, text: path.write_text(text[:100]))
    with pytest.raises(CannotWrite, match="could not be read back"):
        write_plan(replace(handmade_plan(), from_day=MONDAY.replace(day=3)), target)
    assert target.read_bytes() == old
