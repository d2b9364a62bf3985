"""Values from outside, each with its source, and what this project makes of them.

One row a check: what, source, expected, and how to get ours. ``test_checks`` holds ours
against the expected; DEVELOPERS.md carries the table (``python -m tests.published.checks``
prints it). "Memory": quoted from memory and worked out again here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any

from dateutil.easter import easter
from scheduler.plan.lots import allocate
from scheduler.plan.summary import person_weeks, week_cost
from scheduler.plan.types import Batch, DayPlan, PackRun, Shift
from scheduler.season.types import Content, Design, Order, Person, Product
from tests.audit.sabotage import kitchen, shift
from tests.handmade import MONDAY, TUESDAY, handmade_plan, handmade_season
from tests.published import job_shops

EU, FLSA = "Directive 2003/88/EC", "FLSA, 29 CFR"


@dataclass(frozen=True)
class Check:
    """One published value."""

    what: str
    source: str
    expected: Any
    got: Callable[[], Any]


def _shop(machines: list[list[int]], minutes: list[list[int]], wait_to: int) -> int | None:
    from tests.published.test_scheduling import rows, shop, shortest

    return shortest(shop(rows(machines, minutes), wait_to=wait_to)).cost


def _johnson(wait_to: int) -> int | None:
    from tests.published.test_scheduling import shop, shortest

    first, second = (4, 4, 30, 6, 2), (5, 1, 4, 30, 3)
    return shortest(shop([[(0, a), (1, b)] for a, b in zip(first, second, strict=True)], wait_to=wait_to)).cost


def _places(minutes: tuple[int, ...], places: int) -> int | None:
    from tests.published.test_scheduling import shop, shortest

    return shortest(shop([[(0, m)] for m in minutes], places)).cost


def _pyjobshop() -> str:
    from scheduler.models.day.fit import fit_day
    from scheduler.models.solvers.engine import Limits
    from tests.published.test_scheduling import pyjobshop_end, random_kitchen

    season, request = random_kitchen(3)
    ours, theirs = fit_day(season, request, Limits(effort=20), "shortest").cost, pyjobshop_end(season, request)
    return "equal" if ours == theirs else f"{ours} and {theirs}"


def _glover() -> int:
    """Two batches a day on days 1 to 3; five orders for days 1 to 2, one for days 2 to 3: how many are met."""
    from scheduler.demand.lines import Demand, Line, Window
    from scheduler.models.counts.board import Board
    from scheduler.models.counts.demand import add_fills, add_windows, shortfall
    from scheduler.models.facts import Facts
    from scheduler.models.solvers import engine

    lines = tuple(
        Line(f"O{i}", "firm", "", "tin", 1, 1, 1, 1, True, False, 0, b, b, (Window("Kite", 1, a, b),))
        for i, (a, b) in enumerate([(0, 1)] * 5 + [(1, 2)])
    )
    season = replace(handmade_season(), designs=(Design("Kite", 1, 1, 100),), products=(Product("tin"),),
                     contents=(Content("tin", "Kite", 1),), pins=())  # fmt: skip
    board = Board(Facts(season, Demand(lines, ())))
    for t in range(3):
        board.make["Kite", t] = board.model.new_int_var(0, 2, f"{t}")
    add_fills(board)
    add_windows(board)
    board.model.minimize(shortfall(board))
    answer = engine.solve(board.model)
    assert answer.objective is not None
    return 6 - answer.objective


def _glover_certificate() -> str:
    """The same six orders in a kitchen, planned to the minute: the days and the sum that prove the missing one."""
    from scheduler.answers.explain import with_certificates
    from scheduler.audit import audit
    from scheduler.models.search.loop import plan_season
    from tests.answers.test_certificates import convex_windows

    season = convex_windows()
    plan = with_certificates(season, plan_season(season))
    assert not audit(season, plan)
    (found,) = plan.extras["certificates"]  # type: ignore[misc]
    days = [season.index(date.fromisoformat(found[end])) + 1 for end in ("first", "last")]
    return f"days {days[0]} to {days[1]}: {found['needed']} less {found['there']}"


def _packs(pieces: dict[str, int], inside: dict[str, int]) -> int:
    """Assortments that candy on hand gives: the project's own giving out of lots."""
    from scheduler.demand.build import build_demand

    day = MONDAY
    season = replace(
        handmade_season(),
        designs=tuple(Design(d, 1, n, 100) for d, n in pieces.items()),
        products=(Product("bag", packing_seconds=1),),
        contents=tuple(Content("bag", d, n) for d, n in inside.items()),
        orders=(Order("A", "bag", 10_000, day + timedelta(days=3)),),
        forecasts=(), stock=(), pins=(), exceptions=(),
    )  # fmt: skip
    days = (
        DayPlan(day, tuple(Batch(f"0302-{i}", d, ()) for i, d in enumerate(pieces))),
        DayPlan(day + timedelta(days=1), packing=(PackRun("bag", 10_000, "Ana", 1, 480, 900),)),
    )
    return sum(f.packs for f in allocate(season, build_demand(season), days).fills)


