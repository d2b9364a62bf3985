"""The audit finds nothing in a good plan and names the rule in every spoiled one."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
from scheduler.audit import RULES, audit, audit_day
from tests.audit.sabotage import SABOTAGES, Sabotage
from tests.handmade import handmade_plan, handmade_season


def test_the_plan_made_by_hand_is_sound() -> None:
    """A plan that keeps every rule has no violation, and neither has any of its days."""
    season, plan = handmade_season(), handmade_plan()
    assert audit(season, plan) == ()
    assert [audit_day(season, day) for day in plan.days] == [()] * 4


@pytest.mark.parametrize("spoiled", SABOTAGES, ids=lambda s: f"{s.rule}: {s.name}")
def test_every_sabotage_is_named(spoiled: Sabotage) -> None:
    """A plan that breaks one rule is refused under that rule's name."""
    assert spoiled.rule in {v.rule for v in audit(spoiled.season(), spoiled.plan())}


def test_every_rule_is_broken_in_five_ways_or_more() -> None:
    """Each rule of the kitchen has at least five sabotages."""
    ways = Counter(s.rule for s in SABOTAGES)
    assert {rule: ways[rule] for rule in RULES if ways[rule] < 5} == {}


def test_the_audit_has_the_rules_of_the_table() -> None:
    """The names in DEVELOPERS.md and those of the audit are the same."""
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.split("## The rules of the kitchen")[1].split("\n## ")[0]
    rows = [line.split("|")[1] for line in table.splitlines() if line.startswith("| `")]
    named = [name for cell in rows for name in re.findall(r"`([^`]+)`", cell)]
    assert sorted(named) == sorted([*RULES, "facts kept"])  # that one needs the plan before


def test_a_violation_says_rule_place_and_numbers() -> None:
    """A message can be acted on: it has the rule, the day, and both numbers."""
    spoiled = next(s for s in SABOTAGES if s.name == "Cleo's shift is a minute short")
    (found,) = (v for v in audit(spoiled.season(), spoiled.plan()) if v.rule == "call-in")
    assert str(found) == "call-in, 2026-03-04 Cleo: The shift is 179 minutes; it must be 180 to 480."


def test_different_violations_say_different_things() -> None:
    """No violation is reported twice in the same words."""
    for spoiled in SABOTAGES:
        found = audit(spoiled.season(), spoiled.plan())
        assert len(set(found)) == len(found), spoiled.name
