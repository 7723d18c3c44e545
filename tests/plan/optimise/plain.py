"""The plain arc model written down a second time, straight into `scipy.optimize.milp`: a check from outside, and the
one to beat.
"""

from __future__ import annotations

import numpy as np
import scipy.optimize
import scipy.sparse

from wearplan.plan.optimise import Problem


def solve_plain(problem: Problem, *, gap: float = 1e-6) -> scipy.optimize.OptimizeResult:
    """Build and solve in one go."""
    return run_plain(plain_model(problem), gap=gap)


def run_plain(model: dict, *, gap: float, time_limit_s: float = 600.0) -> scipy.optimize.OptimizeResult:
    """Hand the built model to HiGHS through SciPy."""
    return scipy.optimize.milp(**model, options={"mip_rel_gap": gap, "time_limit": time_limit_s})


def plain_model(problem: Problem) -> dict:
    """One variable a finite arc (continuous) and one binary a stop; the path model only."""
    assert problem.is_path_model
    last = problem.stops + 1
    arcs = [
        (p, s, t)
        for p in range(problem.places)
        for s in range(last)
        for t in range(s + 1, last + 1)
        if np.isfinite(problem.interval_cost[p, s, t])
    ]
    place, start, end = np.array(arcs).T
    each = np.arange(len(arcs))
    cost = np.concatenate((problem.interval_cost[place, start, end], problem.stop_cost[1:-1]))
    leaves = scipy.sparse.coo_array(
        (np.ones(each.size), (place * last + start, each)), (problem.places * last, cost.size)
    )
    inner = end < last
    arrives = scipy.sparse.coo_array(
        (np.ones(inner.sum()), ((place * last + end)[inner], each[inner])), (problem.places * last, cost.size)
    )
    balance = np.tile(np.eye(1, last, 0)[0], problem.places)
    links = problem.places * problem.stops
    served = scipy.sparse.coo_array(
        (np.ones(inner.sum()), ((place * problem.stops + end - 1)[inner], each[inner])), (links, cost.size)
    )
    opened = scipy.sparse.coo_array(
        (np.ones(links), (np.arange(links), each.size + np.tile(np.arange(problem.stops), problem.places))),
        (links, cost.size),
    )
    constraints = [
        scipy.optimize.LinearConstraint((leaves - arrives).tocsr(), balance, balance),
        scipy.optimize.LinearConstraint((served - opened).tocsr(), -np.inf, 0.0),
    ]
    for budget in problem.budgets:
        row = np.concatenate((np.zeros(each.size), budget.weight[1:-1]))
        constraints.append(scipy.optimize.LinearConstraint(row, -np.inf, budget.at_most))
    low = np.concatenate((np.zeros(each.size), problem.required[1:-1]))
    high = np.concatenate((np.ones(each.size), problem.allowed[1:-1]))
    whole = np.concatenate((np.zeros(each.size), np.ones(problem.stops)))
    return {"c": cost, "integrality": whole, "bounds": scipy.optimize.Bounds(low, high), "constraints": constraints}
