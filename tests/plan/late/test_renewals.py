"""The reference of renewal theory against closed forms, so that it may judge the plan."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.plan.late.renewals import renewals, weibull


def test_closed_forms() -> None:
    """Exponential lives: M(t) = t; sums of two exponentials: t / 2 - (1 - exp(-2 t)) / 4 (Cox 1962, Renewal Theory)."""
    t, mean = renewals(lambda x: -np.expm1(-x), 3.0, steps=1500)
    assert mean == pytest.approx(t, abs=2e-6)
    t, mean = renewals(lambda x: 1.0 - (1.0 + x) * np.exp(-x), 4.0, steps=1500)
    assert mean == pytest.approx(t / 2.0 - (1.0 - np.exp(-2.0 * t)) / 4.0, abs=2e-6)


def test_weibull_against_drawn_lives() -> None:
    """Shape 2 at one and two mean lives, against 200,000 drawn sums of lives."""
    scale = 1.0 / math.gamma(1.5)
    t, mean = renewals(weibull(2.0, scale), 2.0, steps=1500)
    ends = np.cumsum(scale * np.random.default_rng(7).weibull(2.0, (200_000, 12)), axis=1)
    for at in (1.0, 2.0):
        assert np.interp(at, t, mean) == pytest.approx((ends <= at).sum(axis=1).mean(), abs=0.006)
