"""Whom to think of first among those who are short."""

from __future__ import annotations

from scheduler.demand.lines import KIND_WEIGHT
from scheduler.paper.figures import Figures
from scheduler.plan.types import Shortfall


def in_order(figures: Figures) -> list[Shortfall]:
    """Firm before standing before forecast, confirmed first, then by priority and due day."""

    def key(short: Shortfall) -> tuple[int, bool, int, int, str]:
        line = figures.lines.get(short.line)
        if line is None:
            return (0, True, 0, 0, short.line)
        return (-KIND_WEIGHT[line.kind], not line.confirmed, figures.priority(line.id), line.due, line.id)

    return sorted(figures.plan.shortfalls, key=key)
