"""The season model: how many batches of each design on each day, who comes in, what is packed.

Written down in CP-SAT's model language, by days; HiGHS plans a season with it (``linear``), CP-SAT searches it when
a plan is mended (``bend``). Rule groups live in ``making``, ``demand`` and ``people``; each adds one group of the
kitchen's rules to a ``Board`` and can be used alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ortools.sat.python import cp_model
from scheduler.models.facts import Facts
from scheduler.plan.types import DayPlan

Expression = cp_model.LinearExpr | int


@dataclass
class Board:
    """A season model under construction: facts, the model, and its variables by their names.

    ``settled`` days stay as they were fitted: their counts are fixed and no day rule is asked again.
    """

    facts: Facts
    settled: Mapping[int, DayPlan] = field(default_factory=dict)
    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    make: dict[tuple[str, int], cp_model.IntVar] = field(default_factory=dict)  # batches of a design on a day
    making: dict[int, cp_model.IntVar] = field(default_factory=dict)  # any batch on a day
    held: dict[tuple[int, str], cp_model.IntVar] = field(default_factory=dict)  # show on a day
    made: dict[str, list[tuple[int, Expression]]] = field(default_factory=dict)  # running totals by design
    packed: dict[str, list[tuple[int, cp_model.IntVar]]] = field(default_factory=dict)  # running pieces by design
    fill: dict[str, cp_model.IntVar] = field(default_factory=dict)  # packs of a line in time
    late: dict[str, cp_model.IntVar] = field(default_factory=dict)  # packs of a line late
    whole: dict[str, cp_model.IntVar] = field(default_factory=dict)  # a whole order is filled
    pack: dict[tuple[str, int], cp_model.IntVar] = field(default_factory=dict)  # packs of a product on a day
    comes: dict[tuple[str, int], cp_model.IntVar] = field(default_factory=dict)  # person is in
    shift: dict[tuple[str, int], cp_model.IntVar] = field(default_factory=dict)  # minutes, 0 where not in
    rests: dict[tuple[str, int], cp_model.IntVar] = field(default_factory=dict)  # the shift has a break
    pulling: dict[tuple[str, str, int], cp_model.IntVar] = field(default_factory=dict)  # runs: role key, person, day
    uses: dict[int, list[tuple[DayPlan, cp_model.IntVar]]] = field(default_factory=dict)  # days known to fit
    guess: dict[tuple[str, int], cp_model.IntVar] = field(default_factory=dict)  # batches that none of them holds
    flags: dict[tuple[object, ...], cp_model.IntVar] = field(default_factory=dict)  # conditions of cuts
    pulls: dict[tuple[str, int], Expression] = field(default_factory=dict)  # pulls charged

    @property
    def free(self) -> list[int]:
        """Days that are not settled."""
        return [t for t in self.facts.days if t not in self.settled]

    def batches(self, t: int, designs: Iterable[str] | None = None) -> Expression:
        """Batches on a day, of some designs or all."""
        names = [d.name for d in self.facts.season.designs] if designs is None else designs
        return sum(self.make[d, t] for d in names if (d, t) in self.make)

    def guessed(self, t: int, designs: Iterable[str] | None = None) -> Expression:
        """Batches on a day that no known day accounts for, of some designs or all."""
        if t not in self.uses:
            return self.batches(t, designs)
        names = [d.name for d in self.facts.season.designs] if designs is None else designs
        return sum(self.guess[d, t] for d in names if (d, t) in self.guess)

    def variables(self) -> list[cp_model.IntVar]:
        """All variables of the model, in order."""
        count = len(self.model.proto.variables)
        return [self.model.get_int_var_from_proto_index(i) for i in range(count)]


@dataclass(frozen=True)
class Wish:
    """What a season asks of its days: by day index, sorted where it is a list.

    ``batches``: designs, one for each batch; ``packing``: (product, packs); ``shift``: (person, minutes) of those
    called in; ``held``: names of shows. ``fills`` and ``late``: packs of each line, in time and late. ``known``: days
    that do what is asked but for packs, where they are known.
    """

    batches: Mapping[int, tuple[str, ...]]
    packing: Mapping[int, tuple[tuple[str, int], ...]]
    shift: Mapping[int, tuple[tuple[str, int], ...]]
    held: Mapping[int, frozenset[str]]
    fills: Mapping[str, int]
    late: Mapping[str, int]
    known: Mapping[int, DayPlan] = field(default_factory=dict)
