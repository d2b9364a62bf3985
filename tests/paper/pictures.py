"""Pictures of a plan's sheets for the README: ``python -m tests.paper.pictures SEASON PLAN OUT [DAY]``.

Needs LibreOffice and poppler. Writes ``at-a-glance.png``, ``calendar.png``, ``run-sheet.png``
(the busiest day, or the one named) and ``person.png`` into a folder, in colour, cut to what is on them.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from datetime import date, datetime, time
from pathlib import Path

from scheduler.paper.figures import Figures
from scheduler.paper.glance import glance, load_picture
from scheduler.paper.how_full import how_full
from scheduler.paper.person_page import person_page
from scheduler.paper.run_sheet import run_sheet
from scheduler.paper.season_calendar import calendar
from scheduler.paper.sheet import Book
from scheduler.plan.files import plan_fingerprint, read_plan
from scheduler.plan.types import Plan
from scheduler.season.read import read_season
from scheduler.season.types import Season

DOTS = 110  # an inch


def pictures(season: Season, plan: Plan, out: Path, day: date | None = None) -> list[Path]:
    """Write the pictures; returns their paths."""
    figures = Figures(season, plan)
    made = [d for d in plan.days if d.batches]
    shown = next((d for d in made if d.day == day), None) or max(made, key=lambda d: (len(d.batches), len(d.tasks)))
    person = max(season.crew, key=lambda p: sum((p.name, d.day) in figures.shift for d in plan.days))
    out.mkdir(parents=True, exist_ok=True)
    written = []
    for name in ("at-a-glance", "calendar", "run-sheet", "person"):
        book = Book("A4", f"{season.kitchen.name}, plan {plan_fingerprint(plan)[:6]}")
        if name == "at-a-glance":
            load_picture(glance(book, figures), figures, *how_full(book, figures))
        elif name == "calendar":
            calendar(book, figures, {})
        elif name == "run-sheet":
            run_sheet(book, figures, shown, f"Day {shown.day}")
        else:
            person_page(book, figures, person, f"Person {person.name}")
        written.append(_first_page(book, plan, out / f"{name}.png"))
    return written


def _first_page(book: Book, plan: Plan, target: Path) -> Path:
    with tempfile.TemporaryDirectory() as scratch:
        source = Path(scratch) / "sheet.xlsx"
        source.write_bytes(book.to_bytes(datetime.combine(plan.from_day, time())))
        home = f"-env:UserInstallation=file://{scratch}/home"
        subprocess.run(
            ["soffice", home, "--headless", "--convert-to", "pdf", "--outdir", scratch, str(source)],
            check=True, capture_output=True, timeout=180,
        )  # fmt: skip
        page = ["pdftoppm", "-r", str(DOTS), "-png", "-f", "1", "-l", "1", "-singlefile"]
        subprocess.run([*page, str(source.with_suffix(".pdf")), str(target.with_suffix(""))], check=True, timeout=60)
    return target


if __name__ == "__main__":
    chosen = date.fromisoformat(sys.argv[4]) if len(sys.argv) > 4 else None
    for path in pictures(read_season(Path(sys.argv[1])), read_plan(Path(sys.argv[2])), Path(sys.argv[3]), chosen):
        print(path)
