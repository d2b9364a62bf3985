"""What is odd about a season that can be read: said, never a reason to stop."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from scheduler.season.faults import Fault
from scheduler.season.read import reading_notes
from scheduler.season.rules import (
    begins,
    fits_show,
    opening,
    reach,
    recipe,
    shortest_length,
    shows_on,
    start_minutes,
    work_hours,
)
from scheduler.season.tables import suggestion
from scheduler.season.types import Design, Person, Season

DAYS_A_WEEK = 7


@dataclass(frozen=True, slots=True)
class Doubt:
    """One doubt: the table, what in it ("" for the whole table), and a sentence."""

    table: str
    subject: str
    message: str

    def __str__(self) -> str:
        return f"{self.table} {self.subject}: {self.message}" if self.subject else f"{self.table}: {self.message}"


def warnings(season: Season) -> list[Doubt]:
    """Every doubt about a season, in the order of the checks below; ``str`` gives the line to print."""
    notes = [Doubt("reading", "", note) for note in reading_notes(season)]
    return notes + [warning for check in CHECKS for warning in check(season)]


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _open_days(season: Season) -> list[date]:
    return [day for day in season.days if opening(season, day) is not None]


def _nothing(season: Season) -> Iterator[Doubt]:
    """Something is asked for."""
    if not season.orders and not season.forecasts:
        yield Doubt("orders", "", "there are neither orders nor forecasts, so nothing is to be made.")
    elif not season.orders:
        yield Doubt("orders", "", "there are none, so the forecasts alone are planned for.")


def _hours(season: Season) -> Iterator[Doubt]:
    """The kitchen opens at least once, and a batch can be poured after the opening duty."""
    days = _open_days(season)
    if not days:
        yield Doubt("hours", "", "the kitchen is closed on every day of the season, so nothing can be made.")
    kitchen = season.kitchen
    ready = {d: hours[0] for d in days if (hours := work_hours(season, d))}
    never = [d for d, at in ready.items() if not start_minutes(season, d, at, kitchen.last_pour)]
    if never:
        yield Doubt("kitchen", "last start", f"{_clock(kitchen.last_pour)} is before a batch can start on "
                      f"{_some_days(never)}.")


def _some_days(days: list[date]) -> str:
    return str(days[0]) if len(days) == 1 else f"{len(days)} days from {days[0]}"


def _duties(season: Season) -> Iterator[Doubt]:
    kitchen, crew = season.kitchen, len(season.crew)
    for name, people, minutes in (
        ("opening people", kitchen.opening_people, kitchen.opening_minutes),
        ("closing people", kitchen.closing_people, kitchen.closing_minutes),
    ):
        if people > crew and minutes:
            yield Doubt("kitchen", name, f"{people} are asked for and the crew has {crew}: no day can have a batch.")
    for change in season.changeovers:
        able = sum(not change.skill or (p.name, change.skill) in season.level_of for p in season.crew)
        if change.minutes and change.people > able:
            yield Doubt("changeovers", f"{change.kind} at the {change.station}",
                          f"needs {change.people} people{_with(change.skill)}, and {able} can.")
    if kitchen.packing_skill and not any(s.skill == kitchen.packing_skill for s in season.skills):
        yield Doubt("kitchen", "packing skill", f"nobody has the skill {kitchen.packing_skill}, so nothing can be "
                      f"packed{_meant(season, kitchen.packing_skill)}.")


def _with(skill: str, level: int = 0) -> str:
    return (f" with {skill}" + (f" at level {level}" if level else "")) if skill else ""


def _meant(season: Season, skill: str) -> str:
    near = suggestion(skill, sorted({s.skill for s in season.skills} - {skill})) if skill else ""
    return f" (did you mean {near}?)" if near else ""


def nothing_can_be_made(season: Season) -> Fault | None:
    """A fault where nobody can make any design at all, and nothing is there that could be packed instead."""
    if season.stock or season.made:
        return None
    lacks = [list(_lacks(season, design)) for design in season.designs]
    if not lacks or not all(lacks):
        return None
    common = [lack for lack in lacks[0] if all(lack in others for others in lacks)]
    why = "; ".join(common or lacks[0])
    message = (
        f"nobody can make any of the {len(lacks)} designs: {why}. Give people the skills that the roles ask for, in "
        "the table skills, or ask for less in the table roles."
    )
    return Fault("designs", None, "", "", message)


def _unbuildable(season: Season) -> Iterator[Doubt]:
    """Each design has, for each role of its stages, enough people who may ever fill it."""
    for design in season.designs:
        if lacks := list(_lacks(season, design)):
            yield Doubt("designs", design.name, f"nobody can make it: {'; '.join(lacks)}.")


def _lacks(season: Season, design: Design) -> Iterator[str]:
    """What keeps the crew from ever making a design."""
    leaders, enough = set(season.crew), True
    for need in recipe(season, design):
        for role in need.roles:
            able = {p for p in season.crew if _ever_fills(season, p, role.name, role.skill, role.level, role.hot)}
            if role.leads:
                leaders &= able
            if len(able) < role.people:
                enough = False
                hint = "" if any(s.skill == role.skill for s in season.skills) else _meant(season, role.skill)
                yield (f"{need.name} needs {role.people} as {role.name}{_with(role.skill, role.level)}, "
                       f"and {len(able)} can{hint}")  # fmt: skip
        together = sum(role.people for role in need.roles)
        if together > len(season.crew):
            enough = False
            yield f"{need.name} needs {together} people at once and the crew has {len(season.crew)}"
    if enough and not leaders:
        yield "nobody can fill all the roles that lead a batch"


def _ever_fills(season: Season, person: Person, role: str, skill: str, level: int, hot: bool) -> bool:
    if person.young and hot:
        return False
    if skill and season.level_of.get((person.name, skill), 0) < level:
        return False
    return not any(p.kind == "not in role" and p.day is None and p.person == person.name and p.role == role
                   for p in season.pins)


def _too_long(season: Season) -> Iterator[Doubt]:
    """A batch fits between opening and closing, and its leader's work at a stretch fits before the break."""
    rooms = [hours[1] - hours[0] for d in season.days if (hours := work_hours(season, d))]
    kitchen = season.kitchen
    for design in season.designs:
        minutes = shortest_length(recipe(season, design))
        if rooms and minutes > max(rooms):
            yield Doubt("designs", design.name, f"nobody can make it: a batch takes {minutes} minutes and the longest "
                          f"day leaves {max(0, *rooms)} between opening and closing duties.")
        stretch = _leading_stretch(season, design)
        if stretch > kitchen.break_after_minutes:
            yield Doubt("designs", design.name, f"nobody can make it: its leader works {stretch} minutes at a stretch "
                          f"and a break is due after {kitchen.break_after_minutes}.")


