"""One cell to one value: each kind of column has one reader, and each refusal is a sentence.

A raw value is what a workbook or CSV file held: text, a number, a day, a clock time, or
``Unreadable`` where the file itself says why there is no value.
"""

from __future__ import annotations

import re
import unicodedata
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from difflib import get_close_matches

from scheduler.season.columns import Column
from scheduler.season.schema import WEEKDAYS


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A cell without a value, and the sentence that says why."""

    shown: str
    message: str


Raw = str | int | float | bool | datetime | date | time | timedelta | Unreadable | None

LONGEST_TEXT = 200
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NUMERIC_DAY = re.compile(r"(\d{1,2})([/.-])(\d{1,2})\2(\d{4})\.?")
_ISO_DAY = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?")
_WORD_DAY = re.compile(r"(\d{1,2})\.?[ -]([A-Za-z]{3,9})\.?,?[ -](\d{4})")
_CLOCK = re.compile(r"(\d{1,2})[:.h](\d{2})(?::00(?:\.0+)?)?\s*(am|pm)?", re.IGNORECASE)
_HOUR = re.compile(r"(\d{1,2})\s*(am|pm|h)", re.IGNORECASE)


class Refused(Exception):
    """A cell cannot be taken; the message is a whole sentence with the value and what to write."""


@dataclass(frozen=True, slots=True)
class Habit:
    """How a column writes days and decimals, as far as its own cells prove it; None: not proven."""

    day_first: bool | None = None
    comma_decimal: bool | None = None


def habit(raws: list[Raw]) -> Habit:
    """Evidence of a column: 25/12/2026 proves day first, 12,5 or 1.234,5 a decimal comma."""
    orders: set[bool] = set()
    commas: set[bool] = set()
    for raw in raws:
        if not isinstance(raw, str):
            continue
        text = tidy(raw)
        if match := _NUMERIC_DAY.fullmatch(text):
            first, second = int(match[1]), int(match[3])
            if (first > 12) != (second > 12):
                orders.add(first > 12)
        elif re.fullmatch(r"-?\d[\d.,]*", text) and (sign := _decimal_sign(text)):
            commas.add(sign == ",")
    return Habit(orders.pop() if len(orders) == 1 else None, commas.pop() if len(commas) == 1 else None)


def _decimal_sign(text: str) -> str:
    """The decimal sign that a number proves by itself, or "" (1,500 and 1.500 prove nothing)."""
    if "." in text and "," in text:
        return "." if text.rindex(".") > text.rindex(",") else ","
    for sign, other in ((",", "."), (".", ",")):
        parts = text.split(sign)
        if len(parts) > 2:
            return other  # 1.234.567: the sign parts thousands
        if len(parts) == 2 and (len(parts[1]) != 3 or len(parts[0].lstrip("-")) > 3 or parts[0] in ("0", "-0")):
            return sign
    return ""


def tidy(text: str) -> str:
    """Text as it is kept: composed accents, no blanks at the ends, plain spaces inside."""
    text = unicodedata.normalize("NFC", text)
    text = re.sub(r"[\t\r\n\u00a0\u2007\u202f\u3000]+", " ", text)
    return text.strip(" \u200b\u2060\ufeff")


def is_blank(raw: Raw) -> bool:
    return raw is None or (isinstance(raw, str) and tidy(raw) == "")


def shown(raw: Raw) -> str:
    """A raw value as a person sees it in the cell."""
    if raw is None:
        return ""
    if isinstance(raw, Unreadable):
        return raw.shown
    if isinstance(raw, datetime):
        return raw.date().isoformat() if raw.time() == time(0) else raw.strftime("%Y-%m-%d %H:%M")
    if isinstance(raw, float) and raw.is_integer() and abs(raw) < 1e15:
        return str(int(raw))
    if isinstance(raw, time):
        return raw.strftime("%H:%M:%S" if raw.second else "%H:%M")
    text = "".join(ch if ch.isprintable() else "\u00b7" for ch in str(raw))
    return text if len(text) <= 40 else text[:37] + "..."


def value_of(column: Column, raw: Raw, how: Habit) -> object:
    """The value that a cell that is not blank stands for; raises Refused with the sentence for a person."""
    if isinstance(raw, Unreadable):
        raise Refused(raw.message)
    if column.word and isinstance(raw, str) and tidy(raw).casefold() == column.word:
        return None
    match column.kind:
        case "text" | "reference":
            return _text(raw)
        case "list":
            return tuple(filter(None, (tidy(part) for part in re.split(r"[,;]", _text(raw)))))
        case "yes":
            return _yes(raw)
        case "choice":
            return _choice(column, raw)
        case "weekday":
            return _weekday(raw)
        case "day":
            return _day(column, raw, how)
        case "clock":
            return _clock(column, raw)
        case _:
            return _number(column, raw, how)


def _text(raw: Raw) -> str:
    if isinstance(raw, datetime | date | time | timedelta):
        raise Refused(
            f"{shown(raw)} was turned into a day or a time by the spreadsheet; "
            "format the cell as text and write it again."
        )
    if isinstance(raw, bool):
        raw = "TRUE" if raw else "FALSE"
    text = tidy(shown(raw) if isinstance(raw, float) else str(raw))
    if any(unicodedata.category(ch) in ("Cc", "Cs") or ch in "\ufffe\uffff" for ch in text):
        raise Refused(f"{shown(text)} holds a character that cannot be printed; write it again by hand.")
    if len(text) > LONGEST_TEXT:
        raise Refused(f"{shown(text)} is longer than {LONGEST_TEXT} characters; shorten it.")
    return text


def _yes(raw: Raw) -> bool:
    if isinstance(raw, bool):
        return raw
    word = shown(raw) if not isinstance(raw, str) else tidy(raw).casefold()
    if word in ("yes", "y", "true", "1", "x"):
        return True
    if word in ("no", "n", "false", "0"):
        return False
    raise Refused(f"{shown(raw)} is neither yes nor no; write yes or no.")


def _choice(column: Column, raw: Raw) -> str:
    words = column.choices
    word = " ".join(tidy(shown(raw)).casefold().split())
    if word in words:
        return word
    near = get_close_matches(word, words, 1, 0.6)
    advice = f"did you mean {near[0]}?" if near else f"write {_one_of(words)}."
    raise Refused(f"{shown(raw)} is not one of the choices; {advice}")


def _one_of(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]


def _weekday(raw: Raw) -> int:
    word = tidy(shown(raw)).casefold().rstrip(".")
    for number, name in enumerate(WEEKDAYS):
        if len(word) >= 3 and name.casefold().startswith(word):
            return number
    near = get_close_matches(word.capitalize(), WEEKDAYS, 1, 0.7)
    raise Refused(f"{shown(raw)} is not a day of the week; write {near[0] if near else 'Monday'}.")


def _day(column: Column, raw: Raw, how: Habit) -> date:
    if isinstance(raw, datetime):
        if raw.time() != time(0):
            raise Refused(f"{shown(raw)} has a clock time; write only the day, {raw.date()}.")
        return raw.date()
    if isinstance(raw, date):
        return raw
    if isinstance(raw, int | float) and not isinstance(raw, bool) and 20_000 < raw < 80_000:
        day = date(1899, 12, 30) + timedelta(days=int(raw))
        raise Refused(f"{shown(raw)} is a number, not a day; write {day}.")
    if not isinstance(raw, str):
        raise Refused(f"{shown(raw)} is not a day; write one such as {column.example}.")
    text = tidy(raw)
    if match := _ISO_DAY.fullmatch(text):
        return _real_day(text, int(match[1]), int(match[2]), int(match[3]))
    if (match := _WORD_DAY.fullmatch(text)) and match[2][:3].casefold() in _MONTHS:
        return _real_day(text, int(match[3]), _MONTHS.index(match[2][:3].casefold()) + 1, int(match[1]))
    if match := _NUMERIC_DAY.fullmatch(text):
        return _numeric_day(text, int(match[1]), int(match[3]), int(match[4]), how)
    raise Refused(f"{shown(text)} is not a day; write one such as {column.example}.")


def _numeric_day(text: str, first: int, second: int, year: int, how: Habit) -> date:
    if first > 12 or second > 12 or first == second:
        day_first = first > 12
    elif how.day_first is None:
        options = f"{year}-{second:02d}-{first:02d} or {year}-{first:02d}-{second:02d}"
        raise Refused(f"{text} can be read in two ways; write {options}.")
    else:
        day_first = how.day_first
    day, month = (first, second) if day_first else (second, first)
    return _real_day(text, year, month, day)


def _real_day(text: str, year: int, month: int, day: int) -> date:
    if not 1 <= month <= 12:
        raise Refused(f"{text} is not a day: there is no month {month}; write year-month-day.")
    if not 1900 <= year <= 2999:
        raise Refused(f"{text} is not a day of our time; check the year.")
    longest = monthrange(year, month)[1]
    if not 1 <= day <= longest:
        last = date(year, month, longest)
        raise Refused(f"{text} is not a day: the last day of that month is {last}.")
    return date(year, month, day)


_FIRST_DAY = {1900: datetime(1899, 12, 31), 1904: datetime(1904, 1, 1)}  # day 0 of a spreadsheet's calendar, by year


def _clock(column: Column, raw: Raw) -> int:
    minute = _clock_minute(raw)
    if minute is None:
        if isinstance(raw, datetime) and raw.time() == time(0) and raw.year in _FIRST_DAY:  # a bare 9, shown as 00:00
            raw = str((raw - _FIRST_DAY[raw.year]).days)
        raise Refused(f"{shown(raw)} is not a clock time; write {_nearest_clock(column, raw)}.")
    return minute


def _clock_minute(raw: Raw) -> int | None:
    if isinstance(raw, bool):
        return None
    if isinstance(raw, datetime):  # a spreadsheet shows 24:00 as midnight of its day 1
        return 1440 if raw.year in (1899, 1900, 1904) and raw.day == 1 and raw.time() == time(0) else None
    if isinstance(raw, time):
        raw = timedelta(hours=raw.hour, minutes=raw.minute, seconds=raw.second, microseconds=raw.microsecond)
    if isinstance(raw, float) and 0 < raw <= 1:
        raw = timedelta(days=raw)
    if isinstance(raw, timedelta):
        seconds = raw.total_seconds()
        minute = round(seconds / 60)
        return minute if abs(seconds - 60 * minute) < 1 and 0 <= minute <= 1440 else None
    if not isinstance(raw, str):
        return None
    text = tidy(raw)
    if match := _CLOCK.fullmatch(text):
        hour, minute, half = int(match[1]), int(match[2]), (match[3] or "").casefold()
    elif match := _HOUR.fullmatch(text):
        hour, minute, half = int(match[1]), 0, match[2].casefold()
    else:
        return None
    if half in ("am", "pm"):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    total = 60 * hour + minute
    return total if minute < 60 and total <= 1440 else None


def _nearest_clock(column: Column, raw: Raw) -> str:
    text = shown(raw)
    if re.fullmatch(r"\d{1,2}", text) and int(text) <= 24:
        return f"{int(text):02d}:00"
    if re.fullmatch(r"\d{3,4}", text) and int(text[:-2]) < 24 and int(text[-2:]) < 60:
        return f"{int(text[:-2]):02d}:{text[-2:]}"
    return column.example


_PER_UNIT = {"whole": 1, "hours": 60, "minutes": 60, "money": 100}


def _number(column: Column, raw: Raw, how: Habit) -> int:
    number = _decimal(column, raw, how)
    scaled = number * _PER_UNIT[column.kind]
    whole = int(scaled.quantize(Decimal(1), ROUND_HALF_UP))
    if abs(scaled - whole) > Decimal("0.000001"):
        if column.kind == "whole":
            below = int(number // 1)
            raise Refused(f"{shown(raw)} is not a whole number; write {below} or {below + 1}.")
        if column.kind == "money":
            raise Refused(f"{shown(raw)} has more than two decimals; write {Decimal(whole) / 100:.2f}.")
    if whole < column.low:
        raise Refused(f"{shown(raw)} is too small; write {decimal_text(column, column.low)} or more.")
    if whole > column.high:
        raise Refused(f"{shown(raw)} is too large; write {decimal_text(column, column.high)} or less.")
    return whole


def decimal_text(column: Column, stored: int) -> str:
    """A stored number as a person writes it: 2310 minutes as 38.5 hours, 1650 cents as 16.50."""
    if column.kind == "money":
        return f"{stored // 100}.{stored % 100:02d}"
    if column.kind == "whole":
        return str(stored)
    text = f"{Decimal(stored) / _PER_UNIT[column.kind]:.6f}"
    return text.rstrip("0").rstrip(".")


def _decimal(column: Column, raw: Raw, how: Habit) -> Decimal:
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        raise Refused(f"{shown(raw)} is not a number; write a number such as {column.example}.")
    if not isinstance(raw, str):
        if raw != raw or abs(raw) > 1e12:
            raise Refused(f"{shown(raw)} is not a number; write a number such as {column.example}.")
        return Decimal(repr(raw))
    text = tidy(raw).replace("\u2212", "-")
    if not re.fullmatch(r"-?\d[\d.,]{0,20}", text):
        raise Refused(f"{shown(raw)} is not a number; write a number such as {column.example}.")
    sign = _decimal_sign(text) or {True: ",", False: ".", None: ""}[how.comma_decimal]
    if not sign and "," not in text and "." not in text:
        return Decimal(text)
    if not sign:
        whole = text.replace(",", "").replace(".", "")
        part = text.replace(",", ".").rstrip("0").rstrip(".")
        raise Refused(f"{text} can be read in two ways; write {whole} or {part}.")
    other = "," if sign == "." else "."
    if not re.fullmatch(rf"-?(\d+|\d{{1,3}}(\{other}\d{{3}})+)(\{sign}\d+)?", text):
        raise Refused(f"{text} is not a number; write a number such as {column.example}.")
    return Decimal(text.replace(other, "").replace(sign, "."))
