"""What is scarce: how much the plan uses of what the season's days, stations and people can give."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from scheduler.answers import work
from scheduler.paper.figures import Figures, week_of
from scheduler.paper.words import count, hours, percent
from scheduler.season.rules import week_limit

BAR = 16  # signs of a full bar


@dataclass(frozen=True, slots=True)
class Share:
    """``used`` of ``most`` of something, told in words."""

    name: str
    used: int
    most: int
    words: str

    @property
    def line(self) -> str:
        """A bar, the share, the words."""
        share = percent(self.used, self.most)
        full = min(BAR, share * BAR // 100)
        return f"{'█' * full}{'░' * (BAR - full)} {share} %: {self.words}"


def shares(figures: Figures) -> list[Share]:
    """Batches, stations, people's time, pulls; the scarcest first. What the season has none of is left out."""
    found = [_batches(figures), *_stations(figures), *_people(figures)]
    return sorted((s for s in found if s.most), key=lambda s: -s.used / s.most)


def _batches(figures: Figures) -> Share:
    made, most = sum(len(d.batches) for d in figures.plan.days), sum(figures.most.values())
    return Share("Batches", made, most, f"{made:,} of the {count(most, 'batch', 'batches')} that could be started")


def _stations(figures: Figures) -> list[Share]:
    """Minutes in use, cleaning too, of those in which each station can be used."""
    out = []
    for station in figures.season.stations:
        used = room = 0
        for day, minutes in figures.room.items():
            room += minutes[station.name]
            if day in figures.load:
                used += min(minutes[station.name], figures.load[day].used.get(station.name, 0))
        packing = station.name == figures.season.kitchen.packing_station
        when = "the kitchen is open" if packing else "batches can use it"
        name = station.name + (f", {station.places} places" if station.places > 1 else "")
        out.append(Share(name, used, room, f"{hours(used)} in use of the {hours(room)} in which {when}"))
    return out


def _people(figures: Figures) -> list[Share]:
    """Everyone's minutes at a job and pulls, of the most that days and weeks allow; and whose time is the scarcest."""
    season = figures.season
    busy: dict[str, int] = defaultdict(int)
    for jobs in figures.jobs.values():
        for job in jobs:
            busy[job.person] += job.ends - job.starts if job.kind != "break" else 0
    people: list[Share] = []
    pulls = most_pulls = 0
    for person in season.crew:
        days: dict[tuple[int, int], list[int]] = defaultdict(list)
        for t, day in enumerate(season.days):
            if minutes := work.working(season, person, t):
                days[week_of(day)].append(minutes)
        room = sum(min(week_limit(person), sum(minutes)) for minutes in days.values())
        most_pulls += sum(min(person.pulls_week, person.pulls_day * len(minutes)) for minutes in days.values())
        pulls += sum(w.pulls for key, w in figures.week.items() if key[0] == person.name)
        words = f"{hours(busy[person.name])} at a job of the {hours(room)} that days and weeks allow"
        people.append(Share(f"{person.name}'s time", busy[person.name], room, words))
    used, room = sum(p.used for p in people), sum(p.most for p in people)
    words = f"{hours(used)} at a job of the {hours(room)} that days and weeks allow"
    if paid := sum(load.in_paid for load in figures.load.values()):
        words += f"; of the {hours(paid)} paid it is {percent(used, paid)} % (the Calendar has it by days)"
    out = [Share("Everyone's time", used, room, words)]
    out += [max((p for p in people if p.most), key=lambda p: p.used / p.most, default=out[0])]
    return [*out, Share("Pulls", pulls, most_pulls, f"{pulls:,} of the {most_pulls:,} that the limits allow")]
