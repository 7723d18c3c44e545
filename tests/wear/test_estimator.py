"""The estimator keeps scikit-learn's contract, and its worked example runs."""

import doctest

import numpy as np
from sklearn.base import clone
from sklearn.model_selection import GroupKFold, cross_val_predict

import wearplan.wear.estimator as module
from wearplan.wear import WearRegressor


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
