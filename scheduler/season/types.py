"""What the kitchen told us, a frozen record a row: clock times in minutes, money in cents, intervals half-open."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Literal

from scheduler.season.materials import Material, Use
from scheduler.season.prices import Price

ForecastLevel = Literal["low", "likely", "high"]
DayMark = Literal["closed", "open", "holiday"]
OrderKind = Literal["firm", "standing"]
WorkingTime = Literal["none", "european", "american", "american with meal breaks"]
ChangeKind = Literal["light to dark", "dark to light", "mild to strong", "strong to mild", "sour to plain",
                     "allergen to free"]  # fmt: skip
PinKind = Literal["make", "do not make", "no making", "works", "off", "not in role"]
Outcome = Literal["made", "failed", "not started"]
AS_PLANNED = "as planned"  # remark of a fact that nobody counted: it went as the plan said


@dataclass(frozen=True, slots=True)
class Kitchen:
    """Settings that hold for the whole kitchen (table ``kitchen``: setting, value)."""

    name: str
    first_day: date
    last_day: date
    currency: str = "EUR"
    last_pour: int = 16 * 60  # clock minute; no batch starts its first stage later
    opening_minutes: int = 20  # duty before the first stage of the day, on days with a batch
    opening_people: int = 1
    closing_minutes: int = 30  # duty after the last stage of the day, on days with a batch
    closing_people: int = 2
    break_after_minutes: int = 300  # nobody stays longer than this at a stretch without a break
    break_minutes: int = 30
    around_break_minutes: int = 0  # a break begins no sooner after coming, and ends no later before leaving
    break_paid: bool = False
    rest_minutes: int = 660  # between the end of a shift and the start of the next
    days_in_a_row: int = 6
    longest_day_minutes: int = 600  # longest shift, from arriving to leaving
    pull_rest_minutes: int = 15  # between two pulls of the same person
    clock_step: int = 1  # batches start, people come and go, at whole steps of so many minutes; divides 60
    packing_station: str = "packing bench"
    packing_skill: str = ""  # blank: anyone packs
    packing_from_days: int = 1  # candy may be packed this many days after it was made, at least 1
    spare_days: int = 0  # open days between packing and due day that contract hours are worth
    least_life_days: int = 0  # remaining life at the due day where an order does not say
    plan_for: ForecastLevel = "likely"
    working_time: WorkingTime = "none"  # rule set that settings and plans are held against; see working_time.py


@dataclass(frozen=True, slots=True)
class Hours:
    """Opening hours of one weekday (0 = Monday). A weekday without a row is closed."""

    weekday: int
    opens: int
    closes: int


@dataclass(frozen=True, slots=True)
class SpecialDay:
    """A day that differs: closed, open (with its own hours), or a holiday to mark."""

    day: date
    mark: DayMark
    name: str = ""
    opens: int | None = None  # only with "open"
    closes: int | None = None


@dataclass(frozen=True, slots=True)
class Station:
    """A station and how many batches (or packers, at the packing station) it serves at once."""

    name: str
    places: int


@dataclass(frozen=True, slots=True)
class Show:
    """A batch whose ``stage`` starts before visitors. All designs that fit reach it after the same time."""

    name: str
    starts: int
    stage: str = ""  # blank: the first
    weekday: int | None = None
    day: date | None = None
    hardest: int = 2  # highest design difficulty allowed
    strongest: int = 2  # highest flavour strength allowed
    extra_people: int = 1
    extra_minutes: int = 60  # the extra hands stay this long from then on
    extra_skill: str = ""  # blank: anyone


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of every batch, in the order of the table; how long it takes: ``rules.stage_times``."""

    name: str
    station: str
    minutes: int
    minutes_per_level: int = 0
    minutes_per_load: int = 0
    wait_from: int = 0  # earliest start after the end of the stage before
    wait_to: int = 0  # latest start after the end of the stage before


