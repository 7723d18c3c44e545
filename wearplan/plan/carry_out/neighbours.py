"""Visits that keep the neighbour step, with the stops given.

With few stops the visits of a place are one of few patterns (which of the stops it is served at), each with a cost
and an expected wear after every stop. Tools on one track are taken to follow the same pattern at first; then the
tracks form a line, and the cheapest patterns that fit from track to track are a shortest path along it. Single tools
are then set freer one by one, as long as they fit their neighbours; what other pairs still break is met by changing
the more worn tool as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.model.exact import Bools, Floats, Model
from wearplan.plan.optimise import served_before
from wearplan.plan.settings import SETTINGS

_EFFORT = SETTINGS.neighbours


def wear_at_nodes(model: Model, visits: Bools) -> Floats:
    """(P, K+2) expected wear on reaching each node of a task cut down to the plan's stops."""
    last = served_before(visits)
    who = np.arange(model.places)[:, None]
    return model.inter.mean_wear_mm[who, last, np.arange(visits.shape[1])].astype(float)


def wear_after(model: Model, visits: Bools) -> Floats:
    """(P, K+2) the same after the changes at each node."""
    return np.where(visits, 0.0, wear_at_nodes(model, visits))


def pairs_broken(model: Model, visits: Bools, step_mm: float) -> list[tuple[int, int, int]]:
    """(place, place, stop) whose wear differs by more than the step after that stop."""
    pairs = np.array(model.neighbour_places, dtype=int).reshape(-1, 2)
    if not len(pairs):
        return []
    wear = wear_after(model, visits)
    off = np.abs(wear[pairs[:, 0]] - wear[pairs[:, 1]]) > step_mm + 1e-6
    off[:, [0, -1]] = False
    i, k = np.nonzero(off)
    return [(int(pairs[a, 0]), int(pairs[a, 1]), int(b)) for a, b in zip(i, k, strict=True)]


def needed_by_neighbours(model: Model, visits: Bools) -> Bools:
    """(P, K+2) visits without which the step to a neighbouring track would be too large after that stop."""
    needed = np.zeros_like(visits)
    step = model.ahead.site.wheel.neighbour_step_limit_mm
    if step is None:
        return needed
    wear, found = wear_after(model, visits), wear_at_nodes(model, visits)
    partners: dict[int, list[int]] = {}
    for a, b in model.neighbour_places:
        partners.setdefault(a, []).append(b)
        partners.setdefault(b, []).append(a)
    for p, k in zip(*np.nonzero(visits), strict=True):
        near = partners.get(int(p), [])
        needed[p, k] = any(abs(found[p, k] - wear[q, k]) > step + 1e-6 for q in near)
    return needed


@dataclass(frozen=True, kw_only=True)
class Patterns:
    """M ways of serving one place: ``served`` (M, K+2), ``cost`` (M,), ``wear`` (M, K+2) after each stop."""

    served: Bools
    cost: Floats
    wear: Floats


def patterns(model: Model, arcs: Floats, p: int, keep: Bools) -> Patterns:
    """The cheapest patterns of a place, the one it has now and "at every stop" among them."""
    stops = model.stops
    table = np.zeros((2**stops, stops + 2), dtype=bool)
    table[:, 1:-1] = (np.arange(2**stops)[:, None] >> np.arange(stops)[None, :]) & 1
    last, node = served_before(table), np.arange(stops + 2)
    cost = np.where(table, arcs[p][last, node], 0.0)[:, 1:-1].sum(axis=1) + arcs[p][last[:, -1], -1]
    full = int(np.flatnonzero((table == model.serviceable[p]).all(axis=1))[0])
    mine = int(np.flatnonzero((table == keep).all(axis=1))[0])
    order = np.argsort(cost, kind="stable")
    order = order[np.isfinite(cost[order])][: _EFFORT.patterns]
    picks = np.unique(np.concatenate([order, [m for m in (full, mine) if np.isfinite(cost[m])]])).astype(int)
    wear = np.where(table[picks], 0.0, model.inter.mean_wear_mm[p][last[picks], node]).astype(float)
    wear[:, [0, -1]] = 0.0  # the step is held after stops
    return Patterns(served=table[picks], cost=cost[picks], wear=wear)


def _tracks(model: Model) -> list[list[list[int]]]:
    """Lines of tracks, one line for each kind of tool: places by track, from the axis outwards."""
    layout = model.ahead.outlook.layout
    lines: dict[str, list[tuple[float, int]]] = {}
    for p, tool in enumerate(model.ahead.tools):
        radius = min(float(layout.track_radius_mm[e]) for e in tool.edges)
        lines.setdefault(tool.tool_type.kind, []).append((radius, p))
    out = []
    for members in lines.values():
        tracks: list[list[int]] = []
        at = -np.inf
        for radius, p in sorted(members):
            if radius - at > 1.0:
                tracks.append([])
                at = radius
            tracks[-1].append(p)
        out.append(tracks)
    return out


