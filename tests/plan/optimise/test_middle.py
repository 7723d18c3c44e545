"""Middle-sized drives against the plain arc model in `scipy.optimize.milp`, and the conditions that tie places
together.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wearplan.plan.optimise import Budget, broken, solve, solve_arc_model

from .brute import cost_of
from .instances import by_node, wear_out
from .plain import solve_plain


@pytest.mark.parametrize("seed", range(4))
def test_prices_agree_with_the_plain_model(seed: int) -> None:
    problem = wear_out(25, 25, seed)
    plain = solve_plain(problem)
    solved = solve(problem, method="prices")
    assert solved.status == "least cost"
    assert solved.cost == pytest.approx(plain.fun, rel=2e-6)
    assert solved.gap <= 1e-6


@pytest.mark.parametrize("seed", range(3))
def test_budgets_forced_and_forbidden_agree_with_the_plain_model(seed: int) -> None:
    problem = wear_out(20, 22, seed)
    free = solve(problem)
    weight = by_node(np.ones(problem.stops))
    some = replace(
        problem,
        forced=(3,),
        forbidden=free.stops[-2:],
        budgets=(Budget("stops", weight, float(max(len(free.stops) - 1, 2))),),
    )
    plain = solve_plain(some)
    solved = solve(some, method="prices")
    if plain.x is None:
        assert solved.status == "impossible"
        return
    assert solved.cost == pytest.approx(plain.fun, rel=2e-6)
    assert 3 in solved.stops
    assert len(solved.stops) <= some.budgets[0].at_most


@pytest.mark.parametrize("seed", range(2))
def test_tied_places_agree_with_the_arc_model(seed: int) -> None:
    problem = wear_out(10, 10, seed, tied=True)
    exact = solve_arc_model(problem)
    solved = solve(problem, method="prices", gap=1e-4)
    assert solved.cost == pytest.approx(exact.cost, rel=1.1e-4)
    assert solved.lower_bound <= exact.cost * (1 + 1e-6)
    assert solved.visits is not None
    assert not broken(problem, problem.at(solved.stops), solved.visits)
    assert cost_of(problem, solved.stops, solved.visits) == pytest.approx(solved.cost)


def test_a_larger_drive_with_rows_keeps_them_and_tells_its_gap() -> None:
    problem = wear_out(40, 30, 1, tied=True)
    solved = solve(problem, method="prices", gap=1e-3, time_limit_s=3.0)
    assert solved.visits is not None
    assert not broken(problem, problem.at(solved.stops), solved.visits)
    assert solved.cost == pytest.approx(cost_of(problem, solved.stops, solved.visits))
    assert solved.lower_bound <= solved.cost
    assert solved.gap == pytest.approx((solved.cost - solved.lower_bound) / solved.cost)
    if solved.gap > 1e-3:
        assert solved.status == "best found"
        assert "rows" in solved.relaxed
