"""The estimator keeps scikit-learn's contract, and its worked example runs."""

import doctest

import numpy as np
import pytest
from sklearn.base import clone
from sklearn.model_selection import GroupKFold, cross_val_predict
from sklearn.utils.estimator_checks import check_estimator

import wearplan.wear.estimator as module
from tests.simulate import World
from wearplan import history
from wearplan.wear import WearRegressor, learn
from wearplan.wear.estimator import table
from wearplan.wear.findings.oddities import coarse_steps
from wearplan.wear.fit import learn_plain
from wearplan.wear.regression.posterior import refine


def drive(seed: int, tools: int = 40):
    rng = np.random.default_rng(seed)
    life = np.repeat(np.arange(tools), 3)
    path = np.cumsum(rng.uniform(20, 120, (tools, 3, 2)), axis=1).reshape(-1, 2)
    wear = np.repeat(rng.gamma(60, 1 / 60, tools), 3) * (path @ [0.02, 0.05]) + rng.normal(0, 0.3, 3 * tools)
    return path, wear, life


def test_worked_example():
    assert doctest.testmod(module).failed == 0


def test_clone_params_and_grouped_split():
    path, wear, life = drive(1)
    model = WearRegressor(error_sd_mm=0.3)
    copy = clone(model)
    assert copy.get_params() == model.get_params()
    predicted = cross_val_predict(copy, path, wear, groups=life, cv=GroupKFold(4))
    assert np.sqrt(np.mean((predicted - wear) ** 2)) < 0.35 * wear.std()


def test_rates_lie_in_their_bands():
    inside = []
    for seed in range(12):
        path, wear, life = drive(seed)
        model = WearRegressor(error_sd_mm=0.3).fit(path, wear, life=life)
        inside += list(np.abs(np.log(model.rate_ / [0.02, 0.05])) < 1.645 * model.rate_std_)
    assert 0.75 <= np.mean(inside) <= 1.0


def test_one_reading_is_enough_to_answer():
    model = WearRegressor().fit([[100.0, 0.0]], [4.0])
    mean, std = model.predict([[100.0, 0.0], [0.0, 100.0]], return_std=True)
    assert 1.0 < mean[0] < 8.0
    assert std[1] > std[0]


def test_scikit_learns_own_checks():
    found = check_estimator(WearRegressor(), on_fail=None)
    assert [each["check_name"] for each in found if each["status"] == "failed"] == []
    assert sum(each["status"] == "passed" for each in found) > 40


def test_wear_at_any_path_of_a_life_already_read():
    path, wear, life = drive(2)
    model = WearRegressor(error_sd_mm=0.3).fit(path, wear, life=life)
    own = model.predict(path, life=life)
    assert 1.0 - np.mean((own - wear) ** 2) / wear.var() > 0.99
    # between two readings it lies between them, and is known better than before the first
    middle = 0.5 * (path[0::3] + path[1::3])
    between, sd = model.predict(middle, life=life[0::3], return_std=True)
    assert np.mean((between > own[0::3] - 0.3) & (between < own[1::3] + 0.3)) > 0.95
    assert np.all(sd < model.predict(middle, return_std=True)[1])
    assert np.abs(model.predict(0.0 * path, life=life)).max() < 1e-6
    # further on, the factor of its own readings goes on with it
    ratio = model.predict(2.0 * path[2::3], life=life[2::3]) / own[2::3]
    assert np.all((ratio > 1.7) & (ratio < 2.3))


def test_what_makes_no_sense_is_refused():
    path, wear, life = drive(3)
    for change, words in (
        ({"X": -path}, "Negative values"),
        ({"life": np.where(life == 3, np.nan, life)}, "without a life"),
        ({"life": [None, *life[1:]]}, "without a life"),
        ({"life": life[:5]}, "one name a reading"),
        ({"censored": np.full(len(wear), 2)}, "censored: -1"),
        ({"censored": np.full(len(wear), 0.5)}, "whole numbers"),
        ({"inspection": np.arange(3)}, "one number a reading"),
    ):
        with pytest.raises(ValueError, match=words):
            WearRegressor().fit(**({"X": path, "y": wear, "life": life} | change))
    with pytest.raises(ValueError, match="Negative values"):
        WearRegressor().fit(path, wear, life=life).predict(-path)


def test_a_notebook_and_the_program_agree_to_the_digit():
    site = World(31, places=40, length_m=900.0).site
    fit = learn(site, checks=False)
    model, path, wear, more = table(fit, "disc")
    found = model.fit(path, wear, **more).posterior_
    rings = history.clean_rings(site)
    exposure = history.measure_exposure(site, rings)
    lives = [life for life in history.lives(site, exposure) if life.kind == "disc"]
    steps = {name: found[0] for name, found in coarse_steps(site).items()}
    program = refine(learn_plain(site, "disc", lives, fit.units, None, steps, rings, exposure).rough)
    assert np.allclose(found.mode, program.mode, rtol=0.0, atol=1e-9)
    assert np.allclose(found.covariance, program.covariance, rtol=1e-6, atol=1e-12)
