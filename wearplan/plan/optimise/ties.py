"""Prices of what ties stops together, budgets, and what the bound loses by the prices of rows.

Every budget has a multiplier nu >= 0: every open stop pays ``nu * weight``, the bound loses ``nu * at_most``; for any
nu the priced problem is a lower bound. The prices of rows are part of the arcs (see `rowprices`).
"""

from __future__ import annotations

import numpy as np

from .problem import Floats, Problem


class Ties:
    """The multipliers and what they do to stop costs; ``stops`` (K,) and ``nodes`` select from all nodes."""

    def __init__(self, problem: Problem) -> None:
        self.weights = np.array([b.weight for b in problem.budgets]).reshape(len(problem.budgets), problem.end + 1)
        self.at_most = np.array([b.at_most for b in problem.budgets])
        self.nu = np.zeros(len(problem.budgets))
        usual = float(np.abs(problem.stop_cost[1:-1]).mean()) if problem.stops else 0.0
        self.stride = np.full(len(problem.budgets), 0.2 * usual)
        self.last_over = np.zeros(len(problem.budgets))
        self.lost = 0.0  # of the bound by the prices of rows, which are in the arcs

    @property
    def any(self) -> bool:
        """True where there is anything to price."""
        return bool(self.nu.size)

    def move_budgets(self, stops: np.ndarray, opened: Floats) -> None:
        """Raise the multipliers of budgets overdrawn by stops open this far (K,), lower the others: strides that grow
        while the sign stays and shrink where it turns (Riedmiller & Braun 1993, IEEE ICNN 586, from memory).
        """
        over = self.weights[:, stops] @ opened - self.at_most
        turned = over * self.last_over
        self.stride = self.stride * np.where(turned < 0, 0.5, np.where((turned > 0) & (self.nu > 0), 1.3, 1.0))
        unit = np.maximum(self.weights[:, stops].mean(axis=1), 1e-9) if stops.size else np.ones_like(over)
        self.nu = np.maximum(self.nu + np.sign(over) * self.stride / unit, 0.0)
        self.last_over = over

    def stop_terms(self, nodes: np.ndarray) -> Floats:
        """What is added to the cost of each of these nodes where it is an open stop."""
        return np.asarray(self.nu @ self.weights[:, nodes]) if self.nu.size else np.zeros(nodes.size)

    def constant(self) -> float:
        """Added to the bound once."""
        return -self.lost - float(self.nu @ self.at_most)

    def copy(self) -> Ties:
        """The same multipliers, free to move apart."""
        twin = object.__new__(Ties)
        twin.__dict__.update(self.__dict__)
        twin.nu, twin.stride, twin.last_over = self.nu.copy(), self.stride.copy(), self.last_over.copy()
        return twin
