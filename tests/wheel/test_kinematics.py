"""Kinematics against plain geometry and figures of the trade."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearplan.wheel import kinematics as k


def test_one_ring_of_a_disc_at_three_metres():
    # plain geometry: 1.5 m at 10 mm a turn is 150 turns; 2 pi 3 m 150; over pi 0.432 m
    turns = k.turns(advance_m=1.5, penetration_mm=10.0)
    assert turns == pytest.approx(150.0)
    path = k.path_m(turns=turns, track_radius_mm=3000.0, penetration_mm=10.0)
    assert path == pytest.approx(2827.4, abs=0.05)
    assert path / (np.pi * 0.432) == pytest.approx(2083.3, abs=0.05)


@pytest.mark.parametrize(("radius_mm", "longer_pct"), [(100.0, 0.0127), (300.0, 0.0014), (3000.0, 0.000014)])
def test_helix_is_barely_longer_than_the_circle(radius_mm, longer_pct):
    # plain geometry: sqrt(1 + (p / 2 pi r)^2) - 1 at 10 mm a turn
    helix = k.path_m(turns=1.0, track_radius_mm=radius_mm, penetration_mm=10.0)
    flat = k.path_m(turns=1.0, track_radius_mm=radius_mm)
    digits = len(str(longer_pct).rstrip("0").split(".")[1]) if longer_pct > 1e-4 else 6
    assert 100 * (helix / flat - 1) == pytest.approx(longer_pct, abs=0.5 * 10**-digits)


def test_interval_from_a_permissible_path():
    # form in Köppl & Thuro 2013, Proc. 18th ICSMGE Paris, eq. 8; 400 km at 15 mm a turn on the rim of a 9.5 m wheel
    per_metre = k.path_m(turns=k.turns(advance_m=1.0, penetration_mm=15.0), track_radius_mm=4750.0, penetration_mm=15.0)
    assert 400_000.0 / per_metre == pytest.approx(201.0, abs=0.5)


@given(st.floats(0.1, 500), st.floats(1, 60))
def test_turns_and_penetration_undo_one_another(advance_m, penetration_mm):
    turns = k.turns(advance_m=advance_m, penetration_mm=penetration_mm)
    assert k.penetration_mm(advance_m=advance_m, turns=turns) == pytest.approx(penetration_mm)


def test_path_by_walking_along_the_helix():
    # numerical integration of the curve itself
    angle = np.linspace(0.0, 2 * np.pi * 3, 200_001)
    radius, penetration = 0.260, 0.022
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle), penetration * angle / (2 * np.pi)])
    walked = np.linalg.norm(np.diff(points, axis=1), axis=0).sum()
    assert k.path_m(turns=3.0, track_radius_mm=260.0, penetration_mm=22.0) == pytest.approx(walked, rel=1e-8)


def test_a_week_of_a_twelve_metre_shield():
    # common practice, no published source: 350 m in a week are about 40,000 m3 in the ground
    assert 350.0 * k.face_area_m2(bore_diameter_m=12.0) == pytest.approx(40_000.0, rel=0.02)


def test_penetration_of_a_standing_wheel_is_none():
    assert k.penetration_mm(advance_m=[1.5, 1.5], turns=[75.0, 0.0]) == pytest.approx([20.0, 0.0])


def test_tools_that_cut_one_way_share_the_turns():
    share = np.array([0.0, 0.3, 1.0])
    assert k.cutting_share(share, "cw") + k.cutting_share(share, "ccw") == pytest.approx(k.cutting_share(share, "both"))
    with pytest.raises(ValueError, match="cuts must be"):
        k.cutting_share(share, "left")
