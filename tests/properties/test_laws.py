"""Properties over random seasons: each law of ``tests.trust.laws`` on seasons that hypothesis draws."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from tests.trust.engines import agree, hall
from tests.trust.laws import (
    LAWS,
    UNDECIDED,
    Law,
    doubling_doubles,
    doubling_keeps_the_batches,
    on_bounds,
    on_plans,
    sound_plan,
)

QUIET = [HealthCheck.too_slow, HealthCheck.data_too_large]


@pytest.mark.parametrize("name", LAWS)
@settings(max_examples=10, deadline=None, derandomize=True, suppress_health_check=QUIET)
@given(seed=st.integers(0, 2000))
def test_laws_of_the_proven_shortfall(name: str, seed: int) -> None:
    """More means never worsen it; what makes no difference to the kitchen makes none to the figure."""
    found = on_bounds(LAWS[name], seed)
    assume(found != UNDECIDED)
    assert found is None


@settings(max_examples=10, deadline=None, derandomize=True, suppress_health_check=QUIET)
@given(seed=st.integers(0, 2000))
def test_twice_the_yield_and_demand_is_twice_the_proven_shortfall(seed: int) -> None:
    """The bound counts pieces: it has no smallest size."""
    assert doubling_doubles(seed) in (None, UNDECIDED)


@settings(max_examples=3, deadline=None, derandomize=True, suppress_health_check=QUIET)
@given(seed=st.integers(0, 2000))
def test_twice_the_yield_and_demand_keeps_the_batches(seed: int) -> None:
    """The same people and minutes with twice the pieces are a sound plan of the doubled season."""
    assert doubling_keeps_the_batches(seed) is None


def test_a_law_that_is_none_is_found_out() -> None:
    """Both ways of holding seasons against a law notice one that is false: that fewer orders change nothing."""
    false = Law(lambda s, seed: replace(s, orders=s.orders[:1]), same=True)
    assert any(on_bounds(false, seed) not in (None, UNDECIDED) for seed in range(5))
    assert any(on_plans(false, seed) not in (None, UNDECIDED) for seed in range(2))


@settings(max_examples=3, deadline=None, derandomize=True, suppress_health_check=QUIET)
@given(st.integers(0, 2000))
def test_any_season_gives_a_sound_plan(seed: int) -> None:
    """Whatever comes in: a plan without a broken rule, not below its proven bound."""
    assert sound_plan(seed) is None


@settings(max_examples=20, deadline=None, derandomize=True, suppress_health_check=QUIET)
@given(st.integers(0, 2000))
def test_three_engines_agree(seed: int) -> None:
    """CP-SAT with the sell-by inequalities, HiGHS with flows, and trying everything: one optimum."""
    assert agree(seed) is None


@settings(max_examples=200, deadline=None, derandomize=True, suppress_health_check=QUIET)
@given(st.integers(0, 100_000))
def test_sell_by_inequalities_are_exact(seed: int) -> None:
    """Glover 1967: for windows that are intervals Hall's condition is enough (against networkx)."""
    assert hall(seed) is None
