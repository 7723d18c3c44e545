"""The Gaussian core: likelihood and gradient of readings that hang together by life and by inspection.

Readings of one life have covariance ``tau² m m' + theta min(m, m') + error`` (m expected wear: a factor of the life,
wear gathered in random steps, errors of reading); all readings of one inspection share a further error of variance
s². With A the block-diagonal part and Z the readings by inspection, ``S = A + s² Z Z'`` is inverted by the Woodbury
identity (Rasmussen & Williams 2006, *Gaussian Processes for Machine Learning*, A.3), so the work grows linearly in
the number of lives.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wearplan.wear.evidence.readings import Floats, Ints, Readings

HYPER = ("tau", "theta", "shared", "scale")
"""Log scale parameters after the coefficients: sd of a life's factor; wear step (mm); sd of the error an inspection
shares (mm); factor on the stated error of the methods."""


@dataclass(frozen=True)
class Evaluation:
    """Everything one pass over the readings yields."""

    log_density: float
    gradient: Floats
    """(K + 4,) by coefficients, then log of `HYPER`."""
    alpha: Floats
    """(N,) S^-1 (y - m)."""
    inverse_diagonal: Floats
    """(N,) diagonal of S^-1: left-out predictive variance is its inverse, left-out residual alpha over it."""
    shared_mean: Floats
    """(J,) expected shared error of each inspection, mm."""
    shared_covariance: Floats
    """(J, J)"""
    expected_mm: Floats
    """(N,) m."""

    @cached_property
    def shared_root(self) -> Floats:
        """(J, J) root L of the covariance L L' of the shared errors."""
        return np.asarray(np.linalg.cholesky(self.shared_covariance))


def rates(readings: Readings, coefficients: Floats) -> Floats:
    """Rate of each column, (..., C), from coefficients (..., K)."""
    linear = coefficients @ readings.loading.T
    return np.exp(np.minimum(linear, 50.0)) if readings.log_rate else linear


def lift(readings: Readings, coefficients: Floats) -> Floats | float:
    """Factor (N,) of type and batch on the wear of each reading's life; 1 where nothing tells lives apart."""
    if readings.by_life is None:
        return 1.0
    terms, own = readings.loading.shape[1], readings.by_life.shape[1]
    return np.asarray(np.exp(readings.by_life @ coefficients[terms - own : terms]))


def expected_mm(readings: Readings, coefficients: Floats) -> Floats:
    """Expected wear (N,) at coefficients (K,)."""
    return np.asarray(readings.path_km @ rates(readings, coefficients) * lift(readings, coefficients))


def slopes_of(readings: Readings, coefficients: Floats, part: slice = slice(None)) -> Floats:
    """How the expected readings move with the coefficients, (N, n), at coefficients (K,)."""
    rate = rates(readings, coefficients)
    scale = rate[:, None] if readings.log_rate else 1.0
    if readings.by_life is None:
        return np.asarray(readings.path_km @ (scale * readings.loading[:, part]))
    raised = np.asarray(lift(readings, coefficients))[:, None]
    whole = np.asarray(readings.path_km @ (scale * readings.loading)) * raised
    whole[:, -readings.by_life.shape[1] :] = (readings.path_km @ rate)[:, None] * raised * readings.by_life
    return np.asarray(whole[:, part])


def carried_variance(readings: Readings, expected: Floats) -> Floats:
    """Variance (N,) that a life carries on from reading to reading besides its process: of the wear it began with,
    and of wear gathered on imputed path. Never falls within a life, so min(v, v') is its covariance."""
    if not readings.path_rel_sd.any():
        return readings.start_var.copy()
    out = _filled(readings.start_var)
    reach = _filled(readings.path_rel_sd * np.maximum(expected, 0.0))
    for rows in readings.batches:
        grown = np.diff(np.maximum.accumulate(reach[rows], axis=1), prepend=0.0, axis=1)
        out[rows] += np.cumsum(grown**2, axis=1)
    return out[:-1]


def _filled(values: Floats, fill: float = 0.0) -> Floats:
    """The values with one more that stands where a life of a batch has no reading."""
    return np.append(values, fill)


