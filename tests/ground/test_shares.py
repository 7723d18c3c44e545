"""Shares of path and volume against numerical integration."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearplan.ground import path_shares, volume_shares
from wearplan.ground.shares import circle_above, disc_above
from wearplan.site.records import Section, Stratum

UNITS = ("CL", "SG", "RK", "XX")


def section(**what):
    return Section(from_chainage_m=0.0, to_chainage_m=10.0, from_m=0.0, to_m=10.0, **what)


def layered(*tops):
    codes = UNITS[: len(tops) + 1]
    strata = (Stratum(unit=codes[0]), *[Stratum(unit=u, top_m=t) for u, t in zip(codes[1:], tops, strict=True)])
    return section(strata=strata)


@settings(max_examples=30)
@given(st.floats(-4, 4), st.floats(-4, 4), st.floats(0.05, 3.5))
def test_path_shares_by_walking_the_circle(one, other, radius):
    upper, lower = max(one, other), min(one, other)
    angle = (np.arange(200_000) + 0.5) / 200_000 * 2 * np.pi
    height = radius * np.cos(angle)
    walked = [np.mean(height > upper), np.mean((height <= upper) & (height > lower)), np.mean(height <= lower), 0.0]
    found = path_shares(layered(upper, lower), track_radius_mm=1000 * radius, units=UNITS)
    assert found[0] == pytest.approx(walked, abs=3e-5)


@settings(max_examples=30)
@given(st.floats(-4, 4), st.floats(-4, 4))
def test_volume_shares_by_slicing_the_face(one, other):
    upper, lower, radius = max(one, other), min(one, other), 3.56
    height = (np.arange(400_000) + 0.5) / 400_000 * 2 * radius - radius
    chord = np.sqrt(radius**2 - height**2)
    layer = np.where(height > upper, 0, np.where(height > lower, 1, 2))
    sliced = np.bincount(layer, weights=chord, minlength=4) / chord.sum()
    found = volume_shares(layered(upper, lower), bore_radius_m=radius, units=UNITS)
    assert found == pytest.approx(sliced, abs=1e-5)


def test_volume_is_the_path_integrated_over_all_tracks():
    # a face swept by tracks: share of volume = integral of the path's share times r dr
    face = layered(1.1, -2.0)
    radius = (np.arange(20_000) + 0.5) / 20_000 * 3.5
    shares = path_shares(face, track_radius_mm=1000 * radius, units=UNITS)
    swept = (shares * radius[:, None]).sum(axis=0) / radius.sum()
    assert volume_shares(face, bore_radius_m=3.5, units=UNITS) == pytest.approx(swept, abs=1e-6)


def test_a_hard_invert_is_met_by_outer_tools_only():
    shares = path_shares(layered(1.1, -2.0), track_radius_mm=[500.0, 1999.0, 2001.0, 3500.0], units=UNITS)
    assert shares[:2, 2] == pytest.approx(0.0)
    assert 0 < shares[2, 2] < shares[3, 2]
    assert shares.sum(axis=1) == pytest.approx(1.0)


@pytest.mark.parametrize("level", [-1.0, 0.0, 1.0])
def test_a_tool_on_the_axis_is_a_point(level):
    assert circle_above(level, 0.0) == pytest.approx(0.5 - 0.5 * np.sign(level))


def test_half_a_disc_lies_above_its_middle():
    assert disc_above(0.0, 3.0) == pytest.approx(0.5)
    assert disc_above([-9.0, 9.0], 3.0) == pytest.approx([1.0, 0.0])


def test_a_mix_is_the_same_on_every_track_and_need_not_sum_to_one():
    mixed = section(mix={"SG": 0.35, "CL": 0.15})
    shares = path_shares(mixed, track_radius_mm=[100.0, 3000.0], units=UNITS)
    assert shares == pytest.approx(np.array([[0.3, 0.7, 0.0, 0.0]] * 2))
    assert volume_shares(mixed, bore_radius_m=3.5, units=UNITS) == pytest.approx([0.3, 0.7, 0.0, 0.0])


def test_nothing_is_met_where_nothing_is_cut():
    pulled = section(mix={"SG": 1.0}, cut=False)
    assert not path_shares(pulled, track_radius_mm=[100.0], units=UNITS).any()
    assert not volume_shares(pulled, bore_radius_m=3.5, units=UNITS).any()


def test_a_unit_met_twice_adds_up():
    strata = (Stratum(unit="CL"), Stratum(unit="SG", top_m=1.0), Stratum(unit="CL", top_m=-1.0))
    shares = path_shares(section(strata=strata), track_radius_mm=2000.0, units=UNITS)
    # plain geometry: arccos(1/2) / pi = 1/3 above 1 m, as much below -1 m
    assert shares[0] == pytest.approx([2 / 3, 1 / 3, 0.0, 0.0])


def test_an_unknown_unit_is_refused():
    with pytest.raises(ValueError, match="unit ZZ is not among"):
        path_shares(section(mix={"ZZ": 1.0}), track_radius_mm=1.0, units=UNITS)
