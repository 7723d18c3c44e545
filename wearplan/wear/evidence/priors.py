"""What is believed of rates before this drive's own readings, and how its units inform one another.

Three steps, weakest last. A unit the readings determine stands on them. A unit hardly cut leans on the relation
between the tests of units and their rates, fitted to the well-cut units of this drive. A unit never cut leans on the
site's ``expected_rate``, and without one on a published relation with its wide doubt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .readings import Floats

ZONE_PRIOR = {"centre": (np.log(1.3), 0.5), "gauge": (np.log(1.3), 0.35)}
"""Log factor on a face tool's rate, mean and sd: from memory, no published source. Fitted as soon as there are
readings."""
WELL_CUT = 0.3
"""A unit is well cut when the posterior sd of its log rate is below this (and the readings made it so)."""
_COMMON = 0.6
"""Correlation of the doubts of units before any reading: a relation that is too low is too low for all."""
_SPREAD = (np.log(0.45), 0.5)
"""Log of the scatter of units about a relation, mean and sd: judgement."""


@dataclass(frozen=True, kw_only=True)
class Belief:
    """Log rates of the units before readings of this kind: mean, covariance, and the words for each."""

    mean: Floats
    covariance: Floats
    basis: tuple[str, ...]
    score: Floats
    """(U,) log of the published rate, the abscissa of the relation between units."""
    tested: tuple[bool, ...]
    """(U,) whether the unit has a test the relation can use."""


def first_belief(site, units: tuple[str, ...], kind: str, diameter_mm: float | None, limit_mm: float) -> Belief:  # type: ignore[no-untyped-def]
    """Belief of a kind's rates from ``expected_rate`` and published relations."""
    from wearplan.ground import expected_mm_per_km, unit_of

    mean, sd, score, basis, tested, published_mean = [], [], [], [], [], []
    for code in units:
        unit = unit_of(site, code)
        published = expected_mm_per_km(unit, kind, diameter_mm, wear_limit_mm=limit_mm)
        # a test that says nothing of this kind by itself still ranks the units by what it says of discs
        ranked = published if _tested(published) else expected_mm_per_km(unit, "disc")
        score.append(np.log(ranked.mm_per_km))
        tested.append(_tested(ranked))
        published_mean.append(np.log(published.mm_per_km))
        own = next((each for each in unit.expected_rate if each.kind == kind), None)
        if own is not None:
            mean.append(np.log(own.mm_per_km))
            sd.append(max(np.log(own.factor), 0.05))
            basis.append("expectation of the site")
        else:
            mean.append(np.log(published.mm_per_km))
            sd.append(max(np.log(published.factor), 0.3))
            basis.append("published relation: " + published.basis)
    means, sds = np.array(mean), np.array(sd)
    stated = np.array([word.startswith("expectation") for word in basis])
    if stated.any() and not stated.all():
        # where the site knows its level, the published relations only rank the units
        means[~stated] += float((means - np.array(published_mean))[stated].mean())
    correlation = np.full((len(units), len(units)), _COMMON) + (1 - _COMMON) * np.eye(len(units))
    return Belief(
        mean=means, covariance=correlation * sds[:, None] * sds[None, :], basis=tuple(basis), score=np.array(score),
        tested=tuple(tested),
    )  # fmt: skip


def _tested(expected) -> bool:  # type: ignore[no-untyped-def]
    return "no usable test" not in expected.basis


@dataclass(frozen=True, kw_only=True)
class Relation:
    """``log rate = level + slope * score`` over well-cut units, with scatter: the prediction for the others."""

    mean: Floats
    covariance: Floats
    scatter: float
    units: int


def relate(rate: Floats, rate_sd: Floats, score: Floats, ask: Floats, tested: Floats) -> Relation:
    """Predict log rates of units from those of well-cut ones.

    A Gaussian regression with a vague level, a slope believed 1 +- 0.5 (the score is a log rate itself) and a scatter
    averaged over its posterior on a grid.

    Parameters
    ----------
    rate, rate_sd, score : (n,)
        Log rates of the well-cut units, their sd, their scores.
    ask : (m,)
        Scores of the units to predict.
    tested : (m,) bool
        False: the unit has no test; its scatter is doubled.
    """
    known = np.isfinite(score)
    grid = np.exp(np.linspace(np.log(0.08), np.log(1.5), 24))
    centre = float(score[known].mean()) if known.any() else 0.0
    design = np.c_[np.ones(len(rate)), score - centre]
    asked = np.c_[np.ones(len(ask)), ask - centre]
    before, before_var = np.array([0.0, 1.0]), np.diag([9.0, 0.25])
    weights, means, covariances = [], [], []
    for scatter in grid:
        noise = scatter**2 + rate_sd**2
        total = design @ before_var @ design.T + np.diag(noise)
        off = rate - centre - design @ before
        solved = np.linalg.solve(total, np.c_[off, design @ before_var])
        weights.append(
            -0.5 * (off @ solved[:, 0] + np.linalg.slogdet(total)[1])
            - 0.5 * ((np.log(scatter) - _SPREAD[0]) / _SPREAD[1]) ** 2
        )
        coefficients = before + (design @ before_var).T @ solved[:, 0]
        covariance = before_var - (design @ before_var).T @ solved[:, 1:]
        means.append(centre + asked @ coefficients)
        own = np.where(tested, scatter, 2.0 * scatter) ** 2
        covariances.append(asked @ covariance @ asked.T + np.diag(own))
    weight = np.exp(np.array(weights) - max(weights))
    weight /= weight.sum()
    mean = np.einsum("g,gm->m", weight, np.array(means))
    off = np.array(means) - mean
    covariance = np.einsum("g,gij->ij", weight, np.array(covariances)) + np.einsum("g,gi,gj->ij", weight, off, off)
    return Relation(mean=mean, covariance=covariance, scatter=float(weight @ grid), units=len(rate))


def lean_on(belief: Belief, relation: Relation, weak: Floats) -> Belief:
    """The belief with the weak units' part multiplied by the relation's prediction (published ones: replaced by it)."""
    mean, covariance, basis = belief.mean.copy(), belief.covariance.copy(), list(belief.basis)
    rows = np.flatnonzero(weak)
    stated = np.array([basis[row].startswith("expectation") for row in rows])
    precision = np.linalg.inv(relation.covariance)
    pull = precision @ relation.mean
    own = np.where(stated, 1.0 / np.diag(covariance)[rows], 0.0)
    joined = np.linalg.inv(precision + np.diag(own))
    mean[rows] = joined @ (pull + own * belief.mean[rows])
    covariance[rows, :] = 0.0
    covariance[:, rows] = 0.0
    covariance[np.ix_(rows, rows)] = joined
    words = f"relation fitted to {relation.units} well-cut unit" + ("s" if relation.units != 1 else "")
    for row, is_stated in zip(rows, stated, strict=True):
        basis[row] = f"{words} of this drive" + (", with the site's expectation" if is_stated else "")
    return Belief(mean=mean, covariance=covariance, basis=tuple(basis), score=belief.score, tested=belief.tested)
