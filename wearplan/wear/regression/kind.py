"""The regression of one kind of tool on one site."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.site.records import ZONES, Site, Wheel
from wearplan.wear.evidence.gather import Design, Gathered, gather
from wearplan.wear.evidence.groups import Groups
from wearplan.wear.evidence.priors import WELL_CUT, ZONE_PRIOR, Belief, lean_on, relate
from wearplan.wear.evidence.readings import Floats, Readings

from .algebra import Solver, carried_variance
from .curve import Curve
from .ground_effect import GroundEffect, piece_paths
from .posterior import Posterior, Prior, Rough, climb_on, refine, rough, with_prior

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.wear.evidence.levels import Cut, Trial

    from .curves_found import Curvature
    from .suspicion import Suspicion

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
    plain_belief: Belief
    """The same without that relation."""
    well_cut: tuple[bool, ...]
    basis: tuple[str, ...]
    """(U,) in words."""
    confounded: tuple[tuple[str, str], ...]
    cut: Cut | None = None
    """Further factors that entered."""
    trials: tuple[Trial, ...] = ()
    pieces: int = 0
    """Pieces of the drive with a coefficient of their own, after the design's."""
    groups: Groups = field(default_factory=Groups)
    """Types and batches, whose coefficients stand last."""
    suspicion: Suspicion | None = None
    """A batch without a label among its tools."""
    curve: Curve | None = None
    """How the pace of wear follows its level; the readings here are even wear then, and rates means over a life."""
    weight: float = 1.0
    others: tuple[KindFit, ...] = ()
    """The same readings under other curves, each with its weight; `draw` takes from all of them."""
    curvature: Curvature | None = None
    """What came of trying curves; None where none were tried."""

    @property
    def units(self) -> tuple[str, ...]:
        return self.design.units

    def solver(self) -> Solver:
        """S^-1 of the fit."""
        carried = carried_variance(self.gathered.readings, self.posterior.at_mode.expected_mm)
        return Solver(self.gathered.readings, self.posterior.mode, self.posterior.sites.variance, carried)

    @property
    def ground_part(self) -> slice:
        """Where the logs of the pieces stand among the parameters."""
        start = len(self.design.labels)
        return slice(start, start + self.pieces)

    def draw(self, count: int, rng: np.random.Generator, ground: Floats | None = None) -> tuple[Floats, Floats]:
        """Joint draws as `Posterior.draw`; ``ground`` (count, K) is the effect of the pieces, drawn for all kinds."""
        if not self.others:
            given = None if ground is None or not self.pieces else (self.ground_part, ground)
            return self.posterior.draw(count, rng, given=given)
        parameters = np.zeros((count, len(self.posterior.mode)))
        shared = np.zeros((count, self.gathered.readings.inspections))
        for rows, form in self.among(count, rng):
            parameters[rows], shared[rows] = form.draw(len(rows), rng, None if ground is None else ground[rows])
        return parameters, shared

    def among(self, count: int, rng: np.random.Generator) -> list[tuple[Floats, KindFit]]:
        """Which of ``count`` draws go to which curve; a form here has no others."""
        forms = [replace(self, others=()), *self.others]
        if len(forms) == 1:
            return [(np.arange(count), self)]
        weights = np.array([form.weight for form in forms])
        picks = rng.choice(len(forms), count, p=weights / weights.sum())
        return [(rows, form) for k, form in enumerate(forms) if len(rows := np.flatnonzero(picks == k))]

    def mapped(self, change: Callable[[KindFit], KindFit]) -> KindFit:
        """The fit with a change made to it and to its other forms."""
        return replace(change(self), others=tuple(change(form) for form in self.others))

    @property
    def group_part(self) -> slice:
        """Where the logs of types and batches stand among the parameters."""
        start = len(self.design.labels) + self.pieces
        return slice(start, start + len(self.groups.names))

    def lift(self, parameters: Floats, rows: Floats) -> Floats:
        """Factor (D, n) on wear of tools whose types and batches are ``rows`` (n, Q); see `Groups.row`."""
        return np.asarray(np.exp(parameters[:, self.group_part] @ np.reshape(rows, (len(rows), -1)).T))

    def base_rates(self, parameters: Floats) -> Floats:
        """Rates (..., Z, U, V) by zone, unit and level of further factors, without the effect of any piece."""
        loading = self.design.loading
        rate = np.exp(np.minimum(parameters[..., : loading.shape[1]] @ loading.T, 50.0))
        return np.asarray(rate.reshape(*rate.shape[:-1], len(ZONES), len(self.units), -1))

    def log_rates(self, parameters: Floats) -> Floats:
        """Log rates of the units (..., U) for zone factor 1."""
        return parameters[..., : len(self.units)]

    def zone_log_factors(self, parameters: Floats) -> dict[str, Floats]:
        """Log factor by zone (...,), the reference left out."""
        start = len(self.units)
        return {zone: parameters[..., start + k] for k, zone in enumerate(self.design.zones)}


