"""The regression behind scikit-learn's contract, for people who work in notebooks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted, validate_data

from wearplan.wear.evidence.readings import Floats, make_readings
from wearplan.wear.regression.posterior import Prior, fit
from wearplan.wear.regression.states import trajectory

if TYPE_CHECKING:
    from .results import Fit

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
    prior, loading : optional
        In place of the two guesses: a prior of K coefficients, and what each (C, K) adds to the log rate of a column of
        X. `table` gives those of a site.
    screen : bool
        Give less weight to readings that lie far off what all others say, as the program does.

    Attributes
    ----------
    rate_ : (C,) rates of the columns at the posterior's mode.
    rate_std_ : (C,) relative standard deviations.
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
        random_state: int = 0, prior: Prior | None = None, loading: Any = None, screen: bool = False,
    ) -> None:  # fmt: skip
        self.error_sd_mm = error_sd_mm
        self.step_mm = step_mm
        self.rate_guess = rate_guess
        self.rate_doubt = rate_doubt
        self.random_state = random_state
        self.prior = prior
        self.loading = loading
        self.screen = screen

    def __sklearn_tags__(self) -> Any:
        tags = super().__sklearn_tags__()
        tags.input_tags.positive_only = True
        # wear that may be negative, or that does not grow with the path, is none
        tags.regressor_tags.poor_score = True
        return tags

    def fit(
        self, X: Any, y: Any, *, life: Any = None, inspection: Any = None, censored: Any = None, sd_mm: Any = None,
        step_mm: Any = None, weight: Any = None, path_rel_sd: Any = 0.0, start_sd_mm: Any = 0.0,
    ) -> WearRegressor:  # fmt: skip
        """Learn the rates.

        Parameters
        ----------
        X : (N, C)
            Path of the tool since it was fitted, by unit of ground.
        y : (N,)
            Wear read.
        life : (N,) int or str, optional
            Readings with one name belong to one tool; without it each reading is a tool.
        inspection : (N,) int, optional
            Readings with one number share an error; -1 for none.
        censored : (N,) int, optional
            -1: the wear is below y; +1: above it; 0: a value.
        sd_mm, step_mm, weight, path_rel_sd, start_sd_mm : scalar or (N,), optional
            As `wearplan.wear.evidence.readings.make_readings` takes them, in place of what was given at the start.

        Raises
        ------
        ValueError
            For negative paths, lives without a name, or a ``censored`` other than -1, 0 and 1.
        """
        X, y = validate_data(self, X, y, y_numeric=True, dtype=float)
        _not_negative(X)
        life = np.arange(len(X)) if life is None else _lives(life, len(X))
        numbers, index = np.unique(life, return_inverse=True)
        readings = make_readings(
            life=index, path_km=X, wear_mm=y, inspection=_whole("inspection", inspection, len(X)),
            censored=_sides(censored, len(X)), sd_mm=self.error_sd_mm if sd_mm is None else sd_mm,
            step_mm=self.step_mm if step_mm is None else step_mm, weight=1.0 if weight is None else weight,
            path_rel_sd=path_rel_sd, start_sd_mm=start_sd_mm, loading=self.loading,
        )  # fmt: skip
        prior = self.prior
        if prior is None:
            held = {} if inspection is not None else {"shared": 0.0}
            units = X.shape[1]
            doubt = np.eye(units) * np.log(self.rate_doubt) ** 2
            prior = Prior.of(np.full(units, np.log(self.rate_guess)), doubt, **held)
        self.posterior_ = fit(readings, prior, screen=self.screen)
        self.lives_ = {number: k for k, number in enumerate(numbers.tolist())}
        loading, terms = readings.loading, self.posterior_.terms
        self.rate_ = self.posterior_.column_rates(self.posterior_.mode)
        among = self.posterior_.covariance[:terms, :terms]
        self.rate_std_ = np.sqrt(np.einsum("ck,kl,cl->c", loading, among, loading))
        scales = self.posterior_.scales
        self.life_sd_, self.wear_step_, self.shared_sd_ = scales["tau"], scales["theta"], scales["shared"]
        return self

    def predict(self, X: Any, *, return_std: bool = False, life: Any = None) -> Any:
        """Expected wear (N,), and its standard deviation, after the path X since fitted.

        Parameters
        ----------
        life : (N,), optional
            Names of lives seen in `fit`, whose own readings then count, before and after X; unknown names are new
            tools.

        Returns
        -------
        (N,) mean, or (mean, std) of the wear itself, errors of reading not included.

        Notes
        -----
        Given the parameters, the wear of a life along its path is a Gaussian process of mean m and covariance
        ``tau² m m' + theta min(m, m')``; what is told of X is its mean and variance given the readings (Rasmussen &
        Williams 2006, eq. 2.25 and 2.26), averaged over draws of the parameters.
        """
        check_is_fitted(self)
        X = validate_data(self, X, reset=False, dtype=float)
        _not_negative(X)
        posterior = self.posterior_
        rng = np.random.default_rng(self.random_state)
        parameters, shared = posterior.draw(_DRAWS, rng)
        rate = posterior.column_rates(parameters)
        expected = rate @ np.asarray(X, float).T
        tau2, theta = np.exp(parameters[:, posterior.terms : posterior.terms + 2] * [2.0, 1.0]).T[:, :, None]
        mean, variance = expected.copy(), tau2 * expected**2 + theta * expected
        if life is not None:
            asked = np.array([self.lives_.get(name, -1) for name in _lives(life, len(X)).tolist()])
            for each in np.unique(asked[asked >= 0]):
                here = asked == each
                mean[:, here], variance[:, here] = trajectory(
                    posterior, np.flatnonzero(posterior.readings.life == each), parameters, shared, expected[:, here]
                )
        centre = np.asarray(np.maximum(mean, 0.0).mean(axis=0))
        if not return_std:
            return centre
        return centre, np.sqrt(variance.mean(axis=0) + mean.var(axis=0))


def _not_negative(X: Floats) -> None:
    if (X < 0).any():
        raise ValueError("Negative values in data passed to WearRegressor: X is path travelled, zero or more")


def _lives(life: Any, count: int) -> Any:
    names = np.asarray(life)
    if names.shape != (count,):
        raise ValueError(f"life: one name a reading is needed, {count} in all; found shape {names.shape}")
    if names.dtype.kind == "f" and not np.isfinite(names).all():
        raise ValueError("life: a reading without a life (NaN); number it, or leave life out")
    if names.dtype.kind == "O" and any(name is None or name != name for name in names.tolist()):
        raise ValueError("life: a reading without a life (None or NaN); name it, or leave life out")
    return names


def _whole(what: str, numbers: Any, count: int) -> Any:
    if numbers is None:
        return None
    found = np.asarray(numbers)
    if found.shape != (count,):
        raise ValueError(f"{what}: one number a reading is needed, {count} in all; found shape {found.shape}")
    if found.dtype.kind not in "iub" and not (found.dtype.kind == "f" and np.array_equal(found, np.round(found))):
        raise ValueError(f"{what}: whole numbers are needed")
    return found.astype(np.int64)


def _sides(censored: Any, count: int) -> Any:
    sides = _whole("censored", censored, count)
    if sides is not None and not np.isin(sides, (-1, 0, 1)).all():
        raise ValueError("censored: -1 (the wear is below y), 0 (a value) or 1 (above y)")
    return sides


def table(fit: Fit, kind: str) -> tuple[WearRegressor, Floats, Floats, dict[str, Any]]:
    """What the program learnt a kind from, for a notebook: ``model, X, y, more``; ``model.fit(X, y, **more)`` is its
    regression as far as it goes without the effect of stretches, the doubt in boundaries and what units tell of one
    another.

    X has a column for every zone and unit (and level of further factors), zone by zone. Where a curve of wear by its
    level was taken, y is even wear (see `curve`), and the error a stop shares is taken to count alike in all readings.
    """
    from wearplan.wear.regression.kind import prior_for

    one = fit.by_kind[kind]
    readings = one.gathered.readings
    model = WearRegressor(
        prior=prior_for(one.design, one.plain_belief), loading=one.design.loading, screen=True
    )  # fmt: skip
    lives = np.array([life.id for life, _ in one.gathered.sources])
    columns = len(one.design.loading)
    paths = np.asarray(readings.path_km @ np.repeat(np.eye(columns), max(one.pieces, 1), axis=0))
    more = {
        "life": lives, "inspection": readings.inspection, "censored": readings.censored,
        "sd_mm": np.sqrt(readings.error_var), "step_mm": np.sqrt(12.0 * readings.fixed_var),
        "path_rel_sd": readings.path_rel_sd, "start_sd_mm": np.sqrt(readings.start_var),
    }  # fmt: skip
    return model, paths, readings.wear_mm, more
