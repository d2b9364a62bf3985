"""What was decided: batches, people, packing, lots and who gets what. Knows no solver.

Clock times are minutes after midnight, intervals half-open, money in cents, days dates.
A plan holds everything that is needed to read it back; see ``plan/files.py`` for its JSON.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

FORMAT_VERSION = 1

TaskKind = Literal["opening", "closing", "clean", "show"]


@dataclass(frozen=True, slots=True)
class StageRun:
    """One stage of one batch: where (place numbers from 1), when, and who in which role."""

    stage: str
    station: str
    place: int
    starts: int
    ends: int
    crew: tuple[tuple[str, str], ...]  # (role, person), one pair for each person


@dataclass(frozen=True, slots=True)
class Batch:
    """One boil. Its id is unique in the season: day, then order of the pour (``0412-2``)."""

    id: str
    design: str
    runs: tuple[StageRun, ...]  # in stage order
    show: str = ""  # name of the show at which it is poured

    @property
    def pour(self) -> int:
        return self.runs[0].starts

    @property
    def ends(self) -> int:
        return self.runs[-1].ends


@dataclass(frozen=True, slots=True)
class Task:
    """A duty beside the batches: opening, closing, a clean-down, extra hands at a show."""

    kind: TaskKind
    starts: int
    ends: int
    people: tuple[str, ...]
    station: str = ""  # with "clean"
    place: int = 0  # with "clean"
    note: str = ""  # what the clean is between, or the show's name


@dataclass(frozen=True, slots=True)
class PackRun:
    """One person packing packs of one product without a pause."""

    product: str
    packs: int
    person: str
    place: int
    starts: int
    ends: int


@dataclass(frozen=True, slots=True)
class Shift:
    """A person's day: arriving, leaving, and the meal break if there is one."""

    person: str
    starts: int
    ends: int
    break_starts: int | None = None
    break_ends: int | None = None


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A day to the minute. ``proven`` says that no cheaper day of the same work exists."""

    day: date
    batches: tuple[Batch, ...] = ()  # in order of their pour
    tasks: tuple[Task, ...] = ()
    packing: tuple[PackRun, ...] = ()
    shifts: tuple[Shift, ...] = ()
    missed_shows: tuple[str, ...] = ()  # shows that could not be held, by name
    proven: bool = False

    @property
    def designs(self) -> tuple[str, ...]:
        """Designs of the day's batches, one for each, sorted."""
        return tuple(sorted(b.design for b in self.batches))

    @property
    def packs(self) -> Counter[str]:
        """Packs that are packed on the day, by product."""
        out = Counter[str]()
        for run in self.packing:
            out[run.product] += run.packs
        return out


@dataclass(frozen=True, slots=True)
class Lot:
    """Candy of one design: a planned batch, a made one, or opening stock."""

    id: str
    design: str
    made: date
    pieces: int
    sell_by: date


@dataclass(frozen=True, slots=True)
class Draw:
    """Pieces that a delivery takes from a lot."""

    lot: str
    design: str
    pieces: int


@dataclass(frozen=True, slots=True)
class Fill:
    """Packs of one order or forecast that are packed on one day, and from which lots.

    A line may have several fills. ``pack_lot`` names a lot of finished packs in opening
    stock; then there are no draws and ``packed`` is None. ``late``: packed after the due day.
    """

    line: str
    product: str
    packs: int
    packed: date | None
    late: bool
    draws: tuple[Draw, ...] = ()
    pack_lot: str = ""
    sell_by: date | None = None  # the earliest sell-by of what is inside


def in_time_and_late(fills: Iterable[Fill]) -> tuple[Counter[str], Counter[str]]:
    """Packs of each line that are packed in time, and late; finished packs from stock left out."""
    in_time, late = Counter[str](), Counter[str]()
    for fill in fills:
        if fill.packed is not None:
            (late if fill.late else in_time)[fill.line] += fill.packs
    return in_time, late


def pieces_drawn(fills: Iterable[Fill]) -> Counter[str]:
    """Pieces that some fills draw from each lot."""
    out = Counter[str]()
    for fill in fills:
        for draw in fill.draws:
            out[draw.lot] += draw.pieces
    return out


def packs_by_line(fills: Iterable[Fill]) -> Counter[str]:
    """Packs that each line gets of some fills."""
    out = Counter[str]()
    for fill in fills:
        out[fill.line] += fill.packs
    return out


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What an order or forecast does not get, with the weight it has in the objective."""

    line: str
    packs: int
    pieces: int
    weighted: int


@dataclass(frozen=True, slots=True)
class StageResult:
    """One stage of the objective: what was reached, the proven bound, and whether it is optimal."""

    name: str
    unit: str
    value: int
    bound: int | None
    proven: bool


@dataclass(frozen=True, slots=True)
class Ancestry:
    """Where a plan came from: the fingerprint of the plan before it, when, and why."""

    parent: str
    now_day: date
    now_minute: int
    reason: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole season's plan.

    ``season`` is the fingerprint of the season it was made for. ``extras`` holds what
    questions asked later add (certificates, remedies), each under its own key, as plain JSON.
    """

    kitchen: str
    season: str
    first_day: date
    last_day: date
    days: tuple[DayPlan, ...]  # only days on which something happens, in order
    lots: tuple[Lot, ...]
    fills: tuple[Fill, ...]
    shortfalls: tuple[Shortfall, ...]
    stages: tuple[StageResult, ...]
    rule_of_thumb_weighted: int | None  # None: a plan that goes on from another is not held against it
    from_day: date  # first day that was free to plan
    from_minute: int = 0
    history: tuple[Ancestry, ...] = ()
    extras: dict[str, object] = field(default_factory=dict)
    version: int = FORMAT_VERSION

    def stage(self, name: str) -> StageResult | None:
        """What was reached in a stage; None where the plan tells nothing of it."""
        return next((stage for stage in self.stages if stage.name == name), None)

    @property
    def short_packs(self) -> dict[str, int]:
        """Packs that each line misses, of lines that miss any."""
        return {s.line: s.packs for s in self.shortfalls if s.packs > 0}
