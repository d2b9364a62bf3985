"""Packing days for a plan that says only how many packs each line gets."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping

from scheduler.models.facts import Facts


def late_packing(
    facts: Facts, in_time: Mapping[str, int], late: Mapping[str, int], seconds: Mapping[int, float]
) -> dict[int, tuple[tuple[str, int], ...]]:
    """Each line's packs on the latest days that still have packing seconds, lines with the latest candy first.

    What finds no seconds goes to its last day: the day fitter says what becomes of it.
    """
    room = dict(seconds)
    packing: dict[int, Counter[str]] = defaultdict(Counter)
    for first, last, product, packs in sorted(_jobs(facts, in_time, late), reverse=True):
        each = facts.season.product_by_name[product].packing_seconds
        days = [t for t in reversed(facts.days) if first <= t <= last]
        for t in days:
            count = min(packs, int((room.get(t, 0) + 1e-3) // each) if each else packs)
            if count > 0:
                packing[t][product] += count
                room[t] = room.get(t, 0) - count * each
                packs -= count
        if packs and days:
            packing[days[0]][product] += packs
    return {t: tuple(sorted(packs.items())) for t, packs in sorted(packing.items())}


def _jobs(facts: Facts, in_time: Mapping[str, int], late: Mapping[str, int]) -> list[tuple[int, int, str, int]]:
    """(first day, last day, product, packs) of what is to be packed."""
    lead = facts.season.kitchen.packing_from_days
    jobs = []
    for line in facts.demand.lines:
        first = max((w.first for w in line.windows), default=0) + lead
        if in_time.get(line.id):
            jobs.append((first, line.pack_by, line.product, in_time[line.id]))
        if line.late is not None and late.get(line.id):
            first = max((w.first for w in line.late.windows), default=0) + lead
            jobs.append((max(first, line.due + 1), line.late.pack_by, line.product, late[line.id]))
    return jobs
