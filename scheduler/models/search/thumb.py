"""The rule of thumb: what a good planner does by hand, and the plan that the tool must beat.

Orders by weight of a piece, then due day; each batch on the latest day that still has room;
packing likewise. Counts only: the days are fitted to the minute afterwards.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from scheduler.demand.lines import Line, Window
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Wish
from scheduler.models.counts.demand import in_late, in_time, stock_of
from scheduler.models.facts import Facts
from scheduler.season import rules

ROOM_PERCENT = 75  # of the hours in that a planner fills with work; the rest is waiting (common practice)
SPLITS = 3  # days on which an order is packed at most: a planner by hand does not split it further (house rule)


@dataclass
class Sheet:
    """The planner's sheet of paper: batches, packs and minutes by day, candy by lot."""

    facts: Facts
    limits: DayLimits
    batches: dict[int, Counter[str]] = field(default_factory=dict)
    packs: dict[int, Counter[str]] = field(default_factory=dict)
    minutes: Counter[int] = field(default_factory=Counter)
    week_minutes: Counter[tuple[int, int]] = field(default_factory=Counter)
    candy: dict[str, dict[int, int]] = field(default_factory=dict)  # design -> day made -> pieces left
    fills: Counter[str] = field(default_factory=Counter)
    late: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        for design in self.facts.season.designs:
            left: Counter[int] = Counter()
            for day, pieces in stock_of(self.facts, design.name):
                left[day] += pieces
            self.candy[design.name] = left
        self.day_room = {
            t: sum(self.facts.work_of(s.longest) for s in hands.values()) * ROOM_PERCENT // 100
            for t, hands in self.facts.hands.items()
        }
        self.week_room = {
            week: sum(rules.week_limit(p) for p in self.facts.season.crew) * ROOM_PERCENT // 100
            for week in self.facts.weeks
        }

    def has_room(self, t: int, minutes: int) -> bool:
        week = self.facts.week(t)
        return (
            self.minutes[t] + minutes <= self.day_room[t]
            and self.week_minutes[week] + minutes <= self.week_room[week]
        )

    def spend(self, t: int, minutes: int) -> None:
        self.minutes[t] += minutes
        self.week_minutes[self.facts.week(t)] += minutes

    def room_for(self, design: str, t: int) -> bool:
        """Whether one more batch still fits a day, by counts, pulls and minutes."""
        today = self.batches.get(t, Counter())
        if today.total() >= self.limits.usual(t):
            return False
        for names, most in self.limits.likely(t):
            if design in names and sum(today[n] for n in names) >= most:
                return False
        pulls = sum(self._pulls(d) * n for d, n in today.items()) + self._pulls(design)
        if pulls > sum(self.facts.person(n).pulls_day for n in self.facts.hands[t]):
            return False
        return self.has_room(t, self.cost(design, t))

    def _pulls(self, design: str) -> int:
        return sum(role.pulls * people for role, people in self.facts.pulls_of(design))

    def cost(self, design: str, t: int) -> int:
        """Person-minutes of one more batch, with the day's duties for the first."""
        duties = 0 if self.batches.get(t) else sum(p * m for p, m in self.facts.duties())
        return self.facts.minutes_of(design) + duties

    def put(self, design: str, t: int) -> None:
        """Write a batch on a day."""
        self.spend(t, self.cost(design, t))
        self.batches.setdefault(t, Counter())[design] += 1
        self.candy[design][t] = self.candy[design].get(t, 0) + self.facts.season.design_by_name[design].pieces


def rule_of_thumb(facts: Facts, limits: DayLimits) -> Wish:
    """The planner's plan in counts."""
    sheet = Sheet(facts, limits)
    _put_pins(sheet)
    _put_shows(sheet)
    lines = sorted(facts.demand.lines, key=lambda n: (-n.weight / max(1, n.pieces), n.due, n.id))
    for line in lines:
        if line.packs > 0:
            _serve(sheet, line)
    return _wish(sheet)


def _put_pins(sheet: Sheet) -> None:
    for (design, t), count in sheet.facts.pinned.items():
        while t in sheet.facts.hands and sheet.batches.get(t, Counter())[design] < count:
            sheet.put(design, t)


def _put_shows(sheet: Sheet) -> None:
    """A fitting picture for each show: the one that is wanted most."""
    facts = sheet.facts
    wanted = {d: sum(line.weight * line.packs for line in lines) for d, lines in facts.wanted.items()}
    for t, shows in facts.shows.items():
        for show in shows:
            fitting = [
                d.name for d in facts.season.designs
                if rules.fits_show(d, show) and t in facts.makeable[d.name] and sheet.room_for(d.name, t)
            ]  # fmt: skip
            if fitting:
                left = {d: wanted.get(d, 0) / (1 + sum(c[d] for c in sheet.batches.values())) for d in fitting}
                sheet.put(max(fitting, key=lambda d: left[d]), t)


