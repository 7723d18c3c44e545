"""The simple rules a forecast of wear must beat, each with a spread of its own.

All start from the life's last reading and add an increment. Their spread is ``sqrt(v0 + v1 * increment²)``, fitted to
how far the same rule is off on the pairs of readings known by then; `BayesianRidge` brings its own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wearplan.wear.evidence.readings import Floats, Ints

TOOL, ZONE = "this tool's mm per ring", "the zone's mm per ring"
RIDGE, POSITIVE = "BayesianRidge on path", "LinearRegression(positive=True) on path"
NAMES = (TOOL, ZONE, RIDGE, POSITIVE)


@dataclass(frozen=True, kw_only=True)
class Pairs:
    """Steps from one reading of a life to its next (the first from the fitting)."""

    growth_mm: Floats
    """(n,) NaN where it is to be forecast."""
    path_km: Floats
    """(n, C)"""
    driven_m: Floats
    zone: Ints
    before_mm: Floats
    """(n,) wear gathered at the earlier reading, since the life's start."""
    before_m: Floats
    """(n,) metres driven from the life's start to it."""


def forecast(name: str, known: Pairs, ask: Pairs) -> tuple[Floats, Floats]:
    """Increment (n,) and its standard deviation (n,) by one of `NAMES`."""
    if not len(known.growth_mm):
        return np.zeros(len(ask.driven_m)), np.full(len(ask.driven_m), 5.0)
    if name == RIDGE:
        return _ridge(known, ask)
    rule = {TOOL: _tool, ZONE: _zone, POSITIVE: _positive}[name](known)
    v0, v1 = _spread(known.growth_mm - rule(known), rule(known))
    centre = rule(ask)
    return centre, np.sqrt(v0 + v1 * centre**2)


def _zone(known: Pairs) -> Callable[[Pairs], Floats]:
    """Wear by metre in each zone, over all pairs; the same by ring, since rings are of one length."""
    overall = max(known.growth_mm.sum() / max(known.driven_m.sum(), 1e-9), 0.0)
    rate = np.full(8, overall)
    for zone in np.unique(known.zone):
        mine = known.zone == zone
        rate[zone] = max(known.growth_mm[mine].sum() / max(known.driven_m[mine].sum(), 1e-9), 0.0)
    return lambda pairs: rate[pairs.zone] * pairs.driven_m


def _tool(known: Pairs) -> Callable[[Pairs], Floats]:
    """The straight line through the tool's start and its last reading; its zone's where it has none."""
    zone = _zone(known)

    def rule(pairs: Pairs) -> Floats:
        own = np.maximum(pairs.before_mm, 0.0) / np.maximum(pairs.before_m, 1e-9) * pairs.driven_m
        return np.where(pairs.before_m > 0, own, zone(pairs))

    return rule


def _positive(known: Pairs) -> Callable[[Pairs], Floats]:
    from sklearn.linear_model import LinearRegression

    model = LinearRegression(positive=True, fit_intercept=False).fit(known.path_km, known.growth_mm)
    return lambda pairs: np.asarray(model.predict(pairs.path_km), float)


def _ridge(known: Pairs, ask: Pairs) -> tuple[Floats, Floats]:
    from sklearn.linear_model import BayesianRidge

    if len(known.growth_mm) < 3:
        return forecast(ZONE, known, ask)
    scale = max(float(np.abs(known.path_km).max()), 1e-9)
    model = BayesianRidge(fit_intercept=False).fit(known.path_km / scale, known.growth_mm)
    centre, sd = model.predict(ask.path_km / scale, return_std=True)
    return np.asarray(centre, float), np.asarray(sd, float)


def _spread(off: Floats, size: Floats) -> tuple[float, float]:
    """v0, v1 >= 0 of the squared error on the squared increment."""
    from scipy.optimize import nnls

    off = off[np.isfinite(off)]
    if len(off) < 4:
        return 1.0, 0.25
    # weights against the heavy tail of squares
    weight = 1.0 / (1.0 + size**2)
    found, _ = nnls(np.c_[np.ones(len(off)), size**2] * weight[:, None], off**2 * weight)
    return float(max(found[0], 0.05)), float(found[1])
