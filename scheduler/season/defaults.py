"""What an empty template begins with: stations, stages and roles to be edited.

All figures are common practice, no source: a start, never a truth.
"""

from __future__ import annotations

from typing import Any

from scheduler.season.schema import KITCHEN
from scheduler.season.types import Changeover, Hours, Role, Stage, Station

SETTINGS = {"clock_step": 5}  # of the kitchen, where a template begins with another value than a season without it has

ROWS: dict[str, tuple[Any, ...]] = {
    "hours": tuple(Hours(weekday, 8 * 60, 18 * 60) for weekday in range(5)),
    "stations": (
        Station("kettle", 1),
        Station("cooling table", 1),
        Station("hook", 1),
        Station("rolling bench", 1),
        Station("cutting block", 1),
        Station("packing bench", 2),
    ),
    "stages": (
        Stage("boil", "kettle", 25),
        Stage("pour and fold", "cooling table", 20),
        Stage("pull", "hook", 0, minutes_per_load=10),
        Stage("assemble", "cooling table", 15, minutes_per_level=5),
        Stage("draw and roll", "rolling bench", 20),
        Stage("cut", "cutting block", 10, wait_to=5),
    ),
    "roles": (
        Role("boil", "boiler", 1, "boiling", 1, hot=True),
        Role("pour and fold", "lead", 1, "pictures", None, leads=True, hot=True),
        Role("pull", "puller", 1, "pulling", 1, pulls=True, hot=True),
        Role("assemble", "lead", 1, "pictures", None, leads=True, hot=True),
        Role("draw and roll", "lead", 1, "pictures", None, leads=True, hot=True),
        Role("draw and roll", "roller", 1, "rolling", 1),
        Role("cut", "cutter", 1, "cutting", 1),
    ),
    "changeovers": (
        Changeover("light to dark", "cooling table", 0),
        Changeover("dark to light", "cooling table", 10),
        Changeover("mild to strong", "cooling table", 0),
        Changeover("strong to mild", "cooling table", 10),
        Changeover("sour to plain", "cooling table", 10),
        Changeover("allergen to free", "cooling table", 45, people=2),
    ),
}


def setting(field: str, records: tuple[Any, ...]) -> Any:
    """A setting of the kitchen's record, or what a template begins with; None where something must be written."""
    return getattr(records[0], field) if records else SETTINGS.get(field, KITCHEN.defaults.get(field))
