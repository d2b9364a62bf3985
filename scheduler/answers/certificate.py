"""What a certificate of a shortfall says: a window, a limit, a sum. Plain data, in and out of JSON.

A certificate holds for every plan of the season, not only for the one at hand: the orders
inside it need more of the limit than there is on its days. ``audit/certificates.py`` checks it
from season and plan alone.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

KINDS = (  # the plainest first: of two that prove the same, that one is told
    "no day in the window",
    "supplies",
    "pours a day",
    "leaders",
    "pulls",
    "people at once",
    "shows",
    "station minutes",
    "people able",
    "packing minutes",
    "people's hours",
)


@dataclass(frozen=True, slots=True)
class Inside:
    """An order or forecast whose candy can be made on no day outside the window.

    ``packs`` are still wanted after ``shelf`` packs from finished stock; ``short`` are missing in the plan.
    """

    line: str
    asked: int
    shelf: int
    packs: int
    short: int


@dataclass(frozen=True, slots=True)
class Use:
    """What one design (or one product, where packing is the limit) takes of the limit.

    ``wanted`` pieces less ``on_hand`` are ``to_make``; in lots of ``size`` that is ``count``
    batches (or packs), which take ``each`` of the limit, ``needs`` in all.
    """

    name: str
    wanted: int
    on_hand: int
    to_make: int
    size: int
    count: int
    each: int
    needs: int


@dataclass(frozen=True, slots=True)
class Part:
    """What there is of the limit in one week: from one person, one station or the whole kitchen.

    ``by_day`` adds up the ``days`` days of the week that lie in the window; where a weekly
    limit is lower, ``amount`` is that limit.
    """

    who: str
    first: date
    last: date
    days: int
    by_day: int
    week_limit: int | None
    amount: int


@dataclass(frozen=True, slots=True)
class Certificate:
    """Why at least ``pieces_short`` pieces of the orders inside are missing in every plan.

    ``needed`` and ``there`` are in ``unit``; ``missing`` is the difference. ``what`` names the
    station or the skill, ``people`` those who can. ``short_in_plan`` are the pieces of the
    listed designs that the orders inside don't get in the plan.
    """

    kind: str
    what: str
    people: tuple[str, ...]
    unit: str
    first: date
    last: date
    inside: tuple[Inside, ...]
    uses: tuple[Use, ...]
    parts: tuple[Part, ...]
    needed: int
    there: int
    missing: int
    pieces_short: int
    short_in_plan: int

    @property
    def share(self) -> float:
        """Share of the plan's shortage among the orders inside that this sum proves."""
        return min(1.0, self.pieces_short / self.short_in_plan) if self.short_in_plan else 0.0


def to_json(certificate: Certificate) -> dict[str, Any]:
    """A certificate as plain JSON: dates as text."""
    return _dates_as_text(asdict(certificate))  # type: ignore[no-any-return]


def from_json(data: dict[str, Any]) -> Certificate:
    """Read a certificate back. KeyError or ValueError where it is damaged."""
    fields = dict(data)
    for name in ("first", "last"):
        fields[name] = date.fromisoformat(fields[name])
    fields["people"] = tuple(fields["people"])
    fields["inside"] = tuple(Inside(**i) for i in fields["inside"])
    fields["uses"] = tuple(Use(**u) for u in fields["uses"])
    fields["parts"] = tuple(
        Part(**p | {k: date.fromisoformat(p[k]) for k in ("first", "last")}) for p in fields["parts"]
    )
    return Certificate(**fields)


def _dates_as_text(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _dates_as_text(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_dates_as_text(v) for v in value]
    return value.isoformat() if isinstance(value, date) else value
