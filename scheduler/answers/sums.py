"""The arithmetic of a certificate: rows of a sum, and the pieces that can't be had."""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.answers.certificate import Use


def use(name: str, wanted: int, stock: int, size: int, each: int, whole: bool) -> Use:
    """One row of a sum. Whole batches: 1,000 pieces of 900 are 2 batches; in proportion: 1,000 * each / size."""
    on_hand = min(wanted, stock)
    to_make = wanted - on_hand
    count = -(-to_make // size)
    return Use(name, wanted, on_hand, to_make, size, count, each, count * each if whole else to_make * each // size)


def pieces_short(uses: Iterable[Use], there: int, whole: bool) -> int:
    """Pieces that can't be had whatever is made: all, less the most that ``there`` gives.

    The limit goes first to what gives most pieces for it; what is left at the end counts in
    proportion (whole batches only, where all take the same).
    """
    items: list[tuple[int, int, int]] = []  # (pieces, taken, how often)
    for u in uses:
        if not whole:
            items.append((u.to_make, u.needs, 1))
            continue
        full, rest = divmod(u.to_make, u.size)
        items += [(u.size, u.each, full), (rest, u.each, 1 if rest else 0)]
    total = sum(pieces * times for pieces, _, times in items)
    same = whole and len({taken for _, taken, times in items if times}) <= 1
    got, left = 0, there
    for pieces, taken, times in sorted(items, key=lambda x: -x[0] / max(1, x[1])):
        fits = times if taken == 0 else min(times, left // taken)
        got += fits * pieces
        left -= fits * taken
        if fits < times:
            got += 0 if same else -(-pieces * left // taken)
            break
    return max(0, total - got)
