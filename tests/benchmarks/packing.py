"""Packing days for a plan that says only how many packs each line gets."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping

from scheduler.models.facts import Facts
from scheduler.models.thumb import ROOM_PERCENT


def late_packing(
    facts: Facts, in_time: Mapping[str, int], late: Mapping[str, int], batches: Mapping[int, tuple[str, ...]]
) -> dict[int, tuple[tuple[str, int], ...]]:
    """Each line's packs on the latest days with time beside the batches, lines with the latest candy first.

    What finds no time is left out: on a day that is full it would cost batches.
    """
    room = {t: _spare_seconds(facts, t, batches.get(t, ())) for t in facts.days}
    packing: dict[int, Counter[str]] = defaultdict(Counter)
    for first, last, product, packs in sorted(_jobs(facts, in_time, late), reverse=True):
        each = facts.season.product_by_name[product].packing_seconds
        for t in reversed([t for t in facts.days if first <= t <= last]):
            count = min(packs, max(0, room[t]) // each if each else packs)
            if count > 0:
                packing[t][product] += count
                room[t] -= count * each
                packs -= count
    return {t: tuple(sorted(packs.items())) for t, packs in sorted(packing.items())}


def _spare_seconds(facts: Facts, t: int, designs: tuple[str, ...]) -> int:
    """Three quarters of the hours of everyone in, as the rule of thumb has it, less the batches and duties."""
    hours = sum(facts.work_of(s.longest) for s in facts.hands[t].values()) * ROOM_PERCENT // 100
    work = sum(facts.minutes_of(d) for d in designs)
    duties = sum(p * m for p, m in facts.duties()) if designs else 0
    return 60 * (hours - work - duties)


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
