"""Engines that share nothing, one optimum: CP-SAT, HiGHS, and trying everything.

The tiny question: so many batches a day at most, orders of one design each with their windows.
CP-SAT answers it with the project's own sell-by inequalities (Hall's condition), and so does the
HiGHS that plans seasons; another HiGHS (through scipy) sends pieces from days to orders; brute
force tries every way to make batches and every number of packs for each order. Whole seasons of a
kitchen that holds two batches a day are planned with people and minutes, and tried out, too.
"""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from functools import cache

import networkx as nx
import numpy as np
from ortools.sat.python import cp_model
from scheduler.demand.build import build_demand
from scheduler.models.counts.board import Board
from scheduler.models.counts.demand import add_fills, add_windows, intervals, items_of, shortfall
from scheduler.models.facts import Facts
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.models.solvers import engine
from scheduler.models.solvers.engine import Limits, Status
from scheduler.models.solvers.linear import MipLimits as SeasonSearch
from scheduler.models.solvers.linear import job, run
from scheduler.season.types import Content, Product, Season
from scipy.optimize import Bounds, LinearConstraint, milp
from tests.seasons import tiny
from tests.trust.table import Row, Table


@cache
def question(seed: int) -> tuple[Season, Facts, int]:
    """A tiny season of packs of one design, its facts, and the most batches a day."""
    season = tiny(seed, days=3 + seed % 2, designs=2, orders=3)
    single = tuple(p for p in season.products if p.name != "Mixed bag")
    contents = tuple(Content(p.name, d.name, 50) for p, d in zip(single, season.designs, strict=True))
    names = [p.name for p in single]
    orders = tuple(
        replace(o, product=o.product if o.product in names else names[0], latest=None, late_cents=0, packs=o.packs + 1)
        for o in season.orders
    )
    season = replace(season, products=tuple(Product(n) for n in names), contents=contents, orders=orders)
    return season, Facts(season, build_demand(season)), 1 + seed % 2


def own_rules(seed: int) -> cp_model.CpModel:
    """The question in the project's own rule groups."""
    season, facts, most = question(seed)
    board = Board(facts)
    for t in facts.days:
        for design in season.designs:
            board.make[design.name, t] = board.model.new_int_var(0, most, f"{design.name} {t}")
        board.model.add(sum(board.make[d.name, t] for d in season.designs) <= most)
    add_fills(board)
    add_windows(board)
    board.model.minimize(shortfall(board))
    return board.model


def by_cp_sat(seed: int) -> int:
    """The least shortfall by the project's own rules, in CP-SAT."""
    answer = engine.solve(own_rules(seed), Limits(effort=20))
    assert answer.status is Status.OPTIMAL and answer.objective is not None
    return answer.objective


def by_linear(seed: int) -> int:
    """The least shortfall by the project's own rules, in the HiGHS that plans seasons."""
    answer = run(job(own_rules(seed), SeasonSearch(nodes=10_000, stall=10_000)))
    assert answer.status is Status.OPTIMAL and answer.objective is not None
    return answer.objective


def by_highs(seed: int) -> int:
    """The least shortfall by flows from days to orders, a MIP of its own."""
    season, facts, most = question(seed)
    lines = facts.demand.lines
    batches = [(d.name, t) for d in season.designs for t in facts.days]
    flows = [
        (i, t) for i, line in enumerate(lines) for t in facts.days
        if line.windows[0].first <= t <= line.windows[0].last
    ]  # fmt: skip
    at = {key: n for n, key in enumerate([*batches, *flows, *((i,) for i in range(len(lines)))])}
    rows, low, high = [], [], []

    def row(terms: dict[object, float], least: float, greatest: float) -> None:
        line = np.zeros(len(at))
        for key, value in terms.items():
            line[at[key]] += value  # type: ignore[index]
        rows.append(line)
        low.append(least)
        high.append(greatest)

    for t in facts.days:
        row({(d.name, t): 1.0 for d in season.designs}, -np.inf, most)
    for design, t in batches:
        drawn = {(i, u): 1.0 for i, u in flows if u == t and lines[i].windows[0].design == design}
        row({(design, t): -float(season.design_by_name[design].pieces), **drawn}, -np.inf, 0)
    for i, line in enumerate(lines):  # the last variables: packs served, or 0 and 1 for a whole order
        pieces = line.windows[0].pieces * (1 if line.partial else line.packs)
        row({**{(j, t): 1.0 for j, t in flows if j == i}, (i,): -float(pieces)}, 0, np.inf)
    top = [most] * len(batches) + [10_000] * len(flows) + [n.packs if n.partial else 1 for n in lines]
    worth = np.zeros(len(at))
    for i, line in enumerate(lines):
        worth[at[i,]] = -line.weight * (1 if line.partial else line.packs)  # type: ignore[index]
    found = milp(worth, constraints=LinearConstraint(np.array(rows), low, high), bounds=Bounds(0, top), integrality=1)
    assert found.status == 0
    return round(sum(n.weight * n.packs for n in lines) + found.fun)


