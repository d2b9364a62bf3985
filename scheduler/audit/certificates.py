"""Certificates of a shortfall, re-derived from the season and the plan: every number, no solver.

A certificate says: the orders inside a window need so much of a limit, and so much is there.
Whatever number is false is named. The sums are worked out again here by day and by minute,
without the code that found them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from scheduler.audit.limits import UNITS, Given, given_by
from scheduler.audit.readings import Reading
from scheduler.audit.stock import candy_on_hand, later
from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wanted import filled_packs, wanted_lines
from scheduler.plan.types import Plan

RULE = "certificates"
HUNDRED = 100


def certificates(r: Reading, plan: Plan) -> Findings:
    """Every certificate in the plan's extras holds: each number follows from season and plan."""
    listed = plan.extras.get("certificates", [])
    if not isinstance(listed, list):
        yield Violation(RULE, "plan", "The certificates are not a list.")
        return
    for number, stated in enumerate(listed, 1):
        where = f"certificate {number}"
        try:
            found = list(_Check(r, plan, stated).differences())
        except (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError, IndexError):
            yield Violation(RULE, where, "It is damaged: a field is missing or of the wrong kind.")
            continue
        for what in found:
            yield Violation(RULE, where, what)


class _Check:
    """One certificate against the season."""

    def __init__(self, r: Reading, plan: Plan, stated: dict[str, Any]) -> None:
        self.r, self.plan, self.stated = r, plan, stated
        self.first, self.last = date.fromisoformat(stated["first"]), date.fromisoformat(stated["last"])
        self.kind, self.unit = str(stated["kind"]), str(stated["unit"])
        self.today = max(plan.from_day, r.kitchen.first_day)
        self.packing = self.kind == "packing minutes"
        self.lines = wanted_lines(r.season)
        self.named = [str(u["name"]) for u in stated["uses"]]

    def differences(self) -> Iterator[str]:
        """Whatever the certificate says that the season does not."""
        if self.unit not in UNITS.get(self.kind, ()):
            yield f'"kind" is {self.kind!r} in {self.unit!r}: there is no such limit.'
            return
        yield from self._inside()
        what, people = str(self.stated["what"]), tuple(self.stated["people"])
        strangers = [p for p in people if p not in self.r.season.person_by_name]
        if strangers:
            yield f'"people" names {", ".join(strangers)}, who is not in the crew.'
            return
        given = given_by(self.r, self.plan, self.kind, what, people, self.unit, self._designs(), self.today)
        if given is None:
            yield f'"what" is {self.stated["what"]!r}: the season has no such limit.'
            return
        if list(self.stated["people"]) != list(given.people):
            yield f'"people" are {", ".join(self.stated["people"])}; by the season: {", ".join(given.people)}.'
        yield from self._uses(given)
        yield from self._parts(given)
        yield from self._sums()

    def _designs(self) -> list[str]:
        """The designs that count: those in the rows, or all where packing is the limit."""
        if self.packing:
            return [d.name for d in self.r.season.designs]
        return [n for n in self.named if n in self.r.season.design_by_name]

    def _pieces(self, line: str) -> dict[str, int]:
        """Counted pieces in a pack of a line."""
        inside = self.r.season.contents_of[self.lines[line].product]
        return {d: n for d, n in inside.items() if d in set(self._designs())}

    def _making_days(self, line: str, design: str) -> tuple[date, date]:
        """Earliest and latest day on which candy for a line may be made, in time or late."""
        want = self.lines[line]
        life = self.r.season.design_by_name[design].sell_by_days
        return later(want.due, want.life_days - life), later(self._pack_by(line), -self.r.kitchen.packing_from_days)

    def _pack_by(self, line: str) -> date:
        """The last open day on which a line can be packed; the day before its window where there is none."""
        day = min(self.lines[line].latest, self.r.kitchen.last_day)
        while day >= self.today and self.r.hours(day) is None:
            day -= timedelta(days=1)
        return day if day >= self.today else self.today - timedelta(days=1)

    def _inside(self) -> Iterator[str]:
        """The lines are wanted, their figures right, and their making days all in the window."""
        filled = filled_packs(self.plan)
        shelf: dict[str, int] = defaultdict(int)
        for fill in self.plan.fills:
            shelf[fill.line] += fill.packs if fill.pack_lot else 0
        seen: set[str] = set()
        for row in self.stated["inside"]:
            line = str(row["line"])
            if line not in self.lines or line in seen:
                yield f'"inside" lists {line!r}, which is not wanted, or twice.'
                continue
            seen.add(line)
            asked = self.lines[line].asked
            short = max(0, asked - filled[line])
            if row["asked"] != asked:
                yield f'{line} "asked" is {row["asked"]}; by the season it is {asked}.'
            if row["short"] != short:
                yield f'{line} "short" is {row["short"]}; in the plan it is {short}.'
            given = shelf[line] if filled[line] else max(shelf[line], row["shelf"])
            if row["shelf"] != given:
                yield f'{line} "shelf" is {row["shelf"]}; in the plan it is {given}.'
            if row["packs"] != asked - given:
                yield f'{line} "packs" is {row["packs"]}; {asked} less {given} from the shelf is {asked - given}.'
            if not self._pieces(line):
                yield f'"inside" lists {line}, which takes nothing of this limit.'
        yield from self._window()

    def _window(self) -> Iterator[str]:
        """The window runs from the earliest making day of a line inside to the latest; a due day if there is none."""
        first, last = self._hull() or (None, None)
        if first is None or last is None:
            first = last = min((self.lines[row["line"]].due for row in self._known()), default=self.first)
        if self.first != first:
            yield f'"first" is {self.first}; by the orders inside it is {first}.'
        if self.last != last:
            yield f'"last" is {self.last}; by the orders inside it is {last}.'

    def _hull(self) -> tuple[date, date] | None:
        """Earliest and latest day on which anything for the lines inside may be made; None for never."""
        spans = []
        for row in self._known():
            windows = [self._making_days(row["line"], d) for d in self._pieces(row["line"])]
            if windows:
                first, last = max(self.today, min(w[0] for w in windows)), max(w[1] for w in windows)
                if first <= last:
                    spans.append((first, last))
        return (min(s[0] for s in spans), max(s[1] for s in spans)) if spans else None

    def _known(self) -> list[dict[str, Any]]:
        return [row for row in self.stated["inside"] if row["line"] in self.lines]

    def _uses(self, given: Given) -> Iterator[str]:
        """Each row of the sum: wanted, on hand, to make, batches, what each takes."""
        wanted: dict[str, int] = defaultdict(int)
        for row in self._known():
            pieces = self._pieces(row["line"])
            if self.packing:
                wanted[self.lines[row["line"]].product] += row["packs"] * sum(pieces.values())
            else:
                for design, n in pieces.items():
                    wanted[design] += row["packs"] * n
        missing = sorted(set(wanted) - set(self.named)) if self.packing else []
        for name in missing:
            yield f'"uses" leaves out {name}.'
        for use in self.stated["uses"]:
            yield from self._use(use, given, wanted[use["name"]])

    def _use(self, use: dict[str, Any], given: Given, wanted: int) -> Iterator[str]:
        name = use["name"]
        right: dict[str, int] = {"wanted": wanted}
        right["on_hand"] = min(wanted, 0 if self.packing else self._stock(name))
        right["to_make"] = wanted - right["on_hand"]
        right["size"] = self._size(name, given)
        right["count"] = (right["to_make"] + right["size"] - 1) // right["size"]
        right["each"] = given.each.get(name, 0)
        if given.whole:
            right["needs"] = right["count"] * right["each"]
        else:
            right["needs"] = right["to_make"] * right["each"] // HUNDRED
        for field, value in right.items():
            if use[field] != value:
                yield f'{name} "{field}" is {use[field]}; by the season it is {value}.'

    def _size(self, name: str, given: Given) -> int:
        if self.packing:
            return sum(self.r.season.contents_of[name].values())
        return self.r.season.design_by_name[name].pieces if given.whole else HUNDRED

    def _stock(self, design: str) -> int:
        """Pieces on hand that are fresh enough for one of the lines inside at least."""
        lines = [row["line"] for row in self._known() if design in self._pieces(row["line"])]
        if not lines:
            return 0
        oldest = min(self._making_days(line, design)[0] for line in lines)
        packed = [line for line in lines if self._pack_by(line) >= self.today]
        ends = [hull[1]] if (hull := self._hull()) else [self._making_days(line, design)[1] for line in packed]
        newest = max(ends, default=date.min)
        return sum(
            lot.pieces for lot in candy_on_hand(self.r.season) if lot.design == design and oldest <= lot.made <= newest
        )

    def _days(self, given: Given) -> tuple[date, date]:
        """The days whose amounts count: the window, and for packing until the last packing day."""
        hull = self._hull()
        first, last = hull or (self.today, self.today - timedelta(days=1))
        if given.until_packed:
            last = max((self._pack_by(row["line"]) for row in self._known()), default=last)
        if self.packing:
            stocked = {lot.design for lot in candy_on_hand(self.r.season) if lot.pieces > 0}
            served = any(set(self._pieces(row["line"])) & stocked for row in self._known())
            if not (served and first <= self.today):
                first = later(first, self.r.kitchen.packing_from_days)
        return max(first, self.today), last

    def _parts(self, given: Given) -> Iterator[str]:
        """What there is, week by week and by who gives it."""
        first, last = self._days(given)
        right: dict[tuple[str, str], dict[str, Any]] = {}
        for who, amounts in given.amounts.items():
            weeks: dict[tuple[int, int], list[date]] = defaultdict(list)
            for day, amount in sorted(amounts.items()):
                if amount > 0 and first <= day <= last:
                    weeks[day.isocalendar()[:2]].append(day)
            limit = given.week_limits.get(who)
            for days in weeks.values():
                by_day = sum(amounts[d] for d in days)
                amount = by_day if limit is None else min(limit, by_day)
                right[who, days[0].isoformat()] = {
                    "who": who, "first": days[0].isoformat(), "last": days[-1].isoformat(), "days": len(days),
                    "by_day": by_day, "week_limit": limit, "amount": amount,
                }  # fmt: skip
        for part in self.stated["parts"]:
            key = (part["who"], part["first"])
            true = right.pop(key, None)
            if true is None:
                yield f'"parts" has {key[0]} from {key[1]}: that gives nothing, or is not in the window.'
                continue
            for field, value in true.items():
                if part[field] != value:
                    yield f'{key[0]} from {key[1]} "{field}" is {part[field]}; by the season it is {value}.'
        for who, since in right:
            yield f'"parts" leaves out {who} from {since}.'

    def _sums(self) -> Iterator[str]:
        """Needed, there, missing, and the pieces that follow."""
        s = self.stated
        right = {"needed": sum(u["needs"] for u in s["uses"]), "there": sum(p["amount"] for p in s["parts"])}
        right["missing"] = right["needed"] - right["there"]
        whole = self.kind != "people's hours"
        most = _most_pieces(s["uses"], right["there"], whole)
        right["pieces_short"] = max(0, sum(u["to_make"] for u in s["uses"]) - most)
        right["short_in_plan"] = sum(row["short"] * sum(self._pieces(row["line"]).values()) for row in self._known())
        for field, value in right.items():
            if s[field] != value:
                yield f'"{field}" is {s[field]}; it adds up to {value}.'
        if right["pieces_short"] > right["short_in_plan"]:
            yield f"It proves {right['pieces_short']} pieces missing; the plan misses {right['short_in_plan']}."


def _most_pieces(uses: list[dict[str, Any]], there: int, whole: bool) -> int:
    """Most pieces that an amount of the limit can give, one batch after the other, best first."""
    batches: list[tuple[int, int]] = []
    for use in uses:
        left = use["to_make"]
        if not whole:
            batches += [(left, use["needs"])] if left else []
            continue
        while left > 0:
            batches.append((min(left, use["size"]), use["each"]))
            left -= use["size"]
    batches.sort(key=lambda b: b[0] / max(1, b[1]), reverse=True)
    alike = whole and len({taken for _, taken in batches}) <= 1
    most = 0
    for pieces, taken in batches:
        if taken <= there:
            most, there = most + pieces, there - taken
            continue
        return most if alike else most + (pieces * there + taken - 1) // taken
    return most