@dataclass(frozen=True, slots=True)
class Role:
    """Who a stage needs. ``level`` None means the design's own difficulty."""

    stage: str
    name: str
    people: int = 1
    skill: str = ""  # blank: anyone
    level: int | None = 1
    leads: bool = False  # one and the same person fills the leading roles of a batch
    pulls: bool = False  # whoever fills it is charged the design's pulls
    hot: bool = False  # not for young workers


@dataclass(frozen=True, slots=True)
class StageException:
    """A design's own figures for one stage; None keeps the stage's."""

    design: str
    stage: str
    minutes: int | None = None
    wait_from: int | None = None
    wait_to: int | None = None


@dataclass(frozen=True, slots=True)
class Design:
    """A picture and its candy."""

    name: str
    difficulty: int  # 1 (plain) to 5
    pieces: int  # saleable pieces a batch
    sell_by_days: int  # from the boil
    pull_loads: int = 1
    pulls_per_load: int = 75
    flavour: str = ""
    strength: int = 1  # 1 mild to 3 strong
    colour: int = 1  # 1 light to 3 dark
    sour: bool = False
    allergens: tuple[str, ...] = ()
    from_day: date | None = None  # not before this day (a flavour, a colour, a label arrives)
    spare_batches: int = 0  # that nobody asked for, in case one fails; a wish: orders and forecasts come first


@dataclass(frozen=True, slots=True)
class Changeover:
    """Cleaning of a station between two batches that differ in this way."""

    kind: ChangeKind
    station: str
    minutes: int
    people: int = 1
    skill: str = ""


@dataclass(frozen=True, slots=True)
class Person:
    """One of the crew. Money is in cents; overtime is what exceeds the contracted week."""

    name: str
    contracted_minutes: int  # a week
    longest_minutes: int  # a week
    shortest_shift: int = 180  # shortest call-in, minutes
    longest_shift: int | None = None  # None: the kitchen's longest day
    pulls_day: int = 0
    pulls_week: int = 0
    wage_cents: int = 0  # an hour
    overtime: bool = False
    overtime_percent: int = 150  # of the wage
    young: bool = False


@dataclass(frozen=True, slots=True)
class Skill:
    """A person's level in a skill."""

    person: str
    skill: str
    level: int


@dataclass(frozen=True, slots=True)
class Availability:
    """When a person can work on a weekday; without any row at all: whenever the kitchen is open."""

    person: str
    weekday: int
    starts: int
    ends: int


@dataclass(frozen=True, slots=True)
class Absence:
    """A person is away from a moment to a moment; whole days run from 0 to 1440."""

    person: str
    first_day: date
    last_day: date
    starts: int = 0  # on the first day
    ends: int = 1440  # on the last day
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Product:
    """What is sold: a pack of pieces."""

    name: str
    price_cents: int = 0
    packing_seconds: int = 60  # a pack, one person


@dataclass(frozen=True, slots=True)
class Content:
    """Pieces of one design in a pack of a product; several rows make an assortment."""

    product: str
    design: str
    pieces: int


@dataclass(frozen=True, slots=True)
class Order:
    """Packs promised or asked for by a due day."""

    id: str
    product: str
    packs: int
    due: date  # packed and ready on this day
    customer: str = ""
    kind: OrderKind = "firm"
    priority: int = 2  # 1 first, 2, 3 last
    partial: bool = True
    least_life_days: int | None = None  # None: the kitchen's
    latest: date | None = None  # latest acceptable day, None: the due day
    late_cents: int = 0  # a pack delivered after the due day
    confirmed: bool = False  # promised to the customer; protected when the plan changes
    cancelled: bool = False


@dataclass(frozen=True, slots=True)
class Forecast:
    """Packs that must be on the shelf by a day, as low, likely and high guess."""

    id: str
    product: str
    shelf_day: date
    low: int
    likely: int
    high: int
    priority: int = 2


@dataclass(frozen=True, slots=True)
class StockLot:
    """Opening stock: pieces of a design, or finished packs of a product. One of the two."""

    lot: str
    quantity: int
    made: date
    design: str = ""
    product: str = ""


