"""Lower bounds by prices on the linking rows "a place is served only where the stop is open".

Every place pays a price at every stop, and a stop opens once its prices exceed its cost. For any prices

    bound = base + sum over places of the shortest path with prices + sum over stops of min(0, cost - sum of prices)

is a lower bound (Lagrangian duality; Geoffrion 1974, Mathematical Programming Study 2:82). `sweep` betters them: stop
by stop, along the drive and back, the prices of one stop are set to their exact best given all others (block
coordinate ascent on the min-marginals, as in message passing for LP relaxations: Globerson & Jaakkola 2007, NIPS 20).
Fast and monotone, but it may stick below the best bound; `smooth` goes on where it sticks.

(References from memory.)

`penalties` says what forcing a stop open or closed does to the bound; what reaches the best known cost is fixed for
good.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from . import paths
from .problem import Bools, Floats, Problem
from .result import Watch
from .ties import Ties


@dataclass
class Priced:
    """What is left of the problem at some fixing of stops, with its prices.

    ``nodes`` (K+2,) are now, the stops not closed and the end, ``opened`` (K+2,) those already fixed open, now and the
    end among them (their prices are 0), ``arcs`` (K+1, K+2, P) the arcs between them, ``cost`` (K+2,) their plain
    costs, ``prices`` (K+2, P) what each place pays on arriving.
    """

    nodes: np.ndarray
    arcs: Floats
    cost: Floats
    opened: Bools
    prices: Floats
    ties: Ties
    bound: float = -np.inf
    weight: Floats | None = None  # (K+2,) how far open each stop is in the smoothed sweeps

    @property
    def stops(self) -> np.ndarray:
        """(K,) the stops not closed."""
        return self.nodes[1:-1]

    def where(self, some: Bools) -> tuple[int, ...]:
        """Those of the stops for which ``some`` (K+2,) is true."""
        return tuple(int(n) for n in self.stops[some[1:-1]])

    def full_cost(self) -> Floats:
        """(K+2,) cost of each stop with the multipliers' share."""
        return self.cost + self.ties.stop_terms(self.nodes) if self.ties.any else self.cost

    def terms(self) -> Floats:
        """(K+2,) what each stop adds to the bound."""
        spare = self.full_cost() - self.prices.sum(axis=1)
        return np.asarray(np.where(self.opened, spare, np.minimum(spare, 0.0)))

    def without(self, closed: Bools, also_open: Bools) -> Priced:
        """Close some stops and open others for good."""
        at = np.flatnonzero(~closed)
        opened = (self.opened | also_open)[at]
        prices = self.prices[at]
        prices[opened] = 0.0
        arcs = self.arcs[np.ix_(at[:-1], at)] if closed.any() else self.arcs
        weight = None if self.weight is None else self.weight[at]
        return Priced(self.nodes[at], arcs, self.cost[at], opened, prices, self.ties.copy(), self.bound, weight)


def start_prices(problem: Problem) -> Priced:
    """Every allowed stop in, its cost shared equally among the places."""
    nodes = problem.nodes(np.flatnonzero(problem.allowed))
    arcs = problem.arcs[np.ix_(nodes[:-1], nodes)] if problem.forbidden else problem.arcs
    cost = problem.stop_cost[nodes]
    opened = problem.required[nodes]
    opened[[0, -1]] = True
    prices = np.repeat(np.maximum(cost, 0.0)[:, None] / problem.places, problem.places, axis=1)
    prices[opened] = 0.0
    return Priced(nodes, arcs, cost, opened, prices, Ties(problem))


def share_out(wanted: Floats, cost: float) -> Floats:
    """Prices >= 0 with sum ``cost`` that leave every payer the same distance from what it would pay: max(wanted - c,
    0).
    """
    if cost <= 0.0:
        return np.zeros_like(wanted)
    wanted = np.fmin(np.fmax(wanted, -cost), cost)  # no number, where neither way is left, counts as unwanted
    rising = wanted.copy()
    rising.sort()
    # Level with the first so many payers only; the right number gives the highest.
    level = ((rising[::-1].cumsum() - cost) / _count(wanted.size)).max()
    return np.asarray(np.maximum(wanted - level, 0.0))


