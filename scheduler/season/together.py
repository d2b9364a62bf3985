"""Faults that show only when rows are read together."""
from __future__ import annotations

from scheduler.season.faults import Fault
from scheduler.season.tables import Found


def faults_together(found: dict[str, Found]) -> list[Fault]:
    return []
