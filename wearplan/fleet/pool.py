"""Rates of several drives pooled, with the spread between drives estimated and its doubt in every band.

The log rate of drive d in ground of class c is ``b_dc = mu_c + e_dc`` with ``e_dc`` normal of mean 0 and sd ``tau``,
the spread between drives. A drive's own readings say ``y_d`` of its rates, with precision matrix ``L_d``. Given tau all
is Gaussian (a random-effects meta-analysis; DerSimonian & Laird 1986); tau itself is averaged over its posterior on a
grid, never put in as if it were known: with a plug-in value bands of a dozen drives are several points too narrow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[Any]

SPREAD = 0.5
"""Scale of the half-normal prior of tau, in log rate: judgement, no published source. Two drives in three would then
differ from the fleet's rate by less than a factor of 1.6."""
_WIDE = 2.0
"""Prior sd of mu_c about the mean of what was read: leaves all to the readings."""
_POINTS = 60


@dataclass(frozen=True, kw_only=True)
class Own:
    """What one drive's own readings say of its log rates, whatever was believed before."""

    drive: str
    classes: tuple[int, ...]
    """(U,) class of each of its units."""
    mean: Floats
    """(U,)."""
    precision: Floats
    """(U, U); a row of zeros says nothing."""


@dataclass(frozen=True, kw_only=True)
class Mixture:
    """A value as a mixture of normals over the grid of tau."""

    weights: Floats
    """(G,)."""
    means: Floats
    """(G,)."""
    sds: Floats
    """(G,)."""

    @property
    def mean(self) -> float:
        return float(self.weights @ self.means)

    @property
    def sd(self) -> float:
        return float(np.sqrt(self.weights @ (self.sds**2 + (self.means - self.mean) ** 2)))

    def quantile(self, level: float) -> float:
        """The value that the mixture stays below with this chance, by halving."""
        from scipy.special import ndtr

        low = float((self.means - 12 * self.sds).min())
        high = float((self.means + 12 * self.sds).max())
        for _ in range(80):
            middle = 0.5 * (low + high)
            if float(self.weights @ ndtr((middle - self.means) / self.sds)) < level:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)


@dataclass(frozen=True, kw_only=True)
class Pooled:
    """The fleet's rates, each drive's with the fleet's help, and what a next drive may expect."""

    spread: Mixture
    """tau: standard deviation between drives, in log rate."""
    by_drive: tuple[tuple[Mixture, ...], ...]
    """By drive and unit, the log rate after pooling."""
    pull: tuple[tuple[float, ...], ...]
    """By drive and unit, the share of the pooled rate that comes from the other drives, from 0 to 1."""
    following: tuple[Mixture, ...]
    """By class, the log rate of a next drive before its first reading."""


def pool(drives: Sequence[Own], classes: int, *, spread: float = SPREAD) -> Pooled:
    """Pool the rates of one kind of tool.

    Parameters
    ----------
    drives : sequence of Own
        At least one.
    classes : int
        Number of classes of ground.
    spread : float
        Scale of the half-normal prior of the spread between drives.
    """
    taus = np.exp(np.linspace(np.log(spread / 60.0), np.log(4.0 * spread), _POINTS))
    solved = [_given(drives, classes, float(tau)) for tau in taus]
    # the grid is even in log tau, so the density in tau times tau
    logs = np.array([each.log_marginal for each in solved]) - 0.5 * (taus / spread) ** 2 + np.log(taus)
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()

    def mixture(pick: Any) -> Mixture:
        pairs = np.array([pick(each) for each in solved], float)
        return Mixture(weights=weights, means=pairs[:, 0], sds=np.sqrt(np.maximum(pairs[:, 1], 1e-12)))

    def at(d: int, u: int) -> Mixture:
        return mixture(lambda given: (given.means[d][u], given.variances[d][u]))

    def ahead(c: int) -> Mixture:
        pairs = np.array([(s.centre[c], s.centre_cov[c, c] + tau**2) for s, tau in zip(solved, taus, strict=True)])
        return Mixture(weights=weights, means=pairs[:, 0], sds=np.sqrt(pairs[:, 1]))

    widths = np.full(len(taus), float(np.log(taus[1] / taus[0])))
    return Pooled(
        spread=Mixture(weights=weights, means=taus, sds=np.maximum(taus * widths / 2.0, 1e-9)),
        by_drive=tuple(tuple(at(d, u) for u in range(len(own.classes))) for d, own in enumerate(drives)),
        pull=tuple(
            tuple(float(weights @ np.array([given.pull[d][u] for given in solved])) for u in range(len(own.classes)))
            for d, own in enumerate(drives)
        ),
        following=tuple(ahead(c) for c in range(classes)),
    )


