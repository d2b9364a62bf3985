"""Overloaded seasons at random: does every certificate hold, is every false number named, is proven proven?

``python -m tests.trust.answers`` runs all 50, ``... 10-19`` a part of them, ``... demo`` times the demo's report;
the tests run a small part of it.
"""

from __future__ import annotations

import random
import re
import sys
import time
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from scheduler.answers.explain import with_certificates
from scheduler.answers.promise import promise
from scheduler.answers.remedies import candidates, changed, find_remedies
from scheduler.answers.remedy import Remedy
from scheduler.audit import audit
from scheduler.audit.certificates import certificates
from scheduler.audit.readings import Reading
from scheduler.demand.build import build_demand
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.plan.types import Plan, Shortfall, StageResult
from scheduler.season.read import read_season
from scheduler.season.types import Order, Season
from tests.answers.hand import day, kitchen
from tests.audit.test_certificates import CASES, explained, falsified, leaves
from tests.seasons import small_random, tiny
from tests.trust.engines import least_missed
from tests.trust.table import Row, Table

DEMO = Path(__file__).parents[2] / "inputs" / "spring"
CARE = PlanOptions(effort=0.3, workers=1)
PHONE_SECONDS = 5.0


def overloaded(number: int) -> Season:
    """Season ``number``: three in five of brute-force size, one of three weeks, one of every feature; much too full."""
    season, times = tiny(number, orders=6), 3 + number % 3
    if number % 5 == 3:
        season, times = tiny(number, days=17, orders=16), 2  # long enough for remedies to be planned onward
    if number % 5 == 4:
        season = small_random(number)
    return replace(season, orders=tuple(replace(o, packs=o.packs * times) for o in season.orders))


def by_hand(number: int) -> Season:
    """A kitchen of two batches a day and orders at random: small enough to try every plan of it."""
    rng = random.Random(number)
    days = 4 + number % 3
    orders = tuple(
        Order(
            f"O{i}", "Kite jar", rng.randint(1, 5), day(rng.randint(2, days)), customer=f"Customer {i}",
            priority=rng.randint(1, 3), partial=rng.random() < 0.7,
        )
        for i in range(4)
    )  # fmt: skip
    return replace(kitchen(days), orders=orders)


def least_by_trying(season: Season) -> int:
    """What is short at least in a kitchen by hand: every number of packs for each order is tried, nothing solved.

    A jar is a batch; two batches are made every day, for nothing is saved by making fewer.
    """
    lines = list(build_demand(season).lines)
    return least_missed(lines, {t: 200 for t in range(season.day_count)})


def poorer(season: Season, plan: Plan) -> Plan:
    """The same plan with one order that it fills left out: much of what a change seems to mend is had without it."""
    line = next(n for n in build_demand(season).lines if any(f.line == n.id for f in plan.fills))
    rest = tuple(s for s in plan.shortfalls if s.line != line.id)
    row = Shortfall(line.id, line.packs, line.packs * line.pieces, line.packs * line.weight)
    value = sum(s.weighted for s in (*rest, row))
    stages = tuple(replace(s, value=value, proven=False) if s.name == "shortfall" else s for s in plan.stages)
    fills = tuple(f for f in plan.fills if f.line != line.id)
    return replace(plan, fills=fills, shortfalls=(*rest, row), stages=stages)


def called_proven_falsely(season: Season, remedies: tuple[Remedy, ...]) -> list[str]:
    """Remedies called proven though the season as it is has a plan that is as little short."""
    least = least_by_trying(season)
    return [" and ".join(r.changes) for r in remedies if r.proven and r.short_after >= least]


