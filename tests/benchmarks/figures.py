"""Figures from the rows: gaps to the best bound that any run proved, medians and spreads over the seeds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from math import inf
from statistics import median

from tests.benchmarks.cases import PEERS, WHOLE, Row
from tests.benchmarks.results import steps_of

SIZES = ("tiny", "S", "M", "L", "XL")
Place = tuple[str, str, str]  # season, load, seconds that each had


def place_of(row: Row) -> Place:
    return row["season"], row["load"], row["limit"]


def bounds(rows: Iterable[Row]) -> dict[tuple[str, str, str], int]:
    """(season, load, seed) -> the best bound proven by anyone, 0 where nobody proved one."""
    out: dict[tuple[str, str, str], int] = defaultdict(int)
    for row in rows:
        place = row["season"], row["load"], row["seed"]
        out[place] = max(out[place], int(row["bound"] or 0))
    return out


def gap(row: Row, what: str, bound: int) -> float | None:
    """Per cent of the weighted demand between a figure of a row and the bound; None where there is no figure."""
    return 100 * (int(row[what]) - bound) / int(row["demand"]) if row.get(what) else None


def places(rows: Iterable[Row]) -> list[Place]:
    """Seasons, loads and seconds that there are rows of, the small ones first."""
    return sorted({place_of(r) for r in rows}, key=lambda p: (SIZES.index(p[0]), float(p[1]), int(p[2])))


def peers(rows: Iterable[Row]) -> list[str]:
    """Peers that there are rows of, in the usual order."""
    there = {row["peer"] for row in rows}
    return [peer for peer in PEERS if peer in there]


def middle(values: Iterable[float | None]) -> float | None:
    """The median, where nothing at all is worse than anything; None where that is the median."""
    found = median([inf if v is None else v for v in values] or [inf])
    return None if found == inf else found


def spread(values: Iterable[float | None], digits: int = 2) -> str:
    """``median (least to most)``; what is missing is said."""
    all_values = list(values)
    known = [v for v in all_values if v is not None]
    if not known:
        return "none"
    text = f"{median(known):.{digits}f}"
    if len(known) > 1:
        text += f" ({min(known):.{digits}f} to {max(known):.{digits}f})"
    lost = len(all_values) - len(known)
    return text + (f", {lost} of {len(all_values)} none" if lost else "")


def curve(row: Row, bound: int) -> list[tuple[float, float]]:
    """(seconds, gap in per cent) of what a run had: whole plans as fitted, wishes as hoped for."""
    steps = steps_of(row["steps"])
    whole = row["peer"] in WHOLE
    out: list[tuple[float, float]] = []
    for at, short, _, fitted in steps:
        if short is not None and (fitted or not whole):
            value = 100 * (short - bound) / int(row["demand"])
            if not out or value < out[-1][1]:
                out.append((at, value))
    return out


def seconds_to(row: Row, bound: int, percent: float) -> float | None:
    """Seconds until a run was within so many per cent of the bound; None if it never was.

    A wish that came to worse than that once it was fitted never was.
    """
    end = gap(row, "fitted", bound)
    if end is None or end > percent:
        return None
    return next((at for at, value in curve(row, bound) if value <= percent), None)
