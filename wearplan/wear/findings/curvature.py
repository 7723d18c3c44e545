"""Does wear slow or quicken with its level? Forms of the curve tried on a kind's readings, and let in if they earn it.

A form changes the readings, not the regression: each becomes even wear (see `curve`), its error and the error its stop
shares times d even / d wear at what is thought to be the wear there, and the log of that slope comes to the evidence.
No form is taken as the right one: those the readings do not rule out go on with their weights.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from wearplan.wear.evidence.readings import Floats, Readings
from wearplan.wear.quantiles import Quantiles
from wearplan.wear.regression.algebra import Solver, carried_variance, slopes_of
from wearplan.wear.regression.censoring import Sites
from wearplan.wear.regression.curve import Curve
from wearplan.wear.regression.curves_found import Curvature, Form
from wearplan.wear.regression.factors import left_out_score
from wearplan.wear.regression.posterior import Rough, climb_on
from wearplan.wear.results import PaceByLevel

from .compare import times

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.history import Reading as LifeReading
    from wearplan.site.records import Site
    from wearplan.wear.regression.kind import KindFit

ORDERS = (1.0, 3.0, 5.0)
STEP, MOST = 0.4, 3.2
"""Strengths tried lie so far apart, and no further than this from 0."""
STRENGTH_SD = 1.0
"""Prior sd of the strength: judgement."""
STIRS = 2.2
"""Standard deviations a score test must see before anything is fitted."""
LEAST_EVIDENCE, LEAST_GAIN = 2.0, 3.0
"""Log evidence, and log score of left-out lives, against wear that is even: tuned so that of 120 drives without a
curve (other seeds than the committed ones) fewer than 3 % showed one."""
LEAST_WEIGHT, MOST_FORMS = 0.03, 6
LEAST_READINGS, FAR = 10, 0.3
"""Values, not bounds, that must be read beyond this share of the limit: nearer to 0 nothing can be told."""


@dataclass(frozen=True)
class Place:
    """What turns readings into even wear."""

    limit_mm: Floats
    """(N,)"""
    start_mm: Floats
    """(N,) wear the life began with."""
    smooth_mm: Floats
    """(N,) wear thought to have been there, errors of reading left out."""

    @classmethod
    def of(cls, readings: Readings, limit_mm: float) -> Place:
        """Of readings alone, of tools that began new: the wear there is taken as read."""
        alike = np.full(len(readings), limit_mm)
        return cls(alike, np.zeros(len(readings)), np.maximum(readings.wear_mm, 0.0))

    def bent(self, readings: Readings, curve: Curve) -> tuple[Readings, float]:
        """The readings as even wear, and the sum of the logs of their slopes."""
        begun = curve.even(self.start_mm, self.limit_mm)
        read = self.start_mm + readings.wear_mm
        bounded = readings.censored != 0
        slope = curve.slope(np.where(bounded, read, self.smooth_mm), self.limit_mm)
        jacobian = float(np.log(curve.slope(read, self.limit_mm))[~bounded].sum())
        bent = replace(
            readings, wear_mm=curve.even(read, self.limit_mm) - begun, error_var=readings.error_var * slope**2,
            fixed_var=readings.fixed_var * slope**2, load=slope,
            start_var=readings.start_var * curve.slope(self.start_mm, self.limit_mm) ** 2,
        )  # fmt: skip
        return bent, jacobian


def limit_of(site: Site, life: Life) -> float:
    """Limit of a life where it was first fitted, mm."""
    return site.wheel.limit_mm(site.wheel.position(life.stints[0].position), life.tool_type)


def try_curves(site: Site, sources: Sequence[tuple[Life, LifeReading]], found: Rough) -> Curvature:
    """Try the forms on a kind's readings.

    Parameters
    ----------
    found : Rough
        The regression with even wear.
    """
    limits = np.array([limit_of(site, life) for life, _ in sources], float)
    starts = np.array([life.start_wear_mm or 0.0 for life, _ in sources], float)
    return search(found, Place(limits, starts, starts))


def search(found: Rough, place: Place) -> Curvature:
    """Try the forms about a regression with even wear; what wear was at each reading is looked up in it."""
    readings, limits = found.readings, place.limit_mm
    far = (readings.censored == 0) & (place.start_mm + readings.wear_mm > FAR * limits)
    if far.sum() < LEAST_READINGS or not np.isfinite(limits).all() or (limits <= 0).any():
        return Curvature()
    place = replace(place, smooth_mm=place.start_mm + smoothed(found))
    odds = np.array([score(found, place, order) for order in ORDERS])
    if np.abs(odds).max() < STIRS:
        return Curvature()
    evidence, forms = _weigh(_explore(found, readings, place, odds), found.height)
    if evidence < LEAST_EVIDENCE or not forms[0].curve.strength:
        return Curvature(evidence=evidence)
    best = forms[0]
    bent, jacobian = place.bent(readings, best.curve)
    gain = left_out_score(bent, found.prior, best.rough.mode) + jacobian
    gain -= left_out_score(readings, found.prior, found.mode)
    if gain < LEAST_GAIN:
        return Curvature(evidence=evidence, gain=gain)
    # once more about the wear that the best form itself takes to have been there, and closer together where the
    # readings tell the strength well
    begun = best.curve.even(place.start_mm, limits)
    place = replace(place, smooth_mm=best.curve.worn(begun + smoothed(best.rough), limits))
    tried = [(width, _climb(found, readings, place, curve, start)) for curve, width, start in _closer(forms)]
    weights = np.array([np.log(width) + form.weight for width, form in tried])
    weights = np.exp(weights - weights.max())
    ranked = sorted(zip(weights, (form for _, form in tried), strict=True), key=lambda each: -each[0])
    kept = [each for each in ranked if each[0] >= LEAST_WEIGHT * weights.sum()][:MOST_FORMS]
    total = sum(weight for weight, _ in kept)
    return Curvature(
        evidence=evidence, gain=gain, forms=tuple(replace(form, weight=weight / total) for weight, form in kept)
    )


def _closer(forms: Sequence[Form]) -> list[tuple[Curve, float, Floats]]:
    """Curves to go on with, how much of the strengths each stands for, and a mode to start from."""
    out = []
    for order in ORDERS:
        mine = {round(form.curve.strength / STEP): form for form in forms if form.curve.order == order}
        if sum(form.weight for form in mine.values()) < LEAST_WEIGHT:
            continue
        at = max(mine, key=lambda k: mine[k].weight)
        sides = [mine.get(at - 1), mine.get(at + 1)]
        logs = [np.log(max(each.weight, 1e-300)) if each else -np.inf for each in (sides[0], mine[at], sides[1])]
        bend = logs[0] - 2.0 * logs[1] + logs[2]
        if not np.isfinite(bend) or -bend < 2.0:
            # a strength known no better than the steps tried
            out += [(form.curve, STEP, form.rough.mode) for form in mine.values() if form.weight > 0.01]
            continue
        sd = STEP / np.sqrt(-bend)
        centre = mine[at].curve.strength + 0.5 * STEP * (logs[0] - logs[2]) / bend
        out += [(Curve(float(centre + k * sd), order), 1.2 * sd, mine[at].rough.mode) for k in (-1.2, 0.0, 1.2)]
    return out


def smoothed(found: Rough) -> Floats:
    """Wear (N,) thought to have been at each reading, errors of reading left out."""
    readings = found.readings
    scale2 = np.exp(2.0 * found.mode[-1])
    noise = (scale2 * readings.error_var + readings.fixed_var) / readings.weight + found.sites.variance
    shared = np.append(found.at_mode.shared_mean, 0.0)[readings.inspection]
    load = 1.0 if readings.load is None else readings.load
    return np.asarray(np.maximum(found.sites.values - load * shared - noise * found.at_mode.alpha, 0.0))


def score(found: Rough, place: Place, order: float) -> float:
    """Score test of a strength of 0 against any other: its standard deviations, the rates' part cleared."""
    readings, at = found.readings, found.at_mode
    share = np.clip(place.smooth_mm / place.limit_mm, 0.0, 1.5)
    begun = np.clip(place.start_mm / place.limit_mm, 0.0, 1.5)
    bends = place.limit_mm * (share ** (order + 1) - share - begun ** (order + 1) + begun) / (order + 1)
    steeper = share**order - 1.0 / (order + 1)
    solver = Solver(readings, found.mode, found.sites.variance, carried_variance(readings, at.expected_mm))
    slopes = slopes_of(readings, solver.coefficients)
    solved = solver.solve(np.c_[bends, slopes])
    inner = slopes.T @ solved[:, 1:] + np.linalg.inv(found.prior.covariance)
    cross = slopes.T @ solved[:, 0]
    left = float(bends @ solved[:, 0] - cross @ np.linalg.solve(inner, cross))
    noise = (np.exp(2.0 * found.mode[-1]) * readings.error_var + readings.fixed_var) / readings.weight
    plain = readings.censored == 0
    pull = -float(at.alpha @ bends) + float(steeper[plain].sum())
    pull += float(((at.alpha**2 - at.inverse_diagonal) * noise * steeper)[plain].sum())
    return float(pull / np.sqrt(max(left, 1e-9)))


