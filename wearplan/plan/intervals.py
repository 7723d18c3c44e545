"""What every interval between two services of a place costs and risks, from the outlook's draws.

Nodes: 0 is now, 1..N the candidate stops, N+1 the end of the drive. For place p served at s and next at t:

* ``over[p, s, t]``: chance of being past the wear limit on reaching t (wear never falls, so nothing before t is worse);
* ``late_chance``: chance of being past the damage limit, or damaged, on reaching t;
* ``late_metres``: expected metres driven past it;
* ``late_cost``: ``late_tool`` for passing, ``late_tool_per_m`` for each metre, and where a ``[[forced_stop]]`` row covers
  the stretch on which it is passed, its hours at the standstill price;
* ``tool_cost``: at a stop the price of the new tool less what a sound core is worth (the share rebuilt times what a rebuild saves); at the
  end of the drive less that and less the life left; for s = 0 the worth of the tool in place now is added, so that the sum is
  the steel used up ahead and no loss counts twice.

A late core is worth nothing. Edges of one housing are one tool: it is over when one of its edges is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .ahead import Ahead
from .chance import NewTool, known_left_share, known_over_probability, new_tool

Floats = NDArray[np.float64]
F32 = NDArray[np.float32]

_WORK = 3.0e8
"""Table look-ups to spend on new tools."""
_LEAST_DRAWS, _MOST_DRAWS = 32, 160
_FINE_M = 12.0


@dataclass(frozen=True, kw_only=True)
class Intervals:
    """Arrays (P, N+1, N+2); only s < t is filled."""

    node_m: Floats
    """(N+2,) driven metres of the nodes."""
    over: F32
    late_chance: F32
    late_metres: F32
    late_cost: Floats
    tool_cost: Floats
    mean_wear_mm: F32
    """Expected wear of the place's most worn edge on reaching t."""
    draws: int


