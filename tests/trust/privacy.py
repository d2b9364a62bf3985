"""Customers' names and other people's pay stay where they belong."""

from __future__ import annotations

import logging
import os
import subprocess
import sys
import tempfile
import zipfile
from dataclasses import replace
from pathlib import Path

from scheduler.pipeline import write_audited, write_crew_pages
from scheduler.season.write import write_season
from tests.audit.sabotage import plan as changed_plan
from tests.handmade import handmade_plan, handmade_season
from tests.trust.table import Row, Table

SECRET = "Quillfeather"  # a customer's name that occurs nowhere else
PRICE = 98765  # cents


def private_season():  # type: ignore[no-untyped-def]
    """The season made by hand with a telltale customer and price."""
    season = handmade_season()
    return replace(
        season,
        orders=tuple(replace(o, customer=f"{SECRET} & Daughters") for o in season.orders),
        products=tuple(replace(p, price_cents=PRICE) for p in season.products),
    )


def leaks(path: Path, words: tuple[str, ...]) -> str:
    """The first of some words that occurs anywhere in a workbook's parts, or ""."""
    with zipfile.ZipFile(path) as parts:
        for name in parts.namelist():
            text = parts.read(name).decode("utf-8", "replace")
            found = next((w for w in words if w in text), "")
            if found:
                return f"{found} stands in {name}"
    return ""


def crew_pages(place: Path) -> list[Row]:
    """The crew's workbook: no customer, no price, nobody's pay; the office's workbook has them."""
    row = Row("crew pages without customers, prices or pay")
    season, plan = private_season(), handmade_plan()
    path = write_crew_pages(season, plan, place / "crew")
    for words in ((SECRET,), ("987.65", str(PRICE)), ("wage", "Wage", "labour cost", "Labour cost", "EUR")):
        row.count(leaks(path, words) or None)
    office = Row("the office's workbook has them (the search works)")
    write_audited(season, plan, place / "office")
    office.count(None if leaks(place / "office" / "plan.xlsx", (SECRET,)) else "no customer was found")
    names = Row("no customer in a file's or folder's name")
    names.count(next((str(p) for p in place.rglob("*") if SECRET.casefold() in str(p).casefold()), None))
    return [row, office, names]


def _run(*words: str, **environment: str) -> str:
    """Everything that a command says on both channels."""
    code = BROKEN if environment.get("BREAK") else "from scheduler.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, *words],
        cwd=Path(__file__).parents[2], capture_output=True, text=True, env={**os.environ, **environment},
    )  # fmt: skip
    return f"{done.returncode}\n{done.stdout}{done.stderr}"


BROKEN = """
import scheduler.audit
def broken(season, plan):
    customers = [o.customer for o in season.orders]  # locals that a careless traceback would show
    raise KeyError('inside')
scheduler.audit.audit = broken
from scheduler.cli import main
main()
"""


def spoken(place: Path, quick: bool) -> Row:
    """Trouble of every sort is said without a customer's name, tracebacks for a report included."""
    row = Row("no customer in messages, logs or tracebacks")
    season = private_season()
    write_season(season, place / "season")
    from scheduler.plan.files import write_plan

    write_plan(handmade_plan(), place / "good" / "plan.json")
    write_plan(changed_plan(kitchen="Elsewhere")(handmade_plan()), place / "bad" / "plan.json")
    (place / "torn").mkdir()
    (place / "torn" / "plan.json").write_text('{"file": "rockrota plan"')
    spoiled = write_broken(place)
    tries = {
        "a broken rule": ("audit", str(place / "season"), str(place / "bad")),
        "a torn plan": ("audit", str(place / "season"), str(place / "torn")),
        "a fault in another cell": ("check", str(spoiled)),
        "no such product": (
            "promise", str(place / "season"), str(place / "good"), "--product", "tin", "--quantity", "1"),
    }  # fmt: skip
    for what, words in list(tries.items())[:: 2 if quick else 1]:
        said = _run(*words)
        row.count(f"{what}: {said[:300]}" if SECRET in said or said.startswith("0\n") else None)
    for trace in ("1",) if quick else ("", "1"):
        said = _run("audit", str(place / "season"), str(place / "good"), BREAK="1", ROCKROTA_TRACEBACK=trace)
        odd = SECRET in said or ("Traceback" in said) != bool(trace)
        row.count(f"trouble inside, traceback {trace or 'off'}: {said[:300]}" if odd else None)
    row.count("a logger has handlers" if logging.getLogger("scheduler").handlers else None)
    return row


def write_broken(place: Path) -> Path:
    """The season with a fault beside a customer's name."""
    write_season(private_season(), place / "spoiled")
    orders = place / "spoiled" / "orders.csv"
    text = orders.read_text(encoding="utf-8-sig")
    orders.write_text(text.replace("firm", "frim", 1), encoding="utf-8")
    return place / "spoiled"


def table(quick: bool) -> Table:
    """The workbook for the crew, names of files, and whatever is said when things go wrong."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        rows = [spoken(place, quick), *crew_pages(place)]
    return Table("Privacy: customers, prices, pay", rows)
