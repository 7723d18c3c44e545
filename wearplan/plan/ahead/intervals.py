"""What every interval between two services of a place costs and risks, from the outlook's draws.

Nodes: 0 is now, 1..N the candidate stops, N+1 the end of the drive. For place p served at s and next at t:

* ``over[p, s, t]``: chance of being past the wear limit on reaching t (wear never falls, so nothing before t is worse);
* ``late_chance``: chance of having passed the damage limit by t;
* ``late_cost``: a tool that passes its damage limit stops the drive there and is changed: ``late_tool``, its price, and
  the hours of the ``[[forced_stop]]`` row there at the standstill price (`terms.unplanned_hours` without one), each
  time it happens (see `renewal`);
* ``tool_cost``: at a stop the price of the new tool less what a sound core is worth (the share rebuilt times what a
  rebuild saves); at the end of the drive less that and less the life left; for s = 0 the worth of the tool in place
  now is added, so that the sum is the steel used up ahead and no loss counts twice.

A late core is worth nothing; but what is late has been changed by t, so the core of the tool then in place is sound.
Edges of one housing are one tool: it is over when one of its edges is. Two tools late on one ring would share a forced
stop; the model counts its hours for each. A passing is taken as noticed at once; where the site says after how many
metres it is, each passing pays for all of them at ``late_tool_per_m``, and the stop is reckoned where it passed.

Damage (chipped, lost, seized) is found at the next stop, whoever is due there, so it belongs to stops and not to
places: ``look_cost[s, t]`` is what it costs to drive from one look at the wheel to the next: for major damage the
site's price of each, of every metre from it to t, and the tool changed before its time (price less half a life, and
the work at a middling stop); for minor damage its price (see `damage`).

How the chances are taken over the draws: for a new tool the draws fall into groups by how fast they wear the place;
within a group the mean wear of an interval has the group's own mean and variance, and wear is a gamma of the moments
of `chance`. The tool in place now is followed draw by draw.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .chance import gamma_tail, left_share, new_variance
from .renewal import Renewal, forced_between, mesh_of_renewals
from .tools import Ahead

Floats = NDArray[np.float64]
F32 = NDArray[np.float32]

_GROUPS = 6
_KNOWN = 2.0e7
"""Draws times points times places to spend on the tools in place."""
_FINE_M = 12.0


@dataclass(frozen=True, kw_only=True)
class Intervals:
    """Arrays (P, N+1, N+2); only s < t is filled."""

    node_m: Floats
    """(N+2,) driven metres of the nodes."""
    over: F32
    late_chance: F32
    passes: F32
    """Expected passings of the damage limit: stops that are forced."""
    late_cost: Floats
    tool_cost: Floats
    mean_wear_mm: F32
    """Expected wear of the place's most worn edge on reaching t."""
    look_cost: Floats
    """(N+1, N+2) damage between two looks at the wheel."""
    draws: int

    def late_at(self, p: int, s: int, t: int) -> float:
        """Chance that the tool found at t is past its damage limit: only at the face, for further on it was changed."""
        return float(self.late_chance[p, s, t]) if self.node_m[t] <= self.node_m[0] + 1e-6 else 0.0


