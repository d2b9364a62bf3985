"""What a change to the season would cost, beside wages. It decides no plan, only what a remedy is said to cost."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

PriceKind = Literal[
    "further place", "extra helper", "training", "open day", "later due day", "part delivery", "better packing",
    "early supplies",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Price:
    """The price of one kind of change: once, a day or a level, as the note of the table says."""

    kind: PriceKind
    cents: int
    of: str = ""  # a station, person, order or design; blank: any that has no row of its own


def price_of(prices: Iterable[Price], kind: PriceKind, of: str = "") -> int | None:
    """Cents of a change; the row without a name counts where none has the name, None where neither is there.

    Example: further place 380 of table, 90 of all others: a hook costs 90.
    """
    rows = {p.of: p.cents for p in prices if p.kind == kind}
    return rows.get(of, rows.get(""))
