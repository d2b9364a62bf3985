"""Linear rules given to HiGHS: the same answers as CP-SAT, conditions and clauses included."""

from __future__ import annotations

import random

import pytest
from ortools.math_opt.python import mathopt
from ortools.sat.python import cp_model
from scheduler.models.counts.days import Book
from scheduler.models.counts.heads import hull
from scheduler.models.search.loop import PlanOptions, facts_of
from scheduler.models.solvers import engine
from scheduler.models.solvers.engine import Status
from scheduler.models.solvers.linear import MipLimits, job, run
from scheduler.models.solvers.warm_lp import solve_lp
from tests.handmade import paper

WHOLE = MipLimits(nodes=10_000, stall=10_000)


def random_model(seed: int) -> cp_model.CpModel:
    """Six counts, three yes-or-nos, rows of which some have conditions, and clauses."""
    rnd, model = random.Random(seed), cp_model.CpModel()
    counts = [model.new_int_var(-2, 5, f"n{k}") for k in range(6)]
    flags = [model.new_bool_var(f"b{k}") for k in range(3)]
    for _ in range(6):
        row = sum(rnd.randint(-3, 4) * x for x in rnd.sample(counts, 3))
        rule = model.add(row <= rnd.randint(0, 9)) if rnd.random() < 0.5 else model.add(row >= rnd.randint(-6, 1))
        if rnd.random() < 0.7:
            rule.only_enforce_if([f if rnd.random() < 0.5 else ~f for f in rnd.sample(flags, rnd.choice([1, 2]))])
    model.add_bool_or(flags[0], ~flags[1])
    model.add_bool_or(flags[1], flags[2])
    goal = sum(rnd.randint(-5, 5) * x for x in (*counts, *flags))
    (model.maximize if seed % 2 else model.minimize)(goal)
    return model


@pytest.mark.parametrize("seed", range(20))
def test_the_same_optimum_as_cp_sat(seed: int) -> None:
    """Outside check: OR-Tools' CP-SAT on the same model; both prove their optimum or that there is no answer."""
    model = random_model(seed)
    one, other = engine.solve(model), run(job(model, WHOLE))
    assert other.status is one.status
    if one.status is Status.OPTIMAL:
        assert one.objective is not None and other.objective is not None
        assert abs(one.objective) == abs(other.objective)


def test_a_condition_binds_only_where_it_holds() -> None:
    """x <= 2 if b: 2 with b, 5 without."""
    for held, most in ((1, 2), (0, 5)):
        model = cp_model.CpModel()
        x, b = model.new_int_var(0, 5, "x"), model.new_bool_var("b")
        model.add(x <= 2).only_enforce_if(b)
        model.add(b == held)
        model.maximize(x)
        assert run(job(model, WHOLE))[x] == most


def test_what_may_be_broken_is_told_whole() -> None:
    """2x + 2y + 4z <= 11 with z whole: two z, and x = y = 0.75, told down as 0 and up as 1."""
    model = cp_model.CpModel()
    x, y, z = (model.new_int_var(0, 5, name) for name in "xyz")
    model.add(2 * x + 2 * y + 4 * z <= 11)
    model.add(x == y)
    model.maximize(3 * x + 3 * y + 7 * z)
    answer = run(job(model, WHOLE, None, [z], [y]))
    assert (answer[z], answer[x], answer[y]) == (2, 0, 1)
    assert run(job(model, WHOLE))[z] == 2


def test_other_rules_are_refused() -> None:
    """A product is no linear rule."""
    model = cp_model.CpModel()
    x, y = model.new_int_var(0, 5, "x"), model.new_int_var(0, 25, "y")
    model.add_multiplication_equality(y, [x, x])
    model.minimize(y)
    with pytest.raises(ValueError, match="not linear"):
        run(job(model, WHOLE))


def test_hull() -> None:
    """Corners of the most work by people in; what lies under the line between two others is none."""
    assert hull([(0, 0), (1, 0), (2, 4), (3, 5)]) == ((0, 0), (2, 4), (3, 5))
    assert hull([(0, 0), (3, 700), (4, 1150), (5, 1370)]) == ((0, 0), (4, 1150), (5, 1370))


@pytest.mark.parametrize(("paid", "longest"), [(285, 285), (299, 299), (300, 330), (310, 340)])
def test_no_shorter_shift_costs_more(paid: int, longest: int) -> None:
    """`week hours`: with 285 paid minutes left, 315 with a break would do, but 300 without one would not."""
    season = paper(1, break_after_minutes=300, break_minutes=30, break_paid=False)
    book = Book(facts_of(season, PlanOptions()))
    assert book.longest_for(paid) == longest
    assert max(book.facts.paid_of(m) for m in range(1, longest + 1)) <= paid


def test_prices_of_a_small_linear_program() -> None:
    """max 5x + 4y with 6x + 4y <= 24 and x + 2y <= 6: 21 at (3, 1.5), a unit more is worth 0.75 and 0.5.

    Worked by hand: both rules bind, so 6u + v = 5 and 4u + 2v = 4. A third count at 1 costs u + v - 1 = 0.25.
    """
    model = mathopt.Model()
    x, y, z = (model.add_variable(lb=0, ub=10, name=name) for name in "xyz")
    first = model.add_linear_constraint(6 * x + 4 * y + z <= 24)
    second = model.add_linear_constraint(x + 2 * y + z <= 6)
    model.minimize(-5 * x - 4 * y - z)
    found = solve_lp(model.export_model())
    assert found is not None
    assert found.value == pytest.approx(-21)
    assert [found.values[v.id] for v in (x, y, z)] == pytest.approx([3, 1.5, 0])
    assert [found.duals[rule.id] for rule in (first, second)] == pytest.approx([-0.75, -0.5])
    assert found.reduced_costs[z.id] == pytest.approx(0.25)


def test_no_prices_where_there_is_no_solution() -> None:
    """x >= 3 and x <= 2."""
    model = mathopt.Model()
    x = model.add_variable(lb=0, ub=2)
    model.add_linear_constraint(x >= 3)
    model.minimize(x)
    assert solve_lp(model.export_model()) is None
