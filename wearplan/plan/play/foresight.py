"""What nobody can reach: the least cost when each draw's wear is known beforehand."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wearplan.plan.model.exact import F32, Floats, Model
from wearplan.plan.optimise import Problem, solve
from wearplan.plan.settings import SETTINGS

from .worlds import Worlds

_LOOSE = 0.02


@dataclass(frozen=True, kw_only=True)
class _Chain:
    """Tools put on at forced stops in one draw, by the point of the mesh (M) and place (P)."""

    fee: Floats
    """(M, P) of a passing there."""
    cost: Floats
    """(M, P, T) of all later passings by each node, from a tool put on there."""
    left: Floats
    """(M, P) share left at the end of the drive of the tool that is then in place."""


def _chain(worlds: Worlds, d: int, fresh: F32) -> _Chain:
    """``fresh`` (M, E): the factor of a tool put on at each point."""
    model = worlds.model
    costs = model.ahead.site.stops.costs if model.ahead.site.stops else None
    path, node = worlds.path_mm[:, d].astype(float), worlds.node
    points, places = len(path), model.places
    passes = np.empty(fresh.shape, dtype=np.intp)
    for e in range(path.shape[1]):
        passes[:, e] = np.searchsorted(path[:, e], path[:, e] + worlds.damage_mm[e] / fresh[:, e], side="right")
    jump = np.minimum.reduceat(passes, worlds.first_edge, axis=1)
    price = np.array([t.price for t in model.ahead.tools])
    fee = (costs.passed_limit if costs else 0.0) + price[None, :] + worlds.forced_cost[:, None]
    worn = worlds.by_place(fresh * (path[-1] - path) / worlds.limit_mm)
    left = np.maximum(0.0, 1.0 - worn)
    cost = np.zeros((points, places, len(node)))
    each = np.arange(places)
    for m in range(points - 1, -1, -1):
        on = jump[m] < points
        j = np.minimum(jump[m], points - 1)
        past = on[:, None] & (node[None, :] >= j[:, None])
        cost[m] = np.where(past, fee[j, each][:, None] + cost[j, each], 0.0)
        left[m] = np.where(on, left[j, each], left[m])
    return _Chain(fee=fee, cost=cost, left=left)


def draw_costs(worlds: Worlds, d: int, fresh: F32) -> Floats:
    """(P, N+1, N+2) true cost of every interval in draw ``d``, without work; inf for s >= t.

    Damage of tools put on at a forced stop is left out, so that it is never more than what the interval costs.
    """
    model, node = worlds.model, worlds.node
    ahead, damage = model.ahead, model.ahead.damage
    path = worlds.path_mm[:, d].astype(float)
    chain = _chain(worlds, d, fresh)
    gap = np.concatenate([[0.0], np.diff(worlds.mesh_m)])
    nodes, places, points = len(node), model.places, len(path)
    each = np.arange(places)
    out = np.full((places, nodes - 1, nodes), np.inf)
    price = np.array([t.price for t in ahead.tools])
    core = np.array([t.core for t in ahead.tools])
    value = np.array([t.life_value for t in ahead.tools])
    share_now = worlds.by_place(worlds.start_mm[d] / worlds.limit_mm)
    for s in range(nodes - 1):
        m = int(node[s])
        factor = worlds.factor[s, d]
        start = worlds.start_mm[d] if s == 0 else 0.0
        wear = start + factor * (path[m:] - path[m])
        worn = worlds.by_place(wear - worlds.damage_mm) > 0
        # What is late at the face stops the drive as soon as it goes on.
        first = np.where(worn[1:].any(axis=0), 1 + np.argmax(worn[1:], axis=0), points) if len(worn) > 1 else points
        first = np.broadcast_to(first, places)
        index = np.arange(len(worn))[:, None]
        broke = ((worlds.hazard[m:] - worlds.hazard[m]) > worlds.patience[s, d]) & (index <= first)
        before = np.concatenate([broke[:1], broke[:-1]])
        here = np.where(index > 0, gap[m:, None], 0.0)
        late = damage.major_per_m * here * 0.5 * (broke + before.astype(float)) + (broke & ~before) * damage.major
        run = np.cumsum(late, axis=0)
        at = node[s + 1 :] - m
        passed = at[:, None] >= first[None, :]
        j = np.minimum(m + first, points - 1)
        forced = np.where(passed, chain.fee[j, each] + chain.cost[j, each][:, s + 1 :].T, 0.0)
        bad = (broke[at] | (worn[at] & (at == 0)[:, None])) & ~passed
        tool = price - core * ~bad
        own = np.maximum(0.0, 1.0 - worlds.by_place(wear[-1] / worlds.limit_mm))
        tool[-1] = -(core * ~bad[-1] + value * np.where(passed[-1], chain.left[j, each], own))
        if s == 0:
            tool = tool + (core * ~(worn[0] | broke[0]) + value * np.maximum(0.0, 1.0 - share_now))
        out[:, s, s + 1 :] = (run[at] + forced + tool).T
    return out


def foresight_costs(
    worlds: Worlds, picks: list[int], *, draws: int, should_stop: Callable[[], bool] | None = None
) -> Floats:
    """(n,) least cost of the first draws, with entries in parts: a bound below what any plan reaches in that draw.

    Only the candidates ``picks`` are open, caps and rows are left out (with foresight nothing is left to chance). The
    lower bound of the solve is taken. Fewer than ``draws`` where somebody asks to stop, or where a solve does not come
    near enough in the branchings it has: a bound too weak is not used.
    """
    model: Model = worlds.model
    nodes = model.nodes_at(picks)
    found, effort = [], SETTINGS.beside
    fresh = np.stack([worlds.fitted_at(m)[0][:draws] for m in range(len(worlds.mesh_m))])
    work = np.where(model.serviceable, model.work_in_parts, np.inf)[:, nodes]
    work[:, [0, -1]] = 0.0
    for d in range(min(draws, worlds.draws)):
        if should_stop is not None and should_stop():
            break
        cost = draw_costs(worlds, d, fresh[:, d])[:, nodes[:-1]][:, :, nodes] + work[:, None, :]
        low = np.arange(len(nodes) - 1)[:, None] >= np.arange(len(nodes))[None, :]
        cost[:, low] = np.inf
        solved = solve(
            Problem(interval_cost=cost, stop_cost=model.opening_in_parts[nodes]),
            gap=effort.foresight_gap,
            time_limit_s=math.inf,
            most_nodes=effort.foresight_nodes,
            should_stop=should_stop,
        )
        if solved.visits is None or solved.gap > _LOOSE:
            continue
        found.append(solved.lower_bound)
    return np.array(found)
