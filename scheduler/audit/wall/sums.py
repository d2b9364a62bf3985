"""The sums of the shortfall sheet read back: every sentence worked out again from a certificate that was audited.

``audit/certificates.py`` holds a certificate's numbers against the season; here the words are held against it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from copy import copy
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from scheduler.audit.limits import Sums
from scheduler.audit.readings import Reading, Step
from scheduler.audit.violation import clock
from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.words import count, day_short, length, names

MOST_NAMED, MOST_ROWS = 8, 30  # lines or weeks told one by one; rows of a sum
LIMITS = {
    "no day in the window": "no day on which it could be made",
    "supplies": "supplies that come too late",
    "pours a day": "how many batches can be started a day",
    "people's hours": "everyone's hours together",
    "pulls": "pulls",
    "people at once": "how many people a batch needs at once",
    "shows": "batches a day beside the shows",
}
NEVER = {
    "pours a day": "no batch can be started",
    "people at once": "too few people are in for a batch",
    "shows": "no batch fits beside the shows",
    "pulls": "nobody may pull",
    "packing minutes": "there is no time for packing",
    "people's hours": "nobody has an hour left",
}


DAMAGED = (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError, IndexError)


class Told:
    """One certificate as the sheet should tell it."""

    def __init__(self, wall: Wall, c: dict[str, Any]) -> None:
        self.wall, self.r, self.c = wall, wall.r, c
        self.kind, self.unit, self.what = str(c["kind"]), str(c["unit"]), str(c["what"])
        self.first, self.last = date.fromisoformat(c["first"]), date.fromisoformat(c["last"])
        self.uses = [u for u in c["uses"] if u["to_make"]]
        designs = self.r.season.design_by_name
        self.names = [u["name"] for u in c["uses"] if u["name"] in designs]
        self.days = [self.first + timedelta(days=i) for i in range((self.last - self.first).days + 1)]
        self.sums = Sums(self.r, self.names, max(wall.plan.from_day, self.r.kitchen.first_day))

    def heading(self) -> str:
        """The limit and the window."""
        words = self.limit()
        return f"{words[:1].upper()}{words[1:]}, {self._window()}."

    def sentences(self) -> Iterator[str]:
        """The sum, sentence by sentence."""
        c = self.c
        if self.kind == "no day in the window":
            yield self._no_day()
        elif not c["there"]:
            yield self._who()
            yield self._never()
        else:
            yield self._who()
            yield self._needs()
            yield self._there()
            yield self._a_day()
            yield self._difference()
            yield self._pieces()
        proven, short = c["pieces_short"], c["short_in_plan"]
        if proven >= short:
            yield f"So {count(short, 'piece')} are missing in every plan: exactly what this plan leaves out."
            return
        told = f"This plan leaves out {short:,} of theirs, {short - proven:,} more than this one sum shows."
        yield f"So at least {count(proven, 'piece')} are missing in every plan. {told}"

    def _window(self) -> str:
        return day_short(self.first) + ("" if self.first == self.last else f" to {day_short(self.last)}")

    def limit(self) -> str:
        """The limit in words."""
        c, who = self.c, names(self.c["people"]) or "nobody"
        if self.kind == "station minutes":
            return f"the {self.what} ({count(self.r.season.places.get(self.what, 1), 'place')})"
        if self.kind == "packing minutes":
            return f"packing at the {self.what}" if self.what and not c["people"] else "packing time"
        if self.kind not in ("leaders", "people able"):
            return LIMITS[self.kind]
        skill, _, level = self.what.rpartition(" ")
        above = "" if level == "5" else " and above"
        what = f"{skill} of level {level}{above}" if skill else "this work"
        return f"who can {'lead' if self.kind == 'leaders' else 'do'} {what}: {who}"

    def _amount(self, value: int) -> str:
        if self.unit in ("batches", "pulls"):
            return count(value, "batch" if self.unit == "batches" else "pull")
        return length(value) if self.unit != "seconds" else _seconds(value)

    def _whose(self, lines: list[str]) -> str:
        orders = [line for line in lines if line in self.r.season.order_by_id]
        guesses = [line for line in lines if line not in self.r.season.order_by_id]
        parts = [f"order{'s' if len(orders) > 1 else ''} {names(orders)}"] if orders else []
        parts += [f"the forecast{'s' if len(guesses) > 1 else ''} {names(guesses)}"] if guesses else []
        return ", ".join(parts)

    def _who(self) -> str:
        inside = [str(row["line"]) for row in self.c["inside"]]
        days = f"only {'on' if self.first == self.last else 'from'} {self._window()}"
        if len(inside) <= MOST_NAMED:
            return f"Candy for {self._whose(inside)} can be made {days}."
        orders = sum(line in self.r.season.order_by_id for line in inside)
        parts = [count(orders, "order")] if orders else []
        parts += [count(len(inside) - orders, "forecast")] if orders < len(inside) else []
        short = [str(row["line"]) for row in self.c["inside"] if row["short"]]
        more = f", and {len(short) - MOST_NAMED} more" if len(short) > MOST_NAMED else ""
        told = self._whose(short[:MOST_NAMED])
        return f"Candy for {names(parts)} can be made {days}. Short among them: {told}{more}."

    def _needs(self) -> str:
        ready = sum(row["shelf"] for row in self.c["inside"])
        words = f"Beside {count(ready, 'pack')} that stand ready they take " if ready else "They take "
        needed = self._amount(self.c["needed"])
        if len(self.uses) > MOST_ROWS:
            pieces = count(sum(u["to_make"] for u in self.uses), "piece")
            return f"{words}{pieces} of {len(self.uses)} designs, stock left out: {needed}."
        words += "; ".join(self._use(u) for u in self.uses)
        return words + (f": {needed} in all." if len(self.uses) > 1 or self.unit != "batches" else ".")

    def _use(self, u: dict[str, Any]) -> str:
        if self.kind == "packing minutes":
            return f"{count(u['count'], 'pack')} of {u['name']} at {_seconds(u['each'])}"
        made = f"{u['to_make']:,} {u['name']}"
        made += f" (of {u['wanted']:,}, {u['on_hand']:,} are in stock)" if u["on_hand"] else ""
        if self.kind == "people's hours":
            return f"{made} at {_seconds(u['each'])} for a hundred, packed"
        each = "" if self.unit == "batches" else f" at {u['each']} {'pulls' if self.unit == 'pulls' else 'min'}"
        return f"{made}, {count(u['count'], 'batch')} of {u['size']}{each}"

    def _there(self) -> str:
        """What there is: week by week, or in long windows by who gives it."""
        parts = self.c["parts"]
        who = {p["who"]: sum(q["amount"] for q in parts if q["who"] == p["who"]) for p in parts}
        told = []
        for _, same in groupby(
            sorted(parts, key=lambda p: str(p["who"])), lambda p: (p["who"], p["days"], p["by_day"], p["amount"])
        ):
            weeks = list(same)
            p, since = weeks[0], day_short(date.fromisoformat(weeks[0]["first"]))
            words, days = f"{p['who']} " if len(who) > 1 else "", p["days"]
            words += f"{len(weeks)} weeks from " if len(weeks) > 1 else "" if days == 1 else f"{days} days from "
            words += f"{since}, {self._amount(p['amount'])}"
            if len(weeks) > 1:
                words += " a week" if days == 1 else f" in each week of {days} days"
            if p["week_limit"] is not None and p["by_day"] > p["amount"]:
                words += f" (the week's limit; the days would give {self._amount(p['by_day'])})"
            told.append(words)
        if len(told) > MOST_NAMED and len(who) > 1:
            told = [f"{name} {self._amount(amount)}" for name, amount in who.items()]
        begin = "There is room for" if self.unit == "batches" else "There are"
        return f"{begin} {self._amount(self.c['there'])}: {'; '.join(told)}."

    def _a_day(self) -> str:
        if self.kind == "station minutes":
            return self._in_use()
        if self.kind not in ("pours a day", "people at once"):
            return ""
        pours, day, able, apart = self._fullest()
        most = pours[day]
        first, last = self.sums.day_span(day)[0], max(self.sums.latest_pour(n, day) for n in able)
        fewer = [f"{n or 'none'} on {day_short(d)}" for d, n in pours.items() if n < most and self.r.hours(d)]
        return (
            f"So on {day_short(day)}: first start {clock(first)}, last start {clock(last)}, {length(apart)} from one "
            f"to the next at best, {self._amount(most)}."
        ) + (f" But {names(fewer)}." if 0 < len(fewer) <= MOST_NAMED else "")

    def _fullest(self) -> tuple[dict[date, int], date, list[str], int]:
        """Batches of each day of the window, the fullest day, its designs, and the minutes between two starts."""
        people = self.kind == "people at once"
        pours = {d: self.sums.pours(self.names, d, people) if self.r.hours(d) else 0 for d in self.days}
        day = max(pours, key=lambda d: pours[d])
        able = [n for n in self.names if self.sums.can_make(n, day)]
        return pours, day, able, self.sums.apart(able, able, self.sums.here(day) if people else None)

    def cure(self) -> str:
        """By how much a later last start gives one batch more, and on how many days, all shows held."""
        if self.kind not in ("pours a day", "people at once") or not self.c["there"]:
            return ""
        pours, day, able, apart = self._fullest()
        was, at = self.r.kitchen.last_pour, self._later(day, pours[day], able, apart)
        if at == was:
            return ""
        now = self.wall.full.sums  # which knows already how close two starts can be
        then = copy(now)
        then.r = Reading(replace(self.r.season, kitchen=replace(self.r.kitchen, last_pour=at)), (self.first, 0))
        made = [d for d in self.days if pours[d]]
        stay = [d for d in made if then.show_pours(self.names, d, set()) <= now.show_pours(self.names, d, set())]
        if len(stay) == len(made):
            return ""
        on = f"on {len(made) - len(stay)} of the {len(made)} days"
        if not stay:
            on = f"on each of the {len(made)} days" if made[1:] else f"on {day_short(made[0])}"
        if shows := len([d for d in stay if self.r.shows(d)]):
            rest = "the other" if len(stay) == 1 else "the others"
            on += f" (a show keeps its hour on {'' if shows == len(stay) else f'{shows} of '}{rest})"
        words = f"The last start, {clock(was)}, is your own setting in the table kitchen: "
        return f"{words}at {clock(at)}, {length(at - was)} later, one batch more fits {on}."

    def _later(self, day: date, most: int, able: list[str], apart: int) -> int:
        """The last start at which one batch more fits on a day, tried minute by minute up to an hour; else as it is."""
        first, end = self.sums.day_span(day)
        ends = [self.sums.moments(n)[-1] for n in able]
        was = self.r.kitchen.last_pour
        for at in range(was + 1, was + 61):
            if at % self.r.kitchen.clock_step:
                continue
            if (at - first) // max(1, apart) >= most and any(at + m.early + m.step.minutes <= end for m in ends):
                return at
        return was

    def _in_use(self) -> str:
        spans = {}
        for d in self.days:
            able = [n for n in self.names if self.r.hours(d) and self.sums.can_make(n, d)]
            spans[d] = self.sums.stretch(self._here, able, d) if able else None
        day, span = max(spans.items(), key=lambda item: item[1][1] - item[1][0] if item[1] else 0)
        start, end = span or (0, 0)
        places = self.r.season.places.get(self.what, 1)
        each = f", at each of its {places} places" if places > 1 else ""
        words = f"So on {day_short(day)} it can be in use from {clock(start)} to {clock(end)}{each}: "
        return f"{words}{length(places * (end - start))}."

    def _here(self, step: Step, _name: str) -> bool:
        return step.station == self.what

    def _difference(self) -> str:
        needed, there, missing = (self._amount(self.c[name]) for name in ("needed", "there", "missing"))
        words = f"{needed} less {there} leaves {missing} too few."
        if self.kind == "pours a day":
            words += f" Starts can't be closer: one batch has to leave {self._keeps()} before the next can have it."
        if self.kind == "people at once":
            words += " Starts can't be closer: some stages together need more people than are in."
        if self.kind == "shows":
            words += " The batches at the shows start at their hours, and the others fit before and after."
        return words

    def _keeps(self) -> str:
        """The one station with which a place more would bring starts closer together."""
        made = [str(u["name"]) for u in self.uses]
        apart, keeps = self.sums.apart(made, made, None), []
        for station in self.r.season.stations:
            others = tuple(replace(s, places=s.places + (s == station)) for s in self.r.season.stations)
            eased = Reading(replace(self.r.season, stations=others), (self.wall.plan.from_day, 0))
            if Sums(eased, made, self.r.kitchen.first_day).apart(made, made, None) < apart:
                keeps.append(station.name)
        return f"the {keeps[0]}" if len(keeps) == 1 else "a station"

    def _pieces(self) -> str:
        """From what is too little to the pieces: batches that are left out, or what there is spent at its best."""
        if self.kind != "people's hours" and len({u["each"] for u in self.uses}) == 1:
            return self._left_out()
        lots = []  # (pieces, what they take, name)
        for u in self.uses:
            if self.kind == "people's hours":
                lots.append((u["to_make"], u["needs"], str(u["name"])))
                continue
            full, rest = divmod(u["to_make"], u["size"])
            lots += [(u["size"], u["each"], str(u["name"]))] * full
            lots += [(rest, u["each"], str(u["name"]))] if rest else []
        left, had = self.c["there"], dict[str, list[int]]()
        for pieces, takes, name in sorted(lots, key=lambda lot: -lot[0] / max(1, lot[1])):
            got = (pieces, takes) if takes <= left else (-(-pieces * left // takes), left)
            had.setdefault(name, [0, 0])
            had[name][0] += got[0]
            had[name][1] += got[1]
            left -= got[1]
            if takes > got[1]:
                break
        rows = [f"{self._amount(takes)} for {pieces:,} {name}" for name, (pieces, takes) in had.items() if pieces]
        if not rows or len(rows) > MOST_ROWS:
            return ""
        wanted, short = sum(u["to_make"] for u in self.uses), self.c["pieces_short"]
        words = f"At its best it gives {'; '.join(rows)}: "
        return f"{words}{wanted - short:,} of {count(wanted, 'piece')}, so {short:,} less."

    def _left_out(self) -> str:
        each = max(1, self.uses[0]["each"])
        sizes = [u["size"] for u in self.uses for _ in range(u["to_make"] // u["size"])]
        sizes = sorted([*sizes, *(u["to_make"] % u["size"] for u in self.uses if u["to_make"] % u["size"])])
        out = Counter(sizes[: len(sizes) - self.c["there"] // each])
        if len(out) > MOST_ROWS:
            return ""
        one, many = ("pack", "packs") if self.kind == "packing minutes" else ("batch", "batches")
        number, small = sum(out.values()), "smallest " if len(set(sizes)) > 1 else ""
        which = f"{number} {small}{many if number > 1 else one}"
        words = "" if self.unit == "batches" else f"It is enough for {count(self.c['there'] // each, one)}. "
        words += f"{'The ' if small else ''}{which} {'are' if number > 1 else 'is'} left out: "
        told = " + ".join(f"{times} x {pieces:,}" if times > 1 else f"{pieces:,}" for pieces, times in out.items())
        return f"{words}{told} = {count(self.c['pieces_short'], 'piece')}."

    def _never(self) -> str:
        if self.kind != "supplies":
            if self.kind in ("leaders", "people able"):
                return f"On these days nobody is in {self.limit()}."
            return f"On these days {NEVER.get(self.kind) or f'there is nothing of {self.limit()}'}."
        told = []
        for name in self.names:
            if (since := self.r.season.design_by_name[name].from_day) is not None:
                told.append(f"{name} can't be made before {day_short(since)}")
        words = names(told)
        return f"{words[:1].upper()}{words[1:]}, when its supplies are there."

    def _no_day(self) -> str:
        """Why no day will do: the life that is asked for, or no open day before it must be packed."""
        season, told = self.r.season, []
        lines = [str(row["line"]) for row in self.c["inside"]]
        for line in lines:
            order = season.order_by_id.get(line)
            own = order.least_life_days if order else None
            least = season.kitchen.least_life_days if own is None else own
            for name in self.names:
                keeps = season.design_by_name[name].sell_by_days
                if keeps - season.kitchen.packing_from_days < least:
                    told.append(f"{line} asks for {least} days of life at delivery, and {name} keeps {keeps}")
        if told:
            return f"{names(told[:MOST_NAMED])}: none can be fresh enough."
        who = names(lines[:MOST_NAMED])
        return f"For {who} there is no day left on which the candy can be made and still be packed in time."


def _seconds(value: int) -> str:
    hours, minutes, rest = value // 3600, value // 60 % 60, value % 60
    if not rest:
        return length(value // 60)
    parts = [f"{hours} h"] * bool(hours) + [f"{minutes:02d} min" if hours else f"{minutes} min"] * bool(minutes)
    return " ".join([*parts, f"{rest} s"])
