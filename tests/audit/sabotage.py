"""Ways to spoil the plan made by hand, each breaking one rule of the kitchen.

``SABOTAGES`` is a table of (rule, what is done, the spoiled season and plan). The plan is
changed for most; the season where the rule is about what the tables say (a plan made for
other tables). ``python -m tests.trust`` prints it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from scheduler.plan.types import Batch, DayPlan, Draw, Fill, Lot, PackRun, Plan, Shift, Shortfall, StageResult, Task
from scheduler.season.types import (
    Absence,
    Availability,
    Changeover,
    PackedPacks,
    Pin,
    Season,
    ShippedPacks,
    Show,
    SpecialDay,
)
from tests.handmade import MONDAY, THURSDAY, TUESDAY, WEDNESDAY, handmade_plan, handmade_season

PlanChange = Callable[[Plan], Plan]
SeasonChange = Callable[[Season], Season]


@dataclass(frozen=True)
class Sabotage:
    """One way to break one rule."""

    rule: str
    name: str
    plan_change: PlanChange = lambda p: p
    season_change: SeasonChange = lambda s: s

    def season(self) -> Season:
        return self.season_change(handmade_season())

    def plan(self) -> Plan:
        return self.plan_change(handmade_plan())


# How to change one thing -------------------------------------------------------------


def day(when: date, change: Callable[[DayPlan], DayPlan]) -> PlanChange:
    return lambda p: replace(p, days=tuple(change(d) if d.day == when else d for d in p.days))


def batch(name: str, change: Callable[[Batch], Batch]) -> PlanChange:
    return lambda p: replace(
        p, days=tuple(replace(d, batches=tuple(change(b) if b.id == name else b for b in d.batches)) for d in p.days)
    )


def run(name: str, stage: str, **changes: Any) -> PlanChange:
    return batch(
        name, lambda b: replace(b, runs=tuple(replace(r, **changes) if r.stage == stage else r for r in b.runs))
    )


def moved(name: str, minutes: int) -> PlanChange:
    """A whole batch so many minutes later."""
    shift = lambda r: replace(r, starts=r.starts + minutes, ends=r.ends + minutes)  # noqa: E731
    return batch(name, lambda b: replace(b, runs=tuple(shift(r) for r in b.runs)))


def task(when: date, number: int, **changes: Any) -> PlanChange:
    return day(when, lambda d: replace(d, tasks=_nth(d.tasks, number, lambda t: replace(t, **changes))))


def without_task(when: date, number: int) -> PlanChange:
    return day(when, lambda d: replace(d, tasks=d.tasks[:number] + d.tasks[number + 1 :]))


def more(when: date, **added: Any) -> PlanChange:
    """A day with more tasks, batches, packing or shifts."""
    return day(when, lambda d: replace(d, **{k: (*getattr(d, k), *v) for k, v in added.items()}))


def shift(when: date, person: str, **changes: Any) -> PlanChange:
    return day(
        when, lambda d: replace(d, shifts=tuple(replace(s, **changes) if s.person == person else s for s in d.shifts))
    )


def pack(when: date, number: int, **changes: Any) -> PlanChange:
    return day(when, lambda d: replace(d, packing=_nth(d.packing, number, lambda t: replace(t, **changes))))


def fill(number: int, **changes: Any) -> PlanChange:
    """Fills by number: 0 O5, 1 O1, 2 O2, 3 O3, 4 F1 packed, 5 F1 from stock."""
    return lambda p: replace(p, fills=_nth(p.fills, number, lambda f: replace(f, **changes)))


def lot(number: int, **changes: Any) -> PlanChange:
    return lambda p: replace(p, lots=_nth(p.lots, number, lambda x: replace(x, **changes)))


def plan(**changes: Any) -> PlanChange:
    return lambda p: replace(p, **changes)


def stage(number: int, **changes: Any) -> PlanChange:
    return lambda p: replace(p, stages=_nth(p.stages, number, lambda s: replace(s, **changes)))


def short(number: int, **changes: Any) -> PlanChange:
    return lambda p: replace(p, shortfalls=_nth(p.shortfalls, number, lambda s: replace(s, **changes)))


def both(*changes: PlanChange) -> PlanChange:
    def all_of_them(p: Plan) -> Plan:
        for change in changes:
            p = change(p)
        return p

    return all_of_them


def kitchen(**changes: Any) -> SeasonChange:
    return lambda s: replace(s, kitchen=replace(s.kitchen, **changes))


def person(name: str, **changes: Any) -> SeasonChange:
    return lambda s: replace(s, crew=tuple(replace(p, **changes) if p.name == name else p for p in s.crew))


def design(name: str, **changes: Any) -> SeasonChange:
    return lambda s: replace(s, designs=tuple(replace(d, **changes) if d.name == name else d for d in s.designs))


def order(name: str, **changes: Any) -> SeasonChange:
    return lambda s: replace(s, orders=tuple(replace(o, **changes) if o.id == name else o for o in s.orders))


def row(table: str, key: str, value: str, **changes: Any) -> SeasonChange:
    """Rows of a table whose field ``key`` is ``value``, changed."""
    return lambda s: replace(
        s, **{table: tuple(replace(r, **changes) if getattr(r, key) == value else r for r in getattr(s, table))}
    )


def add(**rows: Any) -> SeasonChange:
    """Rows added to tables."""
    return lambda s: replace(s, **{table: (*getattr(s, table), row) for table, row in rows.items()})


def _nth(items: tuple[Any, ...], number: int, change: Callable[[Any], Any]) -> tuple[Any, ...]:
    return tuple(change(item) if i == number else item for i, item in enumerate(items))


def _swap(number: int, other: int) -> Callable[[Batch], Batch]:
    def swapped(b: Batch) -> Batch:
        runs = list(b.runs)
        runs[number], runs[other] = runs[other], runs[number]
        return replace(b, runs=tuple(runs))

    return swapped


def _crew(name: str, stage_name: str, *pairs: tuple[str, str]) -> PlanChange:
    return run(name, stage_name, crew=pairs)


# The table ---------------------------------------------------------------------------

LEMON_LIFE = date(2026, 8, 29)

HOURS = [
    Sabotage("opening hours", "a shift begins before opening", shift(WEDNESDAY, "Cleo", starts=470)),
    Sabotage("opening hours", "a shift ends after closing", shift(TUESDAY, "Ben", ends=1081)),
    Sabotage("opening hours", "the season's last day is closed, someone is in", both(
        more(THURSDAY, shifts=[Shift("Cleo", 480, 660)]), day(THURSDAY, lambda d: replace(d, missed_shows=()))),
        add(special_days=SpecialDay(THURSDAY, "closed"))),
    Sabotage("opening hours", "packing ends before it begins", pack(WEDNESDAY, 1, starts=540, ends=525)),
    Sabotage("opening hours", "a batch on the day after the season",
             lambda p: replace(p, days=(*p.days, replace(p.days[0], day=THURSDAY + timedelta(days=1))))),
    Sabotage("opening hours", "the kitchen opens later on one day", season_change=add(
        special_days=SpecialDay(MONDAY, "open", opens=485, closes=1080))),
    Sabotage("opening hours", "a task at midnight", task(MONDAY, 2, starts=1410, ends=1440)),
    Sabotage("last pour", "the last pour is earlier", season_change=kitchen(last_pour=734)),
    Sabotage("last pour", "heart is moved to 16:05", moved("0302-2", 390)),
    Sabotage("last pour", "lemon is poured at 16:01", run("0302-1", "pour", starts=961, ends=981)),
    Sabotage("last pour", "nut is moved to 17:00", moved("0303-2", 285)),
    Sabotage("last pour", "no pour after 10:00 any more", season_change=kitchen(last_pour=600)),
    Sabotage("clock step", "lemon starts a minute late", moved("0302-1", 1), kitchen(clock_step=5)),
    Sabotage("clock step", "Cleo comes at 8:01", shift(WEDNESDAY, "Cleo", starts=481), kitchen(clock_step=5)),
    Sabotage("clock step", "Ben leaves at 17:59", shift(TUESDAY, "Ben", ends=1079), kitchen(clock_step=10)),
    Sabotage("clock step", "the clock goes in half hours", season_change=kitchen(clock_step=30)),
    Sabotage("clock step", "a show at 12:16 that is missed does not excuse 12:17", moved("0302-2", 2), lambda s: add(
        shows=Show("fair", 736, day=MONDAY))(kitchen(clock_step=15)(s))),
    Sabotage("opening duty", "nobody opens", without_task(MONDAY, 0)),
    Sabotage("opening duty", "two people open instead of one", task(MONDAY, 0, people=("Ana", "Ben"))),
    Sabotage("opening duty", "the opening is a minute short", task(MONDAY, 0, ends=499)),
    Sabotage("opening duty", "the first batch is poured during the opening", moved("0302-1", -1)),
    Sabotage("opening duty", "opening twice", more(TUESDAY, tasks=[Task("opening", 480, 500, ("Cleo",))])),
    Sabotage("opening duty", "the tables ask for 25 minutes", season_change=kitchen(opening_minutes=25)),
    Sabotage("closing duty", "nobody closes", without_task(TUESDAY, 5)),
    Sabotage("closing duty", "one person closes instead of two", task(MONDAY, 2, people=("Ben",))),
    Sabotage("closing duty", "the same person is named twice", task(MONDAY, 2, people=("Ben", "Ben"))),
    Sabotage("closing duty", "closing begins during the last cut", task(MONDAY, 2, starts=690, ends=720)),
    Sabotage("closing duty", "closing begins during the last clean", task(TUESDAY, 5, starts=829, ends=859)),
    Sabotage("closing duty", "the closing is five minutes short", task(TUESDAY, 5, ends=855)),
]  # fmt: skip

BATCHES = [
    Sabotage("recipe", "a stage is missing", batch("0302-1", lambda b: replace(b, runs=b.runs[:-1]))),
    Sabotage("recipe", "two stages change places in the list", batch("0302-1", _swap(0, 1))),
    Sabotage("recipe", "rolling is cut short", run("0302-2", "roll", ends=675)),
    Sabotage("recipe", "a stage at another station", run("0302-2", "cut", station="bench")),
    Sabotage("recipe", "the cut waits longer than it may", run("0303-2", "cut", starts=811, ends=826)),
    Sabotage("recipe", "a stage begins before the one before ends", run("0302-2", "cut", starts=679, ends=694)),
    Sabotage("recipe", "a gap before rolling", run("0302-2", "roll", starts=656, ends=681)),
    Sabotage("recipe", "a batch with no stages", batch("0303-2", lambda b: replace(b, runs=()))),
    Sabotage("recipe", "a design nobody knows", batch("0303-2", lambda b: replace(b, design="unicorn"))),
    Sabotage("recipe", "a harder design takes longer", season_change=design("heart", difficulty=2)),
    Sabotage("station places", "place 2 of one", run("0302-1", "pull", place=2)),
    Sabotage("station places", "place 0", run("0303-2", "build", place=0)),
    Sabotage("station places", "two batches on the table at once", run("0302-2", "pour", starts=510, ends=530)),
    Sabotage("station places", "a clean during a run", task(MONDAY, 1, starts=570, ends=580)),
    Sabotage("station places", "two people at one packing place", more(
        WEDNESDAY, packing=[PackRun("nut jar", 1, "Ana", 1, 500, 501)])),
    Sabotage("station places", "no such packing place", pack(TUESDAY, 0, place=2)),
    Sabotage("station places", "a clean at no station", task(MONDAY, 1, station="attic")),
    Sabotage("role filled", "nobody cuts", _crew("0302-1", "cut")),
    Sabotage("role filled", "two cutters", _crew("0302-1", "cut", ("cutter", "Cleo"), ("cutter", "Ben"))),
    Sabotage("role filled", "one person draws and rolls", _crew(
        "0302-1", "roll", ("drawer", "Ana"), ("roller", "Ana"))),
    Sabotage("role filled", "a builder of too low a level", _crew("0302-2", "build", ("builder", "Ben"))),
    Sabotage("role filled", "a builder without the skill", _crew("0302-1", "build", ("builder", "Cleo"))),
    Sabotage("role filled", "a role that the stage has not", _crew("0302-1", "cut", ("stirrer", "Cleo"))),
    Sabotage("role filled", "somebody unknown", _crew("0302-1", "cut", ("cutter", "Zed"))),
    Sabotage("role filled", "the picture is harder than the builder's level", season_change=design(
        "lemon", difficulty=4)),
    Sabotage("leader stays", "another one builds", both(
        _crew("0303-1", "build", ("builder", "Ana")), _crew("0303-1", "pull", ("puller", "Ben")))),
    Sabotage("leader stays", "another one pours", _crew("0302-1", "pour", ("pourer", "Ben"))),
    Sabotage("leader stays", "another one pours the nut", _crew("0303-2", "pour", ("pourer", "Ana"))),
    Sabotage("leader stays", "two pour", _crew("0302-2", "pour", ("pourer", "Ana"), ("pourer", "Ben"))),
    Sabotage("leader stays", "the drawer must lead too", _crew(
        "0303-2", "roll", ("drawer", "Ana"), ("roller", "Ben")), row("roles", "name", "drawer", leads=True)),
    Sabotage("young worker", "Cleo draws the rods", _crew("0302-1", "roll", ("drawer", "Cleo"), ("roller", "Ben"))),
    Sabotage("young worker", "Cleo pours", _crew("0302-2", "pour", ("pourer", "Cleo"))),
    Sabotage("young worker", "cutting is hot", season_change=row("roles", "name", "cutter", hot=True)),
    Sabotage("young worker", "Ben is young", season_change=person("Ben", young=True)),
    Sabotage("young worker", "Ana is young", season_change=person("Ana", young=True)),
    Sabotage("supplies", "the nut arrives on Wednesday", season_change=design("nut", from_day=WEDNESDAY)),
    Sabotage("supplies", "the lemon arrives on Tuesday", season_change=design("lemon", from_day=TUESDAY)),
    Sabotage("supplies", "the heart arrives after the season", season_change=design(
        "heart", from_day=date(2027, 1, 1))),
    Sabotage("supplies", "a nut on Monday", batch("0302-1", lambda b: replace(b, design="nut"))),
    Sabotage("supplies", "the nut's day a day earlier", day(TUESDAY, lambda d: replace(d, day=MONDAY))),
]  # fmt: skip

PEOPLE = [
    Sabotage("one job at a time", "Ben pulls while he cleans", task(MONDAY, 1, starts=600, ends=610)),
    Sabotage("one job at a time", "Cleo packs during her break", pack(TUESDAY, 1, starts=605, ends=665)),
    Sabotage("one job at a time", "Cleo cuts during the show's extra hour", task(TUESDAY, 1, ends=740)),
    Sabotage("one job at a time", "Ana goes home before the closing", shift(TUESDAY, "Ana", ends=859)),
    Sabotage("one job at a time", "Ana works without a shift", more(
        WEDNESDAY, packing=[PackRun("nut jar", 1, "Ana", 1, 600, 601)])),
    Sabotage("one job at a time", "Ben comes a minute late", shift(MONDAY, "Ben", starts=521)),
    Sabotage("one job at a time", "somebody unknown cleans", task(TUESDAY, 3, people=("Zed",))),
    Sabotage("one job at a time", "one person named twice in a clean", task(TUESDAY, 4, people=("Ana", "Ana"))),
    Sabotage("pulls a day", "Ben's limit is 224", season_change=person("Ben", pulls_day=224)),
    Sabotage("pulls a day", "Cleo pulls", _crew("0302-1", "pull", ("puller", "Cleo"))),
    Sabotage("pulls a day", "Ana pulls all of Monday", both(
        _crew("0302-1", "pull", ("puller", "Ana")), _crew("0302-2", "pull", ("puller", "Ana")))),
    Sabotage("pulls a day", "a load is 80 pulls", season_change=design("lemon", pulls_per_load=80)),
    Sabotage("pulls a day", "rolling counts as pulling", season_change=row("roles", "name", "roller", pulls=True)),
    Sabotage("pulls a week", "Ben's limit is 224 a week", season_change=person("Ben", pulls_week=224)),
    Sabotage("pulls a week", "Ana's limit is 74 a week", season_change=person("Ana", pulls_week=74)),
    Sabotage("pulls a week", "a load is 120 pulls", season_change=design("heart", pulls_per_load=120)),
    Sabotage("pulls a week", "Ben pulls on Tuesday too", _crew("0303-1", "pull", ("puller", "Ben")),
             person("Ben", pulls_week=299)),
    Sabotage("pulls a week", "Cleo pulls on Tuesday", _crew("0303-1", "pull", ("puller", "Cleo"))),
    Sabotage("pull rest", "66 minutes between pulls", season_change=kitchen(pull_rest_minutes=66)),
    Sabotage("pull rest", "heart is pulled 14 minutes after lemon", run("0302-2", "pull", starts=544, ends=564)),
    Sabotage("pull rest", "two pulls at once", run("0302-2", "pull", starts=525, ends=545)),
    Sabotage("pull rest", "rolling counts as pulling, 20 minutes before heart", season_change=lambda s: row(
        "roles", "name", "roller", pulls=True)(kitchen(pull_rest_minutes=21)(s))),
    Sabotage("pull rest", "pulled back to back", run("0302-2", "pull", starts=530, ends=550)),
    Sabotage("presence", "Ben is on leave on Monday", season_change=add(absences=Absence("Ben", MONDAY, MONDAY))),
    Sabotage("presence", "Ana can stay until 14:19 only", season_change=lambda s: replace(
        s, availability=tuple(Availability("Ana", w, 480, 859) for w in range(4)))),
    Sabotage("presence", "Ana has no Tuesday", season_change=lambda s: replace(
        s, availability=tuple(a for a in s.availability if a.weekday != 1))),
    Sabotage("presence", "Cleo leaves at noon for the dentist", season_change=add(
        absences=Absence("Cleo", TUESDAY, TUESDAY, starts=720))),
    Sabotage("presence", "two shifts on a day", more(WEDNESDAY, shifts=[Shift("Cleo", 700, 900)])),
    Sabotage("presence", "somebody unknown has a shift", more(WEDNESDAY, shifts=[Shift("Zed", 480, 700)])),
    Sabotage("presence", "Ben works on his day of leave", more(WEDNESDAY, shifts=[Shift("Ben", 480, 700)])),
    Sabotage("call-in", "Cleo's shift is a minute short", shift(WEDNESDAY, "Cleo", ends=659)),
    Sabotage("call-in", "Ana's shortest call-in is 201", season_change=person("Ana", shortest_shift=201)),
    Sabotage("call-in", "Ben's longest shift is 200", season_change=person("Ben", longest_shift=200)),
    Sabotage("call-in", "the kitchen's longest day is 359", season_change=kitchen(longest_day_minutes=359)),
    Sabotage("call-in", "Cleo stays nine hours", shift(WEDNESDAY, "Cleo", ends=1020)),
    Sabotage("meal break", "no break in six hours", shift(TUESDAY, "Cleo", break_starts=None, break_ends=None)),
    Sabotage("meal break", "a break of 29 minutes", shift(TUESDAY, "Cleo", break_ends=629)),
    Sabotage("meal break", "the break is too early", shift(TUESDAY, "Cleo", break_starts=500, break_ends=530)),
    Sabotage("meal break", "the break is too late", shift(TUESDAY, "Cleo", break_starts=785, break_ends=815)),
    Sabotage("meal break", "the break is outside the shift", shift(
        WEDNESDAY, "Cleo", break_starts=660, break_ends=690)),
    Sabotage("meal break", "the break has one end", shift(TUESDAY, "Cleo", break_ends=None)),
    Sabotage("meal break", "the break is nearer to coming than it may be", season_change=kitchen(
        around_break_minutes=121)),
    Sabotage("meal break", "two hundred minutes at a stretch are the limit", season_change=kitchen(
        break_after_minutes=200)),
    Sabotage("rest", "twenty hours of rest are asked for", season_change=kitchen(rest_minutes=1200)),
    Sabotage("rest", "Cleo from 18:00 to 08:00, 15 hours asked", shift(TUESDAY, "Cleo", ends=1080),
             kitchen(rest_minutes=900)),
    Sabotage("rest", "Ben's Tuesday begins an hour after his Monday", both(
        shift(MONDAY, "Ben", ends=1500), shift(TUESDAY, "Ben", starts=120))),
    Sabotage("rest", "a shift into the next day", shift(TUESDAY, "Cleo", ends=1440 + 400)),
    Sabotage("rest", "the last night, one minute short", more(
        THURSDAY, shifts=[Shift("Cleo", 480, 660)]), kitchen(rest_minutes=1261)),
    Sabotage("week hours", "Ana may work 379", season_change=person("Ana", longest_minutes=379)),
    Sabotage("week hours", "Ana may do no overtime", season_change=person("Ana", overtime=False)),
    Sabotage("week hours", "Cleo is contracted for 689", season_change=person("Cleo", contracted_minutes=689)),
    Sabotage("week hours", "the break is paid", season_change=lambda s: person("Cleo", contracted_minutes=700)(
        kitchen(break_paid=True)(s))),
    Sabotage("week hours", "Cleo stays a quarter of an hour longer", shift(WEDNESDAY, "Cleo", ends=675)),
    Sabotage("days in a row", "two days are the limit", season_change=kitchen(days_in_a_row=2)),
    Sabotage("days in a row", "one day is the limit", season_change=kitchen(days_in_a_row=1)),
    Sabotage("days in a row", "Cleo on all four days to the last", more(
        THURSDAY, shifts=[Shift("Cleo", 480, 660)]), kitchen(days_in_a_row=3)),
    Sabotage("days in a row", "Ana on three days", more(WEDNESDAY, shifts=[Shift("Ana", 480, 700)]),
             kitchen(days_in_a_row=2)),
    Sabotage("days in a row", "Ben on three days", more(WEDNESDAY, shifts=[Shift("Ben", 480, 700)]),
             kitchen(days_in_a_row=2)),
    Sabotage("working time", "EU: Cleo has no break in seven hours", shift(
        TUESDAY, "Cleo", ends=900, break_starts=None, break_ends=None), kitchen(working_time="european")),
    Sabotage("working time", "EU: young Cleo stays nine hours", shift(WEDNESDAY, "Cleo", ends=1020),
             kitchen(working_time="european")),
    Sabotage("working time", "EU: ten hours and a half between days", both(
        shift(MONDAY, "Ben", ends=1260), shift(TUESDAY, "Ben", starts=450)),
             kitchen(working_time="european", rest_minutes=0)),
    Sabotage("working time", "EU: somebody is in for 71 hours of the week", both(
        *(more(d, shifts=[Shift("Zed", 0, 1430)]) for d in (MONDAY, WEDNESDAY, THURSDAY))),
             kitchen(working_time="european")),
    Sabotage("working time", "US: overtime at 125 percent", more(THURSDAY, shifts=[
        Shift("Ana", 0, 1430), Shift("Ana", 10, 1430)]),
             lambda s: person("Ana", overtime_percent=125)(kitchen(working_time="american")(s))),
    Sabotage("working time", "US: overtime from 45 hours on only", more(THURSDAY, shifts=[
        Shift("Ana", 0, 1430), Shift("Ana", 10, 1430)]),
             lambda s: person("Ana", contracted_minutes=2700)(kitchen(working_time="american")(s))),
    Sabotage("working time", "a meal break of 20 minutes", shift(TUESDAY, "Cleo", break_ends=620), kitchen(
        working_time="american with meal breaks", break_minutes=20)),
    Sabotage("working time", "eleven hours with one meal break", shift(TUESDAY, "Cleo", ends=1141), kitchen(
        working_time="american with meal breaks")),
]  # fmt: skip

CLEANING = [
    Sabotage("cleaning", "no clean between lemon and heart", without_task(MONDAY, 1)),
    Sabotage("cleaning", "the clean is five minutes short", task(MONDAY, 1, ends=580)),
    Sabotage("cleaning", "the clean is at another station", task(MONDAY, 1, station="hook")),
    Sabotage("cleaning", "no end-of-day clean of the bench", without_task(TUESDAY, 4)),
    Sabotage("cleaning", "one person instead of two clears allergens", task(TUESDAY, 4, people=("Ben",))),
    Sabotage("cleaning", "the table is cleaned before the nut", task(TUESDAY, 3, starts=690, ends=710)),
    Sabotage("cleaning", "the table is cleaned without the skill", task(TUESDAY, 3, people=("Cleo",))),
    Sabotage("cleaning", "a longer clean is asked for", season_change=add(
        changeovers=Changeover("sour to plain", "bench", 15))),
    Sabotage("cleaning", "lemon has nuts in it", season_change=design("lemon", allergens=("tree nuts",))),
    Sabotage("show", "the show is late", moved("0303-1", 1)),
    Sabotage("show", "no batch is for the show", batch("0303-1", lambda b: replace(b, show=""))),
    Sabotage("show", "two batches are for the show", batch("0303-2", lambda b: replace(b, show="market show"))),
    Sabotage("show", "another batch is poured at the show's minute", run("0303-2", "pour", starts=660, ends=680)),
    Sabotage("show", "the pull is what visitors come for", season_change=row(
        "shows", "name", "market show", stage="pull")),
    Sabotage("show", "no extra hands", without_task(TUESDAY, 1)),
    Sabotage("show", "the extra hands leave early", task(TUESDAY, 1, ends=719)),
    Sabotage("show", "an extra hand nobody knows", task(TUESDAY, 1, people=("Zed",))),
    Sabotage("show", "the missed show is not named", day(THURSDAY, lambda d: replace(d, missed_shows=()))),
    Sabotage("show", "the day of the missed show is left out", lambda p: replace(p, days=p.days[:3])),
    Sabotage("show", "a show that is held is named as missed", day(
        TUESDAY, lambda d: replace(d, missed_shows=("market show",)))),
    Sabotage("show", "a show that is not there is named as missed", day(
        MONDAY, lambda d: replace(d, missed_shows=("gala",)))),
    Sabotage("show", "lemon is too strong", season_change=design("lemon", strength=2)),
    Sabotage("show", "lemon is too hard", season_change=row("shows", "name", "market show", hardest=0)),
    Sabotage("show", "lemon has an allergen", season_change=design("lemon", allergens=("milk",))),
    Sabotage("show", "one more show", season_change=add(shows=Show("children's show", 600, day=MONDAY))),
    Sabotage("show", "the extra hand needs a skill", season_change=row(
        "shows", "name", "market show", extra_skill="pictures")),
]  # fmt: skip

PACKING = [
    Sabotage("packing", "too little time", pack(WEDNESDAY, 0, ends=524)),
    Sabotage("packing", "a slower product", season_change=row("products", "name", "mixed bag", packing_seconds=91)),
    Sabotage("packing", "packing needs a skill", season_change=kitchen(packing_skill="packing")),
    Sabotage("packing", "no packs", pack(TUESDAY, 0, packs=0)),
    Sabotage("packing", "a product nobody knows", pack(TUESDAY, 0, product="unicorn jar")),
    Sabotage("packing", "somebody unknown packs", pack(TUESDAY, 0, person="Zed")),
    Sabotage("candy before packing", "packed on the day it is made", fill(3, packed=TUESDAY)),
    Sabotage("candy before packing", "packed before it is made", fill(4, packed=MONDAY)),
    Sabotage("candy before packing", "two days of rest are asked for", season_change=kitchen(packing_from_days=2)),
    Sabotage("candy before packing", "Tuesday's lemon for Tuesday's jars", fill(
        1, draws=(Draw("0303-1", "lemon", 600),), sell_by=date(2026, 8, 30))),
    Sabotage("candy before packing", "nut for the mixed bag's day", fill(
        2, draws=(Draw("0303-2", "nut", 600),))),
    Sabotage("packed before due", "fewer packed than filled", pack(TUESDAY, 0, packs=39)),
    Sabotage("packed before due", "more packed than filled", pack(WEDNESDAY, 0, packs=46)),
    Sabotage("packed before due", "filled on a day without packing", fill(4, packed=THURSDAY)),
    Sabotage("packed before due", "late, but not said", fill(0, late=False)),
    Sabotage("packed before due", "in time, but called late", fill(1, late=True)),
    Sabotage("packed before due", "no late delivery is agreed", season_change=order("O5", latest=None)),
    Sabotage("packed before due", "after the latest day", season_change=order("O1", due=MONDAY, latest=MONDAY)),
    Sabotage("packed before due", "packed on no day", fill(3, packed=None)),
    Sabotage("packed before due", "ready packs called late", fill(5, late=True)),
    Sabotage("contents", "a pack with a piece too few", fill(3, draws=(Draw("0303-2", "nut", 899),))),
    Sabotage("contents", "a mixed bag without hearts", fill(2, draws=(Draw("0302-1", "lemon", 600),))),
    Sabotage("contents", "a jar with other candy", fill(1, draws=(Draw("0303-2", "nut", 600),))),
    Sabotage("contents", "nothing is drawn", fill(1, draws=())),
    Sabotage("contents", "another product than ordered", fill(0, product="nut jar")),
    Sabotage("contents", "candy for packs that stand ready", fill(5, draws=(Draw("0302-1", "lemon", 100),))),
    Sabotage("contents", "the recipe of the bag changes", season_change=row("contents", "design", "heart", pieces=11)),
]  # fmt: skip

LOTS = [
    Sabotage("lots", "a lot with more pieces than the batch", lot(1, pieces=901)),
    Sabotage("lots", "a lot with another sell-by", lot(2, sell_by=LEMON_LIFE + timedelta(days=1))),
    Sabotage("lots", "a lot made on another day", lot(3, made=MONDAY)),
    Sabotage("lots", "a lot from nowhere", lambda p: replace(p, lots=(*p.lots, Lot("X", "nut", MONDAY, 9, MONDAY)))),
    Sabotage("lots", "a batch is not among the lots", lambda p: replace(p, lots=p.lots[:-1])),
    Sabotage("lots", "a lot listed twice", lambda p: replace(p, lots=(*p.lots, p.lots[0]))),
    Sabotage("lots", "a lot is drawn beyond its pieces", fill(4, draws=(Draw("0302-1", "lemon", 300),))),
    Sabotage("lots", "drawn from an unknown lot", fill(3, draws=(Draw("X", "nut", 900),))),
    Sabotage("lots", "hearts from a lemon lot", fill(
        2, draws=(Draw("0302-1", "lemon", 200), Draw("0302-1", "heart", 400)))),
    Sabotage("lots", "more ready packs than there are", fill(5, packs=6)),
    Sabotage("lots", "ready packs of an unknown lot", fill(5, pack_lot="P9")),
    Sabotage("lots", "pieces drawn back", fill(1, draws=(Draw("0302-1", "lemon", 601), Draw("S1", "lemon", -1)))),
    Sabotage("lots", "another sell-by on a fill", fill(4, sell_by=LEMON_LIFE + timedelta(days=1))),
    Sabotage("lots", "no sell-by on a fill", fill(0, sell_by=None)),
    Sabotage("lots", "two batches of one id", batch("0303-1", lambda b: replace(b, id="0302-1"))),
    Sabotage("lots", "stock was packed already", season_change=add(packed=PackedPacks(MONDAY, "lemon jar", 4))),
    Sabotage("lots", "ready packs were shipped already", season_change=add(shipped=ShippedPacks(MONDAY, "O1", 5))),
    Sabotage("remaining life", "nut lasts 147 days", season_change=order("O3", least_life_days=120)),
    Sabotage("remaining life", "the late jars must last longer", season_change=order("O5", least_life_days=152)),
    Sabotage("remaining life", "the kitchen asks for 163 days", season_change=kitchen(least_life_days=163)),
    Sabotage("remaining life", "the nut keeps 30 days only", season_change=design("nut", sell_by_days=30)),
    Sabotage("remaining life", "an older lot goes to the cafe", fill(
        1, draws=(Draw("S1", "lemon", 200), Draw("0302-1", "lemon", 400)), sell_by=date(2026, 8, 1)),
        order("O1", least_life_days=170)),
    Sabotage("whole order", "O4 in part", lambda p: replace(
        p, fills=(*p.fills, Fill("O4", "mixed bag", 20, WEDNESDAY, False, (Draw("0302-2", "heart", 200),))))),
    Sabotage("whole order", "O3 takes all or nothing", season_change=order("O3", partial=False)),
    Sabotage("whole order", "one pack less for the cafe", fill(1, packs=29), order("O1", partial=False)),
    Sabotage("whole order", "one pack more for the cafe", fill(1, packs=31), order("O1", partial=False)),
    Sabotage("whole order", "the order grows", season_change=order("O2", partial=False, packs=41)),
]  # fmt: skip

PINS = [
    Sabotage("pins", "two hearts are pinned", season_change=row("pins", "kind", "make", batches=2)),
    Sabotage("pins", "no lemon is pinned", season_change=add(pins=Pin("do not make", MONDAY, design="lemon"))),
    Sabotage("pins", "Tuesday is pinned free of making", season_change=add(pins=Pin("no making", TUESDAY))),
    Sabotage("pins", "Ben is pinned on the last day", season_change=add(pins=Pin("works", THURSDAY, person="Ben"))),
    Sabotage("pins", "Cleo is pinned off", season_change=add(pins=Pin("off", WEDNESDAY, person="Cleo"))),
    Sabotage("pins", "Ben never rolls", season_change=add(pins=Pin("not in role", person="Ben", role="roller"))),
    Sabotage("pins", "Ana does not draw on Monday", season_change=add(
        pins=Pin("not in role", MONDAY, person="Ana", role="drawer"))),
    Sabotage("pins", "a lemon is pinned on the last day", lambda p: replace(p, days=p.days[:3]),
             add(pins=Pin("make", THURSDAY, design="lemon"))),
    Sabotage("pins", "Cleo pulls", _crew("0302-1", "pull", ("puller", "Cleo"))),
]  # fmt: skip

TOTALS = [
    Sabotage("totals", "a shortfall is hidden", lambda p: replace(p, shortfalls=p.shortfalls[:1])),
    Sabotage("totals", "a shortfall of fewer packs", short(1, packs=59)),
    Sabotage("totals", "a shortfall of fewer pieces", short(0, pieces=80)),
    Sabotage("totals", "a shortfall weighs less", short(1, weighted=17999)),
    Sabotage("totals", "a shortfall that is none", lambda p: replace(
        p, shortfalls=(*p.shortfalls, Shortfall("O1", 1, 20, 800)))),
    Sabotage("totals", "a shortfall listed twice", lambda p: replace(p, shortfalls=(*p.shortfalls, p.shortfalls[0]))),
    Sabotage("totals", "a better shortfall value", stage(1, value=18000, bound=18000)),
    Sabotage("totals", "no missed show", stage(0, value=0, bound=0)),
    Sabotage("totals", "the cost is a cent less", stage(2, value=41049)),
    Sabotage("totals", "the wage is higher", season_change=person("Cleo", wage_cents=1201)),
    Sabotage("totals", "overtime costs more", season_change=person("Ana", overtime_percent=151)),
    Sabotage("totals", "late packs cost more", season_change=order("O5", late_cents=51)),
    Sabotage("totals", "a bound above the value", stage(1, bound=18501)),
    Sabotage("totals", "called proven with a gap", stage(1, proven=True)),
    Sabotage("totals", "called proven with no bound", stage(2, proven=True, bound=None)),
    Sabotage("totals", "a stage is left out", lambda p: replace(p, stages=p.stages[:1] + p.stages[2:])),
    Sabotage("totals", "one more stage, called proven", lambda p: replace(
        p, stages=(*p.stages, StageResult("evenness", "percent", 50, 40, True)))),
    Sabotage("totals", "evenness is not what people pull", lambda p: replace(
        p, stages=(*p.stages, StageResult("evenness", "per mille of pull limit", 749, None, False)))),
    Sabotage("totals", "freshness is not how long candy waits", lambda p: replace(
        p, stages=(*p.stages, StageResult("freshness", "piece days", 10, None, False)))),
    Sabotage("totals", "a cancelled order is filled", season_change=order("O2", cancelled=True)),
    Sabotage("totals", "more packs than asked for", season_change=order("O1", packs=29)),
    Sabotage("totals", "an order nobody placed", fill(3, line="O99")),
    Sabotage("totals", "another kitchen", plan(kitchen="Elsewhere")),
    Sabotage("totals", "another last day", plan(last_day=WEDNESDAY)),
    Sabotage("totals", "a high forecast is planned for", season_change=kitchen(plan_for="high")),
    Sabotage("totals", "the order weighs more", season_change=order("O4", priority=1)),
    Sabotage("totals", "a fill of no packs", fill(4, packs=0)),
    Sabotage("totals", "days out of order", lambda p: replace(p, days=p.days[::-1])),
]  # fmt: skip

SABOTAGES: tuple[Sabotage, ...] = (
    *HOURS, *BATCHES, *PEOPLE, *CLEANING, *PACKING, *LOTS, *PINS, *TOTALS,
)  # fmt: skip


def caught() -> list[tuple[Sabotage, bool]]:
    """Every sabotage, and whether the audit names its rule."""
    from scheduler.audit import audit

    return [(s, s.rule in {v.rule for v in audit(s.season(), s.plan())}) for s in SABOTAGES]


