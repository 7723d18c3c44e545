"""Draws of the drive ahead, made once and shared by every way of running it.

In a draw each place gathers wear along one noisy path (gamma steps with mean m and variance theta m for each
stretch); a tool of factor k fitted at s has gathered k times the path's growth since s. Factors and the chance of
damage are drawn once for each place and each candidate stop, so that two policies that fit a tool at the same stop
get the same tool. (Given k the steps then have variance k² theta m where the outlook says k theta m: the same on
average to within sd² of k.)
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.ahead.renewal import forced_between
from wearplan.plan.model.exact import F32, Floats, Model

_USUAL_SD_MM = 0.5
"""Error of a reading where the site lists no method; common practice, no published source."""


@dataclass(frozen=True, kw_only=True)
class Worlds:
    """D draws, E edges (ordered by place), P places, M points of the mesh, N candidates."""

    model: Model
    mesh_m: Floats
    node: NDArray[np.intp]
    """(N+2,) index of each node in the mesh."""
    path_mm: F32
    """(M, D, E) noisy path of factor 1."""
    start_mm: F32
    """(D, E) wear now."""
    factor: F32
    """(N+1, D, E) factor of the tool in place now, and of one fitted at a candidate."""
    hazard: F32
    """(M, P) expected major damages since the face."""
    minor_cost: Floats
    """(M,) expected cost of minor damage since the point before: the same in every draw and under every rule."""
    patience: F32
    """(N+1, D, P) hazard after which the tool in place, or fitted at a candidate, is damaged; below 0 if it is so
    already.
    """
    first_edge: NDArray[np.intp]
    """(P,) where each place's edges begin."""
    limit_mm: F32
    damage_mm: F32
    """(E,)"""
    forced_cost: Floats
    """(M,) cost of passing the damage limit between the mesh point before and this one."""
    gauge_sd_mm: F32
    """(P,) error of a reading at each place."""
    seed: int
    life_sd: Floats
    """(D, E)"""
    noise: F32
    """(N+1, D, P) standard normal errors of the readings at each candidate; 0 for now, where nobody reads again."""

    @property
    def draws(self) -> int:
        return int(self.start_mm.shape[0])

    def fitted_at(self, m: int) -> tuple[F32, F32]:
        """Factors (D, E) and patience (D, P) of tools put on at a forced stop at point ``m``: the same for every way of
        running the drive, whatever was decided before.
        """
        rng = np.random.default_rng([self.seed, 2025, m])
        shape = 1.0 / self.life_sd**2
        factor = (rng.standard_gamma(shape) / shape).astype(np.float32)
        return factor, rng.standard_exponential((self.draws, self.model.places)).astype(np.float32)

    def by_place(self, edges: NDArray) -> NDArray:
        """Largest over the edges of each place, (..., E) to (..., P)."""
        return np.maximum.reduceat(edges, self.first_edge, axis=-1)


def reading_errors(model: Model) -> F32:
    """(P,) error of the readings to come, in mm: of the method each place was last read with, else of the method most
    places were, else the middling one on the site's list.
    """
    ahead = model.ahead
    known = {g.method: g.sd_mm for g in ahead.site.wheel.gauging}
    last: dict[int, str] = {}
    for record in sorted(ahead.site.inspections, key=lambda i: i.driven_m):
        for m in record.measurements:
            if m.method in known and m.not_read is None:
                last[m.position] = m.method
    if last:
        usual = known[Counter(last.values()).most_common(1)[0][0]]
    else:
        usual = float(np.median(list(known.values()))) if known else _USUAL_SD_MM
    each = [max(known.get(last.get(n, ""), usual) for n in tool.place.positions) for tool in ahead.tools]
    return np.asarray(each, np.float32)


def worlds(model: Model, *, draws: int, seed: int, most_m: float = 15.0) -> Worlds:
    """Draw the drive ahead; ``most_m`` is the widest gap of the mesh."""
    ahead, out = model.ahead, model.ahead.outlook
    rng = np.random.default_rng([seed, 2024])
    total = ahead.draws
    picks = np.arange(draws) % total
    order = np.array([e for t in ahead.tools for e in t.edges])
    first = np.cumsum([0, *[len(t.edges) for t in ahead.tools]])[:-1]
    node_m = model.inter.node_m
    extra = [x for low, high in pairwise(node_m) for x in np.linspace(low, high, int((high - low) // most_m) + 2)[1:-1]]
    mesh = np.unique(np.concatenate([node_m, np.asarray(extra, float)]))
    potential = ahead.at(np.asarray(out.potential_mm), mesh)[picks][:, order]
    step = np.maximum(np.asarray(out.step_mm, np.float32)[picks][:, order], 1e-3)
    rise = np.maximum(np.diff(potential, axis=2), 0.0) / step[:, :, None]
    grown = rng.standard_gamma(np.maximum(rise, 1e-6)).astype(np.float32) * step[:, :, None]
    path = np.concatenate([np.zeros((*grown.shape[:2], 1), np.float32), np.cumsum(grown, axis=2)], axis=2)
    sd = np.maximum(np.asarray(out.life_sd, float)[picks][:, order], 1e-3)
    shape = np.broadcast_to(1.0 / sd**2, (model.stops, *sd.shape))
    hazard = ahead.at(np.asarray(out.damage_hazard).mean(axis=0), mesh)[order]
    minor = np.array([ahead.damage.share(t.tool_type.kind) for t in ahead.tools])
    met = np.add.reduceat(hazard, first, axis=0)
    patience = rng.standard_exponential((model.stops + 1, draws, model.places)).astype(np.float32)
    patience[0][:, [t.in_trouble for t in ahead.tools]] = -1.0
    now = np.asarray(out.life_factor, np.float32)[picks][:, order]
    return Worlds(
        model=model,
        mesh_m=mesh,
        node=np.searchsorted(mesh, node_m),
        path_mm=np.ascontiguousarray(np.moveaxis(path, 2, 0)),
        start_mm=np.asarray(out.wear_now_mm, np.float32)[picks][:, order],
        factor=np.concatenate([now[None], (rng.standard_gamma(shape) / shape).astype(np.float32)]),
        hazard=np.ascontiguousarray((met * (1.0 - minor)[:, None]).T.astype(np.float32)),
        minor_cost=np.concatenate([[0.0], ahead.damage.minor * (minor @ np.diff(met, axis=1))]),
        patience=patience,
        first_edge=first,
        limit_mm=ahead.limit_mm[order].astype(np.float32),
        damage_mm=ahead.damage_limit_mm[order].astype(np.float32),
        forced_cost=np.concatenate([[0.0], forced_between(ahead.site.stops, mesh)]),
        gauge_sd_mm=reading_errors(model),
        seed=seed,
        life_sd=sd,
        noise=_after_now(rng.standard_normal((model.stops, draws, model.places))),
    )


def _after_now(values: Floats) -> F32:
    """(N, ...) of the candidates by node, (N+1, ...), 0 for now."""
    out = np.zeros((len(values) + 1, *values.shape[1:]), np.float32)
    out[1:] = values
    return out
