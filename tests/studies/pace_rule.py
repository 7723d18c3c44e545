"""A rule of change that remembers each tool's own pace, tried and not taken up: see `pace_study`. Else like
`plan.play.rule`.

What was measured at a stop tells more than wear: a tool that lost much since it was fitted goes on losing much. The
state is so where the tool was fitted and the wear measured; its pace is never known, only what both tell of it. With m
the wear expected since fitting (life factor 1), theta the scale of the steps, e the reading error, rho the relative
doubt of the place's total over the draws and r² the variance of a stretch beyond that, a new tool's pace is taken as a
gamma of mean 1 and shape kappa, 1 / kappa = sd² (1 + rho²) + rho², and w mm measured count as w q events in m q, with
q = m / (theta m + e² + r²) (the conjugate update of a gamma by a Poisson, Gelman et al., Bayesian Data Analysis, ch. 2;
from memory):

    f = (kappa + w q) / (kappa + m q),   var f = f / (kappa + m q).

A stretch of mean m' then adds a gamma of mean f m' and variance theta f m' + var f m'² + r'² f² + min(e², w² / 4). For
the tool in place now, whose pace the draws hold, a line is drawn through the draws of what it will have lost by a stop
and what it gathers from there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.ahead.chance import gamma_tail
from wearplan.plan.ahead.renewal import forced_between
from wearplan.plan.model.exact import Bools, Floats, Model
from wearplan.plan.play.worlds import reading_errors

CELLS = 48
_IN_PLACE = 0
"""The state of the tool in place now; a tool fitted at node k of the plan has state k."""


@dataclass(frozen=True, kw_only=True)
class Paced:
    """Values of a plan of K stops by place, node of the plan, state and measured wear."""

    grid_mm: Floats
    """(P, C)"""
    value: Floats
    """(P, K+2, K+2, C) what is still to come at a node before it is decided there; at the end what is left."""
    fresh: Floats
    """(P, K+2) the same for a tool just put on there."""


@dataclass(frozen=True, kw_only=True)
class _Places:
    """Arrays over the P places of what the values rest on, at the K+2 nodes of the plan."""

    rise_mm: Floats
    """(P, D, K+1) of a tool of factor 1 on each stretch."""
    wear_mm: Floats
    """(P, D) now."""
    factor: Floats
    """(P, D)"""
    sd: Floats
    """(P,)"""
    step_mm: Floats
    """(P,)"""
    error_mm: Floats
    """(P,)"""
    limit_mm: Floats
    damage_mm: Floats
    core: Floats
    price: Floats
    late: Floats
    """(P, K+1) what a tool costs that passes its damage limit on a stretch."""

    @property
    def mean_mm(self) -> Floats:
        """(P, K+1)"""
        return self.rise_mm.mean(axis=1)

    def of_new(self, start: int, node: int) -> tuple[Floats, Floats]:
        """Mean and variance beyond the total's doubt (P,) of what a factor of 1 gathers between two nodes."""
        mine = self.rise_mm[:, :, start:node].sum(axis=2)
        total = self.rise_mm.sum(axis=2)
        share = total / np.maximum(total.mean(axis=1, keepdims=True), 1e-9)
        mean = mine.mean(axis=1)
        return mean, np.asarray((mine - share * mean[:, None]).var(axis=1))

    @property
    def shape(self) -> Floats:
        """(P,) kappa."""
        total = self.rise_mm.sum(axis=2)
        rho2 = total.var(axis=1) / np.maximum(total.mean(axis=1), 1e-9) ** 2
        return np.asarray(1.0 / np.maximum(self.sd**2 * (1.0 + rho2) + rho2, 1e-6))


