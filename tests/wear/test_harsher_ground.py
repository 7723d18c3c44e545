"""Looking after tools follows the abrasiveness of the ground: common practice, no published source."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from wearplan import wear
from wearplan.site import load

SAMPLE = Path(__file__).parents[2] / "sample_wheel"


def test_harder_on_the_tools_is_sooner_at_the_limit():
    site = load(SAMPLE).site
    fit = wear.learn(site)
    mild, harsh = (wear.look_ahead(site, fit, draws=60, ground_factor=factor) for factor in (1.0, 1.6))
    reached = [np.median(np.minimum(outlook.limit_m(), outlook.end_m), axis=0) for outlook in (mild, harsh)]
    assert (reached[1] <= reached[0] + 1e-6).all()
    assert reached[1].mean() < reached[0].mean() - 50.0