def _climb(found: Rough, readings: Readings, place: Place, curve: Curve, start: Floats) -> Form:
    """The regression with one form; its weight is yet the log of posterior density and prior."""
    bent, jacobian = place.bent(readings, curve)
    bounded = readings.censored != 0
    begun = curve.even(place.start_mm, place.limit_mm)
    pseudo = curve.even(place.start_mm + found.sites.values, place.limit_mm) - begun
    steeper = curve.slope(place.smooth_mm, place.limit_mm) ** 2
    sites = Sites(np.where(bounded, pseudo, bent.wear_mm), np.where(bounded, found.sites.variance * steeper, 0.0))
    rough = climb_on(replace(found, readings=bent, sites=sites), bent, found.prior, start)
    return Form(rough.height + jacobian - 0.5 * (curve.strength / STRENGTH_SD) ** 2, curve, rough)


def _explore(found: Rough, readings: Readings, place: Place, odds: Floats) -> list[Form]:
    """Forms of every order, from 0 outwards until they are far worse than the best; to both sides where the score test
    does not say which."""
    out = [Form(found.height, Curve(0.0, 3.0), found)]
    for order, told in zip(ORDERS, odds, strict=True):
        best = found.height
        for side in (1.0, -1.0):
            if side * told < -1.0:
                continue
            start = found.mode
            for number in range(1, round(MOST / STEP) + 1):
                form = _climb(found, readings, place, Curve(side * number * STEP, order), start)
                start = form.rough.mode
                out.append(form)
                best = max(best, form.weight)
                if form.weight < best - 4.0:
                    break
    return out


