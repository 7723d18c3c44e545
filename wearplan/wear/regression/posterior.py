"""The regression itself: penalised likelihood, its mode, a Laplace approximation around it, and draws."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wearplan.wear.evidence.readings import Floats, Readings

from .algebra import HYPER, Evaluation, Solver, carried_variance, expected_mm, rates, slopes_of
from .censoring import Sites, first_sites, settle, truncated

_DEFAULT_HYPER = ((np.log(0.18), 0.5), (np.log(0.25), 0.8), (np.log(0.3), 0.6), (0.0, 0.15))


@dataclass(frozen=True, kw_only=True)
class Prior:
    """Gaussian prior of the coefficients and of the log scale parameters (`HYPER`).

    A scale parameter with sd 0 is held at its mean. The defaults are judgement, no published source: a life's factor
    of about 18 % (two thirds between 11 and 30 %), wear in steps of about 0.25 mm, a shared error of about 0.3 mm,
    stated errors right within 15 %.
    """

    mean: Floats
    covariance: Floats
    hyper_mean: Floats
    hyper_sd: Floats
    smooth: tuple[int, int] = (0, 0)
    """Coefficients (from, before) that are many and each say little: their curvature is taken from the slopes of the
    readings, not from differences of the gradient."""

    @classmethod
    def flat(cls, terms: int, *, mean: float | Floats = 0.0, sd: float = 30.0, **held: float) -> Prior:
        """Almost no prior on the coefficients; ``held`` fixes scale parameters by name (0 for none)."""
        return cls.of(np.broadcast_to(np.asarray(mean, float), (terms,)), np.eye(terms) * sd**2, **held)

    @classmethod
    def of(cls, mean: Floats, covariance: Floats, **held: float) -> Prior:
        """The default prior of the scale parameters, some of them held."""
        hyper = np.array(_DEFAULT_HYPER)
        for name, value in held.items():
            # theta is a variance by wear, the others are roots of one
            least = 1e-10 if name == "theta" else 1e-5
            hyper[HYPER.index(name)] = np.log(max(value, least)), 0.0
        return cls(mean=mean, covariance=covariance, hyper_mean=hyper[:, 0], hyper_sd=hyper[:, 1])


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """Mode and curvature of the regression of one kind of tool."""

    readings: Readings
    prior: Prior
    mode: Floats
    """(K + 4,)"""
    covariance: Floats
    """(K + 4, K + 4); rows of held parameters are zero."""
    log_evidence: float
    """Laplace approximation of the log marginal likelihood."""
    at_mode: Evaluation
    sites: Sites
    shared_slope: Floats
    """(J, K + 4) how the inspections' expected errors move with the parameters."""
    likelihood_curvature: Floats
    """(P, P) negative Hessian of the log likelihood alone in the free parameters, at the mode."""
    odd: Floats
    """(N,) how far each reading lies from what all others say, in standard deviations; for a censored one the
    equivalent of the chance of its side."""
    evaluations: int

    @property
    def terms(self) -> int:
        return int(self.readings.loading.shape[1])

    @property
    def scales(self) -> dict[str, float]:
        """Scale parameters at the mode, by name."""
        return dict(zip(HYPER, np.exp(self.mode[self.terms :]).tolist(), strict=True))

    def draw(
        self, count: int, rng: np.random.Generator, *, given: tuple[slice, Floats] | None = None
    ) -> tuple[Floats, Floats]:
        """Joint draws: parameters (count, K + 4) and shared errors of the inspections (count, J).

        ``given`` names parameters with their values (count, ...): the others are drawn as they hang together with them.
        """
        covariance, centre = self.covariance, np.zeros((count, len(self.mode)))
        if given is not None:
            part, values = given
            told = self.told_by(part)
            centre = (values - self.mode[part]) @ told.T
            covariance = covariance - told @ covariance[part, part] @ told.T
        roots, vectors = np.linalg.eigh(covariance)
        root = vectors * np.sqrt(np.maximum(roots, 0.0))
        offset = centre + rng.standard_normal((count, len(self.mode))) @ root.T
        own = rng.standard_normal((count, self.readings.inspections)) @ self.at_mode.shared_root.T
        return self.mode + offset, self.at_mode.shared_mean + offset @ self.shared_slope.T + own

    def told_by(self, part: slice) -> Floats:
        """(K + 4, n) by how much the parameters move when those of ``part`` move by one."""
        inner = self.covariance[part, part]
        ridge = 1e-9 * max(float(np.trace(inner)) / max(len(inner), 1), 1e-12)
        return np.asarray(np.linalg.solve(inner + ridge * np.eye(len(inner)), self.covariance[part]).T)

    def with_marginal(self, part: slice, mean: Floats, covariance: Floats) -> Posterior:
        """The posterior once others have told more of some parameters; the rest follow as they hang together."""
        told, inner = self.told_by(part), self.covariance[part, part]
        step = told @ (mean - self.mode[part])
        step[part] = mean - self.mode[part]
        # the scales stay those the readings' own figures (`at_mode`) were worked out with
        step[self.terms :] = 0.0
        whole = self.covariance + told @ (covariance - inner) @ told.T
        whole[part, part] = covariance
        found = replace(self.at_mode, shared_mean=self.at_mode.shared_mean + self.shared_slope @ step)
        return replace(self, mode=self.mode + step, covariance=0.5 * (whole + whole.T), at_mode=found)

    def column_rates(self, parameters: Floats) -> Floats:
        """Rates of the columns (..., C) at parameters (..., K + 4)."""
        return rates(self.readings, parameters[..., : self.terms])


