"""What each day of a season holds at most: batches that can be started, minutes in which stations can be used."""

from __future__ import annotations

from datetime import date

from scheduler.answers import limits, work
from scheduler.plan.types import Plan
from scheduler.season.rules import StageNeed, opening, recipe
from scheduler.season.types import Season


def most_batches(season: Season, plan: Plan) -> dict[date, int]:
    """Most batches that can be started each open day, by who can be in, the shows held, and each station's minutes.

    Example: first start 8:50, last start 12:45, 60 minutes from one to the next: 4.
    """
    days, designs = {d.day: d for d in plan.days}, list(season.designs)
    is_open = [t for t, day in enumerate(season.days) if opening(season, day) is not None]
    missed = frozenset((season.index(d.day), name) for d in plan.days for name in d.missed_shows)
    found = [limits.shows(season, designs, is_open, missed)]
    for station in season.stations:
        at = limits.at_station(season, designs, is_open, station.name)
        found += [limit for limit in at if limit.unit == "batches" and len(limit.each) == len(designs)]
    out = {}
    for t, day in enumerate(season.days):
        made = len(days[day].batches) if day in days else 0
        if made or opening(season, day) is not None:
            most = min(sum(who.get(t, 0) for who in limit.amounts.values()) for limit in found)
            out[day] = max(made, min(most, _by_hands(season, t)))
    return out


def _by_hands(season: Season, t: int) -> int:
    """Batches for which everyone's working minutes of a day are enough, the duties done.

    Example: two people for 8 h, duties of 50 minutes, 85 minutes of work in the quickest batch: 910 / 85 = 10.
    """
    kitchen = season.kitchen
    duty = kitchen.opening_minutes * kitchen.opening_people + kitchen.closing_minutes * kitchen.closing_people
    there = sum(work.working(season, p, t) for p in season.crew) - duty
    each = [
        sum(need.minutes * role.people for need in recipe(season, d) for role in need.roles)
        for d in season.designs
        if work.makeable(season, d, t)
    ]
    return max(0, there) // max(1, min(each, default=1))


def station_room(season: Season, t: int) -> dict[str, int]:
    """Minutes of each station on a day: its places times the time in which batches can use it.

    Example: the first batch is at the kettle from 8:50, the last can leave it at 13:45: 295. The packing
    station, and a station that no stage uses, count from opening to closing.
    """
    hours = opening(season, season.days[t])
    if hours is None:
        return {s.name: 0 for s in season.stations}
    today = [d for d in season.designs if work.makeable(season, d, t)]
    used = {s.station for s in season.stages} - {season.kitchen.packing_station}

    def minutes(station: str) -> int:
        def here(need: StageNeed) -> bool:
            return need.station == station

        span = work.reach(season, today, here, t) if station in used else hours
        return span[1] - span[0] if span else 0

    return {s.name: s.places * minutes(s.name) for s in season.stations}
