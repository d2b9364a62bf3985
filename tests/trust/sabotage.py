"""Good plans spoiled in one way each: the audit names the rule that was broken."""

from __future__ import annotations

from scheduler.audit import RULES
from tests.audit.sabotage import caught
from tests.audit.test_facts_kept import SABOTAGES, named
from tests.trust.table import Row, Table


def table(quick: bool) -> Table:
    """One row a rule. Fewer than five kinds of sabotage for a rule is a failure."""
    rows = {rule: Row(rule) for rule in (*RULES, "facts kept")}
    for spoiled, found in caught():
        rows[spoiled.rule].count(None if found else f"{spoiled.name} went unnoticed")
    for bad, message in SABOTAGES:
        rows["facts kept"].count(None if named(bad, message) else f"{message} went unnoticed")
    for row in rows.values():
        if row.tried < 5:
            row.failures.append(f"only {row.tried} kinds of sabotage")
    return Table("The audit: sabotages of a good plan, by rule", list(rows.values()), ("tried", "caught"))
