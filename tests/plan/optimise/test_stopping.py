"""Stopping early gives the best so far with an honest gap."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from wearplan.plan.optimise import Problem, Progress, solve

from .instances import wear_out


@pytest.mark.parametrize("method", ["prices", "arc model"])
def test_time_limit(method: str) -> None:
    problem = wear_out(100, 100, 1)
    solved = solve(problem, method=method, time_limit_s=0.3)
    assert solved.seconds < 5.0
    assert solved.status in ("best found", "nothing found")
    assert solved.stopped == "time limit"
    assert solved.gap > 1e-6
    if solved.visits is not None:
        assert solved.lower_bound <= solved.cost


def test_asked_to_stop_keeps_the_best_plan_and_a_true_bound() -> None:
    problem = wear_out(40, 40, 2)
    exact = solve(problem)
    for asked_after in (3, 60, 400):
        asked = 0

        def should_stop(limit: int = asked_after) -> bool:
            nonlocal asked
            asked += 1
            return asked > limit

        solved = solve(problem, method="prices", should_stop=should_stop)
        assert solved.lower_bound <= exact.cost * (1 + 1e-9)
        assert solved.cost >= exact.cost * (1 - 2e-6)
        if solved.stopped:
            assert solved.stopped == "asked to stop"


def test_progress_is_told_and_bounds_close_in() -> None:
    told: list[Progress] = []
    solve(wear_out(150, 90, 4), method="prices", on_progress=told.append, time_limit_s=2.0)
    assert told
    assert all(b.cost <= a.cost for a, b in pairwise(told))
    assert all(p.lower_bound <= p.cost for p in told)


def test_no_candidate_stop_at_all() -> None:
    only = Problem(np.array([[[np.nan, 7.0]]]).reshape(1, 1, 2), np.zeros(2))
    for method in ("prices", "arc model"):
        solved = solve(only, method=method)
        assert solved.status == "least cost"
        assert solved.cost == pytest.approx(7.0)
        assert solved.stops == ()


def test_faulty_problems_are_refused() -> None:
    good = np.ones((2, 3, 4))
    with pytest.raises(ValueError, match="interval_cost has shape"):
        Problem(np.ones((2, 3, 3)), np.zeros(4))
    with pytest.raises(ValueError, match="stop_cost"):
        Problem(good, np.array([0.0, 1.0, np.inf, 0.0]))
    with pytest.raises(ValueError, match=r"outside 1\.\.2"):
        Problem(good, np.zeros(4), forced=(3,))
    bad = good.copy()
    bad[0, 0, 2] = np.nan
    with pytest.raises(ValueError, match="NaN"):
        Problem(bad, np.zeros(4))