def _gathered(model: Model, nodes: NDArray[np.intp]) -> _Places:
    ahead, out = model.ahead, model.ahead.outlook
    x = model.inter.node_m[nodes]
    costs = ahead.site.stops.costs if ahead.site.stops else None
    potential = ahead.at(np.asarray(out.potential_mm), x).astype(float)
    edge = [max(t.edges, key=lambda e: float(potential[:, e, -1].mean())) for t in ahead.tools]
    now = np.asarray(out.wear_now_mm, float)
    price = np.array([t.price for t in ahead.tools])
    late = (costs.passed_limit if costs else 0.0) + price[:, None] + forced_between(ahead.site.stops, x)[None, :]
    return _Places(
        rise_mm=np.maximum(np.diff(np.moveaxis(potential[:, edge], 1, 0), axis=2), 0.0),
        wear_mm=np.array([now[:, list(t.edges)].max(axis=1) for t in ahead.tools]),
        factor=np.asarray(out.life_factor, float)[:, edge].T,
        sd=np.asarray(out.life_sd, float)[:, edge].mean(axis=0),
        step_mm=np.maximum(np.asarray(out.step_mm, float)[:, edge].mean(axis=0), 1e-3),
        error_mm=reading_errors(model).astype(float),
        limit_mm=ahead.limit_mm[edge],
        damage_mm=ahead.damage_limit_mm[edge],
        core=np.array([t.core for t in ahead.tools]),
        price=price,
        late=late,
    )


def _paced(model: Model, nodes: NDArray[np.intp], at: _Places) -> Paced:
    """Work out the values at the nodes of a plan, last node first."""
    count = len(nodes)
    top = 1.6 * np.maximum(at.damage_mm, at.limit_mm)
    wear = np.linspace(0.0, 1.0, CELLS + 1)[None, :] * top[:, None]
    work, can = model.work_in_parts[:, nodes], model.serviceable[:, nodes]
    cap = np.where(model.free_rows, math.inf, model.cap * model.cap_share)
    values = np.full((model.places, count, count, CELLS + 1), math.inf)
    fresh = np.zeros((model.places, count))
    sound = at.core[:, None] * (wear <= at.damage_mm[:, None])
    life = (at.price - at.core)[:, None]
    end = -(sound + life * np.maximum(0.0, 1.0 - wear / at.limit_mm[:, None]))
    values[:, -1] = end[:, None, :]
    for k in range(count - 2, 0, -1):
        gone = np.empty((model.places, k + 1, CELLS + 1))
        over = np.empty_like(gone)
        for state in range(k + 1):
            mean, variance = _increment(at, state, k, wear)
            mass = _mass(mean, variance, wear)
            gone[:, state], over[:, state] = _onward(at, k, wear, mass, values[:, k + 1], state)
        fresh[:, k] = gone[:, k, 0]
        change = at.price[:, None] - sound + (fresh[:, k] + work[:, k])[:, None]
        barred = (over > np.maximum(cap[:, None], over[:, k, :1])[:, :, None]) & (wear > 0)[:, None, :]
        held = np.where(barred & can[:, k, None, None], math.inf, gone)
        best = np.where(can[:, k, None, None], np.minimum(held, change[:, None, :]), gone)
        values[:, k, : k + 1] = best
    return Paced(grid_mm=wear, value=values, fresh=fresh)


def _increment(at: _Places, state: int, k: int, wear: Floats) -> tuple[Floats, Floats]:
    """Mean and variance (P, C) of what the tool gathers on the stretch from node k on, by its measured wear there."""
    mean, e2 = at.mean_mm[:, k][:, None], (at.error_mm**2)[:, None]
    theta = at.step_mm[:, None]
    misread = np.minimum(e2, wear**2 / 4.0)
    if state == _IN_PLACE:
        lost = at.factor * at.rise_mm[:, :, :k].sum(axis=2)
        then = at.wear_mm + lost
        coming = at.factor * at.rise_mm[:, :, k]
        x, y = then.mean(axis=1, keepdims=True), coming.mean(axis=1, keepdims=True)
        together = ((then - x) * (coming - y)).mean(axis=1, keepdims=True)
        spread = then.var(axis=1)[:, None] + theta * lost.mean(axis=1, keepdims=True) + e2
        slope = np.maximum(together, 0.0) / np.maximum(spread, 1e-9)
        expected = np.clip(y + slope * (wear - x), 0.3 * y, 3.0 * y)
        rest = np.maximum(coming.var(axis=1)[:, None] - slope * together, 0.0)
        return expected, theta * expected + rest * (expected / np.maximum(y, 1e-9)) ** 2 + misread
    since, beyond = (each[:, None] for each in at.of_new(state, k))
    _, doubt = at.of_new(k, k + 1)
    shape = at.shape[:, None]
    q = since / np.maximum(theta * since + e2 + beyond, 1e-9)
    f = (shape + wear * q) / (shape + since * q)
    known = f / (shape + since * q)
    return f * mean, theta * f * mean + known * mean**2 + doubt[:, None] * f**2 + misread * (k > state)


