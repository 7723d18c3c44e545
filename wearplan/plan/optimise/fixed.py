"""Plans with the stops given: the best visits of every place, and what a plan costs."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from . import paths
from .problem import Bools, Problem


def best_visits(problem: Problem, stops: Iterable[int]) -> Bools | None:
    """Each place's cheapest visits to the given open stops, (P, N+2); None where some place has no path.

    One shortest path a place: least cost in the path model. Conditions that tie places together are not looked at here
    (see `repair.repaired`).
    """
    nodes = problem.nodes(set(stops))
    arcs = problem.arcs[np.ix_(nodes[:-1], nodes)]
    on_path = paths.trace(arcs, paths.forward(arcs))
    if not on_path[-1].all():
        return None
    visits = np.zeros((problem.places, problem.end + 1), dtype=bool)
    visits[:, nodes[1:-1]] = on_path[1:-1].T
    return visits


def keeps_stop_rules(problem: Problem, opened: Bools) -> bool:
    """True where forced and forbidden stops and the budgets on stops are kept."""
    if (opened & ~problem.allowed).any() or (problem.required & ~opened).any():
        return False
    return all(float(b.weight[opened].sum()) <= b.at_most + 1e-9 for b in problem.budgets)


def served_before(visits: Bools) -> NDArray[np.intp]:
    """(P, N+2) the node each place was last served at before each node, from visits (P, N+2); 0: the tool in place."""
    last = np.zeros(visits.shape, dtype=np.intp)
    node = np.arange(visits.shape[1])
    last[:, 1:] = np.maximum.accumulate(np.where(visits, node, 0), axis=1)[:, :-1]
    return last


def intervals_of(visits: Bools) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """The intervals of visits (P, N+2): places, start and end nodes, those that end at services before those to the end
    of the drive.
    """
    last = served_before(visits)
    who, node = np.nonzero(visits)
    places = np.arange(len(visits))
    to_end = np.full(len(visits), visits.shape[1] - 1)
    return np.append(who, places), np.append(last[who, node], last[:, -1]), np.append(node, to_end)


def interval_costs(problem: Problem, visits: Bools) -> float:
    """Sum of the interval costs of these visits."""
    last = served_before(visits)
    place = np.arange(problem.places)
    total = float(problem.interval_cost[place, last[:, -1], problem.end].sum())
    who, where = np.nonzero(visits)
    return total + float(problem.interval_cost[who, last[who, where], where].sum())


def plan_cost(problem: Problem, stops: Iterable[int], visits: Bools) -> float:
    """Cost of a plan in the full model, ``inf`` where it breaks a condition."""
    opened = problem.at(stops)
    if not keeps_stop_rules(problem, opened) or (visits & ~opened).any():
        return float("inf")
    total = interval_costs(problem, visits) + float(problem.stop_cost[opened].sum())
    if not np.isfinite(total) or broken(problem, opened, visits):
        return float("inf")
    if problem.entries is not None:
        total += float((problem.entries.entries(opened, visits) * problem.entries.cost_per_entry).sum())
    return total


def broken(problem: Problem, opened: Bools, visits: Bools) -> list[str]:
    """Conditions that tie places together and that these visits break, in words; empty where all are kept."""
    faults: list[str] = []
    if problem.entries is not None:
        used = float((problem.entries.entries(opened, visits) * problem.entries.counted).sum())
        if used > problem.entries.at_most + 1e-9:
            faults.append(f"{used:g} entries, at most {problem.entries.at_most:g}")
    faults += [f"row {name} at node {n}" for name, n, _ in rows_broken(problem, opened, served_before(visits))]
    return faults


def rows_broken(problem: Problem, opened: Bools, last: np.ndarray) -> list[tuple[str, int, int]]:
    """(row's name, node, index of the rule) wherever too many of a row are over when a stop or the end is reached."""
    nodes = [*np.flatnonzero(opened), problem.end]
    found = []
    for k, rule in enumerate(problem.rows):
        index = np.arange(len(rule.members))
        for n in nodes:
            if rule.over[index, last[list(rule.members), n], n].sum() > rule.at_most + 1e-9:
                found.append((rule.name, int(n), k))
    return found
