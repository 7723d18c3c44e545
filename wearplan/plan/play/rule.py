"""With the stops given: from which measured wear a tool is changed at each of them.

One dynamic programme a place over measured wear: at a stop either change (steel, work, and what a new tool costs from
there on) or leave. A tool that passes its damage limit on the way is changed there, for the fee, the hours of the
forced stop and its price, and what follows is a new tool's. Wear gathered between stops is a gamma of the
outlook's mean and spread, whatever the wear at the start. Leaving is barred where the chance of passing the limit
before the next stop breaks the cap of the zone. Readings are taken as exact here; the draws they are played on are
not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.ahead.renewal import forced_between
from wearplan.plan.ahead.terms import Terms
from wearplan.plan.model.exact import F32, Bools, Floats, Model

_CELLS = 120


@dataclass(frozen=True, kw_only=True)
class Thresholds:
    """Measured wear from which a tool is changed at each of K stops, by the plan's nodes: now, the stops, the end."""

    stops: tuple[int, ...]
    wear_mm: Floats
    """(P, K+2) from which the tool is changed; inf: leave whatever is found. Where changing pays for its share of an
    entry, too.
    """
    gain: Floats
    """(P, K+2, C) what changing saves against leaving, for measured wear on ``grid_mm``, before standstill in whole
    entries; inf where leaving is barred, -inf where the tool cannot be changed.
    """
    grid_mm: Floats
    """(P, C)"""

    def gains(self, k: int, wear_mm: Floats | F32) -> Floats:
        """(D, P) gain of changing at node ``k`` of the plan for measured wear (D, P), by the grid's nearest cell."""
        cell = self.grid_mm[:, 1]
        at = np.clip(np.rint(wear_mm / cell), 0, self.grid_mm.shape[1] - 1).astype(int)
        return np.asarray(self.gain[np.arange(len(cell))[None, :], k, at])


def whole_choice(gain: Floats, hours: Floats, terms: Terms) -> Bools:
    """(D, P) what to change at a stop when entries are counted whole: fill them in the order of gain an hour, as far
    as it pays.

    Parameters
    ----------
    gain
        (D, P) from `Thresholds.gains`; inf must be changed, -inf cannot be.
    hours
        (P,) chamber hours of a change, shared over the work places.
    """
    density = np.where(np.isposinf(gain), np.inf, gain / np.maximum(hours, 1e-3))
    order = np.argsort(-density, axis=1)
    sorted_gain = np.take_along_axis(gain, order, axis=1)
    must = np.isposinf(sorted_gain)
    value = np.cumsum(np.where(np.isfinite(sorted_gain), sorted_gain, 0.0), axis=1)
    value = np.where(np.isneginf(sorted_gain), -np.inf, value)
    spent = np.cumsum(hours[order], axis=1)
    if np.isfinite(terms.hours_per_entry) and terms.entry_interval_hours > 0:
        entries = np.maximum(1.0, np.ceil((terms.look_hours + spent) / terms.hours_per_entry - 1e-9))
        value = value - entries * terms.entry_cost
        none = -terms.entry_cost * terms.entries(terms.look_hours)
    else:
        none = 0.0
    # Everything that must be changed is within the choice.
    count = must.sum(axis=1)
    place = np.arange(gain.shape[1])[None, :]
    value = np.where(place >= count[:, None] - 1, value, -np.inf)
    best = np.argmax(value, axis=1)
    some = (np.take_along_axis(value, best[:, None], axis=1)[:, 0] > none) | (count > 0)
    chosen = np.zeros(gain.shape, dtype=bool)
    np.put_along_axis(chosen, order, (place <= best[:, None]) & some[:, None], axis=1)
    return chosen & ~np.isneginf(gain)


