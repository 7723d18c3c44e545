"""Which stop to branch on: by what closing and opening it does to the bound in a short trial."""

from __future__ import annotations

import numpy as np

from . import prices
from .prices import Penalties, Priced
from .problem import Problem
from .result import Watch
from .smooth import smooth

PATIENCE = 3  # trials in a row without a better one
TRIALS = 8  # stops tried before branching on one
WARM = 0.2  # temperature, as a share of what is left to prove on average for each place


class Trials:
    """Remembers how well each stop did in earlier trials."""

    def __init__(self, problem: Problem) -> None:
        self.places = problem.places
        self.rises, self.made = np.zeros(problem.end + 1), np.zeros(problem.end + 1)

    def children(self, priced: Priced, found: Penalties, threshold: float, watch: Watch) -> tuple[Priced, Priced]:
        """The node with one stop closed and with it open: the stop that lifts both bounds most in a short trial.

        Stops little decided are tried, first those that did well in earlier trials, until some in a row do no better.
        """
        left = max(threshold - priced.bound, 0.0) if np.isfinite(threshold) else 0.1 * abs(priced.bound)
        rank = np.minimum(found.if_open, found.if_closed) - found.bound
        if priced.weight is not None:
            rank = rank + np.minimum(priced.weight, 1.0 - priced.weight) * left
        rank /= max(left, 1e-12) * 1e3
        known = self.made[priced.nodes] > 0
        usual = self.rises.sum() / max(1.0, self.made.sum())
        rank += np.where(known, self.rises[priced.nodes] / np.maximum(self.made[priced.nodes], 1.0), usual)
        rank[priced.opened] = -np.inf
        best, score, idle = None, -np.inf, 0
        for k in np.argsort(-rank)[:TRIALS]:
            if best is not None and (rank[k] == -np.inf or idle >= PATIENCE or watch.over()):
                break
            at = np.arange(priced.nodes.size) == k
            pair = (priced.without(at, ~priced.opened & False), priced.without(at & False, at))
            for child, bound in zip(pair, (found.if_closed[k], found.if_open[k]), strict=True):
                child.bound = max(priced.bound, float(bound))
                if TRIALS > 1 and child.bound < threshold and not watch.over():
                    smooth(child, WARM * left / self.places, 1, watch)
                    prices.sweep(child, 1, watch)
            rise = [min(1.0, (child.bound - priced.bound) / max(left, 1e-12)) + 1e-3 for child in pair]
            value = float(np.sqrt(rise[0] * rise[1]))
            self.rises[priced.nodes[k]] += value
            self.made[priced.nodes[k]] += 1.0
            idle += 1
            if value > score:
                best, score, idle = pair, value, 0
            if max(rise) >= 1.0:
                break  # decided the other way
        assert best is not None
        return best