@dataclass(frozen=True)
class _Parts:
    """What the covariance is made of, each (N + 1,): the last is no reading, with an error of variance 1 of its own."""

    expected: Floats
    carrier: Floats
    carried_var: Floats
    scaled_error: Floats
    noise: Floats
    met: Floats
    """Inspection, or their number for none."""
    load: Floats | None
    """What the shared error counts; None for 1."""

    @classmethod
    def of(cls, readings: Readings, expected: Floats, scale2: float, site_var: Floats, carried_var: Floats) -> _Parts:
        scaled_error = scale2 * readings.error_var / readings.weight
        none = readings.inspections
        return cls(
            expected=_filled(expected),
            carrier=_filled(expected if readings.proportional else np.ones_like(expected)),
            carried_var=_filled(carried_var),
            scaled_error=_filled(scaled_error),
            noise=_filled(scaled_error + readings.fixed_var / readings.weight + site_var, 1.0),
            met=_filled(np.where(readings.inspection < 0, none, readings.inspection), none),
            load=None if readings.load is None else _filled(readings.load, 1.0),
        )

    def block(self, rows: Ints, tau2: float, theta: float) -> Floats:
        """Covariances (L, n, n) of the readings of each life, what an inspection shares left out."""
        mean, carried, steps = self.expected[rows], self.carrier[rows], self.carried_var[rows]
        block = theta * np.minimum(mean[:, :, None], mean[:, None, :])
        block += tau2 * carried[:, :, None] * carried[:, None, :]
        if steps.any():
            block += np.minimum(steps[:, :, None], steps[:, None, :])
        ends = np.arange(rows.shape[1])
        block[:, ends, ends] += self.noise[rows] + 1e-10 + 1e-10 * block[:, ends, ends]
        return np.asarray(block)

    def pairs(self, rows: Ints, sites: int) -> Ints:
        """Flat index (L, n, n) into a matrix by inspection and inspection."""
        at = self.met[rows]
        return np.asarray(at[:, :, None] * (sites + 1) + at[:, None, :])

    def gram(self, rows: Ints, inverse: Floats, sites: int) -> Floats:
        """``Z' A^-1 Z`` of some lives, flat, Z the loadings of the shared errors."""
        if self.load is not None:
            load = self.load[rows]
            inverse = inverse * (load[:, :, None] * load[:, None, :])
        size = (sites + 1) ** 2
        return np.asarray(np.bincount(self.pairs(rows, sites).ravel(), weights=inverse.ravel(), minlength=size), float)

    def loaded(self, values: Floats) -> Floats:
        """Values (N + 1, ...) times what the shared error counts in each."""
        if self.load is None:
            return values
        return np.asarray((self.load * values.T).T)


def evaluate(
    readings: Readings, parameters: Floats, values: Floats, site_var: Floats, carried_var: Floats
) -> Evaluation:
    """Log density of ``values`` and its gradient at ``parameters``.

    Parameters
    ----------
    parameters : (K + 4,)
        Coefficients, then logs of `HYPER`.
    values : (N,)
        Readings, with the pseudo-values of the censored ones.
    site_var : (N,)
        Variance of the pseudo-values; 0 where a value was read.
    carried_var : (N,)
        See `carried_variance`; held fixed while the parameters move.
    """
    terms = readings.loading.shape[1]
    tau2, theta, shared2, scale2 = np.exp([2.0, 1.0, 2.0, 2.0] * parameters[terms:])
    rate = rates(readings, parameters[:terms])
    raised = lift(readings, parameters[:terms])
    expected = readings.path_km @ rate * raised
    parts = _Parts.of(readings, expected, scale2, site_var, carried_var)
    residual = _filled(values - expected)
    sites = readings.inspections
    coupling = np.zeros((sites + 1) ** 2)
    half = np.empty(len(residual))

    log_det = 0.0
    inverses = []
    for rows in readings.batches:
        block = parts.block(rows, tau2, theta)
        ends = np.arange(rows.shape[1])
        log_det += 2.0 * np.log(np.linalg.cholesky(block)[:, ends, ends]).sum()
        inverse = np.linalg.inv(block)
        inverses.append(inverse)
        half[rows] = np.einsum("lij,lj->li", inverse, residual[rows])
        if sites:
            coupling += parts.gram(rows, inverse, sites)
    half[-1] = 0.0
    met = parts.met
    if sites:
        gram = coupling.reshape(sites + 1, sites + 1)[:sites, :sites]
        inner_inverse, inner_det = _inverted(gram + np.eye(sites) / shared2)
        log_det += inner_det + sites * np.log(shared2)
        by_site = np.asarray(np.bincount(met, weights=parts.loaded(half), minlength=sites + 1)[:sites], float)
        shared_mean = inner_inverse @ by_site
        padded = np.zeros((sites + 1, sites + 1))
        padded[:sites, :sites] = inner_inverse
        spread = parts.loaded(np.append(shared_mean, 0.0)[met])
    else:
        shared_mean, spread, padded = np.zeros(0), np.zeros(len(residual)), np.zeros((1, 1))
        inner_inverse = np.zeros((0, 0))
    alpha, diagonal = half.copy(), np.empty(len(residual))
    by_expected = np.zeros(len(residual))
    by_tau2 = by_theta = by_scale2 = 0.0
    for rows, inverse in zip(readings.batches, inverses, strict=True):
        at, mean, carried = met[rows], parts.expected[rows], parts.carrier[rows]
        alpha[rows] = a = half[rows] - np.einsum("lij,lj->li", inverse, spread[rows])
        if sites:
            between = padded[at[:, :, None], at[:, None, :]]
            if parts.load is not None:
                between = between * (parts.load[rows][:, :, None] * parts.load[rows][:, None, :])
            inverse = inverse - inverse @ between @ inverse
        ends = np.arange(rows.shape[1])
        diagonal[rows] = inverse[:, ends, ends]
        pull = 0.5 * (a[:, :, None] * a[:, None, :] - inverse)
        pulled = np.einsum("lij,lj->li", pull, carried)
        by_tau2 += float((pulled * carried).sum())
        own = pull[:, ends, ends]
        # twice what stands later in the life: the lesser of two wears is the earlier
        step_pull = (pull * (2.0 * np.tri(rows.shape[1], k=-1).T + np.eye(rows.shape[1]))).sum(axis=2)
        by_theta += float((step_pull * mean).sum())
        by_scale2 += float((own * parts.scaled_error[rows]).sum()) / scale2
        by_expected[rows] = a + theta * step_pull
        if readings.proportional:
            by_expected[rows] += 2.0 * tau2 * pulled
    by_shared2 = 0.0
    if sites:
        # Z' S^-1 Z by the Woodbury identity: (1 - inner^-1 / s²) / s²
        told = (sites - float(np.trace(inner_inverse)) / shared2) / shared2
        by_shared2 = 0.5 * (float((shared_mean**2).sum()) / shared2**2 - told)
    log_density = -0.5 * (float(residual @ alpha) + log_det + len(readings) * np.log(2.0 * np.pi))
    by_rate = (by_expected[:-1] * raised) @ readings.path_km
    by_coefficient = (by_rate * rate if readings.log_rate else by_rate) @ readings.loading
    if readings.by_life is not None:
        by_coefficient[terms - readings.by_life.shape[1] :] += (by_expected[:-1] * expected) @ readings.by_life
    gradient = np.concatenate(
        [by_coefficient, [2 * tau2 * by_tau2, theta * by_theta, 2 * shared2 * by_shared2, 2 * scale2 * by_scale2]]
    )
    return Evaluation(log_density, gradient, alpha[:-1], diagonal[:-1], shared_mean, inner_inverse, expected)