class _Target:
    """Log posterior density and gradient in the free parameters."""

    def __init__(self, readings: Readings, prior: Prior, start: Floats):
        self.readings, self.prior = readings, prior
        self.terms = readings.loading.shape[1]
        self.free = np.r_[np.ones(self.terms, bool), prior.hyper_sd > 0]
        self.precision = np.linalg.inv(prior.covariance)
        self.sites = first_sites(readings)
        self.full = start.copy()
        self.carried_var = np.zeros(len(readings))
        self.evaluations = 0
        hyper = np.where(prior.hyper_sd > 0, prior.hyper_sd, 1.0) ** -2.0
        whole = np.diag(np.r_[np.zeros(self.terms), hyper])
        whole[: self.terms, : self.terms] = self.precision
        self.prior_precision = whole[np.ix_(self.free, self.free)]
        """(P, P) of the free parameters."""

    def settle_carried(self, free: Floats) -> None:
        """Reckon the carried variance anew at these parameters."""
        expected = expected_mm(self.readings, self.place(free)[: self.terms])
        self.carried_var = carried_variance(self.readings, expected)

    def place(self, free: Floats) -> Floats:
        full = self.full.copy()
        full[self.free] = free
        return full

    def prior_part(self, full: Floats) -> tuple[float, Floats]:
        off = full[: self.terms] - self.prior.mean
        pull = self.precision @ off
        sd = np.where(self.prior.hyper_sd > 0, self.prior.hyper_sd, 1.0)
        hyper = np.where(self.prior.hyper_sd > 0, (full[self.terms :] - self.prior.hyper_mean) / sd, 0.0)
        return -0.5 * float(off @ pull + hyper @ hyper), -np.r_[pull, hyper / sd]

    def __call__(self, free: Floats, *, sweeps: int = 0) -> tuple[float, Floats, Evaluation]:
        full = self.place(free)
        found, value, sites = settle(self.readings, full, self.sites, self.carried_var, sweeps=sweeps)
        self.last_sites = sites
        self.evaluations += 1
        if sweeps == 0:
            value = found.log_density  # sites held: the plain density is what the gradient belongs to
        prior_value, prior_gradient = self.prior_part(full)
        return value + prior_value, (found.gradient + prior_gradient)[self.free], found


