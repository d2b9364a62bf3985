"""The arithmetic of a certificate: rows of a sum, and the pieces that can't be had."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from scheduler.answers.certificate import Use


def use(name: str, wanted: int, stock: int, size: int, each: int, whole: bool) -> Use:
    """One row of a sum. Whole batches: 1,000 pieces of 900 are 2 batches; in proportion: 1,000 * each / size."""
    on_hand = min(wanted, stock)
    to_make = wanted - on_hand
    count = -(-to_make // size)
    return Use(name, wanted, on_hand, to_make, size, count, each, count * each if whole else to_make * each // size)


def pieces_short(uses: Iterable[Use], there: int, whole: bool) -> int:
    """Pieces that can't be had whatever is made: all, less the most that ``there`` gives."""
    uses = tuple(uses)
    return max(0, sum(u.to_make for u in uses) - sum(pieces for _, pieces, _ in best_filling(uses, there, whole)))


def best_filling(uses: Iterable[Use], there: int, whole: bool) -> list[tuple[str, int, int]]:
    """(name, pieces, what they take) of the most pieces that ``there`` gives, one row for each lot of alike batches.

    The limit goes first to what gives most pieces for it; what is left at the end counts in
    proportion (whole batches only, where all take the same).
    """
    items: list[tuple[str, int, int, int]] = []  # (name, pieces, taken, how often)
    for u in uses:
        if not whole:
            items.append((u.name, u.to_make, u.needs, 1))
            continue
        full, rest = divmod(u.to_make, u.size)
        items += [(u.name, u.size, u.each, full), (u.name, rest, u.each, 1 if rest else 0)]
    same = whole and len({taken for _, _, taken, times in items if times}) <= 1
    got, left = [], there
    for name, pieces, taken, times in sorted(items, key=lambda x: -x[1] / max(1, x[2])):
        fits = times if taken == 0 else min(times, left // taken)
        got.append((name, fits * pieces, fits * taken))
        left -= fits * taken
        if fits < times:
            if not same:
                got.append((name, -(-pieces * left // taken), left))
            break
    return got


def left_out(uses: Iterable[Use], there: int) -> list[tuple[int, int]]:
    """(pieces, how many) of the batches that are left out, the smallest first, where all take the same.

    Example: 250 and 130 pieces in batches of 100, room for 3: the smallest two, 30 and 50.
    """
    batches: Counter[int] = Counter()
    each = 1
    for u in uses:
        full, rest = divmod(u.to_make, u.size)
        batches[u.size] += full
        batches[rest] += 1 if rest else 0
        each = u.each if u.to_make else each
    too_many, out = sum(batches.values()) - there // max(1, each), []
    for pieces in sorted(+batches):
        out.append((pieces, min(too_many, batches[pieces])))
        too_many -= out[-1][1]
    return [(pieces, times) for pieces, times in out if times > 0]
