"""What one drive's own readings say of its unit rates, taken out of its fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wearplan.fleet.pool import Floats

if TYPE_CHECKING:
    from wearplan.wear.regression.posterior import Posterior

_NOTHING = 1e-4
"""Precision of a log rate below which readings say nothing of it."""


def own_words(posterior: Posterior, units: int) -> tuple[Floats, Floats]:
    """Log rates (U,) and their precision (U, U) by the readings alone, the belief about the units taken out.

    Notes
    -----
    At the mode m the likelihood of all parameters is taken as Gaussian with its own curvature H. Zones and scales keep
    their priors and are integrated out (Schur complement), which leaves a precision L of the units. The belief about
    the units, precision P about m0, moved the mode; without it the readings point to ``y`` with ``L y = L m + P (m -
    m0)``.
    """
    prior = posterior.prior
    terms = posterior.terms
    free = np.r_[np.ones(terms, bool), prior.hyper_sd > 0]
    whole = posterior.likelihood_curvature.copy()
    others = np.linalg.inv(prior.covariance[units:, units:]) if terms > units else np.zeros((0, 0))
    whole[units:terms, units:terms] += others
    held = prior.hyper_sd[free[terms:]] ** -2.0
    places = np.arange(terms, len(whole))
    whole[places, places] += held
    rest = whole[units:, units:]
    cross = whole[:units, units:]
    left = whole[:units, :units] - cross @ np.linalg.solve(rest, cross.T)
    values, vectors = np.linalg.eigh(0.5 * (left + left.T))
    known = values > _NOTHING
    precision = (vectors[:, known] * values[known]) @ vectors[:, known].T
    belief = np.linalg.inv(prior.covariance[:units, :units])
    mode = posterior.mode[:units]
    pulled = precision @ mode + belief @ (mode - prior.mean[:units])
    inverse = (vectors[:, known] / values[known]) @ vectors[:, known].T
    return np.asarray(inverse @ pulled), np.asarray(precision)
