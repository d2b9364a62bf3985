"""What is scarce, worked out again: how much the plan uses of batches, stations, people's time and pulls."""

from __future__ import annotations

from collections import defaultdict

from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.words import count, percent
from scheduler.plan.types import DayPlan


def scarce(wall: Wall) -> list[tuple[str, str]]:
    """The lines of the first sheet: name, and bar with words; the fullest first."""
    found: list[tuple[str, int, int, str]] = []
    made, most = sum(len(day.batches) for day in wall.plan.days), sum(wall.full.most.values())
    found.append(("Batches", made, most, f"{made:,} of the {count(most, 'batch')} that could be started"))
    loads = {d: wall.load(wall.day.get(d, DayPlan(d)))[0] for d in wall.full.room}
    for station, places in wall.r.season.places.items():
        used = sum(min(loads[d][station], room[station]) for d, room in wall.full.room.items())
        all_day = sum(room[station] for room in wall.full.room.values())
        words = f"{rounded(used)} in use of the {rounded(all_day)} in which "
        words += "the kitchen is open" if station == wall.r.kitchen.packing_station else "batches can use it"
        found.append((station + (f", {places} places" if places > 1 else ""), used, all_day, words))
    found += _people(wall)
    found = sorted((row for row in found if row[2]), key=lambda row: -row[1] / row[2])
    out = []
    for name, used, most, words in found:
        share = percent(used, most)
        bar = "".join("█" if 100 * (at + 1) <= 16 * share else "░" for at in range(16))
        out.append((name, f"{bar} {share} %: {words}"))
    return out


def rounded(minutes: int) -> str:
    """Whole hours, half up."""
    return f"{round((minutes + 0.1) / 60):,} h"


def _people(wall: Wall) -> list[tuple[str, int, int, str]]:
    """Everyone's time, that of the fullest person, and pulls, of what days and weeks allow."""
    own: list[tuple[str, int, int]] = []
    most_pulls = 0
    for person in wall.r.season.crew:
        weeks: dict[tuple[int, int], list[int]] = defaultdict(list)
        for day in wall.r.season.days:
            minutes = wall.full.sums.work_minutes(person, day)
            weeks[day.isocalendar()[:2]] += [minutes] if minutes else []
        room = sum(min(wall.r.week_limit(person), sum(days)) for days in weeks.values())
        most_pulls += sum(min(person.pulls_week, person.pulls_day * len(days)) for days in weeks.values())
        work = [w for day in wall.work.values() for w in day.get(person.name, []) if w.short != "break"]
        own.append((f"{person.name}'s time", sum(w.ends - w.starts for w in work), room))
    everyone = ("Everyone's time", sum(row[1] for row in own), sum(row[2] for row in own))
    fullest = max((row for row in own if row[2]), key=lambda row: row[1] / row[2], default=everyone)
    out = []
    for name, used, room in (everyone, fullest):
        words = f"{rounded(used)} at a job of the {rounded(room)} that days and weeks allow"
        out.append((name, used, room, words))
    if paid := sum(wall.paid.values()):
        words = f"; of the {rounded(paid)} paid it is {percent(everyone[1], paid)} % (the Calendar has it by days)"
        out[0] = (*everyone, out[0][3] + words)
    pulls = sum(wall.week_pulls.values())
    return [*out, ("Pulls", pulls, most_pulls, f"{pulls:,} of the {most_pulls:,} that the limits allow")]
