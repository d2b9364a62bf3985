"""Values from outside: ours are the published ones, and the table of them is in DEVELOPERS.md."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.published.checks import CHECKS, Check, row


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.what)
def test_published_value(check: Check) -> None:
    """What the project makes of it is what its source says."""
    assert check.got() == check.expected


def test_there_are_enough_and_each_has_its_source() -> None:
    """At least 25, no two of one name, none without a source."""
    assert len(CHECKS) >= 25
    assert len({c.what for c in CHECKS}) == len(CHECKS)
    assert all(c.source for c in CHECKS)


def test_the_table_for_contributors_is_this_one() -> None:
    """DEVELOPERS.md has every check as it is here; ``python -m tests.published.checks`` prints the table."""
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    missing = [c.what for c in CHECKS if row(c, c.expected) not in text]
    assert missing == []
