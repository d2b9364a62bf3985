"""Personal calendars, read back by an independent library (PyPI ``icalendar``, RFC 5545)."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from scheduler.paper.calendars import calendar_of, file_names, write_calendars
from scheduler.plan.types import Ancestry
from scheduler.season.safe_write import CannotWrite
from tests.handmade import MONDAY, handmade_plan, handmade_season

icalendar = pytest.importorskip("icalendar")


def events(data: bytes) -> list[object]:
    return list(icalendar.Calendar.from_ical(data).walk("VEVENT"))


def test_every_shift_is_an_event_with_its_jobs() -> None:
    """Ana: Monday 8:00 to 11:20, Tuesday 11:20 to 14:20, local time, jobs by the clock."""
    first, second = events(calendar_of(handmade_season(), handmade_plan(), "Ana"))
    assert first["DTSTART"].dt == datetime(2026, 3, 2, 8, 0)
    assert first["DTEND"].dt == datetime(2026, 3, 2, 11, 20)
    assert second["DTSTART"].dt == datetime(2026, 3, 3, 11, 20)
    assert str(first["DESCRIPTION"]).splitlines()[:2] == ["08:00 opening", "08:20 pour as pourer, lemon 0302-1"]


def test_lines_are_at_most_75_octets_whatever_the_name() -> None:
    """RFC 5545, 3.1; accents and commas survive."""
    season = handmade_season()
    name = "Bonbonlädchen, süß & „fein“; Inh. Ünal " * 3
    season = replace(season, kitchen=replace(season.kitchen, name=name))
    data = calendar_of(season, handmade_plan(), "Ana")
    assert all(len(line) <= 75 for line in data.split(b"\r\n"))
    assert str(events(data)[0]["SUMMARY"]) == name


def test_a_later_plan_changes_the_same_events_and_cancels_what_fell_away() -> None:
    """Same UID, higher SEQUENCE; a day sent home comes as cancelled."""
    season, plan = handmade_season(), handmade_plan()
    row = {"day": "2026-03-02", "who": "Ana", "before": "in", "after": "off", "say": ""}
    after = replace(
        plan,
        days=plan.days[1:],
        history=(Ancestry("before", MONDAY, 0, "ill"),),
        extras={"changes": {"rows": [row], "print_again": [], "points": 4, "least_points": 4}},
    )
    old = {str(e["UID"]): e for e in events(calendar_of(season, plan, "Ana"))}
    new = {str(e["UID"]): e for e in events(calendar_of(season, after, "Ana"))}
    assert set(old) == set(new)
    assert {int(e["SEQUENCE"]) for e in old.values()} == {0}
    assert {int(e["SEQUENCE"]) for e in new.values()} == {1}
    assert sorted(str(e.get("STATUS", "")) for e in new.values()) == ["", "CANCELLED"]


def test_no_customer_is_named() -> None:
    """Calendars go to phones: no customers in them."""
    season = handmade_season()
    for person in season.crew:
        text = calendar_of(season, handmade_plan(), person.name).decode()
        assert not any(o.customer in text for o in season.orders if o.customer)


def test_one_file_a_person_with_names_that_any_system_holds(tmp_path: Path) -> None:
    """Two people whose names differ only in signs get two files."""
    season = handmade_season()
    crew = (replace(season.crew[0], name="A/B"), replace(season.crew[1], name="A:B"), season.crew[2])
    assert list(file_names(replace(season, crew=crew)).values()) == ["A-B.ics", "A-B-2.ics", "Cleo.ics"]
    files = write_calendars(season, handmade_plan(), tmp_path / "calendars")
    assert [f.name for f in files] == ["Ana.ics", "Ben.ics", "Cleo.ics"]
    assert all(f.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n") for f in files)


def test_only_an_earlier_plans_calendars_are_replaced(tmp_path: Path) -> None:
    """The same plan or a later one writes anew; a later plan's, and what is no calendar of the person, stays."""
    season, plan = handmade_season(), handmade_plan()
    later = replace(plan, history=(Ancestry("before", MONDAY, 0, "ill"),))
    for one in (plan, plan, later, later):
        write_calendars(season, one, tmp_path)
    with pytest.raises(CannotWrite, match="holds the calendars of a later plan than this one; give another folder"):
        write_calendars(season, plan, tmp_path)
    (tmp_path / "Ana.ics").write_text("BEGIN:VCALENDAR\nmy birthdays\n")
    with pytest.raises(CannotWrite, match="Ana.ics is not Ana's calendar of this kitchen, so it stays"):
        write_calendars(season, later, tmp_path)
    assert "birthdays" in (tmp_path / "Ana.ics").read_text()
