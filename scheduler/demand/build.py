"""Season to demand: what is still wanted of each order and forecast, and when its candy may be made.

The steps, each a function: facts settle what is on hand (``stock.on_hand``); orders and
forecasts become lines with windows; finished packs on hand are given to lines.
Days are indices from the season's first day (negative before it).
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from scheduler.demand.lines import (
    KIND_WEIGHT,
    PRIORITY_WEIGHT,
    Demand,
    LateOffer,
    Line,
    LineKind,
    PackSupply,
    Supply,
    Window,
)
from scheduler.demand.stock import FinishedPacks, LoosePieces, on_hand
from scheduler.season.rules import forecast_packs, opening
from scheduler.season.types import Forecast, Order, Season


def build_demand(season: Season, from_index: int = 0, meant: Mapping[str, int] | None = None) -> Demand:
    """All lines still wanted from day ``from_index`` on, the pieces on hand, and finished packs given out.

    ``meant`` are packs that were packed for a line already: they go to it first.

    Cancelled orders and lines shipped in full are left out. Lines come by due day, then id,
    so the order of the season's rows does not matter.
    """
    pieces, packs = on_hand(season)
    shipped: dict[str, int] = defaultdict(int)
    for s in season.shipped:
        shipped[s.order] += s.packs
    open_days = [i for i, day in enumerate(season.days) if i >= from_index and opening(season, day) is not None]
    lines = [line for line in _all_lines(season, shipped, open_days) if line.asked > 0]
    lines.sort(key=lambda line: (line.due, line.id))
    given, lines = _give_finished_packs(season, lines, packs, meant or {})
    return Demand(tuple(lines), tuple(_supply(season, lot) for lot in pieces), tuple(given))


def _all_lines(season: Season, shipped: dict[str, int], open_days: list[int]) -> Iterator[Line]:
    for order in season.orders:
        if not order.cancelled:
            yield _order_line(season, order, shipped[order.id], open_days)
    for forecast in season.forecasts:
        yield _forecast_line(season, forecast, shipped[forecast.id], open_days)


def _order_line(season: Season, order: Order, shipped: int, open_days: list[int]) -> Line:
    due = season.index(order.due)
    life = season.kitchen.least_life_days if order.least_life_days is None else order.least_life_days
    late = None
    if order.latest is not None and order.latest > order.due:
        latest = season.index(order.latest)
        late = LateOffer(
            pack_by=last_open(open_days, latest),
            cents=order.late_cents,
            windows=windows(season, order.product, latest, life, open_days),
        )
    return _line(
        season, order.id, order.kind, order.product, order.packs - shipped, due, life, order.priority, open_days,
        customer=order.customer, partial=order.partial, confirmed=order.confirmed, late=late,
    )  # fmt: skip


def _forecast_line(season: Season, forecast: Forecast, shipped: int, open_days: list[int]) -> Line:
    """A forecast asks for the level that the kitchen plans for, in part if need be."""
    packs = forecast_packs(season, forecast)
    return _line(
        season, forecast.id, "forecast", forecast.product, packs - shipped, season.index(forecast.shelf_day),
        season.kitchen.least_life_days, forecast.priority, open_days,
    )  # fmt: skip


def _line(
    season: Season, id: str, kind: LineKind, product: str, asked: int, due: int, life: int, priority: int,
    open_days: list[int], customer: str = "", partial: bool = True, confirmed: bool = False,
    late: LateOffer | None = None,
) -> Line:  # fmt: skip
    in_pack = sum(season.contents_of[product].values())
    return Line(
        id=id,
        kind=kind,
        customer=customer,
        product=product,
        asked=asked,
        packs=asked,
        pieces=in_pack,
        weight=KIND_WEIGHT[kind] * PRIORITY_WEIGHT[priority] * in_pack,
        partial=partial,
        confirmed=confirmed,
        price_cents=season.product_by_name[product].price_cents,
        due=due,
        pack_by=last_open(open_days, due),
        windows=windows(season, product, due, life, open_days),
        least_life=life,
        late=late,
    )


def last_open(open_days: Sequence[int], day: int, before: int = 0) -> int:
    """The last day on which something due on ``day`` can still be packed, or the open day so many ``before`` it.

    -1 if there is none.

    ``open_days`` are the season's open days from today on, ascending: what is due after the
    season's end is packed inside it, and what is due before today can't be packed any more.
    """
    at = bisect_right(open_days, day) - 1 - before
    return open_days[at] if at >= 0 else -1


def windows(season: Season, product: str, due: int, life: int, open_days: list[int]) -> tuple[Window, ...]:
    """Making days of each design in a product for a delivery on day ``due``.

    last = pack_by - packing_from_days, first = due + life - sell_by_days (not cut off at the
    season's first day: stock may be older). Example: due day 20, open, candy packed from the
    next day, 30 days of life asked of 45: first 20 + 30 - 45 = 5, last 20 - 1 = 19.
    No day to pack, or a sell-by shorter than what is asked: last < first.
    """
    pack_by = last_open(open_days, due)
    out = []
    for design, pieces in season.contents_of[product].items():
        first = due + life - season.design_by_name[design].sell_by_days
        last = pack_by - season.kitchen.packing_from_days if pack_by >= 0 else first - 1
        out.append(Window(design, pieces, first, last))
    return tuple(out)


def _supply(season: Season, lot: LoosePieces) -> Supply:
    return Supply(lot.lot, lot.design, season.index(lot.made), lot.pieces, season.index(lot.sell_by))


def _give_finished_packs(
    season: Season, lines: list[Line], packs: list[FinishedPacks], meant: Mapping[str, int]
) -> tuple[list[PackSupply], list[Line]]:
    """Give packs on hand to lines: first those packed for them, then the weightiest a piece, then by due day.

    A line takes the packs that expire first among those ready by its due day with the life
    it asks for. A whole order may take a part too: the rest is made, or all is given back
    (``plan/lots.py``). Packs that suit nobody stay on the shelf.
    """
    given: dict[tuple[str, str], PackSupply] = {}
    left = {lot.lot: lot.packs for lot in packs}
    taken: dict[str, int] = defaultdict(int)
    weightiest = sorted(lines, key=lambda n: (-n.weight / max(1, n.pieces), n.due, n.id))
    wishes = [(n, min(n.asked, meant[n.id])) for n in lines if meant.get(n.id)]
    for line, most in (*wishes, *((n, n.asked) for n in weightiest)):
        for lot in packs:
            in_time = season.index(lot.ready) <= line.due
            lasts = season.index(lot.sell_by) >= line.due + line.least_life
            count = min(left[lot.lot], most - taken[line.id])
            if lot.product == line.product and in_time and lasts and count > 0:
                left[lot.lot] -= count
                taken[line.id] += count
                made, sell_by = season.index(lot.made), season.index(lot.sell_by)
                before = given[line.id, lot.lot].packs if (line.id, lot.lot) in given else 0
                given[line.id, lot.lot] = PackSupply(line.id, lot.lot, lot.product, before + count, made, sell_by)
    return list(given.values()), [replace(line, packs=line.asked - taken[line.id]) for line in lines]
