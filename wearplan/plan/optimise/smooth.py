"""Prices by smoothed sweeps: every shortest path is replaced by an average over all paths, those near the best most.

With a path of cost c weighing ``exp(-c / temperature)``, the bound becomes a smooth concave function of the prices, and
setting the prices of one stop to their best after another cannot stick as the plain sweep does: the limit is the best
bound of the smoothed problem (smoothing of a maximum: Nesterov 2005, Mathematical Programming 103:127; sweeps with a
temperature that falls: Meshi, Jaakkola & Globerson 2012, NIPS 25; references from memory). The smoothed bound lies
below the best by at most about ``temperature * places * ln(paths near the best)``, so that the temperature is lowered
in steps. The bound kept is always the plain one at the prices found, which is true whatever they are.

At the best prices of a stop all that pay one visit it equally often, which is how far the stop is open: the fraction
an LP would give. The plans and the branching start from these.
"""

from __future__ import annotations

import numpy as np

from . import paths
from .prices import Priced
from .problem import Floats
from .result import Watch

FAR = 10.0
"""Temperatures a price may want to move at a time; keeps all weights within floating point."""
LEAST, MOST = float(np.exp(-FAR)), float(np.exp(FAR))
MOMENTUM = 0.8


class Smoothed:
    """Weights of all arcs at one temperature and the prices they were made with."""

    def __init__(self, priced: Priced, temperature: float) -> None:
        self.priced, self.temperature = priced, temperature
        self.opening = np.zeros(priced.nodes.size)  # money at which each stop's prices are level
        self.see_costs()
        self.per_payer = 1.0 / np.arange(1, priced.arcs.shape[2] + 1)

    def see_costs(self) -> None:
        """Look up what each stop costs, and which have prices to set."""
        self.cost = self.priced.full_cost()
        self.free = ~self.priced.opened & (self.cost > 0.0)

    def opened(self) -> Floats:
        """(K+2,) how far each stop is open, 0 to 1."""
        level = np.clip(self.opening / self.temperature, -50.0, 50.0)
        return np.asarray(np.where(self.free, 1.0 / (1.0 + np.exp(-level)), 1.0))

    def build(self) -> bool:
        """Weigh the arcs at the present prices, the best path to each node with 1; False where some place has no path
        at all.
        """
        priced = self.priced
        toll, arcs = priced.prices, priced.arcs
        reach = paths.forward(arcs, toll)
        total = float(reach[-1].sum())
        if not np.isfinite(total):
            priced.bound = np.inf
            return False
        priced.bound = max(priced.bound, total + float(priced.terms().sum()) + priced.ties.constant())
        level = np.where(np.isfinite(reach), reach, 0.0) - toll
        self.weight = np.empty_like(arcs)  # only arcs forward are ever looked at
        self.scale = np.ones_like(reach)  # of each node, since the prices the weights were made with
        self.onward = np.zeros_like(reach)  # weight of all ways on from each node, its own price left out
        self.onward[-1] = 1.0
        for s in range(reach.shape[0] - 2, -1, -1):
            row = self.weight[s, s + 1 :]
            np.subtract(level[s + 1 :], arcs[s, s + 1 :], out=row)
            row -= reach[s]
            row *= 1.0 / self.temperature
            np.exp(row, out=row)
            np.einsum("tp,tp->p", row, self.onward[s + 1 :], out=self.onward[s])
        return True

    def _set(self, k: int, through: Floats, avoid: Floats) -> None:
        """New prices for stop k, of which these (P,) weights of each place pass by it and do not."""
        prices, t = self.priced.prices, self.temperature
        wanted = through / avoid
        np.maximum(wanted, LEAST, out=wanted)
        np.minimum(wanted, MOST, out=wanted)
        np.log(wanted, out=wanted)
        wanted *= t
        wanted += prices[k]
        rising = wanted.copy()
        rising.sort()
        level = rising[::-1].cumsum()
        level -= self.cost[k]
        level *= self.per_payer
        most = level.max()
        wanted -= most
        np.maximum(wanted, 0.0, out=wanted)
        self.opening[k] = most
        np.subtract(prices[k], wanted, out=rising)
        rising *= 1.0 / t
        np.exp(rising, out=rising)
        self.scale[k] *= rising
        prices[k] = wanted

    def along(self) -> None:
        """Along the drive once."""
        last = self.scale.shape[0] - 1
        self.reach = np.zeros_like(self.scale)
        self.reach[0] = 1.0
        total = self.onward[0].copy()
        for n in range(1, last):
            into = np.einsum("sp,sp->p", self.reach[:n], self.weight[:n, n])
            if self.free[n]:
                total = self._one(n, into * self.onward[n], total)
            np.multiply(into, self.scale[n], out=self.reach[n])
        np.einsum("sp,sp->p", self.reach[:last], self.weight[:last, last], out=self.reach[last])

    def back(self) -> None:
        """And back."""
        last = self.scale.shape[0] - 1
        total = self.reach[last].copy()
        paid = np.ones_like(self.scale)  # onward with the price of the node itself
        for n in range(last - 1, 0, -1):
            np.einsum("tp,tp->p", self.weight[n, n + 1 :], paid[n + 1 :], out=self.onward[n])
            if self.free[n]:
                total = self._one(n, self.reach[n] / self.scale[n] * self.onward[n], total)
            np.multiply(self.onward[n], self.scale[n], out=paid[n])
        np.einsum("tp,tp->p", self.weight[0, 1:], paid[1:], out=self.onward[0])

    def _one(self, n: int, free: Floats, total: Floats) -> Floats:
        """Set the prices of node n, ``free`` being the weight of all paths by it without its price; gives the new
        total.
        """
        through = free * self.scale[n]
        avoid = total - through
        np.maximum(avoid, 1e-14 * total, out=avoid)
        self._set(n, through, avoid)
        free *= self.scale[n]
        free += avoid
        return free


def levelled(wanted: Floats, cost: Floats) -> Floats:
    """(K, P) prices >= 0 nearest to those wanted, each row with the sum ``cost`` (K,) > 0."""
    falling = -np.sort(-wanted, axis=1)
    level = ((falling.cumsum(axis=1) - cost[:, None]) / np.arange(1, wanted.shape[1] + 1)).max(axis=1)
    return np.asarray(np.maximum(wanted - level[:, None], 0.0))


def smooth(priced: Priced, temperature: float, times: int, watch: Watch) -> None:
    """Sweep ``times`` times along and back at a temperature (money); changes the prices, raises ``priced.bound`` where
    they are better, and leaves in ``priced.weight`` how far each stop is open.

    Before each sweep but the first the prices go on some way in the direction of the last one.
    """
    smoothed = Smoothed(priced, temperature)
    before: Floats | None = None
    for turn in range(times):
        if turn and priced.ties.nu.size:
            priced.ties.move_budgets(priced.stops, smoothed.opened()[1:-1])
            smoothed.see_costs()
        free, now = smoothed.free, priced.prices.copy()
        if free.any():
            # To the sum their stop costs: a sweep moves prices only so far.
            onward = 0.0 if before is None else MOMENTUM * (now - before)[free]
            priced.prices[free] = levelled(now[free] + onward, smoothed.cost[free])
        before = now
        if not smoothed.build():
            return
        smoothed.along()
        smoothed.back()
        if not np.isfinite(priced.prices).all():  # beyond floating point after all: as before
            priced.prices[:] = now
            break
        if watch.over():
            break
    priced.weight = smoothed.opened()
