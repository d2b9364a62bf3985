"""Minutes of a day as bits of whole numbers: bit 500 is the minute from 8:20. Fast sums about who is free when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache

DAYS = 2880  # minutes of a day and the next


def bits(starts: int, ends: int) -> int:
    """The minutes of [starts, ends). bits(2, 4): 0b1100."""
    if starts < 0:
        starts = 0
    return ((1 << (ends - starts)) - 1) << starts if ends > starts else 0


def bits_at(minutes: Iterable[int]) -> int:
    """These minutes, each another one. bits_at([0, 3]): 0b1001."""
    return sum(1 << minute for minute in minutes)


def clear(free: int, minutes: int) -> int:
    """Minutes from which on so many are free. clear(0b11011, 2): 0b01001."""
    for step in _steps(minutes):
        free &= free >> step
    return free


@cache
def _steps(minutes: int) -> tuple[int, ...]:
    """By how much to move at a time: after (1, 2, 2) so many as 6 in a row are known."""
    out, done = [], 1
    while done < minutes:
        out.append(min(done, minutes - done))
        done += out[-1]
    return tuple(out)


def at_least(count: int, sets: Iterable[int]) -> int:
    """Minutes that are in at least so many of the sets; -1, all there are, for none."""
    if count <= 0:
        return -1
    if count == 1:
        once = 0
        for one in sets:
            once |= one
        return once
    levels = [0] * count
    for one in sets:
        for k in range(count - 1, 0, -1):
            levels[k] |= levels[k - 1] & one
        levels[0] |= one
    return levels[-1]


def lowest(minutes: int) -> int:
    """The first of some minutes; -1 where there is none."""
    return (minutes & -minutes).bit_length() - 1


def apart(minutes: int, most: int = DAYS, step: int = 5) -> Iterator[int]:
    """The first of some minutes, and others so far apart, as many as asked for."""
    while minutes and most:
        at = lowest(minutes)
        yield at
        minutes &= ~bits(0, at + step)
        most -= 1


def nearest(minutes: int, to: int) -> int | None:
    """The one of some minutes that is nearest to a wanted one."""
    above, below = minutes >> to, minutes & bits(0, to)
    high = to + lowest(above) if above else None
    low = below.bit_length() - 1 if below else None
    if high is None or low is None:
        return high if low is None else low
    return high if high - to <= to - low else low
