"""Workbooks that several tests look at."""

from __future__ import annotations

import pytest
from openpyxl import Workbook
from scheduler.plan.types import Plan
from scheduler.season.types import Season
from tests.benchmarks.generate import generated
from tests.handmade import handmade_plan, handmade_season
from tests.paper.reading import read
from tests.paper.toy import toy_plan


@pytest.fixture(scope="module")
def book() -> Workbook:
    return read(handmade_season(), handmade_plan())


@pytest.fixture(scope="module")
def toy() -> tuple[Season, Plan, Workbook]:
    """Two weeks with forty orders, more than can be made."""
    season = generated(2, 4, 6, 40, 1)
    plan = toy_plan(season)
    return season, plan, read(season, plan)
