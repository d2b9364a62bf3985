"""Figures as people say them: clock times, days, lengths of time, money, counts. English, no locale."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def clock(minute: int) -> str:
    """A clock minute as 24-hour time: 500 is 08:20; a minute past midnight goes on as 24:10."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


def span(starts: int, ends: int) -> str:
    """A stretch of the clock: 08:20–08:45."""
    return f"{clock(starts)}–{clock(ends)}"


def length(minutes: int) -> str:
    """A length of time: 455 is 7 h 35."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02d}" if rest else f"{hours} h"


def hours(minutes: int) -> str:
    """A long time in whole hours, half up: 9,690 is 162 h."""
    return f"{(minutes + 30) // 60:,} h"


def day_short(day: date) -> str:
    """Mon 2 Mar."""
    return f"{WEEKDAYS[day.weekday()][:3]} {day.day} {MONTHS[day.month - 1][:3]}"


def day_month(day: date) -> str:
    """2 Mar."""
    return f"{day.day} {MONTHS[day.month - 1][:3]}"


def day_year(day: date) -> str:
    """Mon 2 Mar 2026."""
    return f"{day_short(day)} {day.year}"


def day_long(day: date) -> str:
    """Monday 2 March 2026."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def count(number: int, one: str, many: str = "") -> str:
    """1 batch, 2 batches, 1,200 pieces."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def money(cents: int, currency: str) -> str:
    """1,234.50 EUR."""
    sign, cents = ("-", -cents) if cents < 0 else ("", cents)
    return f"{sign}{cents // 100:,}.{cents % 100:02d} {currency}".rstrip()


def listed(parts: Iterable[str]) -> str:
    """a, b and c."""
    names = list(parts)
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def percent(part: int, whole: int) -> int:
    """Part of a whole in percent, rounded half up; 0 of nothing is 0."""
    return (200 * part + whole) // (2 * whole) if whole > 0 else 0


def capital(text: str) -> str:
    """The first letter large, the rest as it is."""
    return text[:1].upper() + text[1:]
