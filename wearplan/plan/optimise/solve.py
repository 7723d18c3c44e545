"""One door to the solvers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from .branch import solve_by_prices
from .clash import why_infeasible
from .highs import solve_arc_model
from .problem import Problem
from .result import OnProgress, ShouldStop, Solved, Watch

SMALL = 2000  # arcs up to which the arc model in one piece is quick whatever the conditions


def solve(
    problem: Problem,
    *,
    gap: float = 1e-6,
    time_limit_s: float = 60.0,
    should_stop: ShouldStop | None = None,
    on_progress: OnProgress | None = None,
    method: str = "auto",
    start: Iterable[int] = (),
) -> Solved:
    """Find the plan of least cost, or the best within the time, with its gap.

    Parameters
    ----------
    gap : relative gap at which to stop; the result's status is "least cost" once it is reached.
    time_limit_s, should_stop : give the best plan so far when the time is up or ``should_stop()`` is true.
    on_progress : called with a `Progress` a few times a second.
    start : stops (1..N) near which a good plan is likely, as those of a similar problem; forbidden ones are left out.
        Never changes what is proved. Used by "prices".
    method : "auto" (the arc model for a handful of places and stops, else prices), "arc model" or "prices".
    """
    watch = Watch(time_limit_s, should_stop, on_progress)
    if method not in ("auto", "arc model", "prices"):
        raise ValueError(f"no method {method!r}: auto, arc model or prices")
    arcs = problem.places * (problem.stops + 1) * (problem.stops + 2) // 2
    if method == "prices" or (method == "auto" and arcs > SMALL):
        near = tuple(sorted({n for n in start if 1 <= n <= problem.stops and problem.allowed[n - 1]}))
        solved = solve_by_prices(problem, gap=gap, watch=watch, start=near)
    else:
        solved = solve_arc_model(problem, gap=gap, watch=watch)
    if solved.status == "impossible" and solved.clash is None:
        solved = replace(solved, clash=why_infeasible(problem, watch=watch))
    return solved