def prior_for(
    design: Design, belief: Belief, ground: GroundEffect | None = None, groups: Groups | None = None
) -> Prior:
    """The belief of the units, the zones' own priors, those of further factors, pieces, types and batches, as one."""
    zones = ZONE_PRIOR if design.reference == "face" else {}
    others = [zones.get(zone, FOREIGN_ZONE) for zone in design.zones] + [(0.0, FACTOR_SD)] * len(design.factors)
    count = len(design.units)
    own = len(design.labels)
    pieces = 0 if ground is None else len(ground.mean)
    group_sd = np.zeros(0) if groups is None else groups.sd
    size = own + pieces + len(group_sd)
    covariance = np.zeros((size, size))
    covariance[own + pieces :, own + pieces :] = np.diag(group_sd**2)
    covariance[:count, :count] = belief.covariance
    for k, (_, sd) in enumerate(others):
        covariance[count + k, count + k] = sd**2
    mean = np.r_[belief.mean, [mean for mean, _ in others]]
    if ground is None:
        return Prior.of(np.r_[mean, 0.0 * group_sd], covariance)
    covariance[own : own + pieces, own : own + pieces] = ground.covariance
    return replace(Prior.of(np.r_[mean, ground.mean, 0.0 * group_sd], covariance), smooth=(own, own + pieces))


@dataclass(frozen=True, kw_only=True)
class PlainKind:
    """Readings of one kind and where a fit without the effect of the ground rests: what that effect is judged by."""

    kind: str
    design: Design
    gathered: Gathered
    belief: Belief
    rough: Rough
    cut: Cut | None
    trials: tuple[Trial, ...]
    groups: Groups
    curve: Curve | None = None
    weight: float = 1.0
    others: tuple[PlainKind, ...] = ()
    """Under other curves."""
    curvature: Curvature | None = None


def plain_kind(
    kind: str,
    lives: Sequence[Life],
    design: Design,
    belief: Belief,
    wheel: Wheel,
    *,
    start: Floats | None = None,
    paths: Mapping[tuple[str, int], Floats] | None = None,
    steps: Mapping[str, float] | None = None,
    cut: Cut | None = None,
    trials: tuple[Trial, ...] = (),
    groups: Groups | None = None,
) -> PlainKind:
    """Gather the readings and climb to the mode; ``start`` (K + 4,) is the mode of an earlier fit."""
    gathered = gather(lives, design, wheel, paths, steps)
    groups = groups or Groups()
    readings = gathered.readings
    if groups.names:
        rows = np.array([groups.row(life.tool_type, life.id) for life, _ in gathered.sources])
        none = np.zeros((len(readings.loading), len(groups.names)))
        readings = replace(
            readings, by_life=rows.reshape(len(readings), -1), loading=np.hstack([readings.loading, none]),
            labels=(*readings.labels, *groups.names),
        )  # fmt: skip
    found = rough(readings, prior_for(design, belief, None, groups), start=start, screen=True)
    return PlainKind(
        kind=kind, design=design, gathered=replace(gathered, readings=found.readings), belief=belief, rough=found,
        cut=cut, trials=trials, groups=groups,
    )  # fmt: skip


