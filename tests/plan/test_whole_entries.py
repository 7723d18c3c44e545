"""The bound with entries counted whole: never above the best plan, and mostly as high as it is asked to be."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.plan.test_brute import small_task
from wearplan.plan.carry_out.filled import whole_problem
from wearplan.plan.optimise import Watch, solve_arc_model, whole_bound


@pytest.mark.parametrize("seed", range(12))
def test_the_bound_is_never_above_the_best_plan_in_whole_entries(seed: int) -> None:
    model = small_task(seed)
    path = model.path_problem()
    whole = whole_problem(model, path)
    best = solve_arc_model(whole, gap=1e-7)
    if best.visits is None:
        pytest.skip("no plan keeps the rules")
    for share in (0.97, 1.0, 1.2):
        at, alike = share * best.cost, np.asarray(model.cands.window)
        bound = whole_bound(path, whole, at, alike=alike, most_arcs=20000, most_nodes=500, watch=Watch(math.inf))
        assert bound <= min(at, best.cost) + 1e-6 * abs(best.cost)


def test_most_bounds_reach_what_is_asked() -> None:
    reached = []
    for seed in range(12):
        model = small_task(seed)
        path = model.path_problem()
        whole = whole_problem(model, path)
        best = solve_arc_model(whole, gap=1e-7)
        if best.visits is not None:
            at = 0.9 * best.cost
            alike = np.asarray(model.cands.window)
            bound = whole_bound(path, whole, at, alike=alike, most_arcs=20000, most_nodes=500, watch=Watch(math.inf))
            reached.append(bound >= 0.999 * at)
    assert np.mean(reached) > 0.7
