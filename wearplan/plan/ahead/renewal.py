"""Tools that pass their damage limit between two stops are changed there, and so are those that follow them.

With q(s, x) the chance that a tool fitted at s has passed its damage limit by x, a stretch from s to t costs

    R(s, t) = integral from s to t of dq(s, x) (fee(x) + R(x, t)),

the renewal equation (Barlow & Proschan 1965, Mathematical Theory of Reliability, ch. 3) for ground that changes along
the way. Renewals start anywhere, not only where the drive may stop: R is worked out from the points of a mesh of its
own, last point first, and read between them on a line. The fee has two parts, one a passing (counted in ``passes``) and
one that depends on the place (the hours of a forced stop there). The life left at the end of the drive follows the same
way: W(s) = left(s) + integral of dq(s, x) W(x), left(s) that of a tool fitted at s which never passes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearplan.site.records import Stops

from .terms import unplanned_hours
from .tools import Ahead

Floats = NDArray[np.float64]

A_LIFE = 24
"""Points a mean life of the quickest place."""
MOST = 90


def mesh_of_renewals(ahead: Ahead, mesh: Floats) -> NDArray[np.intp]:
    """Indices of the points of the mesh (F,) from which renewals are worked out: the first, the last, and between them
    about `A_LIFE` a mean life, evenly in the wear of the place that wears quickest.
    """
    potential = ahead.at(np.asarray(ahead.outlook.potential_mm).mean(axis=0), mesh)
    lives = potential / ahead.damage_limit_mm[:, None]
    if not len(lives) or len(mesh) < 3:
        return np.arange(len(mesh), dtype=np.intp)
    quickest = np.asarray(lives[int(np.argmax(lives[:, -1]))], float)
    count = int(np.clip(np.ceil(A_LIFE * quickest[-1]), 12, MOST))
    # Half by wear, half by metres, so that neither a hard stretch nor a soft one is left without points.
    along = 0.5 * quickest / max(float(quickest[-1]), 1e-9) + 0.5 * (mesh - mesh[0]) / max(mesh[-1] - mesh[0], 1e-9)
    picks = np.searchsorted(along, np.linspace(0.0, along[-1], count + 1))
    return np.unique(np.clip(np.append(picks, [0, len(mesh) - 1]), 0, len(mesh) - 1)).astype(np.intp)


def forced_between(stops: Stops | None, x: Floats) -> Floats:
    """(K,) cost of a forced stop on each stretch between the points x (K + 1,): where rows meet the dearer one, where
    there is none that of `unplanned_hours`, averaged over a stretch of which only a part is covered.
    """
    cost, covered = np.zeros(max(len(x) - 1, 0)), np.zeros(max(len(x) - 1, 0))
    if stops is None:
        return cost
    stand = stops.costs.standstill_per_hour
    for row in stops.forced_stops:
        cover = np.clip(np.minimum(x[1:], row.to_m) - np.maximum(x[:-1], row.from_m), 0.0, None)
        cover = cover / np.maximum(np.diff(x), 1e-9)
        cost = np.maximum(cost, row.hours * stand * cover)
        covered = np.maximum(covered, cover)
    return np.asarray(cost + np.clip(1.0 - covered, 0.0, 1.0) * unplanned_hours(stops) * stand)


@dataclass(frozen=True, kw_only=True)
class Renewal:
    """R and W of one place from every point of the mesh of renewals (M,) to every node (T,)."""

    node: NDArray[np.intp]
    """(T,) index of each node in the mesh of F points."""
    low: NDArray[np.intp]
    """(F - 1,) the point of the mesh of renewals below the middle of each gap, where a passing starts the next tool."""
    part: Floats
    """(F - 1,) how far that middle lies towards the next point, 0 to 1."""
    forced: Floats
    """(F - 1,) cost of the forced stop on each gap."""
    passes: Floats
    """(M, T)"""
    hours: Floats
    """(M, T)"""
    left: Floats
    """(M,)"""

    @classmethod
    def of(
        cls, mesh: Floats, node: NDArray[np.intp], renewed: NDArray[np.intp], q: Floats, left: Floats, forced: Floats
    ) -> Renewal:
        """From q (M, F) and ``left`` (M,) of tools fitted at the points ``renewed`` of the mesh."""
        at, middle = mesh[renewed], 0.5 * (mesh[1:] + mesh[:-1])
        low = np.clip(np.searchsorted(at, middle), 1, max(1, len(at) - 1)) - 1
        width = np.maximum(at[low + 1] - at[low], 1e-12)
        part = np.clip((middle - at[low]) / width, 0.0, 1.0)
        gain = np.maximum(np.diff(np.maximum.accumulate(q, axis=1), axis=1), 0.0)
        first = _first(gain, forced, node)
        onward = _onto(gain, low, part, len(at))
        passes, hours, worth = first[0].copy(), first[1].copy(), left.copy()
        for g in range(len(at) - 1, -1, -1):
            onto = onward[g, g + 1 :]
            again = max(
                1.0 - onward[g, g], 0.5
            )  # a tool that fails within half a step of the mesh starts at its own point
            passes[g] = (passes[g] + onto @ passes[g + 1 :]) / again
            hours[g] = (hours[g] + onto @ hours[g + 1 :]) / again
            worth[g] = (worth[g] + onto @ worth[g + 1 :]) / again
            behind = node <= renewed[g]
            passes[g, behind] = hours[g, behind] = 0.0
        return cls(node=node, low=low, part=part, forced=forced, passes=passes, hours=hours, left=worth)

    def from_new(self, q: Floats, left: Floats) -> tuple[Floats, Floats, Floats]:
        """Passings (S, T), cost of forced stops (S, T) and life left (S,) for tools with the chances q (S, F)."""
        gain = np.maximum(np.diff(np.maximum.accumulate(q, axis=1), axis=1), 0.0)
        passes, hours = _first(gain, self.forced, self.node)
        onward = _onto(gain, self.low, self.part, len(self.left))
        return passes + onward @ self.passes, hours + onward @ self.hours, left + onward @ self.left

    def from_known(self, q: Floats, left: float) -> tuple[Floats, Floats, Floats]:
        """The same (1, T), (1, T), (1,) for the tool in place, what is late at the face passing in the first gap."""
        chance = q.copy()
        chance[0] = 0.0
        return self.from_new(chance[None, :], np.array([left]))


def _onto(gain: Floats, low: NDArray[np.intp], part: Floats, points: int) -> Floats:
    """(S, points) the chances (S, F - 1) of passing in each gap, shared between the points of renewal on either side:
    two sums over runs of gaps, where a product of matrices would be mostly noughts.
    """
    onto = np.zeros((len(gain), points))
    first = np.flatnonzero(np.diff(low, prepend=-1))  # gaps come in the order of the points below them
    above = gain * part
    onto[:, low[first]] += np.add.reduceat(gain - above, first, axis=1)
    onto[:, low[first] + 1] += np.add.reduceat(above, first, axis=1)
    return onto


def _first(gain: Floats, forced: Floats, node: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Chance (S, T) of the first passing by each node and the cost of its forced stop (S, T)."""
    zero = np.zeros((len(gain), 1))
    passes = np.concatenate([zero, np.cumsum(gain, axis=1)], axis=1)[:, node]
    hours = np.concatenate([zero, np.cumsum(gain * forced, axis=1)], axis=1)[:, node]
    return passes, hours
