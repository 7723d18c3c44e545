"""A lower bound for every stop there is, from a problem that knows only some of them.

Stops lie in groups (the rings of a window); of each group some are kept, its first and last among them, so that every
other one lies between two kept ones, at a share theta of the way. Take any plan, and round each stop to the kept one
before it with chance 1 - theta and to the one after it with chance theta, the same for all places and independently in
each cell. An arc from n to m then costs on average the bilinear mean of the four arcs between the kept stops around it.
Where costs run straight over the metres of a cell, that is what it costs by itself: so the rounded plans cost on
average no more than the plan, one of them no more than that, and the least of the kept problem is a lower bound for all
stops (randomised rounding after Raghavan & Thompson 1987, Combinatorica 7:365, from memory; its use here is our own).

What a cap forbids between kept stops may be allowed a little before the end or after the start: in the bounding problem
an arc is allowed where it is from the kept stop after its start to the one before its end. Two stops of one cell round
with one draw, and where they meet, one is saved. Stops of a group must have the same cost, budgets and fixings, but
those that are kept.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .problem import Floats, Problem


@dataclass(frozen=True)
class Cells:
    """For each node, the kept stop after it where stops lie between that are not kept, else itself; and before it."""

    after: np.ndarray
    """(N+1,) for each start."""
    before: np.ndarray
    """(N+2,) for each end."""

    @classmethod
    def of(cls, rank: np.ndarray, group: np.ndarray) -> Cells:
        """From the number of each kept stop among all stops of its group (N+2,), and the groups (N+2,)."""
        after, before = np.arange(len(rank)), np.arange(len(rank))
        for g in np.unique(group[1:-1]):
            mine = np.flatnonzero(group == g)
            gaps = np.diff(rank[mine]) > 1
            after[mine[:-1][gaps]] = mine[1:][gaps]
            before[mine[1:][gaps]] = mine[:-1][gaps]
        return cls(after[:-1], before)

    def lenient(self, table: np.ndarray) -> np.ndarray:
        """A table (..., N+1, N+2) read for each arc at the kept stops within it; its own value where they cross."""
        s, t = np.meshgrid(self.after, self.before, indexing="ij")
        own_s, own_t = np.meshgrid(np.arange(len(self.after)), np.arange(len(self.before)), indexing="ij")
        crossed = s >= t
        s, t = np.where(crossed, own_s, s), np.where(crossed, own_t, t)
        return np.asarray(table[..., s, t])

    def bounding(self, problem: Problem, bare: Floats) -> Problem:
        """The problem whose least no plan at any of the stops undercuts.

        Parameters
        ----------
        bare
            (P, N+1, N+2) what each interval costs whether it is allowed or not.
        """
        shut = np.isinf(problem.interval_cost)
        rows = tuple(replace(rule, over=self.lenient(rule.over)) for rule in problem.rows)
        return replace(problem, interval_cost=np.where(shut & self.lenient(shut), np.inf, bare), rows=rows)