def _mesh(ahead: Ahead, node_m: Floats) -> tuple[Floats, NDArray[np.intp], Floats]:
    """Points to integrate on, the index of each node among them, and the forced-stop cost of each gap between points."""
    stops = ahead.site.stops
    extra: list[float] = []
    for low, high in zip(node_m[:-1], node_m[1:], strict=True):
        parts = min(12, int((high - low) // _FINE_M))
        extra += list(np.linspace(low, high, parts + 2)[1:-1])
    forced = stops.forced_stops if stops else ()
    for row in forced:
        extra += [x for x in (row.from_m, row.to_m) if node_m[0] < x < node_m[-1]]
    mesh = np.unique(np.concatenate([node_m, np.asarray(extra, float)]))
    index = np.searchsorted(mesh, node_m)
    middle = 0.5 * (mesh[1:] + mesh[:-1])
    cost = np.zeros(len(middle))
    if stops:
        for row in forced:
            inside = (middle >= row.from_m) & (middle <= row.to_m)
            cost[inside] = np.maximum(cost[inside], row.hours * stops.costs.standstill_per_hour)
    return mesh, index, cost


def _late(
    q: Floats, start: NDArray[np.intp], mesh: Floats, node: NDArray[np.intp], forced: Floats, integral: Floats | None
) -> tuple[Floats, Floats, Floats]:
    """Chance (S, T), metres (S, T) and forced-stop cost (S, T) from the chance of being late q (S, F) along the mesh.

    ``integral`` (S, F-1) is the exact integral of q over each gap where it is known, else the trapezoid is used.
    """
    gap = np.diff(mesh)
    if integral is None:
        integral = 0.5 * gap * (q[:, 1:] + q[:, :-1])
    ahead = np.arange(len(gap))[None, :] >= start[:, None]
    zero = np.zeros((len(q), 1))
    metres = np.concatenate([zero, np.cumsum(np.where(ahead, integral, 0.0), axis=1)], axis=1)
    step = np.where(ahead, np.maximum(np.diff(q, axis=1), 0.0), 0.0)
    cost = np.concatenate([zero, np.cumsum(step * forced, axis=1)], axis=1)
    return q[:, node], metres[:, node], cost[:, node]


def intervals(
    ahead: Ahead, node_m: Floats, *, progress: Callable[[float], None] | None = None, most_draws: int = _MOST_DRAWS
) -> Intervals:
    """Work out every interval.

    Parameters
    ----------
    node_m
        (N+2,) driven metres of now, the candidates and the end.
    progress
        Told the share done, from 0 to 1.
    most_draws
        Draws used for new tools at most; fewer where places and stops are many.
    """
    out, places, nodes = ahead.outlook, len(ahead.tools), len(node_m)
    starts = nodes - 1
    mesh, node, forced = _mesh(ahead, node_m)
    points = len(mesh)
    draws = int(np.clip(_WORK / max(1, places * starts * points), _LEAST_DRAWS, most_draws))
    draws = min(draws, ahead.draws)
    known = min(ahead.draws, max(draws, int(4e6 / max(1, places * points))))
    potential = ahead.at(np.asarray(out.potential_mm)[:known], mesh).astype(np.float32)
    hazard = ahead.at(np.asarray(out.damage_hazard).mean(axis=0), mesh)
    costs = ahead.site.stops.costs if ahead.site.stops else None
    late_tool = costs.late_tool if costs else 0.0
    late_per_m = costs.late_tool_per_m if costs else 0.0
    shape = (places, starts, nodes)
    over, late, metres = (np.zeros(shape, np.float32) for _ in range(3))
    wear = np.zeros(shape, np.float32)
    late_cost, tool_cost = np.zeros(shape), np.zeros(shape)
    tables: dict[tuple, NewTool] = {}
    seen: dict[tuple, tuple] = {}
    for p, tool in enumerate(ahead.tools):
        risk = hazard[list(tool.edges)].sum(axis=0)
        keys = [(ahead.limit_mm[e], ahead.damage_limit_mm[e], _key(out, e, draws)) for e in tool.edges]
        for e, key in zip(tool.edges, keys, strict=True):
            if key not in tables:
                tables[key] = new_tool(
                    limit_mm=key[0],
                    damage_limit_mm=key[1],
                    life_sd=np.asarray(out.life_sd[:draws, e], float),
                    step_mm=np.asarray(out.step_mm[:draws, e], float),
                )
        same = (tuple(keys), hash(potential[:draws, list(tool.edges)].tobytes()), hash(risk.tobytes()))
        if same not in seen:
            curves = [(potential[:draws, e], tables[key]) for e, key in zip(tool.edges, keys, strict=True)]
            seen[same] = _new(curves, risk, mesh, node, forced)
        new_over, new_late, new_metres, new_forced, new_left, new_wear = seen[same]
        now = _known(ahead, tool.edges, potential, risk, mesh, node, forced)
        over[p], late[p], metres[p], wear[p] = new_over, new_late, new_metres, new_wear
        forced_cost = new_forced.copy()
        left = new_left.copy()
        over[p, 0], late[p, 0], metres[p, 0], forced_cost[0], left[0], wear[p, 0] = now
        late_cost[p] = late_tool * late[p] + late_per_m * metres[p] + forced_cost
        sound = 1.0 - late[p].astype(float)
        tool_cost[p] = tool.price - tool.core * sound
        tool_cost[p, :, -1] = -tool.core * sound[:, -1] - tool.life_value * left
        tool_cost[p, 0] += tool.core * sound[0, 0] + tool.life_value * _share_now(ahead, tool.edges)
        if progress is not None:
            progress((p + 1) / places)
    return Intervals(
        node_m=node_m,
        over=over,
        late_chance=late,
        late_metres=metres,
        late_cost=late_cost,
        tool_cost=tool_cost,
        mean_wear_mm=wear,
        draws=draws,
    )


def _key(out: object, edge: int, draws: int) -> tuple[int, int]:
    sd = np.asarray(out.life_sd)[:draws, edge]  # type: ignore[attr-defined]
    step = np.asarray(out.step_mm)[:draws, edge]  # type: ignore[attr-defined]
    return hash(sd.tobytes()), hash(step.tobytes())


def _new(
    curves: list[tuple[NDArray, NewTool]], risk: Floats, mesh: Floats, node: NDArray[np.intp], forced: Floats
) -> tuple:
    """New tools fitted at every node but the end: over, late, metres (S, T), forced cost, life left at the end (S,), wear."""
    start = node[:-1]
    gap = np.diff(mesh)
    alive = alive_damage = None
    left = integral = None
    mean = None
    for curve, table in curves:
        gathered = curve[:, None, :] - curve[:, start][:, :, None]
        np.maximum(gathered, 0.0, out=gathered)
        at_nodes = gathered[:, :, node]
        sound = 1.0 - table.read(table.over, at_nodes)
        damage = 1.0 - table.read(table.over_damage, gathered)
        alive = sound if alive is None else alive * sound
        alive_damage = damage if alive_damage is None else alive_damage * damage
        share = table.read(table.left, gathered[:, :, -1]).mean(axis=0)
        left = share if left is None else np.minimum(left, share)
        wear = at_nodes.mean(axis=0)
        mean = wear if mean is None else np.maximum(mean, wear)
        if len(curves) == 1:
            # The integral of the chance over a gap follows from its integral over wear, wear being linear within the gap.
            total = table.damage_integral(gathered)
            rise = np.diff(gathered, axis=2)
            steep = rise > 1e-5
            slope = np.where(steep, np.diff(total, axis=2) / np.where(steep, rise, 1.0), 1.0 - damage[:, :, 1:])
            integral = slope.mean(axis=0).astype(float) * gap
    assert alive is not None and alive_damage is not None and left is not None and mean is not None
    q = 1.0 - alive_damage.mean(axis=0).astype(float)
    broken = -np.expm1(-np.maximum(risk[None, :] - risk[start][:, None], 0.0))
    both = 1.0 - (1.0 - q) * (1.0 - broken)
    if integral is not None:
        extra = (1.0 - q) * broken
        integral = integral + 0.5 * gap * (extra[:, 1:] + extra[:, :-1])
    late, metres, cost = _late(both, start, mesh, node, forced, integral)
    return 1.0 - alive.mean(axis=0), late, metres, cost, left, mean


def _known(
    ahead: Ahead,
    edges: tuple[int, ...],
    potential: NDArray,
    risk: Floats,
    mesh: Floats,
    node: NDArray[np.intp],
    forced: Floats,
) -> tuple:
    """The tool in place now: over (T,), late (T,), metres (T,), forced cost (T,), life left at the end, wear (T,)."""
    out = ahead.outlook
    known = len(potential)
    alive = np.ones((known, len(node)))
    alive_damage = np.ones((known, len(mesh)))
    left, wear = np.inf, np.zeros(len(node))
    for e in edges:
        now = np.asarray(out.wear_now_mm[:known, e], float)[:, None]
        factor = np.asarray(out.life_factor[:known, e], float)[:, None]
        step = np.asarray(out.step_mm[:known, e], float)[:, None]
        mean = potential[:, e].astype(float)
        given = {"wear_mm": now, "life_factor": factor, "step_mm": step}
        alive *= 1.0 - known_over_probability(mean_mm=mean[:, node], limit_mm=ahead.limit_mm[e], **given)
        alive_damage *= 1.0 - known_over_probability(mean_mm=mean, limit_mm=ahead.damage_limit_mm[e], **given)
        share = known_left_share(mean_mm=mean[:, -1:], limit_mm=ahead.limit_mm[e], **given).mean()
        left = min(left, float(share))
        wear = np.maximum(wear, (now + factor * mean[:, node]).mean(axis=0))
    q = 1.0 - alive_damage.mean(axis=0)
    broken = -np.expm1(-np.maximum(risk - risk[0], 0.0))
    both = (1.0 - (1.0 - q) * (1.0 - broken))[None, :]
    late, metres, cost = _late(both, np.zeros(1, np.intp), mesh, node, forced, None)
    return 1.0 - alive.mean(axis=0), late[0], metres[0], cost[0], left, wear


def _share_now(ahead: Ahead, edges: tuple[int, ...]) -> float:
    """Expected share of life left now, of the place's most worn edge."""
    shares = [
        float(np.maximum(0.0, 1.0 - np.asarray(ahead.outlook.wear_now_mm[:, e], float) / ahead.limit_mm[e]).mean())
        for e in edges
    ]
    return min(shares)
