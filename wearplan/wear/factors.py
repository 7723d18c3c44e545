"""Further factors of wear: penetration, regime, or any ring column the site names, tried and let in only if they earn
it.

A factor cuts the path of every reading into levels (five bands of a number, or the commonest words of a column), so
the expected wear stays a sum over columns. It enters a kind's regression when leaving out lives in turn and
predicting them goes better with it than without.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.site.records import Site

from .algebra import Solver, carried_variance, rates
from .censoring import first_sites, settle
from .gather import Design, gather
from .kind import prior_for
from .paths import life_paths
from .posterior import Posterior, Prior, fit, mode_from
from .priors import Belief
from .readings import Floats, Ints, Readings

if TYPE_CHECKING:
    from wearplan.history import Life

BANDS, WORDS, FOLDS = 5, 3, 4
LEAST_GAIN = 3.0
"""Gain in log score of all left-out readings together before a factor enters; a useless one loses about half a unit."""


@dataclass(frozen=True, kw_only=True)
class Levels:
    """One factor as levels of the rings."""

    column: str
    of_ring: Ints
    """(N,) level of each ring."""
    names: tuple[str, ...]
    """Of its coefficients: one for a number, one for each word but the commonest."""
    values: Floats
    """(coefficients, levels)"""
    step: str
    centre: float = 0.0
    spread: float = 1.0
    edges: Floats | None = None

    def level_of(self, value: float) -> int:
        """Level of a number; only for factors that are numbers."""
        assert self.edges is not None
        return int(np.searchsorted(self.edges, value))


def levels_of(rings: Any, column: str) -> Levels | None:
    """The levels of a ring column; None where it says nothing (missing, or all the same)."""
    if column == "regime":
        words = list(rings.regime)
        ranked = [word for word, _ in Counter(word for word in words if word).most_common()]
        if len(ranked) < 2:
            return None
        kept = ranked[: WORDS + 1]
        # rings without a word, and rare words, count as the commonest
        index = np.array([kept.index(word) if word in kept else 0 for word in words], np.int64)
        return Levels(
            column=column, of_ring=index, names=tuple(f"regime {word}" for word in kept[1:]),
            values=np.eye(len(kept))[1:], step=f"against regime {kept[0]}",
        )  # fmt: skip
    numbers = rings.penetration_mm if column == "penetration" else rings.columns.get(column)
    if numbers is None:
        return None
    numbers = np.asarray(numbers, float)
    fine = np.isfinite(numbers) & (numbers > 0 if column == "penetration" else True)
    if fine.sum() < 20 or np.std(numbers[fine]) < 1e-9:
        return None
    filled = np.where(fine, numbers, np.median(numbers[fine]))
    edges = np.unique(np.quantile(filled, np.arange(1, BANDS) / BANDS))
    index = np.searchsorted(edges, filled).astype(np.int64)
    centre, spread = float(filled.mean()), float(filled.std())
    middles = np.array([filled[index == k].mean() if (index == k).any() else centre for k in range(len(edges) + 1)])
    return Levels(
        column=column, of_ring=index, names=(column,), values=((middles - centre) / spread)[None, :],
        step=f"{spread:.3g} more (one standard deviation of the rings)", centre=centre, spread=spread, edges=edges,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Cut:
    """Factors in force together: every combination of their levels."""

    factors: tuple[Levels, ...]

    @property
    def of_ring(self) -> Ints:
        """(N,) combination of each ring."""
        out = np.zeros(len(self.factors[0].of_ring), np.int64)
        for factor in self.factors:
            out = out * factor.values.shape[1] + factor.of_ring
        return out

    @property
    def values(self) -> Floats:
        """(coefficients, combinations)"""
        combos = product(*(range(factor.values.shape[1]) for factor in self.factors))
        return np.array(
            [np.concatenate([f.values[:, k] for f, k in zip(self.factors, combo, strict=True)]) for combo in combos]
        ).T

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(name for factor in self.factors for name in factor.names)

    def share(self, recent: int = 150) -> Floats:
        """(V,) how often each combination occurred among the last rings."""
        count = self.values.shape[1]
        return np.bincount(self.of_ring[-recent:], minlength=count) / max(len(self.of_ring[-recent:]), 1)


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


@dataclass(frozen=True, kw_only=True)
class Trial:
    """What came of trying a factor on a kind."""

    column: str
    entered: bool
    gain: float
    """Per left-out reading."""
    step: str
    names: tuple[str, ...]


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
    slopes = readings.path_km @ (rates(readings, start)[:, None] * readings.loading)
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
        carried = carried_variance(asked, asked.path_km @ rates(asked, mode[:terms]))
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
    )  # fmt: skip


def shares_ahead(cut: Cut | None, penetration_mm: Floats) -> Floats:
    """(S, V) share of each combination of levels in the sections ahead.

    Factors go on as in the last rings, penetration as expected in the section.
    """
    sections = len(penetration_mm)
    if cut is None:
        return np.ones((sections, 1))
    out = np.tile(cut.share(), (sections, 1))
    for place, factor in enumerate(cut.factors):
        if factor.column == "penetration":
            sizes = [f.values.shape[1] for f in cut.factors]
            cube = out.reshape(sections, *sizes).sum(axis=1 + place, keepdims=True)
            for s in range(sections):
                pick = np.zeros(sizes[place])
                pick[factor.level_of(float(penetration_mm[s]))] = 1.0
                shape = [1] * len(sizes)
                shape[place] = sizes[place]
                out[s] = (cube[s] * pick.reshape(shape)).ravel()
    return out


def extended(cut: Cut, rings: Any) -> Cut:
    """The same bands and words applied to a longer log of rings."""
    out = []
    for factor in cut.factors:
        if factor.edges is None:
            words = [name.removeprefix("regime ") for name in factor.names]
            index = np.array([1 + words.index(word) if word in words else 0 for word in rings.regime])
        else:
            numbers = rings.penetration_mm if factor.column == "penetration" else rings.columns[factor.column]
            filled = np.where(np.isfinite(numbers), numbers, factor.centre)
            index = np.searchsorted(factor.edges, filled)
        out.append(replace(factor, of_ring=index.astype(np.int64)))
    return Cut(factors=tuple(out))
