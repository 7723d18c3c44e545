"""CPU of the store's answer for a large wheel: ``python -m tests.benchmarks.bench_store [places types]``.

Invented use: 15 stops over 2,000 m, every place changed some five times, 400 draws, an order on the way a type. It
prints seconds of CPU of the decision with its pace sentences, the plan and its play on the draws not counted.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from wearplan.demand.answer import with_pace
from wearplan.demand.dates import last_logged_day
from wearplan.demand.frame import DriveUse
from wearplan.plan.play.use import Use, UseDraws
from wearplan.site import load
from wearplan.site.records import OnOrder, Stock, Stores

SAMPLE = Path(__file__).parents[2] / "sample_wheel"
DRAWS, STOPS = 400, 15


def drive(places: int, types: int) -> DriveUse:
    site = load(SAMPLE).site
    rng = np.random.default_rng(1)
    today = last_logged_day(site)
    kinds = tuple(
        replace(site.wheel.tool_types[0], code=f"t{k:02d}", lead_time_days=float(rng.integers(20, 120)))
        for k in range(types)
    )
    stock = tuple(
        Stock(
            tool_type=kind.code, on_hand=int(rng.integers(0, 20)), in_rebuild=int(rng.integers(0, 6)),
            on_order=(OnOrder(quantity=20, due=today + timedelta(days=int(rng.integers(5, 90))), due_doubt_days=7.0),),
        )
        for kind in kinds
    )  # fmt: skip
    site = replace(site, wheel=replace(site.wheel, tool_types=kinds), stores=Stores(stock=stock))
    at = 1000.0 + np.linspace(100.0, 1900.0, STOPS)
    each = places / types * 5.0 / STOPS
    rate = rng.gamma(25.0, 1 / 25.0, (types, DRAWS))
    counts = rng.poisson(each * rate[:, None, :], (types, STOPS, DRAWS))
    uses = tuple(
        Use(driven_m=float(at[s]), chainage_m=float(at[s]), stop=s, date=None, tool_type=kind.code, counts=counts[k, s])
        for k, kind in enumerate(kinds)
        for s in range(STOPS)
    )
    sound = {kind.code: np.round(0.9 * counts[k].T).astype(int) for k, kind in enumerate(kinds)}
    none = {kind.code: np.zeros((DRAWS, STOPS), dtype=int) for kind in kinds}
    use = UseDraws(
        draws=DRAWS, stops_m=tuple(map(float, at)), dates=(None,) * STOPS, uses=uses, removed_sound=sound,
        removed_late=none, damaged=none, pace_factor=np.exp(0.2 * rng.standard_normal(DRAWS) - 0.02),
        changes=np.zeros((DRAWS, STOPS, 0), dtype=bool), places=(), tool_types=(),
    )  # fmt: skip
    stops = [SimpleNamespace(driven_m=m, hours=24.0, chainage_m=m, window="w", changes=()) for m in map(float, at)]
    return DriveUse(site=site, plan=SimpleNamespace(stops=stops), use=use, face_m=1000.0)  # type: ignore[arg-type]


if __name__ == "__main__":
    places, types = (int(word) for word in (sys.argv[1:3] or (300, 12)))
    one = drive(places, types)
    began = time.process_time()
    demand = with_pace([one])
    spent = time.process_time() - began
    print(f"{places} places, {types} types: {spent:.1f} s of CPU, {len(demand.actions)} actions")
