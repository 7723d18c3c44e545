"""The regression of one kind of tool on one site."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from wearplan.site.records import ZONES, Wheel

from .algebra import Solver, carried_variance
from .gather import Design, Gathered, gather
from .posterior import Posterior, Prior, fit, with_prior
from .priors import WELL_CUT, ZONE_PRIOR, Belief, lean_on, relate
from .readings import Floats, Readings

if TYPE_CHECKING:
    from wearplan.history import Life

    from .factors import Cut, Trial

FACTOR_SD = 0.5
"""Prior sd of a further factor's coefficient for one step of it: judgement."""
LEAST_READINGS = 5
"""A rate rests on readings when at least so many, of three lives or more, had met the unit."""
TOGETHER = 0.985
"""Cosine of two units' paths over the readings beyond which they cannot be told apart."""
FOREIGN_ZONE = (0.0, 0.7)
"""Prior of the log factor between zones of a kind that has no face tools."""


@dataclass(frozen=True, kw_only=True)
class KindFit:
    """Readings, posterior and basis of one kind."""

    kind: str
    design: Design
    gathered: Gathered
    posterior: Posterior
    belief: Belief
    """Of log rates before the readings of this kind, the relation between units included."""
    well_cut: tuple[bool, ...]
    basis: tuple[str, ...]
    """(U,) in words."""
    confounded: tuple[tuple[str, str], ...]
    cut: Cut | None = None
    """Further factors that entered."""
    trials: tuple[Trial, ...] = ()

    @property
    def units(self) -> tuple[str, ...]:
        return self.design.units

    def solver(self) -> Solver:
        """S^-1 of the fit."""
        carried = carried_variance(self.gathered.readings, self.posterior.at_mode.expected_mm)
        return Solver(self.gathered.readings, self.posterior.mode, self.posterior.sites.variance, carried)

    def log_rates(self, parameters: Floats) -> Floats:
        """Log rates of the units (..., U) for zone factor 1."""
        return parameters[..., : len(self.units)]

    def zone_log_factors(self, parameters: Floats) -> dict[str, Floats]:
        """Log factor by zone (...,), the reference left out."""
        start = len(self.units)
        return {zone: parameters[..., start + k] for k, zone in enumerate(self.design.zones)}


def prior_for(design: Design, belief: Belief) -> Prior:
    """The belief of the units, the zones' own priors and those of further factors, as one."""
    zones = ZONE_PRIOR if design.reference == "face" else {}
    others = [zones.get(zone, FOREIGN_ZONE) for zone in design.zones] + [(0.0, FACTOR_SD)] * len(design.factors)
    count, more = len(design.units), len(others)
    covariance = np.zeros((count + more, count + more))
    covariance[:count, :count] = belief.covariance
    for k, (_, sd) in enumerate(others):
        covariance[count + k, count + k] = sd**2
    return Prior.of(np.r_[belief.mean, [mean for mean, _ in others]], covariance)


def fit_kind(
    kind: str,
    lives: Sequence[Life],
    design: Design,
    belief: Belief,
    wheel: Wheel,
    *,
    borrowed: Floats | None = None,
    start: Floats | None = None,
    paths: Mapping[tuple[str, int], Floats] | None = None,
    steps: Mapping[str, float] | None = None,
) -> KindFit:
    """Fit, let the well-cut units inform the others, and say what each rate rests on.

    Parameters
    ----------
    borrowed : (U,), optional
        Log rates of another kind in the same units (NaN where that kind has not cut it well): they rank units better
        than laboratory tests do.
    start : (K + 4,), optional
        Mode of an earlier fit.
    """
    gathered = gather(lives, design, wheel, paths, steps)
    readings = gathered.readings
    first = fit(readings, prior_for(design, belief), start=start, screen=True)
    count = len(design.units)
    sd = np.sqrt(np.diag(first.covariance)[:count])
    before = np.sqrt(np.diag(belief.covariance))
    path, met, lives_met = _met(readings, count)
    well = (sd < WELL_CUT) & (sd < 0.7 * before) & (met >= LEAST_READINGS) & (lives_met >= 3)
    score, tested = _scores(belief, borrowed)
    settled, leaned = belief, first
    if well.any() and not well.all():
        relation = relate(first.mode[:count][well], sd[well], score[well], score[~well], tested[~well])
        settled = lean_on(belief, relation, ~well)
        leaned = with_prior(first, prior_for(design, settled))
    basis = tuple(
        _basis(settled.basis[u], bool(well[u]), float(path[u]), float(np.sqrt(leaned.covariance[u, u])),
               float(np.sqrt(settled.covariance[u, u])))
        for u in range(count)
    )  # fmt: skip
    return KindFit(
        kind=kind, design=design, gathered=replace(gathered, readings=leaned.readings),
        posterior=leaned, belief=settled,
        well_cut=tuple(map(bool, well)), basis=basis, confounded=_confounded(leaned.readings, design.units),
    )  # fmt: skip


def _scores(belief: Belief, borrowed: Floats | None) -> tuple[Floats, Floats]:
    """Abscissa of the relation: another kind's rate where it is known, else the published rate, set to one level."""
    score, tested = belief.score.copy(), np.array(belief.tested)
    if borrowed is not None:
        known = np.isfinite(borrowed)
        if known.any():
            shift = float((borrowed - score)[known].mean())
            score = np.where(known, borrowed, score + shift)
            tested = tested | known
    return score, tested


def _by_unit(readings: Readings, units: int) -> Floats:
    """Path (N, U) of the readings over all zones and levels."""
    levels = len(readings.loading) // (len(ZONES) * units)
    return np.asarray(readings.path_km.reshape(len(readings), len(ZONES), units, levels).sum(axis=(1, 3)))


def _met(readings: Readings, units: int) -> tuple[Floats, Floats, Floats]:
    """Path (U,) of lives up to their last sound reading; readings, and lives, that had met each unit."""
    if not len(readings):
        return np.zeros(units), np.zeros(units), np.zeros(units)
    path = _by_unit(readings, units)
    last = np.r_[readings.life[1:] != readings.life[:-1], True]
    return path[last].sum(axis=0), (path > 0).sum(axis=0), (path[last] > 0).sum(axis=0)


def _basis(before: str, well: bool, path: float, sd: float, sd_before: float) -> str:
    if well:
        return "readings"
    if path > 0 and sd < 0.9 * sd_before:
        return "readings, few; and " + before
    return before


def _confounded(readings: Readings, units: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Pairs of units whose paths go together in nearly every reading."""
    if not len(readings):
        return ()
    path = _by_unit(readings, len(units))
    length = np.sqrt((path**2).sum(axis=0))
    together = path.T @ path / np.maximum(length[:, None] * length[None, :], 1e-12)
    return tuple(
        (units[a], units[b])
        for a in range(len(units))
        for b in range(a + 1, len(units))
        if length[a] > 0 and length[b] > 0 and together[a, b] > TOGETHER
    )
