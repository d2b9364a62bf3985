"""What a season asks of one day, before it is known whether it fits to the minute."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from scheduler.plan.types import Batch, DayPlan, PackRun, Task


@dataclass(frozen=True, slots=True)
class Hand:
    """A person who may be called in on the day, with the limits of that day.

    ``from_minute`` and ``to_minute`` bound the shift; ``longest`` caps its length;
    ``pulls`` is what the person may still pull on this day (day limit and what is left of
    the week). ``must`` means that the season or a pin calls the person in.
    """

    person: str
    from_minute: int
    to_minute: int
    longest: int
    pulls: int
    must: bool = False


@dataclass(frozen=True, slots=True)
class Frozen:
    """What has already happened, or is in progress, on a day that is planned from ``now`` on.

    Runs of a batch that start before ``now`` keep their times and places; people who left
    are replaced from ``now`` on. Runs that start later may move as far as the waits allow.
    """

    now: int
    batches: tuple[Batch, ...] = ()
    tasks: tuple[Task, ...] = ()
    arrived: tuple[tuple[str, int], ...] = ()  # (person, minute) shifts already begun
    breaks: tuple[tuple[str, int, int], ...] = ()  # (person, starts, ends) already begun
    gone: tuple[tuple[str, int], ...] = ()  # (person, minute) who leave or left
    packing: tuple[PackRun, ...] = ()  # done by now, the last ones as far as they got


@dataclass(frozen=True, slots=True)
class DayRequest:
    """One day's work: a multiset of designs (sorted), packs to pack, and who may come."""

    day: date
    designs: tuple[str, ...]
    packing: tuple[tuple[str, int], ...] = ()  # (product, packs), sorted
    hands: tuple[Hand, ...] = ()
    held: frozenset[str] = frozenset()  # shows that are to be held, by name; the day's others may be missed
    frozen: Frozen | None = None
    keep: DayPlan | None = None  # a rebalance: move as little of this as possible
