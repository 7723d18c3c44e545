"""The past of the sample drive, seen from each of its stops."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wearplan.history import as_of, clean_rings, in_order, lives, measure_exposure, tell_life
from wearplan.site import load

FOLDER = Path(__file__).parents[2] / "sample_wheel"


@pytest.fixture(scope="module")
def site():
    loaded = load(FOLDER)
    assert loaded.site is not None
    return loaded.site


def test_what_was_known_at_each_stop_is_what_is_known_now_cut_off(site):
    now = {life.id: life for life in lives(site)}
    for inspection in in_order(site.inspections)[::3]:
        then = as_of(site, inspection.id)
        assert clean_rings(then).face_m == pytest.approx(inspection.driven_m, abs=1e-6)
        for life in lives(then):
            past = [(r.driven_m, r.position, r.wear_mm, r.below_mm, r.above_mm) for r in life.readings]
            present = [(r.driven_m, r.position, r.wear_mm, r.below_mm, r.above_mm) for r in now[life.id].readings]
            assert past == present[: len(past)]
            assert life.from_m == now[life.id].from_m


def test_paths_of_all_lives_are_the_paths_of_all_places(site):
    exposure = measure_exposure(site)
    found = lives(site, exposure)
    total = np.zeros(len(exposure.units))
    for position in site.wheel.positions:
        total += exposure.path_km(track_radius_mm=position.track_radius_mm, cuts=position.cuts)[0]
    assert sum(life.path_km for life in found) == pytest.approx(total, rel=1e-9)
    assert 0.99 * exposure.face_m < exposure.advance_m().sum() <= exposure.face_m + 1e-3


def test_every_record_of_a_place_is_told(site):
    for position in (site.wheel.positions[0].number, site.wheel.positions[-1].number):
        account = tell_life(site, position=position)
        told = {line.origin for chapter in account.chapters for line in chapter.lines}
        told |= {line.origin for line in account.others}
        for inspection in site.inspections:
            for record in (*inspection.measurements, *inspection.fittings):
                if record.position == position:
                    assert record.origin in told
