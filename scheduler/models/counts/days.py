"""Days fitted to the minute one by one, inside what people may still do in their week.

A ``Book`` holds the days that are fitted; from it and from what other days still ask for
it works out who may come on a day, for how long, and what they may pull.
"""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, field

from scheduler.models.counts.board import Wish
from scheduler.models.facts import Facts
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.summary import paid_minutes, pulls_by_person
from scheduler.plan.types import DayPlan
from scheduler.season import rules


@dataclass
class Book:
    """Days fitted so far, by index; days already decided are in it from the start."""

    facts: Facts
    days: dict[int, DayPlan] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.days = dict(self.facts.done_by_index) | self.days

    def shift_of(self, name: str, t: int) -> tuple[int, int] | None:
        """Start and end of a person's shift on a fitted day."""
        day = self.days.get(t)
        if day is not None:
            for shift in day.shifts:
                if shift.person == name:
                    return shift.starts, shift.ends
        return None

    def paid_in(self, name: str, week: tuple[int, int], but: int) -> int:
        """Paid minutes of a person in a week on fitted days other than one."""
        return sum(
            paid_minutes(self.facts.season, shift)
            for day in self._others(week, but)
            for shift in day.shifts
            if shift.person == name
        )

    def pulls_in(self, name: str, week: tuple[int, int], but: int) -> int:
        """Pulls of a person in a week on fitted days other than one."""
        return sum(pulls_by_person(self.facts.season, day).get(name, 0) for day in self._others(week, but))

    def _others(self, week: tuple[int, int], but: int) -> list[DayPlan]:
        """The fitted days of a week other than one."""
        return [self.days[t] for t in self.facts.days_of(week) if t != but and t in self.days]

    def hands(self, t: int, wish: Wish | None = None) -> tuple[Hand, ...]:
        """Everyone who may come on a day, given the fitted days and what open days still wish for."""
        reserved = wish.shift if wish is not None else {}
        open_days = {d: dict(people) for d, people in reserved.items() if d != t and d not in self.days}
        out = []
        for name, stretch in self.facts.hands[t].items():
            asked = {d: people[name] for d, people in open_days.items() if name in people}
            hand = self._hand(t, name, stretch.starts, stretch.ends, stretch.longest, asked)
            if hand is not None:
                out.append(hand)
        return tuple(out)

    def _hand(
        self, t: int, name: str, starts: int, ends: int, longest: int, asked: Mapping[int, int]
    ) -> Hand | None:
        """What is left of a person for a day, where so many minutes are ``asked`` of them on other days."""
        facts = self.facts
        person, week = facts.person(name), facts.week(t)
        if self.row_full(name, t, asked):
            return None
        earliest, latest = self.rested(name, t)
        starts, ends = max(starts, earliest), min(ends, latest)
        left = rules.week_limit(person) - self.paid_in(name, week, t)
        left -= sum(facts.paid_of(minutes) for d, minutes in asked.items() if facts.week(d) == week)
        longest = min(longest, ends - starts, self.longest_for(left))
        if longest < rules.shortest_shift(facts.season, person):
            return None
        pulls = min(person.pulls_day, person.pulls_week - self.pulls_in(name, week, t))
        return Hand(name, starts, ends, longest, max(0, pulls), (name, t) in facts.called)

    def longest_for(self, paid: int) -> int:
        """The longest shift of which none shorter costs more: 310 paid with breaks of 30 after 300: 340; 285: 285."""
        kitchen = self.facts.season.kitchen
        if kitchen.break_paid or paid < kitchen.break_after_minutes:
            return paid  # a longer one with a break might cost no more, but one without would
        return paid + kitchen.break_minutes

    def rested(self, name: str, t: int) -> tuple[int, int]:
        """Minutes of a day between which somebody may be in after, and before, the shifts of the days near it."""
        rest, earliest, latest = self.facts.season.kitchen.rest_minutes, 0, 2880
        for days in rules.rest_reaches(self.facts.season):
            before, after = self.shift_of(name, t - days), self.shift_of(name, t + days)
            earliest = max(earliest, before[1] + rest - 1440 * days) if before else earliest
            latest = min(latest, after[0] + 1440 * days - rest) if after else latest
        return earliest, latest

    def row_full(self, name: str, t: int, asked: Container[int] = ()) -> bool:
        """Whether coming on this day would make too many days in a row, with days that are asked for."""
        run = 1
        for step in (-1, 1):
            d = t + step
            while self.shift_of(name, d) is not None or d in asked:
                run += 1
                d += step
        return run > self.facts.season.kitchen.days_in_a_row


def idle_day(facts: Facts, t: int) -> DayPlan:
    """A day on which nothing happens, with its shows, which nobody holds."""
    day = facts.season.days[t]
    return DayPlan(day, missed_shows=tuple(s.name for s in rules.shows_on(facts.season, day)), proven=True)


def held_on(day: DayPlan) -> frozenset[str]:
    """The shows that a day holds."""
    return frozenset(b.show for b in day.batches if b.show)


def as_they_are(facts: Facts, t: int, day: DayPlan) -> tuple[Hand, ...]:
    """Those who are in on a day, for as long as they are, to do no more pulling than they do."""
    return tuple(
        Hand(s.person, s.starts, s.ends, s.ends - s.starts, 0, (s.person, t) in facts.called) for s in day.shifts
    )


def wished_hands(facts: Facts, wish: Wish, t: int) -> tuple[Hand, ...]:
    """Those whom the season calls in, each with a fair share of what is left of the week.

    longest = planned + what the week leaves over / days called in; such days can be fitted
    side by side and never break a week's limit together.
    """
    kitchen = facts.season.kitchen
    out = []
    week = facts.weeks[facts.week(t)]
    for name, minutes in wish.shift.get(t, ()):
        person, stretch = facts.person(name), facts.hands[t][name]
        planned = [m for d in week for n, m in wish.shift.get(d, ()) if n == name]
        left = rules.week_limit(person) - sum(facts.paid_of(m) for m in planned)
        longest = min(stretch.longest, minutes + max(0, left) // len(planned))
        starts, ends = stretch.starts, stretch.ends
        for days in rules.rest_reaches(facts.season):
            later = facts.hands.get(t + days, {}).get(name)
            if later is not None and any(n == name for n, _ in wish.shift.get(t + days, ())):
                ends = min(ends, later.starts + 1440 * days - kitchen.rest_minutes)
        if ends - starts < rules.shortest_shift(facts.season, person):
            continue
        pulls = min(person.pulls_day, person.pulls_week // max(1, len(planned)))
        out.append(Hand(name, starts, ends, min(longest, ends - starts), pulls, (name, t) in facts.called))
    return tuple(out)


def request(facts: Facts, wish: Wish, t: int, hands: tuple[Hand, ...]) -> DayRequest:
    """What the season asks of one day."""
    return DayRequest(
        facts.season.days[t],
        wish.batches.get(t, ()),
        wish.packing.get(t, ()),
        hands,
        wish.held.get(t, frozenset()),
    )


def asked_days(facts: Facts, wish: Wish) -> list[int]:
    """Days on which something is to happen."""
    return [t for t in facts.days if wish.batches.get(t) or wish.packing.get(t) or wish.shift.get(t)]

