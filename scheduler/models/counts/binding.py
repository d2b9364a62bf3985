"""Which limits of a season bind together: a smallest set that proves the shortage, by leaving out one after the other.

The bound's relaxation without some of its conditions is looser still, so each bound
here holds for every plan. A set is smallest in that without any one of it less is proven.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.bound import EFFORT, solve, tighten
from scheduler.models.counts.relaxation import SeasonRelaxation
from scheduler.models.facts import Facts

NODES = 300
MINUTES = "what a day holds to the minute"
LIMITS = ("packing time", "pulls", "working hours", MINUTES)  # tried to leave out in turn


@dataclass(frozen=True)
class Together:
    """``limits`` prove that no plan is short by less than ``value`` weighted pieces.

    Due days, sell-by, stock and supplies count in any case.
    """

    value: int
    limits: tuple[str, ...]


def limits_together(facts: Facts, limits: DayLimits, nodes: int = NODES) -> Together:
    """The smallest set found; empty where due days, sell-by and supplies alone prove it, or nothing is proven."""
    value = _without(facts, limits, frozenset(), nodes)
    left_out: set[str] = set()
    for name in LIMITS if value else ():
        if _without(facts, limits, frozenset(left_out | {name}), nodes) >= value:
            left_out.add(name)
    return Together(value, tuple(name for name in LIMITS if name not in left_out) if value else ())


def _without(facts: Facts, limits: DayLimits, names: frozenset[str], nodes: int) -> int:
    relaxation = _Without(facts, limits, names)
    relaxation.build()
    if not names:
        tighten(relaxation, EFFORT)  # what it proves of days is known to the others, too
    return solve(relaxation, nodes).value


class _Without(SeasonRelaxation):
    """The relaxation without some conditions."""

    def __init__(self, facts: Facts, limits: DayLimits, names: frozenset[str]) -> None:
        super().__init__(facts, limits)
        self.names = names

    def build(self) -> None:
        """All conditions but those left out."""
        self._counts()
        if MINUTES not in self.names:
            self._caps()
        self._fills()
        self._windows()
        parts: tuple[tuple[str, Callable[[], None]], ...] = (
            ("packing time", self._packing),
            ("working hours", self._work),
            ("pulls", self._pulls),
        )
        for name, add in parts:
            if name not in self.names:
                add()
            elif name == "packing time":
                self.seconds = {t: self.model.add_variable(lb=0, ub=0) for t in self.facts.days}

    def _counts(self) -> None:
        if MINUTES not in self.names:
            super()._counts()
            return
        enough = sum(line.packs * line.pieces for line in self.facts.demand.lines)
        for design in self.facts.wanted:
            for t in self.facts.makeable[design]:
                most = -(-enough // self.facts.season.design_by_name[design].pieces)
                self.make[design, t] = self.model.add_integer_variable(lb=0, ub=most)
