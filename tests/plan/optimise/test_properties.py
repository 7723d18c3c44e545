"""What must hold whatever the numbers: harsher is never cheaper, bounds are bounds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearplan.plan.optimise import Budget, Watch, prices, solve
from wearplan.plan.optimise.smooth import smooth

from .brute import least_cost
from .instances import by_node, small

seeds = st.integers(0, 100_000)
quick = settings(max_examples=20, deadline=None)


def least(problem) -> float:
    return solve(problem, method="prices").cost


def no_cheaper(harsher: float, before: float) -> bool:
    return harsher >= before - 1e-6 * max(1.0, abs(before)) if np.isfinite(before) else np.isinf(harsher)


@quick
@given(seeds, st.booleans())
def test_dearer_stops_intervals_and_tighter_caps_never_cost_less(seed: int, tied: bool) -> None:
    problem = small(seed, tied=tied)
    before = least(problem)
    rng = np.random.default_rng(seed)
    dearer = replace(problem, stop_cost=problem.stop_cost + by_node(rng.uniform(0, 3, problem.stops)))
    assert no_cheaper(least(dearer), before)
    worse = replace(problem, interval_cost=problem.interval_cost + rng.uniform(0, 2, problem.interval_cost.shape))
    assert no_cheaper(least(worse), before)
    capped = problem.interval_cost.copy()
    capped[rng.random(capped.shape) < 0.15] = np.inf
    assert no_cheaper(least(replace(problem, interval_cost=capped)), before)


@quick
@given(seeds, st.booleans())
def test_forced_forbidden_and_budgets_never_cost_less(seed: int, tied: bool) -> None:
    problem = small(seed, tied=tied)
    before = least(problem)
    for n in range(1, problem.stops + 1):
        if n not in problem.forbidden:
            assert no_cheaper(least(replace(problem, forced=tuple({*problem.forced, n}))), before)
        if n not in problem.forced:
            assert no_cheaper(least(replace(problem, forbidden=tuple({*problem.forbidden, n}))), before)
    tight = Budget("stops", by_node(np.ones(problem.stops)), 1.0)
    assert no_cheaper(least(replace(problem, budgets=(*problem.budgets, tight))), before)


@quick
@given(seeds)
def test_tighter_ties_never_cost_less(seed: int) -> None:
    problem = small(seed, tied=True)
    before = least(problem)
    rows = tuple(replace(r, at_most=r.at_most - 1.0) for r in problem.rows)
    assert no_cheaper(least(replace(problem, rows=rows)), before)
    problem = small(seed, tied=True, whole=True)
    if problem.entries is not None:
        before = solve(problem).cost
        fewer = replace(problem.entries, at_most=problem.entries.at_most - 1.0)
        assert no_cheaper(solve(replace(problem, entries=fewer)).cost, before)
        shorter = replace(problem.entries, hours_per_entry=0.6 * problem.entries.hours_per_entry)
        assert no_cheaper(solve(replace(problem, entries=shorter)).cost, before)


@quick
@given(seeds, st.booleans(), st.integers(0, 3), st.integers(0, 6))
def test_prices_and_penalties_are_bounds(seed: int, tied: bool, sweeps: int, rounds: int) -> None:
    problem = small(seed, tied=tied)
    best = least_cost(problem)
    priced = prices.start_prices(problem)
    if problem.forced and set(problem.forced) & set(problem.forbidden):
        return
    watch = Watch()
    prices.sweep(priced, sweeps, watch)
    smooth(priced, 0.5, rounds, watch)
    found = prices.penalties(priced)
    assert found.bound <= best + 1e-6
    assert priced.bound <= best + 1e-6
    for k, n in enumerate(priced.nodes.tolist()):
        if not priced.opened[k]:
            closed = least_cost(replace(problem, forbidden=(*problem.forbidden, n)))
            assert found.if_closed[k] <= closed + 1e-6
            opened = least_cost(replace(problem, forced=(*problem.forced, n)))
            assert found.if_open[k] <= opened + 1e-6


@quick
@given(seeds)
def test_sweeps_never_lower_the_bound(seed: int) -> None:
    priced = prices.start_prices(small(seed))
    watch = Watch()
    before = -np.inf
    for _ in range(6):
        priced.bound = -np.inf
        prices.sweep(priced, 1, watch)
        if np.isinf(priced.bound):
            return
        assert priced.bound >= before - 1e-7 * max(1.0, abs(before))
        before = priced.bound


def test_shares_add_up_and_stay_level() -> None:
    shares = prices.share_out(np.array([5.0, 1.0, np.inf, np.nan]), 6.0)
    assert shares.sum() == pytest.approx(6.0)
    assert (shares >= 0).all()
    assert prices.share_out(np.array([-1.0, -1.0]), 4.0) == pytest.approx([2.0, 2.0])
