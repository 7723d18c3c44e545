"""Neighbouring candidate stops taken as one that is each of them at once: a smaller problem whose least cost is no
higher, for a bound.

Every interval between two groups costs what the cheapest one between their members does. A place served twice in a
group is served once, which costs no more where intervals within it cost something; the same holds for two stops.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .problem import Problem


def firsts(alike: NDArray[np.intp]) -> NDArray[np.intp]:
    """First node of each group: now, runs of neighbouring stops of one number in ``alike`` (N+2,), the end."""
    last = alike.size - 1
    inner = np.flatnonzero(alike[2:last] != alike[1 : last - 1]) + 2
    return np.array([0, *([1] if last > 1 else []), *inner, last], dtype=np.intp)


def can_group(problem: Problem, first: NDArray[np.intp]) -> bool:
    """Whether no interval within a group pays for itself, which the bound rests on."""
    for low, high in pairwise(first[1:]):
        inner = problem.interval_cost[:, low:high, low:high]
        if (inner[:, ~np.tri(high - low, dtype=bool)] < 0.0).any():
            return False
    return not (problem.stop_cost < 0.0).any()


def grouped(problem: Problem, first: NDArray[np.intp]) -> Problem:
    """The problem of the groups; stops of a group must be alike in cost, hours and entries."""
    ends = problem.end
    order = np.arange(ends)[:, None] < np.arange(ends + 1)[None, :]
    cost = _least(np.where(order, problem.interval_cost, np.inf), first)
    must = np.add.reduceat(problem.required.astype(int), first) > 0
    must[[0, -1]] = False
    rules = problem.entries
    return Problem(
        interval_cost=cost,
        stop_cost=np.minimum.reduceat(problem.stop_cost, first),
        forced=tuple(int(n) for n in np.flatnonzero(must)),
        budgets=tuple(replace(b, weight=np.minimum.reduceat(b.weight, first)) for b in problem.budgets),
        entries=None
        if rules is None
        else replace(
            rules,
            change_hours=np.minimum.reduceat(rules.change_hours, first, axis=1),
            fixed_hours=np.minimum.reduceat(rules.fixed_hours, first),
            hours_per_entry=np.maximum.reduceat(rules.hours_per_entry, first),
            cost_per_entry=np.minimum.reduceat(rules.cost_per_entry, first),
            counted=np.minimum.reduceat(rules.counted, first),
        ),
        rows=tuple(replace(r, over=_least(r.over, first)) for r in problem.rows),
    )


def _least(arrays: np.ndarray, first: NDArray[np.intp]) -> np.ndarray:
    """(…, N+1, N+2) to groups, each the least of its members."""
    rows = np.minimum.reduceat(arrays, first[:-1], axis=1)
    return np.asarray(np.minimum.reduceat(rows, first, axis=2))
