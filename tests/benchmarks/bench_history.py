"""How long the past takes: ``python -m tests.benchmarks.bench_history``.

A drive of 3,000 rings with 300 places, 8 units and some 20,000 readings in 4,300 lives.
"""

from __future__ import annotations

import time
from datetime import date
from itertools import pairwise

import numpy as np

from tests.history.small import make_site, make_wheel, read, stop
from wearplan.history import clean_rings, lives, measure_exposure
from wearplan.site.records import Fitting, Ground, Section, Site, Stratum, Unit

LENGTH_M, PLACES, STOPS = 4500.0, 300, 67


def large_site() -> Site:
    rng = np.random.default_rng(0)
    units = tuple(Unit(code=f"U{i}", name="") for i in range(8))
    sections = []
    for i, (a, b) in enumerate(pairwise(np.linspace(0.0, LENGTH_M, 31))):
        one, other = f"U{i % 8}", f"U{(i + 3) % 8}"
        what = (
            {"mix": {one: 0.6, other: 0.4}}
            if i % 2
            else {"strata": (Stratum(unit=one), Stratum(unit=other, top_m=0.5))}
        )
        sections.append(Section(from_chainage_m=100 + a, to_chainage_m=100 + b, from_m=a, to_m=b, **what))
    ground = Ground(known_on=date(2024, 1, 1), source="invented", units=units, sections=tuple(sections))
    stops = []
    for k in range(STOPS):
        changed = rng.choice(PLACES, 60, replace=False) + 1
        readings = [read(n, float(rng.integers(0, 20))) for n in range(1, PLACES + 1)]
        fittings = tuple(Fitting(position=int(n), action="change", reason="limit") for n in changed)
        stops.append(stop(40 * (k + 1), *readings, fittings=fittings))
    return make_site(3000, *stops, length_m=LENGTH_M, wheel=make_wheel(PLACES), grounds=(ground,))


def main() -> None:
    site = large_site()
    at = time.perf_counter()
    rings = clean_rings(site)
    print(f"rings mended      {time.perf_counter() - at:6.3f} s")
    at = time.perf_counter()
    exposure = measure_exposure(site, rings)
    radii = np.resize([position.track_radius_mm for position in site.wheel.positions], 20_000)
    exposure.path_km(track_radius_mm=radii, from_m=0.0, to_m=np.linspace(0.0, LENGTH_M, 20_000))
    print(f"20,000 stretches  {time.perf_counter() - at:6.3f} s")
    at = time.perf_counter()
    found = lives(site, exposure)
    readings = sum(len(life.readings) for life in found)
    print(f"lives             {time.perf_counter() - at:6.3f} s  ({len(found)} lives, {readings} readings)")


if __name__ == "__main__":
    main()
