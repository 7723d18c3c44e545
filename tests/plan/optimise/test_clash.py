"""Impossible plans are explained by a small clash."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wearplan.plan.optimise import Budget, Problem, RowRule, WholeEntries, solve, why_infeasible

from .brute import least_cost
from .instances import by_node, small


def reach_of(reaches: list[int], stops: int) -> Problem:
    """Place p may go ``reaches[p]`` nodes without service."""
    node = np.arange(stops + 2)
    gap = node[None, :] - node[: stops + 1, None]
    cost = np.array([np.where(gap <= r, 1.0, np.inf) for r in reaches])
    return Problem(cost, by_node(np.ones(stops)))


def test_a_place_that_cannot_cross_a_stretch_without_stops() -> None:
    problem = replace(reach_of([9, 3, 4], 8), forbidden=(3, 4, 5, 6))
    clash = solve(problem).clash
    assert clash is not None
    assert clash.places == (1,)
    assert (clash.from_node, clash.to_node) == (2, 7)
    assert clash.rule == "cap"
    assert clash.would_help == (4, 5)  # 2 to 4 to 7, or 2 to 5 to 7; 3 to 7 and 2 to 6 are too far
    assert clash.others == (2,)  # 2 to 7 is five nodes, place 2 may go four


def test_a_budget_that_is_too_small() -> None:
    problem = replace(reach_of([9, 3, 8, 3], 8), budgets=(Budget("entries", by_node(np.ones(8)), 1.0),))
    for method in ("prices", "arc model"):
        clash = solve(problem, method=method).clash
        assert clash is not None
        assert clash.rule == "budget entries"
        assert clash.needed == 2.0
        assert clash.allowed == 1.0
        assert len(clash.places) == 1
        assert clash.places[0] in (1, 3)
    assert solve(replace(problem, budgets=(Budget("entries", by_node(np.ones(8)), 2.0),))).status == "least cost"


def test_the_stretch_is_narrowed() -> None:
    # Only between nodes 4 and 8 is the reach short; elsewhere any interval goes.
    stops = 10
    problem = reach_of([12, 12], stops)
    cost = problem.interval_cost.copy()
    for s in range(stops + 1):
        for t in range(s + 1, stops + 2):
            if min(t, 8) - max(s, 4) > 1:
                cost[1, s, t] = np.inf
    tight = Problem(cost, by_node(np.ones(stops)), budgets=(Budget("stops", by_node(np.ones(stops)), 2.0),))
    clash = why_infeasible(tight)
    assert clash is not None
    assert clash.places == (1,)
    assert 4 <= clash.from_node < clash.to_node <= 8 or (clash.from_node <= 4 and clash.to_node >= 8)
    assert clash.needed == 3.0


def test_forced_and_forbidden() -> None:
    clash = solve(replace(reach_of([9], 4), forced=(2,), forbidden=(2,))).clash
    assert clash is not None
    assert clash.rule == "forced and forbidden"
    assert clash.from_node == 2


def test_too_few_entries() -> None:
    base = reach_of([2, 2], 5)
    entries = WholeEntries(
        by_node(np.full((2, 5), 3.0)), np.zeros(7), by_node(np.full(5, 4.0), np.inf),
        np.zeros(7), by_node(np.ones(5)), 3.0,
    )  # fmt: skip
    clash = solve(replace(base, entries=entries)).clash
    assert clash is not None
    assert "entries" in clash.rule


def test_a_row_that_cannot_be_kept() -> None:
    over = np.ones((2, 4, 5))
    clash = solve(replace(reach_of([9, 9], 3), rows=(RowRule("S1", (0, 1), over, 1.0),))).clash
    assert clash is not None
    assert clash.rule == "row S1"


@pytest.mark.parametrize("tied", [False, True])
def test_a_clash_is_found_exactly_where_nothing_is_possible(tied: bool) -> None:
    impossible = 0
    for seed in range(300, 380):
        problem = small(seed, tied=tied, whole=True)
        clash = why_infeasible(problem)
        assert (clash is not None) == np.isinf(least_cost(problem)), seed
        impossible += clash is not None
    assert impossible > 5


@pytest.mark.parametrize("seed", range(400, 440))
def test_no_single_place_can_be_left_out(seed: int) -> None:
    problem = small(seed)
    clash = why_infeasible(problem)
    if clash is None or len(clash.places) < 2:
        return
    for p in clash.places:
        rest = [q for q in clash.places if q != p]
        fewer = replace(problem, interval_cost=problem.interval_cost[rest])
        assert np.isfinite(least_cost(fewer)), seed
