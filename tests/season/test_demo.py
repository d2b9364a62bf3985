"""The demo seasons in inputs/: what they promise to show is in them."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from dateutil.easter import easter
from scheduler.season.check import warnings
from scheduler.season.prices import price_of
from scheduler.season.read import read_season
from scheduler.season.write import write_season

INPUTS = Path(__file__).parents[2] / "inputs"


def test_spring_runs_up_to_easter_with_mothering_sunday_in_between() -> None:
    """Easter 2027 is 28 March (dateutil.easter); Mothering Sunday in the UK is three weeks before."""
    season = read_season(INPUTS / "spring")
    feast = easter(2027)
    assert feast == date(2027, 3, 28)
    assert season.kitchen.last_day == feast - timedelta(days=1)
    marks = {d.day: d.mark for d in season.special_days}
    assert marks == {feast - timedelta(days=21): "holiday", feast - timedelta(days=2): "closed"}


def test_spring_shows_every_feature_once() -> None:
    season = read_season(INPUTS / "spring")
    assert (len(season.crew), len(season.designs), season.places["table"], len(season.shows)) == (5, 10, 1, 2)
    assert 55 <= len(season.orders) + len(season.forecasts) <= 65
    assert sum(len(inside) > 1 for inside in season.contents_of.values()) == 3
    assert any(o.latest for o in season.orders) and any(not o.partial for o in season.orders)
    assert any((o.least_life_days or 0) > 100 for o in season.orders)
    assert any(p.young for p in season.crew) and any(d.allergens for d in season.designs)
    assert any(s.design for s in season.stock) and any(s.product for s in season.stock)
    best = max(season.skills, key=lambda s: s.level if s.skill == "pictures" else 0).person
    assert any(a.person == best and a.reason == "leave" for a in season.absences)
    assert season.pins
    assert price_of(season.prices, "further place", "table") == 38000
    assert price_of(season.prices, "training", "Lin") == price_of(season.prices, "training", "Oona") == 22000
    assert price_of(season.prices, "further place", "cutting block") is None


def test_demo_seasons_raise_no_doubts() -> None:
    for name in ("spring", "fortnight"):
        assert [str(w) for w in warnings(read_season(INPUTS / name))] == []


@pytest.mark.parametrize("name", ["spring", "fortnight"])
def test_the_demo_is_what_rockrota_itself_would_write(name: str, tmp_path: Path) -> None:
    """`template --demo` and `convert` give the same files, notes and all: none has stayed behind."""
    write_season(read_season(INPUTS / name), tmp_path / name)
    files = sorted((tmp_path / name).iterdir())
    assert [f.name for f in files] == sorted(f.name for f in (INPUTS / name).iterdir())
    assert [f.name for f in files if f.read_bytes() != (INPUTS / name / f.name).read_bytes()] == []
