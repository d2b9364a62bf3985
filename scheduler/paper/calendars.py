"""A calendar file for each person: days in with hours and jobs (RFC 5545), no customers, no pay.

Every event has the same UID from plan to plan and a SEQUENCE that grows with the plan's
history, so that a calendar which takes the new file changes its entries; a day that fell
away comes once more as cancelled.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path

from scheduler.answers.changes import kept_rows
from scheduler.plan.changes import Job, jobs_of
from scheduler.plan.types import Plan, Shift
from scheduler.season.safe_write import CannotWrite, replace_files_atomically
from scheduler.season.types import Season

LINE_OCTETS = 75  # RFC 5545, section 3.1
MAKER = "PRODID:-//rockrota//days of a season//EN"


def write_calendars(season: Season, plan: Plan, folder: Path) -> tuple[Path, ...]:
    """Write one .ics file a person into a folder, all in one step.

    An earlier plan's calendars of the same kitchen are replaced: that is how a phone learns of changes.
    Raises CannotWrite, also where a file of that name is anything else, or of a later plan.
    """
    names = file_names(season)
    for person, name in names.items():
        _may_replace(season, plan, person, folder / name)

    def write(target: Path) -> None:
        for person, name in names.items():
            (target / name).write_bytes(calendar_of(season, plan, person))

    replace_files_atomically(folder, write)
    return tuple(folder / name for name in names.values())


def _may_replace(season: Season, plan: Plan, person: str, file: Path) -> None:
    """Raise CannotWrite unless a file is missing or the same person's calendar from this plan or one before it."""
    if not file.is_file():
        return
    there = file.read_bytes().replace(b"\r\n ", b"").decode("utf-8", "replace").splitlines()
    if there[2:3] != [MAKER] or f"X-WR-CALNAME:{_text(f'{season.kitchen.name}: {person}')}" not in there:
        raise CannotWrite(f"{file} is not {person}'s calendar of this kitchen, so it stays; give another folder.")
    changes = max((int(line[9:]) for line in there if re.fullmatch("SEQUENCE:[0-9]+", line)), default=0)
    if changes > len(plan.history):
        raise CannotWrite(f"{file.parent} holds the calendars of a later plan than this one; give another folder.")


def file_names(season: Season) -> dict[str, str]:
    """A file name for each person that every system can hold, and that no other has."""
    out: dict[str, str] = {}
    for person in season.crew:
        plain = re.sub(r"[^\w-]+", "-", person.name).strip("-") or "person"
        name, number = f"{plain}.ics", 1
        while name.casefold() in {n.casefold() for n in out.values()}:
            number += 1
            name = f"{plain}-{number}.ics"
        out[person.name] = name
    return out


def calendar_of(season: Season, plan: Plan, person: str) -> bytes:
    """A person's days as an iCalendar file, in local time of the kitchen; equal plans give equal bytes."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", MAKER, "METHOD:PUBLISH"]
    lines.append(f"X-WR-CALNAME:{_text(f'{season.kitchen.name}: {person}')}")
    days = {d.day: (d, s) for d in plan.days for s in d.shifts if s.person == person}
    for day, (day_plan, shift) in sorted(days.items()):
        jobs = "\n".join(_job(j) for j in jobs_of(day_plan, person))
        lines += _event(season, plan, person, day, shift, jobs)
    for gone in sorted({r.day for r in kept_rows(plan) if r.who == person} - set(days)):
        lines += _event(season, plan, person, gone, None, "")
    lines.append("END:VCALENDAR")
    return b"".join(part for line in lines for part in _folded(line))


def _job(job: Job) -> str:
    what = job.batch or job.product
    return f"{_clock(job.starts)} {job.what}" + (f", {what}" if what else "")


def _event(season: Season, plan: Plan, person: str, day: date, shift: Shift | None, jobs: str) -> list[str]:
    stamp = datetime.combine(plan.from_day, time()) + timedelta(minutes=plan.from_minute)
    uid = f"{day:%Y%m%d}-{_hex(season.kitchen.name)}-{_hex(person)}@rockrota"
    starts, ends = (shift.starts, shift.ends) if shift else (0, 1440)
    lines = ["BEGIN:VEVENT", f"UID:{uid}", f"DTSTAMP:{stamp:%Y%m%dT%H%M%S}Z", f"SEQUENCE:{len(plan.history)}"]
    lines += [f"DTSTART:{_local(day, starts)}", f"DTEND:{_local(day, ends)}"]
    lines += [f"SUMMARY:{_text(season.kitchen.name)}"] if shift else ["SUMMARY:off", "STATUS:CANCELLED"]
    lines += [f"DESCRIPTION:{_text(jobs)}"] if jobs else []
    return [*lines, "END:VEVENT"]


def _local(day: date, minute: int) -> str:
    return f"{datetime.combine(day, time()) + timedelta(minutes=minute):%Y%m%dT%H%M%S}"


def _hex(text: str) -> str:
    import hashlib

    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:8]


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _text(text: str) -> str:
    """Text with the characters escaped that RFC 5545 (3.3.11) gives a meaning."""
    plain = "".join(c for c in text if c == "\n" or c.isprintable())
    return plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def _folded(line: str) -> Iterator[bytes]:
    """A line in pieces of at most 75 octets, the next ones led by a space; never inside a character."""
    piece = b""
    for character in line:
        octets = character.encode("utf-8", "replace")
        if len(piece) + len(octets) > LINE_OCTETS:
            yield piece + b"\r\n"
            piece = b" "
        piece += octets
    yield piece + b"\r\n"