def log_marginal(drives: Sequence[Own], classes: int, tau: float) -> float:
    """Log likelihood of what the drives read, given tau, the classes' rates integrated out over a flat prior.

    Up to a constant it is the restricted likelihood of a random-effects meta-analysis.
    """
    return _given(drives, classes, tau, wide=1e4).log_marginal


@dataclass(frozen=True, kw_only=True)
class _Given:
    """Everything at one tau."""

    log_marginal: float
    centre: Floats
    """(C,) mean of mu."""
    centre_cov: Floats
    means: list[Floats]
    """By drive, (U,) mean of b."""
    variances: list[Floats]
    pull: list[Floats]


def _given(drives: Sequence[Own], classes: int, tau: float, *, wide: float = _WIDE) -> _Given:
    # in precision form, so that a unit without readings (precision 0) needs no special case:
    # integrated over b, drive d says of A mu: precision K = (L^-1 + tau^2 I)^-1 = L (I + tau^2 L)^-1
    guess = _guess(drives)
    total = np.eye(classes) / wide**2
    pulled: Floats = np.full(classes, guess) / wide**2
    log = -0.5 * classes * float(np.log(wide**2))
    parts = []
    for own in drives:
        size = len(own.classes)
        which = np.zeros((size, classes))
        which[np.arange(size), own.classes] = 1.0
        inner = np.eye(size) + tau**2 * own.precision
        about = own.precision @ np.linalg.inv(inner)
        about = 0.5 * (about + about.T)
        total += which.T @ about @ which
        off = own.mean - guess
        pulled += which.T @ about @ own.mean
        log += -0.5 * float(np.linalg.slogdet(inner)[1]) - 0.5 * float(off @ about @ off)
        parts.append((which, about, off))
    cov = np.linalg.inv(total)
    centre = cov @ pulled
    moved: Floats = np.zeros(classes)
    for share, said, gap in parts:
        moved = moved + share.T @ said @ gap
    log += 0.5 * float(moved @ cov @ moved) - 0.5 * float(np.linalg.slogdet(total)[1])
    means: list[Floats] = []
    variances: list[Floats] = []
    pulls: list[Floats] = []
    for own, (which, said_by, _) in zip(drives, parts, strict=True):
        # b given y and mu is normal with precision L + I / tau^2; mu with its own doubt
        doubt = np.linalg.inv(own.precision + np.eye(len(own.classes)) / tau**2)
        lean = doubt / tau**2
        # how much of a pooled rate comes from the unit's own readings, by itself and through mu
        through = doubt @ own.precision + lean @ which @ cov @ which.T @ said_by
        means.append(doubt @ own.precision @ own.mean + lean @ which @ centre)
        # mu knows y already, so its posterior doubt adds through the share it has in b
        spread = doubt + lean @ which @ cov @ which.T @ lean.T
        variances.append(np.diag(spread))
        pulls.append(np.clip(1.0 - np.diag(through), 0.0, 1.0))
    return _Given(
        log_marginal=log, centre=centre, centre_cov=cov, means=means, variances=variances, pull=pulls
    )  # fmt: skip


def _guess(drives: Sequence[Own]) -> float:
    """Where the readings lie as a whole: the middle of the wide prior."""
    weights = np.concatenate([np.clip(np.diag(own.precision), 0.0, None) for own in drives])
    means = np.concatenate([own.mean for own in drives])
    return float(weights @ means / weights.sum()) if weights.sum() > 0 else float(means.mean()) if len(means) else 0.0
