"""What changed, as rows that can be read out over the phone: day, who, before, after.

The rows are kept with the plan (``extras["changes"]``), so that its workbook and its
terminal table say the same.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import date

from scheduler.plan.changes import PACK, Changes, DayChange, Job, PersonChange
from scheduler.plan.types import Batch, Plan, Shift

KEY = "changes"
EVERYONE = "everyone"


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One change. ``say`` is the sentence for the phone, "" where nobody need be called."""

    day: date
    who: str
    before: str
    after: str
    say: str = ""


def rows(changes: Changes) -> tuple[ChangeRow, ...]:
    """All changes by day; each day's batches and packing first, then person after person."""
    out: list[ChangeRow] = []
    for day in sorted({d.day for d in changes.days} | {p.day for p in changes.people}):
        for of_day in (d for d in changes.days if d.day == day):
            out += _day_rows(of_day)
        out += [_person_row(p) for p in changes.people if p.day == day]
    return tuple(out)


def kept(changes: Changes, least_points: int, mind: Sequence[str] = (), today: date | None = None) -> dict[str, object]:
    """The changes as plain JSON, for ``Plan.extras``; ``mind``: what is to be minded ``today``, in sentences."""
    return {
        "points": changes.points,
        "least_points": least_points,
        "print_again": [day.isoformat() for day in to_print(changes, today if mind else None)],
        "mind": list(mind),
        "rows": [{**asdict(r), "day": r.day.isoformat()} for r in rows(changes)],
    }


def to_print(changes: Changes, as_well: date | None = None) -> list[date]:
    """Days whose run sheets must be printed again, in order."""
    return sorted({d.day for d in changes.days if d.print_again} | ({as_well} if as_well else set()))


def kept_rows(plan: Plan) -> tuple[ChangeRow, ...]:
    """The rows that a plan was written with; none where it changed nothing."""
    told = plan.extras.get(KEY)
    if not isinstance(told, dict):
        return ()
    return tuple(
        ChangeRow(date.fromisoformat(r["day"]), r["who"], r["before"], r["after"], r["say"]) for r in told["rows"]
    )


def to_mind(plan: Plan, day: date | None = None) -> tuple[str, ...]:
    """What is to be minded on the day from which a plan was changed, in sentences; of another ``day`` nothing."""
    told = plan.extras.get(KEY)
    if not isinstance(told, dict) or not plan.history or day not in (None, plan.history[-1].now_day):
        return ()
    return tuple(told.get("mind", ()))


def print_again(plan: Plan) -> tuple[date, ...]:
    """Days whose run sheets must be printed again."""
    told = plan.extras.get(KEY)
    return tuple(date.fromisoformat(d) for d in told["print_again"]) if isinstance(told, dict) else ()


def _day_rows(day: DayChange) -> Iterator[ChangeRow]:
    if day.taken_off or day.put_on:
        off, on = ", ".join(designs_of(day.taken_off)), ", ".join(designs_of(day.put_on))
        after = "nothing instead" if not on else f"instead: {on}" if off else f"as well: {on}"
        yield ChangeRow(day.day, EVERYONE, f"to make: {off or '–'}", after)
    for old, new in day.moved:
        yield ChangeRow(day.day, EVERYONE, f"{new.design} starts at {_clock(old.pour)}", f"at {_clock(new.pour)}")
    for product, before_, after_ in day.packing:
        now = f"pack {after_}" if before_ else f"pack {after_} {product}"
        yield ChangeRow(day.day, EVERYONE, f"pack {before_} {product}" if before_ else "–", now)


def designs_of(batches: Iterable[Batch]) -> list[str]:
    """What is made, each design once. Example: "Hare", "2 Lamb"."""
    many = Counter(b.design for b in batches)
    return [f"{n} {name}" if n > 1 else name for name, n in many.items()]


def _person_row(change: PersonChange) -> ChangeRow:
    day, name = f"{change.day:%A} {change.day.day} {change.day:%B}", change.person
    before, after = _in(change.before), _in(change.after)
    if change.before is None and change.after is not None:
        say = f"{name}, can you come in on {day} from {_span(change.after)}? You were off."
        return ChangeRow(change.day, name, before, f"{after}: {_jobs(change.jobs_after)}", say)
    if change.after is None:
        say = "" if change.absent else f"{name}, you need not come in on {day}."
        return ChangeRow(change.day, name, before, "away" if change.absent else after, say)
    assert change.before is not None
    new = _difference(change.jobs_after, change.jobs_before, "more ")
    gone = _difference(change.jobs_before, change.jobs_after, "some of the ")
    says = []
    if _times(change.before) != _times(change.after):
        says.append(f"on {day} you are in {_span(change.after)} instead of {_span(change.before)}")
    if new:
        says.append(f"{'' if says else f'on {day} '}you also do: {'; '.join(new)}")
    if gone:
        says.append(f"{'' if says else f'on {day} '}you no longer do: {'; '.join(gone)}")
    what = before + (f"; {'; '.join(gone)}" if gone else "")
    then = after + (f"; {'; '.join(new)}" if new else "")
    if not new and not gone and what == then:
        then = f"{after}; same jobs at other times"
        says.append(f"on {day} your jobs are at other times")
    return ChangeRow(change.day, name, what, then, f"{name}, {'; '.join(says)}." if says else "")


def _difference(one: tuple[Job, ...], other: tuple[Job, ...], part: str = "") -> list[str]:
    """Jobs of one day that the other has not, a batch with its roles; ``part`` goes before a job that both have, but

    not as often. Example: "Hare 0219-3 as boiler, lead", "closing", "more packing (Hare jar 12:30–13:10)".
    """
    there, same = {j.name for j in other}, set(other)
    left = Counter(j.name for j in one) - Counter(j.name for j in other)
    words: dict[str, list[str]] = {}
    for (what, batch), n in left.items():
        if batch:
            roles = words.setdefault(batch, [])
            role = what.rsplit(" as ", 1)[-1]
            roles += [role] if role not in roles else []
        else:
            packs = [f"{j.product} {_clock(j.starts)}–{_clock(j.ends)}" for j in one if j.product and j not in same]
            again = f" ({n} times)" if n > 1 and (what, batch) not in there else ""
            again = f" ({', '.join(packs)})" if what == PACK and packs else again
            words[f"{part if (what, batch) in there else ''}{what}{again}"] = []
    return [f"{name} as {', '.join(roles)}" if roles else name for name, roles in words.items()]


def _jobs(jobs: tuple[Job, ...]) -> str:
    return "; ".join(_difference(jobs, ())) or "no job by name"


def _times(shift: Shift) -> tuple[int, int]:
    return shift.starts, shift.ends


def _in(shift: Shift | None) -> str:
    return "off" if shift is None else f"in {_clock(shift.starts)}–{_clock(shift.ends)}"


def _span(shift: Shift) -> str:
    return f"{_clock(shift.starts)} to {_clock(shift.ends)}"


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"
