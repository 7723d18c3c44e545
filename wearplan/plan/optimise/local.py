"""Good plans by adding, dropping and shifting stops, each move costed exactly in the path model.

For a set of open stops the forward and backward paths of all places give the exact cost of every single addition and
removal at once. Forbidden intervals and overdrawn budgets carry a large penalty here, so that the search can start
from a set that breaks them.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from . import paths
from .problem import Bools, Floats, Problem
from .result import Watch


class Search:
    """Local search over sets of open stops.

    ``extra`` (N+2,) is added to stop costs: the priced share of budgets.
    """

    def __init__(self, problem: Problem, *, extra: Floats | None = None) -> None:
        self.problem = problem
        self.cost = problem.stop_cost if extra is None else problem.stop_cost + extra
        arcs = problem.arcs
        upper = np.arange(problem.end)[:, None] < np.arange(problem.end + 1)[None, :]
        finite = np.isfinite(arcs)
        size = float(np.max(np.abs(arcs), where=finite, initial=1.0))
        self.much = 50.0 * (size + float(np.abs(self.cost).max(initial=0.0)))
        blocked = ~finite & upper[:, :, None]
        if blocked.any():
            arcs = np.where(blocked, self.much, arcs)
        self.arcs = arcs
        self.within = problem.allowed  # (N+2,) stops worth opening
        self.chance = np.random.default_rng(1)

    def _over_budget(self, opened: Bools) -> float:
        return sum(max(0.0, float(b.weight[opened].sum()) - b.at_most) for b in self.problem.budgets)

    def _over_if_added(self, opened: Bools) -> Floats:
        over = np.zeros(self.problem.end + 1)
        for b in self.problem.budgets:
            over += np.maximum(0.0, float(b.weight[opened].sum()) + b.weight - b.at_most)
        return over

    def _split(self, opened: Bools) -> tuple[np.ndarray, Floats, Floats, Floats]:
        nodes = self.problem.nodes(np.flatnonzero(opened))
        arcs = self.arcs[np.ix_(nodes[:-1], nodes)]
        return nodes, arcs, paths.forward(arcs), paths.backward(arcs)

    def value(self, opened: Bools) -> float:
        """Cost of a set of stops, with the penalties."""
        nodes = self.problem.nodes(np.flatnonzero(opened))
        reach = paths.forward(self.arcs[np.ix_(nodes[:-1], nodes)])
        return float(reach[-1].sum() + self.cost[opened].sum()) + self.much * self._over_budget(opened)

    def _adding(self, opened: Bools, split: tuple[np.ndarray, Floats, Floats, Floats]) -> Floats:
        """(N+2,) cost with each stop added; ``inf`` where it is open or not allowed."""
        nodes, _, reach, rest = split
        free = np.flatnonzero(self.within & ~opened)
        result = np.full(self.problem.end + 1, np.inf)
        if free.size == 0:
            return result
        into = np.full((free.size, reach.shape[1]), np.inf)
        out = into.copy()
        for k, s in enumerate(nodes[:-1]):
            later = np.searchsorted(free, s, side="right")
            np.minimum(into[later:], self.arcs[s, free[later:]] + reach[k], out=into[later:])
        for k, t in enumerate(nodes[1:], start=1):
            sooner = np.searchsorted(free, t, side="left")
            np.minimum(out[:sooner], self.arcs[free[:sooner], t] + rest[k], out=out[:sooner])
        total = np.minimum(into + out, reach[-1]).sum(axis=1)
        result[free] = total + self.cost[opened].sum() + self.cost[free] + self.much * self._over_if_added(opened)[free]
        return result

    def _dropping(self, opened: Bools, split: tuple[np.ndarray, Floats, Floats, Floats]) -> Floats:
        """(N+2,) cost with each stop dropped; ``inf`` where it is closed or required."""
        nodes, arcs, reach, rest = split
        avoid = paths.avoiding(arcs, reach, rest)[1:-1].sum(axis=1)
        result = np.full(self.problem.end + 1, np.inf)
        for k, n in enumerate(nodes[1:-1]):
            if not self.problem.required[n]:
                less = opened.copy()
                less[n] = False
                result[n] = avoid[k] + self.cost[less].sum() + self.much * self._over_budget(less)
        return result

    def improve(self, stops: Iterable[int], watch: Watch, *, shifts: bool = True) -> tuple[tuple[int, ...], float]:
        """Add, drop and (``shifts``) move stops while that lowers the cost; gives the stops and their cost with
        penalties.
        """
        opened = self.problem.required.copy()
        opened[list(stops)] = True
        opened &= self.problem.allowed
        best = self.value(opened)
        while not watch.over():
            split = self._split(opened)
            add, drop = self._adding(opened, split), self._dropping(opened, split)
            least = best - 1e-9 * max(1.0, abs(best))
            if min(add.min(initial=np.inf), drop.min(initial=np.inf)) < least:
                moves = add if add.min() < drop.min() else drop
                opened[int(moves.argmin())] ^= True
                best = float(moves.min())
                continue
            move = self._shift(opened, least, watch) if shifts else None
            if move is None:
                break
            opened[move[0]], opened[move[1]], best = False, True, move[2]
        return tuple(int(n) for n in np.flatnonzero(opened)), best

    def kicked(self, stops: tuple[int, ...], likely: Floats) -> tuple[int, ...]:
        """A set of stops with one stretch drawn anew: its stops closed, others opened as often as they look
        ``likely`` (N+2,).
        """
        if not stops:
            return stops
        opened = self.problem.at(stops)
        length = int(self.chance.integers(2, 5))
        first = int(self.chance.integers(0, max(1, len(stops) - length + 1)))
        cut = stops[first : first + length]
        before = stops[first - 1] if first else 0
        after = stops[first + length] if first + length < len(stops) else self.problem.end
        inside = self.problem.at(range(before + 1, after))
        opened[list(cut)] = False
        choices = np.flatnonzero(inside & self.within)
        if choices.size:
            odds = likely[choices] + 0.02
            take = self.chance.choice(choices, min(len(cut), choices.size), replace=False, p=odds / odds.sum())
            opened[take] = True
        opened |= self.problem.required
        return tuple(int(n) for n in np.flatnonzero(opened))

    def _shift(self, opened: Bools, least: float, watch: Watch) -> tuple[int, int, float] | None:
        """The first stop, in a chance order, that does better elsewhere: (from, to, cost)."""
        for out in self.chance.permutation(np.flatnonzero(opened & ~self.problem.required)):
            if watch.over():
                break
            less = opened.copy()
            less[out] = False
            add = self._adding(less, self._split(less))
            add[out] = np.inf
            if add.min() < least:
                return int(out), int(add.argmin()), float(add.min())
        return None
