"""Prices for the neighbour step: the part of it that two paths can be charged for.

If b is served at an open stop n and has no wear left, its neighbour a must be served there too or have no more than
the step of wear:

    (a passes n with more than the step of wear) + (b is served at n) <= 1

for every stop n, open or not, and for both ways round. It holds for every plan of the full model, so that a
multiplier eta >= 0 on it keeps the bound a bound: a's intervals past n and b's visit of n each pay eta, and the bound
loses eta. Two neighbours that both stay and differ too much are not covered.
"""

from __future__ import annotations

import numpy as np

from .problem import Bools, Floats, Problem


class Pairs:
    """Both directions of every neighbour rule: ``worn`` (D,) passes, ``served`` (D,) is served; ``clash`` (D, N+1,
    N+2).
    """

    def __init__(self, problem: Problem) -> None:
        worn, served, clash = [], [], []
        s = np.arange(problem.stops + 1)[:, None]
        n = np.arange(problem.stops + 2)[None, :]
        inner = (s < n) & (n <= problem.stops)
        for rule in problem.neighbours:
            for i, (a, b) in enumerate(((rule.first, rule.second), (rule.second, rule.first))):
                worn.append(a)
                served.append(b)
                clash.append((rule.wear_mm[i] > rule.step_mm + 1e-9) & inner)
        self.worn = np.array(worn, dtype=np.intp)
        self.served = np.array(served, dtype=np.intp)
        self.clash = np.array(clash)
        self.stops = problem.stops

    def among(self, ids: np.ndarray) -> Bools:
        """(D, K+1, K+2) ``clash`` among some stops (stop - 1) and both ends."""
        nodes = np.concatenate(([0], ids + 1, [self.stops + 1]))
        return np.asarray(self.clash[:, nodes[:-1][:, None], nodes[None, :]])

    def charge(self, arcs: Floats, clash: Bools, eta: Floats) -> Floats:
        """Arcs (K+1, K+2, P) with what the worn ones pay for passing stops; ``eta`` is (D, K)."""
        active = np.flatnonzero(eta.any(axis=1))
        if not active.size:
            return arcs
        charged = arcs.copy()
        paid = np.zeros((active.size, *arcs.shape[:2]))
        paid[:, :, 1:-1] = clash[active][:, :, 1:-1] * eta[active][:, None, :]
        passed = np.cumsum(paid, axis=2) - paid
        who, which = np.unique(self.worn[active], return_inverse=True)
        total = np.zeros((who.size, *arcs.shape[:2]))
        for k, at in enumerate(which):
            total[at] += passed[k]
        charged[:, :, who] += np.moveaxis(total, 0, 2)
        return charged

    def tolls(self, eta: Floats, places: int) -> Floats:
        """(K, P) what the served ones pay."""
        toll = np.zeros((places, eta.shape[1]))
        np.add.at(toll, self.served, eta)
        return toll.T

    def excess(self, visits: Bools, clash: Bools) -> Floats:
        """(D, K) how far each condition is broken (1), just kept (0) or slack (-1); ``visits`` is (K, P)."""
        stops, places = visits.shape
        last = np.zeros(places, dtype=np.intp)
        over = np.empty((self.worn.size, stops))
        which = np.arange(self.worn.size)
        for k in range(stops):
            passing = ~visits[k, self.worn] & clash[which, last[self.worn], k + 1]
            over[:, k] = passing.astype(float) + visits[k, self.served] - 1.0
            last[visits[k]] = k + 1
        return over