def _leading_stretch(season: Season, design: Design) -> int:
    """Minutes that a batch's leader is held at least without a gap that is long enough for the break.

    Example: leading 200, then 10 of pulling, then leading 120: 330 where a break takes 30.
    """
    longest = run = gap_least = gap_most = 0
    for need in recipe(season, design):
        gap_least += need.wait_from
        gap_most += need.wait_to
        if any(role.leads for role in need.roles):
            goes_on = run > 0 and gap_most < season.kitchen.break_minutes
            run = need.minutes + (run + gap_least if goes_on else 0)
            longest = max(longest, run)
            gap_least = gap_most = 0
        else:
            gap_least += need.minutes
            gap_most += need.minutes
    return longest


def _shows(season: Season) -> Iterator[Doubt]:
    for show in season.shows:
        if not any(fits_show(design, show) for design in season.designs):
            yield Doubt("shows", show.name, "no design is simple and mild enough and free of allergens.")
        days = [day for day in season.days if show in shows_on(season, day)]
        if not days:
            yield Doubt("shows", show.name, "it is on no day on which the kitchen is open.")
        start = begins(season, show)
        when = f"{_clock(show.starts)} is" if start == show.starts else (
            f"for {_clock(show.starts)} its batch starts at {_clock(start)}, which is")  # fmt: skip
        hours = {d: o for d in days if (o := opening(season, d))}
        outside = [d for d, o in hours.items() if not o[0] <= show.starts < o[1]]
        before = [d for d in days if (o := work_hours(season, d)) and start < o[0]]
        if outside:
            yield Doubt("shows", show.name, f"{_clock(show.starts)} is outside opening hours on {_some_days(outside)}.")
        elif before:
            yield Doubt("shows", show.name, f"{when} before the kitchen is ready on {_some_days(before)}.")
        elif start > season.kitchen.last_pour:
            yield Doubt("shows", show.name, f"{when} after the last start.")
        able = sum(not show.extra_skill or (p.name, show.extra_skill) in season.level_of for p in season.crew)
        if show.extra_people > able:
            yield Doubt("shows", show.name, f"needs {show.extra_people} extra people{_with(show.extra_skill)}, "
                          f"and {able} can{_meant(season, show.extra_skill) if not able else ''}.")


