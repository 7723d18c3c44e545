"""What nobody can reach: the least cost when each draw's wear is known beforehand."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from wearplan.plan.model.exact import Floats, Model
from wearplan.plan.optimise import Problem, solve

from .worlds import Worlds

_LOOSE = 0.02


def draw_costs(worlds: Worlds, d: int) -> Floats:
    """(P, N+1, N+2) cost of every interval in draw ``d``, without work, or less; inf for s >= t.

    A tool that passes its damage limit is changed there once; that the next one may pass too is left out, and its life
    at the end counts as whole: so this stays below what the interval costs.
    """
    model = worlds.model
    ahead = model.ahead
    costs = ahead.site.stops.costs if ahead.site.stops else None
    late_tool = costs.late_tool if costs else 0.0
    damage = ahead.damage
    path, node = worlds.path_mm[:, d].astype(float), worlds.node
    gap = np.concatenate([[0.0], np.diff(worlds.mesh_m)])
    nodes, places = len(node), model.places
    out = np.full((places, nodes - 1, nodes), np.inf)
    price = np.array([t.price for t in ahead.tools])
    core = np.array([t.core for t in ahead.tools])
    value = np.array([t.life_value for t in ahead.tools])
    share_now = worlds.by_place(worlds.start_mm[d] / worlds.limit_mm)
    for s in range(nodes - 1):
        m = int(node[s])
        factor = worlds.factor_now[d] if s == 0 else worlds.factor[s - 1, d]
        start = worlds.start_mm[d] if s == 0 else 0.0
        wear = start + factor * (path[m:] - path[m])
        worn = worlds.by_place(wear - worlds.damage_mm) > 0
        broke = (worlds.hazard[m:] - worlds.hazard[m]) > worlds.patience[s, d]
        first = worn & ~np.concatenate([np.zeros_like(worn[:1]), worn[:-1]])
        first[0] = False
        if len(worn) > 1:
            first[1] |= worn[0]  # late at the face: it stops the drive as soon as it goes on
        broke &= ~np.concatenate([np.zeros_like(worn[:1]), worn[:-1]])
        before = np.concatenate([broke[:1], broke[:-1]])
        here = gap[m:, None].copy()
        here[0] = 0.0
        late = damage.major_per_m * here * 0.5 * (broke + before.astype(float)) + (broke & ~before) * damage.major
        late += first * (late_tool + price + worlds.forced_cost[m:, None])
        run = np.cumsum(late, axis=0)
        at = node[s + 1 :] - m
        bad = broke[at] | (worn[at] & (at == 0)[:, None])
        tool = price - core * ~bad
        left = np.where(worn[-1], 1.0, np.maximum(0.0, 1.0 - worlds.by_place(wear[-1] / worlds.limit_mm)))
        tool[-1] = -(core * ~bad[-1] + value * left)
        if s == 0:
            tool = tool + (core * ~(worn[0] | broke[0]) + value * np.maximum(0.0, 1.0 - share_now))
        out[:, s, s + 1 :] = (run[at] + tool).T
    return out


def foresight_costs(
    worlds: Worlds, picks: list[int], *, draws: int, time_limit_s: float, should_stop: Callable[[], bool] | None = None
) -> Floats:
    """(n,) least cost of the first draws, with entries in parts: a bound below what any plan reaches in that draw.

    Only the candidates ``picks`` are open, caps and rows are left out (with foresight nothing is left to chance). The
    lower bound of the solve is taken. Fewer than ``draws`` where time runs out: a solve cut short gives too weak a
    bound and is not used.
    """
    import time

    model: Model = worlds.model
    nodes = model.nodes_at(picks)
    until = time.perf_counter() + time_limit_s
    found = []
    work = np.where(model.serviceable, model.work_in_parts, np.inf)[:, picks]
    for d in range(min(draws, worlds.draws)):
        left = until - time.perf_counter()
        if left <= 0.05 or (should_stop is not None and should_stop()):
            break
        cost = draw_costs(worlds, d)[:, nodes[:-1]][:, :, nodes]
        cost[:, :, 1:-1] += work[:, None, :]
        low = np.arange(len(nodes) - 1)[:, None] >= np.arange(len(nodes))[None, :]
        cost[:, low] = np.inf
        solved = solve(
            Problem(interval_cost=cost, stop_cost=model.opening_in_parts[picks]), gap=1e-2, time_limit_s=left
        )
        if solved.visits is None or solved.gap > _LOOSE:
            break
        found.append(solved.lower_bound)
    return np.array(found)
