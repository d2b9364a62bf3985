"""The plan as a workbook for the wall: all sheets in order, the same bytes for the same plan."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from datetime import datetime, time
from pathlib import Path

from scheduler.paper.changes_sheet import changes_sheet
from scheduler.paper.contents import contents
from scheduler.paper.crew import crew
from scheduler.paper.figures import Figures
from scheduler.paper.glance import glance, load_picture
from scheduler.paper.how_full import how_full
from scheduler.paper.orders import orders
from scheduler.paper.person_page import person_page
from scheduler.paper.run_sheet import run_sheet
from scheduler.paper.season_calendar import calendar
from scheduler.paper.sheet import Book
from scheduler.paper.shortfall import shortfall
from scheduler.paper.stock import stock
from scheduler.paper.to_buy import to_buy
from scheduler.plan.files import plan_fingerprint
from scheduler.plan.types import Plan
from scheduler.season.safe_write import replace_atomically
from scheduler.season.types import Season

SHEETS = (
    ("At a glance", "what is made, what is short, what would mend it, what it costs"),
    ("Calendar", "designs by days, how full each day is"),
    ("Shortfall", "what is short, for whom, what would mend it and what stands in the way"),
    ("Orders", "each order and forecast: covered, packed when, from which lots"),
    ("Stock", "lots with made and sell-by days, and what is left over"),
    ("To buy", "what this plan takes, how much is to be bought, and the last day to order it"),
    ("Crew", "people by days: hours, jobs, pulls against the limits"),
    ("How full", "the figures behind the load picture"),
)
CREW_SHEETS = ("Calendar", "Crew")
CHANGES = ("What changed", "after news: before and now, by day and person; whom to call, what to print again")


def write_workbook(
    season: Season,
    plan: Plan,
    path: Path | str,
    paper: str = "A4",
    crew_only: bool = False,
    check: Callable[[Path], None] | None = None,
) -> None:
    """Write the plan's workbook in one step; the old file stays whole until the new one can be read.

    ``paper`` is "A4" or "Letter". ``crew_only`` leaves out everything with customers, prices
    or pay: calendar, crew, run sheets and people's pages remain. ``check`` looks at the new
    file before it takes the old one's place, and raises if it is not as it should be. Raises
    ``season.safe_write.CannotWrite`` with a sentence for a person.
    """

    def whole(written: Path) -> None:
        _check(written)
        if check is not None:
            check(written)

    # built inside, so that a disk that is full already while building is said to be full
    replace_atomically(path, lambda new: _write(new, workbook_bytes(season, plan, paper, crew_only)), whole)


def workbook_bytes(season: Season, plan: Plan, paper: str = "A4", crew_only: bool = False) -> bytes:
    """The workbook as bytes; equal plans give equal bytes."""
    book = build(season, plan, paper, crew_only)
    first = datetime.combine(plan.from_day, time())
    book.book.properties.creator = season.kitchen.name[:200] if season.kitchen.name.isprintable() else "rockrota"
    book.book.properties.title = "Season plan"
    book.book.properties.created = first
    return book.to_bytes(first)


def build(season: Season, plan: Plan, paper: str = "A4", crew_only: bool = False) -> Book:
    """All sheets, not yet written."""
    figures = Figures(season, plan)
    book = Book(paper, f"{season.kitchen.name}, plan {plan_fingerprint(plan)[:6]}")
    days = [(book.title(f"Day {d.day.isoformat()}"), d) for d in plan.days]
    pages = [(book.title(f"Person {p.name}"), p) for p in season.crew]
    run_sheet_of = {d.day: title for title, d in days}
    wanted = [s for s in SHEETS if not crew_only or s[0] in CREW_SHEETS]
    first = None if crew_only else glance(book, figures)
    listing = book.sheet("Contents", landscape=False, tab="666666")
    if changes_sheet(book, plan, crew_only) is not None:
        wanted.insert(0, CHANGES)
    calendar(book, figures, run_sheet_of)
    if first is not None:
        shortfall(book, figures)
        orders(book, figures)
        stock(book, figures)
        if to_buy(book, figures) is None:
            wanted = [s for s in wanted if s[0] != "To buy"]
    crew(book, figures)
    if first is not None:
        load_picture(first, figures, *how_full(book, figures))
    for title, day in days:
        if day.day >= plan.from_day:
            run_sheet(book, figures, day, title)
    for title, person in pages:
        person_page(book, figures, person, title)
    for title, day in days:
        if day.day < plan.from_day:  # past: behind all that is still to be hung up
            run_sheet(book, figures, day, title)
    contents(listing, figures, wanted, days, [(title, person.name) for title, person in pages])
    return book


def _write(path: Path, data: bytes) -> None:
    path.write_bytes(data)


def _check(path: Path) -> None:
    """Reopen what was written: every part of the file whole, every sheet there."""
    with zipfile.ZipFile(path) as parts:
        broken = parts.testzip()
        if broken is not None or "xl/workbook.xml" not in parts.namelist():
            raise OSError(f"the workbook is damaged ({broken})")
