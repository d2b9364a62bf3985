"""A rule that a plan breaks: which, where, and the numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Violation:
    """One broken rule. ``rule`` is its name in DEVELOPERS.md; ``where`` a day, person, batch or order."""

    rule: str
    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.rule}, {self.where}: {self.what}"


Findings = Iterator[Violation]


def clock(minute: int) -> str:
    """A clock minute as text: 545 is 09:05."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


def span(starts: int, ends: int) -> str:
    """An interval as text: 09:05 to 09:25."""
    return f"{clock(starts)} to {clock(ends)}"
