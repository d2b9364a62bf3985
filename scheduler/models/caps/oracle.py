"""Answers about days, remembered: days with the same crew and the same batches are one solve."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from threading import Lock

from scheduler.models.caps.most import Most, most
from scheduler.models.day.fit import fit_day
from scheduler.models.solvers.engine import Limits, Status
from scheduler.plan.request import DayRequest, Hand
from scheduler.plan.types import DayPlan
from scheduler.season.rules import opening, shows_on
from scheduler.season.types import Season, Show

Key = tuple[object, ...]
# Enough to prove nearly all; a limit that is not proven in it is looser, never wrong.
MOST = Limits(effort=0.15, linearization=0, probing=0, strong=True)


class DayOracle:
    """What one season's days can hold, with a memory that does not depend on the date.

    Safe to call from several threads; the answers do not depend on their order.
    """

    def __init__(self, season: Season, limits: Limits | None = None) -> None:
        self.season = season
        self.limits = limits
        self._fits: dict[Key, Status] = {}
        self._most: dict[Key, Most] = {}
        self._lock = Lock()

    def fits(self, request: DayRequest) -> Status:
        """Whether a day's work fits: OPTIMAL (it does), INFEASIBLE (it can't) or UNKNOWN."""
        key = self._key(request)
        if key not in self._fits:
            status = fit_day(self.season, request, self.limits, "any").status
            with self._lock:
                self._fits[key] = status
        return self._fits[key]

    def most(self, request: DayRequest, weights: Mapping[str, int]) -> int:
        """Proven upper bound of sum(weights[design] * batches) in one day of these hands; see ``most``."""
        return self.most_and_how(request, weights).limit

    def most_and_how(self, request: DayRequest, weights: Mapping[str, int], cleaned: bool = False) -> Most:
        """The same with the batches that come nearest; what is remembered costs no effort again."""
        bare = replace(request, designs=(), packing=(), held=frozenset())
        key = (self._key(bare), cleaned, tuple(sorted((d, w) for d, w in weights.items() if w > 0)))
        if key in self._most:
            return replace(self._most[key], effort=0.0)
        found = most(self.season, bare, weights, MOST, cleaned)
        with self._lock:
            self._most[key] = found
        return found

    def _key(self, request: DayRequest) -> Key:
        """All that a day's answer depends on; people by what they can do."""
        hands = tuple(sorted(self._hand_key(h, request) for h in request.hands))
        named_shows = undated_shows(self.season, request.day)
        shows = tuple(replace(s, name="") for s in named_shows)
        return (
            opening(self.season, request.day),
            shows,
            tuple(sorted(request.designs)),
            tuple(sorted(request.packing)),
            hands,
            tuple(s.name in request.held for s in named_shows),
        )

    def _hand_key(self, hand: Hand, request: DayRequest) -> tuple[object, ...]:
        person = self.season.person_by_name[hand.person]
        skills = tuple(sorted((s.skill, s.level) for s in self.season.skills if s.person == hand.person))
        barred = tuple(
            sorted(
                pin.role
                for pin in self.season.pins
                if pin.kind == "not in role" and pin.person == hand.person and pin.day in (None, request.day)
            )
        )
        return (
            hand.from_minute,
            hand.to_minute,
            hand.longest,
            hand.pulls,
            hand.must,
            person.shortest_shift,
            person.young,
            skills,
            barred,
        )


def undated_shows(season: Season, day: date) -> tuple[Show, ...]:
    """The shows of a day without what tells its date: days with the same shows can be the same day."""
    return tuple(replace(show, weekday=None, day=None) for show in shows_on(season, day))


def dated(plan: DayPlan, request: DayRequest) -> DayPlan:
    """The same day on another date: batch ids begin with the month and day."""
    batches = tuple(
        replace(batch, id=f"{request.day:%m%d}-{number}") for number, batch in enumerate(plan.batches, start=1)
    )
    return replace(plan, day=request.day, batches=batches)