def thresholds(model: Model, stops: tuple[int, ...]) -> Thresholds:
    """Work out the rule of change for some of the candidates."""
    ahead, out = model.ahead, model.ahead.outlook
    nodes = model.nodes_at(stops)
    x = model.inter.node_m[nodes]
    gain = np.full((model.places, len(nodes), _CELLS + 1), -math.inf)
    grid = np.empty((model.places, _CELLS + 1))
    work, beside, can = (x[:, nodes] for x in (model.work_in_parts, model.work_beside, model.serviceable))
    costs = ahead.site.stops.costs if ahead.site.stops else None
    late_tool = costs.passed_limit if costs else 0.0
    potential = ahead.at(np.asarray(out.potential_mm), x).astype(float)
    forced = forced_between(ahead.site.stops, x)
    cap = np.where(model.free_rows, math.inf, model.cap)
    for p, tool in enumerate(ahead.tools):
        edge = max(tool.edges, key=lambda e: float(potential[:, e, -1].mean()))
        rise = np.maximum(np.diff(potential[:, edge], axis=1), 0.0)
        sd, step = float(np.mean(out.life_sd[:, edge])), float(np.mean(out.step_mm[:, edge]))
        mean = rise.mean(axis=0)
        spread = rise.var(axis=0) * (1 + sd**2) + (mean * sd) ** 2 + step * mean
        limit, damage = float(ahead.limit_mm[edge]), float(ahead.damage_limit_mm[edge])
        grid[p], gain[p] = _place(
            mean=mean,
            variance=spread,
            limit=limit,
            damage=damage,
            core=tool.core,
            price=tool.price,
            work=work[p],
            can=can[p],
            late_tool=late_tool + tool.price + forced,
            cap=float(cap[p]),
        )
        gain[p] -= np.where(can[p], beside[p], 0.0)[:, None]
    rest = (work - beside)[:, :, None]
    pays = gain > rest
    first = np.argmax(pays, axis=2)
    table = np.where(
        pays.any(axis=2), np.take_along_axis(grid[:, None, :], first[:, :, None], axis=2)[:, :, 0], math.inf
    )
    return Thresholds(stops=stops, wear_mm=table, gain=gain, grid_mm=grid)


@lru_cache(maxsize=64)
def _grown(limit: float, damage: float) -> tuple[Bools, NDArray[np.intp], Floats]:
    """Wear at the start (rows) and gathered since (columns), in cells of the grid, (C, C) each: where it passes the
    damage limit, the cell it ends in (of the tool put on where it passed: it gathers what is left of the way), and 1
    where it ends past the limit.
    """
    cell = 1.6 * max(damage, limit) / _CELLS
    steps = np.arange(_CELLS + 1) * cell
    grown = steps[:, None] + steps[None, :]
    late = grown > damage
    # A tool measured past its damage limit and left passes at once, so the new one gathers the whole of the way.
    rest = np.where(steps[:, None] > damage, steps[None, :], grown - damage)
    ends = np.rint(np.where(late, np.minimum(rest, damage), grown) / cell).astype(np.intp)
    return late, np.clip(ends, 0, _CELLS), (grown > limit).astype(float)


def _place(
    *,
    mean: Floats,
    variance: Floats,
    limit: float,
    damage: float,
    core: float,
    price: float,
    work: Floats,
    can: Bools,
    late_tool: Floats,
    cap: float,
) -> tuple[Floats, Floats]:
    """Grid (C,) and gain (K+2, C) before any work of one place; arrays over the K+1 stretches, ``work`` and ``can``
    over the K+2 nodes.
    """
    from scipy.special import gammainc

    top = 1.6 * max(damage, limit)
    wear = np.linspace(0.0, top, _CELLS + 1)
    cell = wear[1]
    life = price - core
    # At the end: what sound core and life left are worth.
    rest = -(core * (wear <= damage) + life * np.maximum(0.0, 1.0 - wear / limit))
    found = np.full((len(work), _CELLS + 1), -math.inf)
    late, ends, past = _grown(limit, damage)
    for k in range(len(mean) - 1, -1, -1):
        if mean[k] <= 1e-9:
            leave = np.where(wear > damage, late_tool[k] + rest[0], rest)
            over = (wear > limit).astype(float)
        else:
            scale = variance[k] / mean[k]
            edges = np.concatenate([[0.0], (np.arange(_CELLS + 1) + 0.5) * cell])
            mass = np.diff(gammainc(mean[k] / scale, edges / scale))
            mass[-1] += 1.0 - mass.sum()
            leave = rest[ends] @ mass + late_tool[k] * (late @ mass)
            over = past @ mass
        if k == 0:
            break
        fresh = float(leave[0])
        change = price - core * (wear <= damage) + work[k] + fresh
        held = leave.copy()
        if math.isfinite(cap) and can[k]:
            held[(over > max(cap, over[0])) & (wear > 0)] = math.inf
        if can[k]:
            found[k] = held - (change - work[k])
            rest = np.minimum(change, held)
        else:
            rest = leave
    return wear, found
