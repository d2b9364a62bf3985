"""What would mend a shortage: real changes, each planned through to the minute, with its price.

A gain is proven where the new plan is less short than any plan of the season as it is can be
(its proven bound); otherwise it is found. So that nobody is asked for nothing, the season as it is is planned on first:
what that mends is a remedy of its own, and told beside the others.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from contextlib import closing
from dataclasses import dataclass, replace
from itertools import permutations

from scheduler.answers.ahead import demand_of
from scheduler.answers.certificate import Certificate, from_json
from scheduler.answers.certificates import certify
from scheduler.answers.mending import Change, for_limits
from scheduler.answers.onward import plan_onward
from scheduler.answers.remedy import Mending, Remedy, ranked, worth_telling
from scheduler.demand.lines import Line
from scheduler.models.no_plan import Contradiction, NoPlan
from scheduler.models.search.loop import PlanOptions
from scheduler.models.solvers.spread import cores, spread
from scheduler.plan.files import PlanFaults
from scheduler.plan.types import Plan, Shortfall, StageResult
from scheduler.season.types import Season

Progress = Callable[[str], None]
Changes = tuple[Change, ...]
# the last two: when the clock stops, in seconds since the epoch; a weight that a doubtful change must come below
Job = tuple[Season, Plan, PlanOptions, float | None, int | None]
SINGLES, PAIRS = 10, 2  # planned through; the rest is told apart by the sums alone
FOR_PAIRS = 4  # changes that are tried together
NOTHING = "nothing changed, only planned for longer"
LAST = 10  # seconds in which a change that is on its way may still finish


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

    Changes that ease no sum come last, and are not planned where their own bound shows that they mend nothing.
    The same season and plan give the same remedies on any number of workers, unless ``seconds`` run out: then what was
    found by then, and how many were not looked into to the end.
    """
    began, say = time.monotonic(), progress or (lambda _line: None)
    say("looking for changes that could help")
    chosen: dict[Changes, int] = candidates(season, plan, singles, pairs)
    care = replace(options or PlanOptions(), workers=1)
    many = workers or cores()
    left = None if seconds is None else max(0.0, seconds - (time.monotonic() - began))
    until = None if left is None else time.time() + left
    lines = demand_of(season, plan).lines
    firm = {line.id for line in lines if line.kind == "firm"}
    asked: list[Changes] = sorted(chosen, key=lambda changes: not chosen[changes])
    if asked and _stage(plan, "shortfall").value > (_stage(plan, "shortfall").bound or 0):
        asked.insert(0, ())
    jobs, was = [], []
    for changes in asked:
        after = changed(season, changes)
        was.append(before(plan, lines, after))
        jobs.append((after, plan, care, until, None if chosen.get(changes, 1) else was[-1].short))
    shows = _stage(plan, "missed shows").value
    found: list[Remedy] = []
    tried, anyway = 0, None
    patience = None if until is None else max(0.0, until - time.time()) + LAST
    with closing(spread(_plan_again, jobs, many, patience)) as results:
        for done, (number, (again, whole)) in enumerate(results, 1):
            changes = asked[number]
            tried += whole and bool(changes)
            say(f"{done} of {len(jobs)}: {' and '.join(c.text for c in changes) or NOTHING}")
            if again is not None and _stage(again, "missed shows").value <= shows:
                found.append(compare(plan, was[number], again, changes, firm))
                anyway = anyway if changes else max(0, found[-1].mended)
    told = [replace(remedy, anyway=anyway) if remedy.keys else remedy for remedy in worth_telling(found)]
    return Mending(ranked(told), tried, len(chosen))


def candidates(season: Season, plan: Plan, singles: int, pairs: int) -> dict[Changes, int]:
    """Changes worth a look, with the pieces by which the sums come out better: single ones, then pairs of them."""
    certificates = _stored(season, plan)
    changes = for_limits(season, plan, certificates)
    proven = _proven(certificates)
    gains = {c.key: proven - _proven(_certificates(c.apply(season), plan)) for c in changes}
    order = sorted(changes, key=lambda c: -gains[c.key])
    alone = _one_of_each_kind(order)[:singles]
    together = sorted(_together(season, plan, proven, gains, order).items(), key=lambda x: -x[1]) if proven else []
    return {(c,): max(0, gains[c.key]) for c in alone} | dict(together[:pairs])


def _together(
    season: Season, plan: Plan, proven: int, gains: dict[str, int], order: list[Change]
) -> dict[Changes, int]:
    """Pairs that do better than either alone: a change, and one for the limit that binds next once it is made."""
    seen: set[frozenset[str]] = set()
    found: dict[Changes, int] = {}

    def partly(changes: list[Change]) -> list[Change]:
        """What leaves something to be mended by another change."""
        return [c for c in changes if gains.get(c.key, 0) < proven][:FOR_PAIRS]

    for a in partly(order):
        eased = a.apply(season)
        for b in partly(for_limits(eased, plan, _certificates(eased, plan))):
            pair = frozenset((a.key, b.key))
            if len(pair) == 2 and pair not in seen:
                seen.add(pair)
                gain = proven - _proven(_certificates(b.apply(eased), plan))
                if gain > max(gains[a.key], gains.get(b.key, 0)):
                    found[(a, b) if a.kind != b.kind or a.key < b.key else (b, a)] = gain
    return found