def start_from(readings: Readings, prior: Prior) -> Floats:
    """A first guess: the prior, with the whole level of the rates moved to where total wear meets total path."""
    coefficients = prior.mean.copy()
    plain = readings.censored == 0
    if plain.any() and readings.log_rate:
        expected = float((readings.path_km[plain] @ rates(readings, coefficients)).sum())
        total = float(np.minimum(readings.wear_mm[plain], 300.0).sum())
        if expected > 0 and total > 0:
            # towards the data by as much as the prior allows to the level
            level = np.sqrt(np.mean(np.diag(prior.covariance)))
            coefficients = coefficients + np.clip(np.log(total / expected), -2 * level, 2 * level)
    return np.asarray(np.r_[coefficients, prior.hyper_mean])


def fit(
    readings: Readings, prior: Prior, *, start: Floats | None = None, rounds: int = 8, screen: bool = False
) -> Posterior:
    """Mode and Laplace approximation.

    Censored readings are settled by expectation propagation, the parameters climbed by L-BFGS with the sites held, in
    turns; Newton steps with the differenced analytic gradient finish both together.

    Parameters
    ----------
    start : (K + 4,), optional
        Where to start, such as the mode of an earlier fit.
    screen : bool
        Give less weight to readings that lie far off what all others say (see `outlying`).
    """
    return refine(rough(readings, prior, start=start, rounds=rounds, screen=screen))


@dataclass(frozen=True, kw_only=True)
class Rough:
    """A mode climbed to, without its curvature."""

    readings: Readings
    prior: Prior
    mode: Floats
    sites: Sites
    at_mode: Evaluation
    evaluations: int
    height: float = float("nan")
    """Log posterior density there, bounds and prior included."""


def rough(
    readings: Readings, prior: Prior, *, start: Floats | None = None, rounds: int = 8, screen: bool = False
) -> Rough:
    """The climb of `fit` alone."""
    target = _Target(readings, prior, start_from(readings, prior) if start is None else start)
    held = ~target.free[target.terms :]
    target.full[target.terms :][held] = prior.hyper_mean[held]
    free = _climb(target, target.full[target.free], rounds)
    for _ in range(4 if screen else 0):
        _, _, found = target(free, sweeps=6)
        target.sites = target.last_sites
        weight = outlying(target.readings, found, target.sites, target.place(free))
        if np.allclose(weight, target.readings.weight):
            break
        target.readings = replace(target.readings, weight=weight)
        free = _climb(target, free, 3)
    return _roughly(target, free)


def climb_on(before: Rough, readings: Readings, prior: Prior, start: Floats) -> Rough:
    """The climb with more coefficients, from a mode found with fewer: the same readings, their weights and sites.

    The steps are taken in coordinates in which the slopes of the readings make all directions alike.
    """
    target = _Target(replace(readings, weight=before.readings.weight), prior, start.copy())
    target.sites = before.sites
    return _roughly(target, _climb_evenly(target, target.full[target.free], before))


def _roughly(target: _Target, free: Floats) -> Rough:
    height, _, found = target(free, sweeps=4)
    target.sites = target.last_sites
    return Rough(
        readings=target.readings, prior=target.prior, mode=target.place(free), sites=target.sites, at_mode=found,
        evaluations=target.evaluations, height=height,
    )  # fmt: skip


def refine(found_roughly: Rough) -> Posterior:
    """Mode and curvature by Newton steps, from a climbed mode."""
    target = _Target(found_roughly.readings, found_roughly.prior, found_roughly.mode.copy())
    target.sites, target.evaluations = found_roughly.sites, found_roughly.evaluations
    free = found_roughly.mode[target.free]
    target.settle_carried(free)
    value, gradient, found, hessian, slope = _curvature(target, free)
    likelihood = -hessian - target.prior_precision
    free, value, found, likelihood, slope = _finish(target, free, value, gradient, found, likelihood, slope)
    return _posterior(target, free, value, found, likelihood, slope)