def by_piece(site: Site, exposure: Any, plain: PlainKind, ground: GroundEffect) -> Readings:
    """The readings with their path parted by piece: every column once for each piece, and a coefficient a piece."""
    lives = [life for life, _ in plain.gathered.sources]
    until = [reading.driven_m for _, reading in plain.gathered.sources]
    pieces = len(ground.mean)
    loading, grouped = plain.design.loading, plain.groups.names
    own = loading.shape[1]
    wide = np.zeros((len(loading) * pieces, own + pieces + len(grouped)))
    wide[:, :own] = np.repeat(loading, pieces, axis=0)
    wide[:, own : own + pieces] = np.tile(np.eye(pieces), (len(loading), 1))
    names = tuple(f"stretch {k + 1}" for k in range(pieces))
    return replace(
        plain.gathered.readings, loading=wide, labels=(*plain.design.labels, *names, *grouped),
        path_km=piece_paths(site, lives, exposure, until, ground.cuts_m, plain.cut),
    )  # fmt: skip


def fit_kind(
    plain: PlainKind, site: Site, exposure: Any, *, borrowed: Floats | None = None, ground: GroundEffect | None = None
) -> KindFit:
    """Fit, let the well-cut units inform the others, and say what each rate rests on.

    Parameters
    ----------
    borrowed : (U,), optional
        Log rates of another kind in the same units (NaN where that kind has not cut it well): they rank units better
        than laboratory tests do.
    ground : GroundEffect, optional
        What is known so far of the pieces of the drive: fitted together with the rates.
    """
    belief, design = plain.belief, plain.design
    count = len(design.units)
    climbed = plain.rough
    path, met, lives_met = _met(plain.gathered.readings, count)
    if ground is not None:
        start = np.insert(climbed.mode, len(design.labels), ground.mean)
        climbed = climb_on(
            climbed, by_piece(site, exposure, plain, ground), prior_for(design, belief, ground, plain.groups), start
        )
    first = refine(climbed)
    sd = np.sqrt(np.diag(first.covariance)[:count])
    before = np.sqrt(np.diag(belief.covariance))
    well = (sd < WELL_CUT) & (sd < 0.7 * before) & (met >= LEAST_READINGS) & (lives_met >= 3)
    score, tested = _scores(belief, borrowed)
    settled, leaned = belief, first
    if well.any() and not well.all():
        relation = relate(first.mode[:count][well], sd[well], score[well], score[~well], tested[~well])
        settled = lean_on(belief, relation, ~well)
        leaned = with_prior(first, prior_for(design, settled, ground, plain.groups))
    basis = tuple(
        _basis(settled.basis[u], bool(well[u]), float(path[u]), float(np.sqrt(leaned.covariance[u, u])),
               float(np.sqrt(settled.covariance[u, u])))
        for u in range(count)
    )  # fmt: skip
    return KindFit(
        kind=plain.kind, design=design, gathered=replace(plain.gathered, readings=leaned.readings),
        posterior=leaned, belief=settled, plain_belief=belief, cut=plain.cut, trials=plain.trials, groups=plain.groups,
        pieces=0 if ground is None else len(ground.mean), curve=plain.curve, weight=plain.weight,
        curvature=plain.curvature,
        well_cut=tuple(map(bool, well)), basis=basis, confounded=_confounded(plain.gathered.readings, design.units),
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


def path_by_unit(readings: Readings, units: int) -> Floats:
    """Path (N, U) of the readings over all zones, levels and pieces."""
    each = len(readings.loading) // (len(ZONES) * units)
    unit = np.arange(len(readings.loading)) // each % units
    return np.asarray(readings.path_km @ np.eye(units)[unit])


def _met(readings: Readings, units: int) -> tuple[Floats, Floats, Floats]:
    """Path (U,) of lives up to their last sound reading; readings, and lives, that had met each unit."""
    if not len(readings):
        return np.zeros(units), np.zeros(units), np.zeros(units)
    path = path_by_unit(readings, units)
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
    path = path_by_unit(readings, len(units))
    length = np.sqrt((path**2).sum(axis=0))
    together = path.T @ path / np.maximum(length[:, None] * length[None, :], 1e-12)
    return tuple(
        (units[a], units[b])
        for a in range(len(units))
        for b in range(a + 1, len(units))
        if length[a] > 0 and length[b] > 0 and together[a, b] > TOGETHER
    )