def by_trying(seed: int) -> int:
    """The least shortfall of every way to make batches and to serve orders; nothing is solved."""
    season, facts, most = question(seed)
    lines = facts.demand.lines
    days = list(facts.days)
    ways = [c for c in itertools.product(range(most + 1), repeat=len(season.designs)) if sum(c) == most]
    own = [[n for n in lines if n.windows[0].design == d.name] for d in season.designs]
    seen: dict[tuple[int, tuple[int, ...]], int] = {}
    least = None
    for plan in itertools.product(ways, repeat=len(days)):
        total = 0
        for number, design in enumerate(season.designs):
            made = tuple(way[number] for way in plan)
            if (number, made) not in seen:
                pieces = {t: design.pieces * n for t, n in zip(days, made, strict=True)}
                seen[number, made] = least_missed(own[number], pieces)
            total += seen[number, made]
        least = total if least is None else min(least, total)
    assert least is not None
    return least


def least_missed(lines: list, pieces: dict[int, int]) -> int:  # type: ignore[type-arg]
    """Try every number of packs for each order; serve from the earliest candy, the tightest window first."""
    choices = [range(n.packs + 1) if n.partial else (0, n.packs) for n in lines]
    best = sum(n.weight * n.packs for n in lines)
    for packs in itertools.product(*choices):
        missed = sum(n.weight * (n.packs - k) for n, k in zip(lines, packs, strict=True))
        if missed < best and _can_serve(lines, packs, dict(pieces)):
            best = missed
    return best


def _can_serve(lines: list, packs: tuple[int, ...], left: dict[int, int]) -> bool:  # type: ignore[type-arg]
    """Glover 1967: days in order, each serving the open order whose window ends first, is exact."""
    need = {i: k * n.windows[0].pieces for i, (n, k) in enumerate(zip(lines, packs, strict=True))}
    for t in sorted(left):
        for i in sorted(need, key=lambda i: lines[i].windows[0].last):
            if lines[i].windows[0].first <= t <= lines[i].windows[0].last:
                taken = min(left[t], need[i])
                left[t] -= taken
                need[i] -= taken
    return not any(need.values())


def agree(seed: int) -> str | None:
    """All give the same least shortfall."""
    found = {"CP-SAT": by_cp_sat, "HiGHS by flows": by_highs, "HiGHS of the season": by_linear, "trying": by_trying}
    least = {name: solve(seed) for name, solve in found.items()}
    return None if len(set(least.values())) == 1 else f"season {seed}: {least}"


@cache
def whole(seed: int) -> tuple[int, int, int]:
    """A whole season with its people and minutes: what is proven, what can be at least, what was planned."""
    from tests.trust.answers import by_hand, least_by_trying  # that module takes ``least_missed`` from this one

    season = by_hand(seed)
    stages = {s.name: s for s in plan_season(season, PlanOptions(effort=0.1)).stages}
    return stages["shortfall"].bound or 0, least_by_trying(season), stages["shortfall"].value


def between(seed: int) -> str | None:
    """The least that can be short, by trying everything, is not below the bound and not above the plan."""
    proven, least, planned = whole(seed)
    return None if proven <= least <= planned else f"season {seed}: {proven} proven, {least} tried, {planned} planned"


def hall(seed: int) -> str | None:
    """The sell-by inequalities hold exactly where a flow of all pieces exists (networkx)."""
    rng = random.Random(seed)
    season, facts, _ = question(seed % 40)
    name = season.designs[0].name
    items = [(a, max(a, b), str(i), False, rng.randint(1, 4)) for i, (a, b) in enumerate(
        sorted((rng.randint(0, 5), rng.randint(0, 5))) for _ in range(rng.randint(1, 5)))]  # fmt: skip
    made = {t: rng.randint(0, 4) for t in range(6)}
    says = all(sum(n for *_, n in span.items) <= sum(made[t] for t in range(span.first, span.last + 1))
               for span in intervals(items))  # fmt: skip
    graph: nx.DiGraph = nx.DiGraph()
    for t, pieces in made.items():
        graph.add_edge("s", ("day", t), capacity=pieces)
    for first, last, line, _, pieces in items:
        graph.add_edge(("line", line), "t", capacity=pieces)
        for t in range(first, last + 1):
            graph.add_edge(("day", t), ("line", line))
    flows = nx.maximum_flow_value(graph, "s", "t") == sum(i[4] for i in items)
    assert items_of(facts, name) is not None
    return None if says == flows else f"case {seed}: inequalities {says}, flow {flows}: {items} {made}"


def table(quick: bool) -> Table:
    """Tiny seasons by three engines; random windows by inequalities and by flow."""
    three = Row("CP-SAT, HiGHS by flows, the season's HiGHS and trying everything: one optimum")
    for seed in range(4 if quick else 40):
        three.count(agree(seed))
    flow = Row("sell-by inequalities and maximum flow agree")
    for seed in range(150 if quick else 2000):
        flow.count(hall(seed))
    seasons = Row("whole seasons: the least by trying is between bound and plan")
    numbers = range(2 if quick else 30)
    for seed in numbers:
        seasons.count(between(seed))
    best, tight = (sum(whole(seed)[i] == whole(seed)[1] for seed in numbers) for i in (2, 0))
    short = sum(whole(seed)[1] > 0 for seed in numbers)
    seasons.note = f"{best} plans are the best there is, {tight} bounds say so; in {short} something must be short"
    return Table("Engines that share nothing", [three, flow, seasons], ("tried", "agree"))