def mode_from(readings: Readings, prior: Prior, start: Floats) -> Floats:
    """The mode alone (K + 4,), climbed from a start nearby: no screening, no curvature."""
    target = _Target(readings, prior, start.copy())
    return target.place(_climb(target, target.full[target.free], 3))


def with_prior(posterior: Posterior, prior: Prior) -> Posterior:
    """The posterior under another prior, by Newton steps from the old mode with the likelihood's curvature kept.

    Meant for a prior that differs where the readings say little; scale parameters held before stay held.
    """
    target = _Target(posterior.readings, prior, posterior.mode.copy())
    target.sites = posterior.sites
    target.carried_var = carried_variance(posterior.readings, posterior.at_mode.expected_mm)
    free = posterior.mode[target.free]
    value, gradient, found = target(free, sweeps=2)
    likelihood, slope = posterior.likelihood_curvature, posterior.shared_slope[:, target.free]
    free, value, found, likelihood, slope = _finish(
        target, free, value, gradient, found, likelihood, slope, steps=12, renew=False
    )
    return _posterior(target, free, value, found, likelihood, slope)


def oddness(readings: Readings, found: Evaluation, sites: Sites) -> Floats:
    """Left-out residual of every reading in standard deviations (N,).

    For a censored reading: minus the normal quantile of the chance of the side it lies on, where that chance is below
    a half.
    """
    from scipy.special import ndtri_exp

    odd = found.alpha / np.sqrt(found.inverse_diagonal)
    rows = readings.bounded
    if len(rows):
        left_out = 1.0 / found.inverse_diagonal[rows]
        mean = sites.values[rows] - found.alpha[rows] * left_out
        side = readings.censored[rows].astype(float)
        log_p, _, _ = truncated(mean, np.maximum(left_out - sites.variance[rows], 1e-9), readings.wear_mm[rows], side)
        odd[rows] = side * np.maximum(-ndtri_exp(log_p), 0.0)
    return odd


def outlying(readings: Readings, found: Evaluation, sites: Sites, parameters: Floats, *, limit: float = 3.5) -> Floats:
    """Weights (N,) after giving less to the oddest reading of each life beyond ``limit`` standard deviations.

    One reading a life and pass: a wrong reading makes its neighbours look wrong. The error variance grows until the
    reading lies two standard deviations off; nothing is dropped.
    """
    odd = oddness(readings, found, sites)
    weight = readings.weight.copy()
    if not len(odd):
        return weight
    worst = np.zeros(int(readings.life.max()) + 1)
    np.maximum.at(worst, readings.life, np.abs(odd))
    rows = np.flatnonzero((np.abs(odd) > limit) & (np.abs(odd) >= worst[readings.life]))
    scale2 = np.exp(2.0 * parameters[-1])
    noise = (scale2 * readings.error_var[rows] + readings.fixed_var[rows]) / weight[rows]
    total = 1.0 / found.inverse_diagonal[rows] - np.where(readings.censored[rows] != 0, sites.variance[rows], 0.0)
    wanted = total * (np.abs(odd[rows]) / 2.0) ** 2
    raised = noise + np.maximum(wanted - total, noise)
    weight[rows] = np.maximum(weight[rows] * noise / np.maximum(raised, 1e-9), 1e-7)
    return weight