def _weigh(forms: Sequence[Form], even: float) -> tuple[float, list[Form]]:
    """Log evidence for any form against even wear, and the forms with their weights, the likeliest first.

    Heights are taken as evidence: a form hardly changes how well the other parameters are known.
    """
    heights = np.array([form.weight for form in forms])
    weights = np.exp(heights - heights.max())
    prior = STEP / (np.sqrt(2.0 * np.pi) * STRENGTH_SD * len(ORDERS))
    evidence = float(heights.max() - even + np.log(prior * weights.sum()))
    weights = weights / weights.sum()
    told = [replace(form, weight=float(each)) for form, each in zip(forms, weights, strict=True)]
    return evidence, sorted(told, key=lambda form: -form.weight)


def pace_of(one: KindFit, count: int, rng: np.random.Generator) -> PaceByLevel | None:
    """What a kind's curve is, or that none was taken; None where none was looked for."""
    tried = one.curvature
    if tried is None:
        return None
    at_limit = at_half = None
    if one.curve is not None:
        picks = [(len(rows), form.curve) for rows, form in one.among(count, rng) if form.curve is not None]
        at_limit = Quantiles.of(np.concatenate([np.full(n, curve.pace(1.0)) for n, curve in picks]))
        at_half = Quantiles.of(np.concatenate([np.full(n, curve.pace(0.5)) for n, curve in picks]))
    return PaceByLevel(
        kind=one.kind, entered=one.curve is not None, pace_at_limit=at_limit, pace_at_half=at_half, gain=tried.gain,
        evidence=tried.evidence,
    )  # fmt: skip


def words(paces: Sequence[PaceByLevel]) -> list[str]:
    """One remark for each kind whose wear bends, or hardly enough to be taken as bending."""
    out = []
    for pace in paces:
        if pace.pace_at_limit is not None and pace.pace_at_half is not None:
            way = "slower" if (pace.pace_at_limit.p50 or 1.0) < 1.0 else "faster"
            out.append(
                f"{pace.kind}s wear {way} near their limit: there at x{times(pace.pace_at_limit)} of the pace of a new"
                f" one, half way at x{times(pace.pace_at_half)}; rates are means over a whole life (log score of tools"
                f" left out better by {pace.gain:.0f})"
            )
        elif pace.evidence >= LEAST_EVIDENCE:
            out.append(
                f"{pace.kind}s: a change of pace towards the limit did not foretell tools left out better; left out"
            )
    return out
