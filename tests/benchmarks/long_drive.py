"""One long invented drive planned in a process of its own: seconds of processor time and memory of each step.

``python -m tests.benchmarks.long_drive PLACES KM RINGS`` prints one JSON line; `test_long_drives` tells the table.
"""

from __future__ import annotations

import json
import resource
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.plan.makers import air_window, make_outlook, make_site, window
from wearplan.plan import Wishes, propose

A_WINDOW = 10
"""Rings that end in each window."""


def drive(places: int, km: float, rings: int):
    """Site and outlook: windows evenly spread, every third of them in compressed air, lives of 1.2 to 3 km."""
    count = rings // A_WINDOW
    apart = 1000.0 * km / (count + 1)
    made = []
    for i in range(count):
        from_m = 300.75 + round(apart * (i + 1) / 1.5) * 1.5
        make = air_window if i % 3 == 2 else window
        made.append(make(f"w{i + 1}", from_m, from_m + 1.5 * (A_WINDOW - 1) + 1.0))
    site = make_site(
        discs=places, gauge=places // 10, windows=tuple(made), end_m=300.0 + 1000.0 * km, neighbour_step_mm=None
    )
    worn = np.random.default_rng(5).uniform(0.0, 20.0, places)
    now = {p.number: float(mm) for p, mm in zip(site.wheel.positions, worn, strict=True)}
    outlook = make_outlook(site, mm_per_100m=2.0, wear_now_mm=now, draws=400, hazard_per_km=0.05)
    # A point of the grid each 15 m, about as many as a learnt outlook has.
    keep = np.unique(np.append(np.arange(0, len(outlook.grid_m), 5), len(outlook.grid_m) - 1))
    return site, replace(
        outlook,
        grid_m=outlook.grid_m[keep],
        potential_mm=np.ascontiguousarray(outlook.potential_mm[:, :, keep]),
        damage_hazard=np.broadcast_to(outlook.damage_hazard[:1, :1, keep], (400, places, len(keep))),
    )


class Peak:
    """Most memory held since the last look, sampled from a thread."""

    def __init__(self) -> None:
        self.most = 0.0
        threading.Thread(target=self._watch, daemon=True).start()

    def _watch(self) -> None:
        while True:
            self.most = max(self.most, held_mb())
            time.sleep(0.02)


def held_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 2**20


def main(places: int, km: float, rings: int, most: int | None) -> None:
    import scipy.optimize
    import scipy.special  # noqa: F401

    site, outlook = drive(places, km, rings)
    before, peak, began, steps = held_mb(), Peak(), time.process_time(), []

    def tell(words: str, share: float | None = None) -> None:
        if not steps or steps[-1][0] != words:
            steps.append((words, round(time.process_time() - began, 2), round(peak.most - before)))

    wishes = Wishes(deferral=False, tradeoff=False, comparison=False, time_limit_s=600.0)
    if most:
        wishes = replace(wishes, max_candidates=most, gap=1e-3)
    plan = propose(site, outlook, wishes=wishes, progress=tell)
    tell("end")
    print(json.dumps({
        "places": places, "km": km, "rings": rings, "candidates": plan.candidates, "stops": len(plan.stops),
        "cost": plan.expected_cost,
        "model_cost": plan.model_cost, "gap": plan.gap, "whole_gap": plan.whole_gap, "cpu_s": steps[-1][1],
        "before_mb": round(before), "more_mb": steps[-1][2], "steps": steps,
    }))  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[1]), float(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]) if len(sys.argv) > 4 else None)
