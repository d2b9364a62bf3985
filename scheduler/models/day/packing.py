"""Packing in the day model: stretches of people's time at the bench, filled with packs afterwards."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from scheduler.models.day.work import Day, Job, PackBlock, skilled
from scheduler.season.types import Season

STRETCHES = 3  # at most so many stretches of packing for one person and day
LEAST_PACKS = 4  # fewer are not begun where more are to be packed
SHORTEST_STRETCH = 10  # minutes; shorter ones are not worth walking to the bench


def packing_minutes(season: Season, packing: tuple[tuple[str, int], ...]) -> int:
    """Least minutes for packs: each product in one run, seconds rounded up. 90 packs of 50 s: 75."""
    return sum(-(-packs * season.product_by_name[p].packing_seconds // 60) for p, packs in packing if packs > 0)


def add_packing(day: Day) -> None:
    """`packing`: stretches at the packing station hold the packs' minutes.

    sum of the stretches' minutes >= packing minutes; each stretch is one person at one
    place. Example: 90 packs of 50 s are 75 min: 45 by Ana and 30 by Ben will do.
    """
    needed = packing_minutes(day.season, day.request.packing)
    if needed == 0:
        return
    _bench_minutes(day, needed)
    model = day.model
    least = min(SHORTEST_STRETCH, needed)
    for name in skilled(day, day.season.kitchen.packing_skill):
        who = day.people[name]
        before: PackBlock | None = None
        for k in range(STRETCHES):
            label = f"packs {name} {k}"
            held = model.new_bool_var(label)
            start = model.new_int_var(day.opens, day.closes, f"{label} from")
            end = model.new_int_var(day.opens, day.closes, f"{label} to")
            size = model.new_int_var(0, min(day.closes - day.opens, 2 * needed), f"{label} for")
            interval = model.new_optional_interval_var(start, size, end, held, label)
            model.add(size >= least).only_enforce_if(held)
            model.add(size == 0).only_enforce_if(~held)
            model.add(start == day.opens).only_enforce_if(~held)
            model.add(end == day.opens).only_enforce_if(~held)
            if before is not None:
                model.add_implication(held, before.held)
                model.add(start >= before.start + before.size).only_enforce_if(held)
            before = PackBlock(name, held, start, size, interval)
            day.blocks.append(before)
            who.jobs.append(Job(held, start, end, interval, size))
    model.add(sum(block.size for block in day.blocks) >= needed)


def more_packing(day: Day, missing: int) -> None:
    """Ask for more minutes than before: packs did not come out even in the stretches."""
    day.spare += missing
    needed = packing_minutes(day.season, day.request.packing) + day.spare
    day.model.add(sum(block.size for block in day.blocks) >= needed)


def add_idle_minutes(day: Day) -> None:
    """A weaker `packing` for proofs: the packers' idle minutes, however cut up, hold the packs' minutes."""
    needed = packing_minutes(day.season, day.request.packing)
    if needed == 0:
        return
    _bench_minutes(day, needed)
    for name in skilled(day, day.season.kitchen.packing_skill):
        day.people[name].idle_packing = day.model.new_int_var(0, needed, f"packs {name}")
    day.model.add(sum(w.idle_packing for w in day.people.values() if w.idle_packing is not None) >= needed)


def _bench_minutes(day: Day, needed: int) -> None:
    """The bench holds at most places times opening minutes, of stages and packing together."""
    bench = day.season.kitchen.packing_station
    stages = sum(r.need.minutes for b in day.batches for r in b.runs if r.need.station == bench)
    if needed + stages > day.season.places.get(bench, 0) * (day.closes - day.opens):
        day.impossible()


@dataclass
class Stretch:
    """A stretch of a person's time at the packing station, as solved."""

    person: str
    starts: int
    ends: int


@dataclass
class PackPiece:
    """Packs of one product that one person packs without a pause."""

    product: str
    packs: int
    person: str
    starts: int
    ends: int


def fill_stretches(
    season: Season, packing: tuple[tuple[str, int], ...], stretches: list[Stretch]
) -> tuple[list[PackPiece], int]:
    """Put the packs into the stretches, one product after the other; also the minutes that are missing.

    The most work first, whole where a stretch holds it, best one that is begun; else the longest
    stretch, and what is left over for another is worth going to the bench for. Cutting loses less
    than one pack's time.
    """
    slots = merged(stretches)
    begun: set[int] = set()
    pieces: list[PackPiece] = []
    missing = 0
    seconds = {p: season.product_by_name[p].packing_seconds for p, _ in packing}
    for product, packs in sorted(packing, key=lambda x: (-seconds[x[0]] * x[1], x[0])):
        each = seconds[product]
        while packs > 0 and slots:
            room = [(slot.ends - slot.starts) * 60 // each for slot in slots]
            whole = [n for n, fit in enumerate(room) if fit >= packs]
            n = min(whole or range(len(slots)), key=lambda n: (n not in begun, room[n]) if whole else -room[n])
            fit = min(packs, room[n])
            if fit < packs:  # what is left must be worth a stretch of its own
                fit = min(fit, packs - min(packs // 2, -(-SHORTEST_STRETCH * 60 // each)))
            if fit < min(packs, LEAST_PACKS):
                break
            minutes = -(-fit * each // 60)
            pieces.append(PackPiece(product, fit, slots[n].person, slots[n].starts, slots[n].starts + minutes))
            slots[n].starts += minutes
            begun.add(n)
            packs -= fit
        missing += -(-packs * each // 60)
    return pieces, missing


def merged(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Stretches of one person that follow each other without a gap become one: 8 to 9 and 9 to 10 are 8 to 10."""
    out: list[Stretch] = []
    for one in sorted(stretches, key=lambda s: (s.person, s.starts)):
        if out and (out[-1].person, out[-1].ends) == (one.person, one.starts):
            out[-1] = replace(out[-1], ends=one.ends)
        else:
            out.append(replace(one))
    return out
