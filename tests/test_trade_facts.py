"""Facts of the trade that the program's shape rests on; common practice, no published source."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wearplan import wear
from wearplan.report.paper.pack import HOLD_POINTS
from wearplan.report.tables.pack import THREE_STEPS
from wearplan.site import load

SAMPLE = Path(__file__).parents[1] / "sample_wheel"


@pytest.fixture(scope="module")
def site():
    return load(SAMPLE).site


def test_some_tools_carry_sensors_that_report_when_a_set_wear_is_reached(site):
    # common practice, no published source
    fitted = {place.number: place.sensor_mm for place in site.wheel.positions if place.sensor_mm}
    assert fitted
    for word in site.sensor_words:
        assert word.reported_mm is None or word.reported_mm in fitted[word.position]


def test_an_entry_means_lowering_the_muck_and_air_support_and_a_lock(site):
    # common practice, no published source
    assert {"lower_level", "air_support"} <= set(site.stops.steps)
    assert any("air" in point.lower() for point in HOLD_POINTS)


def test_looking_after_tools_follows_the_abrasiveness_of_the_ground(site):
    # common practice, no published source: harder on the tools, sooner at the limit
    fit = wear.learn(site)
    mild, harsh = (wear.look_ahead(site, fit, draws=60, ground_factor=factor) for factor in (1.0, 1.6))
    reached = [np.median(np.minimum(outlook.limit_m(), outlook.end_m), axis=0) for outlook in (mild, harsh)]
    assert (reached[1] <= reached[0] + 1e-6).all()
    assert reached[1].mean() < reached[0].mean() - 50.0


def test_a_disc_is_changed_in_three_steps():
    # common practice, no published source
    assert [word in THREE_STEPS for word in ("loosen", "pull", "fit")] == [True, True, True]
