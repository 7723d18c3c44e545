"""Scores of forecasts that come as draws."""

from __future__ import annotations

import numpy as np

from wearplan.wear.evidence.readings import Floats


def crps(draws: Floats, value: Floats) -> Floats:
    """Continuous ranked probability score of draws (D, N) against values (N,), in the unit of the values.

    E|X - y| - E|X - X'| / 2, the second term over all pairs of draws (Gneiting & Raftery 2007, eq. 21).
    """
    ordered = np.sort(np.asarray(draws, float), axis=0)
    count = len(ordered)
    ranks = 2.0 * np.arange(1, count + 1) - count - 1.0
    spread = ranks @ ordered / count**2
    return np.asarray(np.abs(ordered - value).mean(axis=0) - spread)


def crps_normal(mean: Floats, sd: Floats, value: Floats) -> Floats:
    """CRPS of a Gaussian (Gneiting & Raftery 2007, eq. 22)."""
    from scipy.special import ndtr

    z = (np.asarray(value, float) - mean) / sd
    density = np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi)
    return np.asarray(sd * (z * (2 * ndtr(z) - 1) + 2 * density - 1 / np.sqrt(np.pi)))


def pit(draws: Floats, value: Floats, censored: Floats, rng: np.random.Generator) -> Floats:
    """Probability integral transform (N,) of values under draws (D, N), randomised where a value is only a bound.

    A reading known to lie below its bound is spread evenly over [0, F(bound)], above over [F(bound), 1]
    (Czado, Gneiting & Held 2009, for the randomised form). Ties between draws and value are broken evenly.
    """
    less, not_more = (draws < value).mean(axis=0), (draws <= value).mean(axis=0)
    uniform = rng.random(len(less))
    at = less + uniform * (not_more - less)
    low, high = np.where(censored > 0, not_more, 0.0), np.where(censored < 0, less, 1.0)
    return np.asarray(np.where(censored == 0, at, low + uniform * np.maximum(high - low, 0.0)))
