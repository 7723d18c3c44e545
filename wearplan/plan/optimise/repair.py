"""Visits that keep the conditions which tie places together, with the stops given."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from . import fixed
from .highs import solve_arc_model
from .problem import Bools, Problem, only_places, restricted
from .result import Solved, Status, Watch, relative_gap


def repaired(problem: Problem, stops: Iterable[int], *, watch: Watch | None = None) -> Solved:
    """Best visits with exactly these stops open, rows kept; whole entries are not looked at.

    The shortest paths where they already keep every row, else the arc model of the rows they break. The result's
    bound belongs to plans with exactly these stops.
    """
    chosen = tuple(sorted(set(stops)))
    none = Solved("impossible", chosen, None, np.inf, np.inf, 0.0, "stops given")
    opened = problem.at(chosen)
    free = fixed.best_visits(problem, chosen)
    if free is None or not fixed.keeps_stop_rules(problem, opened):
        return none
    if not fixed.rows_broken(problem, opened, fixed.served_before(free)):
        cost = fixed.plan_cost(problem, chosen, free)
        return Solved("least cost", chosen, free, cost, cost, 0.0, "stops given")
    return _rows_mended(problem, chosen, free, watch)


def _rows_mended(problem: Problem, stops: tuple[int, ...], free: Bools, watch: Watch | None) -> Solved:
    """The arc model of the rows that the shortest paths break, with all other places on their shortest paths."""
    opened = problem.at(stops)
    visits, concerned, spread = free, set[int](), 0.0
    while more := {k for *_, k in fixed.rows_broken(problem, opened, fixed.served_before(visits))} - concerned:
        concerned |= more
        rules = tuple(problem.rows[k] for k in sorted(concerned))
        members = np.array(sorted({p for r in rules for p in r.members}), dtype=np.intp)
        part = only_places(replace(problem, rows=rules, budgets=()), members)
        small = restricted(part, stops, stops)
        solved = widened(part, stops, solve_arc_model(small, gap=1e-9, watch=watch))
        if solved.visits is None:
            return replace(solved, stops=stops)
        visits = free.copy()
        visits[members] = solved.visits
        spread = solved.cost - solved.lower_bound
    cost = fixed.plan_cost(problem, stops, visits)
    status: Status = "least cost" if spread <= 1e-9 * abs(cost) else "best found"
    bound = cost - spread
    return Solved(status, stops, visits, cost, bound, relative_gap(cost, bound), "stops given")


def widened(problem: Problem, stops: Iterable[int], solved: Solved) -> Solved:
    """A result of the problem restricted to ``stops``, told in the stops of the whole problem."""
    nodes = problem.nodes(stops)
    visits: Bools | None = None
    if solved.visits is not None:
        visits = np.zeros((problem.places, problem.end + 1), dtype=bool)
        visits[:, nodes] = solved.visits
    return replace(solved, stops=tuple(int(nodes[n]) for n in solved.stops), visits=visits)
