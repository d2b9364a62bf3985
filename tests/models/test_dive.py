"""Choosing known days by dives: choices that keep the rules, near the best of all, the same on every run."""

from __future__ import annotations

import math
import random
import time
from dataclasses import replace
from itertools import product

import pytest
from ortools.math_opt import model_pb2
from ortools.sat.python import cp_model
from scheduler.models.search import dive
from scheduler.models.search.dive import Incumbent, Options, _Pace, dive_and_search
from scheduler.models.solvers.linear import MipLimits, job, run
from scheduler.models.solvers.warm_lp import WarmLp, row_names, solve_lp

Choice = tuple[cp_model.CpModel, list[list[cp_model.IntVar]]]


def choices(seed: int, days: int = 6, each: int = 3, wants: int = 4) -> Choice:
    """Days that are one of a few known ones or empty, each with pieces of some sorts; what is wanted may be short."""
    rnd, model = random.Random(seed), cp_model.CpModel()
    uses = [[model.new_bool_var(f"use {t} {k}") for k in range(each)] for t in range(days)]
    holds = {use.index: [rnd.randint(0, 3) for _ in range(wants)] for some in uses for use in some}
    hours = {use.index: rnd.randint(3, 8) for some in uses for use in some}
    for some in uses:
        model.add(sum(some) <= 1)
    everything = [use for some in uses for use in some]
    model.add(sum(hours[use.index] * use for use in everything) <= 5 * days)
    short = []
    for sort in range(wants):
        missing = model.new_int_var(0, 100, f"short {sort}")
        model.add(missing + sum(holds[use.index][sort] * use for use in everything) >= 2 * days)
        short.append(rnd.randint(1, 9) * missing)
    model.minimize(sum(short))
    return model, uses


def proto_of(model: cp_model.CpModel) -> model_pb2.ModelProto:
    return model_pb2.ModelProto.FromString(job(model, MipLimits(), whole=()).model)


def options(choice: Choice, **more: object) -> Options:
    model, uses = choice
    days = tuple(tuple(use.index for use in some) for some in uses)
    return Options(job(model, MipLimits(), whole=()).model, days, (None,) * len(days), **more)  # type: ignore[arg-type]


def worth(choice: Choice, found: Incumbent) -> float:
    """What a choice comes to by another way: with its days fixed, nothing else broken."""
    model, uses = choice
    fixed = model.clone()
    for some, chosen in zip(uses, found.days, strict=True):
        for use in some:
            fixed.add(fixed.get_int_var_from_proto_index(use.index) == int(use.index == chosen))
    answer = run(job(fixed, MipLimits()))
    assert answer.objective is not None
    return answer.objective


@pytest.mark.parametrize("seed", range(8))
def test_a_choice_is_what_it_says_and_near_the_best(seed: int) -> None:
    """Tried out against all 4^6 choices: what is found is one of them, and here within a tenth of the best."""
    choice = choices(seed)
    found = dive_and_search(options(choice), 2)
    assert found is not None
    assert found.value == pytest.approx(worth(choice, found))
    best = run(job(choice[0], MipLimits(nodes=10_000, stall=10_000))).objective
    assert best is not None
    assert best - 1e-6 <= found.value <= 1.1 * best + 1


