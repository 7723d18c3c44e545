"""Chances of passing a limit against numerical integration and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import gamma

from tests.plan.makers import forced_stop, make_outlook, make_site, window
from wearplan.plan.ahead.chance import exact_tail, gamma_tail, left_share, over_probability
from wearplan.plan.ahead.intervals import intervals
from wearplan.plan.ahead.tools import look


def mixture_tail(*, mean: float, sd: float, step: float, limit: float) -> float:
    """P(W > limit), W gamma with mean m k and variance step m k, k gamma with mean 1: integrated over k."""
    shape = 1.0 / sd**2

    def part(k: float) -> float:
        return float(gamma.sf(limit, mean * k / step, scale=step) * gamma.pdf(k, shape, scale=1.0 / shape))

    return quad(part, 1e-9, 1 + 12 * sd, limit=200)[0]


@pytest.mark.parametrize("sd", [0.08, 0.15, 0.3])
@pytest.mark.parametrize("step", [0.05, 0.3, 1.0])
def test_two_moments_come_near_the_whole_mixture(sd: float, step: float) -> None:
    worst = 0.0
    for mean in (8.0, 15.0, 20.0, 24.0, 28.0, 40.0):
        found = float(over_probability(mean_mm=mean, life_sd=sd, step_mm=step, limit_mm=25.0))
        worst = max(worst, abs(found - mixture_tail(mean=mean, sd=sd, step=step, limit=25.0)))
    assert worst < 0.006


def test_the_cube_root_approximation_is_close_for_shapes_over_one() -> None:
    mean = np.linspace(1.0, 60.0, 120)[:, None]
    variance = mean**2 / np.geomspace(1.0, 400.0, 60)[None, :]
    off = np.abs(
        gamma_tail(mean_mm=mean, variance_mm2=variance, room_mm=25.0)
        - exact_tail(mean_mm=mean, variance_mm2=variance, room_mm=25.0)
    )
    assert off.max() < 0.006
    assert off[:, variance[0] < mean[0] ** 2 / 4.0].max() < 0.002


def test_ends() -> None:
    assert gamma_tail(mean_mm=0.0, variance_mm2=0.0, room_mm=5.0) == 0.0
    assert gamma_tail(mean_mm=0.0, variance_mm2=0.0, room_mm=-1.0) == 1.0
    assert gamma_tail(mean_mm=3.0, variance_mm2=0.0, room_mm=5.0) == pytest.approx(0.0)
    assert gamma_tail(mean_mm=7.0, variance_mm2=0.0, room_mm=5.0) == pytest.approx(1.0)


def test_life_left_against_simulation() -> None:
    rng = np.random.default_rng(3)
    wear = rng.gamma(16.0, 1.1, 400_000)
    expected = np.maximum(25.0 - wear, 0.0).mean() / 25.0
    found = left_share(mean_mm=17.6, variance_mm2=16.0 * 1.1**2, room_mm=25.0, limit_mm=25.0)
    assert float(found) == pytest.approx(expected, abs=0.002)


def passings(rise: np.ndarray, pace: np.ndarray, wear: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """(D,) how often tools pass 32 mm on the way, each replaced as it does, from the rises (D, M) of pace 1."""
    count = np.zeros(len(rise))
    for step in rise.T:
        wear = wear + rng.gamma(np.maximum(step * pace / 0.3, 1e-9)) * 0.3
        late = wear > 32.0
        count += late
        wear = np.where(late, 0.0, wear)
        pace = np.where(late, rng.gamma(1 / 0.12**2, 0.12**2, len(pace)), pace)
    return count


def test_intervals_against_simulated_drives() -> None:
    """Chance of passing, and how often tools pass and are replaced, on drives simulated draw by draw in small steps."""
    windows = (window("a", 500.0, 500.1), window("b", 700.0, 700.1))
    free = forced_stop(0.0, 1600.0, 0.0)
    site = make_site(discs=3, gauge=1, windows=windows, end_m=1600.0, forced_stops=(free,))
    outlook = make_outlook(site, draws=400, rate_sd=0.25, mm_per_100m=6.0)
    ahead = look(site, outlook)
    nodes = np.array([300.0, 500.0, 700.0, 1600.0])
    inter = intervals(ahead, nodes)
    rng = np.random.default_rng(5)
    edge, many = 2, 20
    grid = np.arange(300.0, 1600.1, 2.0)
    potential = ahead.at(np.asarray(outlook.potential_mm)[:, edge], grid).astype(float)
    potential = np.repeat(potential, many, axis=0)
    rise = np.diff(potential, axis=1)
    fee = 18000.0 + ahead.tools[edge].price
    # The tool in place now.
    factor = np.repeat(outlook.life_factor[:, edge], many)
    start = np.repeat(outlook.wear_now_mm[:, edge], many)
    wear = start + (rng.gamma(np.maximum(rise[:, :200] * factor[:, None] / 0.3, 1e-9)) * 0.3).sum(axis=1)
    assert inter.over[2, 0, 2] == pytest.approx((wear > 25.0).mean(), abs=0.02)
    found = passings(rise, factor, start, rng).mean()
    assert found > 1.5
    assert inter.late_cost[2, 0, 3] / fee == pytest.approx(found, rel=0.02)
    # A new tool fitted at 500 m.
    factor = rng.gamma(1 / 0.12**2, 0.12**2, len(potential))
    fresh = (rng.gamma(np.maximum(rise[:, 100:200] * factor[:, None] / 0.3, 1e-9)) * 0.3).sum(axis=1)
    assert inter.over[2, 1, 2] == pytest.approx((fresh > 25.0).mean(), abs=0.02)
    assert inter.mean_wear_mm[2, 1, 2] == pytest.approx(fresh.mean(), rel=0.02)
    found = passings(rise[:, 100:], factor, 0.0 * start, rng).mean()
    assert inter.late_cost[2, 1, 3] / fee == pytest.approx(found, rel=0.02)