def _inverted(matrix: Floats) -> tuple[Floats, float]:
    """Inverse and log determinant of a covariance or precision, by its Cholesky factor."""
    from scipy.linalg.lapack import dpotrf, dpotri

    factor, failed = dpotrf(matrix, lower=1)
    if failed:
        raise np.linalg.LinAlgError("not positive definite")
    half, _ = dpotri(factor, lower=1)
    # the other half is left 0
    inverse = half + half.T
    np.fill_diagonal(inverse, np.diag(half))
    return inverse, 2.0 * float(np.log(np.diag(factor)).sum())


class Solver:
    """S^-1 of a fit, ready for many right-hand sides."""

    def __init__(self, readings: Readings, parameters: Floats, site_var: Floats, carried_var: Floats):
        terms = readings.loading.shape[1]
        tau2, theta, shared2, scale2 = np.exp([2.0, 1.0, 2.0, 2.0] * parameters[terms:])
        self.readings = readings
        self.coefficients = parameters[:terms]
        expected = expected_mm(readings, self.coefficients)
        parts = _Parts.of(readings, expected, scale2, site_var, carried_var)
        self.inverses = []
        sites = readings.inspections
        self.met, self.loaded = parts.met[:-1], parts.loaded
        gram = np.zeros((sites + 1) ** 2)
        for rows in readings.batches:
            inverse = np.linalg.inv(parts.block(rows, tau2, theta))
            self.inverses.append(inverse)
            gram += parts.gram(rows, inverse, sites)
        inner = gram.reshape(sites + 1, sites + 1)[:sites, :sites] + np.eye(sites) / shared2
        self.inner = _inverted(inner)[0] if sites else inner

    def solve(self, right: Floats) -> Floats:
        """S^-1 times ``right`` (N, M)."""
        right = np.concatenate([right, np.zeros((1, right.shape[1]))])
        half = np.zeros_like(right)
        for rows, inverse in zip(self.readings.batches, self.inverses, strict=True):
            half[rows] = np.einsum("lij,ljm->lim", inverse, right[rows])
        sites = len(self.inner)
        if not sites:
            return half[:-1]
        by_site = np.zeros((sites + 1, right.shape[1]))
        np.add.at(by_site, self.met, self.loaded(half)[:-1])
        by_site = self.inner @ by_site[:sites]
        spread = self.loaded(np.concatenate([by_site, np.zeros((1, right.shape[1]))])[np.append(self.met, sites)])
        out = half.copy()
        for rows, inverse in zip(self.readings.batches, self.inverses, strict=True):
            out[rows] -= np.einsum("lij,ljm->lim", inverse, spread[rows])
        return out[:-1]