@dataclass(frozen=True, slots=True)
class Pin:
    """A planner's own decision that the plan must keep."""

    kind: PinKind
    day: date | None = None  # None only with "not in role": every day
    design: str = ""
    batches: int = 1  # with "make": at least this many
    person: str = ""
    role: str = ""


@dataclass(frozen=True, slots=True)
class MadeBatch:
    """A fact: what became of a batch. ``pieces`` are the saleable ones that were counted."""

    day: date
    batch: str
    design: str
    outcome: Outcome
    pieces: int = 0
    seconds: int = 0  # pieces sold as seconds, never as stock
    remark: str = ""


@dataclass(frozen=True, slots=True)
class PackedPacks:
    """A fact: packs packed on a day, from the oldest usable candy. ``AS_PLANNED``: not counted; a count replaces it."""

    day: date
    product: str
    packs: int
    remark: str = ""


@dataclass(frozen=True, slots=True)
class ShippedPacks:
    """A fact: packs of an order (or of a forecast, put on the shelf) that left the kitchen."""

    day: date
    order: str
    packs: int
    remark: str = ""


@dataclass(frozen=True)
class Season:
    """A whole season, every reference checked. Look-ups are by name."""

    kitchen: Kitchen
    hours: tuple[Hours, ...]
    stations: tuple[Station, ...]
    stages: tuple[Stage, ...]
    roles: tuple[Role, ...]
    designs: tuple[Design, ...]
    crew: tuple[Person, ...]
    special_days: tuple[SpecialDay, ...] = ()
    shows: tuple[Show, ...] = ()
    exceptions: tuple[StageException, ...] = ()
    changeovers: tuple[Changeover, ...] = ()
    skills: tuple[Skill, ...] = ()
    availability: tuple[Availability, ...] = ()
    absences: tuple[Absence, ...] = ()
    products: tuple[Product, ...] = ()
    contents: tuple[Content, ...] = ()
    orders: tuple[Order, ...] = ()
    forecasts: tuple[Forecast, ...] = ()
    stock: tuple[StockLot, ...] = ()
    pins: tuple[Pin, ...] = ()
    prices: tuple[Price, ...] = ()
    materials: tuple[Material, ...] = ()
    uses: tuple[Use, ...] = ()
    made: tuple[MadeBatch, ...] = ()
    packed: tuple[PackedPacks, ...] = ()
    shipped: tuple[ShippedPacks, ...] = ()

    @cached_property
    def day_count(self) -> int:
        """Calendar days from the first to the last day, both included."""
        return (self.kitchen.last_day - self.kitchen.first_day).days + 1

    @cached_property
    def days(self) -> tuple[date, ...]:
        """Every calendar day of the season, open or not; ``days[i]`` has index i."""
        return tuple(self.kitchen.first_day + timedelta(days=i) for i in range(self.day_count))

    def index(self, day: date) -> int:
        """Index of a day; negative before the first day."""
        return (day - self.kitchen.first_day).days

    @cached_property
    def design_by_name(self) -> dict[str, Design]:
        return {d.name: d for d in self.designs}

    @cached_property
    def person_by_name(self) -> dict[str, Person]:
        return {p.name: p for p in self.crew}

    @cached_property
    def product_by_name(self) -> dict[str, Product]:
        return {p.name: p for p in self.products}

    @cached_property
    def order_by_id(self) -> dict[str, Order]:
        return {o.id: o for o in self.orders}

    @cached_property
    def places(self) -> dict[str, int]:
        """Places of each station by name."""
        return {s.name: s.places for s in self.stations}

    @cached_property
    def contents_of(self) -> dict[str, dict[str, int]]:
        """Product name -> design name -> pieces in a pack."""
        out: dict[str, dict[str, int]] = {p.name: {} for p in self.products}
        for c in self.contents:
            out[c.product][c.design] = out[c.product].get(c.design, 0) + c.pieces
        return out

    @cached_property
    def level_of(self) -> dict[tuple[str, str], int]:
        """(person, skill) -> level; a missing pair means that the person has not the skill."""
        return {(s.person, s.skill): s.level for s in self.skills}