def _mass(mean: Floats, variance: Floats, wear: Floats) -> Floats:
    """(P, ..., C) chance of each step of the grid for gammas of means and variances (P, ...)."""
    edges = (np.arange(CELLS + 1) + 0.5) * wear[:, 1].reshape(-1, *[1] * mean.ndim)
    tail = gamma_tail(mean_mm=mean[..., None], variance_mm2=variance[..., None], room_mm=edges)
    tail[..., -1] = 0.0
    return np.asarray(-np.diff(tail, axis=-1, prepend=1.0))


def _onward(
    at: _Places, k: int, wear: Floats, mass: Floats, value: Floats, state: int
) -> tuple[Floats, Floats]:
    """(P, C) expected cost of leaving a tool from node k on, and its chance to be past its limit at the next; ``mass``
    (P, C, C) by wear now and gathered, ``value`` (P, K+2, C) by state at the next node. What passes the damage limit
    is changed on the way: a tool of unknown pace with what is left of the stretch.
    """
    late, ends = _ends(at, wear[:, :, None], wear)
    who = np.arange(len(wear))[:, None, None]
    after = np.where(late, value[who, k + 1, ends], value[who, state, ends])
    cost = (after * mass).sum(axis=2) + at.late[:, k][:, None] * (late * mass).sum(axis=2)
    past = wear[:, :, None] + wear[:, None, :] > at.limit_mm[:, None, None]
    return cost, (past * mass).sum(axis=2)


def _ends(at: _Places, start: Floats, wear: Floats) -> tuple[Bools, NDArray[np.intp]]:
    """Whether wear (P, S, 1) at the start plus what is gathered (P, C) passes the damage limit, and the cell (P, S, C)
    it ends in: of a tool measured past it the next one's, which gathers all of the stretch.
    """
    damage, gathered = at.damage_mm[:, None, None], wear[:, None, :]
    grown = start + gathered
    late = grown > damage
    rest = np.minimum(np.where(start > damage, gathered, grown - damage), damage)
    ends = np.rint(np.where(late, rest, grown) / wear[:, 1][:, None, None])
    return np.asarray(late), np.clip(ends, 0, CELLS).astype(np.intp)


def gain_now(model: Model, stops: tuple[int, ...]) -> Floats:
    """(P,) what changing at the plan's first stop saves against leaving, standing there with its readings in: over the
    draws, each with its own wear and pace. Without standstill in whole entries; inf where leaving is barred by the cap
    until the next stop, -inf where the tool cannot be changed.
    """
    nodes = model.nodes_at(stops)
    at = _gathered(model, nodes)
    values = _paced(model, nodes, at)
    wear, here, after = values.grid_mm, int(nodes[1]), int(nodes[2])
    coming = at.factor * at.rise_mm[:, :, 1]
    misread = np.minimum(at.error_mm[:, None] ** 2, at.wear_mm**2 / 4.0)
    mass = _mass(coming, at.step_mm[:, None] * coming + misread, wear)
    late, ends = _ends(at, at.wear_mm[:, :, None], wear)
    who = np.arange(model.places)[:, None, None]
    value = values.value[:, 2]
    onward = np.where(late, value[who, 2, ends] + at.late[:, 1][:, None, None], value[who, _IN_PLACE, ends])
    leave = (onward * mass).sum(axis=2).mean(axis=1)
    sound = (at.wear_mm <= at.damage_mm[:, None]).mean(axis=1)
    gain = leave - (at.price - at.core * sound + values.fresh[:, 1]) - model.work_beside[:, here]
    barred = model.breaks[:, 0, after] & ~model.breaks[:, here, after] & ~model.free_rows
    gain = np.where(barred, math.inf, gain)
    return np.where(model.serviceable[:, here], gain, -math.inf)