@pytest.mark.parametrize("seed", range(4))
def test_a_tree_goes_on_where_dives_end(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """Without a search after the first dive: what it leaves is found by branch and bound, unless it is near enough."""
    monkeypatch.setattr(dive, "TRIES", 0)
    choice = choices(seed, days=8, each=4)
    dived = dive_and_search(options(choice), 1)
    assert dived is not None
    best = run(job(choice[0], MipLimits(nodes=10_000, stall=10_000))).objective
    found = dive_and_search(options(choice, nodes=10_000), 1)
    assert found is not None and best is not None
    assert found.value == pytest.approx(best) == worth(choice, found)
    assert found.value <= dived.value
    assert dive_and_search(options(choice, nodes=10_000, gap=1e6), 1) == replace(dived, enough=True)
    assert dive_and_search(options(choice, nodes=10_000, seconds=0.0), 1) in (None, dived)


def test_the_best_of_all_choices_is_what_highs_says() -> None:
    """The yardstick above, by trying all of a small one."""
    choice = choices(3, days=4, each=2)
    model, uses = choice
    values = []
    for some in product(*[(None, *(use.index for use in day)) for day in uses]):
        try:
            values.append(worth(choice, Incumbent(0.0, some)))
        except AssertionError:
            continue  # too many hours
    assert min(values) == run(job(model, MipLimits(nodes=10_000, stall=10_000))).objective


def test_the_same_choice_on_every_run_whatever_a_process_did_before() -> None:
    choice = choices(5, days=12, each=6)
    first = dive_and_search(options(choice), 2)
    dive_and_search(options(choices(6, days=9)), 2)
    assert dive_and_search(options(choice), 2) == first


def test_the_plan_so_far_is_never_lost() -> None:
    """The best is given as the plan so far: it stays."""
    choice = choices(1)
    best = run(job(choice[0], MipLimits(nodes=10_000, stall=10_000)))
    now = tuple(next((use.index for use in some if best[use]), None) for some in choice[1])
    found = dive_and_search(replace(options(choice), now=now), 1)
    assert found is not None and found.value == pytest.approx(best.objective)


def test_where_nothing_keeps_the_rules_there_is_no_choice() -> None:
    model, uses = choices(2)
    model.add(sum(use for some in uses for use in some) >= len(uses) + 1)
    assert dive_and_search(options((model, uses)), 1) is None


def test_days_with_which_the_rest_can_t_be_are_left() -> None:
    """Exactly one of two days may hold a batch: where the dive has given both one, it turns back."""
    model = cp_model.CpModel()
    a, b, c = (model.new_bool_var(name) for name in "abc")
    slack = model.new_int_var(0, 1, "slack")
    model.add(a + b <= 1)
    model.add(2 * a + 2 * b + 2 * c == 2 + slack)
    model.add(c + slack <= 1)
    model.minimize(3 * slack - 5 * a - 4 * b - 4 * c)
    found = dive_and_search(options((model, [[a, b], [c]])), 1)
    assert found is not None and found.value == pytest.approx(-5)


@pytest.mark.parametrize("seed", range(4))
def test_several_days_at_once_are_a_choice_too(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the clock presses: still within the rules, and what it says; where three at once can't be, one by one."""
    monkeypatch.setattr(_Pace, "at_once", lambda pace, _days: 3 if pace.hurried else 1)
    choice = choices(seed)
    found = dive_and_search(options(choice, seconds=60.0), 1)
    assert found is not None and found.value == pytest.approx(worth(choice, found))


def test_days_made_whole_in_a_step() -> None:
    """Two steps took two seconds, ten days are open: with ten seconds left two at once; without a clock always one."""
    now = time.monotonic()
    pace, free = _Pace(now + 10), _Pace(math.inf)
    pace.began, pace.steps = now - 2, 1
    assert pace.at_once(10) in (2, 3)  # 2 * 10 * 2 / 2 / 10, a little more by the time it is asked
    assert free.at_once(10) == 1
    pace.hurried = False
    assert pace.at_once(10) == 1


def test_a_model_like_another_starts_where_that_stopped() -> None:
    """The same rows and one column more: the same value as from nothing, and rows are told apart by what is in them."""
    model, uses = choices(4)
    names = [var.name for var in model.proto.variables]
    first = solve_lp(proto_of(model), names=names)
    assert first is not None
    more = model.clone()
    extra = more.new_bool_var("use 0 9")
    more.minimize(sum(c * more.get_int_var_from_proto_index(v) for v, c in zip(
        model.proto.objective.vars, model.proto.objective.coeffs, strict=True)) - 7 * extra)  # fmt: skip
    again = solve_lp(proto_of(more), names=[*names, "use 0 9"], basis=first.basis)
    assert again is not None and again.value == pytest.approx(first.value - 7)
    rows = row_names(proto_of(model), names)
    assert len(set(rows)) == len(rows) == len(first.basis.rows)


def test_a_step_back_is_a_step_back() -> None:
    """Bounds set and lifted again: the first value returns."""
    model, uses = choices(4)
    relaxed = WarmLp(proto_of(model))
    before, basis = relaxed.solution(), relaxed.basis()
    columns = [use.index for use in uses[0]]
    relaxed.bound(columns, [0.0] * len(columns), [0.0] * len(columns))
    tighter = relaxed.solve()
    relaxed.bound(columns, [0.0] * len(columns), [1.0] * len(columns))
    relaxed.go_back(basis)
    after = relaxed.solve()
    assert before is not None and tighter is not None and after is not None
    assert tighter[0] > before[0] == pytest.approx(after[0])
