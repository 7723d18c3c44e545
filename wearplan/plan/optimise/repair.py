"""Visits that keep the conditions which tie places together, with the stops given."""

from __future__ import annotations

from dataclasses import replace

from . import fixed
from .highs import solve_arc_model
from .problem import Bools, Problem
from .result import Watch


def repaired(
    problem: Problem, stops: tuple[int, ...], *, watch: Watch | None = None, gap: float = 1e-6
) -> tuple[Bools, float] | None:
    """Best visits of the full model with exactly these stops open, and the plan's cost; None where there are none.

    The shortest paths where they already keep every condition without a cost of their own, else the arc model restricted to these
    stops (small: only arcs among them).
    """
    visits = fixed.best_visits(problem, stops)
    opened = fixed.open_of(problem, stops)
    if visits is None or not fixed.keeps_stop_rules(problem, opened):
        return None
    if problem.entries is None and not fixed.broken(problem, opened, visits):
        return visits, fixed.plan_cost(problem, stops, visits)
    given = replace(problem, forced=tuple(stops), forbidden=())
    solved = solve_arc_model(given, gap=gap, watch=watch or Watch(time_limit_s=10.0), open_only=opened)
    return None if solved.visits is None else (solved.visits, solved.cost)
