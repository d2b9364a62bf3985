"""Published values: what the project makes of them is what their sources say."""

from __future__ import annotations

from tests.published.checks import CHECKS
from tests.trust.table import Row, Table

SLOW = ("la01", "another library")


def table(quick: bool) -> Table:
    """One row a check, with its source; got only where it differs."""
    rows = []
    for check in CHECKS:
        if quick and any(word in check.what for word in SLOW):
            continue
        row = Row(check.what, note=check.source)
        got = check.got()
        row.count(None if got == check.expected else f"expected {check.expected}, got {got}")
        rows.append(row)
    return Table("Outside checks", rows, ("tried", "equal"))
