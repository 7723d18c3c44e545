"""Further factors of wear: penetration, regime, or any ring column the site names, tried and let in only if they earn
it.

A factor cuts the path of every reading into levels (five bands of a number, or the commonest words of a column), so
the expected wear stays a sum over columns. It enters a kind's regression when leaving out lives in turn and
predicting them goes better with it than without.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.site.records import Site
from wearplan.wear.evidence.gather import Design, gather
from wearplan.wear.evidence.levels import Cut, Levels, Trial, levels_of
from wearplan.wear.evidence.paths import life_paths
from wearplan.wear.evidence.priors import Belief
from wearplan.wear.evidence.readings import Floats, Readings

from .algebra import Solver, carried_variance, expected_mm, slopes_of
from .censoring import first_sites, settle
from .ground_effect import GroundEffect, piece_paths
from .kind import KindFit, prior_for
from .posterior import Posterior, Prior, fit, mode_from

if TYPE_CHECKING:
    from wearplan.history import Life

FOLDS = 4
LEAST_GAIN = 3.0
"""Gain in log score of all left-out readings together before a factor enters; a useless one loses about half a unit."""


def with_factors(design: Design, cut: Cut | None) -> Design:
    """The design with those factors' coefficients and levels."""
    if cut is None:
        return replace(design, factors=(), levels=None)
    return replace(design, factors=cut.names, levels=cut.values)


def paths_of(site: Site, lives: Sequence[Life], exposure: Any, cut: Cut) -> dict[tuple[str, int], Floats]:
    """Path (Z * U * V,) of every reading by zone, unit and level."""
    flat = [(life, k, reading.driven_m) for life in lives for k, reading in enumerate(life.readings)]
    table = life_level_paths(site, [life for life, _, _ in flat], exposure, [until for _, _, until in flat], cut)
    return {(life.id, k): table[row] for row, (life, k, _) in enumerate(flat)}


def life_level_paths(site: Site, lives: Sequence[Life], exposure: Any, until_m: Sequence[float], cut: Cut) -> Floats:
    """Path (L, Z * U * V) of each life up to ``until_m``."""
    of_ring = cut.of_ring
    parts = [
        life_paths(site, lives, exposure, until_m, weight=(of_ring == level).astype(float))
        for level in range(cut.values.shape[1])
    ]
    return np.asarray(np.maximum(np.stack(parts, axis=2), 0.0).reshape(len(lives), -1))


def paths_by_column(
    site: Site, one: KindFit, lives: Sequence[Any], exposure: Any, until_m: Sequence[float],
    ground: GroundEffect | None,
) -> Any:  # fmt: skip
    """Path (L, C) of each life up to ``until_m``, by the columns of a kind's fit."""
    if one.pieces and ground is not None:
        return piece_paths(site, lives, exposure, until_m, ground.cuts_m, one.cut)
    if one.cut is None:
        return life_paths(site, lives, exposure, until_m)
    return life_level_paths(site, lives, exposure, until_m, one.cut)


def choose(
    site: Site, lives: Sequence[Life], design: Design, belief: Belief, rings: Any, exposure: Any,
    columns: Sequence[str], steps: Mapping[str, float] | None,
) -> tuple[Cut | None, list[Trial]]:  # fmt: skip
    """Try the columns one after another, best first, and keep those that earn their place."""
    trials: dict[str, Trial] = {}
    candidates = {column: found for column in columns if (found := levels_of(rings, column)) is not None}
    for column in columns:
        levels = candidates.get(column)
        trials[column] = Trial(
            column=column, entered=False, gain=0.0, names=levels.names if levels else (),
            step=levels.step if levels else "nothing logged that differs",
        )  # fmt: skip
    plain = gather(lives, design, site.wheel, None, steps).readings
    if not candidates or len(plain) < 30:
        return None, list(trials.values())
    base = fit(plain, prior_for(design, belief), screen=True)
    score = left_out_score(base.readings, base.prior, base.mode)
    kept: tuple[Levels, ...] = ()
    while candidates and len(kept) < 2:
        gains: dict[str, float] = {}
        for column, levels in candidates.items():
            cut = Cut(factors=(*kept, levels))
            shaped = with_factors(design, cut)
            readings = gather(lives, shaped, site.wheel, paths_of(site, lives, exposure, cut), steps).readings
            readings = replace(readings, weight=base.readings.weight)
            if not kept and not _stirs(readings, base, len(shaped.factors)):
                gains[column] = 0.0
                continue
            prior = prior_for(shaped, belief)
            start = np.insert(base.mode, base.terms, np.zeros(len(shaped.factors)))
            gains[column] = left_out_score(readings, prior, mode_from(readings, prior, start)) - score
            trials[column] = replace(trials[column], gain=gains[column] / len(plain))
        if not gains:
            break
        best = max(gains, key=lambda column: gains[column])
        if gains[best] < LEAST_GAIN:
            break
        score += gains[best]
        kept = (*kept, candidates.pop(best))
        trials[best] = replace(trials[best], entered=True)
        candidates = {column: levels for column, levels in candidates.items() if gains[column] > 0}
    return (Cut(factors=kept) if kept else None), [trials[column] for column in columns]


def _stirs(readings: Readings, base: Posterior, added: int, *, odds: float = 1.7) -> bool:
    """Whether a score test sees anything at all in the added coefficients; if not, leaving out lives is not worth its
    time."""
    solver = Solver(
        base.readings, base.mode, base.sites.variance, carried_variance(base.readings, base.at_mode.expected_mm)
    )
    start = np.r_[base.mode[: base.terms], np.zeros(added)]
    slopes = slopes_of(readings, start)
    solved = solver.solve(slopes)
    inner = slopes.T @ solved
    known = inner[:-added, :-added] + np.linalg.inv(base.prior.covariance)
    left = inner[-added:, -added:] - inner[-added:, :-added] @ np.linalg.solve(known, inner[:-added, -added:])
    pull = slopes[:, -added:].T @ base.at_mode.alpha
    return bool(np.any(np.abs(pull) > odds * np.sqrt(np.maximum(np.diag(left), 1e-12))))


def left_out_score(readings: Readings, prior: Prior, start: Floats) -> float:
    """Log score of lives left out in turn, in folds that do not depend on the columns."""
    fold = np.random.default_rng(11).permutation(int(readings.life.max()) + 1) % FOLDS
    terms = readings.loading.shape[1]
    total = 0.0
    for k in range(FOLDS):
        test = fold[readings.life] == k
        if not test.any() or test.all():
            continue
        mode = mode_from(_part(readings, ~test), prior, start)
        asked = _part(readings, test)
        carried = carried_variance(asked, expected_mm(asked, mode[:terms]))
        total += settle(asked, mode, first_sites(asked), carried)[1]
    return total


def _part(readings: Readings, rows: Any) -> Readings:
    """Some rows, inspections numbered anew."""
    inspection = readings.inspection[rows]
    used = np.unique(inspection[inspection >= 0])
    return replace(
        readings, life=readings.life[rows], path_km=readings.path_km[rows], wear_mm=readings.wear_mm[rows],
        censored=readings.censored[rows], inspection=np.where(inspection >= 0, np.searchsorted(used, inspection), -1),
        error_var=readings.error_var[rows], fixed_var=readings.fixed_var[rows], weight=readings.weight[rows],
        path_rel_sd=readings.path_rel_sd[rows], start_var=readings.start_var[rows],
        by_life=None if readings.by_life is None else readings.by_life[rows],
        load=None if readings.load is None else readings.load[rows],
    )  # fmt: skip
