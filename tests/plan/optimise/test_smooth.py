"""Prices by smoothed sweeps: true bounds, and close to the best there are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearplan.plan.optimise import Budget, Problem, Watch, paths, prices, solve
from wearplan.plan.optimise.arc_model import arc_model
from wearplan.plan.optimise.clash import least_use
from wearplan.plan.optimise.highs import run
from wearplan.plan.optimise.smooth import levelled, smooth

from .brute import least_cost
from .instances import by_node, small, wear_out


def fraction_bound(problem: Problem) -> float:
    """The arc model's least cost with stops open in part: no prices can prove more."""
    model = arc_model(problem)
    return run(replace(model, whole=np.zeros_like(model.whole)), gap=1e-6, watch=Watch())[2]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 100_000), st.booleans(), st.floats(-4.0, 2.0), st.integers(0, 8))
def test_smoothed_sweeps_give_true_bounds(seed: int, tied: bool, log_temperature: float, times: int) -> None:
    problem = small(seed, tied=tied)
    if set(problem.forced) & set(problem.forbidden):
        return
    priced = prices.start_prices(problem)
    smooth(priced, 10.0**log_temperature, times, Watch())
    best = least_cost(problem)
    assert priced.bound <= best + 1e-6
    assert prices.penalties(priced).bound <= best + 1e-6
    assert (priced.prices >= 0).all()
    if np.isfinite(priced.bound):
        assert priced.weight is not None
        assert ((priced.weight >= 0) & (priced.weight <= 1)).all()


def test_smoothed_sweeps_come_close_to_the_best_bound_where_plain_ones_stick() -> None:
    short = []
    for seed in range(4):
        problem = wear_out(40, 40, seed)
        best = fraction_bound(problem)
        plain, smoothed = prices.start_prices(problem), prices.start_prices(problem)
        prices.sweep(plain, 60, Watch())
        for share in (3e-2, 1e-2, 3e-3, 1e-3, 3e-4):
            smooth(smoothed, share * best / problem.places, 12, Watch())
        prices.sweep(smoothed, 2, Watch())
        assert smoothed.bound <= best * (1 + 1e-7)
        short.append(((best - plain.bound) / best, (best - smoothed.bound) / best))
    stuck, close = np.array(short).T
    assert stuck.max() > 1e-3
    assert close.max() < 1e-3
    assert close.max() < 0.25 * stuck.max()


def test_budgets_are_priced_between_the_sweeps() -> None:
    problem = wear_out(25, 30, 1)
    free = solve(problem)
    tight = replace(problem, budgets=(Budget("stops", by_node(np.ones(30)), len(free.stops) - 1.0),))
    best = fraction_bound(tight)
    priced = prices.start_prices(tight)
    for share in (3e-2, 1e-2, 3e-3, 1e-3, 3e-4):
        smooth(priced, share * best / problem.places, 12, Watch())
    assert priced.ties.nu[0] > 0
    assert best * (1 - 5e-3) <= priced.bound <= best * (1 + 1e-7)


def test_levelled_prices_keep_their_sum() -> None:
    wanted = np.array([[3.0, 1.0, -2.0], [0.5, 0.5, 0.5]])
    level = levelled(wanted, np.array([2.0, 6.0]))
    assert level == pytest.approx(np.array([[2.0, 0.0, 0.0], [2.0, 2.0, 2.0]]))


def test_traced_paths_cost_what_was_reached() -> None:
    problem = wear_out(12, 20, 3)
    reach = paths.forward(problem.arcs)
    on_path = paths.trace(problem.arcs, reach)
    for p in range(problem.places):
        nodes = np.flatnonzero(on_path[:, p])
        assert (nodes[0], nodes[-1]) == (0, problem.stops + 1)
        assert problem.arcs[nodes[:-1], nodes[1:], p].sum() == pytest.approx(reach[-1, p])


def test_least_use_as_far_as_asked() -> None:
    problem = wear_out(20, 25, 2)
    counted = replace(problem, budgets=(Budget("stops", by_node(np.ones(25)), 99.0),))
    least = least_use(counted, "stops", Watch())
    assert least.cost == least.lower_bound == round(least.cost)
    some = least_use(counted, "stops", Watch(), enough=least.cost)
    assert some.cost <= least.cost
    assert some.lower_bound <= least.cost
    assert least_use(counted, "stops", Watch(), enough=least.cost - 1).lower_bound > least.cost - 1


def test_a_budget_nothing_keeps() -> None:
    problem = replace(wear_out(10, 12, 0), budgets=(Budget("stops", by_node(np.ones(12)), -1.0),))
    solved = solve(problem)
    assert solved.status == "impossible"
    assert solved.clash is not None
    assert solved.clash.rule == "budget stops"
