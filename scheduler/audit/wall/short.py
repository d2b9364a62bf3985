"""The shortfall sheet read back: what is short, whom to call, which candy ran out and when it could have been made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wall.cells import Cells
from scheduler.audit.wall.lists import told_of
from scheduler.audit.wall.missing import ASK, better_words, in_order, short_words
from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.sums import DAMAGED, Told
from scheduler.audit.wall.words import Facts, count, day_short, differences, names, rows, says, text
from scheduler.audit.wanted import Wanted, filled_packs, wanted_lines
from scheduler.season.types import Person, Role

WAY, WHO = "What stands in the way", "Who can build it, and days they can be in"
CANDY_SAID = (
    "The candy that ran out",
    "This reads the plan: which candy ran out, how full the days were on which it could have been made (batches "
    "started, of the most that can be), and how busy people were (at a job, of the time paid). What limits prove is "
    "told with the sums, where there are any.",
)

Window = tuple[str, int, date, date]  # design, pieces in a pack, first and last making day


@dataclass(frozen=True, slots=True)
class Limit:
    """What a sum proves: its limit in words, the designs it counts, its orders and forecasts, pieces left out."""

    words: str
    made: set[str]  # blank for packing
    lines: dict[str, tuple[int, int, int]]  # weight of a pack, its pieces, pieces of the whole line that count
    short: int


def shortfall(wall: Wall, cells: Cells) -> Findings:
    """What is short in words, whom to call, and each shortfall: asked, packs and pieces short."""
    lines, tell = wanted_lines(wall.r.season), told_of(wall)
    filled, limits = filled_packs(wall.plan), _limits(wall)
    expected: list[Facts] = []
    calls: list[str] = []
    for short in in_order(wall):
        line, (customer, kind, _, confirmed) = lines[short.line], tell[short.line]
        way = _way(wall, limits, short.line, line, short.packs)
        expected.append(
            (short.line, customer, line.product, kind, line.due, line.asked, short.packs, short.pieces, way)
        )
        if kind != "forecast":
            have = filled[short.line]
            can = f"{count(have, 'pack')} of {line.asked:,} can be ready" if have else "nothing of it can be ready"
            words = (
                f"{len(calls) + 1}. {customer or f'whoever ordered {short.line}'}: {line.product}, order {short.line}"
            )
            words += f", due {day_short(line.due)}. {count(short.packs, 'pack')} short; {can}."
            calls.append(words + (" This order was confirmed." if confirmed else ""))
    headings = ("Order", "Customer", "Product", "Kind", "Due", "Asked", "Packs short", "Pieces short", WAY)
    yield from differences("Shortfall", expected, rows(cells, headings))
    ask = [ASK] if wall.plan.shortfalls and "remedies" not in wall.plan.extras else []
    yield from says("Shortfall", ["What is short", short_words(wall), *ask], cells, 4)
    if not ask and any(text(row, 1) == ASK for row in cells.values()):
        yield Violation("workbook", "Shortfall", "It asks for what is worked out already.")
    yield from says("Shortfall", calls, cells, 12 + len(calls))
    candy, when = _candy(wall), ("Open days", "Last useful day", "Days full", "People at work")
    found = rows(cells, ("Candy", "For the orders", "Made by then", *when, "Pieces left", WHO))
    yield from differences("Shortfall, candy", candy, found)
    yield from says("Shortfall", CANDY_SAID if candy else [], cells, 10**6)
    yield from better_words(wall, "Shortfall", text(cells.get(3, {}), 1), thumb=False)


def _windows(wall: Wall, line: Wanted) -> list[Window]:
    """Making days of each design: fresh enough at the due day, and packed by the last open day up to it."""
    r = wall.r
    pack_by = max((day for day in r.season.days if day <= line.due and r.hours(day) is not None), default=None)
    out = []
    for content in r.season.contents:
        if content.product == line.product:
            life = line.life_days - r.season.design_by_name[content.design].sell_by_days
            first = line.due + timedelta(days=life)
            last = first - timedelta(days=1)
            if pack_by is not None:
                last = pack_by - timedelta(days=r.kitchen.packing_from_days)
            out.append((content.design, content.pieces, first, last))
    return out


def _left(wall: Wall, design: str, first: date, last: date) -> int:
    """Pieces made on these days that nobody takes."""
    return sum(
        lot.pieces - wall.drawn.get(lot.id, 0)
        for lot in wall.plan.lots
        if lot.design == design and first <= lot.made <= last
    )


def _scarce(wall: Wall, line: Wanted, packs: int) -> list[Window]:
    more = 1 if line.partial else packs
    return [w for w in _windows(wall, line) if _left(wall, w[0], w[2], w[3]) < w[1] * more]


def _way(wall: Wall, limits: list[Limit], name: str, line: Wanted, packs: int) -> str:
    """What can be seen of a shortfall's cause, in words."""
    empty = [design for design, _, first, last in _windows(wall, line) if last < first]
    if empty:
        return (
            f"No day is right for {names(empty)}: made early it is too old when it is due, made later it is too late."
        )
    scarce = _scarce(wall, line, packs)
    lacks_of = {design for design, *_ in scarce} or {""}
    limit = next((x.words for x in limits if name in x.lines and x.made & lacks_of and _bites(x, name)), "")
    whole = "" if line.partial else " The order is filled whole or not at all."
    if not scarce and limit:
        return f"{limit}Candy for it is left over.{whole}"
    if not scarce:
        return f"Candy for it is left over; no single limit is seen. It may be packing time.{whole}"
    if line.partial:
        return f"{limit}{names([design for design, *_ in scarce])} {'has' if len(scarce) == 1 else 'have'} run out."
    lacks = [
        f"{design}, {pieces * packs:,} pieces needed and {_left(wall, design, first, last):,} left"
        for design, pieces, first, last in scarce
    ]
    return f"{limit}Too little {'; '.join(lacks)}.{whole}"


