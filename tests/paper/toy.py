"""A plan that looks like one, for any season, made in a moment without a solver.

It is not held to the rules of the kitchen (an audit would object): it only has every
kind of thing that a sheet must show, on every open day, however long the season.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta

from scheduler.plan.types import (
    Batch,
    DayPlan,
    Draw,
    Fill,
    Lot,
    PackRun,
    Plan,
    Shift,
    Shortfall,
    StageResult,
    StageRun,
    Task,
)
from scheduler.season.rules import can_fill, cleaning, opening, presence, recipe, shows_on
from scheduler.season.types import Design, Person, Season


def toy_plan(season: Season, batches_a_day: int = 5, gap: int = 65) -> Plan:
    """Batches one after the other on each open day, orders filled from them in order of due day."""
    days, lots, turn = [], [], 0
    left: dict[str, list[list[object]]] = defaultdict(list)
    for day in season.days:
        crew = [p for p in season.crew if presence(season, p, day)]
        if opening(season, day) is None or len(crew) < 2:
            continue
        designs = [season.designs[(turn + i * i) % len(season.designs)] for i in range(batches_a_day)]
        turn += 1
        days.append(_day(season, day, designs, crew, gap))
        for batch in days[-1].batches:
            design = season.design_by_name[batch.design]
            sell_by = day + timedelta(days=design.sell_by_days)
            lots.append(Lot(batch.id, design.name, day, design.pieces, sell_by))
            left[design.name].append([lots[-1], design.pieces])
    for stock in season.stock:
        if stock.design:
            life = season.design_by_name[stock.design].sell_by_days
            lots.insert(0, Lot(stock.lot, stock.design, stock.made, stock.quantity, stock.made + timedelta(days=life)))
            left[stock.design].insert(0, [lots[0], stock.quantity])
    fills, shortfalls = _share_out(season, left)
    weighted = sum(s.weighted for s in shortfalls)
    return Plan(
        kitchen=season.kitchen.name,
        season="toy",
        first_day=season.kitchen.first_day,
        last_day=season.kitchen.last_day,
        days=tuple(days),
        lots=tuple(lots),
        fills=tuple(fills),
        shortfalls=tuple(shortfalls),
        stages=(
            StageResult("missed shows", "shows", 0, 0, True),
            StageResult("shortfall", "weighted pieces", weighted, weighted * 97 // 100, False),
            StageResult("cost", "cents", 123456, 120000, False),
        ),
        rule_of_thumb_weighted=weighted * 2,
        from_day=season.kitchen.first_day,
    )


def _day(season: Season, day: date, designs: list[Design], crew: list[Person], gap: int) -> DayPlan:
    opens, closes = opening(season, day) or (480, 1020)
    free = {p.name: opens for p in crew}
    batches, tasks = [], [Task("opening", opens, opens + 20, (crew[0].name,))]
    for number, design in enumerate(designs, 1):
        at, runs = opens + 20 + gap * (number - 1), []
        for stage in recipe(season, design):
            at += stage.wait_from
            hands, taken = [], set()
            for role in stage.roles:
                for _ in range(role.people):
                    able = [p for p in crew if p.name not in taken and can_fill(season, p, role, day)]
                    able = able or [p for p in crew if p.name not in taken] or crew
                    who = min(able, key=lambda p: (free[p.name], p.name)).name
                    free[who] = at + stage.minutes
                    taken.add(who)
                    hands.append((role.name, who))
            runs.append(StageRun(stage.name, stage.station, 1, at, at + stage.minutes, tuple(hands)))
            at += stage.minutes
        batches.append(Batch(f"{day:%m%d}-{number}", design.name, tuple(runs)))
        if number > 1:
            before = designs[number - 2]
            due = cleaning(season, runs[0].station, before, design)
            if due:
                start = runs[0].starts - due.minutes
                note = f"{before.name} to {design.name}"
                tasks.append(Task("clean", start, start + due.minutes, (crew[-1].name,), runs[0].station, 1, note))
    for show in shows_on(season, day):
        note = show.name
        tasks.append(Task("show", show.starts, show.starts + show.extra_minutes, (crew[-1].name,), note=note))
    done = max(b.ends for b in batches)
    tasks.append(Task("closing", done, done + 30, tuple(p.name for p in crew[:2])))
    packing = tuple(
        PackRun(p.name, 30 + i, crew[i % len(crew)].name, 1, done + 30, done + 60)
        for i, p in enumerate(season.products[:3])
    )
    shifts = []
    for i, person in enumerate(crew):
        middle = opens + 240 + 30 * i
        shifts.append(Shift(person.name, opens, done + 60, middle, middle + 30))
    return DayPlan(day, tuple(batches), tuple(tasks), packing, tuple(shifts), proven=day.day % 7 != 0)


def _share_out(season: Season, left: dict[str, list[list[object]]]) -> tuple[list[Fill], list[Shortfall]]:
    wanted = [(o.due, o.id, o.product, o.packs) for o in season.orders if not o.cancelled]
    wanted += [(f.shelf_day, f.id, f.product, f.likely) for f in season.forecasts]
    fills, shortfalls = [], []
    for due, line, product, packs in sorted(wanted):
        contents = season.contents_of[product]
        usable = {d: [x for x in left[d] if x[1] and x[0].made < due] for d in contents}  # type: ignore[attr-defined]
        can = min([packs, *(sum(x[1] for x in usable[d]) // n for d, n in contents.items() if n)])  # type: ignore[misc]
        draws = []
        for design, pieces in contents.items():
            need = can * pieces
            for entry in usable[design]:
                take = min(need, entry[1])  # type: ignore[type-var]
                if take:
                    entry[1] -= take  # type: ignore[operator]
                    need -= take  # type: ignore[operator]
                    draws.append(Draw(entry[0].id, design, take))  # type: ignore[attr-defined, arg-type]
        if can:
            sell_by = min(x[0].sell_by for d in contents for x in left[d] if x[0].made < due)  # type: ignore
            fills.append(Fill(line, product, can, due - timedelta(days=1), False, tuple(draws), sell_by=sell_by))
        if packs > can:
            pieces = (packs - can) * sum(contents.values())
            shortfalls.append(Shortfall(line, packs - can, pieces, pieces * 10))
    return fills, shortfalls