def _mesh(ahead: Ahead, node_m: Floats) -> tuple[Floats, NDArray[np.intp], Floats]:
    """Points to integrate on, the index of each node among them, and the forced-stop cost of each gap."""
    stops = ahead.site.stops
    extra: list[float] = []
    for low, high in pairwise(node_m):
        parts = min(12, int((high - low) // _FINE_M))
        extra += list(np.linspace(low, high, parts + 2)[1:-1])
    forced = stops.forced_stops if stops else ()
    for row in forced:
        extra += [x for x in (row.from_m, row.to_m) if node_m[0] < x < node_m[-1]]
    mesh = np.unique(np.concatenate([node_m, np.asarray(extra, float)]))
    index = np.searchsorted(mesh, node_m)
    return mesh, index, forced_between(stops, mesh)


def _late(q: Floats, start: NDArray[np.intp], mesh: Floats, node: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Chance (S, T) and expected metres (S, T) of being broken, from the chance q (S, F) of it on the mesh."""
    gap = np.diff(mesh)
    ahead = np.arange(len(gap))[None, :] >= start[:, None]
    metres = np.where(ahead, 0.5 * gap * (q[:, 1:] + q[:, :-1]), 0.0)
    metres = np.concatenate([np.zeros((len(q), 1)), np.cumsum(metres, axis=1)], axis=1)[:, node]
    return q[:, node], metres


def intervals(
    ahead: Ahead,
    node_m: Floats,
    *,
    renewal_cost: Floats | None = None,
    progress: Callable[[float], None] | None = None,
) -> Intervals:
    """Work out every interval.

    Parameters
    ----------
    node_m
        (N+2,) driven metres of now, the candidates and the end.
    renewal_cost
        (P,) what changing a damaged tool before its time costs (price less half a life, and work); 0 without it.
    progress
        Told the share done, from 0 to 1.
    """
    out, places, nodes = ahead.outlook, len(ahead.tools), len(node_m)
    starts = nodes - 1
    mesh, node, forced = _mesh(ahead, node_m)
    renewed = mesh_of_renewals(ahead, mesh)
    known = int(np.clip(_KNOWN / max(1, places * len(mesh)), 60, ahead.draws))
    grid = np.asarray(out.potential_mm)
    costs = ahead.site.stops.costs if ahead.site.stops else None
    late_tool = costs.passed_limit if costs else 0.0
    shape = (places, starts, nodes)
    over, late, wear, passings = (np.zeros(shape, np.float32) for _ in range(4))
    late_cost, tool_cost = np.zeros(shape), np.zeros(shape)
    seen: dict[tuple, _Tools] = {}
    for p, tool in enumerate(ahead.tools):
        edges = list(tool.edges)
        curves = ahead.at(grid[:, edges], mesh).astype(np.float32)
        same = (
            tuple(float(x) for e in edges for x in (ahead.limit_mm[e], ahead.damage_limit_mm[e])),
            *(hash(np.ascontiguousarray(np.asarray(a)[:, edges]).tobytes()) for a in (out.life_sd, out.step_mm)),
            hash(curves.tobytes()),
        )
        if same not in seen:
            seen[same] = _new(ahead, edges, curves, mesh, node, forced, renewed)
        new = seen[same]
        over[p], late[p], wear[p] = new.over, new.late, new.wear_mm
        now = _known(ahead, edges, curves[:known], mesh, node)
        over[p, 0], late[p, 0], wear[p, 0] = now.over, now.late, now.wear_mm
        # Whatever is late at the face already stops the drive as soon as it goes on.
        passes_now, hours_now, left_now = _renewed_now(new, now)
        passes, hours = np.vstack([passes_now, new.passes[1:]]), np.vstack([hours_now, new.forced[1:]])
        left = np.append(left_now, new.left[1:])
        passings[p] = passes
        late_cost[p] = (late_tool + tool.price) * passes + hours
        sound_now = 0.0 if tool.in_trouble else 1.0 - float(late[p, 0, 0])
        tool_cost[p] = tool.price - tool.core
        tool_cost[p, :, -1] = -tool.core - tool.life_value * left
        here = node_m <= node_m[0] + 1e-6
        tool_cost[p, 0, here] = tool.price - tool.core * sound_now
        tool_cost[p, 0] += tool.core * sound_now + tool.life_value * _share_now(ahead, tool.edges)
        if tool.in_trouble:
            # Found broken: every metre counts until it is changed, and its core is gone.
            late_cost[p, 0] += ahead.damage.major_per_m * (node_m - node_m[0])
            tool_cost[p, 0, ~here] += tool.core
        wear[p] = ahead.worn(tool.edges[0], wear[p])
        if progress is not None:
            progress((p + 1) / places)
    return Intervals(
        node_m=node_m,
        over=over,
        late_chance=late,
        passes=passings,
        late_cost=late_cost,
        tool_cost=tool_cost,
        mean_wear_mm=wear,
        look_cost=_look_cost(ahead, mesh, node, renewal_cost),
        draws=ahead.draws,
    )


def _look_cost(ahead: Ahead, mesh: Floats, node: NDArray[np.intp], renewal_cost: Floats | None) -> Floats:
    """(N+1, N+2) expected cost of damage between two looks, 0 for s >= t."""
    terms = ahead.damage
    risk = ahead.at(np.asarray(ahead.outlook.damage_hazard).mean(axis=0), mesh)
    by_place = np.stack([risk[list(t.edges)].sum(axis=0) for t in ahead.tools]) if ahead.tools else risk[:0]
    start = node[:-1]
    total = np.zeros((len(start), len(node)))
    renewal = np.zeros(len(by_place)) if renewal_cost is None else renewal_cost
    for tool, line, renew in zip(ahead.tools, by_place, renewal, strict=True):
        if line[-1] <= line[0]:
            continue
        minor = terms.share(tool.tool_type.kind)
        met = np.maximum(line[None, :] - line[start][:, None], 0.0)
        chance, metres = _late(-np.expm1(-(1.0 - minor) * met), start, mesh, node)
        total += (terms.major + renew) * chance + terms.major_per_m * metres
        total += terms.minor * -np.expm1(-minor * met[:, node])
    return total


@dataclass(frozen=True, kw_only=True)
class _Tools:
    """A place from every start on: arrays (S, T), ``left`` (S,) the share of a life left at the end of the drive."""

    over: Floats
    late: Floats
    wear_mm: Floats
    passes: Floats
    forced: Floats
    left: Floats
    groups: tuple[tuple[NDArray[np.intp], Renewal], ...]
    """The draws of each group and its renewals: whoever is quick once in a draw is quick again."""


@dataclass(frozen=True, kw_only=True)
class _Known:
    """The tool in place now: arrays (T,)."""

    over: Floats
    late: Floats
    wear_mm: Floats
    late_by_draw: Floats
    """(D, F)"""
    left_by_draw: Floats
    """(edges, D)"""


def _renewed_now(new: _Tools, now: _Known) -> tuple[Floats, Floats, float]:
    """Passings (T,), cost of forced stops (T,) and life left of the tool in place and of those that follow it."""
    known = len(now.late_by_draw)
    passes, hours, left, drawn = np.zeros(len(now.late)), np.zeros(len(now.late)), 0.0, 0
    for draws, renewal in new.groups:
        mine = draws[draws < known]
        if not len(mine):
            continue
        share = float(now.left_by_draw[:, mine].mean(axis=1).min())
        each = renewal.from_known(now.late_by_draw[mine].mean(axis=0), share)
        passes += len(mine) * each[0][0]
        hours += len(mine) * each[1][0]
        left += len(mine) * float(each[2][0])
        drawn += len(mine)
    return passes / drawn, hours / drawn, left / drawn


def _new(
    ahead: Ahead, edges: list[int], curves: NDArray, mesh: Floats, node: NDArray[np.intp], forced: Floats,
    renewed: NDArray[np.intp],
) -> _Tools:  # fmt: skip
    """New tools fitted at every node but the end. ``curves`` is (D, edges, F), ``renewed`` where renewals may start."""
    out = ahead.outlook
    start = np.concatenate([node[:-1], renewed])
    points, starts = len(mesh), len(start)
    order = np.argsort(curves[:, :, -1].sum(axis=1), kind="stable")
    groups = [g for g in np.array_split(order, _GROUPS) if len(g)]
    row, col = np.nonzero(np.arange(points)[None, :] > start[:, None])
    at_node = np.zeros(points, dtype=bool)
    at_node[node] = True
    picked = at_node[col] & (row < len(node) - 1)
    q = np.zeros((starts, points))
    over = np.zeros((starts, points))
    first = len(node) - 1
    passes, hours, left = np.zeros((first, len(node))), np.zeros((first, len(node))), np.zeros(first)
    renewals = []
    mean_wear = np.zeros((starts, len(node)))
    ends = np.flatnonzero(col == points - 1)
    for group in groups:
        weight = len(group) / len(order)
        sound = sound_limit = None
        share, most = np.full(starts, np.inf), np.zeros((starts, len(node)))
        for i, e in enumerate(edges):
            lines = curves[group, i].astype(np.float64)
            mean_line = lines.mean(axis=0)
            off = (lines - mean_line).astype(np.float32)
            cov = off.T @ off / len(group)
            self_cov = np.diagonal(cov)
            mean = (mean_line[None, :] - mean_line[start][:, None])[row, col]
            doubt = np.maximum(self_cov[col] + self_cov[start][row] - 2.0 * cov[start][:, :][row, col], 0.0)
            sd, step = float(np.mean(out.life_sd[group, e])), float(np.mean(out.step_mm[group, e]))
            spread = new_variance(mean, life_sd=sd, step_mm=step, mean_variance=doubt)
            damage, limit = float(ahead.damage_limit_mm[e]), float(ahead.limit_mm[e])
            ok = 1.0 - gamma_tail(mean_mm=mean, variance_mm2=spread, room_mm=damage)
            within = 1.0 - gamma_tail(mean_mm=mean[picked], variance_mm2=spread[picked], room_mm=limit)
            sound = ok if sound is None else sound * ok
            sound_limit = within if sound_limit is None else sound_limit * within
            rest = left_share(mean_mm=mean[ends], variance_mm2=spread[ends], room_mm=limit, limit_mm=limit)
            share[row[ends]] = np.minimum(share[row[ends]], rest)
            most = np.maximum(most, mean_line[node][None, :] - mean_line[start][:, None])
        assert sound is not None
        assert sound_limit is not None
        late = np.zeros((starts, points))
        late[row, col] = 1.0 - sound
        share = np.where(np.isfinite(share), share, 1.0)
        renewal = Renewal.of(mesh, node, renewed, late[first:], share[first:], forced)
        renewals.append((group, renewal))
        for whole, part in zip((passes, hours, left), renewal.from_new(late[:first], share[:first]), strict=True):
            whole += weight * part
        q += weight * late
        over[row[picked], col[picked]] += weight * (1.0 - sound_limit)
        mean_wear += weight * most
    return _Tools(
        over=over[:first][:, node], late=q[:first][:, node], wear_mm=np.maximum(mean_wear[:first], 0.0), passes=passes,
        forced=hours, left=left, groups=tuple(renewals),
    )  # fmt: skip


def _known(ahead: Ahead, edges: list[int], curves: NDArray, mesh: Floats, node: NDArray[np.intp]) -> _Known:
    """The tool in place now, draw by draw."""
    out, known = ahead.outlook, len(curves)
    alive = np.ones((known, len(node)))
    alive_damage = np.ones((known, len(mesh)))
    left, wear = [], np.zeros(len(node))
    for i, e in enumerate(edges):
        now = np.asarray(out.wear_now_mm[:known, e], float)[:, None]
        factor = np.asarray(out.life_factor[:known, e], float)[:, None]
        step = np.maximum(np.asarray(out.step_mm[:known, e], float)[:, None], 1e-4)
        gathered = np.maximum(curves[:, i].astype(float) * factor, 0.0)
        limit, damage = float(ahead.limit_mm[e]), float(ahead.damage_limit_mm[e])
        at = gathered[:, node]
        alive *= 1.0 - gamma_tail(mean_mm=at, variance_mm2=step * at, room_mm=limit - now)
        alive_damage *= 1.0 - gamma_tail(mean_mm=gathered, variance_mm2=step * gathered, room_mm=damage - now)
        end = gathered[:, -1:]
        share = left_share(mean_mm=end, variance_mm2=step * end, room_mm=limit - now, limit_mm=limit)
        left.append(share[:, 0])
        wear = np.maximum(wear, (now + at).mean(axis=0))
    late = 1.0 - alive_damage
    return _Known(
        over=1.0 - alive.mean(axis=0), late=late.mean(axis=0)[node], wear_mm=wear, late_by_draw=late,
        left_by_draw=np.stack(left),
    )  # fmt: skip


def _share_now(ahead: Ahead, edges: tuple[int, ...]) -> float:
    """Expected share of life left now, of the place's most worn edge."""
    shares = [
        float(np.maximum(0.0, 1.0 - np.asarray(ahead.outlook.wear_now_mm[:, e], float) / ahead.limit_mm[e]).mean())
        for e in edges
    ]
    return min(shares)
