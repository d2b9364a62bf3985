"""What is typed on the command line, as records: batches, packs, absences, orders, moments.

Every text that can't be understood ends in SeasonFaults with what to write instead.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduler.answers.facts import Moment
from scheduler.answers.record import Record, batch_record
from scheduler.plan.types import Plan
from scheduler.season.faults import Fault, SeasonFaults
from scheduler.season.types import Absence, Order, PackedPacks, Season, ShippedPacks

_MOMENT = re.compile(r"(\d{4}-\d{2}-\d{2})(?:[T ](\d{1,2}):(\d{2}))?")
_CLOCK = re.compile(r"\d{1,2}:\d{2}")
_MADE = re.compile(r"(.+)=\s*(\d+)(?:\s*\+\s*(\d+))?")
_PACKS = re.compile(r"(\d{4}-\d{2}-\d{2})\s+(.+)=\s*(\d+)")
_ORDER = re.compile(r"(\S+)\s+(.+)=\s*(\d+)\s+due\s+(\d{4}-\d{2}-\d{2})(?:\s+for\s+(.+))?")
_AWAY = re.compile(r"(.+?):(\d{4}-.+?)(?:\.\.(\d{4}-.+))?")
_NOW_FOR = re.compile(r"([^\s=]+)(?:\s*=\s*(\d+))?(?:\s+due\s+(\d{4}-\d{2}-\d{2}))?")
NEW_ORDER = '"W-200 Harbour tin=60 due 2026-03-20 for Blue Door"'
OTHER_ORDER = 'W-104=70 for other packs, "W-104 due 2026-03-20" for another day'
LONG_BEFORE = timedelta(days=90)
MIDNIGHT = 1440  # clock minute
Texts = list[str] | None


@dataclass(frozen=True)
class Told:
    """The texts of each option of ``rockrota record``."""

    made: Texts = None
    failed: Texts = None
    not_started: Texts = None
    packed: Texts = None
    shipped: Texts = None
    away: Texts = None
    order: Texts = None
    remark: str = ""


def records(season: Season, plan: Plan | None, told: Told) -> Iterator[Record]:
    """The records that the texts stand for. Raises SeasonFaults for the first that makes no sense."""
    went_wrong = bool(told.failed or told.not_started)
    for text in told.made or ():
        batch, pieces, seconds = _match(_MADE, text, "made", "0301-1=870 or 0301-1=870+40")
        yield batch_record(
            season, plan_needed(plan), batch.strip(), "made", int(pieces), int(seconds or 0),
            "" if went_wrong else told.remark,
        )  # fmt: skip
    for texts, outcome in ((told.failed, "failed"), (told.not_started, "not started")):
        for text in texts or ():
            yield batch_record(season, plan_needed(plan), text.strip(), outcome, remark=told.remark)
    for text in told.packed or ():
        day, product, packs = _match(_PACKS, text, "packed", '"2026-03-12 Harbour tin=40"')
        yield PackedPacks(_day(day, text, "packed"), product.strip(), int(packs), told.remark)
    for text in told.shipped or ():
        day, order, packs = _match(_PACKS, text, "shipped", '"2026-03-13 W-104=40"')
        yield ShippedPacks(_day(day, text, "shipped"), order.strip(), int(packs), told.remark)
    for text in told.away or ():
        yield absence(season, text, told.remark)
    for text in told.order or ():
        if changed := _NOW_FOR.fullmatch(text.strip()):
            yield _changed(season, text, *changed.groups())
            continue
        name, product, packs, due, customer = _match(_ORDER, text, "order", NEW_ORDER)
        if name in season.order_by_id:
            message = (
                f"there is an order {name} already; give the new one a name of its own, or write {name}={packs} if "
                f"that order is for {packs} now."
            )
            raise _fault("order", text, message)
        yield Order(name, product.strip(), int(packs), _day(due, text, "order"), customer=(customer or "").strip())


def _changed(season: Season, text: str, name: str, packs: str | None, due: str | None) -> Order:
    """An order that is for another number of packs, or for another day, now."""
    if packs is None and due is None:
        raise _fault("order", text, f"what of it? Write {NEW_ORDER} for a new one; of one that is there {OTHER_ORDER}.")
    order = season.order_by_id.get(name)
    if order is None:
        raise _fault("order", text, f"there is no order {name} to change; write a new one like {NEW_ORDER}.")
    order = order if packs is None else replace(order, packs=int(packs))
    return order if due is None else replace(order, due=_day(due, text, "order"))


def plan_needed(plan: Plan | None) -> Plan:
    """The plan, or a fault that asks for it."""
    if plan is None:
        raise _fault("plan", "", "batches are looked up in the plan; give the plan after the season.")
    return plan


def moment(text: str, option: str) -> Moment:
    """A day, or a day and a clock time. Example: 2026-03-12T06:30. Raises SeasonFaults."""
    found = _MOMENT.fullmatch(text.strip())
    if not found and _CLOCK.fullmatch(text.strip()):
        raise _fault(option, text, f'"{text}" has no day; write it before the time: 2026-03-12T06:30.')
    if not found:
        raise _fault(option, text, f'"{text}" is no moment; write a day, or a day and a time: 2026-03-12T06:30.')
    minute = int(found[2] or 0) * 60 + int(found[3] or 0)
    if minute > MIDNIGHT or int(found[3] or 0) > 59:
        raise _fault(option, text, f'"{text}" has no clock time; write 00:00 to 24:00.')
    return Moment(_day(found[1], text, option), minute)


def inside(season: Season, at: Moment, option: str) -> Moment:
    """The moment, midnight as that of the day that begins.

    Raises SeasonFaults where the season is over by then, or begins only months later.
    """
    kitchen, at = season.kitchen, begun(at)
    if at.day > kitchen.last_day:
        raise _fault(option, str(at.day), f"{at.day} is after the season, which ends on {kitchen.last_day}.")
    if at.day < kitchen.first_day - LONG_BEFORE:
        message = f"{at.day} is long before the season, which begins on {kitchen.first_day}; is the year right?"
        raise _fault(option, str(at.day), message)
    return at


def absence(
    season: Season, text: str, reason: str, option: str = "away", now: Moment | None = None
) -> Absence:  # fmt: skip
    """Somebody away, to the end of the day or of the last day. Example: Ana:2026-03-12T10:00..2026-03-14.

    A name may be written in small letters. ``option``: where the text was typed. Raises SeasonFaults, also where all
    of it lies outside the season or before ``now``.
    """
    person, first, last = _match(_AWAY, text, option, "Ana:2026-03-12 or Ana:2026-03-12T10:00..2026-03-14")
    crew = season.person_by_name
    alike = [known for known in crew if known.casefold() == person.strip().casefold()]
    name = alike[0] if len(alike) == 1 else person.strip()
    if name not in crew:
        raise _fault(option, text, f'nobody is called "{name}"; the crew are {", ".join(crew)}.')
    since = moment(first, option)
    starts, ends = begun(since), _back(last or str(since.day), option)
    if ends <= starts:
        raise _fault(option, text, "it ends before it begins.")
    first_day, last_day = season.kitchen.first_day, season.kitchen.last_day
    if ends.day < first_day or starts.day > last_day:
        message = f"{name} would be away outside the season, which is {first_day} to {last_day}; is the day right?"
        raise _fault(option, text, message)
    if now is not None and ends <= now:
        raise _fault(option, text, f"{name} is back before {now}, the moment of --now; is the day right?")
    return Absence(name, starts.day, ends.day, starts.minute, ends.minute, reason)


def begun(at: Moment) -> Moment:
    """24:00 is 00:00 of the next day."""
    return Moment(at.day + timedelta(days=1)) if at.minute == MIDNIGHT else at


def _back(text: str, option: str) -> Moment:
    """When somebody is back: at a clock time, without one at the end of that day; 00:00 is 24:00 of the day before."""
    ends = moment(text, option)
    if not ends.minute and _MOMENT.fullmatch(text.strip())[2]:  # type: ignore[index]
        return Moment(ends.day - timedelta(days=1), MIDNIGHT)
    return Moment(ends.day, ends.minute or MIDNIGHT)


def _match(pattern: re.Pattern[str], text: str, option: str, example: str) -> tuple[str, ...]:
    found = pattern.fullmatch(text.strip())
    if not found:
        raise _fault(option, text, f'"{text}" can\'t be understood; write it like {example}.')
    return found.groups()


def _day(text: str, whole: str, option: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise _fault(option, whole, f'"{text}" is no day of the calendar; write it like 2026-03-12.') from None


def _fault(option: str, value: str, message: str) -> SeasonFaults:
    return SeasonFaults([Fault(f"--{option}", None, "", value, message)])
