"""Fewer whole entries at the stops chosen: visits moved away from a last entry that is hardly filled."""

from __future__ import annotations

import numpy as np

from wearplan.plan.model.exact import Bools, Floats, Model
from wearplan.plan.model.rows import Rows, cheapest
from wearplan.plan.optimise import served_before
from wearplan.plan.settings import SETTINGS

from .costing import Costed, costed
from .neighbours import pairs_broken


def fill_entries(part: Model, arcs: Floats, visits: Bools, rows: Rows) -> Costed:
    """Try to do without the last entry of each stop; keep what makes the plan cheaper as it would be carried out.

    Parameters
    ----------
    part
        The task cut down to the plan's stops.
    arcs
        (P or more, K+1, K+2) interval costs with work in parts.
    rows
        Rows at the plan's stops.
    """
    stops = tuple(part.cands.stops)
    best = costed(part, stops, visits)
    step = part.ahead.site.wheel.neighbour_step_limit_mm
    for _ in range(SETTINGS.fill.passes):
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
            now = _cost_of(arcs[served], best.visits[served])
            ways = [_without(each[served], k) for each in (arcs, rows.held(arcs, best.visits))]
            dearer = np.concatenate([cost - now for _, cost in ways]) / np.tile(np.maximum(hours, 1e-6), 2)
            trial, saved, moved = best.visits.copy(), 0.0, set()
            for at in np.argsort(dearer, kind="stable"):
                way, i = divmod(int(at), len(served))
                if saved >= over - 1e-9 or not np.isfinite(dearer[at]):
                    break
                if i in moved:
                    continue
                before = trial[served[i]].copy()
                trial[served[i]] = ways[way][0][i]
                if rows.kept(trial):
                    saved += float(hours[i])
                    moved.add(i)
                else:
                    trial[served[i]] = before
            if saved < over - 1e-9 or (step is not None and pairs_broken(part, trial, step)):
                continue
            found = costed(part, stops, trial)
            if found.cost < best.cost:
                best = found
        if best is start:
            break
    return best


def _without(arcs: Floats, node: int) -> tuple[Bools, Floats]:
    """Best visits (n, K+2) of places that may not be served at a node, and their costs (n,)."""
    barred = arcs.copy()
    barred[:, :, node] = np.inf
    return cheapest(barred)


def _cost_of(arcs: Floats, visits: Bools) -> Floats:
    """Cost (n,) of visits (n, K+2) in the arcs (n, K+1, K+2)."""
    last = served_before(visits)
    who = np.arange(len(visits))[:, None]
    inner = np.where(visits, arcs[who, last, np.arange(visits.shape[1])], 0.0)[:, 1:-1].sum(axis=1)
    return np.asarray(inner + arcs[who[:, 0], last[:, -1], -1])
