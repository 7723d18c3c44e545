"""Rows of which so many tools may be past their limit at once, with the stops given.

The optimiser holds this rule exactly; what is put right afterwards (neighbour step, whole entries, shifted stops)
asks here whether it still holds, and has a tool changed in time where it does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.optimise import RowRule, paths, served_before

from .exact import Bools, Floats


@dataclass(frozen=True, kw_only=True)
class Rows:
    """M members of R rows at K stops."""

    members: NDArray[np.intp]
    """(M,) places, row by row."""
    first: NDArray[np.intp]
    """(R,) where each row's members begin."""
    most: Floats
    """(R,) how many may be over at once."""
    over: Bools
    """(M, K+1, K+2) whether a member is over on reaching a node, by the node it was last served at."""

    @classmethod
    def at(cls, rules: Sequence[RowRule], nodes: NDArray[np.intp]) -> Rows:
        """The rules at the nodes of a plan, now and the end included (K+2,)."""
        starts, ends = nodes[:-1, None], nodes[None, :]
        sizes = [len(r.members) for r in rules]
        return cls(
            members=np.array([p for r in rules for p in r.members], dtype=np.intp),
            first=np.cumsum([0, *sizes])[:-1],
            most=np.array([r.at_most for r in rules]),
            over=np.concatenate([r.over[:, starts, ends] > 0 for r in rules])
            if rules
            else np.zeros((0, len(nodes) - 1, len(nodes)), dtype=bool),
        )

    def over_in(self, visits: Bools) -> Bools:
        """(M, K+2) which members are over on reaching each node, with visits (P, K+2)."""
        if not len(self.members):
            return np.zeros((0, visits.shape[1]), dtype=bool)
        last = served_before(visits[self.members])
        found = self.over[np.arange(len(self.members))[:, None], last, np.arange(last.shape[1])[None, :]]
        found[:, 0] = False
        return np.asarray(found)

    def too_many(self, over: Bools) -> Bools:
        """(R, K+2) rows with more over than allowed on reaching each node."""
        if not len(self.members):
            return np.zeros((0, over.shape[1]), dtype=bool)
        return np.asarray(np.add.reduceat(over, self.first, axis=0, dtype=int) > self.most[:, None])

    def kept(self, visits: Bools) -> bool:
        """Whether every row holds at every node."""
        return not self.too_many(self.over_in(visits)).any()

    def barred(self, arcs: Floats, not_over: Bools) -> Floats:
        """The members' intervals out of arcs (P or more, K+1, K+2), those left out (inf) that would have a member
        over at a node where it must not be, (M, K+2).
        """
        node = np.arange(arcs.shape[2])
        at_node = self.over & not_over[:, None, :] & (node[None, None, :] > node[None, :-1, None])
        passed = np.logical_or.accumulate(at_node, axis=2)
        return np.where(passed, np.inf, arcs[self.members])

    def held(self, arcs: Floats, visits: Bools) -> Floats:
        """The same arcs, with no member over anywhere but where it is with these visits."""
        out = arcs.copy()
        out[self.members] = self.barred(arcs, ~self.over_in(visits))
        return out

    def mended(self, arcs: Floats, visits: Bools) -> Bools | None:
        """Visits (P, K+2) that keep the rows, from each place's cheapest ones: node by node, those that cost least to
        change in time are; None where that cannot be.
        """
        out = visits
        not_over = np.zeros((len(self.members), arcs.shape[2]), dtype=bool)
        while True:
            over = self.over_in(out)
            broken = self.too_many(over)
            if not broken.any():
                return out
            if out is visits:
                out = visits.copy()
            node = int(np.flatnonzero(broken.any(axis=0))[0])
            trial = not_over.copy()
            trial[:, node] = over[:, node]
            now, then = (cheapest(self.barred(arcs, bars)) for bars in (not_over, trial))
            dearer = then[1] - now[1]
            for r in np.flatnonzero(broken[:, node]):
                end = self.first[r + 1] if r + 1 < len(self.first) else len(self.members)
                mine = np.arange(self.first[r], end)
                mine = mine[over[mine, node]]
                less = mine[np.argsort(dearer[mine], kind="stable")][: len(mine) - int(self.most[r])]
                if not np.isfinite(dearer[less]).all():
                    return None
                not_over[less, node] = True
                out[self.members[less]] = then[0][less]


def cheapest(arcs: Floats) -> tuple[Bools, Floats]:
    """Each place's cheapest visits (P, K+2) in arcs (P, K+1, K+2), and their costs (P,): inf where it has no path."""
    turned = np.ascontiguousarray(np.moveaxis(arcs, 0, 2))
    turned[np.arange(turned.shape[0])[:, None] >= np.arange(turned.shape[1])[None, :]] = np.inf
    reach = paths.forward(turned)
    visits = np.ascontiguousarray(paths.trace(turned, reach).T)
    visits[:, [0, -1]] = False
    return visits, reach[-1]
