"""A remedy as it is told and kept: plain data, in and out of a plan's extras. Knows no solver."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Any

from scheduler.plan.types import Plan


@dataclass(frozen=True, slots=True)
class Remedy:
    """One or two changes and what came of them, for the orders that both seasons have.

    ``mended`` packs (``mended_firm`` of firm orders) are no longer missing; weights are those of the
    shortfall stage. ``least_before`` is proven for the season as it is; ``short_after`` was
    reached with the change, ``least_after`` is its bound. ``extra_cents`` is the difference of
    labour and lateness and what is paid once; ``priced`` says whether all of it is known. ``anyway``: packs that
    planning on mended with nothing changed, too; None: not known. No ``keys``: that itself.
    """

    changes: tuple[str, ...]
    kinds: tuple[str, ...]
    notes: tuple[str, ...]
    keys: tuple[str, ...]
    mended: int
    mended_firm: int
    mended_pieces: int
    short_before: int
    least_before: int
    short_after: int
    least_after: int
    proven: bool
    extra_cents: int
    priced: bool
    anyway: int | None = None

    @property
    def gained(self) -> int:
        """Weight by which less is short."""
        return self.short_before - self.short_after


def ranked(remedies: list[Remedy]) -> tuple[Remedy, ...]:
    """Most packs mended for the money first. What costs nothing more comes before it, what has no price after it.

    What mends no pack in number (weightier orders before others) comes last. On a tie: more packs, less
    money, more weight.
    """

    def key(r: Remedy) -> tuple[int, float, int, int, int, tuple[str, ...]]:
        group = 0 if r.extra_cents <= 0 else 1
        group = 3 if r.mended <= 0 else group if r.priced else 2
        worth = r.mended / r.extra_cents if group == 1 else 0.0
        return (group, -worth, -r.mended, r.extra_cents, r.short_after - r.short_before, r.keys)

    return tuple(sorted(remedies, key=key))


def worth_telling(remedies: list[Remedy]) -> list[Remedy]:
    """Without those that mend nothing, and without pairs of which one change alone mends as much."""
    good = [r for r in remedies if r.short_after < r.short_before]
    return [
        r for r in good
        if not any(set(one.keys) < set(r.keys) and one.gained >= r.gained for one in good)
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mending:
    """The remedies that mend something, of ``tried`` changes planned through; ``of`` were worth trying."""

    remedies: tuple[Remedy, ...]
    tried: int
    of: int


def with_remedies(plan: Plan, found: Mending) -> Plan:
    """The same plan that carries remedies, and how many changes were tried, as plain JSON."""
    rows = [_plain(asdict(r)) for r in found.remedies]
    return replace(plan, extras={**plan.extras, "remedies": rows, "remedies_tried": [found.tried, found.of]})


def remedies_of(plan: Plan) -> list[Remedy]:
    """The remedies that a plan carries."""
    stored = plan.extras.get("remedies", [])
    lists = ("changes", "kinds", "notes", "keys")
    return [Remedy(**r | {k: tuple(r[k]) for k in lists}) for r in stored] if isinstance(stored, list) else []


def _plain(fields: dict[str, Any]) -> dict[str, Any]:
    return {k: list(v) if isinstance(v, tuple) else v for k, v in fields.items()}
