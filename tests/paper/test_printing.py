"""On paper: pages, headings that repeat, letters that can be read, sheets that open."""

from __future__ import annotations

import io
import time
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet
from scheduler.paper.figures import Figures
from scheduler.paper.season_calendar import calendar
from scheduler.paper.sheet import PAGE_PIXELS, PAGE_POINTS, Book
from scheduler.paper.workbook import workbook_bytes
from scheduler.plan.types import Plan
from scheduler.season.types import Season
from tests.benchmarks.generate import generated
from tests.handmade import handmade_plan, handmade_season
from tests.paper.reading import read
from tests.paper.toy import toy_plan


def pages(ws: Worksheet) -> list[float]:
    """Height of each printed page of a sheet in points, the repeated title included."""
    edges = [0, *(b.id for b in ws.row_breaks.brk), ws.max_row]
    high = [
        sum(ws.row_dimensions[r].height or 13 for r in range(first + 1, last + 1)) for first, last in pairwise(edges)
    ]
    return [h + (ws.row_dimensions[1].height if at else 0) for at, h in enumerate(high)]


def test_a_run_sheet_is_one_page_wherever_it_fits(toy: tuple[Season, Plan, Workbook], book: Workbook) -> None:
    """Days of up to three batches are one page; a fuller one is printed an eighth smaller at most, or has two pages."""
    season, _, full = toy
    usual = read(season, toy_plan(season, 3))
    for of, most in ((book, 1), (usual, 1), (full, 2)):
        for ws in (ws for ws in of.worksheets if ws.title.startswith("Day ")):
            squeezed = ws.page_setup.fitToHeight == 1
            assert max(pages(ws)) <= PAGE_POINTS[True] + (66 if squeezed else 1)
            assert len(pages(ws)) <= most


def test_a_persons_weeks_are_kept_whole_and_take_few_pages(toy: tuple[Season, Plan, Workbook]) -> None:
    """Pages begin with a week; two weeks take no more than two pages; a page is never too high."""
    season, _, book = toy
    for person in season.crew:
        ws = book[f"Person {person.name}"]
        wide = sum(d.width * 7 * (d.max - d.min + 1) for d in ws.column_dimensions.values())
        assert max(pages(ws)) <= PAGE_POINTS[True] * max(1, wide / PAGE_PIXELS[True]) + 1
        assert len(pages(ws)) <= 2
        assert all(str(ws.cell(b.id + 1, 1).value).startswith("Week ") for b in ws.row_breaks.brk)


def test_every_word_is_legible_in_grey(book: Workbook) -> None:
    """Ink against fill, both as grey: a contrast of at least 4.5 (WCAG 2.1, 1.4.3, relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (2, 4, 6)]
        linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    looks = {
        (c.font.color.rgb, c.fill.fgColor.rgb if c.fill.patternType == "solid" else "FFFFFFFF")
        for ws in book.worksheets for row in ws.iter_rows() for c in row if c.value is not None
    }  # fmt: skip
    assert len(looks) > 8
    for ink, fill in looks:
        light, dark = sorted((luminance(ink), luminance(fill)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, (ink, fill)


def test_titles_are_short_unique_and_allowed() -> None:
    """Long, equal and forbidden names of people still give sheets that open."""
    season = handmade_season()
    names = ["A" * 60, "A" * 60 + "b", "a" * 60, "What/is: this?*[x]", "'quoted'", "///"]
    crew = tuple(replace(season.crew[0], name=n) for n in names) + season.crew
    titles = read(replace(season, crew=crew), handmade_plan()).sheetnames
    assert len({t.casefold() for t in titles}) == len(titles) == 4 + 4 + len(crew) + 5
    assert all(len(t) <= 31 and not set(t) & set("[]:*?/\\") and t.strip("'") == t for t in titles)


def test_every_sheet_prints_one_page_wide_with_footers(book: Workbook) -> None:
    """A4, one page wide, any number of pages long, page numbers and the plan's name below."""
    for ws in book.worksheets:
        assert ws.sheet_properties.pageSetUpPr.fitToPage
        assert ws.page_setup.fitToWidth == 1
        assert ws.page_setup.fitToHeight in ((0, 1) if ws.title.startswith("Day") else (0,))
        assert ws.page_setup.paperSize == 9
        assert "&P of &N" in ws.oddFooter.right.text
        assert "plan " in ws.oddFooter.left.text
        upright = ws.title in ("At a glance", "Contents", "Stock", "To buy", "How full")
        assert ws.page_setup.orientation == ("portrait" if upright else "landscape")
    for title in ("Contents", "Orders", "Stock", "To buy", "How full"):
        rows = book[title].print_title_rows
        assert rows and any(c.fill.fgColor.rgb == "FFD9D9D9" for c in book[title][int(rows.rsplit("$", 1)[1])]), title
    assert book["Day 2026-03-02"].print_title_rows == "$1:$1"


def test_letter_paper() -> None:
    """Letter is paper size 1; an unknown paper is refused by name."""
    assert read(handmade_season(), handmade_plan(), paper="Letter")["Crew"].page_setup.paperSize == 1
    with pytest.raises(ValueError, match="paper 'A5' is not known; use A4 or Letter"):
        workbook_bytes(handmade_season(), handmade_plan(), paper="A5")


def test_long_names_wrap_and_rows_grow() -> None:
    """A customer's name of 200 letters makes its row higher instead of being cut."""
    season = handmade_season()
    long = "Very Long Customer Name " * 8
    orders = tuple(replace(o, customer=long) if o.id == "O1" else o for o in season.orders)
    ws = read(replace(season, orders=orders), handmade_plan())["Orders"]
    rows = {c.value: c.row for row in ws.iter_rows(max_col=1) for c in row}
    assert ws.row_dimensions[rows["O1"]].height > 3 * ws.row_dimensions[rows["O4"]].height
    assert ws.cell(rows["O1"], 2).alignment.wrap_text


def test_half_a_year_is_written_quickly_with_a_sheet_a_day() -> None:
    """150 making days and more, each with its run sheet, in under 20 s; titles stay unique."""
    season = generated(26, 8, 20, 300, 2)
    plan = toy_plan(season)
    assert len(plan.days) >= 150
    began = time.process_time()
    data = workbook_bytes(season, plan)
    assert time.process_time() - began < 20
    names = load_workbook(io.BytesIO(data), read_only=True).sheetnames
    assert sum(n.startswith("Day ") for n in names) == len(plan.days)


def test_the_calendar_of_a_long_season_is_paged_by_weeks() -> None:
    """13 weeks are printed as three blocks of at most six weeks, each on a page of its own."""
    season = generated(13, 5, 8, 60, 1)
    book = Book()
    calendar(book, Figures(season, toy_plan(season, 1)), {})
    ws = load_workbook(io.BytesIO(book.to_bytes(datetime(2027, 2, 1))))["Calendar"]
    heads = [c.row for row in ws.iter_rows(max_col=1) for c in row if c.value == "Design"]
    assert len(heads) == 3
    assert [b.id for b in ws.row_breaks.brk] == [heads[1] - 3, heads[2] - 3]
    assert ws.max_column == 1 + 42


def test_a_heading_is_repeated_only_where_its_rows_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """The candy below a short list of orders has a heading of its own; a list of several pages has its again."""
    season, plan = handmade_season(), handmade_plan()
    assert plan.shortfalls
    assert not read(season, plan)["Shortfall"].print_title_rows
    monkeypatch.setattr("scheduler.paper.shortfall.A_PAGE", 0)
    assert read(season, plan)["Shortfall"].print_title_rows
