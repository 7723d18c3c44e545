"""One door to the solvers."""

from __future__ import annotations

from dataclasses import replace

from .branch import solve_by_prices
from .clash import first_plan, why_infeasible
from .highs import solve_arc_model
from .problem import Problem
from .result import OnProgress, ShouldStop, Solved, Watch

SMALL = 2000  # arcs up to which the arc model in one piece is quick whatever the conditions


def solve(
    problem: Problem,
    *,
    gap: float = 1e-6,
    time_limit_s: float = 60.0,
    most_nodes: int | None = None,
    should_stop: ShouldStop | None = None,
    on_progress: OnProgress | None = None,
    method: str = "auto",
) -> Solved:
    """Find the plan of least cost, or the best within the time, with its gap.

    Parameters
    ----------
    gap : relative gap at which to stop; the result's status is "least cost" once it is reached.
    most_nodes : branchings after which the best plan so far is given; None for no end of them.
    time_limit_s, should_stop : give the best plan so far when the time is up or ``should_stop()`` is true.
    on_progress : called with a `Progress` a few times a second.
    method : "auto" (the arc model for a handful of places and stops and for whole entries, else prices), "arc model"
        or "prices".
    """
    watch = Watch(time_limit_s, should_stop, on_progress)
    if method not in ("auto", "arc model", "prices"):
        raise ValueError(f"no method {method!r}: auto, arc model or prices")
    arcs = problem.places * problem.end * (problem.end + 1) // 2
    if method == "prices" or (method == "auto" and arcs > SMALL and problem.entries is None):
        solved = solve_by_prices(
            problem, gap=gap, watch=watch, most_nodes=most_nodes, explain=(first_plan, why_infeasible)
        )
    else:
        solved = solve_arc_model(problem, gap=gap, watch=watch)
    if solved.status == "impossible" and solved.clash is None:
        solved = replace(solved, clash=why_infeasible(problem, watch))
    return solved
