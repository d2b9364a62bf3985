"""Which candy ran out for the orders that are short, and what can be seen of why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from scheduler.answers.certificate import Certificate
from scheduler.demand.lines import Line, Window
from scheduler.paper.figures import Figures
from scheduler.paper.sums import limit_words
from scheduler.paper.words import count, day_short, listed
from scheduler.plan.types import Shortfall
from scheduler.season.rules import opening, presence


@dataclass(frozen=True, slots=True)
class Scarce:
    """A design that ran out for some lines, over the days on which it could have been made for them."""

    design: str
    lines: tuple[str, ...]
    left: int  # pieces that nobody takes, made on these days
    batches: int  # planned on these days
    open_days: int
    last_day: date | None
    batch_share: float  # batches of all designs, of the most that could be started on these days
    people_share: float  # of the paid minutes on these days
    able: str


def left_in(figures: Figures, window: Window) -> int:
    """Pieces of a design made on a window's days that nobody takes."""
    index = figures.season.index
    return sum(
        figures.left(lot)
        for lot in figures.lots_of.get(window.design, ())
        if window.first <= index(lot.made) <= window.last
    )


def scarce_windows(figures: Figures, line: Line, packs: int) -> list[Window]:
    """The designs of a line of which too little is left for one more pack, or for all of a whole order."""
    more = 1 if line.partial else packs
    return [w for w in line.windows if left_in(figures, w) < w.pieces * more]


def reason(figures: Figures, line: Line, packs: int) -> str:
    """What stands in a line's way, in plain words: the limit that a sum proves, and what can be seen in the plan."""
    empty = [w.design for w in line.windows if w.last < w.first]
    if empty:
        return (
            f"No day is right for {listed(empty)}: made early it is too old when it is due, made later it is too late."
        )
    scarce = scarce_windows(figures, line, packs)
    limit = _limit(figures, line, {w.design for w in scarce})
    whole = "" if line.partial else " The order is filled whole or not at all."
    if not scarce:
        seen = "" if limit else "; no single limit is seen. It may be packing time"
        return f"{limit}Candy for it is left over{seen}.{whole}"
    if line.partial:
        verb = "has" if len(scarce) == 1 else "have"
        return f"{limit}{listed(w.design for w in scarce)} {verb} run out."
    lacks = [f"{w.design}, {w.pieces * packs:,} pieces needed and {left_in(figures, w):,} left" for w in scarce]
    return f"{limit}Too little {'; '.join(lacks)}.{whole}"


def _limit(figures: Figures, line: Line, scarce: set[str]) -> str:
    """The limit of the first sum that leaves a line's scarce candy out, or its packing; blank without one."""
    for number, c in enumerate(figures.certificates, 1):
        packing = c.kind == "packing minutes"
        counted = not packing and any(u.name in scarce for u in c.uses)
        if not scarce:
            counted = packing or c.kind == "people's hours"
        if counted and any(row.line == line.id for row in c.inside) and _left_out(figures, c, line):
            return f"Limit: {limit_words(figures.season, c)} (sum {number}). "
    return ""


def _left_out(figures: Figures, c: Certificate, line: Line) -> bool:
    """Whether a sum leaves out more than all that weighs less than a line: then such a line is short in every plan.

    Example: 900 pieces are missing, forecasts take 600 and orders 5,000: an order is short.
    """
    names, less = {u.name for u in c.uses}, 0
    for row in c.inside:
        other = figures.lines.get(row.line)
        if other is not None and other.weight * line.pieces < line.weight * other.pieces:
            less += row.packs * (sum(w.pieces for w in other.windows if w.design in names) or other.pieces)
    return less < c.pieces_short


def ran_out(figures: Figures, short: Iterable[Shortfall]) -> list[Scarce]:
    """The scarce designs of all lines that are short, those that most lines wait for first."""
    found: dict[str, tuple[list[str], list[Window]]] = {}
    for item in short:
        line = figures.lines.get(item.line)
        for window in scarce_windows(figures, line, item.packs) if line else ():
            lines, windows = found.setdefault(window.design, ([], []))
            lines.append(item.line)
            windows.append(window)
    out = [_scarce(figures, design, lines, windows) for design, (lines, windows) in found.items()]
    return sorted(out, key=lambda s: (-len(s.lines), s.design))


def _scarce(figures: Figures, design: str, lines: list[str], windows: list[Window]) -> Scarce:
    season = figures.season
    first = max(min(w.first for w in windows), season.index(figures.plan.from_day), 0)
    last = min(max(w.last for w in windows), season.day_count - 1)
    shut = {p.day for p in season.pins if p.kind == "no making"}
    begin = season.design_by_name[design].from_day
    days = [
        d
        for d in season.days[first : max(first, last + 1)]  # it may lie before the season
        if opening(season, d) is not None and d not in shut and (begin is None or d >= begin)
    ]
    loads = [figures.load[d] for d in days if d in figures.load]
    paid, at_work = sum(x.in_paid for x in loads), sum(x.at_work for x in loads)
    started = sum(len(figures.day_plan[d].batches) for d in days if d in figures.day_plan)
    most = sum(figures.most[d] for d in days)
    batches = sum(b.design == design for d in days if d in figures.day_plan for b in figures.day_plan[d].batches)
    whole = Window(design, 0, min(w.first for w in windows), last)
    return Scarce(
        design, tuple(lines), left_in(figures, whole), batches, len(days), days[-1] if days else None,
        round(started / most, 4) if most else 0.0, round(at_work / paid, 4) if paid else 0.0,
        _able_words(figures, design, days, begin),
    )  # fmt: skip


def _able_words(figures: Figures, design: str, days: list[date], begin: date | None) -> str:
    season = figures.season
    able = figures.able(design)
    if not able:
        return "Nobody in the crew."
    could = {n: sum(presence(season, season.person_by_name[n], d) is not None for d in days) for n in able}
    words = ", ".join(f"{name} ({count(n, 'day')})" for name, n in could.items())
    if begin is not None and begin > season.kitchen.first_day + timedelta(days=0):
        words += f". Not before {day_short(begin)}, when its supplies arrive"
    return words + "."
