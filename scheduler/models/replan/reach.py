"""How far a rebalanced plan may change: all that lies ahead, or in a long season the weeks around what is new.

What is new is near in time as a rule, and a change far ahead seldom mends it. So a long season is bent in a part of it
(see ``part``); all else stays to the letter. What is proven of such a part is proven of plans that change nothing else.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from scheduler.models.counts.deal import dealt_beside
from scheduler.models.counts.part import Part, Weeks, part_of
from scheduler.models.facts import Facts
from scheduler.models.replan.bend import MISSED_SHOW, weigh
from scheduler.models.replan.choices import Ahead
from scheduler.models.replan.made_real import going, short_of
from scheduler.models.replan.mend import Mended
from scheduler.plan.lots import Allocation, Deal
from scheduler.plan.types import DayPlan, packs_by_line

MOST = 500  # free days times designs that may change at once


@dataclass(frozen=True)
class Reach:
    """What may change: the days with their old plans, what each line had of them, and what they give to whom.

    ``beside``: what is short of the old plan where nothing may change, in the measure of the bend. ``part``: None
    where all that lies ahead may change. ``gains``: a line may get more than it had.
    """

    facts: Facts
    before: dict[int, DayPlan]
    had: dict[str, int]
    given: Allocation
    beside: int
    part: Part | None = None
    gains: bool = False

    @property
    def within(self) -> tuple[date, date] | None:
        """The first and last day that may change, where not all may."""
        if self.part is None:
            return None
        days = [self.facts.season.days[t] for t in self.facts.days if t not in self.part.settled]
        return min(days), max(days)

    @property
    def seen(self) -> dict[int, DayPlan]:
        """The old plan as a model of the reach sees it: of days that stay, what may be given out anew."""
        return self.before if self.part is None else {**self.before, **self.part.settled}

    @cached_property
    def deals(self) -> tuple[Deal | None, ...]:
        """Ways to give packs out, promised packs first; all that stays as it was.

        To nobody more than they had; or (``gains``) as much as can be, or to all what they had and the rest to others.
        """
        lines = [replace(n, weight=weigh(n)) for n in self.facts.demand.lines]
        stay = () if self.part is None else self.part.stay
        if self.gains:
            kept = [f for f in self.given.fills if f.packed is not None]
            got = packs_by_line(kept)
            more = [replace(n, packs=n.packs - got[n.id]) for n in lines if n.packs > got[n.id]]
            return dealt_beside(stay, lines, self.facts.season), dealt_beside((*stay, *kept), more, self.facts.season)
        most = {n.id: min(n.packs, self.had.get(n.id, n.packs)) for n in lines}
        anew = [replace(n, packs=most[n.id]) for n in lines if most[n.id] and (n.partial or most[n.id] == n.packs)]
        deal = dealt_beside(stay, anew, self.facts.season)
        return (None, deal) if self.part is None else (deal, None)

    def whole(self, ahead: Ahead, mended: Mended) -> Mended:
        """Mended days of the reach with all others as they were: their packs, and who gets them."""
        if self.part is None:
            return mended
        wish = self.part.whole(mended.wish)
        packing = {t: tuple(sorted(day.packs.items())) for t, day in ahead.before.items() if t not in mended.days}
        for t, day in self.part.settled.items():  # what was packed for others there stays
            kept = ahead.before[t].packs - day.packs + Counter(dict(mended.wish.packing.get(t, ())))
            packing[t] = tuple(sorted(kept.items()))
        packing |= {t: packs for t, packs in mended.wish.packing.items() if t not in self.part.settled}
        return Mended({**ahead.before, **mended.days}, replace(wish, packing=packing))


def everything(ahead: Ahead) -> Reach:
    """All that lies ahead may change."""
    beside, gains = _beside(ahead, ahead.facts), bool(ahead.freed)
    return Reach(ahead.facts, ahead.before, ahead.had, ahead.given, beside, gains=gains)


def around_the_news(ahead: Ahead) -> Reach | None:
    """The weeks around what is new, as many as are manageable; None where that is all that lies ahead."""
    facts = ahead.facts
    weeks = near(facts, _weeks_of_news(ahead)) if facts.days else frozenset()
    if len(weeks) == len(facts.weeks):
        return None
    days = {ahead.season.index(d.day): d for d in _days(ahead)}
    part = part_of(facts, days, ahead.given, weeks)
    kept = packs_by_line(part.stay)
    had = {n.id: max(0, ahead.had[n.id] - kept[n.id]) for n in part.facts.demand.lines if n.id in ahead.had}
    before = {t: ahead.before[t] for t in part.facts.days if t in ahead.before}
    return Reach(part.facts, before, had, part.given, _beside(ahead, part.facts, part), part, bool(ahead.freed))


def near(facts: Facts, news: Weeks) -> Weeks:
    """Weeks with something new, and those nearest to them, the later first, as long as they are manageable.

    Example: 26 weeks of 240 (days times designs) with something new in the third: the second to the fourth.
    """
    order = sorted(facts.weeks)
    at = [k for k, week in enumerate(order) if week in news] or [0]
    by_distance = sorted(range(len(order)), key=lambda k: (min(abs(k - n) for n in at), -k))
    chosen, size = set[tuple[int, int]](), 0
    for k in by_distance:
        size += len(facts.weeks[order[k]]) * len(facts.season.designs)
        if size > MOST and k not in at and chosen:
            break
        chosen.add(order[k])
    return frozenset(chosen)


def _weeks_of_news(ahead: Ahead) -> Weeks:
    """Weeks in which the old plan can't stay as it is, or in which what is short now would be made at the latest."""
    facts, season = ahead.facts, ahead.season
    days = {season.index(day) for _, day in ahead.absent} | set(_pins_missed(ahead))
    before = ahead.plan.short_packs
    lines = {n.id: n for n in facts.demand.lines}
    for s in ahead.given.shortfalls:
        if s.packs > before.get(s.line, 0):
            days.add(max((w.last for w in lines[s.line].windows), default=ahead.first))
    first, last = facts.days[0], facts.days[-1]
    return frozenset(facts.week(min(max(t, first), last)) for t in days if t >= 0)


