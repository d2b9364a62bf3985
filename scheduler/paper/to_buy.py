"""What to buy for the rest of the plan, and the last day to order it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduler.paper.figures import Figures
from scheduler.paper.listing import BOLD, DAY, NUMBER, Column, table, title
from scheduler.paper.sheet import Book, Sheet
from scheduler.paper.words import day_short
from scheduler.season.materials import Material

COLUMNS = (
    Column("Material", 120, BOLD),
    Column("Unit", 52),
    Column("Needed", 66, NUMBER),
    Column("There", 62, NUMBER),
    Column("To buy", 66, replace(NUMBER, bold=True)),
    Column("Comes in", 62, NUMBER),
    Column("Runs out on", 112, DAY),
    Column("Order by", 112, replace(DAY, bold=True)),
    Column("For", 198),
)
NAMED = 3  # designs and products that take most of it


@dataclass(frozen=True, slots=True)
class Purchase:
    """What the plan takes of a material, how much is to be bought, the first day on which what is there won't do."""

    material: Material
    needed: int
    to_buy: int
    runs_out: date | None
    takers: tuple[tuple[str, int], ...]  # designs and products, the most first

    @property
    def order_by(self) -> date | None:
        """The last day to order, if it takes as long as usual."""
        return self.runs_out and self.runs_out - timedelta(days=self.material.arrives_days)


def to_buy(book: Book, figures: Figures) -> Sheet | None:
    """Write the list, what must be ordered first on top; None where the season names no materials."""
    if not figures.season.materials:
        return None
    sheet = book.sheet("To buy", landscape=False, tab="666666")
    sheet.columns([c.pixels for c in COLUMNS])
    title(
        sheet,
        "What to buy",
        f"What this plan takes from {day_short(figures.plan.from_day)} on, beside what is there (as counted in the "
        "season's materials: count again when it is under way). Order by: the last day, if it arrives as fast as "
        "usual. A batch that fails takes its share once more: order some to spare.",
    )
    under_way = figures.plan.from_day if figures.plan.history else None
    table(sheet, COLUMNS, [_row(purchase, under_way) for purchase in purchases(figures)])
    sheet.squeeze(0.12)
    return sheet


def purchases(figures: Figures) -> list[Purchase]:
    """Each material: what is to be ordered first, then what is there in plenty."""
    out = [_purchase(figures, material) for material in figures.season.materials]
    return sorted(out, key=lambda p: (p.order_by is None, p.order_by, p.material.name))


def _purchase(figures: Figures, material: Material) -> Purchase:
    """Example: 30 jars there, 20 taken on Monday and 20 on Tuesday, 24 in a carton: 24 to buy, out on Tuesday."""
    left, runs_out, takers = material.there, None, Counter[str]()
    for day, taker, amount in _taken(figures, material.name):
        left -= amount
        takers[taker] += amount
        runs_out = runs_out or (day if left < 0 else None)
    cartons = -(min(0, left) // material.comes_in)
    most = sorted(takers.items(), key=lambda taker: (-taker[1], taker[0]))
    return Purchase(material, takers.total(), cartons * material.comes_in, runs_out, tuple(most))


def _taken(figures: Figures, material: str) -> Iterator[tuple[date, str, int]]:
    """(day, design or product, amount) of all batches that have not started and packs that are not packed."""
    season, plan = figures.season, figures.plan
    uses = [use for use in season.uses if use.material == material]
    for day in (day for day in plan.days if day.day >= plan.from_day):
        begins = plan.from_minute if day.day == plan.from_day else 0
        for batch in day.batches:
            amount = sum(u.amount for u in uses if not u.product and u.design in ("", batch.design))
            if amount and batch.pour >= begins:
                yield day.day, batch.design, amount
        for run in day.packing:
            amount = sum(u.amount for u in uses if u.product == run.product)
            if amount and run.starts >= begins:
                yield day.day, run.product, amount * run.packs


def _row(purchase: Purchase, today: date | None) -> tuple[object, ...]:
    """``today``: of a season that is under way; what should have been ordered before that is named as late."""
    material, named = purchase.material, purchase.takers[:NAMED]
    words = ", ".join(f"{name} {amount:,}" for name, amount in named)
    words += f", {len(purchase.takers) - NAMED} more" if len(purchase.takers) > NAMED else ""
    if today is not None and purchase.order_by is not None and purchase.order_by < today:
        words = f"LATE: order at once, or it is missing. {words}"
    return (
        material.name, material.unit, purchase.needed, material.there, purchase.to_buy, material.comes_in,
        purchase.runs_out, purchase.order_by, words,
    )  # fmt: skip
