"""Spare batches: candy that nobody gets, for the day on which a batch fails."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from scheduler.demand.lines import Line, Window
from scheduler.plan.types import Fill, Lot, pieces_drawn
from scheduler.season.types import Design, Season


@dataclass(frozen=True, slots=True)
class Spare:
    """What is left over of a design of which spare batches are wished for.

    ``window``: making days of its last delivery; only ``pieces`` made then can stand in for any batch.
    """

    design: Design
    window: Window
    pieces: int

    @property
    def batches(self) -> int:
        """Whole batches to spare, of those that are wished for. Example: 1,700 pieces left of batches of 900: 1."""
        return min(self.design.spare_batches, self.pieces // self.design.pieces)


def spares(season: Season, lines: Iterable[Line], lots: Iterable[Lot], fills: Iterable[Fill]) -> list[Spare]:
    """What is to spare of each design of which spare batches are wished for and something is still to be delivered.

    ``lines``: orders and forecasts; ``lots`` and ``fills`` are a plan's.
    """
    wished = {design.name: design for design in season.designs if design.spare_batches}
    last = dict[str, Window]()
    for line in sorted(lines, key=lambda line: (line.due, line.least_life)):
        last |= {window.design: window for window in line.windows if window.design in wished}
    drawn = pieces_drawn(fills)
    left = Counter[str]()
    for lot in lots:
        if (window := last.get(lot.design)) and window.first <= season.index(lot.made) <= window.last:
            left[lot.design] += lot.pieces - drawn[lot.id]
    return [Spare(wished[name], window, left[name]) for name, window in sorted(last.items())]
