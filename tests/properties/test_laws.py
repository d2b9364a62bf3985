"""Properties over random seasons: each law of ``tests.trust.laws`` on seasons that hypothesis draws."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.trust.engines import agree, hall
from tests.trust.laws import LAWS, sound_plan

QUIET = [HealthCheck.too_slow, HealthCheck.data_too_large]
BOUND_LAWS = {name: law for name, law in LAWS.items() if law is not sound_plan}


@pytest.mark.parametrize("name", BOUND_LAWS)
@settings(max_examples=10, deadline=None, derandomize=True, suppress_health_check=QUIET)
@given(seed=st.integers(0, 2000))
def test_laws_of_the_proven_shortfall(name: str, seed: int) -> None:
    """More means never worsen it; what makes no difference to the kitchen makes none to the figure."""
    assert BOUND_LAWS[name](seed) is None


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
