"""Linear prices for conditions beyond the single path: budgets on stops, most changes a stop, whole entries.

Each condition gets a multiplier; for any multipliers the priced problem is a lower bound:

- budget, multiplier nu >= 0: every open stop pays ``nu * weight``, the bound loses ``nu * at_most``;
- most changes, lam_n >= 0: every visit of stop n pays lam_n, the open stop gets ``lam_n * most`` back;
- entries at k each, e >= 1 and e >= hours / hours_per_entry at an open stop: ``e >= (1 - a) + a * hours /
  hours_per_entry`` for any a_n in 0..1, so that part a of k is spread over the hours; a limit on entries adds omega
  >= 0 to k of those counted.

- neighbour step: see `pairs`;
- rows: see `rowprices`; their prices are part of the arcs, here is only what the bound loses by them.

Rounding up to whole entries, and neighbours that both stay, are not in the bound.
"""

from __future__ import annotations

import numpy as np

from .pairs import Pairs
from .problem import Bools, Floats, Problem


class Ties:
    """The multipliers and what they do to tolls and stop costs. Arrays are over all N stops; ``ids`` selects (stop -
    1).
    """

    def __init__(self, problem: Problem) -> None:
        stops = problem.stops
        self.weights = np.array([b.weight for b in problem.budgets]).reshape(len(problem.budgets), stops)
        self.at_most = np.array([b.at_most for b in problem.budgets])
        self.nu = np.zeros(len(problem.budgets))
        self.stride = np.full(len(problem.budgets), 0.2 * float(np.abs(problem.stop_cost).mean() if stops else 0.0))
        self.last_over = np.zeros(len(problem.budgets))
        most = problem.most_changes
        self.most = None if most is None else np.where(np.isfinite(most), most, problem.places).astype(float)
        self.lam = np.zeros(stops)
        self.entries = problem.entries
        self.alpha = np.full(stops, 0.5)
        self.omega = 0.0
        self.lost = 0.0  # of the bound by the prices of rows, which are in the arcs
        self.places = problem.places
        self.pairs = Pairs(problem) if problem.neighbours else None
        self.eta = np.zeros((0 if self.pairs is None else self.pairs.worn.size, stops))
        if self.entries is not None:
            self.share = (self.entries.change_hours / self.entries.hours_per_entry).T  # (N, P)
            self.fixed_share = self.entries.fixed_hours / self.entries.hours_per_entry
            # An entry that holds any work is one entry whatever is done: nothing to spread.
            self.alpha[~np.isfinite(self.entries.hours_per_entry)] = 0.0

    @property
    def any(self) -> bool:
        """True where there is anything to price."""
        return bool(self.nu.size) or self.most is not None or self.entries is not None or self.pairs is not None

    @property
    def tie_places(self) -> bool:
        """True where more than budgets is priced: those are moved between smoothed sweeps, the others by climbing."""
        return self.most is not None or self.entries is not None or self.pairs is not None

    def move_budgets(self, ids: np.ndarray, opened: Floats) -> None:
        """Raise the multipliers of budgets overdrawn by stops open this far (K,), lower the others: strides that grow
        while the sign stays and shrink where it turns (Riedmiller & Braun 1993, IEEE ICNN 586, from memory).
        """
        over = self.weights[:, ids] @ opened - self.at_most
        turned = over * self.last_over
        self.stride = self.stride * np.where(turned < 0, 0.5, np.where((turned > 0) & (self.nu > 0), 1.3, 1.0))
        unit = np.maximum(self.weights[:, ids].mean(axis=1), 1e-9) if ids.size else np.ones_like(over)
        self.nu = np.maximum(self.nu + np.sign(over) * self.stride / unit, 0.0)
        self.last_over = over

    def tolls(self, ids: np.ndarray) -> Floats | None:
        """(K, P) paid on every visit besides the place's own price, or None."""
        toll: Floats | None = None
        if self.most is not None:
            toll = np.broadcast_to(self.lam[ids][:, None], (ids.size, 1)).copy()
        if self.entries is not None:
            spread = (self.alpha * self._entry_cost())[ids][:, None] * self.share[ids]
            toll = spread if toll is None else toll + spread
        if self.pairs is not None:
            served = self.pairs.tolls(self.eta[:, ids], self.places)
            toll = served if toll is None else toll + served
        return toll

    def stop_terms(self, ids: np.ndarray) -> Floats:
        """(K,) added to the cost of each open stop."""
        terms = np.zeros(ids.size)
        if self.nu.size:
            terms += self.nu @ self.weights[:, ids]
        if self.most is not None:
            terms -= (self.lam * self.most)[ids]
        if self.entries is not None:
            whole = (1.0 - self.alpha) + self.alpha * self.fixed_share
            terms += (whole * self._entry_cost())[ids]
        return terms

    def constant(self, ids: np.ndarray) -> float:
        """Added to the bound once."""
        total = -self.lost
        if self.nu.size:
            total -= float(self.nu @ self.at_most)
        if self.entries is not None and np.isfinite(self.entries.at_most):
            total -= self.omega * self.entries.at_most
        return total - float(self.eta[:, ids].sum())

    def _entry_cost(self) -> Floats:
        assert self.entries is not None
        return np.asarray(self.entries.cost_per_entry + self.omega * self.entries.counted)

    def gradient(
        self, ids: np.ndarray, visits: Floats, opened: Floats, clash: Bools | None
    ) -> tuple[dict[str, Floats], float]:
        """Scaled steps uphill for the priced solution (visits (K, P), opened (K,)), and their part of the squared
        norm.
        """
        steps: dict[str, Floats] = {}
        norm = 0.0
        if self.nu.size:
            weight = self.weights[:, ids]
            over = weight @ opened - self.at_most
            scale = np.sqrt(10.0) / np.maximum(self.weights.mean(axis=1), 1e-9)
            norm += float(((over * scale) ** 2).sum())
            steps["nu"] = over * scale**2
        if self.most is not None:
            over = visits.sum(axis=1) - self.most[ids] * opened
            norm += float((np.where((self.lam[ids] <= 0) & (over < 0), 0.0, over) ** 2).sum())
            steps["lam"] = over
        if self.entries is not None:
            cost = np.maximum(self._entry_cost()[ids], 1e-9)
            used = (self.share[ids] * visits).sum(axis=1) + self.fixed_share[ids] * opened
            finite = np.isfinite(self.entries.hours_per_entry[ids])
            over = np.where(finite & (self._entry_cost()[ids] > 0), used - opened, 0.0)
            norm += float((over**2).sum())
            steps["alpha"] = over / cost
            if np.isfinite(self.entries.at_most):
                alpha = self.alpha[ids]
                count = self.entries.counted[ids] @ ((1.0 - alpha) * opened + alpha * used) - self.entries.at_most
                norm += 10.0 * float(count) ** 2
                steps["omega"] = np.array(10.0 * count)
        if self.pairs is not None and clash is not None:
            over = self.pairs.excess(visits > 0.5, clash)
            norm += float((np.where((self.eta[:, ids] <= 0) & (over < 0), 0.0, over) ** 2).sum())
            steps["eta"] = over
        return steps, norm

    def move(self, ids: np.ndarray, steps: dict[str, Floats], length: float) -> None:
        """Take a step uphill, kept within each multiplier's range."""
        if "nu" in steps:
            self.nu = np.maximum(self.nu + length * steps["nu"], 0.0)
        if "lam" in steps:
            self.lam[ids] = np.maximum(self.lam[ids] + length * steps["lam"], 0.0)
        if "alpha" in steps:
            self.alpha[ids] = np.clip(self.alpha[ids] + length * steps["alpha"], 0.0, 1.0)
        if "eta" in steps:
            self.eta[:, ids] = np.maximum(self.eta[:, ids] + length * steps["eta"], 0.0)
        if "omega" in steps:
            self.omega = max(0.0, self.omega + length * float(steps["omega"]))

    def copy(self) -> Ties:
        """The same multipliers, free to move apart."""
        twin = object.__new__(Ties)
        twin.__dict__.update(self.__dict__)
        twin.nu, twin.lam, twin.alpha = self.nu.copy(), self.lam.copy(), self.alpha.copy()
        twin.eta = self.eta.copy()
        twin.stride, twin.last_over = self.stride.copy(), self.last_over.copy()
        return twin