def table(quick: bool, numbers: Iterable[int] | None = None) -> Table:
    """Certificates, remedies and promises on overloaded seasons."""
    rows = {
        name: Row(name)
        for name in (
            "seasons with something short", "certificates that the audit works out again",
            "false numbers of certificates that it names", "remedies as a fresh plan",
            "remedies called proven only where they are", "remedies by hand, held against every plan",
            "promises that harm nobody", "promises in 5 s",
        )
    }  # fmt: skip
    proven = short = 0
    for number in numbers or ((1,) if quick else range(50)):
        _by_hand(rows["remedies by hand, held against every plan"], number)
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
        _falsify(rows["false numbers of certificates that it names"], season, plan, number)
        _remedies(rows, season, plan, number, quick)
        _promises(rows, season, plan, number)
    named = rows["false numbers of certificates that it names"]
    for kind in sorted(CASES)[:: 4 if quick else 1]:
        season, plan, _ = explained(kind)
        _falsify(named, season, plan, kind)
    named.note = f"of these seasons and of {len(CASES)} kinds of limits by hand"
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


def _falsify(row: Row, season: Season, plan: Plan, name: object) -> None:
    """Each number and day of each certificate is moved by one: the audit names the certificate and the field."""
    reading, stored = Reading(season, (plan.from_day, plan.from_minute)), plan.extras["certificates"]
    assert isinstance(stored, list)
    for at, certificate in enumerate(stored):
        for path in leaves(certificate):
            false = [*stored[:at], falsified(certificate, path, 1), *stored[at + 1 :]]
            said = certificates(reading, replace(plan, extras={"certificates": false}))
            named = "" if path[-1] in ("first", "last") else str(path[-1])  # a day is also the name of a week
            caught = any(v.where == f"certificate {at + 1}" and named in v.what for v in said)
            row.count(None if caught else f"{name}, certificate {at + 1}: {path}")


def _by_hand(row: Row, number: int) -> None:
    season = by_hand(number)
    plan = plan_season(season, CARE)
    plan = with_certificates(season, poorer(season, plan) if number % 2 else plan)
    remedies = find_remedies(season, plan, None, CARE, 1, 6, 2).remedies if plan.shortfalls else ()
    false = called_proven_falsely(season, remedies)
    for remedy in remedies:
        named = " and ".join(remedy.changes)
        row.count(f"season {number}: {named}" if named in false else None)
    proven = sum(r.proven for r in remedies) + int(row.note.partition(" ")[0] or 0)
    row.note = f"{proven} of them called proven"


def _remedies(rows: dict[str, Row], season: Season, plan: Plan, number: int, quick: bool) -> None:
    """Each remedy's figures are those of planning the changed season anew; proven means below the base bound."""
    pairs = 0 if quick else 1
    tried = {tuple(c.key for c in changes): changes for changes in candidates(season, plan, 2, pairs)}
    bound = _shortfall(plan).bound or 0
    asked = sum(line.weight * line.asked for line in build_demand(season).lines)
    for remedy in find_remedies(season, plan, None, CARE, 1, 2, pairs).remedies:
        fresh = _shortfall(plan_season(changed(season, tried[remedy.keys]), CARE))
        gap = max(remedy.short_after, fresh.value) - remedy.least_after
        same = remedy.least_after == fresh.bound and abs(remedy.short_after - fresh.value) <= gap
        row = rows["remedies as a fresh plan"]
        row.note = _apart(row.note, abs(remedy.short_after - fresh.value) / asked)
        row.count(None if same else f"season {number}: {remedy.changes}")
        honest = remedy.proven == (remedy.short_after < remedy.least_before) and remedy.least_before <= bound
        rows["remedies called proven only where they are"].count(
            None if honest else f"season {number}: {remedy.changes}"
        )


def _apart(note: str, share: float) -> str:
    """How often a remedy and a fresh plan are not short by the same, and by how much of the demand at most."""
    found = re.search(r"([0-9]+) differ, by ([0-9.]+) %", note)
    differ, most = (int(found[1]), float(found[2])) if found else (0, 0.0)
    return f"the same bound; {differ + (share > 0)} differ, by {max(most, 100 * share):.1f} % of the demand at most"


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
