"""Faults that show only when cells or rows are read together; one rule, one function."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from scheduler.season.cells import decimal_text
from scheduler.season.faults import Fault
from scheduler.season.names import duplicates, known, shared_ids, unknown_name, unknown_names
from scheduler.season.rules import fits_show, time_to_stage
from scheduler.season.schema import BY_NAME, KEY_FIELD, WEEKDAYS
from scheduler.season.tables import Found
from scheduler.season.types import Pin, Show
from scheduler.season.working_time import too_little_rest

LONGEST_SEASON = 400  # days
CLOCK_STEPS = (1, 5, 10, 15, 20, 30)  # minutes


def faults_together(found: dict[str, Found]) -> list[Fault]:
    """Every such fault of the rows that could be read."""
    rules = (
        unknown_names, duplicates, shared_ids, _season_days, _longest_day, _around_break, _clock_step, _clock_order,
        _special_days, _shows, _shown_stages, _stages, _roles, _exceptions, _changeovers, _designs, _crew, _absences,
        _products, _orders, _forecasts, _stock, _pins, _prices, _uses, _made, too_little_rest,
    )
    return [fault for rule in rules for fault in rule(found)]


def _at(table: str, row: int | None, field: str, value: object, message: str) -> Fault:
    return Fault(table, row, BY_NAME[table].by_field[field].title if field else "", str(value), message)


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _kitchen(found: dict[str, Found], field: str) -> tuple[int | None, Any]:
    """Row and value of a kitchen setting; the default where it is not there, None where it is faulty."""
    cells = known(found, "kitchen", field)
    if cells:
        return cells[0]
    faulty = any(f.column == BY_NAME["kitchen"].by_field[field].title for f in found["kitchen"].faults)
    return None, None if faulty else BY_NAME["kitchen"].defaults.get(field)


def _season_days(found: dict[str, Found]) -> Iterator[Fault]:
    _, first = _kitchen(found, "first_day")
    row, last = _kitchen(found, "last_day")
    if first is None or last is None:
        return
    if last < first:
        yield _at("kitchen", row, "last_day", last, f"{last} is before the first day {first}; write a later day.")
    elif (last - first).days + 1 > LONGEST_SEASON:
        latest = first + timedelta(days=LONGEST_SEASON - 1)
        yield _at("kitchen", row, "last_day", last,
                  f"{last} makes a season of {(last - first).days + 1} days; "
                  f"at most {LONGEST_SEASON} can be planned, so write {latest} or earlier.")


def _longest_day(found: dict[str, Found]) -> Iterator[Fault]:
    """A shift has one break, so it is at most two stretches and the break."""
    row, longest = _kitchen(found, "longest_day_minutes")
    stretch, pause = _kitchen(found, "break_after_minutes")[1], _kitchen(found, "break_minutes")[1]
    if None not in (longest, stretch, pause) and longest > 2 * stretch + pause:
        column = BY_NAME["kitchen"].by_field["longest_day_minutes"]
        hours = decimal_text(column, longest)
        yield _at("kitchen", row, "longest_day_minutes", hours,
                  f"{hours} is longer than one break allows ({stretch} + {pause} + {stretch} minutes); "
                  f"write {decimal_text(column, 2 * stretch + pause)} or less.")


def _around_break(found: dict[str, Found]) -> Iterator[Fault]:
    """The shortest shift with a break has room for it between the work before and after."""
    row, around = _kitchen(found, "around_break_minutes")
    stretch, pause = _kitchen(found, "break_after_minutes")[1], _kitchen(found, "break_minutes")[1]
    if None not in (around, stretch, pause) and around and 2 * around + pause > stretch:
        yield _at("kitchen", row, "around_break_minutes", around,
                  f"{around} before and after a break of {pause} minutes is more than the {stretch} after which one "
                  f"is due; write {max(0, stretch - pause) // 2} or less.")


def _clock_step(found: dict[str, Found]) -> Iterator[Fault]:
    """Steps in which people read a clock."""
    row, step = _kitchen(found, "clock_step")
    if step is not None and step not in CLOCK_STEPS:
        nearest = min(CLOCK_STEPS, key=lambda n: (abs(n - step), n))
        yield _at("kitchen", row, "clock_step", step,
                  f"{step} is no step of a clock; write 1, 5, 10, 15, 20 or 30, for instance {nearest}.")


def _clock_order(found: dict[str, Found]) -> Iterator[Fault]:
    """Whatever opens closes later, whatever starts ends later, on the same day."""
    for table, start, end in (("hours", "opens", "closes"), ("days", "opens", "closes"),
                              ("availability", "starts", "ends")):
        for row, record in found[table].records:
            a, b = getattr(record, start), getattr(record, end)
            if a is not None and b is not None and b <= a:
                yield _at(table, row, end, _clock(b),
                          f"{_clock(b)} is not after {_clock(a)}; nothing runs past midnight, write a later time.")


def _special_days(found: dict[str, Found]) -> Iterator[Fault]:
    marks: dict[Any, tuple[int, str]] = {}
    for row, special in found["days"].records:
        if special.mark == "open" and (special.opens is None or special.closes is None):
            yield _at("days", row, "opens" if special.opens is None else "closes", "",
                      "an open day needs its hours; write opens and closes.")
        if special.mark != "open" and (special.opens is not None or special.closes is not None):
            yield _at("days", row, "mark", special.mark,
                      f"{special.mark} has no hours; write open, or delete the hours.")
        if special.mark == "holiday":
            continue
        first = marks.setdefault(special.day, (row, special.mark))
        if first[1] != special.mark:
            yield _at("days", row, "mark", special.mark,
                      f"{special.day} is {first[1]} in row {first[0]}; keep one of them.")


def _shows(found: dict[str, Found]) -> Iterator[Fault]:
    earlier: list[tuple[int, Show]] = []
    for row, show in found["shows"].records:
        if show.weekday is None and show.day is None:
            yield _at("shows", row, "weekday", "", "a show needs a weekday or a day; write one of them.")
            continue
        if show.weekday is not None and show.day is not None:
            yield _at("shows", row, "day", show.day,
                      f"{show.day} and {WEEKDAYS[show.weekday]} are both written; keep one of them.")
            continue
        for before_row, before in earlier:
            if not _may_meet(show, before):
                continue
            if before.starts == show.starts:
                yield _at("shows", row, "starts", _clock(show.starts),
                          f"{_clock(show.starts)} is the hour of the show in row {before_row} on the same day; "
                          "write another time.")
            if before.name == show.name:
                yield _at("shows", row, "name", show.name,
                          f"{show.name} is on the same day as row {before_row}; give it another name.")
        earlier.append((row, show))


def _shown_stages(found: dict[str, Found]) -> Iterator[Fault]:
    """Every design for a show reaches the stage that starts before the visitors after the same time."""
    stages, exceptions, designs = ([r for _, r in found[name].records] for name in ("stages", "exceptions", "designs"))
    for row, show in found["shows"].records:
        if show.stage not in {stage.name for stage in stages}:
            continue
        times = {d.name: time_to_stage(stages, exceptions, d, show.stage) for d in designs if fits_show(d, show)}
        if without := [name for name, time in times.items() if time is None]:
            yield _at("shows", row, "stage", show.stage,
                      f"{', '.join(without)} would fit the show and has no {show.stage} (0 minutes); write a stage "
                      "that every design for the show has, or leave it blank for the first.")
        elif len(minutes := {minute for time in times.values() if time for minute in time}) > 1:
            yield _at("shows", row, "stage", show.stage,
                      f"{show.stage} starts {min(minutes)} to {max(minutes)} minutes after its batch, and visitors "
                      "need one time for every design; write an earlier stage, or leave it blank for the first.")


def _may_meet(one: Show, two: Show) -> bool:
    if one.day is not None and two.day is not None:
        return one.day == two.day
    weekdays = [show.weekday if show.day is None else show.day.weekday() for show in (one, two)]
    return weekdays[0] == weekdays[1]


def _wait_order(table: str, row: int, record: Any) -> Iterator[Fault]:
    if record.wait_from is not None and record.wait_to is not None and record.wait_to < record.wait_from:
        yield _at(table, row, "wait_to", record.wait_to,
                  f"{record.wait_to} is less than wait from ({record.wait_from}); write {record.wait_from} or more.")


def _stages(found: dict[str, Found]) -> Iterator[Fault]:
    for row, stage in found["stages"].records:
        yield from _wait_order("stages", row, stage)


def _roles(found: dict[str, Found]) -> Iterator[Fault]:
    """One person leads a batch, so a leading role has one person."""
    for row, role in found["roles"].records:
        if role.leads and role.people != 1:
            yield _at("roles", row, "people", role.people,
                      f"{role.people} people cannot lead one batch; write 1, or no under leads.")


def _exceptions(found: dict[str, Found]) -> Iterator[Fault]:
    for row, own in found["exceptions"].records:
        if own.minutes is None and own.wait_from is None and own.wait_to is None:
            yield _at("exceptions", row, "minutes", "", "this row changes nothing; write what differs, or delete it.")
        yield from _wait_order("exceptions", row, own)


def _changeovers(found: dict[str, Found]) -> Iterator[Fault]:
    """A station that is cleaned between batches is one at which they are made: packs are put in no order."""
    used, there = ({value for _, value in known(found, *of)} for of in (("stages", "station"), ("stations", "name")))
    packing = _kitchen(found, "packing_station")[1]
    for row, change in found["changeovers"].records:
        if change.minutes and change.station in there - used:
            here = "packs are put in no order there" if change.station == packing else "no stage is done there"
            yield _at("changeovers", row, "station", change.station,
                      f"nothing is made at the {change.station}, so a plan never cleans it between batches: {here}. "
                      "Take this row out, and see to that cleaning yourself.")


def _designs(found: dict[str, Found]) -> Iterator[Fault]:
    """Every design has work in at least one stage."""
    stages = [stage for _, stage in found["stages"].records]
    if not stages or found["stages"].faults or found["exceptions"].faults:
        return
    own = {(e.design, e.stage): e.minutes for _, e in found["exceptions"].records}
    for row, design in found["designs"].records:
        lengths = []
        for stage in stages:
            usual = (stage.minutes + stage.minutes_per_level * (design.difficulty - 1)
                     + stage.minutes_per_load * design.pull_loads)
            special = own.get((design.name, stage.name))
            lengths.append(usual if special is None else special)
        if not any(lengths):
            yield _at("designs", row, "name", design.name,
                      f"{design.name} takes no time in any stage; write minutes in stages or exceptions.")
        elif sum(lengths) > 1440:
            yield _at("designs", row, "name", design.name,
                      f"{design.name} takes {sum(lengths)} minutes, longer than a day; correct its stages.")


def _crew(found: dict[str, Found]) -> Iterator[Fault]:
    column = BY_NAME["crew"].by_field["shortest_shift"]
    for row, person in found["crew"].records:
        if person.longest_shift is not None and person.shortest_shift > person.longest_shift:
            shortest, longest = (decimal_text(column, m) for m in (person.shortest_shift, person.longest_shift))
            yield _at("crew", row, "shortest_shift", shortest,
                      f"{shortest} is more than the longest shift ({longest}); write {longest} or less.")


def _absences(found: dict[str, Found]) -> Iterator[Fault]:
    for row, absence in found["absences"].records:
        if absence.last_day < absence.first_day:
            yield _at("absences", row, "last_day", absence.last_day,
                      f"{absence.last_day} is before the first day {absence.first_day}; write a later day.")
        elif absence.last_day == absence.first_day and absence.ends <= absence.starts:
            yield _at("absences", row, "ends", _clock(absence.ends),
                      f"{_clock(absence.ends)} is not after {_clock(absence.starts)}; write a later time.")


def _products(found: dict[str, Found]) -> Iterator[Fault]:
    filled = {value for _, value in known(found, "contents", "product")}
    for row, name in known(found, "products", "name"):
        if name not in filled:
            yield _at("products", row, "name", name, f"{name} has nothing in it; add its designs to contents.")


def _orders(found: dict[str, Found]) -> Iterator[Fault]:
    for row, order in found["orders"].records:
        if order.latest is not None and order.latest < order.due:
            yield _at("orders", row, "latest", order.latest,
                      f"{order.latest} is before the due day {order.due}; write a later day or leave it blank.")


def _forecasts(found: dict[str, Found]) -> Iterator[Fault]:
    for row, guess in found["forecasts"].records:
        if guess.likely < guess.low:
            yield _at("forecasts", row, "likely", guess.likely,
                      f"{guess.likely} is less than the low guess {guess.low}; write {guess.low} or more.")
        if guess.high < guess.likely:
            yield _at("forecasts", row, "high", guess.high,
                      f"{guess.high} is less than the likely number {guess.likely}; write {guess.likely} or more.")


def _stock(found: dict[str, Found]) -> Iterator[Fault]:
    for row, lot in found["stock"].records:
        if lot.design and lot.product:
            yield _at("stock", row, "product", lot.product,
                      f"{lot.product} and {lot.design} are both written; keep one: a lot is pieces or packs.")
        elif not lot.design and not lot.product:
            yield _at("stock", row, "design", "", "a lot needs a design (pieces) or a product (packs); write one.")


_NEEDED_BY_PIN = {
    "make": ("day", "design"),
    "do not make": ("day", "design"),
    "no making": ("day",),
    "works": ("day", "person"),
    "off": ("day", "person"),
    "not in role": ("person", "role"),
}


def _pins(found: dict[str, Found]) -> Iterator[Fault]:
    seen: dict[Pin, int] = {}
    for row, pin in found["pins"].records:
        needed = _NEEDED_BY_PIN[pin.kind]
        allowed = (*needed, "day")
        for field in ("day", "design", "person", "role"):
            value = getattr(pin, field)
            if field in needed and not value:
                yield _at("pins", row, field, "", f"nothing is written; {pin.kind} needs a {field}.")
            if field not in allowed and value:
                yield _at("pins", row, field, value, f"{value} does not belong to {pin.kind}; delete it.")
        if pin.kind != "make" and pin.batches != 1:
            yield _at("pins", row, "batches", pin.batches,
                      f"{pin.batches} does not belong to {pin.kind}; delete it.")
        if seen.setdefault(pin, row) != row:
            yield _at("pins", row, "kind", pin.kind, f"this is already in row {seen[pin]}; keep one of them.")


_PRICE_IS_OF = {
    "further place": "stations",
    "training": "crew",
    "later due day": "orders",
    "part delivery": "orders",
    "better packing": "designs",
    "early supplies": "designs",
}


def _prices(found: dict[str, Found]) -> Iterator[Fault]:
    """A price is of something in the table that its change is about, or of all."""
    for row, price in found["prices"].records:
        table = _PRICE_IS_OF.get(price.kind)
        if not price.of:
            continue
        if table is None:
            yield _at("prices", row, "of", price.of, f"{price.of} does not belong to {price.kind}; delete it.")
            continue
        names = [name for _, name in known(found, table, KEY_FIELD[table])]
        if price.of not in names:
            yield _at("prices", row, "of", price.of, unknown_name(price.of, table, names))


def _uses(found: dict[str, Found]) -> Iterator[Fault]:
    for row, use in found["uses"].records:
        if use.design and use.product:
            yield _at("uses", row, "product", use.product,
                      f"{use.product} and {use.design} are both written; keep one: a batch or a pack takes it.")


def _made(found: dict[str, Found]) -> Iterator[Fault]:
    for row, batch in found["made"].records:
        if batch.outcome == "made" and batch.pieces == 0:
            yield _at("made", row, "pieces", 0, "0 pieces of a batch that was made; write the pieces, or failed.")
        if batch.outcome != "made" and batch.pieces:
            yield _at("made", row, "pieces", batch.pieces,
                      f"{batch.pieces} pieces of a batch that is {batch.outcome}; write made, or 0 pieces.")
        if batch.outcome == "not started" and batch.seconds:
            yield _at("made", row, "seconds", batch.seconds,
                      f"{batch.seconds} seconds of a batch that was not started; write 0.")
