"""Visits that keep the conditions which tie places together, with the stops given."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from . import fixed
from .highs import solve_arc_model
from .problem import Bools, Problem, restricted
from .result import Solved, Watch


def repaired(problem: Problem, stops: Iterable[int], *, watch: Watch | None = None, gap: float = 1e-6) -> Solved:
    """Best visits of the full model with exactly these stops open.

    The shortest paths where they already keep every condition without a cost of their own, else the arc model restricted to these
    stops (small: only the arcs among them). The result's bound belongs to plans with exactly these stops.
    """
    chosen = tuple(sorted(set(stops)))
    none = Solved("impossible", chosen, None, np.inf, np.inf, 0.0, "stops given")
    opened = fixed.open_of(problem, chosen)
    visits = fixed.best_visits(problem, chosen)
    if visits is None or not fixed.keeps_stop_rules(problem, opened):
        return none
    if problem.entries is None and not fixed.broken(problem, opened, visits):
        cost = fixed.plan_cost(problem, chosen, visits)
        return Solved("least cost", chosen, visits, cost, cost, 0.0, "stops given")
    at = np.array(chosen, dtype=np.intp)
    return widened(
        problem, at, solve_arc_model(restricted(problem, at, np.ones(at.size, dtype=bool)), gap=gap, watch=watch)
    )


def widened(problem: Problem, stops: np.ndarray, solved: Solved) -> Solved:
    """A result of the problem restricted to ``stops``, told in the stops of the whole problem."""
    from dataclasses import replace

    visits: Bools | None = None
    if solved.visits is not None:
        visits = np.zeros((problem.places, problem.stops), dtype=bool)
        visits[:, stops - 1] = solved.visits
    return replace(solved, stops=tuple(int(stops[n - 1]) for n in solved.stops), visits=visits)
