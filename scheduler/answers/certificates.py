"""Why a plan is short: of all windows in which a limit is too small, those that prove most, written out.

No solver: each certificate is a sum on paper, and holds for every plan of the season.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from scheduler.answers import limits as known_limits
from scheduler.answers.certificate import KINDS, Certificate, Inside, Part
from scheduler.answers.limits import Limit
from scheduler.answers.windows import Found, found_in, missed_shows, search, there_from, uses_of
from scheduler.demand.lines import Demand
from scheduler.plan.types import Plan
from scheduler.season.types import Season


def certify(season: Season, demand: Demand, plan: Plan) -> tuple[Certificate, ...]:
    """Certificates for a plan's shortage, the one that proves most pieces first.

    A line is in the first certificate that holds it; a line in none has no sum on paper.
    """
    chosen = _strongest(list(search(season, demand, plan)), plan)
    return tuple(certificate_of(season, demand, found, plan) for found in chosen)


def certificate_of(season: Season, demand: Demand, found: Found, plan: Plan) -> Certificate:
    """A finding written out as a certificate, week by week."""
    return _certificate(season, _only_inside(season, demand, found, plan), plan)


def _strongest(found: list[Found], plan: Plan) -> list[Found]:
    """Pick one after the other what proves most that is not explained yet; short windows on a tie."""
    short = plan.short_packs
    explained: set[str] = set()
    chosen: list[Found] = []
    while True:
        best: tuple[tuple[float, ...], Found] | None = None
        for f in found:
            fresh = [s for s in f.spans if s.line.id in short and s.line.id not in explained]
            if not fresh:
                continue
            known = sum(short.get(s.line.id, 0) * sum(s.pieces.values()) for s in f.spans if s.line.id in explained)
            proves = f.pieces_short - known
            if proves <= 0:
                continue
            rank = KINDS.index(f.limit.kind)
            share = f.pieces_short / max(1, f.short_in_plan)
            plain = f.limit.unit == "batches"
            key = (float(proves), share, float(f.first - f.last), -float(len(f.uses)), -float(rank), float(plain))
            if best is None or key > best[0]:
                best = (key, f)
        if best is None:
            return chosen
        chosen.append(best[1])
        explained |= {s.line.id for s in best[1].spans}


def _only_inside(season: Season, demand: Demand, found: Found, plan: Plan) -> Found:
    """The same limit for the designs and days of the lines inside alone: never weaker, and all on the page."""
    limit, free, inside = found.limit, max(0, season.index(plan.from_day)), list(found.spans)
    some = [s for s in inside if s.first <= s.last]
    first = min((s.first for s in some), default=free)
    last = max((s.last for s in some), default=first - 1)
    from_day, until = found.days
    if limit.kind == "packing minutes":
        uses = found.uses
        from_day += first - found.first if from_day > free else 0
    else:
        limit = _narrower(season, found, plan, free)
        uses = uses_of(season, demand, limit, inside)
        from_day, until = first, until if limit.until_packed else last
    there = there_from(season, limit, from_day)[min(until, season.day_count - 1)] if until >= from_day else 0
    return found_in(limit, first, last, inside, uses, (from_day, until), there, plan.short_packs)


def _narrower(season: Season, found: Found, plan: Plan, free: int) -> Limit:
    limit = found.limit
    designs = [season.design_by_name[u.name] for u in found.uses]
    for other in known_limits.limits_for(season, designs, free, missed_shows(season, plan)):
        same = (other.kind, other.unit, other.people) == (limit.kind, limit.unit, limit.people)
        if same and (limit.people or other.what == limit.what):
            return other
    return limit


def _certificate(season: Season, found: Found, plan: Plan) -> Certificate:
    short = plan.short_packs
    limit = found.limit
    inside = tuple(
        Inside(s.line.id, s.line.asked, s.line.asked - s.line.packs, s.line.packs, short.get(s.line.id, 0))
        for s in sorted(found.spans, key=lambda s: (s.line.due, s.line.id))
    )
    uses = tuple(u for u in found.uses if u.to_make)
    needed = sum(u.needs for u in uses)
    due = min(season.days[0] + timedelta(days=s.line.due) for s in found.spans)
    first, last = season.days[found.first], season.days[max(0, found.last)]
    made = Certificate(
        kind=limit.kind,
        what=limit.what,
        people=limit.people,
        unit=limit.unit,
        first=first if found.last >= found.first else due,
        last=last if found.last >= found.first else due,
        inside=inside,
        uses=found.uses,
        parts=tuple(parts(season, limit, *found.days)),
        needed=needed,
        there=found.there,
        missing=needed - found.there,
        pieces_short=found.pieces_short,
        short_in_plan=found.short_in_plan,
    )
    return made if made.there else replace(made, kind=_why_never(season, found))


def _why_never(season: Season, found: Found) -> str:
    """Nothing of the limit is there at all: the window holds no day, or supplies come after it."""
    if found.limit.kind != "pours a day":
        return found.limit.kind
    starts = [season.design_by_name[u.name].from_day for u in found.uses]
    late = [day for day in starts if day is not None and season.index(day) > found.last >= found.first]
    return "supplies" if len(late) == len(starts) else "no day in the window"


def parts(season: Season, limit: Limit, first: int, last: int) -> Iterator[Part]:
    """What there is, week by week and by who gives it; weeks that give nothing are left out."""
    weeks: dict[tuple[int, int], list[int]] = {}
    for t in range(first, min(last, season.day_count - 1) + 1):
        year, week, _ = season.days[t].isocalendar()
        weeks.setdefault((year, week), []).append(t)
    for days in weeks.values():
        for who, amounts in limit.amounts.items():
            given = [t for t in days if amounts.get(t, 0) > 0]
            if not given:
                continue
            by_day = sum(amounts[t] for t in given)
            cap = limit.week_limits.get(who)
            amount = by_day if cap is None else min(cap, by_day)
            yield Part(who, season.days[given[0]], season.days[given[-1]], len(given), by_day, cap, amount)
