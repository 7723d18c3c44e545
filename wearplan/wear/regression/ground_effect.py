"""What a stretch of the drive wears tools by against its units' rates, the same for all tools.

A unit is never quite the same ground twice. The log of that effect is taken as a Gaussian process along the drive, with
standard deviation s and a correlation that falls by e over `REACH_M` (an exponential covariance, as in kriging; Cressie
1993, *Statistics for Spatial Data*, section 2.3.1). Its mean is such that the effect itself has mean 1: a rate is the
mean of its unit. What can be known is its mean over the pieces between stops, since tools are read there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.site.records import ZONES, Site
from wearplan.wear.evidence.paths import Stint, by_way, stints_of
from wearplan.wear.evidence.readings import Floats

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.wear.evidence.levels import Cut

REACH_M = 40.0
"""Judgement: lenses and changes of face are some tens of metres long."""
LEAST_PIECE_M = 10.0
"""Stops and section ends nearer to one another than this bound one piece together."""
SD_PRIOR = 0.25
"""Scale of the half-normal prior of s: judgement."""
SD_GRID = np.r_[0.005, 0.015, np.arange(0.03, 0.61, 0.03)]
AHEAD_M = 20.0
"""Length of the bins ahead of the face."""
DENSE = 3_000_000
"""Entries up to which paths by piece stand in a plain array."""


def pieces_of(site: Site, face_m: float) -> Floats:
    """Driven metres (K + 1,) between which the effect is taken as one value: stops, and section ends between them."""
    stops = [each.driven_m for each in site.inspections if each.measurements]
    ground = site.ground()
    ends = [section.to_m for section in ground.sections] if ground else []
    kept = [0.0, face_m]
    for point in [*stops, *ends]:
        if 0.0 < point < face_m and min(abs(point - other) for other in kept) >= LEAST_PIECE_M:
            kept.append(point)
    return np.unique(np.array(kept))


def correlation(one_m: Floats, other_m: Floats) -> Floats:
    """Mean over two sets of intervals (A + 1,), (B + 1,) of ``exp(-|x - x'| / REACH_M)``: (A, B).

    Intervals of the two sets are the same or apart from one another.
    """
    a, b = np.diff(one_m)[:, None] / REACH_M, np.diff(other_m)[None, :] / REACH_M
    gap = np.maximum(other_m[None, :-1] - one_m[1:, None], one_m[:-1, None] - other_m[None, 1:]) / REACH_M
    apart = np.expm1(-a) * np.expm1(-b) / (a * b) * np.exp(-np.maximum(gap, 0.0))
    return np.asarray(np.where(gap < -1e-9, 2.0 / a**2 * (a + np.expm1(-a)), apart))


def piece_paths(
    site: Site, lives: Sequence[Life], exposure: Any, until_m: Sequence[float], cuts_m: Floats, cut: Cut | None
) -> Any:
    """Path (L, C * K) of each life from its start to ``until_m``, by column of the regression and piece, piece fastest.

    A plain array, or a sparse one where that would be large.
    """
    from scipy import sparse

    rows: list[int] = []
    pieces: list[int] = []
    parts: list[Stint] = []
    for row, position, low, high in stints_of(site, lives, until_m):
        first, last = np.searchsorted(cuts_m, [low + 1e-6, high - 1e-6])
        for k in range(max(int(first) - 1, 0), min(int(last), len(cuts_m) - 1)):
            inside = max(low, cuts_m[k]), min(high, cuts_m[k + 1])
            if inside[1] > inside[0]:
                parts.append((len(parts), position, *inside))
                rows.append(row)
                pieces.append(k)
    row_of, piece_of = np.array(rows, np.int64), np.array(pieces, np.int64)
    units, count = len(exposure.units), len(cuts_m) - 1
    levels = 1 if cut is None else cut.values.shape[1]
    shape = (len(lives), len(ZONES) * units * levels * count)
    found: list[tuple[Floats, Floats, Floats]] = []
    for cuts, at, zone, stretch in by_way(parts):
        for level in range(levels):
            if cut is None:
                path = exposure.path_km(**stretch, cuts=cuts)
            else:
                path = exposure.weighted_path_km((cut.of_ring == level).astype(float), **stretch, cuts=cuts)
            column = ((zone[:, None] * units + np.arange(units)) * levels + level) * count + piece_of[at][:, None]
            met = path > 0.0
            found.append((np.broadcast_to(row_of[at][:, None], path.shape)[met], column[met], path[met]))
    if not found:
        return np.zeros(shape)
    where, column, path = (np.concatenate(each) for each in zip(*found, strict=True))
    if shape[0] * shape[1] <= DENSE:
        out = np.zeros(shape)
        np.add.at(out, (where, column), path)
        return out
    return sparse.coo_array((path, (where, column)), shape=shape).tocsr()


@dataclass(frozen=True, kw_only=True)
class GroundEffect:
    """Log effect of the pieces of the drive so far, as known from all kinds of tools together."""

    cuts_m: Floats
    """(K + 1,) driven metres."""
    sd: float
    sd_weights: Floats
    """Posterior of s on `SD_GRID`."""
    gain: float
    """Log evidence for this s against none."""
    mean: Floats
    """(K,) posterior mean of the log."""
    covariance: Floats
    """(K, K)"""

    @classmethod
    def prior(cls, cuts_m: Floats, sd: float, sd_weights: Floats, gain: float) -> GroundEffect:
        """Before the readings: a mean effect of 1."""
        alike = correlation(cuts_m, cuts_m)
        covariance = sd**2 * alike
        return cls(
            cuts_m=cuts_m, sd=sd, sd_weights=sd_weights, gain=gain, mean=-0.5 * np.diag(covariance),
            covariance=covariance + 1e-8 * np.eye(len(alike)),
        )  # fmt: skip

    def known(self, mean: Floats, covariance: Floats) -> GroundEffect:
        """The same with what readings say of it."""
        return replace(self, mean=mean, covariance=0.5 * (covariance + covariance.T))

    def odds(self) -> Floats:
        """(K,) how many standard deviations of what is known each piece lies off the mean effect."""
        centre = -0.5 * self.sd**2 * np.diag(correlation(self.cuts_m, self.cuts_m))
        return np.asarray((self.mean - centre) / np.sqrt(np.maximum(np.diag(self.covariance), 1e-12)))

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """(count, K) logs of the pieces."""
        values, vectors = np.linalg.eigh(self.covariance)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        return np.asarray(self.mean + rng.standard_normal((count, len(self.mean))) @ root.T)

    def ahead(self, drawn: Floats, edges_m: Floats, rng: np.random.Generator) -> Floats:
        """Effect (D, B) on stretches beyond the pieces, given the logs (D, K) drawn for those.

        The present stretch goes on and fades; new ones come from the prior, with the doubt in s itself.
        """
        alike, to = correlation(self.cuts_m, self.cuts_m), correlation(edges_m, self.cuts_m)
        own = correlation(edges_m, edges_m)
        # what a stretch is told by those behind, as a share of each
        share = np.linalg.solve(alike + 1e-6 * np.eye(len(alike)), to.T).T
        left = own - share @ to.T
        values, vectors = np.linalg.eigh(0.5 * (left + left.T))
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        sd = rng.choice(SD_GRID, len(drawn), p=self.sd_weights)[:, None]
        behind = drawn + 0.5 * self.sd**2 * np.diag(alike)
        log = behind @ share.T + sd * (rng.standard_normal((len(drawn), len(own))) @ root.T)
        # mean 1 whatever s: the part told from behind has the fitted s, the rest the one drawn
        told, rest = np.einsum("bk,bk->b", share, to), np.maximum(np.diag(left), 0.0)
        return np.asarray(np.exp(log - 0.5 * (self.sd**2 * told + sd**2 * rest)))

    def warp(self, drawn: Floats, end_m: float, rng: np.random.Generator) -> Warp:
        """Metres ahead of the face as tools feel them, one draw for all tools."""
        face = float(self.cuts_m[-1])
        bins = int(np.clip(np.ceil((end_m - face) / AHEAD_M), 1, 200))
        edges = np.linspace(face, max(end_m, face + 1.0), bins + 1)
        return Warp(edges, self.ahead(drawn, edges, rng))


@dataclass(frozen=True)
class Warp:
    """Factor (D, B) on wear between edges (B + 1,) of even spacing ahead of the face."""

    edges_m: Floats
    factor: Floats

    def metres(self, driven_m: Floats) -> Floats:
        """Felt metres from the first edge to points (D, ...) ahead; beyond the last edge the last factor holds."""
        width = self.edges_m[1] - self.edges_m[0]
        sums = np.concatenate(
            [np.zeros((len(self.factor), 1)), np.cumsum(self.factor, axis=1) * width], axis=1
        )
        past = np.minimum(np.maximum(np.asarray(driven_m, float) - self.edges_m[0], 0.0), 1e7)
        index = np.minimum((past / width).astype(np.int64), self.factor.shape[1] - 1)
        flat = index.reshape(len(index), -1)
        whole = np.take_along_axis(sums, flat, axis=1).reshape(index.shape)
        here = np.take_along_axis(self.factor, flat, axis=1).reshape(index.shape)
        return np.asarray(whole + (past - index * width) * here)


def spread(pull: Floats, gram: Floats, cuts_m: Floats) -> GroundEffect:
    """The effect's prior with the s that the readings speak for.

    Parameters
    ----------
    pull : (K,)
        ``D' S^-1 r`` over all kinds, D the wear by piece, r the residual of fits without the effect.
    gram : (K, K)
        ``D' S^-1 D`` cleared of the rates.

    Notes
    -----
    Log evidence of ``r ~ N(D g, S)`` with ``g ~ N(-s² diag(R) / 2, s² R)`` on a grid of s, times a half-normal prior;
    s is its posterior mean. (The mode over effects and s together would run to s = 0.)
    """
    alike = correlation(cuts_m, cuts_m) + 1e-8 * np.eye(len(cuts_m) - 1)
    values, vectors = np.linalg.eigh(alike)
    root = vectors * np.sqrt(np.maximum(values, 1e-12))
    inner, ones = root.T @ gram @ root, -0.5 * np.diag(alike)
    evidence = []
    for sd in SD_GRID:
        # in units of the prior's own root: precision 1 + s² inner
        mean = sd**2 * ones
        off = sd * (root.T @ (pull - gram @ mean))
        total = np.eye(len(ones)) + sd**2 * inner
        evidence.append(
            0.5 * float(off @ np.linalg.solve(total, off)) - 0.5 * np.linalg.slogdet(total)[1]
            + float(pull @ mean) - 0.5 * float(mean @ gram @ mean)
        )  # fmt: skip
    log = np.array(evidence)
    width = np.gradient(SD_GRID)
    weight = width * np.exp(log - log.max() - 0.5 * (SD_GRID / SD_PRIOR) ** 2)
    weight /= weight.sum()
    return GroundEffect.prior(cuts_m, float(weight @ SD_GRID), weight, float(log.max() - log[0]))
