"""Speed of the optimiser on invented drives; run on demand: ``pytest tests/benchmarks/test_optimise_speed.py -s``.

Seconds of processor time on one core (so that a busy machine does not change them); one thread everywhere. The plain
arc model runs in the same process, at the same tolerance, with its building left out of its time.
"""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.plan.optimise.instances import wear_out
from tests.plan.optimise.plain import plain_model, run_plain
from wearplan.plan import Wishes
from wearplan.plan.model.asked import task
from wearplan.plan.optimise import Budget, solve
from wearplan.site import load
from wearplan.wear import learn, look_ahead

SEEDS = range(6)
SAMPLE = Path(__file__).resolve().parents[2] / "sample_wheel"


def timed(problem, gap: float):
    problem.__dict__.pop("arcs", None)
    begun = time.process_time()
    solved = solve(problem, gap=gap, method="prices", time_limit_s=300.0)
    return solved, time.process_time() - begun


@pytest.mark.parametrize(
    ("places", "stops", "gap", "limit_s"),
    [(100, 80, 1e-6, 3.0), (100, 100, 1e-3, 3.0), (100, 100, 1e-6, 10.0), (300, 115, 1e-3, 10.0)],
)
def test_time_to_gap(places: int, stops: int, gap: float, limit_s: float) -> None:
    print(f"\n{places} places, {stops} stops, gap {gap:g}: at most {limit_s:g} s")
    print(f"{'seed':>5} {'cost':>14} {'gap':>9} {'stops':>6} {'nodes':>6} {'s':>7}")
    slow = []
    for seed in SEEDS:
        solved, seconds = timed(wear_out(places, stops, seed), gap)
        row = f"{seed:>5} {solved.cost:>14.1f} {solved.gap:>9.1e} {len(solved.stops):>6} {solved.nodes:>6}"
        print(f"{row} {seconds:>7.2f}")
        assert solved.status == "least cost"
        assert solved.gap <= gap * (1 + 1e-6)
        if seconds >= limit_s:
            slow.append(seed)
    assert not slow, f"over {limit_s:g} s: seeds {slow}"


@pytest.mark.parametrize(("fewer", "limit_s"), [(1, 10.0), (2, 15.0)])
def test_a_tight_cap_on_stops(fewer: int, limit_s: float) -> None:
    print(f"\n100 places, 100 stops, gap 0.001, {fewer} stops fewer than without a cap: at most {limit_s:g} s")
    for seed in SEEDS:
        free = wear_out(100, 100, seed)
        most = len(solve(free, gap=1e-3, method="prices").stops) - fewer
        solved, seconds = timed(replace(free, budgets=(Budget("stops", np.ones(100), float(most)),)), 1e-3)
        row = f"{seed:>5} {solved.cost:>14.1f} {solved.gap:>9.1e} {len(solved.stops):>6} {solved.nodes:>6}"
        print(f"{row} {seconds:>7.2f}")
        assert solved.status == "least cost"
        assert seconds < limit_s


@pytest.mark.parametrize(("gap", "limit_s"), [(5e-3, 0.3), (1e-4, 1.5), (1e-6, 3.0)])
def test_the_sample_with_many_near_equal_stops(gap: float, limit_s: float) -> None:
    site = load(SAMPLE).site
    model, _ = task(site, look_ahead(site, learn(site), draws=200), Wishes())
    problem = model.path_problem()
    solved, seconds = timed(problem, gap)
    row = f"gap {solved.gap:.1e}, {len(solved.stops)} stops, {solved.nodes} nodes, {seconds:.2f} s"
    print(f"\nsample, {problem.places} places, {problem.stops} stops, gap {gap:g}, at most {limit_s:g} s: {row}")
    assert solved.gap <= gap * (1 + 1e-6)
    assert seconds < limit_s


@pytest.mark.parametrize("gap", [1e-3, 1e-6])
def test_against_the_plain_arc_model(gap: float) -> None:
    print(f"\n100 places, 80 stops, gap {gap:g}: prices against the plain arc model in scipy.optimize.milp")
    print(f"{'seed':>5} {'plain cost':>14} {'prices cost':>14} {'plain s':>9} {'prices s':>9} {'times':>7}")
    ratios = []
    for seed in SEEDS:
        problem = wear_out(100, 80, seed)
        model = plain_model(problem)
        begun = time.process_time()
        plain = run_plain(model, gap=gap)
        plain_s = time.process_time() - begun
        solved, seconds = timed(problem, gap)
        ratios.append(plain_s / seconds)
        print(f"{seed:>5} {plain.fun:>14.1f} {solved.cost:>14.1f} {plain_s:>9.2f} {seconds:>9.2f} {ratios[-1]:>7.1f}")
        assert solved.cost == pytest.approx(plain.fun, rel=2 * gap)
        assert solved.lower_bound <= plain.fun * (1 + 1e-9)
    mean = float(np.exp(np.mean(np.log(ratios))))
    print(f"geometric mean {mean:.1f}")
    assert mean >= 10.0
