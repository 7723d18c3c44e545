"""Block replacement: Barlow & Proschan 1965, Mathematical Theory of Reliability, section 4.2, as a drive of one place.

A tool replaced as it fails at c_f, and every T as well at c_p, costs (c_p + c_f M(T)) / T in the long run, M from the
integral equation of renewal theory (`renewals`). Here c_f is the fee of a late tool with the hours of its forced stop
and a new tool, c_p a stop with a change. The lives are those of a drive: gamma wear past the damage limit, in even
ground, by the incomplete gamma function; a Weibull life is not one that wear by gamma steps can have.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.plan.late.late_stops import passed
from tests.plan.late.renewals import renewals
from tests.plan.makers import DISC, forced_stop, make_outlook, make_site, window
from wearplan.plan.proposal import task
from wearplan.plan.records import Wishes
from wearplan.site.records import Costs

PER_M, SD, STEP_MM = 0.08, 0.25, 0.4
STAND, HOURS, FEE, SETUP = 1000.0, 30.0, 8000.0, 12.0


def one_place(end_m: float, every_m: float):  # type: ignore[no-untyped-def]
    """The exact model of a drive with one disc and a place to stop every so many metres."""
    at = np.arange(300.0 + every_m, end_m - 1.0, every_m)
    windows = tuple(window(f"b{k}", x - 0.2, x + 0.2, setup_hours=SETUP) for k, x in enumerate(at))
    disc = replace(DISC, wear_limit_mm=25.0, damage_limit_mm=30.0)
    site = make_site(
        discs=1, gauge=0, windows=windows, rows=(), steps={}, caps={}, end_m=end_m, disc=disc,
        forced_stops=(forced_stop(0.0, end_m, HOURS),),
        costs=Costs(standstill_per_hour=STAND, late_tool=FEE, late_tool_per_m=0.0),
    )  # fmt: skip
    outlook = make_outlook(site, draws=40, rate_sd=0.0, wear_sd=0.0, life_sd=SD, step_mm=STEP_MM)
    grown = (outlook.grid_m - outlook.face_m) * PER_M
    outlook = replace(outlook, potential_mm=np.broadcast_to(grown, (40, 1, len(grown))).astype(np.float64))
    return task(site, outlook, Wishes(deferral=False, tradeoff=False, comparison=False))[0]


def fails(t: np.ndarray) -> np.ndarray:
    """Chance that a new tool has failed within t metres."""
    mean = PER_M * np.asarray(t, float)
    return passed(mean, STEP_MM * mean + (SD * mean) ** 2, 30.0)


def test_a_block_costs_what_renewal_theory_says() -> None:
    """From stop to stop, for blocks of a fifth to twice the mean life, and the best block among them."""
    every = 75.0
    model = one_place(300.0 + 12 * every, every)
    problem = model.path_problem()
    core = DISC.rebuildable_share * (DISC.price - float(DISC.rebuild_price or 0.0))
    prevented = SETUP * STAND + DISC.change_hours["free air"] * STAND + DISC.price - core
    failed = FEE + HOURS * STAND + DISC.price
    t, mean = renewals(fails, 12 * every)
    found, wanted = [], []
    for k in range(1, 11):
        arc = problem.interval_cost[:, 1, 1 + k]
        # The last row is the look at the whole wheel: no damage here, so nothing.
        assert arc[-1] == pytest.approx(0.0, abs=1e-6)
        found.append((float(arc[0]) + float(problem.stop_cost[1 + k])) / (k * every))
        wanted.append((prevented + failed * float(np.interp(k * every, t, mean))) / (k * every))
    assert found == pytest.approx(wanted, rel=0.01)
    assert int(np.argmin(found)) == int(np.argmin(wanted))
    assert 0 < int(np.argmin(wanted)) < 9
    assert np.interp(10 * every, t, mean) > 1.2