def _materials(season: Season) -> Iterator[Doubt]:
    used = {use.material for use in season.uses}
    for material in season.materials:
        if material.name not in used:
            yield Doubt("materials", material.name, "nothing takes it; say in the table uses what does.")


def _crew(season: Season) -> Iterator[Doubt]:
    if not season.roles and season.stages:
        yield Doubt("roles", "", "there are none, so batches take nobody's time; say who works at each stage.")
    for person in season.crew:
        if person.overtime and person.longest_minutes <= person.contracted_minutes:
            yield Doubt("crew", person.name, "overtime is allowed, but the longest week is no longer than the "
                          "contracted one.")
        elif person.longest_minutes < person.contracted_minutes:
            yield Doubt("crew", person.name, "the longest week is shorter than the contracted one.")
        if person.young and (person.overtime or person.longest_minutes > 40 * 60):
            yield Doubt("crew", person.name, "is a young worker with overtime or more than 40 hours a week; "
                          "check the local rules.")
        minutes = {day: stretch[2] if (stretch := reach(season, person, day)) else 0 for day in season.days}
        if not any(minutes.values()):
            yield Doubt("crew", person.name, "can never come in: opening hours, availability, absences and the "
                          "shortest shift leave no day.")
        elif (most := _most_a_week(minutes)) is not None and most < person.contracted_minutes:
            yield Doubt("crew", person.name, f"has a contract of {person.contracted_minutes / 60:g} hours a week and "
                          f"can come in for {most / 60:g} at most, as hours, availability and absences are written.")
        if season.roles and not any(
            _ever_fills(season, person, r.name, r.skill, r.level or 1, r.hot) for r in season.roles
        ):
            yield Doubt("crew", person.name, "can fill no role at any stage; add skills if that is not meant.")
    wanted = {r.skill for r in season.roles} | {s.extra_skill for s in season.shows}
    wanted |= {c.skill for c in season.changeovers} | {season.kitchen.packing_skill}
    for skill in sorted({s.skill for s in season.skills} - wanted) if season.roles else ():
        near = suggestion(skill, sorted(wanted - {""}))
        yield Doubt("skills", skill, "no role asks for this skill" + (f"; did you mean {near}?" if near else "."))


def _most_a_week(minutes: Mapping[date, int]) -> int | None:
    """The most minutes of any whole ISO week; None where no week is whole."""
    weeks: dict[tuple[int, int], list[int]] = {}
    for day, most in minutes.items():
        weeks.setdefault(day.isocalendar()[:2], []).append(most)
    return max((sum(week) for week in weeks.values() if len(week) == DAYS_A_WEEK), default=None)


def _demand(season: Season) -> Iterator[Doubt]:
    """Every order and forecast has a day in the season to be packed on and days to be made on."""
    open_days = _open_days(season)
    for order in season.orders:
        if order.cancelled:
            continue
        least = season.kitchen.least_life_days if order.least_life_days is None else order.least_life_days
        latest = order.latest or order.due
        yield from _due(season, "orders", order.id, order.product, order.due, latest, least, open_days)
        if order.late_cents and order.latest in (None, order.due):
            yield Doubt("orders", order.id, "has a late cost but no later latest day, so it is never delivered late.")
    for guess in season.forecasts:
        least = season.kitchen.least_life_days
        day = guess.shelf_day
        yield from _due(season, "forecasts", guess.id, guess.product, day, day, least, open_days)


