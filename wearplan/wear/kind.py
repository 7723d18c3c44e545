"""The regression of one kind of tool on one site."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from wearplan.site.records import Wheel

from .gather import Design, Gathered, gather
from .posterior import Posterior, Prior, fit, with_prior
from .priors import WELL_CUT, ZONE_PRIOR, Belief, lean_on, relate
from .readings import Floats

if TYPE_CHECKING:
    from wearplan.history import Life

    from .factors import Cut, Trial

FACTOR_SD = 0.5
"""Prior sd of a further factor's coefficient for one step of it: judgement."""
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
        Log rates of another kind in the same units (NaN where that kind has not cut it well): they rank units better than
        laboratory tests do.
    start : (K + 4,), optional
        Mode of an earlier fit.
    """
    gathered = gather(lives, design, wheel, paths, steps)
    readings = gathered.readings
    first = fit(readings, prior_for(design, belief), start=start, screen=True)
    count = len(design.units)
    sd = np.sqrt(np.diag(first.covariance)[:count])
    before = np.sqrt(np.diag(belief.covariance))
    well = (sd < WELL_CUT) & (sd < 0.7 * before)
    score, tested = _scores(belief, borrowed)
    settled, leaned = belief, first
    if well.any() and not well.all():
        relation = relate(first.mode[:count][well], sd[well], score[well], score[~well], tested[~well])
        settled = lean_on(belief, relation, ~well)
        leaned = with_prior(first, prior_for(design, settled))
    path = _path_by_unit(readings.path_km, count, readings)
    basis = tuple(
        _basis(settled.basis[u], bool(well[u]), float(path[u]), float(np.sqrt(leaned.covariance[u, u])),
               float(np.sqrt(settled.covariance[u, u])))
        for u in range(count)
    )  # fmt: skip
    return KindFit(
        kind=kind, design=design, gathered=replace(gathered, readings=leaned.readings), posterior=leaned, belief=settled,
        well_cut=tuple(map(bool, well)), basis=basis, confounded=_confounded(leaned, design.units, path),
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


def _path_by_unit(path: Floats, units: int, readings) -> Floats:  # type: ignore[no-untyped-def]
    """Path (U,) of lives up to their last sound reading."""
    if not len(path):
        return np.zeros(units)
    last = np.r_[readings.life[1:] != readings.life[:-1], True]
    per_column = path[last].sum(axis=0)
    levels = path.shape[1] // (3 * units)
    return per_column.reshape(3, units, levels).sum(axis=(0, 2))


def _basis(before: str, well: bool, path: float, sd: float, sd_before: float) -> str:
    if well:
        return "readings"
    if path > 0 and sd < 0.9 * sd_before:
        return "readings, few; and " + before
    return before


def _confounded(posterior: Posterior, units: tuple[str, ...], path: Floats) -> tuple[tuple[str, str], ...]:
    """Pairs of cut units whose rates the readings hardly tell apart."""
    sd = np.sqrt(np.maximum(np.diag(posterior.covariance)[: len(units)], 1e-12))
    correlation = posterior.covariance[: len(units), : len(units)] / sd[:, None] / sd[None, :]
    return tuple(
        (units[a], units[b])
        for a in range(len(units))
        for b in range(a + 1, len(units))
        if path[a] > 0 and path[b] > 0 and correlation[a, b] < -0.85 and max(sd[a], sd[b]) > 0.15
    )
