"""Rows of which so many may be over at once: priced in the bound, mended at given stops, against brute force."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wearplan.plan.optimise import Problem, RowRule, best_visits, broken, solve, solve_arc_model
from wearplan.plan.optimise.rowprices import row_prices

from .brute import cost_of, least_cost
from .instances import by_node, wear_out


def small_with_rows(seed: int) -> Problem:
    """Two or three places in one or two rows that share a place; being over is cheap, so that the rows bind."""
    rng = np.random.default_rng(seed)
    places, stops = int(rng.integers(2, 4)), int(rng.integers(1, 5))
    gap = (np.arange(stops + 2)[None, :] - np.arange(stops + 1)[:, None]).clip(0)
    cost = rng.uniform(2.0, 6.0, (places, stops + 1, stops + 2)) + rng.uniform(0.0, 0.5, (places, 1, 1)) * gap
    over = (gap[None] > rng.integers(0, 3, (places, 1, 1))).astype(float)
    over[:, 0] = gap[0] > rng.integers(0, 3, (places, 1))
    rows = [RowRule("a", tuple(range(places)), over, float(rng.integers(0, places)))]
    if places == 3 and rng.random() < 0.5:
        rows = [RowRule("a", (0, 1), over[:2], 1.0), RowRule("b", (1, 2), over[1:], float(rng.integers(0, 2)))]
    return Problem(cost, by_node(rng.uniform(0.0, 2.0, stops)), rows=tuple(rows))


def large_with_rows(seed: int) -> Problem:
    """A middle-sized drive with two rows of four in which one may be worn at once, and being late is cheap."""
    rng = np.random.default_rng(seed)
    problem = wear_out(28, 24, seed)
    cost = problem.interval_cost.copy()
    cost[20:] = 0.3 * wear_out(28, 24, seed, caps=False).interval_cost[20:]
    gap = (np.arange(26)[None, :] - np.arange(25)[:, None]).clip(0)
    over = gap[None] > rng.integers(5, 14, (8, 1, 1))
    rows = tuple(RowRule(f"S{k}", tuple(range(20 + k, 24 + k)), over[k : k + 4].astype(float), 1.0) for k in (0, 4))
    return replace(problem, interval_cost=cost, rows=rows)


def test_equals_brute_force_at_all_stops_and_at_given_ones() -> None:
    mended = 0
    for seed in range(120):
        problem = small_with_rows(seed)
        expected = least_cost(problem)
        solved = solve(problem, method="prices")
        if np.isinf(expected):
            assert solved.status == "impossible", seed
            continue
        assert solved.cost == pytest.approx(expected), seed
        assert solved.lower_bound == pytest.approx(expected), seed
        some = tuple(range(1, problem.stops + 1, 2))
        shut = tuple(n for n in range(1, problem.stops + 1) if n not in some)
        given = least_cost(replace(problem, forced=some, forbidden=shut))
        assert cost_of(problem, some) == pytest.approx(given), seed
        mended += given > cost_of(replace(problem, rows=()), some) + 1e-9
    assert mended > 20


@pytest.mark.parametrize("seed", range(60))
def test_no_prices_of_rows_lift_the_bound_above_the_least_cost(seed: int) -> None:
    problem = small_with_rows(seed)
    expected = least_cost(problem)
    pays, lost = row_prices(problem, range(1, problem.stops + 1))
    cost = problem.interval_cost.copy()
    for place, more in pays.items():
        assert (more >= 0).all()
        cost[place] += more
    assert least_cost(replace(problem, interval_cost=cost, rows=())) - lost <= expected + 1e-9


@pytest.mark.parametrize("seed", range(4))
def test_rows_of_a_middle_sized_drive_agree_with_the_arc_model(seed: int) -> None:
    problem = large_with_rows(seed)
    exact = solve_arc_model(problem)
    solved = solve(problem, method="prices")
    assert solved.cost == pytest.approx(exact.cost, rel=2e-6)
    assert solved.status == "least cost"
    free = best_visits(problem, solved.stops)
    assert free is not None
    assert broken(problem, problem.at(solved.stops), free)  # the rows bind
