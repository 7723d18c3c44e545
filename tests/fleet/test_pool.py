"""Pooling against published results: Efron & Morris's batting averages, and the BCG vaccine trials."""

from __future__ import annotations

import numpy as np
import pytest

from wearplan.fleet.pool import Own, log_marginal, pool

# Efron & Morris 1975 (JASA 70:311), 1977 (Scientific American 236:119): average of the first 45 times at bat and of the
# rest of the season 1970, 18 players
# fmt: off
FIRST = [
    .400, .378, .356, .333, .311, .311, .289, .267, .244, .244,
    .222, .222, .222, .222, .222, .200, .178, .156,
]
REST = [
    .346, .298, .276, .222, .273, .270, .263, .210, .269, .230,
    .264, .256, .303, .264, .226, .285, .316, .200,
]
# fmt: on

# BCG against tuberculosis, 13 trials (Colditz et al. 1994, JAMA 271:698): cases and others, vaccinated and not
BCG = [
    (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
    (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232), (17, 1699, 65, 1600),
    (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825),
]  # fmt: skip


def own(name, mean, sd, classes=(0,)):
    mean, sd = np.atleast_1d(np.asarray(mean, float)), np.atleast_1d(np.asarray(sd, float))
    return Own(drive=name, classes=tuple(classes), mean=mean, precision=np.diag(sd**-2.0))


def trials():
    found = []
    for number, (a, b, c, d) in enumerate(BCG):
        ratio = np.log(a / (a + b)) - np.log(c / (c + d))
        found.append(own(str(number), ratio, np.sqrt(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d))))
    return found


def test_batting_averages_pooled_come_nearer_to_the_rest_of_the_season():
    first, rest = np.array(FIRST), np.array(REST)
    sd = np.sqrt(first.mean() * (1 - first.mean()) / 45)
    alone = ((first - rest) ** 2).sum()
    assert alone == pytest.approx(0.0754, abs=0.0002)
    # James & Stein's own estimator, as published: .0213, ratio 3.54
    shrink = 1 - (len(first) - 3) * sd**2 / ((first - first.mean()) ** 2).sum()
    stein = first.mean() + shrink * (first - first.mean())
    assert ((stein - rest) ** 2).sum() == pytest.approx(0.0213, abs=0.0003)
    found = pool([own(str(k), value, sd) for k, value in enumerate(first)], 1, spread=0.1)
    ours = np.array([units[0].mean for units in found.by_drive])
    assert ((ours - rest) ** 2).sum() == pytest.approx(0.0213, abs=0.0015)
    assert alone / ((ours - rest) ** 2).sum() > 3.3


def test_the_spread_between_the_bcg_trials():
    from scipy.optimize import minimize_scalar

    found = minimize_scalar(lambda tau: -log_marginal(trials(), 1, tau), bounds=(0.01, 2.0), method="bounded")
    # REML .313 (Viechtbauer 2010, J. Stat. Software 36(3)); the moment estimate .3088 is from memory
    assert found.x**2 == pytest.approx(0.313, abs=0.0006)
    pooled = pool(trials(), 1, spread=1.0)
    assert pooled.spread.quantile(0.05) < np.sqrt(0.313) < pooled.spread.quantile(0.95)
    # the same source: mean log risk ratio -0.7145, standard error 0.1798; tau in doubt makes it a little wider
    centre = pooled.following[0]
    assert centre.mean == pytest.approx(-0.7145, abs=0.02)
    assert np.sqrt(centre.sd**2 - (pooled.spread.mean**2 + pooled.spread.sd**2)) == pytest.approx(0.18, abs=0.03)


def test_one_drive_alone_keeps_its_own_rate_and_says_little_of_the_next():
    found = pool([own("only", -3.0, 0.1)], 1)
    assert found.by_drive[0][0].mean == pytest.approx(-3.0, abs=0.01)
    assert found.by_drive[0][0].sd == pytest.approx(0.1, rel=0.1)
    assert found.following[0].sd > 0.3
    assert found.pull[0][0] < 0.02


def test_a_unit_nobody_read_takes_the_fleets_rate_with_its_spread():
    drives = [own(str(k), [mean, 0.0], [0.05, 1e9], (0, 1)) for k, mean in enumerate([-3.0, -2.6, -3.3, -2.9])]
    blank = Own(drive="new", classes=(0,), mean=np.zeros(1), precision=np.zeros((1, 1)))
    found = pool([*drives, blank], 2)
    fresh, following = found.by_drive[-1][0], found.following[0]
    assert fresh.mean == pytest.approx(following.mean, abs=1e-6)
    assert fresh.sd == pytest.approx(following.sd, rel=1e-6)
    assert found.pull[-1][0] == pytest.approx(1.0)
    assert found.pull[0][0] < 0.2
    # of two drives with equal readings each gives the other half of what the spread leaves open
    twins = pool([own("a", -3.0, 0.3), own("b", -3.0, 0.3)], 1)
    assert 0.05 < twins.pull[0][0] < 0.5
    assert twins.pull[0][0] == pytest.approx(twins.pull[1][0])


def test_pulls_and_bands_against_plain_algebra_at_one_spread():
    # with the grid's weight on one tau the answer is the textbook's: Gelman et al. 2013, section 5.4
    drives = [own("a", -3.0, 0.2), own("b", -2.0, 0.4), own("c", -2.5, 0.1)]
    from wearplan.fleet.pool import _given

    tau = 0.3
    y, s = np.array([-3.0, -2.0, -2.5]), np.array([0.2, 0.4, 0.1])
    joint = np.diag(s**-2.0 + tau**-2.0)
    # the whole joint precision of (b, mu), mu flat, inverted by brute force
    whole = np.block([[joint, -np.full((3, 1), tau**-2.0)], [-np.full((1, 3), tau**-2.0), np.array([[3 * tau**-2.0]])]])
    cov = np.linalg.inv(whole)
    mean = cov @ np.r_[y / s**2, 0.0]
    given = _given(drives, 1, tau, wide=1e4)
    assert np.ravel(given.means) == pytest.approx(mean[:3], abs=1e-5)
    assert np.ravel(given.variances) == pytest.approx(np.diag(cov)[:3], rel=1e-5)
    assert given.centre[0] == pytest.approx(mean[3], abs=1e-5)
    assert given.centre_cov[0, 0] == pytest.approx(cov[3, 3], rel=1e-5)
