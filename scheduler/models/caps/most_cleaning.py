"""Cleaning in a day without names: where one batch after the other has the only place of a station to itself."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.season import rules
from scheduler.season.types import Design, Season


@dataclass(frozen=True)
class Cleaned:
    """``stage``: all designs have it, and it is the first at the station; batches are in order of its start.

    ``minutes``: of cleaning after a batch of one design and before the next, by their numbers.
    """

    station: str
    stage: str
    minutes: tuple[tuple[int, ...], ...]

    @property
    def levels(self) -> list[int]:
        """All lengths of a clean, the shortest first."""
        return sorted({m for row in self.minutes for m in row if m})


def cleaned_station(season: Season) -> str:
    """The station with a single place that has most minutes of changeovers; empty where there is none."""
    minutes = Counter[str]()
    for change in season.changeovers:
        if season.places.get(change.station, 0) == 1:
            minutes[change.station] += change.minutes
    return max(sorted(minutes), key=lambda station: minutes[station], default="")


def cleaned_of(season: Season, designs: Sequence[Design]) -> Cleaned | None:
    """How such a station is cleaned between batches of some designs; None where nothing can be said of it.

    Batches between which it is cleaned must leave it one after the other: no batch's first visit may fit into the
    pause of another with both cleans, as cleaning from a first to a third is never longer than that of each step.
    """
    station = cleaned_station(season)
    names = [[s.name for s in rules.recipe(season, d) if s.station == station] for d in designs]
    if not station or not all(names) or len({stages[0] for stages in names}) > 1:
        return None
    minutes = rules.cleaning_minutes(season, station, designs)
    for a, one in enumerate(designs):
        for b, other in enumerate(designs):
            both = minutes[a][b] + minutes[b][a]
            if both and _longest_pause(season, station, one) >= _first_visit(season, station, other) + both:
                return None
    return Cleaned(station, names[0][0], tuple(map(tuple, minutes))) if any(map(any, minutes)) else None


def _first_visit(season: Season, station: str, design: Design) -> int:
    """Minutes of a batch's first stages at a station that follow each other without a wait."""
    minutes = 0
    for stage in rules.recipe(season, design):
        if stage.station == station and (not minutes or stage.wait_to == 0):
            minutes += stage.minutes
        elif minutes:
            break
    return minutes


def _longest_pause(season: Season, station: str, design: Design) -> int:
    """Most minutes for which a batch leaves a station that it comes back to."""
    longest, away = 0, -1  # away: since it was there; below 0 before it was
    for stage in rules.recipe(season, design):
        away += stage.wait_to if away >= 0 else 0
        if stage.station == station:
            longest, away = max(longest, away), 0
        elif away >= 0:
            away += stage.minutes
    return longest
