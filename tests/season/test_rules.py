"""What the tables say together, by hand: when batches may run, and how long one takes at the least."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.season.rules import recipe, shortest_length, work_hours
from scheduler.season.types import SpecialDay, Stage
from tests.handmade import OPENS, day, paper

CLOSES = 17 * 60


@pytest.mark.parametrize(
    ("settings", "hours"),
    [
        ({}, (OPENS + 20, CLOSES - 30)),
        ({"opening_people": 0}, (OPENS, CLOSES - 30)),
        ({"closing_people": 0}, (OPENS + 20, CLOSES)),
        ({"opening_minutes": 0, "closing_minutes": 0}, (OPENS, CLOSES)),
    ],
    ids=["both duties", "nobody opens", "nobody closes", "no minutes"],
)
def test_work_hours(settings: dict[str, int], hours: tuple[int, int]) -> None:
    """`opening duty`, `closing duty`: 8:20 to 16:30; 0 minutes or 0 people: no duty. None on a closed day, the last."""
    duties = {"opening_minutes": 20, "closing_minutes": 30, "opening_people": 1, "closing_people": 2} | settings
    season = paper(2, closes=CLOSES, special_days=(SpecialDay(day(1), "closed"),), **duties)
    assert work_hours(season, day(0)) == hours
    assert work_hours(season, day(1)) is None


def test_shortest_length() -> None:
    """25 minutes, a wait of 5 to 10, 40 minutes: 70. The wait before the first stage is none; no stages: 0."""
    stages = (Stage("boil", "bench", 25, wait_from=3, wait_to=3), Stage("cut", "bench", 40, wait_from=5, wait_to=10))
    season = paper(stages=stages)
    assert shortest_length(recipe(season, season.designs[0])) == 70
    none = replace(season, stages=())
    assert shortest_length(recipe(none, none.designs[0])) == 0
