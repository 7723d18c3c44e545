"""Damage: chipped, lost, seized and the like, as events on exposure.

A Gamma-Poisson model by unit and zone: the rate of a cell is Gamma with the kind's own rate as mean, so a cell
without an event leans on the others, and its posterior is Gamma again (Gelman et al. 2013, *Bayesian Data Analysis*,
section 2.6). An event is found at a stop; the stretch since the tool was last seen sound may lie in several cells,
and the event is shared between them by expected rate.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .readings import Floats

BEFORE = (0.3, 3_000.0)
"""Events and km of path that the kind's rate starts from: 0.1 per 1,000 km, from memory, no published source."""
SHAPES = (0.3, 0.6, 1.2, 2.5, 5.0)


@dataclass(frozen=True, kw_only=True)
class Damage:
    """Posterior of the damage rates of one kind by cell."""

    events: Floats
    """(C,) may be fractions."""
    exposure_km: Floats
    """(C,)."""
    shape: float
    """Of the cells' Gamma about the kind's rate, at its most probable."""
    shape_weights: Floats
    """Posterior weights of `SHAPES`."""

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Rates per km (count, C)."""
        shape = rng.choice(np.array(SHAPES), (count, 1), p=self.shape_weights)
        events, exposure = BEFORE[0] + self.events.sum(), BEFORE[1] + self.exposure_km.sum()
        # the kind's rate is doubtful for the number of events and for the few cells it was seen in
        cells = max(self.exposure_km.sum() ** 2 / max((self.exposure_km**2).sum(), 1e-9), 1.0)
        sure = 1.0 / (1.0 / events + 1.0 / (shape * cells))
        overall = np.maximum(rng.gamma(sure) / sure * events / exposure, 1e-12)
        return rng.gamma(shape + self.events, 1.0 / (shape / overall + self.exposure_km))

    def mean(self) -> Floats:
        """Expected rates per km (C,), the kind's own rate at its mean."""
        overall = (BEFORE[0] + self.events.sum()) / (BEFORE[1] + self.exposure_km.sum())
        return np.asarray((self.shape + self.events) / (self.shape / overall + self.exposure_km))


def learn_damage(exposure_km: Floats, stretches_km: Floats) -> Damage:
    """Damage rates from exposure and events.

    Parameters
    ----------
    exposure_km : (C,)
        Path of all tools while sound.
    stretches_km : (E, C)
        For each event the path between the tool last seen sound and the finding.
    """
    exposure = np.asarray(exposure_km, float)
    stretches = np.asarray(stretches_km, float).reshape(-1, len(exposure))
    found = [_share(exposure, stretches, shape) for shape in SHAPES]
    # most kinds lie between: a mild pull to 1.2
    values = np.array([_log_marginal(one) - 0.5 * np.log(one.shape / 1.2) ** 2 for one in found])
    weights = np.exp(values - values.max())
    return replace(found[int(np.argmax(values))], shape_weights=weights / weights.sum())


def _share(exposure: Floats, stretches: Floats, shape: float) -> Damage:
    events, even = np.zeros(len(exposure)), np.full(len(SHAPES), 1.0 / len(SHAPES))
    found = Damage(events=events, exposure_km=exposure, shape=shape, shape_weights=even)
    for _ in range(50 if len(stretches) else 0):
        weight = stretches * found.mean()
        total = weight.sum(axis=1, keepdims=True)
        # an event without any path is nobody's
        shared = np.divide(weight, total, out=np.zeros_like(weight), where=total > 0).sum(axis=0)
        if np.allclose(shared, events, atol=1e-6):
            break
        events = shared
        found = replace(found, events=events)
    return found


def _log_marginal(found: Damage) -> float:
    """Negative binomial log likelihood of the counts at the kind's mean rate."""
    from scipy.special import gammaln

    overall = (BEFORE[0] + found.events.sum()) / (BEFORE[1] + found.exposure_km.sum())
    expected = np.maximum(overall * found.exposure_km, 1e-12)
    r = found.shape
    return float(
        (
            gammaln(found.events + r) - gammaln(r) - gammaln(found.events + 1)
            + r * np.log(r / (r + expected)) + found.events * np.log(expected / (r + expected))
        ).sum()
    )  # fmt: skip