def _pay(hours: float, dollars: int) -> int:
    person = Person("Pat", 40 * 60, 80 * 60, wage_cents=100 * dollars, overtime=True, overtime_percent=150)
    return week_cost(person, round(60 * hours))


def _two_weeks() -> list[int]:
    """Overtime minutes of 30 hours in one week and 50 in the next."""
    season, plan = handmade_season(), handmade_plan()
    ana = replace(season.crew[0], contracted_minutes=2400)
    monday = date(2026, 3, 2)
    days = tuple(
        DayPlan(monday + timedelta(days=7 * week + d), shifts=(Shift("Ana", 480, 480 + minutes),))
        for week, minutes in ((0, 360), (1, 600)) for d in range(5)
    )  # fmt: skip
    return [w.overtime_minutes for w in person_weeks(replace(season, crew=(ana,)), replace(plan, days=days))]


def _week(day: date) -> str:
    from scheduler.audit.weeks import week_of

    _, year, week = week_of("Pat", day)
    return f"{year}-W{week:02d}"


def _named(rules: str, change: Callable[[Any], Any]) -> str:
    """Whether the audit names the rule set for a plan with these shifts, or finds it kept."""
    from scheduler.audit import audit

    season = kitchen(working_time=rules, rest_minutes=0, break_after_minutes=1440)(handmade_season())
    return SEEN if "working time" in {v.rule for v in audit(season, change(handmade_plan()))} else FINE


def _night(minutes: int) -> str:
    ends = 1440 + 480 - minutes
    late = shift(MONDAY, "Ben", ends=ends, break_starts=720, break_ends=750)
    return _named("european", lambda p: late(shift(TUESDAY, "Ben", starts=480, ends=700)(p)))


def _no_break(rules: str, minutes: int) -> str:
    return _named(rules, shift(TUESDAY, "Cleo", ends=480 + minutes, break_starts=None, break_ends=None))


def _seventh_day(count: int) -> str:
    plan = handmade_plan()
    days = tuple(DayPlan(MONDAY + timedelta(days=i), shifts=(Shift("Ben", 480, 700),)) for i in range(count))
    return _named("european", lambda _: replace(plan, days=days))


