"""The page of a run sheet: one wide column for names, then narrow columns of a few minutes each.

Time bars fall on the narrow columns; tables on the same page take as many of them as
their columns need.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from scheduler.paper.looks import Look
from scheduler.paper.sheet import PAGE_PIXELS, PAGE_POINTS, Sheet
from scheduler.paper.text import line_points, lines_needed
from scheduler.plan.types import DayPlan

NAME_PIXELS = 150
ROW_POINTS, TALLEST_ROW = 14.0, 24.0  # of a bar

TITLE = Look(size=18, bold=True, wrap=False)
NOTE = Look(size=9, up="top")
RIGHT = Look(size=9, ink="555555", across="right", wrap=False)
HEAD = Look(size=8, bold=True, fill="D9D9D9", edge="trbl", indent=1)
BODY = Look(size=9, edge="trbl", up="center", indent=1)
STRONG = Look(size=9, bold=True, edge="trbl", up="center", indent=1)
NUMBER = Look(size=9, edge="trbl", across="center", form="#,##0")
SMALL, SMALL_STRONG = Look(size=8, edge="trbl", indent=1), Look(size=8, bold=True, edge="trbl", indent=1)
BLANK = Look(size=10, edge="TRBL", open=True)
CAUTION = Look(size=9, bold=True, fill="F2F2F2", edge="TRBL", indent=1)


class Grid:
    """Columns of a run sheet: column 1 for names, column 2 and on for minutes from ``starts``."""

    def __init__(self, sheet: Sheet, day: DayPlan) -> None:
        self.sheet = sheet
        self.bar_points = ROW_POINTS  # more where the page has room
        self.starts, self.ends = hours_shown(day)
        self.slot = next((m for m in (5, 10, 15) if (self.ends - self.starts) // m <= 150), 30)
        self.slots = (self.ends - self.starts) // self.slot
        room = max(5 * self.slots, PAGE_PIXELS[True] - NAME_PIXELS)
        edges = [room * i // self.slots for i in range(self.slots + 1)]
        sheet.columns([NAME_PIXELS, *(end - start for start, end in pairwise(edges))])

    @property
    def last(self) -> int:
        return self.slots + 1

    def column(self, minute: int) -> int:
        """Column in which a clock minute falls, rounded to the nearest one."""
        at = (2 * (minute - self.starts) + self.slot) // (2 * self.slot)
        return 2 + min(max(at, 0), self.slots)

    def shares(self, weights: Sequence[int], first: int = 2, last: int = 0) -> list[tuple[int, int]]:
        """(column, how many) for side-by-side boxes up to a column, whose widths are about as these weights."""
        last = last or self.last
        out, at, total, done = [], first, sum(weights), 0
        width = self.sheet.width
        room = width(first, last - first + 1)
        for left, weight in enumerate(weights, 1 - len(weights)):
            done += weight
            end = at + 1
            while end <= last + left and width(first, end - first + 1) <= room * done / total + 2:
                end += 1
            if not left:
                end = last + 1
            out.append((at, end - at))
            at = end
        return out

    def fit(self, wishes: Sequence[int]) -> list[tuple[int, int]] | None:
        """(column, how many) from column 2 on, each about as wide as wished, the last with the rest; None if too
        little is there."""
        out, at, done, asked = [], 2, 0, 0
        for wish in wishes:
            asked, wide = asked + wish, 1
            while at + wide <= self.last and done + self.sheet.width(at, wide) < asked - 6:
                wide += 1
            out.append((at, wide))
            done += self.sheet.width(at, wide)
            at += wide
        at, _ = out[-1]
        return [*out[:-1], (at, self.last - at + 1)] if asked <= self.sheet.width(2, self.slots) else None

    def line(self, text: str, look: Look, points: float = 0.0) -> None:
        """One box over the whole width, as high as its text needs."""
        sheet = self.sheet
        sheet.put(sheet.row, 1, text, look, wide=self.last)
        need = lines_needed(text, sheet.width(1, self.last), look.size, look.bold) if look.wrap else 1
        sheet.height(sheet.row, points or need * line_points(look.size) + 4)
        sheet.row += 1

    def needed(
        self, texts: Sequence[object], places: Sequence[tuple[int, int]], looks: Sequence[Look], least: float = 0.0
    ) -> float:
        """Height in points of a row of boxes with these texts."""
        high = max(least, 22.0 if any(look.open for look in looks) else 0.0)
        for value, (column, wide), look in zip(texts, places, looks, strict=True):
            if isinstance(value, str):
                room = self.sheet.width(column, wide) - 9 * look.indent
                lines = lines_needed(value, room, look.size, look.bold)
                high = max(high, lines * line_points(look.size) + 3)
        return high

    def boxes(
        self, texts: Sequence[object], places: Sequence[tuple[int, int]], looks: Sequence[Look], least: float = 0.0
    ) -> None:
        """A row of boxes, as high as the highest text in it."""
        sheet = self.sheet
        for value, (column, wide), look in zip(texts, places, looks, strict=True):
            sheet.put(sheet.row, column, value, look, wide=wide)
        sheet.height(sheet.row, self.needed(texts, places, looks, least))
        sheet.row += 1

    def keep_together(self, first: int, page_began: int) -> int:
        """Begin a new page at row ``first`` if what was written since would run over this one.

        ``page_began`` is the first row of the page so far; returns it, or the new one.
        """
        again = 0.0 if page_began == 1 else self.sheet.heights.get(1, 0.0)  # the title is printed on each page
        if page_began < first and self.sheet.points(page_began) + again > PAGE_POINTS[True] + 1:
            self.sheet.break_before(first)
            return first
        return page_began

    def gap(self, points: float = 8.0) -> None:
        self.sheet.height(self.sheet.row, points)
        self.sheet.row += 1


def hours_shown(day: DayPlan) -> tuple[int, int]:
    """Whole hours around everything that happens on a day; 8 to 9 where nothing does."""
    stretches = [(s.starts, s.ends) for s in day.shifts]
    stretches += [(t.starts, t.ends) for t in day.tasks] + [(p.starts, p.ends) for p in day.packing]
    stretches += [(r.starts, r.ends) for b in day.batches for r in b.runs]
    if not stretches:
        return 480, 540
    first, last = min(s for s, _ in stretches) // 60 * 60, -(-max(e for _, e in stretches) // 60) * 60
    return first, max(last, first + 240)
