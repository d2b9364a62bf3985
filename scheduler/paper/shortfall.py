"""What is short: by how many, for whom, and what can be seen of why. A letter, then the sums."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduler.demand.lines import KIND_WEIGHT, Line, Window
from scheduler.paper.figures import Figures
from scheduler.paper.listing import BOLD, DAY, NUMBER, SAID, SUBTITLE, TEXT, Column, head, paragraph, rows, title
from scheduler.paper.proof_words import proof_sentence, short_sentence
from scheduler.paper.sheet import Book, Sheet
from scheduler.paper.words import count, day_short, listed, percent
from scheduler.plan.types import Shortfall
from scheduler.season.rules import opening, presence

COLUMNS = (
    Column("Order", 70, BOLD),
    Column("Customer", 140),
    Column("Product", 120),
    Column("Kind", 70),
    Column("Due", 100, DAY),
    Column("Asked", 50, NUMBER),
    Column("Packs short", 50, replace(NUMBER, bold=True)),
    Column("Pieces short", 55, NUMBER),
    Column("What is scarce, and what stands in the way", 390),
)
HONEST = (
    "The last column reads the plan: it says which candy ran out, and how full the days were on which it could have "
    "been made. It does not prove a single cause."
)


@dataclass(frozen=True, slots=True)
class Scarce:
    """A design of which too little is left for one more pack of a line."""

    design: str
    window: Window
    left: int  # pieces usable for the line that nobody takes


def shortfall(book: Book, figures: Figures) -> Sheet:
    """Write the shortfall report."""
    sheet = book.sheet("Shortfall", tab="666666")
    sheet.columns([c.pixels for c in COLUMNS])
    title(sheet, "What is short", short_sentence(figures), proof_sentence(figures))
    short = in_order(figures)
    if not short:
        return sheet
    _calls(sheet, figures, short)
    paragraph(sheet, "What is short, firm orders first", SUBTITLE)
    paragraph(sheet, HONEST, SAID)
    row = head(sheet, COLUMNS)
    sheet.repeat(row, row)
    rows(sheet, COLUMNS, [_row(figures, s) for s in short])
    return sheet


def in_order(figures: Figures) -> list[Shortfall]:
    """Firm before standing before forecast, confirmed first, then by priority and due day."""

    def key(short: Shortfall) -> tuple[int, bool, int, int, str]:
        line = figures.lines.get(short.line)
        if line is None:
            return (0, True, 0, 0, short.line)
        return (-KIND_WEIGHT[line.kind], not line.confirmed, -line.weight // max(1, line.pieces), line.due, line.id)

    return sorted(figures.plan.shortfalls, key=key)


def _calls(sheet: Sheet, figures: Figures, short: list[Shortfall]) -> None:
    """Customers to call, the most urgent first, with what can be offered."""
    lines = [(s, figures.lines[s.line]) for s in short if s.line in figures.lines]
    firm = [(s, line) for s, line in lines if line.kind != "forecast"]
    if not firm:
        return
    paragraph(sheet, "Call these customers first", SUBTITLE)
    for number, (s, line) in enumerate(firm, 1):
        due = figures.season.kitchen.first_day + timedelta(days=line.due)
        who = line.customer or f"whoever ordered {line.id}"
        have = figures.covered(line.id)
        can = f"{count(have, 'pack')} of {line.asked:,} can be ready" if have else "nothing of it can be ready"
        told = " This order was confirmed." if line.confirmed else ""
        paragraph(
            sheet,
            f"{number}.  {who}: {line.product}, order {line.id}, due {day_short(due)}. "
            f"{count(s.packs, 'pack')} short; {can}.{told}",
            SAID,
        )
    sheet.height(sheet.row, 8)
    sheet.row += 1


def _row(figures: Figures, short: Shortfall) -> tuple[object, ...]:
    line = figures.lines.get(short.line)
    if line is None:
        return (short.line, None, None, None, None, None, short.packs, short.pieces, None)
    due = figures.season.kitchen.first_day + timedelta(days=line.due)
    return (
        line.id, line.customer, line.product, line.kind, due, line.asked, short.packs, short.pieces,
        why(figures, line),
    )  # fmt: skip


def why(figures: Figures, line: Line) -> str:
    """What can be seen of the cause of a line's shortfall, in plain words."""
    empty = [w.design for w in line.windows if w.last < w.first]
    if empty:
        return f"No day is right for {listed(empty)}: made early it is too old at the due day, made later too late."
    scarce = scarce_designs(figures, line)
    if not scarce:
        if not line.partial:
            return "Filled whole or not at all, and there is not enough for the whole order."
        return "Candy for it is left over; no single limit is visible. Packing time before the due day is the likely one."
    names = listed(f"{s.design} ({count(s.left, 'piece')} left, {s.window.pieces} in a pack)" for s in scarce)
    verb = "is" if len(scarce) == 1 else "are"
    return f"{names} {verb} scarce. " + " ".join(_scarce_words(figures, s) for s in scarce[:2])


def scarce_designs(figures: Figures, line: Line) -> list[Scarce]:
    """Designs of which not even one more pack is left within the line's window."""
    out = []
    for window in line.windows:
        left = sum(
            figures.left(lot)
            for lot in figures.plan.lots
            if lot.design == window.design and window.first <= figures.season.index(lot.made) <= window.last
        )
        if left < window.pieces:
            out.append(Scarce(window.design, window, left))
    return out


def _scarce_words(figures: Figures, scarce: Scarce) -> str:
    """When the design can be made, how full those days are, and who can build it."""
    season, window = figures.season, scarce.window
    begin, end = max(0, window.first, season.index(figures.plan.from_day)), min(window.last, season.day_count - 1)
    days = [d for d in season.days[begin : end + 1] if opening(season, d) is not None]
    if not days:
        return f"{scarce.design}: no open day is left on which it could be made."
    words = f"{scarce.design} can be made from {day_short(days[0])} to {day_short(days[-1])} ({count(len(days), 'open day')})"
    used = sum(figures.load[d].used.get(figures.busiest, 0) for d in days if d in figures.load)
    room = sum(_room(figures, d) for d in days)
    paid = sum(figures.load[d].in_paid for d in days if d in figures.load)
    at_work = sum(figures.load[d].at_work for d in days if d in figures.load)
    words += f"; then the {figures.busiest} is {percent(used, room)} % full and people are at work {percent(at_work, paid)} % of the hours paid."
    able = figures.able(scarce.design)
    if not able:
        return words + " Nobody in the crew can build it."
    if len(able) <= 3:
        could = [(name, sum(presence(season, season.person_by_name[name], d) is not None for d in days)) for name in able]
        words += f" Able to build it: {listed(f'{name} (can be in on {n} of these days)' for name, n in could)}."
    wait = season.design_by_name[scarce.design].from_day
    if wait is not None and wait > days[0]:
        words += f" Not before {day_short(wait)}, when its supplies arrive."
    return words


def _room(figures: Figures, day: date) -> int:
    hours = opening(figures.season, day)
    return figures.season.places.get(figures.busiest, 0) * (hours[1] - hours[0]) if hours else 0


__all__ = ["TEXT", "in_order", "scarce_designs", "shortfall", "why"]
