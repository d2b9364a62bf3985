"""Who gets what: pack runs to orders and forecasts, pieces of lots to packs, first expired first out.

``allocate`` reads the finished days. It always answers, and what it gives out keeps the
rules `packed before due`, `candy before packing`, `contents`, `lots`, `remaining life` and
`whole order`. Where the packs meant for a line can't all be given, the lightest lines go short.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from scheduler.demand.lines import Demand, Line, PackSupply
from scheduler.plan.serving import Parcel, Serving, Want
from scheduler.plan.types import DayPlan, Draw, Fill, Lot, PackRun, Shortfall, packs_by_line
from scheduler.season.types import Season

Deal = Callable[[Serving, Sequence[Want]], Sequence[Parcel] | None]


@dataclass(frozen=True)
class Allocation:
    """All lots, all fills and all shortfalls of a plan.

    ``days`` are the days with packs that nobody can get taken out of their pack runs.
    """

    lots: tuple[Lot, ...]
    fills: tuple[Fill, ...]
    shortfalls: tuple[Shortfall, ...]
    days: tuple[DayPlan, ...]

    @property
    def weighted(self) -> int:
        """Weight of all that is short."""
        return sum(s.weighted for s in self.shortfalls)


def followed(given: Allocation, days: Sequence[DayPlan]) -> Allocation:
    """The same giving out after days were poured in another order: lots and draws take the new batch ids.

    ``days`` make the same designs on the same days. Example: 0201-1 was lemon and 0201-2 heart;
    now heart is poured first, so the lemon lot is 0201-2 and its draws follow.
    """
    new: dict[str, str] = {}
    for before, after in zip(given.days, days, strict=True):
        for design in {b.design for b in before.batches}:
            old_ids = [b.id for b in before.batches if b.design == design]
            new_ids = [b.id for b in after.batches if b.design == design]
            new.update(zip(old_ids, new_ids, strict=True))
    lots = sorted((replace(x, id=new.get(x.id, x.id)) for x in given.lots if x.id in new), key=lambda x: x.id)
    lots = [x for x in given.lots if x.id not in new] + lots
    fills = tuple(
        replace(f, draws=tuple(replace(d, lot=new.get(d.lot, d.lot)) for d in f.draws)) for f in given.fills
    )
    return Allocation(tuple(lots), fills, given.shortfalls, tuple(days))


def allocate(
    season: Season,
    demand: Demand,
    days: Sequence[DayPlan],
    wanted: Mapping[str, int] | None = None,
    late: Mapping[str, int] | None = None,
    from_index: int = 0,
    from_minute: int = 0,
    deal: Deal | None = None,
    patient: bool = True,
) -> Allocation:
    """Give the packs of the days' pack runs to the lines, and candy of the lots to the packs.

    ``wanted`` and ``late`` are the packs that each line is meant to get in time and late, beside
    the finished packs given to it by ``build_demand``; None means all it asks for. What is
    left over afterwards goes to whoever is still short, the weightiest first.
    What the season's facts hold already is left out: batches that are recorded, and pack runs
    that ended by ``from_minute`` of day ``from_index`` (those are packed facts).
    ``deal`` gives out in its own way, whatever was meant, unless it gives up (None). ``patient`` as in ``Serving``.
    """
    meant = {line.id: line.packs for line in demand.lines} if wanted is None else wanted
    lots = _lots(season, demand, days)
    open_runs = [
        (day, [run for run in day.packing if not _past(season, day, run, from_index, from_minute)]) for day in days
    ]
    runs = _runs(season, open_runs)
    serving = Serving(
        {lot.id: (lot.design, season.index(lot.made), lot.pieces) for lot in lots},
        runs,
        season.kitchen.packing_from_days,
    )
    wants = [want for line in demand.lines for want in wants_of(line)]
    parcels = None if deal is None else deal(serving, wants)
    if parcels is None:
        serving.serve_meant(wants, {line.id: meant.get(line.id, 0) for line in demand.lines}, late or {}, patient)
    else:
        serving.start_over(parcels)
    given = _settle_whole_orders(demand, serving, wants)
    fills = [_pack_fill(season, pack) for pack in given]
    fills += _fills(season, serving.parcels, {lot.id: lot for lot in lots})
    fills.sort(key=lambda f: (f.line, f.packed is not None, f.packed, f.pack_lot))
    trimmed = tuple(_trim(season, day, free, serving.left) for day, free in open_runs)
    return Allocation(tuple(lots), tuple(fills), tuple(_shortfalls(demand, fills)), trimmed)


def _lots(season: Season, demand: Demand, days: Iterable[DayPlan]) -> list[Lot]:
    """Candy on hand and every batch of the days without a fact, by day made, then id."""
    known = {fact.batch for fact in season.made}
    first = season.kitchen.first_day
    lots = [
        Lot(s.lot, s.design, first + timedelta(days=s.made), s.pieces, first + timedelta(days=s.last_day))
        for s in demand.supplies
    ]
    for day in days:
        for batch in day.batches:
            if batch.id not in known:
                design = season.design_by_name[batch.design]
                sell_by = day.day + timedelta(days=design.sell_by_days)
                lots.append(Lot(batch.id, design.name, day.day, design.pieces, sell_by))
    return sorted(lots, key=lambda lot: (lot.made, lot.id))


def _past(season: Season, day: DayPlan, run: PackRun, from_index: int, from_minute: int) -> bool:
    """Whether a pack run has happened: what it packed is a fact."""
    return season.index(day.day) < from_index or (season.index(day.day) == from_index and run.ends <= from_minute)


def _runs(season: Season, open_runs: Iterable[tuple[DayPlan, list[PackRun]]]) -> dict[tuple[int, str], int]:
    """(day index, product) -> packs packed."""
    runs: dict[tuple[int, str], int] = defaultdict(int)
    for day, free in open_runs:
        for run in free:
            runs[season.index(day.day), run.product] += run.packs
    return dict(runs)


def wants_of(line: Line) -> list[Want]:
    """A line in time, and late where that is agreed: days on which its packs may be packed."""
    if line.packs <= 0:
        return []
    parts = {w.design: (w.pieces, w.first) for w in line.windows}
    out = [Want(line.id, line.product, False, line.weight, line.partial, line.packs, 0, line.pack_by, parts)]
    if line.late is not None and line.late.pack_by > line.due:
        parts = {w.design: (w.pieces, w.first) for w in line.late.windows}
        soonest, latest = line.due + 1, line.late.pack_by
        out.append(Want(line.id, line.product, True, line.weight, line.partial, line.packs, soonest, latest, parts))
    return out


def _settle_whole_orders(demand: Demand, serving: Serving, wants: Sequence[Want]) -> list[PackSupply]:
    """Fill up what is short with what is left; whole orders that are still short give all back.

    Returns the finished packs given out: those that a whole order gave back go to the
    weightiest line that can use them.
    """
    given = list(demand.given)
    dropped: set[str] = set()
    while True:
        serving.serve_more([w for w in wants if w.line not in dropped], _missing(demand, serving, given))
        missing = _missing(demand, serving, given)
        broken = [n for n in demand.lines if not n.partial and 0 < missing[n.id] < n.asked]
        if not broken:
            return given
        lightest = min(broken, key=lambda n: (n.whole_weight, n.id))
        dropped.add(lightest.id)
        serving.release(lightest.id)
        back = [g for g in given if g.line == lightest.id]
        given = [g for g in given if g.line != lightest.id]
        given += _hand_on(demand, lightest, back, missing)


def _missing(demand: Demand, serving: Serving, given: Iterable[PackSupply]) -> dict[str, int]:
    """Packs that each line still misses, after parcels and finished packs."""
    missing = {line.id: line.asked for line in demand.lines}
    for pack in given:
        missing[pack.line] -= pack.packs
    for parcel in serving.parcels:
        missing[parcel.want.line] -= parcel.packs
    return missing


def _hand_on(demand: Demand, line: Line, back: Iterable[PackSupply], missing: Mapping[str, int]) -> list[PackSupply]:
    """Finished packs that a whole order gave back, to lines still short, the heaviest first.

    Only to lines due no earlier (the packs were ready by then) and whose asked life they have.
    """
    out = []
    short = dict(missing)
    takers = [n for n in demand.lines if n.partial and n.product == line.product and n.due >= line.due]
    takers.sort(key=lambda n: (-n.weight, n.due, n.id))
    for lot in back:
        left = lot.packs
        for taker in takers:
            count = min(left, short[taker.id])
            if count > 0 and lot.sell_by >= taker.due + taker.least_life:
                out.append(replace(lot, line=taker.id, packs=count))
                short[taker.id] -= count
                left -= count
    return out


def _pack_fill(season: Season, pack: PackSupply) -> Fill:
    sell_by = season.kitchen.first_day + timedelta(days=pack.sell_by)
    return Fill(pack.line, pack.product, pack.packs, None, False, (), pack.lot, sell_by)


def _fills(season: Season, parcels: Iterable[Parcel], lots: Mapping[str, Lot]) -> list[Fill]:
    """One fill for each line and packing day; its draws by sell-by."""
    packs: dict[tuple[str, str, int, bool], int] = defaultdict(int)
    drawn: dict[tuple[str, str, int, bool], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for parcel in parcels:
        key = (parcel.want.line, parcel.want.product, parcel.day, parcel.want.late)
        packs[key] += parcel.packs
        for lot, pieces in parcel.draws:
            drawn[key][lot] += pieces
    fills = []
    for key, count in packs.items():
        line, product, day, late = key
        inside = sorted((lots[name] for name in drawn[key]), key=lambda lot: (lot.sell_by, lot.made, lot.id))
        draws = tuple(Draw(lot.id, lot.design, drawn[key][lot.id]) for lot in inside)
        fills.append(Fill(line, product, count, season.days[day], late, draws, "", inside[0].sell_by))
    return fills


def _shortfalls(demand: Demand, fills: Iterable[Fill]) -> list[Shortfall]:
    got = packs_by_line(fills)
    return [
        Shortfall(line.id, short, short * line.pieces, short * line.weight)
        for line in demand.lines
        if (short := line.asked - got[line.id]) > 0
    ]


def _trim(season: Season, day: DayPlan, free: list[PackRun], left: Mapping[tuple[int, str], int]) -> DayPlan:
    """The day with packs that nobody gets taken out of its pack runs, from the last run back."""
    today = season.index(day.day)
    surplus = {product: packs for (t, product), packs in left.items() if t == today and packs > 0}
    if not surplus:
        return day
    return replace(day, packing=without_packs(day.packing, surplus, free))


def without_packs(
    packing: Sequence[PackRun], less: Mapping[str, int], free: Container[PackRun]
) -> tuple[PackRun, ...]:  # fmt: skip
    """Pack runs with so many packs of each product taken out of those that are ``free``, from the last run back."""
    less, runs = dict(less), list[PackRun]()
    for run in reversed(packing):
        cut = min(run.packs, less.get(run.product, 0)) if run in free else 0
        if cut:
            less[run.product] -= cut
        if cut < run.packs:
            runs.append(replace(run, packs=run.packs - cut))
    return tuple(reversed(runs))
