"""The regression behind scikit-learn's contract, for people who work in notebooks."""

from __future__ import annotations

from typing import Any

import numpy as np
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted, validate_data

from .posterior import Prior, fit
from .readings import Floats, make_readings
from .states import rows_of, states

_DRAWS = 800


class WearRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """Wear of tools from the path they travelled in each unit of ground.

    Expected wear is ``X @ rates`` with positive rates; each life has a factor of its own, wear grows in random steps,
    and readings of one inspection may share an error.

    Parameters
    ----------
    error_sd_mm : float
        Standard deviation of one reading's error.
    step_mm : float
        Step readings are rounded to; with a step a reading of 0 means "less than half of it".
    rate_guess : float
        Rate believed before any reading, in the unit of y by the unit of X.
    rate_doubt : float
        Factor up and down that covers about two thirds of the doubt in it.
    random_state : int
        Seed of the draws that `predict` averages.

    Attributes
    ----------
    rate_ : (U,) rates at the posterior's mode.
    rate_std_ : (U,) relative standard deviations.
    life_sd_, wear_step_, shared_sd_ : float
        sd of the factor of a life, scale of the random steps, sd of the error an inspection shares.

    Examples
    --------
    Two units of ground; tools worn at 0.02 and 0.05 mm/km, read at two stops.

    >>> import numpy as np
    >>> from wearplan.wear import WearRegressor
    >>> rng = np.random.default_rng(3)
    >>> life = np.repeat(np.arange(30), 2)
    >>> X = np.cumsum(rng.uniform(20, 120, (30, 2, 2)), axis=1).reshape(60, 2)  # km in each unit since fitted
    >>> factor = np.repeat(rng.gamma(60, 1 / 60, 30), 2)
    >>> y = factor * (X @ [0.02, 0.05]) + rng.normal(0, 0.3, 60)
    >>> model = WearRegressor(error_sd_mm=0.3).fit(X, y, life=life)
    >>> bool(np.all(np.abs(model.rate_ / [0.02, 0.05] - 1) < 3 * model.rate_std_))
    True
    >>> mean, std = model.predict(X[1:2] * 1.5, return_std=True)  # a new tool, half as far again
    >>> own_mean, own_std = model.predict(X[1:2] * 1.5, return_std=True, life=[0])  # the tool of life 0, going on
    >>> bool(own_std[0] < std[0])
    True
    """

    def __init__(
        self, *, error_sd_mm: float = 0.5, step_mm: float = 0.0, rate_guess: float = 0.03, rate_doubt: float = 10.0,
        random_state: int = 0,
    ) -> None:  # fmt: skip
        self.error_sd_mm = error_sd_mm
        self.step_mm = step_mm
        self.rate_guess = rate_guess
        self.rate_doubt = rate_doubt
        self.random_state = random_state

    def fit(self, X: Any, y: Any, *, life: Any = None, inspection: Any = None, censored: Any = None) -> WearRegressor:
        """Learn the rates.

        Parameters
        ----------
        X : (N, U)
            Path of the tool since it was fitted, by unit of ground.
        y : (N,)
            Wear read.
        life : (N,) int, optional
            Readings with one number belong to one tool; without it each reading is a tool.
        inspection : (N,) int, optional
            Readings with one number share an error; -1 for none.
        censored : (N,) int, optional
            -1: the wear is below y; +1: above it; 0: a value.
        """
        X, y = validate_data(self, X, y, y_numeric=True, dtype=float)
        life = np.arange(len(X)) if life is None else np.asarray(life)
        numbers, index = np.unique(life, return_inverse=True)
        readings = make_readings(
            life=index, path_km=X, wear_mm=y, inspection=inspection, censored=censored, sd_mm=self.error_sd_mm,
            step_mm=self.step_mm,
        )  # fmt: skip
        held = {} if inspection is not None else {"shared": 0.0}
        units = X.shape[1]
        prior = Prior.of(np.full(units, np.log(self.rate_guess)), np.eye(units) * np.log(self.rate_doubt) ** 2, **held)
        self.posterior_ = fit(readings, prior)
        self.lives_ = {number: k for k, number in enumerate(numbers.tolist())}
        self.rate_ = np.exp(self.posterior_.mode[:units])
        self.rate_std_ = np.sqrt(np.diag(self.posterior_.covariance)[:units])
        scales = self.posterior_.scales
        self.life_sd_, self.wear_step_, self.shared_sd_ = scales["tau"], scales["theta"], scales["shared"]
        return self

    def predict(self, X: Any, *, return_std: bool = False, life: Any = None) -> Any:
        """Expected wear (N,), and its standard deviation, after the path X since fitted.

        Parameters
        ----------
        life : (N,), optional
            Numbers of lives seen in `fit`, whose own readings then count; unknown numbers are new tools.

        Returns
        -------
        (N,) mean, or (mean, std) of the wear itself, errors of reading not included.
        """
        check_is_fitted(self)
        X = validate_data(self, X, reset=False, dtype=float)
        rng = np.random.default_rng(self.random_state)
        parameters, shared = self.posterior_.draw(_DRAWS, rng)
        expected = self.posterior_.column_rates(parameters) @ np.asarray(X, float).T
        asked = (
            np.full(len(X), -1)
            if life is None
            else np.array([self.lives_.get(n, -1) for n in np.asarray(life).tolist()])
        )
        at = states(
            self.posterior_.readings, rows_of(self.posterior_.readings, asked), parameters, shared, self.posterior_
        )
        step = np.maximum(expected - at.expected, 0.0)
        theta = np.exp(parameters[:, self.posterior_.terms + 1])[:, None]
        mean = at.wear + at.factor * step
        inner: Floats = at.wear_var + 2 * step * at.covariance + step**2 * at.factor_var + theta * step
        fresh = ~np.broadcast_to(at.read, mean.shape)
        inner = np.where(fresh, inner - at.wear_var, inner)
        centre = np.asarray(mean.mean(axis=0))
        if not return_std:
            return centre
        return centre, np.sqrt(inner.mean(axis=0) + mean.var(axis=0))
