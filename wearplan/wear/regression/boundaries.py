"""Boundaries of the ground already passed: what a shift of each would do to the readings, and what their doubt does
to the rates."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.site.records import ZONES, Site
from wearplan.wear.evidence.readings import Floats

from .algebra import slopes_of

if TYPE_CHECKING:
    from .kind import KindFit

NEAR_M = 5.0


@dataclass(frozen=True, kw_only=True)
class Boundary:
    """One boundary behind the face."""

    section: int
    at_m: float
    sd_m: float
    room_m: float
    """Length of the shorter section beside it."""


def passed(site: Site, face_m: float) -> list[Boundary]:
    """Boundaries between sections at least `NEAR_M` behind the face."""
    return [boundary for boundary in all_of(site, face_m) if NEAR_M < boundary.at_m < face_m - NEAR_M]


def all_of(site: Site, face_m: float = float("inf")) -> list[Boundary]:
    """Every boundary between sections of the drive, passed or not, in the order of the ground file."""
    ground = site.ground()
    if ground is None:
        return []
    return [
        Boundary(
            section=k, at_m=one.to_m, sd_m=one.boundary_sd_m,
            room_m=min(one.to_m - one.from_m, min(after.to_m, face_m) - after.from_m),
        )
        for k, (one, after) in enumerate(zip(ground.sections[:-1], ground.sections[1:], strict=True))
    ]  # fmt: skip


def cost_per_m(site: Site, exposure: Any, one: KindFit, numbers: list[int], boundaries: list[Boundary]) -> Floats:
    """Mean wear (P, B) a tool of factor 1 at each position gathers more for each metre a boundary lies further on."""
    from wearplan.ground import path_shares

    ground = site.ground()
    assert ground is not None
    units = one.units
    rate = one.base_rates(one.posterior.mode).mean(axis=-1)
    positions = [site.wheel.position(number) for number in numbers]
    radius = np.array([position.track_radius_mm for position in positions])
    zones = np.array([ZONES.index(position.zone) for position in positions], np.int64)
    at = np.array([boundary.at_m for boundary in boundaries])
    change = np.stack(
        [
            path_shares(ground.sections[b.section], track_radius_mm=radius, units=units)
            - path_shares(ground.sections[b.section + 1], track_radius_mm=radius, units=units)
            for b in boundaries
        ],
        axis=1,
    )
    cost = np.einsum("pbu,pu->pb", change, rate[zones])
    # what was driven around the boundary; on both sides the same penetration is taken
    driven = np.clip(exposure.face_m - at + NEAR_M, 0.1, 2.0 * NEAR_M)
    for row, position in enumerate(positions):
        around = np.full(len(at), position.track_radius_mm)
        path = exposure.path_km(track_radius_mm=around, from_m=at - NEAR_M, to_m=at + NEAR_M, cuts=position.cuts)
        cost[row] *= path.sum(axis=1) / driven
    return np.asarray(cost)


def shifts(site: Site, exposure: Any, one: KindFit, boundaries: list[Boundary]) -> Floats:
    """How expected readings (N, B) change for each metre a boundary lies further on."""
    sources = one.gathered.sources
    numbers = sorted({stint.position for life, _ in sources for stint in life.stints})
    by_number = dict(zip(numbers, cost_per_m(site, exposure, one, numbers, boundaries), strict=True))
    at = np.array([boundary.at_m for boundary in boundaries])
    out = np.zeros((len(sources), len(boundaries)))
    for row, (life, reading) in enumerate(sources):
        for stint in life.stints:
            end = reading.driven_m if stint.to_m is None else min(stint.to_m, reading.driven_m)
            low, high = np.searchsorted(at, [stint.from_m, end])
            out[row, low:high] = by_number[stint.position][low:high]
    return out


def since_reading(
    site: Site, exposure: Any, one: KindFit, numbers: list[int], since_m: Floats, until_m: Floats, shift_m: Floats
) -> Floats:
    """What the shifts of boundaries between two points add to the mean wear of tools of factor 1.

    Parameters
    ----------
    numbers, since_m, until_m : (P,)
        Positions, and the stretch of the drive asked about.
    shift_m : (D, B)
        Shift of every boundary of `all_of`.

    Returns
    -------
    (D, P) array, mm; may be negative.
    """
    boundaries = all_of(site)
    out = np.zeros((len(shift_m), len(numbers)))
    if not boundaries or not len(numbers):
        return out
    near = [
        k
        for k, b in enumerate(boundaries)
        if b.at_m > since_m.min() - 4 * b.sd_m and b.at_m < until_m.max() + 4 * b.sd_m
    ]
    if not near:
        return out
    chosen = [boundaries[k] for k in near]
    cost = cost_per_m(site, exposure, one, numbers, chosen)
    for column, (k, boundary) in enumerate(zip(near, chosen, strict=True)):
        moved = boundary.at_m + shift_m[:, [k]]
        before = np.clip(moved, since_m, until_m) - np.clip(boundary.at_m, since_m, until_m)
        out += cost[:, column] * before
    return out


def with_boundary_doubt(site: Site, exposure: Any, one: KindFit, face_m: float) -> KindFit:
    """The fit with the boundaries passed as unknown as the ground file says they are.

    Rates and shifts of the boundaries are taken as jointly Gaussian about the fit: precision of the rates as found,
    of the shifts ``D' S^-1 D`` and their own, ``J' S^-1 D`` between them (J the slopes of the readings by rate, D by
    shift). The shifts are integrated out, which widens the rates of units that lie beside a doubtful boundary and
    moves them a little.
    """
    doubtful = [boundary for boundary in passed(site, face_m) if boundary.sd_m > 0]
    readings, posterior = one.gathered.readings, one.posterior
    if not doubtful or not len(readings):
        return one
    moved = shifts(site, exposure, one, doubtful) * np.array([boundary.sd_m for boundary in doubtful])
    solver = one.solver()
    slopes = slopes_of(readings, solver.coefficients)
    solved = solver.solve(moved)
    terms = posterior.terms
    between = slopes.T @ solved
    covariance = posterior.covariance.copy()
    # Schur complement of the rates in the joint precision, inverted by the Woodbury identity
    response = covariance[:terms, :terms] @ between
    inner = np.eye(len(doubtful)) + moved.T @ solved - between.T @ response
    inner = 0.5 * (inner + inner.T)
    values, vectors = np.linalg.eigh(inner)
    # between linearised and exact curvature a direction may come out less than certain of its prior
    spread = (vectors / np.maximum(values, 1.0)) @ vectors.T
    covariance[:terms, :terms] += response @ spread @ response.T
    # a unit hardly cut before a doubtful boundary: the line is not straight there, but nothing is less certain
    # than before any reading
    variance = np.diag(covariance)[:terms]
    most = np.maximum(np.diag(posterior.prior.covariance), np.diag(posterior.covariance)[:terms])
    shrink = np.ones(len(covariance))
    shrink[:terms] = np.sqrt(np.minimum(most / np.maximum(variance, 1e-12), 1.0))
    covariance *= shrink[:, None] * shrink[None, :]
    pull = moved.T @ posterior.at_mode.alpha
    step = np.zeros(len(posterior.mode))
    sure = np.sqrt(np.diag(covariance)[:terms])
    step[:terms] = np.clip(-response @ (spread @ pull), -sure, sure)
    found = replace(posterior.at_mode, shared_mean=posterior.at_mode.shared_mean + posterior.shared_slope @ step)
    widened = replace(posterior, mode=posterior.mode + step, covariance=covariance, at_mode=found)
    return replace(one, posterior=widened)
