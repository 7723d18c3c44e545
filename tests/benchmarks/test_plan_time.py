"""How long the costs of all intervals and a whole plan take; run on demand with ``pytest FILE -s``."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from tests.plan.makers import make_outlook, make_site, window
from wearplan import wear
from wearplan.plan import propose
from wearplan.plan.ahead.intervals import intervals
from wearplan.plan.ahead.tools import look
from wearplan.site import load

SAMPLE = Path(__file__).parents[2] / "sample_wheel"


@pytest.mark.parametrize(("places", "stops", "limit_s"), [(100, 100, 4.0), (300, 115, 8.0)])
def test_costs_of_every_interval(places: int, stops: int, limit_s: float) -> None:
    site = make_site(discs=places, gauge=places // 8, windows=(window("a", 310, 330),), end_m=3000.0)
    ahead = look(site, make_outlook(site, draws=400, mm_per_100m=1.5))
    nodes = np.concatenate([[300.0], np.linspace(310.0, 2950.0, stops), [3000.0]])
    began = time.process_time()
    intervals(ahead, nodes)
    spent = time.process_time() - began
    print(f"\n{places} places by {stops} stops: {spent:.2f} s of processor time")
    assert spent < limit_s


def test_the_sample_plan() -> None:
    site = load(SAMPLE).site
    assert site is not None
    outlook = wear.look_ahead(site, wear.learn(site))
    steps: list[tuple[str, float]] = []
    began = time.process_time()

    def tell(words: str, share: float | None = None) -> None:
        if not steps or steps[-1][0] != words:
            steps.append((words, time.process_time() - began))

    plan = propose(site, outlook, progress=tell)
    spent = time.process_time() - began
    print(f"\nsample: {spent:.2f} s of processor time, gap {plan.gap:.4f}, {len(plan.stops)} stops")
    for (words, start), (_, end) in zip(steps, [*steps[1:], ("end", spent)], strict=True):
        print(f"  {end - start:6.2f} s  {words}")
    assert plan.gap is not None
    assert spent < 15.0
