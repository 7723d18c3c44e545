"""The effect of the ground by stretch: kriging in its linear core, found where it is, about nothing where it is not."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.simulate.seeds import TUNING_WORLDS
from wearplan.wear import learn, look_ahead
from wearplan.wear.evidence.readings import make_readings
from wearplan.wear.regression.ground_effect import REACH_M, GroundEffect, Warp, correlation, pieces_of
from wearplan.wear.regression.posterior import Prior, fit


def test_the_linear_core_is_kriging():
    # reference: scikit-learn's GaussianProcessRegressor, exponential covariance (Matern 1/2) of the same reach
    kernels = pytest.importorskip("sklearn.gaussian_process.kernels")
    from sklearn.gaussian_process import GaussianProcessRegressor

    rng = np.random.default_rng(4)
    at, noise, sd = np.sort(rng.uniform(0.0, 400.0, 12)), 0.2, 0.3
    values = rng.normal(0.0, 0.4, 12)
    kernel = kernels.ConstantKernel(sd**2) * kernels.Matern(length_scale=REACH_M, nu=0.5)
    reference = GaussianProcessRegressor(kernel, alpha=noise**2, optimizer=None).fit(at[:, None], values)
    mean, covariance = reference.predict(at[:, None], return_cov=True)
    prior = Prior.of(
        np.zeros(12), sd**2 * np.exp(-np.abs(at[:, None] - at) / REACH_M), tau=0.0, theta=0.0, shared=0.0, scale=1.0
    )
    readings = make_readings(
        life=np.arange(12), path_km=np.eye(12), wear_mm=values, sd_mm=noise, log_rate=False, proportional=False
    )
    found = fit(readings, replace(prior, smooth=(0, 12)))
    assert found.mode[:12] == pytest.approx(mean, abs=1e-6)
    assert found.covariance[:12, :12] == pytest.approx(covariance, abs=1e-6)


def test_correlation_of_means_over_pieces():
    # reference: the mean of the exponential covariance over a fine grid of both pieces
    cuts, other = np.array([0.0, 30.0, 110.0, 118.0]), np.array([118.0, 138.0, 158.0])
    fine = lambda low, high: low + (high - low) * (np.arange(1500) + 0.5) / 1500  # noqa: E731
    for one, two in ((cuts, cuts), (other, cuts)):
        for i in range(len(one) - 1):
            for j in range(len(two) - 1):
                a, b = fine(one[i], one[i + 1]), fine(two[j], two[j + 1])
                mean = np.exp(-np.abs(a[:, None] - b) / REACH_M).mean()
                assert correlation(one, two)[i, j] == pytest.approx(mean, abs=2e-5)


def test_what_is_drawn_ahead_has_mean_one_and_goes_on_from_the_last_stretch():
    weights = np.zeros(22)
    weights[8] = 1.0
    before = GroundEffect.prior(np.array([0.0, 50.0, 100.0, 150.0]), 0.21, weights, 9.0)
    rng = np.random.default_rng(1)
    edges = np.linspace(150.0, 450.0, 16)
    assert before.ahead(before.draw(20_000, rng), edges, rng).mean(axis=0) == pytest.approx(1.0, abs=0.01)
    hard = before.known(np.array([0.0, 0.0, 0.4]), 1e-4 * np.eye(3))
    ahead = hard.ahead(hard.draw(20_000, rng), edges, rng).mean(axis=0)
    assert ahead[0] > 1.2
    assert np.all(np.diff(ahead)[:5] < 0.01)
    assert ahead[-1] == pytest.approx(1.0, abs=0.03)


def test_warped_metres_add_up():
    warp = Warp(np.array([100.0, 120.0, 140.0]), np.array([[1.0, 1.0], [2.0, 0.5]]))
    points = np.broadcast_to(np.array([90.0, 100.0, 110.0, 130.0, 160.0]), (2, 5))
    assert warp.metres(points) == pytest.approx(np.array([[0, 0, 10, 30, 60], [0, 0, 20, 45, 60]]))


@cache
def learnt(name: str, k: int):
    case = TUNING_WORLDS[name][k]
    world = case.world()
    return world, learn(world.site)


def test_ground_that_varies_is_found_and_named():
    world, fit_ = learnt("steps of 60 m", 2)
    assert fit_.ground is not None
    assert 0.12 < fit_.ground.sd < 0.45
    hidden, edges = world.truth.run.blueprint.hidden_factor, world.truth.run.blueprint.ring_edges_m
    middle = 0.5 * (edges[1:] + edges[:-1])
    inside = []
    for stretch in fit_.stretches:
        true = hidden[(middle > stretch.from_m) & (middle < stretch.to_m)].mean()
        inside.append(stretch.times.p05 <= true <= stretch.times.p95)
    assert np.mean(inside) > 0.7
    assert any(stretch.named for stretch in fit_.stretches)
    assert any(remark.startswith("stretch ") for remark in fit_.remarks)


def test_ground_that_does_not_vary_has_next_to_no_effect_and_names_nothing():
    _, fit_ = learnt("as modelled", 2)
    assert fit_.ground is not None
    assert fit_.ground.sd < 0.12
    assert not any(stretch.named for stretch in fit_.stretches)


def test_the_effect_ahead_is_shared_by_all_tools():
    world, fit_ = learnt("steps of 60 m", 2)
    with_it = look_ahead(world.site, fit_, draws=400).potential_mm[:, :, -1]
    places = np.argsort(with_it.mean(axis=0))[[5, 10, 20]]
    rank = np.corrcoef(with_it[:, places].T)
    assert rank[np.triu_indices(3, 1)].min() > 0.3


def test_one_stop_or_one_stretch_tells_nothing_of_stretches():
    world, _ = learnt("steps of 60 m", 2)
    first = replace(world.site, inspections=world.site.inspections[:1])
    assert len(pieces_of(first, 60.0)) >= 2
    early = learn(world.site, as_of=world.site.inspections[0].id)
    assert early.ground is None or early.ground.sd < 0.5
    assert np.isfinite(look_ahead(early.site, early, draws=50).wear_now_mm).all()


def test_a_large_fit_in_sparse_arrays_is_the_same(monkeypatch):
    world, dense = learnt("as modelled", 1)
    monkeypatch.setattr("wearplan.wear.regression.ground_effect.DENSE", 1)
    thin = learn(world.site)
    for one, other in zip(dense.rates, thin.rates, strict=True):
        assert other.mm_per_km.p50 == pytest.approx(one.mm_per_km.p50, rel=1e-3)
    now = look_ahead(world.site, thin, draws=100).wear_now_mm
    assert now == pytest.approx(look_ahead(world.site, dense, draws=100).wear_now_mm, rel=1e-2, abs=1e-2)