def _one_of_each_kind(order: list[Change]) -> list[Change]:
    """The best of each kind first, then the others."""
    first = list({c.kind: c for c in reversed(order)}.values())[::-1]
    return [c for c in order if c in first] + [c for c in order if c not in first]


def _certificates(season: Season, plan: Plan) -> list[Certificate]:
    return list(certify(season, demand_of(season, plan), plan))


def _stored(season: Season, plan: Plan) -> list[Certificate]:
    """The certificates that a plan carries; sought where it carries none."""
    stored = plan.extras.get("certificates")
    return [from_json(c) for c in stored] if isinstance(stored, list) else _certificates(season, plan)


def _proven(certificates: list[Certificate]) -> int:
    return sum(c.pieces_short for c in certificates)


def made_real(
    season: Season, plan: Plan, remedy: Remedy, options: PlanOptions | None = None
) -> tuple[Season, Plan, Remedy]:  # fmt: skip
    """The season with a remedy's changes made, its plan, planned onward as for the letter, and what that mends.

    Raises PlanFaults where the season gives no such change any more, and what ``plan_onward`` raises.
    """
    changes = _named(season, plan, remedy.keys)
    after = changed(season, changes)
    again = plan_onward(after, plan, options or PlanOptions())
    lines = demand_of(season, plan).lines
    firm = {line.id for line in lines if line.kind == "firm"}
    return after, again, compare(plan, before(plan, lines, after), again, changes, firm)


def _named(season: Season, plan: Plan, keys: tuple[str, ...]) -> Changes:
    """The changes of a remedy by their keys: of a pair the second is for what binds once the first is made."""
    for order in permutations(keys):
        eased, found = season, list[Change]()
        for key in order:
            certificates = _certificates(eased, plan) if found else _stored(eased, plan)
            found += [c for c in for_limits(eased, plan, certificates) if c.key == key]
            eased = changed(season, tuple(found))
        if len(found) == len(keys):
            return tuple(sorted(found, key=lambda c: keys.index(c.key)))
    raise PlanFaults("The season gives no such change any more: run rockrota explain SEASON PLAN --remedies again.")


def _plan_again(job: Job) -> tuple[Plan | None, bool]:
    """The changed season's plan, None without one; and whether it was worked out before the clock cut it off."""
    season, plan, care, until, doubtful = job
    left = math.inf if until is None else until - time.time()
    if left <= 0:
        return None, False
    try:
        after = plan_onward(season, plan, care if until is None else replace(care, seconds=left), doubtful)
    except (Contradiction, NoPlan):
        return None, True
    return after, until is None or time.time() < until


def changed(season: Season, changes: Changes) -> Season:
    """The season with the changes made, one after the other."""
    for change in changes:
        season = change.apply(season)
    return season


@dataclass(frozen=True)
class Before:
    """The plan's shortage among the lines that the changed season still has: rows, weight, and the proven least."""

    rows: dict[str, Shortfall]
    short: int
    least: int


def before(plan: Plan, lines: tuple[Line, ...], after: Season) -> Before:
    """The plan as it is without the orders that are given up; all that these weigh may be in its bound.

    All of it, with what stands ready for them: others could have had that in the season as it is, too.
    """
    gone = {o.id for o in after.orders if o.cancelled}
    rows = {s.line: s for s in plan.shortfalls if s.line not in gone}
    given_up = sum(line.whole_weight for line in lines if line.id in gone)
    least = _stage(plan, "shortfall").bound or 0
    return Before(rows, sum(s.weighted for s in rows.values()), max(0, least - given_up))


def compare(plan: Plan, was: Before, after: Plan, changes: Changes, firm: set[str]) -> Remedy:
    """What a changed season's plan mends of the orders that it still has; ``firm`` are the firm ones."""
    now = {s.line: s for s in after.shortfalls}
    once = [c.price_cents for c in changes]
    short_after = sum(s.weighted for s in now.values())

    def packs(rows: dict[str, Shortfall], only: Iterable[str]) -> int:
        return sum(rows[name].packs for name in only if name in rows)

    return Remedy(
        changes=tuple(c.text for c in changes) or (NOTHING,),
        kinds=tuple(c.kind for c in changes),
        notes=tuple(dict.fromkeys(c.note for c in changes if c.note)),
        keys=tuple(c.key for c in changes),
        mended=packs(was.rows, was.rows) - packs(now, now),
        mended_firm=packs(was.rows, firm) - packs(now, firm),
        mended_pieces=sum(s.pieces for s in was.rows.values()) - sum(s.pieces for s in now.values()),
        short_before=was.short,
        least_before=was.least,
        short_after=short_after,
        least_after=_stage(after, "shortfall").bound or 0,
        proven=short_after < was.least,
        extra_cents=_stage(after, "cost").value - _stage(plan, "cost").value + sum(c or 0 for c in once),
        priced=None not in once,
    )


def _stage(plan: Plan, name: str) -> StageResult:
    return plan.stage(name) or StageResult(name, "", 0, None, False)