def keep_step(model: Model, arcs: Floats, visits: Bools) -> Bools:
    """Visits (P, K+2) that keep the neighbour step, near the least cost; ``arcs`` (P or more, K+1, K+2) belong to the
    task's stops.

    Returns the visits given where they keep it already, or where the site sets no step.
    """
    step = model.ahead.site.wheel.neighbour_step_limit_mm
    if step is None or not pairs_broken(model, visits, step):
        return visits
    out = visits.copy()
    if model.stops <= _EFFORT.stops:
        pairs = model.neighbour_places
        touched = {p for pair in pairs for p in pair}
        own = {p: patterns(model, arcs, p, visits[p]) for p in touched}
        partners: dict[int, list[int]] = {p: [] for p in touched}
        for a, b in pairs:
            partners[a].append(b)
            partners[b].append(a)
        for tracks in _tracks(model):
            _line(out, [[p for p in t if p in own] for t in tracks], own, step)
        _loosen(model, out, own, partners, step)
    return _cascade(model, out, step)


def _fits(a: Floats, b: Floats, step: float) -> Bools:
    """(M, M') whether the wear of two patterns stays within the step after every stop."""
    return np.asarray((np.abs(a[:, None, :] - b[None, :, :]) <= step + 1e-6).all(axis=2))


def _line(out: Bools, tracks: list[list[int]], own: dict[int, Patterns], step: float) -> None:
    """Best patterns along a line of tracks, one pattern a track."""
    tracks = [t for t in tracks if t]
    shared = [found for members in tracks if (found := _in_common([own[p] for p in members])) is not None]
    if not shared or len(shared) < len(tracks):
        return
    reach = shared[0][1].copy()
    back: list[NDArray[np.intp]] = []
    for before, now in pairwise(shared):
        fit = np.ones((before[2].shape[1], now[2].shape[1]), dtype=bool)
        # The least and the most worn of a track decide.
        for a in (before[2].min(axis=0), before[2].max(axis=0)):
            for b in (now[2].min(axis=0), now[2].max(axis=0)):
                fit &= _fits(a, b, step)
        total = np.where(fit, reach[:, None], np.inf)
        back.append(np.argmin(total, axis=0))
        reach = total.min(axis=0) + now[1]
    if not np.isfinite(reach).any():
        return
    m = int(np.argmin(reach))
    for i in range(len(tracks) - 1, -1, -1):
        for p in tracks[i]:
            out[p] = shared[i][0][m]
        if i:
            m = int(back[i - 1][m])


def _in_common(patterns: list[Patterns]) -> tuple[Bools, Floats, Floats] | None:
    """Patterns that all tools of a track have, their cost together and the wear of each; None where there is none."""
    rows = [{tuple(s): m for m, s in enumerate(each.served.tolist())} for each in patterns]
    common = [s for s in rows[0] if all(s in r for r in rows[1:])]
    if not common:
        return None
    at = np.array([[r[s] for s in common] for r in rows])
    cost = np.sum([each.cost[i] for each, i in zip(patterns, at, strict=True)], axis=0)
    wear = np.stack([each.wear[i] for each, i in zip(patterns, at, strict=True)])
    return np.array(common, dtype=bool), cost, wear


def _loosen(model: Model, out: Bools, own: dict[int, Patterns], partners: dict[int, list[int]], step: float) -> None:
    """Give single tools their cheapest pattern that fits their neighbours as they are."""
    for _ in range(_EFFORT.sweeps):
        moved = False
        wear = wear_after(model, out)
        for p, mine in own.items():
            fit = np.ones(len(mine.cost), dtype=bool)
            for q in partners[p]:
                fit &= (np.abs(mine.wear - wear[q][None, :]) <= step + 1e-6)[:, 1:-1].all(axis=1)
            if not fit.any():
                continue
            best = int(np.argmin(np.where(fit, mine.cost, np.inf)))
            if np.isfinite(mine.cost[best]) and (mine.served[best] != out[p]).any():
                out[p] = mine.served[best]
                wear[p] = mine.wear[best]
                moved = True
        if not moved:
            return


def _cascade(model: Model, visits: Bools, step: float) -> Bools:
    """Change the more worn tool of every pair that is still broken, from the first stop on, until none is."""
    out = visits.copy()
    for _ in range(out.size + 1):
        broken = pairs_broken(model, out, step)
        if not broken:
            break
        first = min(k for *_, k in broken)
        wear = wear_after(model, out)
        changed = False
        for a, b, k in broken:
            if k != first:
                continue
            worn = a if wear[a, k] > wear[b, k] else b
            if model.serviceable[worn, k] and not out[worn, k]:
                out[worn, k] = changed = True
        if not changed:
            break
    return out
