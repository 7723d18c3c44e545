"""How much work fits and outlooks are, in seconds of one processor; run with ``-s`` for the table."""

import time
import tracemalloc
from dataclasses import replace

import numpy as np
from threadpoolctl import threadpool_limits

from tests.simulate import World
from wearplan.wear import learn, look_ahead
from wearplan.wear.evidence.readings import make_readings
from wearplan.wear.regression.posterior import Prior, fit

UNITS, ZONES = 8, 3


def burden() -> float:
    """How much slower this processor is just now than an idle one of 2024: normals that take 0.14 s there."""
    rng = np.random.default_rng(0)
    start = time.process_time()
    for _ in range(24):
        rng.standard_normal(1_000_000, dtype=np.float32)
    return (time.process_time() - start) / 0.14


def fleet(places: int, stops: int, seed: int = 5):
    """Readings of a wheel: about places x stops x 0.85, lives of some four stops, about 12 % of them bounds."""
    rng = np.random.default_rng(seed)
    rate, factor = np.log(rng.uniform(0.01, 0.08, UNITS)), np.array([0.4, 0.0, 0.25])
    shared = rng.normal(0.0, 0.35, stops)
    between = rng.dirichlet(np.full(UNITS, 0.5), stops) * 60.0
    rows = []
    number = 0
    for _ in range(places):
        zone, radius = int(rng.integers(0, ZONES)), rng.uniform(0.3, 1.0)
        life = None
        for stop in range(stops):
            if life is None or rng.random() < 0.25:
                number, life = number + 1, rng.gamma(69, 1 / 69)
                wear, path = 0.0, np.zeros(UNITS * ZONES)
            step = np.zeros(UNITS * ZONES)
            step[zone * UNITS : (zone + 1) * UNITS] = between[stop] * radius
            path = path + step
            mean = float(between[stop] * radius @ np.exp(rate + factor[zone]))
            wear += rng.gamma(life * mean / 0.3, 0.3)
            if rng.random() < 0.15:
                continue
            read = wear + shared[stop] + rng.normal(0, 0.45)
            side = -1 if read < 1.0 else 1 if read > 25.0 else 0
            rows.append((number, path, 1.0 if side < 0 else 25.0 if side > 0 else round(2 * read) / 2, side, stop))
    life_of, paths, wears, sides, stop_of = (np.array(column) for column in zip(*rows, strict=True))
    loading = np.zeros((UNITS * ZONES, UNITS + ZONES - 1))
    for zone in range(ZONES):
        for unit in range(UNITS):
            loading[zone * UNITS + unit, unit] = 1.0
            if zone != 1:
                loading[zone * UNITS + unit, UNITS + (zone > 1)] = 1.0
    readings = make_readings(
        life=life_of, path_km=paths, wear_mm=wears, censored=sides, inspection=stop_of, sd_mm=0.45, step_mm=0.5,
        loading=loading,
    )  # fmt: skip
    return readings, np.r_[rate, factor[[0, 2]]]


def test_fit_grows_no_worse_than_linearly():
    prior = Prior.of(np.r_[np.full(UNITS, np.log(0.03)), 0.3, 0.2], np.diag([1.0] * UNITS + [0.16] * (ZONES - 1)))
    table = []
    print(f"\nthe processor is {burden():.1f} times as busy as an idle one")
    print("readings  bounds  seconds  s per 1,000  largest error in sd")
    for places, stops in ((75, 80), (150, 80), (300, 80)):
        readings, truth = fleet(places, stops)
        start = time.process_time()
        found = fit(readings, prior, screen=True)
        took = time.process_time() - start
        off = np.abs(truth - found.mode[: len(truth)]) / np.sqrt(np.diag(found.covariance)[: len(truth)])
        table.append((len(readings), took / max(burden(), 1.0)))
        print(
            f"{len(readings):8d} {np.mean(readings.censored != 0):6.0%} {took:8.2f} {1000 * took / len(readings):12.3f}"
            f" {off.max():12.1f}"
        )
    assert table[-1][0] > 20_000
    assert table[-1][1] < 5.0
    assert table[-1][1] / table[0][1] < 1.5 * table[-1][0] / table[0][0]


def seconds(site) -> tuple[int, float]:
    """Readings of a site, and the seconds to learn all from them that `rates` tells, in one thread as commands run."""
    with threadpool_limits(1):
        start = time.process_time()
        fitted = learn(site)
    took = (time.process_time() - start) / max(burden(), 1.0)
    assert fitted.ground is not None
    return sum(len(one.gathered.readings) for one in fitted.by_kind.values()), took


def exponent(table) -> float:
    """With which power the seconds grow."""
    return float(np.polyfit(*np.log(np.array(table)).T, 1)[0])


def test_learning_grows_with_tools_at_the_same_stops():
    site = World(9401, places=240, length_m=6000.0, driven_share=0.7, units=5, window_every_m=15.0).site

    def thinned(every: int):
        inspections = tuple(
            replace(each, measurements=tuple(m for m in each.measurements if m.position % every == 0))
            for each in site.inspections
        )
        return replace(site, inspections=inspections)

    table = [seconds(thinned(every)) for every in (4, 2, 1)]
    print(f"\n{len(site.inspections)} stops: {table}, with the power {exponent(table):.2f}")
    assert exponent(table) < 1.1


def test_learning_grows_along_the_stops():
    lengths = (12000.0, 24000.0, 50000.0)
    sites = [World(9401, places=62, length_m=m, driven_share=0.7, units=5, window_every_m=400.0).site for m in lengths]
    table = [seconds(site) for site in sites]
    print(f"\n{[len(site.inspections) for site in sites]} stops: {table}, with the power {exponent(table):.2f}")
    assert len(sites[-1].inspections) > 400
    assert table[-1][0] > 20_000
    assert table[-1][1] < 15.0
    assert exponent(table) < 1.5


def test_outlook_of_300_tools():
    world = World(9301, places=300, length_m=6000.0, driven_share=0.5, units=5, window_every_m=700.0)
    site = world.site
    fitted = learn(site, checks=False)
    start = time.process_time()
    outlook = look_ahead(site, fitted, draws=2000)
    reached = outlook.limit_m()
    took = time.process_time() - start
    print(f"\n{outlook.potential_mm.shape[1]} tools, {len(reached)} draws, {outlook.end_m - outlook.face_m:.0f} m, "
          f"the processor {burden():.1f} times as busy as an idle one, "
          f"{len(outlook.grid_m)} grid points: {took:.2f} s")  # fmt: skip
    assert took / max(burden(), 1.0) < 2.0


def test_memory_of_an_outlook():
    world = World(9302, places=60, length_m=3000.0, driven_share=0.5)
    fitted = learn(world.site)
    tracemalloc.start()
    look_ahead(world.site, fitted).tools()
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    print(f"\npeak {peak:.0f} MB")
    assert peak < 300.0
