"""Days built by hand: every one is clean in the eyes of the audit; none where none can be."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.models.caps.oracle import DayOracle
from scheduler.models.day.by_hand import by_hand
from scheduler.models.day.minutes import at_least, bits, clear, nearest
from scheduler.models.solvers.engine import Limits, Status
from scheduler.season.types import Role, Stage
from tests.models.day_kitchen import assert_sound, kitchen, request
from tests.models.test_day_random import random_day
from tests.seasons import small_random


@pytest.mark.parametrize("seed", range(60))
def test_days_by_hand_are_sound(seed: int) -> None:
    """Random kitchens with shows, waits, cleaning and pulls: all days that are found keep every rule of the audit."""
    season = small_random(seed)
    season = replace(season, pins=tuple(p for p in season.pins if p.kind not in ("make", "works")))
    asked = replace(random_day(season, seed), packing=())
    for day in by_hand(season, asked):
        assert_sound(season, asked, day)


def test_most_random_days_are_found() -> None:
    """Of the random days that can be, by hand finds nearly all; never one that can't be."""
    can, found = 0, 0
    for seed in range(40):
        season = replace(small_random(seed), pins=())
        asked = replace(random_day(season, seed), packing=())
        there = next(by_hand(season, asked), None) is not None
        able = there or DayOracle(season, Limits(effort=1)).fits(asked) is Status.OPTIMAL
        can, found = can + able, found + there
    assert can >= 20
    assert found >= 0.9 * can


@pytest.mark.parametrize(("closes", "batches"), [(8 * 60 + 45, 1), (8 * 60 + 90, 2), (8 * 60 + 135, 3)])
def test_as_many_as_there_is_time_for(closes: int, batches: int) -> None:
    """Two people who both shape: a batch takes 45 minutes, so that one more, or a minute less, is too much."""
    season = kitchen(closes)
    assert next(by_hand(season, request(season, *["Kite"] * batches)), None) is not None
    assert next(by_hand(season, request(season, *["Kite"] * (batches + 1))), None) is None
    season = kitchen(closes - 1)
    assert next(by_hand(season, request(season, *["Kite"] * batches)), None) is None


@pytest.mark.parametrize(("longest", "can"), [(45, True), (44, False), (29, False)])
def test_nobody_stays_longer_than_the_longest_shift(longest: int, can: bool) -> None:
    """A batch takes both people for 30 minutes and one of them for 45: a minute less, and it can't be."""
    season = kitchen()
    asked = request(season, "Kite")
    hands = (replace(asked.hands[0], longest=longest), replace(asked.hands[1], longest=30))
    assert (next(by_hand(season, replace(asked, hands=hands)), None) is not None) is can


def test_the_same_days_every_time() -> None:
    """Luck is drawn from fixed seeds: the same question has the same answers."""
    season = small_random(3)
    asked = replace(random_day(season, 3), packing=())
    assert list(by_hand(season, asked)) == list(by_hand(season, asked))


def test_minutes_as_bits_on_paper() -> None:
    """The four sums that a day by hand rests on."""
    assert bits(2, 4) == 0b1100
    assert clear(0b11011, 2) == 0b01001
    assert at_least(2, [0b110, 0b011, 0b010]) == 0b010
    assert [nearest(0b1001, to) for to in (0, 1, 2)] == [0, 0, 3]
    assert nearest(0, 5) is None
    assert at_least(0, []) & 0b111 == 0b111  # nobody is asked for: every minute will do


def test_what_waits_little_is_placed_with_its_batch() -> None:
    """A press that takes both people within five minutes of the boil: three batches of 45 minutes fit, no more."""
    both = {
        "stages": (Stage("boil", "kettle", 15), Stage("press", "table", 30, wait_to=5)),
        "roles": (Role("boil", "boiler"), Role("press", "presser", people=2)),
    }
    season = kitchen(8 * 60 + 135, **both)
    assert next(by_hand(season, request(season, *["Kite"] * 3)), None) is not None
    assert next(by_hand(season, request(season, *["Kite"] * 4)), None) is None
