"""Random overloaded seasons: sums may never claim too much. All 50 with remedies: ``tests.trust.answers``."""

from __future__ import annotations

import pytest
from scheduler.answers import remedies
from scheduler.answers.explain import with_certificates
from scheduler.answers.remedies import Before, find_remedies
from scheduler.answers.remedy import Remedy
from scheduler.audit import audit
from scheduler.models.search.loop import plan_season
from scheduler.plan.types import Plan
from scheduler.season.types import Season
from tests.seasons import tiny
from tests.trust.answers import CARE, by_hand, called_proven_falsely, overloaded, poorer


@pytest.mark.parametrize("number", [0, 1, 3, 6, 7])
def test_certificates_hold_and_never_prove_more_than_is_short(number: int) -> None:
    """A real plan exists that misses so many pieces; a sum that claims more would be false."""
    season = overloaded(number)
    plan = with_certificates(season, plan_season(season, CARE))
    assert audit(season, plan) == ()
    stored = plan.extras["certificates"]
    assert isinstance(stored, list)
    assert stored
    for certificate in stored:
        assert 0 < certificate["pieces_short"] <= certificate["short_in_plan"]


def test_a_remedy_that_is_called_proven_and_is_not_would_be_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sabotage: what a poor plan is short of is taken for what must be short; trying all plans finds it out."""
    season = by_hand(1)
    plan = with_certificates(season, poorer(season, plan_season(season, CARE)))

    def found() -> tuple[Remedy, ...]:
        return find_remedies(season, plan, None, CARE, 1, 6, 0).remedies

    honest = found()
    assert {r.proven for r in honest} == {True, False}
    assert called_proven_falsely(season, honest) == []

    def bold(plan: Plan, *_: object) -> Before:
        rows = {s.line: s for s in plan.shortfalls}
        short = sum(s.weighted for s in rows.values())
        return Before(rows, short, short)

    monkeypatch.setattr(remedies, "before", bold)
    assert called_proven_falsely(season, found())


def test_a_season_with_room_needs_no_reasons() -> None:
    """Nothing short: no certificates, and the plan is sound."""
    season, plan = easy()
    assert plan.shortfalls == ()
    assert plan.extras["certificates"] == []


def easy() -> tuple[Season, Plan]:
    for seed in range(20):
        season = tiny(seed, days=6, people=3, designs=2, orders=2)
        plan = with_certificates(season, plan_season(season, CARE))
        if not plan.shortfalls:
            return season, plan
    raise AssertionError("no easy season among twenty")