def _pins_missed(ahead: Ahead) -> list[int]:
    """Days of which a pin asks what the old plan does not do."""
    out = []
    for pin in ahead.season.pins:
        t = ahead.season.index(pin.day) if pin.day is not None else -1
        day = ahead.before.get(t)
        if day is None:
            continue
        count = sum(b.design == pin.design for b in day.batches)
        there = any(s.person == pin.person for s in day.shifts)
        broken = {
            "make": count < pin.batches, "do not make": count > 0, "no making": bool(day.batches),
            "off": there, "works": not there,
        }  # fmt: skip
        if broken.get(pin.kind):
            out.append(t)
    return out


def _beside(ahead: Ahead, facts: Facts, part: Part | None = None) -> int:
    """What is short of the old plan of lines, and shows missed on days, that a model of these facts does not count."""
    season, days, settled = ahead.season, _days(ahead), part.settled if part else {}
    inside = {n.id for n in facts.demand.lines}
    outside = [n for n in ahead.facts.demand.lines if n.id not in inside]
    held = {(d.day, b.show) for d in days for b in d.batches if b.show and season.index(d.day) not in settled}
    there = {d.day for d in days}
    counted = sum(
        (season.days[t], show.name) not in held
        for t, shows in facts.shows.items() if season.days[t] in there
        for show in shows
    )  # fmt: skip
    return short_of(ahead, ahead.plan.shortfalls, days, outside) - MISSED_SHOW * counted


def _days(ahead: Ahead) -> tuple[DayPlan, ...]:
    """The old plan's days that are not over, today as it goes on."""
    return (*going(ahead), *ahead.before.values())
