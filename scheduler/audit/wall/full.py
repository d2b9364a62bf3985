"""What the days hold, worked out again: batches that could be started, minutes in which stations can be used."""

from __future__ import annotations

from datetime import date

from scheduler.audit.limits import Sums
from scheduler.audit.readings import Reading, Step
from scheduler.plan.types import DayPlan, Plan


class Full:
    """What the open days hold: most batches of each, and the minutes of each station in which it can be used."""

    def __init__(self, r: Reading, plan: Plan) -> None:
        self.r, days = r, {day.day: day for day in plan.days}
        self.names = [d.name for d in self.r.season.designs]
        self.sums = Sums(self.r, self.names, self.r.kitchen.first_day)
        given = [(station, self.sums.station(station, "batches")) for station in self.r.season.places]
        by_station = [g.amounts[s] for s, g in given if g and len(g.each) == len(self.names)]
        self.most: dict[date, int] = {}
        self.room: dict[date, dict[str, int]] = {}
        for day in self.r.season.days:
            done, hours = days.get(day, DayPlan(day)), self.r.hours(day)
            if hours is None and not done.batches:
                continue
            starts = [self.sums.show_pours(self.names, day, set(done.missed_shows))] if hours else [0]
            starts += [amounts[day] for amounts in by_station if hours]
            starts += [self._by_hands(day)] if hours else []
            self.most[day] = max(min(starts), len(done.batches))
            self.room[day] = {name: self._minutes(name, day) for name in self.r.season.places}

    def _by_hands(self, day: date) -> int:
        """Batches that everyone's working minutes are enough for, opening and closing done."""
        k = self.r.kitchen
        hands = sum(self.sums.work_minutes(p, day) for p in self.r.season.crew)
        hands -= k.opening_minutes * k.opening_people + k.closing_minutes * k.closing_people
        able = [n for n in self.names if self.sums.can_make(n, day)]
        least = min((self.sums.minutes_of(n, lambda _role, _design: True) for n in able), default=1)
        return max(0, hands) // max(1, least)

    def _minutes(self, station: str, day: date) -> int:
        """Places times the time from the first use that is possible to the last; for packing all opening hours."""
        span = self.r.hours(day)
        if span is None:
            return 0
        in_recipes = any(stage.station == station for stage in self.r.season.stages)
        if in_recipes and station != self.r.kitchen.packing_station:

            def here(step: Step, _name: str) -> bool:
                return step.station == station

            span = self.sums.stretch(here, [n for n in self.names if self.sums.can_make(n, day)], day)
        return self.r.season.places[station] * (span[1] - span[0]) if span else 0