def _week_of(minutes: int) -> str:
    plan = handmade_plan()
    parts = [minutes // 6] * 5 + [minutes - 5 * (minutes // 6)]
    days = tuple(
        DayPlan(MONDAY + timedelta(days=i), shifts=(Shift("Ben", 480, 480 + m + 30, 600, 630),))
        for i, m in enumerate(parts)
    )
    return _named("european", lambda _: replace(plan, days=days))


def _hot(young: bool) -> str:
    from scheduler.audit import audit

    season = handmade_season()
    crew = tuple(replace(p, young=young) if p.name == "Ana" else p for p in season.crew)
    return SEEN if "young worker" in {v.rule for v in audit(replace(season, crew=crew), handmade_plan())} else FINE


def _calendar(what: str) -> Any:
    """A person's calendar file read by an RFC 5545 library."""
    from icalendar import Calendar
    from scheduler.paper.calendars import calendar_of

    content = calendar_of(handmade_season(), handmade_plan(), "Cleo")
    if what == "octets":
        return max(len(line) for line in content.split(b"\r\n")) <= 75
    events = Calendar.from_ical(content).walk("VEVENT")
    if what == "starts":
        return [e["DTSTART"].dt for e in events]
    return len({str(e["UID"]) for e in events}) == len(events)


def _formula(text: str) -> str:
    """How a cell holds a name that looks like a formula."""
    import io

    from openpyxl import load_workbook
    from scheduler.season.template import build_workbook

    season = handmade_season()
    out = io.BytesIO()
    build_workbook(replace(season, crew=(replace(season.crew[0], name=text), *season.crew[1:]))).save(out)
    return str(load_workbook(io.BytesIO(out.getvalue()))["crew"]["A2"].data_type)


def _serial(mac: bool) -> date:
    """2026-03-14 as a spreadsheet's number, read by our reader from a workbook with either epoch."""
    import tempfile
    from pathlib import Path

    import openpyxl
    from openpyxl.utils.datetime import CALENDAR_MAC_1904
    from scheduler.season.read import read_season
    from tests.season_examples import save_workbook, tables_of

    tables = tables_of()
    tables["orders"][1][tables["orders"][0].index("due day")] = datetime(2026, 3, 14)
    with tempfile.TemporaryDirectory() as folder:
        path = save_workbook(tables, Path(folder) / "s.xlsx")
        if mac:
            book = openpyxl.load_workbook(path)
            book.epoch = CALENDAR_MAC_1904
            book.save(path)
        return read_season(path).orders[0].due


def _before_easter() -> date:
    """The demo season's Good Friday and two days."""
    from pathlib import Path

    from scheduler.season.read import read_season

    season = read_season(Path(__file__).parents[2] / "inputs" / "spring")
    return next(d.day for d in season.special_days if d.name == "Good Friday") + timedelta(days=2)


def _sell_by() -> date:
    from scheduler.audit import audit
    from tests.audit.sabotage import lot

    plan = handmade_plan()
    assert not audit(handmade_season(), plan)
    assert audit(handmade_season(), lot(2, sell_by=plan.lots[2].sell_by + timedelta(days=1))(plan))
    return next(x.sell_by for x in plan.lots if x.design == "nut")


SEEN, FINE = "named", "kept"
CHECKS: tuple[Check, ...] = (
    Check("Job shop ft06, waiting allowed", "Fisher and Thompson 1963", 55,
          partial(_shop, job_shops.FT06_MACHINES, job_shops.FT06_MINUTES, 1440)),
    Check("Job shop ft06, no waiting", "no-wait literature (memory)", 73,
          partial(_shop, job_shops.FT06_MACHINES, job_shops.FT06_MINUTES, 0)),
    Check("Job shop la01, waiting allowed", "Lawrence 1984", 666,
          partial(_shop, job_shops.LA01_MACHINES, job_shops.LA01_MINUTES, 1440)),
    Check("Job shop la01, no waiting", "no-wait literature (memory)", 971,
          partial(_shop, job_shops.LA01_MACHINES, job_shops.LA01_MINUTES, 0)),
    Check("Two machines, five jobs", "Johnson 1954", 47, partial(_johnson, 1440)),
    Check("Two machines, five jobs, no waiting", "Johnson 1954 (memory)", 47, partial(_johnson, 0)),
    Check("3,3,2,2,2 on two places", "Graham 1969", 6, partial(_places, (3, 3, 2, 2, 2), 2)),
    Check("5,5,4,4,3,3,3 on three places", "Graham 1969", 9, partial(_places, (5, 5, 4, 4, 3, 3, 3), 3)),
    Check("A day modelled by another library", "PyJobShop (MIT), modelled afresh", "equal", _pyjobshop),
    Check("Convex windows: orders met of six", "Glover 1967", 5, _glover),
    Check("Convex windows: the certificate", "Glover 1967", "days 1 to 2: 5 less 4", _glover_certificate),
    Check("Bags of 5 and 10 from 900 and 850 pieces", "least of pieces by pieces a pack", 85,
          partial(_packs, {"lemon": 900, "heart": 850}, {"lemon": 5, "heart": 10})),
    Check("Pay of 46 h at $12, cents", f"{FLSA} 778.110(a)", 58800, partial(_pay, 46, 12)),
    Check("Pay of 40 h at $12, cents", f"{FLSA} 778.107", 48000, partial(_pay, 40, 12)),
    Check("30 h, then 50 h: overtime minutes", f"{FLSA} 778.104 (no averaging)", [0, 600], _two_weeks),
    Check("Rest of 11 h between days is enough", f"{EU}, art. 3", FINE, partial(_night, 660)),
    Check("Rest of 10 h 59 is named", f"{EU}, art. 3", SEEN, partial(_night, 659)),
    Check("6 h without a break is allowed", f"{EU}, art. 4", FINE, partial(_no_break, "european", 360)),
    Check("6 h 01 without a break is named", f"{EU}, art. 4", SEEN, partial(_no_break, "european", 361)),
    Check("Six days in a row are allowed", f"{EU}, art. 5", FINE, partial(_seventh_day, 6)),
    Check("Seven days in a row are named", f"{EU}, art. 5", SEEN, partial(_seventh_day, 7)),
    Check("A week of 48 h is allowed", f"{EU}, art. 6", FINE, partial(_week_of, 2880)),
    Check("A week of 48 h 01 is named", f"{EU}, art. 6", SEEN, partial(_week_of, 2881)),
    Check("5 h without a meal break are allowed", "California Labor Code 512", FINE,
          partial(_no_break, "american with meal breaks", 300)),
    Check("5 h 01 without a meal break is named", "California Labor Code 512", SEEN,
          partial(_no_break, "american with meal breaks", 301)),
    Check("A young worker at hot sugar is named", "29 CFR 570.33(a), 570.35", SEEN, partial(_hot, True)),
    Check("A grown-up at hot sugar is not", "29 CFR 570.33(a), 570.35", FINE, partial(_hot, False)),
    Check("Week of 2024-12-30", "ISO 8601", "2025-W01", partial(_week, date(2024, 12, 30))),
    Check("Week of 2027-01-01", "ISO 8601", "2026-W53", partial(_week, date(2027, 1, 1))),
    Check("Easter after the demo season's Good Friday", "Gregorian computus, dateutil.easter", easter(2027),
          _before_easter),
    Check("Cleo's calendar: days in", "RFC 5545, read by icalendar",
          [datetime(2026, 3, 2, 9, 5), datetime(2026, 3, 3, 8), datetime(2026, 3, 4, 8)], partial(_calendar, "starts")),
    Check("Calendar lines of at most 75 octets", "RFC 5545, 3.1", True, partial(_calendar, "octets")),
    Check("Every event has its own UID", "RFC 5545, 3.8.4.7", True, partial(_calendar, "uids")),
    *(Check(f"A person called {text} is text", "OWASP, CSV injection", "s", partial(_formula, text))
      for text in ("=1+1", "+1", "-1", "@SUM(A1)")),
    Check("2026-03-14 counted from 1900", "ECMA-376, 18.17.4", date(2026, 3, 14), partial(_serial, False)),
    Check("2026-03-14 counted from 1904", "ECMA-376, 18.17.4", date(2026, 3, 14), partial(_serial, True)),
    Check("Made 2026-03-03, keeps 120 days: sell by", "count by the calendar", date(2026, 7, 1), _sell_by),
)  # fmt: skip

HEAD = "| what | source | expected | got |\n|---|---|---|---|"


def table() -> str:
    """All checks as the table of DEVELOPERS.md."""
    return "\n".join([HEAD, *(row(c, c.got()) for c in CHECKS)])


def row(check: Check, got: Any) -> str:
    """One check as a row of that table."""
    return f"| {check.what} | {check.source} | {_text(check.expected)} | {_text(got)} |"


def _text(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(_text(v) for v in value)
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


if __name__ == "__main__":
    print(table())
