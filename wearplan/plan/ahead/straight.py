"""Costs of rings between two that were worked out, read on a straight line between them.

Late tools, chances and wear grow smoothly along the drive: over the dozen metres between two such rings they run
straight (`rings.APART_M`; tests hold what is read against what is worked out). So arrays grow with the rings that a
plan turns on, not with all rings there are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .intervals import Intervals

GROWING = ("over", "late_chance", "passes", "late_cost", "mean_wear_mm")


@dataclass(frozen=True)
class Lines:
    """For K nodes, the nodes worked out on either side of each and how far it lies from the first to the second."""

    low: NDArray[np.intp]
    high: NDArray[np.intp]
    """The same as ``low`` for a node that was worked out itself."""
    theta: NDArray[np.float64]

    def table(self, known: NDArray, *, start: float) -> NDArray:
        """(K-1, K) from (N+1, N+2), of which ``start`` is the value an arc of no length has."""
        full = np.array(known, dtype=float)
        np.fill_diagonal(full, start)
        s, t, here = slice(None, -1), slice(None), self.theta
        rows = (1.0 - here[s, None]) * full[self.low[s]] + here[s, None] * full[self.high[s]]
        out = (1.0 - here[None, t]) * rows[:, self.low] + here[None, t] * rows[:, self.high]
        same = (self.low[s, None] == self.low[None, t]) & (self.high[s, None] == self.high[None, t])
        a, b = np.nonzero(same & (self.theta[s, None] < self.theta[None, t]))
        out[a, b] = start + (here[b] - here[a]) * (full[self.low[a], self.high[b]] - start)
        count = len(here)
        out[np.arange(count - 1)[:, None] >= np.arange(count)[None, :]] = 0.0
        return np.asarray(out)

    def over(self, known: NDArray) -> NDArray:
        """The same for a stack of growing tables (P, N+1, N+2)."""
        return np.stack([self.table(each, start=0.0) for each in known]).astype(known.dtype)

    def read(self, inter: Intervals, node_m: NDArray[np.float64]) -> Intervals:
        """Every interval between the K nodes at ``node_m``."""
        fitted = inter.tool_cost[:, 1, 2] if inter.tool_cost.shape[1] > 2 else inter.tool_cost[:, 0, 1]
        tools = np.stack([self.table(each, start=s) for each, s in zip(inter.tool_cost, fitted, strict=True)])
        growing: dict[str, Any] = {name: self.over(getattr(inter, name)) for name in GROWING}
        look = self.table(inter.look_cost, start=0.0)
        return replace(inter, node_m=node_m, tool_cost=tools, look_cost=look, **growing)
