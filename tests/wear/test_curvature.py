"""Wear whose pace follows its level: the curve itself, whether it is found, and what the outlook makes of it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.simulate.seeds import TUNING_WORLDS
from wearplan.plan.ahead.tools import look
from wearplan.wear import learn, look_ahead
from wearplan.wear.evidence.readings import make_readings
from wearplan.wear.regression.algebra import Solver, evaluate, expected_mm
from wearplan.wear.regression.curve import Curve


@cache
def found(name: str):
    world = TUNING_WORLDS[name][0].world()
    fit = learn(world.site)
    return world, fit, look_ahead(world.site, fit)


@pytest.mark.parametrize("strength", [-1.2, 0.6, 2.0])
@pytest.mark.parametrize("order", [1.0, 5.0])
def test_even_wear_meets_wear_at_the_limit_and_comes_back(strength, order):
    curve = Curve(strength, order)
    wear = np.linspace(0.0, 27.0, 55)
    assert curve.even(25.0, 25.0) == pytest.approx(25.0)
    assert curve.worn(curve.even(wear, 25.0), 25.0) == pytest.approx(wear, abs=1e-6)
    rise = (curve.even(wear + 1e-3, 25.0) - curve.even(wear - 1e-3, 25.0)) / 2e-3
    assert curve.slope(wear[1:-1], 25.0) == pytest.approx(rise[1:-1], rel=0.02)
    # the integral of its definition, by quadrature
    from scipy.integrate import quad

    whole, part = (quad(lambda v: np.exp(strength * v**order), 0.0, end)[0] for end in (1.0, 0.6))
    assert curve.even(15.0, 25.0) == pytest.approx(25.0 * part / whole, rel=1e-4)


def test_an_error_that_counts_differently_in_each_reading_is_that_of_the_whole_covariance():
    rng = np.random.default_rng(5)
    life = np.repeat(np.arange(6), 3)
    readings = make_readings(
        life=life, path_km=np.cumsum(rng.uniform(20, 60, (6, 3)), axis=1).ravel(), wear_mm=rng.uniform(1, 9, 18),
        inspection=np.tile([0, 1, 2], 6), sd_mm=0.4,
    )  # fmt: skip
    readings = replace(readings, load=rng.uniform(0.5, 2.0, 18))
    at = np.r_[np.log(0.05), np.log([0.2, 0.1, 0.5, 1.0])]
    none = np.zeros(18)
    mean = expected_mm(readings, at[:1])
    own = readings.life[:, None] == readings.life
    met = readings.inspection[:, None] == readings.inspection
    whole = own * (0.04 * np.outer(mean, mean) + 0.1 * np.minimum.outer(mean, mean)) + 0.16 * np.eye(18)
    whole += met * 0.25 * np.outer(readings.load, readings.load)
    off = readings.wear_mm - mean
    said = -0.5 * (off @ np.linalg.solve(whole, off) + np.linalg.slogdet(whole)[1] + 18 * np.log(2 * np.pi))
    result = evaluate(readings, at, readings.wear_mm, none, none)
    assert result.log_density == pytest.approx(said, abs=1e-6)
    assert result.inverse_diagonal == pytest.approx(np.diag(np.linalg.inv(whole)), rel=1e-6)
    assert Solver(readings, at, none, none).solve(off[:, None])[:, 0] == pytest.approx(
        np.linalg.solve(whole, off), rel=1e-6
    )
    step = 1e-6
    for k in range(5):
        ahead, behind = at.copy(), at.copy()
        ahead[k] += step
        behind[k] -= step
        rise = evaluate(readings, ahead, readings.wear_mm, none, none).log_density
        rise -= evaluate(readings, behind, readings.wear_mm, none, none).log_density
        assert result.gradient[k] == pytest.approx(rise / (2 * step), rel=1e-4, abs=1e-4)


@pytest.mark.parametrize(("name", "way", "true"), [("slowing", "slower", 0.37), ("quickening", "faster", 2.23)])
def test_wear_that_bends_is_found_and_said(name, way, true):
    _, fit, _ = found(name)
    discs = next(pace for pace in fit.pace if pace.kind == "disc")
    assert discs.entered
    assert 0.5 * true < discs.pace_at_limit.p50 < 2.0 * true
    assert any(remark.startswith(f"discs wear {way} near their limit") for remark in fit.remarks)


def test_wear_that_does_not_bend_is_left_alone():
    _, fit, outlook = found("as modelled")
    assert fit.pace
    assert not any(pace.entered for pace in fit.pace)
    assert outlook.evenly is outlook
    assert not any("near their limit" in remark for remark in fit.remarks)


def test_the_limit_is_foretold_better_with_the_curve_than_without():
    world, _, outlook = found("slowing")
    true = np.minimum([world.truth.limit_m(int(n)) for n in outlook.numbers], 1e9)

    def inside(told) -> float:
        reached = np.where(np.isfinite(told.limit_m()), told.limit_m(), 1e9)
        low, high = np.quantile(reached, [0.05, 0.95], axis=0)
        return float(((true >= low - 1e-6) & (true <= high + 1e-6)).mean())

    even = look_ahead(world.site, learn(world.site, leave_out=["curves"]))
    assert inside(outlook) > inside(even) + 0.1


def test_told_evenly_tools_come_to_their_limits_at_the_same_places():
    world, _, outlook = found("slowing")
    even = outlook.evenly
    assert (outlook.wear_now_mm > even.wear_now_mm + 0.5).any()
    first, second = outlook.limit_m(), even.limit_m()
    assert np.isfinite(first).mean() == pytest.approx(np.isfinite(second).mean(), abs=0.002)
    both = np.isfinite(first) & np.isfinite(second)
    assert np.abs(first[both] - second[both]).max() < 8.0
    ahead = look(world.site, outlook)
    for edge in range(0, len(outlook.numbers), 7):
        limit = float(outlook.limit_mm[edge])
        at = np.linspace(0.0, 1.4 * limit, 9)
        assert ahead.even(edge, ahead.worn(edge, at)) == pytest.approx(at, abs=0.05)
        assert ahead.worn(edge, np.array([limit]))[0] == pytest.approx(limit, abs=0.05)
