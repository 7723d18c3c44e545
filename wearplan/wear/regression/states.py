"""Where each running life stands: its factor and its wear at its last reading, given its own readings.

Given the parameters and the errors the inspections share, lives are independent and each is a Kalman filter on
(factor, wear): wear grows by factor times expected wear, plus the variance of its random steps. Censored readings are
met by moment matching. The filter runs over all draws and lives at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearplan.wear.evidence.readings import Floats, Ints, Readings

from .algebra import HYPER, carried_variance, expected_mm
from .censoring import truncated
from .posterior import Posterior


@dataclass(frozen=True)
class States:
    """Gaussian state of lives, arrays (D, L): factor and wear at the last reading, their variances and covariance."""

    factor: Floats
    wear: Floats
    factor_var: Floats
    covariance: Floats
    wear_var: Floats
    expected: Floats
    """Expected wear (factor 1) at the last reading."""
    read: Floats
    """(L,) bool, whether the life has any reading."""

    def draw(self, rng: np.random.Generator, factor_sd: Floats) -> tuple[Floats, Floats]:
        """One draw of (factor, wear) for every entry; wear is not negative, a life not read yet has wear 0."""
        from scipy.special import ndtr, ndtri

        shape = self.wear.shape
        root = np.sqrt(np.maximum(self.wear_var, 1e-12))
        least = ndtr(-self.wear / root)
        uniform = least + (1.0 - least) * rng.random(shape)
        wear = np.maximum(self.wear + root * ndtri(np.clip(uniform, 1e-12, 1 - 1e-12)), 0.0)
        slope = self.covariance / np.maximum(self.wear_var, 1e-12)
        rest = np.sqrt(np.maximum(self.factor_var - slope * self.covariance, 1e-12))
        factor = self.factor + slope * (wear - self.wear) + rest * rng.standard_normal(shape)
        fresh = np.broadcast_to(~self.read, shape)
        if fresh.any():
            precision = 1.0 / np.maximum(np.broadcast_to(factor_sd, shape)[fresh], 1e-3) ** 2
            factor[fresh] = rng.standard_gamma(precision) / precision
            wear[fresh] = 0.0
        return np.maximum(factor, 0.05), wear


def states(readings: Readings, rows: Ints, parameters: Floats, shared: Floats, posterior: Posterior) -> States:
    """Filter lives under draws of the parameters.

    Parameters
    ----------
    rows : (L, R) int
        Row numbers of each life's readings in order, -1 after the last.
    parameters : (D, K + 4)
    shared : (D, J)
        Errors of the inspections.

    Returns
    -------
    States
        Arrays (D, L).
    """
    tau, theta, _, scale = np.exp(parameters[:, posterior.terms :]).T[: len(HYPER)]
    draws, lives = len(parameters), len(rows)
    # life by draw inside, the longest lives first, so that every turn works on whole rows at the top
    order = np.argsort(-(rows >= 0).sum(axis=1), kind="stable")
    rows = rows[order]
    rate = posterior.column_rates(parameters).T
    factor, wear, before = np.ones((lives, draws)), np.zeros((lives, draws)), np.zeros((lives, draws))
    factor_var = np.broadcast_to(tau**2, (lives, draws)).copy()
    covariance, wear_var = np.zeros((lives, draws)), np.zeros((lives, draws))
    raised = np.ones((lives, draws))
    if readings.by_life is not None and rows.shape[1]:
        own = readings.by_life.shape[1]
        factors = parameters[:, posterior.terms - own : posterior.terms] @ readings.by_life[rows[:, 0]].T
        raised = np.where(rows[:, :1] >= 0, np.exp(factors.T), 1.0)
    carried = carried_variance(readings, expected_mm(readings, posterior.mode[: posterior.terms]))
    carried_before = np.zeros(lives)
    # a column of nothing for readings that share no inspection's error
    errors = np.concatenate([shared.T, np.zeros((1, draws))])
    load = np.ones(len(readings)) if readings.load is None else readings.load
    for turn in range(rows.shape[1]):
        count = int((rows[:, turn] >= 0).sum())
        if not count:
            break
        row, at = rows[:count, turn], slice(0, count)
        expected = readings.path_km[row] @ rate * raised[at]
        step = np.maximum(expected - before[at], 0.0)
        before[at] = expected
        wear[at] += factor[at] * step
        wear_var[at] += step * (2.0 * covariance[at] + step * factor_var[at] + theta)
        wear_var[at] += (carried[row] - carried_before[at])[:, None]
        carried_before[at] = carried[row]
        covariance[at] += step * factor_var[at]
        error, fixed, weight = (
            each[row][:, None] for each in (readings.error_var, readings.fixed_var, readings.weight)
        )
        spread = wear_var[at] + (scale**2 * error + fixed) / weight + 1e-9
        centre = wear[at] + load[row][:, None] * errors[readings.inspection[row]]
        shift, lost = readings.wear_mm[row][:, None] - centre, spread.copy()
        bounded = np.flatnonzero(readings.censored[row])
        if len(bounded):
            side = readings.censored[row][bounded, None].astype(float)
            _, moved, gone = truncated(centre[bounded], spread[bounded], readings.wear_mm[row][bounded, None], side)
            shift[bounded] = moved
            lost[bounded] *= gone
        gain_wear, gain_factor = wear_var[at] / spread, covariance[at] / spread
        wear[at] += gain_wear * shift
        factor[at] += gain_factor * shift
        factor_var[at] -= gain_factor**2 * lost
        covariance[at] -= gain_wear * gain_factor * lost
        wear_var[at] -= gain_wear**2 * lost
    back = np.argsort(order)
    factor, wear, factor_var, covariance, wear_var, before = (
        np.ascontiguousarray(each[back].T) for each in (factor, wear, factor_var, covariance, wear_var, before)
    )
    read = (rows[:, 0] >= 0)[back] if rows.shape[1] else np.zeros(lives, bool)
    return States(factor, wear, np.maximum(factor_var, 1e-9), covariance, np.maximum(wear_var, 1e-9), before, read)


def trajectory(
    posterior: Posterior, rows: Ints, parameters: Floats, shared: Floats, asked_mm: Floats
) -> tuple[Floats, Floats]:
    """Mean and variance (D, q) of the wear of one life where its expected wear is ``asked_mm`` (D, q).

    ``rows`` are the life's readings; those before and after the point asked about count alike. Bounds stand as
    the values that expectation propagation gave them.
    """
    readings = posterior.readings
    tau, theta, _, scale = (each[:, None, None] for each in np.exp(parameters[:, posterior.terms :]).T[: len(HYPER)])
    expected = posterior.column_rates(parameters) @ readings.path_km[rows].T
    at_mode = expected_mm(readings, posterior.mode[: posterior.terms])
    carried = carried_variance(readings, at_mode)[rows]
    asked_carried = np.interp(
        asked_mm.mean(axis=0), np.r_[0.0, at_mode[rows]], np.r_[readings.start_var[rows[0]], carried]
    )

    def covariance(a: Floats, b: Floats, va: Floats, vb: Floats) -> Floats:
        one, other = a[:, :, None], b[:, None, :]
        alike = tau**2 * one * other + theta * np.minimum(one, other)
        return np.asarray(alike + np.minimum(va[:, None], vb[None, :]))

    noise = (scale[:, :, 0] ** 2 * readings.error_var[rows] + readings.fixed_var[rows]) / readings.weight[rows]
    noise = noise + posterior.sites.variance[rows] + 1e-9
    own = covariance(expected, expected, carried, carried)
    own[:, np.arange(len(rows)), np.arange(len(rows))] += noise
    errors = np.concatenate([shared, np.zeros((len(shared), 1))], axis=1)[:, readings.inspection[rows]]
    if readings.load is not None:
        errors = errors * readings.load[rows]
    across = covariance(asked_mm, expected, asked_carried, carried)
    off = posterior.sites.values[rows] - errors - expected
    solved = np.linalg.solve(own, np.concatenate([off[:, :, None], across.transpose(0, 2, 1)], axis=2))
    mean = asked_mm + np.einsum("dqn,dn->dq", across, solved[:, :, 0])
    variance = tau[:, :, 0] ** 2 * asked_mm**2 + theta[:, :, 0] * asked_mm + asked_carried
    variance = variance - np.einsum("dqn,dnq->dq", across, solved[:, :, 1:])
    return mean, np.maximum(variance, 0.0)


def rows_of(readings: Readings, lives: Ints) -> Ints:
    """Row numbers (L, R) of the readings of lives, -1 after the last."""
    found = [np.flatnonzero(readings.life == life) for life in lives]
    width = max([len(rows) for rows in found], default=0)
    out = np.full((len(found), width), -1, np.int64)
    for index, rows in enumerate(found):
        out[index, : len(rows)] = rows
    return out


def gamma_steps(rng: np.random.Generator, mean: Floats, theta: Floats) -> Floats:
    """Gamma increments of given mean and scale theta (variance theta * mean), same shape as ``mean``."""
    scale = np.maximum(theta, 1e-6)
    return rng.standard_gamma(np.maximum(mean, 0.0) / scale) * scale