def _climb(target: _Target, free: Floats, rounds: int) -> Floats:
    """L-BFGS with the sites held, sites settled anew, until both rest."""
    from scipy.optimize import minimize

    prior, terms = target.prior, target.terms
    # where a long line search may not stray: the numbers overflow there, and nothing is to be found
    centre = np.r_[prior.mean, prior.hyper_mean]
    reach = np.r_[8.0 * np.sqrt(np.diag(prior.covariance)), 5.0 * prior.hyper_sd]
    if target.readings.log_rate:
        reach[:terms] = np.minimum(reach[:terms], 12.0)
    low, high = (centre - reach)[target.free], (centre + reach)[target.free]
    free = np.clip(free, low, high)

    def objective(x: Floats) -> tuple[float, Floats]:
        try:
            value, gradient, _ = target(x)
        except np.linalg.LinAlgError:
            # a step into numbers no covariance can hold; the line search turns back
            return 1e300, np.zeros_like(x)
        return -value, -gradient

    censored = bool(len(target.readings.bounded))
    for turn in range(rounds if censored else 2):
        target.settle_carried(free)
        target(free, sweeps=4 if turn else 10)
        target.sites = target.last_sites
        limit = 12 if censored and turn < 2 else 60
        options = {"maxiter": limit, "ftol": 1e-8}
        result = minimize(
            objective, free, jac=True, method="L-BFGS-B", bounds=list(zip(low, high, strict=True)), options=options
        )
        moved, free = float(np.max(np.abs(result.x - free), initial=0.0)), result.x
        if moved < 0.02:
            break
    return free


def _climb_evenly(target: _Target, free: Floats, before: Rough) -> Floats:
    from scipy.optimize import minimize

    target.settle_carried(free)
    count = before.readings.life[-1] + 1.0 if len(before.readings) else 1.0
    # about what the readings tell of the logs of the four scales: it only sets the length of the first steps
    about = np.array([0.5 * count, 0.3 * len(before.readings), target.readings.inspections, 0.3 * len(before.readings)])
    curvature = np.diag(np.r_[np.zeros(target.terms), about])[np.ix_(target.free, target.free)] + target.prior_precision
    gram = _by_slopes(target, target.place(free), slice(0, target.terms))[1]
    curvature[: target.terms, : target.terms] += gram
    root = np.linalg.inv(np.linalg.cholesky(curvature)).T

    for turn in range(3 if len(target.readings.bounded) else 1):
        target.settle_carried(free)
        target(free, sweeps=4)
        target.sites = target.last_sites
        centre = free

        def objective(z: Floats, centre: Floats = centre) -> tuple[float, Floats]:
            try:
                value, gradient, _ = target(centre + root @ z)
            except np.linalg.LinAlgError:
                return 1e300, np.zeros_like(z)
            return (-value, -root.T @ gradient) if np.isfinite(value) else (1e300, np.zeros_like(z))

        result = minimize(
            objective, np.zeros(len(free)), jac=True, method="L-BFGS-B", options={"maxiter": 30, "ftol": 1e-8}
        )
        free = centre + root @ result.x
        if turn and float(np.max(np.abs(result.x))) < 0.02:
            break
    return free


def _by_slopes(target: _Target, full: Floats, part: slice) -> tuple[Floats, Floats]:
    """S^-1 J (N, n) and J' S^-1 J of the slopes J of the expected readings by some coefficients."""
    solver = Solver(target.readings, full, target.sites.variance, target.carried_var)
    slopes = slopes_of(target.readings, solver.coefficients, part)
    solved = solver.solve(slopes)
    return solved, slopes.T @ solved


def _finish(target, free, value, gradient, found, likelihood, slope, *, steps: int = 3, renew: bool = True):  # type: ignore[no-untyped-def]
    """Newton steps with the full gradient until nothing is gained."""
    for _ in range(steps):
        step = _invert(likelihood + target.prior_precision, target) @ gradient
        # the linear models of published checks are asked for more digits than a rate ever has
        if float(gradient @ step) < (1e-3 if target.readings.log_rate else 1e-15):
            break
        step *= min(1.0, 0.5 / max(float(np.max(np.abs(step))), 1e-9))
        tried, tried_gradient, tried_found = target(free + step, sweeps=6)
        if tried < value - 1e-6:
            break
        target.sites = target.last_sites
        big = float(np.max(np.abs(step))) > 0.05
        free, value, gradient, found = free + step, tried, tried_gradient, tried_found
        if big and renew:
            value, gradient, found, hessian, slope = _curvature(target, free)
            likelihood = -hessian - target.prior_precision
    return free, value, found, likelihood, slope


