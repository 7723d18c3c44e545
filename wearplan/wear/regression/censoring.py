"""Censored readings by expectation propagation.

"Nothing to see", "past measuring", a sensor's word and its proved silence say only on which side of a bound the
reading lies. Each becomes a Gaussian pseudo-reading whose moments match the truncated distribution given all the
others (Minka 2001; Rasmussen & Williams 2006, section 3.6). The hard bound is set on the reading itself, its own
error included, so for independent readings the result is the exact censored likelihood.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearplan.wear.evidence.readings import Floats, Readings

from .algebra import Evaluation, evaluate

_LEAST, _MOST = 1e-7, 1.0 - 1e-9


@dataclass(frozen=True)
class Sites:
    """Pseudo-values (N,) and their variances (N,); where a value was read: the value and 0."""

    values: Floats
    variance: Floats


def first_sites(readings: Readings) -> Sites:
    """Sites that say almost nothing yet."""
    return Sites(readings.wear_mm.copy(), np.where(readings.censored != 0, 1e4, 0.0))


def truncated(mean: Floats, variance: Floats, bound: Floats, side: Floats) -> tuple[Floats, Floats, Floats]:
    """Moments of a Gaussian known to lie on one side of a bound.

    Parameters
    ----------
    side : -1 below the bound, +1 above it.

    Returns
    -------
    tuple
        Log probability of that side, shift of the mean, and the share w of the variance that is lost
        (variance after = variance (1 - w)).
    """
    from scipy.special import log_ndtr

    root = np.sqrt(variance)
    z = side * (mean - bound) / root
    log_p = log_ndtr(z)
    hazard = np.exp(np.minimum(-0.5 * z**2 - 0.5 * np.log(2 * np.pi) - log_p, 700.0))
    lost = np.clip(hazard * (hazard + z), _LEAST, _MOST)
    return log_p, side * root * hazard, lost


def settle(
    readings: Readings, parameters: Floats, sites: Sites, carried_var: Floats, *, sweeps: int = 12, within: float = 1e-4
) -> tuple[Evaluation, float, Sites]:
    """Sweep until the sites agree with one another.

    Returns the evaluation at the sites, the log marginal likelihood of values and bounds, and the sites. At a fixed
    point the gradient of that likelihood is the gradient of the evaluation (Seeger 2005).
    """
    rows = readings.bounded
    if not len(rows):
        found = evaluate(readings, parameters, sites.values, sites.variance, carried_var)
        return found, found.log_density, sites
    side, bound = readings.censored[rows].astype(float), readings.wear_mm[rows]
    values, variance = sites.values.copy(), sites.variance.copy()
    found = evaluate(readings, parameters, values, variance, carried_var)
    correction = 0.0
    for sweep in range(sweeps + 1):
        left_out = 1.0 / found.inverse_diagonal[rows]
        mean = values[rows] - found.alpha[rows] * left_out
        cavity = np.maximum(left_out - variance[rows], 1e-9)
        log_p, shift, lost = truncated(mean, cavity, bound, side)
        correction = float((log_p + 0.5 * np.log(2 * np.pi * cavity / lost) + 0.5 * shift**2 / (cavity * lost)).sum())
        target_value, target_var = mean + shift / lost, cavity * (1.0 - lost) / lost
        # precisions and precision-means are what is damped: they add up, values do not
        old, new = 1.0 / variance[rows], 1.0 / np.maximum(target_var, 1e-9)
        moved = np.max(np.abs(new - old) * cavity + np.abs(new * target_value - old * values[rows]) * np.sqrt(cavity))
        if moved < within or sweep == sweeps:
            break
        keep = 0.0 if sweep < 3 else 0.3
        mixed = keep * old + (1 - keep) * new
        values[rows] = (keep * old * values[rows] + (1 - keep) * new * target_value) / mixed
        variance[rows] = 1.0 / mixed
        found = evaluate(readings, parameters, values, variance, carried_var)
    return found, found.log_density + correction, Sites(values, variance)
