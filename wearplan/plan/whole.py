"""Fewer whole entries at the stops chosen: visits moved away from a last entry that is hardly filled."""

from __future__ import annotations

import numpy as np

from .model import Bools, Floats, Model
from .optimise import paths
from .polish import Costed, costed
from .tied import pairs_broken

_PASSES = 3


def fill_entries(part: Model, arcs: Floats, visits: Bools) -> Costed:
    """Try to do without the last entry of each stop; keep what makes the plan cheaper as it would be carried out.

    Parameters
    ----------
    part
        The task cut down to the plan's stops.
    arcs
        (P or more, K+1, K+2) interval costs with work in parts.
    """
    stops = tuple(range(part.stops))
    best = costed(part, stops, visits)
    step = part.ahead.site.wheel.neighbour_step_limit_mm
    for _ in range(_PASSES):
        start = best
        for k in stops:
            terms = part.cands.term(k)
            if terms.entry_interval_hours <= 0 or not np.isfinite(terms.hours_per_entry):
                continue
            served = np.flatnonzero(best.visits[:, k] & (np.nan_to_num(part.chamber_hours[:, k]) > 0))
            hours = part.chamber_hours[served, k]
            filled = (terms.look_hours + float(hours.sum())) / terms.hours_per_entry
            over = (filled - (np.ceil(filled - 1e-9) - 1.0)) * terms.hours_per_entry
            if filled <= 1.0 or not len(served):
                continue
            other = _without(arcs[served], k + 1)
            cost = np.where(np.isfinite(other[1]), other[1] - _cost_of(arcs[served], best.visits[served]), np.inf)
            order = np.argsort(cost / np.maximum(hours, 1e-6))
            trial, saved = best.visits.copy(), 0.0
            for i in order:
                if saved >= over - 1e-9 or not np.isfinite(cost[i]):
                    break
                trial[served[i]] = other[0][i]
                saved += float(hours[i])
            if saved < over - 1e-9 or (step is not None and pairs_broken(part, trial, step)):
                continue
            found = costed(part, stops, trial)
            if found.cost < best.cost:
                best = found
        if best is start:
            break
    return best


def _without(arcs: Floats, node: int) -> tuple[Bools, Floats]:
    """Best visits (n, K) of places that may not be served at a node, and their costs (n,)."""
    barred = np.ascontiguousarray(np.moveaxis(arcs, 0, 2)).copy()
    barred[:, node] = np.inf
    barred[np.arange(barred.shape[0])[:, None] >= np.arange(barred.shape[1])[None, :]] = np.inf
    reach = paths.forward(barred)
    return np.ascontiguousarray(paths.trace(barred, reach)[1:-1].T), reach[-1]


def _cost_of(arcs: Floats, visits: Bools) -> Floats:
    """Cost (n,) of visits (n, K) in the arcs (n, K+1, K+2)."""
    from .model import served_before

    last = served_before(visits)
    who = np.arange(len(visits))[:, None]
    steps = np.arange(1, visits.shape[1] + 1)[None, :]
    inner = np.where(visits, arcs[who, last[:, 1:-1], steps], 0.0).sum(axis=1)
    return np.asarray(inner + arcs[who[:, 0], last[:, -1], visits.shape[1] + 1])