def _serve(sheet: Sheet, line: Line) -> None:
    """Serve a line in time, and what is missing late where that is agreed."""
    got = 0
    if in_time(line):
        got = _serve_until(sheet, line, line.windows, line.pack_by, line.packs, -1)
        sheet.fills[line.id] += got
    if got < line.packs and line.late is not None and in_late(line) and (line.partial or got == 0):
        late = _serve_until(sheet, line, line.late.windows, line.late.pack_by, line.packs - got, line.due)
        sheet.late[line.id] += late


def _serve_until(
    sheet: Sheet, line: Line, windows: tuple[Window, ...], pack_by: int, packs: int, after: int
) -> int:
    """Packs of a line that can be made and packed; candy is taken and days are written on."""
    facts = sheet.facts
    days = _packing_days(sheet, line, packs, pack_by, after)
    packs = sum(n for _, n in days)
    if packs == 0 or (packs < line.packs and not line.partial):
        return 0
    first_pack = min(t for t, _ in days)
    lead = facts.season.kitchen.packing_from_days
    for window in windows:
        last = min(window.last, first_pack - lead)
        have = _usable(sheet, window, last)
        for t in reversed([t for t in facts.makeable.get(window.design, ()) if window.first <= t <= last]):
            while have < packs * window.pieces and sheet.room_for(window.design, t):
                sheet.put(window.design, t)
                have += facts.season.design_by_name[window.design].pieces
        packs = min(packs, have // window.pieces)
    if packs == 0 or (packs < line.packs and not line.partial):
        return 0
    for window in windows:
        _take(sheet, window, min(window.last, first_pack - lead), packs * window.pieces)
    _write_packing(sheet, line.product, days, packs)
    return packs


def _packing_days(sheet: Sheet, line: Line, packs: int, pack_by: int, after: int) -> list[tuple[int, int]]:
    """The latest days with time to pack so many packs: (day, packs)."""
    facts = sheet.facts
    seconds = facts.season.product_by_name[line.product].packing_seconds
    out = []
    for t in reversed([t for t in facts.days if after < t <= pack_by]):
        week = facts.week(t)
        left = min(sheet.day_room[t] - sheet.minutes[t], sheet.week_room[week] - sheet.week_minutes[week])
        count = min(packs, max(0, left) * 60 // seconds if seconds else packs)
        if count > 0 and facts.skilled(t, facts.season.kitchen.packing_skill):
            out.append((t, count))
            packs -= count
        if packs == 0 or len(out) == SPLITS:
            break
    return out


def _usable(sheet: Sheet, window: Window, last: int) -> int:
    return sum(n for day, n in sheet.candy[window.design].items() if window.first <= day <= last)


def _take(sheet: Sheet, window: Window, last: int, pieces: int) -> None:
    """First made, first out."""
    lots = sheet.candy[window.design]
    for day in sorted(lots):
        if window.first <= day <= last and pieces > 0:
            taken = min(pieces, lots[day])
            lots[day] -= taken
            pieces -= taken


def _write_packing(sheet: Sheet, product: str, days: list[tuple[int, int]], packs: int) -> None:
    seconds = sheet.facts.season.product_by_name[product].packing_seconds
    for t, count in days:
        here = min(count, packs)
        if here:
            sheet.packs.setdefault(t, Counter())[product] += here
            sheet.spend(t, -(-here * seconds // 60))
            packs -= here


def _wish(sheet: Sheet) -> Wish:
    facts = sheet.facts
    days = sorted(set(sheet.batches) | set(sheet.packs))
    held = {t: frozenset(s.name for s in facts.shows[t]) for t in days if t in facts.shows and sheet.batches.get(t)}
    return Wish(
        {t: tuple(sorted(sheet.batches[t].elements())) for t in days if sheet.batches.get(t)},
        {t: tuple(sorted(sheet.packs[t].items())) for t in days if sheet.packs.get(t)},
        call_everyone(facts, days),
        held,
        dict(sheet.fills),
        dict(sheet.late),
    )


def call_everyone(facts: Facts, days: list[int]) -> dict[int, tuple[tuple[str, int], ...]]:
    """Everyone who can comes in on these days for a fair share of the week, not too many days in a row."""
    most = facts.season.kitchen.days_in_a_row
    called: dict[int, list[tuple[str, int]]] = {t: [] for t in days}
    for person in facts.season.crew:
        shortest = rules.shortest_shift(facts.season, person)
        left = {week: rules.week_limit(person) for week in facts.weeks}
        row, before = _row_behind(facts, person.name), facts.from_index - 1
        for t in sorted(set(days) | {d for n, d in facts.called if n == person.name and d in facts.hands}):
            if person.name not in facts.hands[t]:
                continue
            row = row + 1 if before == t - 1 else 1
            if row > most or left[facts.week(t)] < shortest:
                row = 0
                continue
            before = t
            left[facts.week(t)] -= shortest
            called.setdefault(t, []).append((person.name, shortest))
    return {t: tuple(people) for t, people in sorted(called.items()) if people}


def _row_behind(facts: Facts, name: str) -> int:
    """Days in a row that somebody has been in up to the last day that is decided."""
    worked = {t for t, day in facts.done_by_index.items() if any(s.person == name for s in day.shifts)}
    t = facts.from_index
    while t - 1 in worked:
        t -= 1
    return facts.from_index - t