def _limits(wall: Wall) -> list[Limit]:
    """The limits that sums prove, none where the plan file is damaged there; blank among the designs is packing."""
    stored, out, lines = wall.plan.extras.get("certificates", []), list[Limit](), wanted_lines(wall.r.season)
    try:
        for number, c in enumerate(stored if isinstance(stored, list) else [], 1):
            told = Told(wall, c)
            made = {use["name"] for use in c["uses"]} if told.kind != "packing minutes" else {""}
            made |= {""} if told.kind == "people's hours" else set()
            own = {}
            for row in c["inside"]:
                line = lines[row["line"]]
                own[row["line"]] = (line.weight, line.pack_pieces, row["packs"] * _counted(wall, told, line))
            out.append(Limit(f"Limit: {told.limit()} (sum {number}). ", made, own, c["pieces_short"]))
    except DAMAGED:
        return []
    return out


def _counted(wall: Wall, told: Told, line: Wanted) -> int:
    """Pieces in a pack that a sum counts; all of them, where it counts packs."""
    own = [c.pieces for c in wall.r.season.contents if c.product == line.product and c.design in told.names]
    return sum(own) or line.pack_pieces


def _bites(limit: Limit, name: str) -> bool:
    """Whether leaving out all that weighs less a piece is not enough for what a sum leaves out."""
    own, size, _ = limit.lines[name]
    return sum(pieces for weight, pack, pieces in limit.lines.values() if weight * size < own * pack) < limit.short


def _candy(wall: Wall) -> list[Facts]:
    """Each design that ran out: for which lines, and the days on which it could have been made for them."""
    lines, season, r = wanted_lines(wall.r.season), wall.r.season, wall.r
    short: dict[str, tuple[list[str], list[Window]]] = {}
    for item in in_order(wall):
        for window in _scarce(wall, lines[item.line], item.packs):
            who, windows = short.setdefault(window[0], ([], []))
            who.append(item.line)
            windows.append(window)
    shut, most = {pin.day for pin in season.pins if pin.kind == "no making"}, wall.full.most
    out: list[Facts] = []
    for design, (who, windows) in short.items():
        first, last = min(w[2] for w in windows), min(max(w[3] for w in windows), r.kitchen.last_day)
        begin = season.design_by_name[design].from_day or r.kitchen.first_day
        earliest = max(first, wall.plan.from_day, begin)
        days = [d for d in season.days if earliest <= d <= last and r.hours(d) is not None and d not in shut]
        loads = [wall.load(wall.day[day]) for day in days if day in wall.day]
        started, could = sum(len(wall.day[d].batches) for d in days if d in wall.day), sum(most[d] for d in days)
        paid = sum(load[2] for load in loads)
        made = sum(b.design == design for d in days if d in wall.day for b in wall.day[d].batches)
        full = round(started / could, 4) if could else 0.0
        work = round(sum(load[1] for load in loads) / paid, 4) if paid else 0.0
        left = _left(wall, design, first, last)
        last_day = days[-1] if days else None
        can = _can(wall, design, days)
        out.append((design, names(who), count(made, "batch"), len(days), last_day, full, work, left, can))
    return out


def _can(wall: Wall, design: str, days: list[date]) -> str:
    """Who can build a design, and on how many of these days they can be in."""
    r, made = wall.r, wall.r.season.design_by_name[design]
    needs = [role for step in r.recipe(design) or () for role in step.roles if role.skill]
    hardest = max(needs, key=lambda role: (r.level_needed(role, made), role.name), default=None)
    able = [p for p in r.season.crew if hardest is None or _able(wall, p, hardest, r.level_needed(hardest, made))]
    if not able:
        return "Nobody in the crew."
    days_in = {
        p.name: sum((span := r.presence(p, d)) is not None and span[1] - span[0] >= p.shortest_shift for d in days)
        for p in able
    }
    words = [f"{name} ({count(number, 'day')})" for name, number in days_in.items()]
    late = made.from_day is not None and made.from_day > r.kitchen.first_day
    wait = f". Not before {day_short(made.from_day)}, when its supplies arrive" if late and made.from_day else ""
    return f"{', '.join(words)}{wait}."


def _able(wall: Wall, person: Person, role: Role, level: int) -> bool:
    """Young people do no hot work; the skill is there; no pin keeps the person from the role."""
    kept = any(
        pin.kind == "not in role" and (pin.person, pin.role) == (person.name, role.name)
        and pin.day in (None, wall.r.kitchen.first_day)
        for pin in wall.r.season.pins
    )  # fmt: skip
    return not kept and not (person.young and role.hot) and wall.r.level(person.name, role.skill) >= level