@lru_cache(maxsize=8)
def _count(size: int) -> Floats:
    return np.arange(1.0, size + 1.0)


def sweep(priced: Priced, times: int, watch: Watch) -> None:
    """Go along the drive and back ``times`` times, setting each stop's prices to their best; raises
    ``priced.bound``.
    """
    cost = priced.full_cost()
    rest = paths.backward(priced.arcs, priced.prices)
    for _ in range(times):
        reach = _along(priced, cost, rest)
        rest, total = _back(priced, cost, reach)
        # A place without any path: nothing is left at this fixing.
        bound = total + float(priced.terms().sum()) + priced.ties.constant() if np.isfinite(total) else np.inf
        priced.bound = max(priced.bound, bound)
        if watch.over():
            return


def _along(priced: Priced, cost: Floats, rest: Floats) -> Floats:
    arcs, prices, last = priced.arcs, priced.prices, priced.nodes.size - 1
    onward = rest + prices
    reach = np.empty_like(prices)
    reach[0] = 0.0
    passing = arcs[0] + onward  # cheapest way to each node past all stops seen so far
    for n in range(1, last):
        into = np.minimum.reduce(reach[:n] + arcs[:n, n], axis=0)
        if not priced.opened[n]:
            with np.errstate(invalid="ignore"):
                wanted = np.minimum.reduce(passing[n + 1 :], axis=0) - (into + rest[n])
            prices[n] = share_out(wanted, cost[n])
        reach[n] = into + prices[n]
        np.minimum(passing[n + 1 :], reach[n] + arcs[n, n + 1 :] + onward[n + 1 :], out=passing[n + 1 :])
    reach[last] = passing[last]
    return reach


def _back(priced: Priced, cost: Floats, reach: Floats) -> tuple[Floats, float]:
    arcs, prices, last = priced.arcs, priced.prices, priced.nodes.size - 1
    rest = np.empty_like(prices)
    onward = np.empty_like(prices)
    rest[last] = onward[last] = 0.0
    passing = reach[:last] + arcs[:, last]
    for n in range(last - 1, 0, -1):
        rest[n] = np.minimum.reduce(arcs[n, n + 1 :] + onward[n + 1 :], axis=0)
        if not priced.opened[n]:
            through = reach[n] - prices[n] + rest[n]
            with np.errstate(invalid="ignore"):
                wanted = np.minimum.reduce(passing[:n], axis=0) - through
            prices[n] = share_out(wanted, cost[n])
        onward[n] = rest[n] + prices[n]
        np.minimum(passing[:n], reach[:n] + arcs[:n, n] + onward[n], out=passing[:n])
    rest[0] = passing[0]
    return rest, float(rest[0].sum())


@dataclass(frozen=True)
class Penalties:
    """The bound at these prices, and what it becomes with each stop forced open or forced closed; (K+2,) each."""

    bound: float
    if_open: Floats
    if_closed: Floats
    reach: Floats
    onward: Floats
    arcs: Floats


def penalties(priced: Priced) -> Penalties:
    """Bounds with each stop open or closed, from forward and backward paths at the present prices."""
    toll, arcs = priced.prices, priced.arcs
    reach = paths.forward(arcs, toll)
    onward = paths.backward(arcs, toll) + toll
    avoid = paths.avoiding(arcs, reach, onward)
    with np.errstate(invalid="ignore"):
        through = reach + onward - toll - toll
    terms = priced.terms()
    base = float(terms.sum()) + priced.ties.constant()
    total = float(reach[-1].sum()) + base
    priced.bound = max(priced.bound, total)
    others = base - terms
    if_open = others + priced.full_cost() + np.minimum(avoid, through).sum(axis=1)
    return Penalties(total, if_open, others + avoid.sum(axis=1), reach, onward, arcs)


def arcs_within(found: Penalties, threshold: float) -> Bools:
    """(K+1, K+2, P) arcs whose use does not lift the bound to ``threshold``."""
    spare = threshold - found.bound
    return np.asarray(found.reach[:-1, None, :] + found.arcs + found.onward[None, :, :] - found.reach[-1] < spare)