def _spare(season: Season) -> Iterator[Doubt]:
    """Spare batches are there for a design's deliveries."""
    wanted = {order.product for order in season.orders if not order.cancelled} | {f.product for f in season.forecasts}
    inside = {content.design for content in season.contents if content.product in wanted}
    for design in season.designs:
        if design.spare_batches and design.name not in inside:
            yield Doubt("designs", design.name, "spare batches are wished for, but no order or forecast has it inside: "
                          "none are planned.")


def _due(
    season: Season, table: str, name: str, product: str, due: date, latest: date, least: int, open_days: list[date]
) -> Iterator[Doubt]:
    kitchen = season.kitchen
    if due > kitchen.last_day:
        yield Doubt(table, name, f"is due on {due}, after the season's last day {kitchen.last_day}.")
    elif latest < kitchen.first_day:
        yield Doubt(table, name, f"is due on {due}, before the season's first day {kitchen.first_day}.")
        return
    elif due >= kitchen.first_day and due not in open_days:
        before = [day for day in open_days if day < due]
        ready = f"it has to be packed by {before[-1]}." if before else "no open day comes before it."
        yield Doubt(table, name, f"is due on {due}, when the kitchen is closed; {ready}")
    stocked = {lot.design for lot in season.stock} | {lot.product for lot in season.stock}
    for design_name in season.contents_of[product]:
        design = season.design_by_name[design_name]
        if design.sell_by_days < least + kitchen.packing_from_days:
            yield Doubt(table, name, f"{design_name} keeps {design.sell_by_days} days, too few: it must still keep "
                          f"{least} when delivered, and is packed {kitchen.packing_from_days} after it is made.")
            continue
        pack_days = [day for day in open_days if day <= latest]
        last = pack_days[-1] - timedelta(days=kitchen.packing_from_days) if pack_days else kitchen.first_day
        first = max(due + timedelta(days=least - design.sell_by_days), design.from_day or kitchen.first_day)
        makes = [day for day in open_days if first <= day <= last]
        if not makes and not stocked & {design_name, product}:
            yield Doubt(table, name, f"there is no open day on which {design_name} could be made for it.")


def _facts(season: Season) -> Iterator[Doubt]:
    kitchen = season.kitchen
    for lot in season.stock:
        if lot.made > kitchen.first_day:
            yield Doubt("stock", lot.lot, f"was made on {lot.made}, after the season's first day; "
                          "write it in made instead.")
        if lot.design and lot.made + timedelta(days=season.design_by_name[lot.design].sell_by_days) < kitchen.first_day:
            yield Doubt("stock", lot.lot, "is past its sell-by day when the season begins.")
    for batch in season.made:
        if not kitchen.first_day <= batch.day <= kitchen.last_day:
            yield Doubt("made", batch.batch, f"{batch.day} is outside the season.")
    for pin in season.pins:
        if pin.day is not None and not kitchen.first_day <= pin.day <= kitchen.last_day:
            yield Doubt("pins", pin.kind, f"{pin.day} is outside the season.")
    sent: dict[str, int] = {}
    for shipped in season.shipped:
        sent[shipped.order] = sent.get(shipped.order, 0) + shipped.packs
    for order in season.orders:
        if sent.get(order.id, 0) > order.packs:
            yield Doubt("shipped", order.id, f"{sent[order.id]} packs were shipped and {order.packs} ordered.")


def _working_time(season: Season) -> Iterator[Doubt]:
    """The caution that belongs to a rule set which is switched on."""
    chosen = season.kitchen.working_time
    if chosen == "none":
        return
    yield Doubt("kitchen", "working time",
                f"the {chosen} rules are a help, not advice: local law and agreements decide.")
    if chosen == "european":
        yield Doubt("kitchen", "working time", "the european rules here are stricter than the directive on purpose: "
                      "48 hours in every week, not on average, and a day off after 6 days, not 12.")
    elif any(p.young for p in season.crew):
        yield Doubt("kitchen", "working time", "people of 14 and 15 may not work where candy is made "
                      "(29 CFR 570.33); check the ages of young workers.")


CHECKS: tuple[Callable[[Season], Iterator[Doubt]], ...] = (
    _nothing, _hours, _duties, _unbuildable, _too_long, _shows, _materials, _crew, _demand, _spare, _facts,
    _working_time,
)
