"""What would mend a shortage: real changes, each planned again with the same care, with its price.

A gain is proven where the new plan is less short than any plan of the season as it is can be
(its proven bound); otherwise it is found: some of it may be had without the change.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from typing import Any

from scheduler.answers.certificate import Certificate, from_json
from scheduler.answers.certificates import certify
from scheduler.answers.mending import Change, for_limits
from scheduler.answers.remedy import Mending, Remedy, ranked
from scheduler.answers.spread import cores, spread
from scheduler.demand.build import build_demand
from scheduler.demand.lines import Line
from scheduler.models.loop import Contradiction, NoPlan, PlanOptions, plan_season
from scheduler.plan.types import Plan
from scheduler.season.types import Season

Progress = Callable[[str], None]
SINGLES, PAIRS = 8, 4  # planned again in full; the rest is told apart by the sums alone
FOR_PAIRS = 5  # changes that are tried together


def find_remedies(
    season: Season,
    plan: Plan,
    progress: Progress | None = None,
    options: PlanOptions | None = None,
    workers: int | None = None,
    singles: int = SINGLES,
    pairs: int = PAIRS,
    seconds: float | None = None,
) -> Mending:
    """Remedies that mend something, the most packs for the money first.

    The same season and plan give the same remedies on any number of workers, unless
    ``seconds`` run out: then those planned through by then, and how many were not.
    """
    began, say = time.monotonic(), progress or (lambda _line: None)
    demand = build_demand(season, max(0, season.index(plan.from_day)))
    chosen = candidates(season, plan, singles, pairs)
    say(f"trying {len(chosen)} remedies")
    care = replace(options or PlanOptions(), workers=1)
    if seconds is not None and care.seconds is None:
        care = replace(care, seconds=max(1.0, seconds))  # one change alone never takes longer than all may
    if plan.from_day > season.kitchen.first_day:
        care = replace(care, from_day=plan.from_day, keep=plan)
    jobs = [(changed(season, changes), care) for changes in chosen]
    lines = {line.id: line for line in demand.lines}
    found: list[Remedy] = []
    tried = 0
    with closing(spread(_plan_again, jobs, workers or cores())) as results:
        for changes, after in zip(chosen, results, strict=False):
            tried += 1
            say(f"remedy {tried} of {len(jobs)}: {' and '.join(c.text for c in changes)}")
            if after is not None:
                found.append(compare(season, plan, after, changes, lines))
            if seconds is not None and time.monotonic() - began > seconds:
                break
    good = ranked([r for r in found if r.mended > 0 or r.short_after < r.short_before])
    return Mending(good, tried, len(chosen))


def candidates(season: Season, plan: Plan, singles: int, pairs: int) -> list[tuple[Change, ...]]:
    """The changes worth planning again: those that make the sums come out better, then pairs of them.

    Screened without planning: a change that leaves every certificate as it is can mend
    nothing that these prove. Changes that no sum speaks about come last.
    """
    stored = plan.extras.get("certificates")
    certificates = [from_json(c) for c in stored] if isinstance(stored, list) else []
    if not certificates:
        certificates = list(certify(season, build_demand(season), plan))
    changes = for_limits(season, plan, certificates)
    before = _proven(certificates)
    gains = {c.key: before - _proven(_certificates(c.apply(season), plan)) for c in changes}
    order = sorted(changes, key=lambda c: -gains[c.key])
    alone = _one_of_each_kind(order)[:singles]
    return [(c,) for c in alone] + (_together(season, plan, before, gains, order)[:pairs] if before else [])


def _together(
    season: Season, plan: Plan, before: int, gains: dict[str, int], order: list[Change]
) -> list[tuple[Change, ...]]:
    """Pairs that do better than either alone: a change, and one for the limit that binds next once it is made."""
    found: dict[frozenset[str], tuple[int, tuple[Change, Change]]] = {}
    for a in order[:FOR_PAIRS]:
        eased = a.apply(season)
        for b in for_limits(eased, plan, _certificates(eased, plan))[:FOR_PAIRS]:
            pair = frozenset((a.key, b.key))
            if len(pair) == 2 and pair not in found:
                gain = before - _proven(_certificates(b.apply(eased), plan))
                if gain > max(gains[a.key], gains.get(b.key, 0)):
                    found[pair] = (gain, (a, b))
    return [pair for _, pair in sorted(found.values(), key=lambda x: -x[0])]


def _one_of_each_kind(order: list[Change]) -> list[Change]:
    """The best of each kind first, then the others."""
    seen: set[str] = set()
    first = [c for c in order if not (c.kind in seen or seen.add(c.kind))]  # type: ignore[func-returns-value]
    return first + [c for c in order if c not in first]


def _certificates(season: Season, plan: Plan) -> list[Certificate]:
    return list(certify(season, build_demand(season, max(0, season.index(plan.from_day))), plan))


def _proven(certificates: list[Certificate]) -> int:
    return sum(c.pieces_short for c in certificates)


def _plan_again(job: tuple[Season, PlanOptions]) -> Plan | None:
    """The changed season planned from scratch; None where its pins can't be kept or time ran out."""
    try:
        return plan_season(*job)
    except (Contradiction, NoPlan):
        return None


def changed(season: Season, changes: tuple[Change, ...]) -> Season:
    """The season with the changes made, one after the other."""
    for change in changes:
        season = change.apply(season)
    return season


def compare(season: Season, before: Plan, after: Plan, changes: tuple[Change, ...], lines: dict[str, Line]) -> Remedy:
    """What a changed season's plan mends of the orders that it still has."""
    kept = {o.id for o in changed(season, changes).orders if not o.cancelled} | {f.id for f in season.forecasts}
    given_up = sum(line.weight * line.packs for line in lines.values() if line.id not in kept)
    was = {s.line: s for s in before.shortfalls if s.line in kept}
    now = {s.line: s for s in after.shortfalls if s.line in kept}
    firm = {line.id for line in lines.values() if line.kind == "firm"}

    def packs(rows: dict[str, Any], only: set[str] | None = None) -> int:
        return sum(s.packs for name, s in rows.items() if only is None or name in only)

    short_before, short_after = sum(s.weighted for s in was.values()), sum(s.weighted for s in now.values())
    least_before = max(0, _bound(before) - given_up)
    once = [c.price_cents for c in changes]
    return Remedy(
        changes=tuple(c.text for c in changes),
        kinds=tuple(c.kind for c in changes),
        notes=tuple(c.note for c in changes if c.note),
        keys=tuple(c.key for c in changes),
        mended=packs(was) - packs(now),
        mended_firm=packs(was, firm) - packs(now, firm),
        mended_pieces=sum(s.pieces for s in was.values()) - sum(s.pieces for s in now.values()),
        short_before=short_before,
        least_before=least_before,
        short_after=short_after,
        least_after=_bound(after),
        proven=short_after < least_before,
        extra_cents=_cost(after) - _cost(before) + sum(c or 0 for c in once),
        priced=None not in once,
    )


def _bound(plan: Plan) -> int:
    stage = next((s for s in plan.stages if s.name == "shortfall"), None)
    return stage.bound or 0 if stage is not None else 0


def _cost(plan: Plan) -> int:
    stage = next((s for s in plan.stages if s.name == "cost"), None)
    return stage.value if stage is not None else 0
