"""Orders and forecasts as lines: packs still wanted, and the days on which their candy may be made.

A line's window for a design is ``[first, last]`` in day indices: candy made on any of
these days is in time to be packed and has the life that the customer asks for.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

LineKind = Literal["firm", "standing", "forecast"]

KIND_WEIGHT: dict[LineKind, int] = {"firm": 10, "standing": 5, "forecast": 1}  # house rule
PRIORITY_WEIGHT = {1: 4, 2: 2, 3: 1}  # house rule


@dataclass(frozen=True, slots=True)
class Window:
    """Days on which pieces of one design may be made for a line; empty if last < first."""

    design: str
    pieces: int  # in one pack
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class LateOffer:
    """The same line delivered late: windows up to the latest acceptable day, and its price."""

    pack_by: int  # day index, the latest acceptable day or the last open day before it
    cents: int  # a pack
    windows: tuple[Window, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """One order or forecast, after finished packs and shipments are taken off.

    ``weight`` is what one missing pack costs in the shortfall stage: kind weight times
    priority weight times pieces in the pack. ``pack_by`` is the last open day on which it
    can be packed.
    """

    id: str
    kind: LineKind
    customer: str
    product: str
    asked: int  # packs not yet shipped
    packs: int  # still wanted: asked less the finished packs given to it
    pieces: int  # in one pack, all designs
    weight: int
    partial: bool
    confirmed: bool
    price_cents: int
    due: int  # day index
    pack_by: int
    windows: tuple[Window, ...]
    late: LateOffer | None = None
    least_life: int = 0  # days of life asked for at the delivery

    @property
    def whole_weight(self) -> int:
        """What it costs when the whole line is missed, finished packs given to it included."""
        return self.weight * self.asked


@dataclass(frozen=True, slots=True)
class Supply:
    """Pieces on hand before planning starts: day index made (may be negative)."""

    lot: str
    design: str
    made: int
    pieces: int
    last_day: int  # sell-by, day index


@dataclass(frozen=True, slots=True)
class PackSupply:
    """Finished packs given to a line up front."""

    line: str
    lot: str
    product: str
    packs: int
    made: int
    sell_by: int


@dataclass(frozen=True)
class Demand:
    """All lines, what is on hand, and finished packs already given out."""

    lines: tuple[Line, ...]
    supplies: tuple[Supply, ...]
    given: tuple[PackSupply, ...] = ()

    @cached_property
    def weight(self) -> int:
        """What all lines weigh, in weighted pieces: what is short where nobody gets anything."""
        return sum(line.whole_weight for line in self.lines)
