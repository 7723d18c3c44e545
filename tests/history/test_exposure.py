"""Exposure against plain sums over rings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.history.small import RING_M, make_site, ring
from wearplan.ground import path_shares
from wearplan.history import clean_rings, measure_exposure
from wearplan.site.records import Drive


def uneven(count=300):
    """Rings of many penetrations and directions, so that nothing cancels."""
    rng = np.random.default_rng(3)
    return tuple(
        ring(n, turns=float(rng.uniform(40, 120)), idle=float(rng.uniform(0, 9)), revolutions_ccw_share=rng.uniform())
        for n in range(1, count + 1)
    )


SITE = make_site(0, rings=uneven(), length_m=500.0)
EXPOSURE = measure_exposure(SITE)


def slow_path_km(site, exposure, radius_mm, from_m, to_m, cuts="both"):
    """Ring by ring and section by section, written for the test."""
    total = np.zeros(len(exposure.units))
    for row in site.rings:
        share = {"both": 1.0, "ccw": row.revolutions_ccw_share, "cw": 1.0 - row.revolutions_ccw_share}[cuts]
        p = 1000 * RING_M / row.revolutions_boring
        for section in site.grounds[-1].sections:
            low, high = max(row.start_m, section.from_m, from_m), min(row.end_m, section.to_m, to_m)
            if high > low:
                turns = row.revolutions_boring * (high - low) / RING_M * share
                part = path_shares(section, track_radius_mm=radius_mm, units=exposure.units)[0]
                total += part * turns * np.sqrt((2 * np.pi * radius_mm) ** 2 + p**2) / 1e6
    return total


@settings(max_examples=40, deadline=None)
@given(st.floats(10, 3500), st.floats(0, 450), st.floats(0, 450), st.sampled_from(["both", "cw", "ccw"]))
def test_paths_are_the_sum_over_rings(radius_mm, one, other, cuts):
    from_m, to_m = min(one, other), max(one, other)
    found = EXPOSURE.path_km(track_radius_mm=radius_mm, from_m=from_m, to_m=to_m, cuts=cuts)
    slow = slow_path_km(SITE, EXPOSURE, radius_mm, from_m, to_m, cuts)
    assert found[0] == pytest.approx(slow, rel=1e-9, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0, 450), min_size=2, max_size=8))
def test_stretches_add_up(marks):
    edges = np.array([0.0, *sorted(marks), 450.0])
    path = EXPOSURE.path_km(track_radius_mm=2900.0, from_m=edges[:-1], to_m=edges[1:])
    assert path.sum(axis=0) == pytest.approx(EXPOSURE.path_km(track_radius_mm=2900.0)[0], abs=1e-9)
    advance = EXPOSURE.advance_m(edges[:-1], edges[1:])
    assert advance.sum() == pytest.approx(450.0 - 25.0, abs=1e-3)  # pulled through from 300 to 325 m
    turns = EXPOSURE.turns(edges[:-1], edges[1:]).sum()
    assert turns == pytest.approx(sum(row.revolutions_boring for row in SITE.rings))


def test_volume_is_the_bore_times_the_advance():
    # plain geometry; nothing where the wheel was pulled through (300 to 325 m)
    assert EXPOSURE.volume_m3().sum() == pytest.approx(np.pi / 4 * 7.0**2 * 425.0)
    assert EXPOSURE.volume_m3(300.0, 325.0).sum() == pytest.approx(0.0, abs=1e-9)
    assert EXPOSURE.volume_m3([0.0, 300.0], [150.0, 325.0]).shape == (2, 3)


def test_idle_turns_make_path_without_advance():
    turns = sum(row.revolutions_idle for row in SITE.rings)
    assert EXPOSURE.idle_km(track_radius_mm=[1000.0, 3000.0]) == pytest.approx(
        2 * np.pi * turns * np.array([1, 3]) / 1e3
    )
    assert EXPOSURE.turns(idle=True)[0] == pytest.approx(turns)


def test_weights_give_means_over_the_path():
    rings = clean_rings(SITE)
    path = EXPOSURE.path_km(track_radius_mm=2000.0, from_m=10.0, to_m=100.0)
    weighted = EXPOSURE.weighted_path_km(rings.penetration_mm, track_radius_mm=2000.0, from_m=10.0, to_m=100.0)
    unweighted = EXPOSURE.weighted_path_km(np.ones(len(rings)), track_radius_mm=2000.0, from_m=10.0, to_m=100.0)
    assert unweighted == pytest.approx(path)
    mean = weighted.sum() / path.sum()
    assert rings.penetration_mm.min() < mean < rings.penetration_mm.max()


def test_stretches_beyond_the_face_or_inside_out_are_empty():
    assert not EXPOSURE.path_km(track_radius_mm=2000.0, from_m=460.0, to_m=490.0).any()
    assert not EXPOSURE.path_km(track_radius_mm=2000.0, from_m=200.0, to_m=100.0).any()
    assert EXPOSURE.path_km(track_radius_mm=2000.0, to_m=9999.0) == pytest.approx(
        EXPOSURE.path_km(track_radius_mm=2000.0, to_m=450.0)
    )


@pytest.mark.parametrize(("start", "end"), [(100.0, 600.0), (3000.0, 2500.0)])
def test_rising_and_falling_drives_measure_the_same(start, end):
    site = replace(SITE, drive=Drive(start_chainage_m=start, end_chainage_m=end, ring_length_m=RING_M))
    assert measure_exposure(site).path_km(track_radius_mm=2500.0) == pytest.approx(
        EXPOSURE.path_km(track_radius_mm=2500.0)
    )


def test_without_ground_there_are_turns_and_no_units():
    exposure = measure_exposure(replace(SITE, grounds=()))
    assert exposure.units == ()
    assert exposure.path_km(track_radius_mm=[2000.0, 1.0]).shape == (2, 0)
    assert exposure.turns()[0] > 0


def test_nothing_driven_yet():
    exposure = measure_exposure(make_site(0))
    assert not exposure.path_km(track_radius_mm=[2000.0, 1.0]).any()
    assert exposure.volume_m3().sum() == 0.0
    assert exposure.turns()[0] == 0.0
    assert exposure.imputed_share()[0] == 0.0