def _posterior(
    target: _Target, free: Floats, value: float, found: Evaluation, likelihood: Floats, slope: Floats
) -> Posterior:
    readings, prior = target.readings, target.prior
    covariance = _invert(likelihood + target.prior_precision, target)
    full = target.place(free)
    wide = np.zeros((len(full), len(full)))
    wide[np.ix_(target.free, target.free)] = covariance
    shared_slope = np.zeros((readings.inspections, len(full)))
    shared_slope[:, target.free] = slope
    evidence = value + 0.5 * np.linalg.slogdet(covariance)[1] - 0.5 * np.linalg.slogdet(prior.covariance)[1]
    evidence -= float(np.log(prior.hyper_sd[prior.hyper_sd > 0]).sum())
    return Posterior(
        readings=readings, prior=prior, mode=full, covariance=wide, log_evidence=float(evidence), at_mode=found,
        sites=target.sites, shared_slope=shared_slope, likelihood_curvature=likelihood,
        odd=oddness(readings, found, target.sites), evaluations=target.evaluations,
    )  # fmt: skip


def _curvature(target: _Target, free: Floats) -> tuple[float, Floats, Evaluation, Floats, Floats]:
    """Value, gradient, evaluation, Hessian (P, P) and slope of the shared errors (J, P) by central differences."""
    _, _, _ = target(free, sweeps=12)
    target.sites = target.last_sites
    value, gradient, found = target(free, sweeps=2 if len(target.readings.bounded) else 0)
    size = len(free)
    hessian, slope = np.zeros((size, size)), np.zeros((target.readings.inspections, size))
    sweeps = 4 if len(target.readings.bounded) else 0
    smooth = np.zeros(size, bool)
    smooth[slice(*target.prior.smooth)] = True
    if smooth.any():
        part = slice(*target.prior.smooth)
        full = target.place(free)
        solved, gram = _by_slopes(target, full, part)
        hessian[part, part] = -gram - target.prior_precision[part, part]
        shared = np.zeros((target.readings.inspections + 1, gram.shape[1]))
        load = target.readings.load
        np.add.at(shared, target.readings.inspection, solved if load is None else load[:, None] * solved)
        slope[:, part] = -np.exp(2.0 * full[target.terms + HYPER.index("shared")]) * shared[:-1]
    for k in np.flatnonzero(~smooth):
        width = 1e-3 if target.readings.log_rate else 1e-4 * max(1.0, abs(free[k]))
        ahead, behind = free.copy(), free.copy()
        ahead[k] += width
        behind[k] -= width
        _, up, found_up = target(ahead, sweeps=sweeps)
        _, down, found_down = target(behind, sweeps=sweeps)
        hessian[k] = (up - down) / (2 * width)
        hessian[smooth, k] = hessian[k, smooth]
        slope[:, k] = (found_up.shared_mean - found_down.shared_mean) / (2 * width)
    return value, gradient, found, 0.5 * (hessian + hessian.T), slope


def _invert(curvature: Floats, target: _Target) -> Floats:
    """Inverse of the curvature, no direction taken to be less certain than the prior makes it.

    The prior's own precision is a floor: where the likelihood is locally convex the quadratic would otherwise run away.
    """
    root = np.linalg.cholesky(target.prior_precision)
    inner = np.linalg.solve(root, np.linalg.solve(root, curvature).T).T
    values, vectors = np.linalg.eigh(0.5 * (inner + inner.T))
    values = np.maximum(values, 1.0)
    back = np.linalg.solve(root.T, vectors)
    return np.asarray((back / values) @ back.T)
