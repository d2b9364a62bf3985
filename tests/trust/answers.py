"""Overloaded seasons at random: does every certificate hold, does every remedy say what a fresh plan says?

``python -m tests.trust.answers`` runs all 50, ``... 10-19`` a part of them, ``... demo`` times the demo's report;
the tests run a small part of it.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from scheduler.answers.explain import with_certificates
from scheduler.answers.promise import promise
from scheduler.answers.remedies import candidates, changed, find_remedies
from scheduler.audit import audit
from scheduler.models.loop import PlanOptions, plan_season
from scheduler.plan.types import Plan, StageResult
from scheduler.season.read import read_season
from scheduler.season.types import Season
from tests.seasons import small_random, tiny
from tests.trust.table import Row, Table

DEMO = Path(__file__).parents[2] / "inputs" / "spring"
CARE = PlanOptions(effort=0.3, workers=1)
PHONE_SECONDS = 5.0


def overloaded(number: int) -> Season:
    """Season ``number``: four in five of brute-force size, the fifth with every feature; 3 to 5 times the orders."""
    season = small_random(number) if number % 5 == 4 else tiny(number, orders=6)
    times = 3 + number % 3
    return replace(season, orders=tuple(replace(o, packs=o.packs * times) for o in season.orders))


def table(quick: bool, numbers: Iterable[int] | None = None) -> Table:
    """Certificates, remedies and promises on overloaded seasons."""
    rows = {
        name: Row(name)
        for name in (
            "seasons with something short", "certificates that the audit works out again", "remedies as a fresh plan",
            "remedies called proven only where they are", "promises that harm nobody", "promises in 5 s",
        )
    }  # fmt: skip
    proven = short = 0
    for number in numbers or ((1, 3) if quick else range(50)):
        season = overloaded(number)
        plan = with_certificates(season, plan_season(season, CARE))
        short_pieces = sum(s.pieces for s in plan.shortfalls)
        if not short_pieces:
            continue
        rows["seasons with something short"].count(None)
        stored = plan.extras["certificates"]
        assert isinstance(stored, list)
        short += short_pieces
        proven += max((c["pieces_short"] for c in stored), default=0)
        _certificates(rows["certificates that the audit works out again"], season, plan, len(stored), number)
        _remedies(rows, season, plan, number, quick)
        _promises(rows, season, plan, number)
    rows[
        "certificates that the audit works out again"
    ].note = f"the strongest of each season proves {100 * proven // max(1, short)} % of all pieces short"
    # a sample of two seasons may hold no promise that comes with a plan; the full run must
    return Table("Answers", [row for row in rows.values() if row.tried or not quick])


def _certificates(row: Row, season: Season, plan: Plan, count: int, number: int) -> None:
    """Every certificate verifies from season and plan alone."""
    false = [str(v) for v in audit(season, plan) if v.rule == "certificates"]
    for at in range(1, count + 1):
        row.count(next((f"season {number}: {f}" for f in false if f"certificate {at}:" in f), None))


def _remedies(rows: dict[str, Row], season: Season, plan: Plan, number: int, quick: bool) -> None:
    """Each remedy's figures are those of planning the changed season anew; proven means below the base bound."""
    pairs = 0 if quick else 1
    tried = {tuple(c.key for c in changes): changes for changes in candidates(season, plan, 2, pairs)}
    bound = _shortfall(plan).bound or 0
    for remedy in find_remedies(season, plan, None, CARE, 1, 2, pairs).remedies:
        fresh = _shortfall(plan_season(changed(season, tried[remedy.keys]), CARE))
        gap = max(remedy.short_after, fresh.value) - remedy.least_after
        same = remedy.least_after == fresh.bound and abs(remedy.short_after - fresh.value) <= gap
        rows["remedies as a fresh plan"].note = "the same bound, within the shown gap"
        rows["remedies as a fresh plan"].count(None if same else f"season {number}: {remedy.changes}")
        honest = remedy.proven == (remedy.short_after < remedy.least_before) and remedy.least_before <= bound
        rows["remedies called proven only where they are"].count(
            None if honest else f"season {number}: {remedy.changes}"
        )


def _promises(rows: dict[str, Row], season: Season, plan: Plan, number: int) -> None:
    for quantity in (1, 20):
        began = time.monotonic()
        made = promise(season, plan, season.products[0].name, quantity)
        seconds = time.monotonic() - began
        rows["promises in 5 s"].count(None if seconds < PHONE_SECONDS else f"season {number}: {seconds:.1f} s")
        if made.plan is not None:
            broken = audit(made.season, made.plan)
            rows["promises that harm nobody"].count(f"season {number}: {broken[0]}" if broken else None)


def _shortfall(plan: Plan) -> StageResult:
    return next(s for s in plan.stages if s.name == "shortfall")


def demo_seconds(workers: int | None = None) -> dict[str, float]:
    """Seconds of the demo's whole report, remedies and all, and of an answer on the phone."""
    season = read_season(DEMO)
    plan = plan_season(season)
    began = time.monotonic()
    explained = with_certificates(season, plan)
    sums = time.monotonic() - began
    find_remedies(season, explained, workers=workers)
    whole = time.monotonic() - began
    began = time.monotonic()
    promise(season, plan, season.products[0].name, 30)
    return {"sums": sums, "report": whole, "promise": time.monotonic() - began}


if __name__ == "__main__":
    if sys.argv[1:] == ["demo"]:
        print(demo_seconds())
    else:
        part = sys.argv[1].split("-") if sys.argv[1:] else ["0", "49"]
        print("\n".join((found := table(False, range(int(part[0]), int(part[1]) + 1))).lines()))
        print("\n".join(found.failures) or "Everything held.")
