"""Layout, housings, rows, neighbours and the overcut."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.history.small import make_wheel
from wearplan.site.records import LayoutChange, Position
from wearplan.wheel import layout_at, neighbours, overcut_left_mm, places, reach_lost_mm


def change(position, from_m, **what):
    return LayoutChange(from_chainage_m=100.0 + from_m, from_m=from_m, position=position, **what)


def test_layout_changes_count_from_their_own_place_on():
    wheel = make_wheel(
        layout_changes=(
            change(7, 200.0, blanked=True),
            change(9, 300.0, added=True),
            change(11, 400.0, tool_type="disc-17h"),
            change(7, 500.0, tool_type="disc-17h"),
        )
    )
    before, at, later = layout_at(wheel, 0.0), layout_at(wheel, 200.0), layout_at(wheel, 600.0)
    assert 7 in before
    assert 9 not in before
    assert 7 not in at
    assert layout_at(wheel, 300.0).position(9).tool_type == "disc-17"
    assert later.position(7).tool_type == later.position(11).tool_type == "disc-17h"
    assert later.limit_mm[later.index(11)] == 28.0
    assert np.isinf(later.damage_limit_mm[later.index(11)])
    assert len(before) == len(later) - 1 == 39
    with pytest.raises(KeyError):
        at.index(7)


def test_a_position_may_set_its_own_limit():
    wheel = make_wheel()
    positions = tuple(replace(p, wear_limit_mm=15.0) if p.number == 38 else p for p in wheel.positions)
    layout = layout_at(replace(wheel, positions=positions), 0.0)
    assert layout.limit_mm[layout.index(38)] == 15.0
    assert layout.limit_mm[layout.index(37)] == 25.0


def test_places_take_housings_as_one():
    wheel = make_wheel()
    positions = tuple(
        replace(p, housing="C1", access="inside" if p.number == 1 else "chamber") if p.number <= 2 else p
        for p in wheel.positions
    )
    found = places(layout_at(replace(wheel, positions=positions), 0.0))
    assert found[0].code == "C1"
    assert found[0].positions == (1, 2)
    assert found[0].access == "chamber"
    assert sorted(number for place in found for number in place.positions) == list(range(1, 41))


def test_neighbours_stand_on_adjacent_tracks_of_one_kind():
    wheel = make_wheel(12)
    twin = replace(wheel.position(5), number=13, row="R5", angle_deg=200.0)
    positions = (*[replace(p, row="R5") if p.number == 5 else p for p in wheel.positions], twin)
    layout = layout_at(replace(wheel, positions=positions), 0.0)
    pairs = neighbours(layout)
    # 10 is a scraper and alone in its kind; 9 and 11 are adjacent disc tracks; 5 and 13 share one
    assert (9, 11) in pairs
    assert not any(10 in pair for pair in pairs)
    assert {(4, 5), (4, 13), (5, 6), (13, 6)} <= set(pairs)
    assert (5, 13) not in pairs


def test_wear_of_a_tilted_tool_measured_on_a_drawing():
    # plain geometry: a disc of radius 216 whose contact points 40 degrees outward; radius lost when it shrinks by 10
    direction = np.array([np.sin(np.radians(40.0)), np.cos(np.radians(40.0))])
    centre = np.array([3000.0, 0.0])
    new, worn = centre + 216.0 * direction, centre + 206.0 * direction
    assert reach_lost_mm(wear_mm=10.0, tilt_deg=40.0) == pytest.approx(new[0] - worn[0])


def test_overcut_is_left_by_whichever_gauge_tool_reaches_furthest():
    wheel = make_wheel(shield_diameter_m=6.94)
    layout = layout_at(wheel, 0.0)
    wear = np.zeros((2, 40))
    assert overcut_left_mm(wheel, layout, wear_mm=wear[0]) == pytest.approx(30.0)
    wear[1, 36:] = 20.0
    left = overcut_left_mm(wheel, layout, wear_mm=wear)
    assert left == pytest.approx([30.0, 30.0 - 20.0 * np.sin(np.radians(40.0))])
    # a gauge tool without a tilt on record is taken to lose all its wear
    flat = replace(wheel, positions=tuple(replace(p, tilt_deg=0.0) for p in wheel.positions))
    assert overcut_left_mm(flat, layout_at(flat, 0.0), wear_mm=wear[1]) == pytest.approx(10.0)
    # the next tool in takes over when the outermost has worn past it
    wear[1, 36:] = 0.0
    wear[1, 39] = 200.0
    assert overcut_left_mm(wheel, layout, wear_mm=wear[1]) == pytest.approx(30.0 - 87.5)


def test_without_a_shield_diameter_there_is_no_overcut_to_tell():
    wheel = make_wheel()
    layout = layout_at(wheel, 0.0)
    assert overcut_left_mm(wheel, layout, wear_mm=np.zeros(len(layout))) is None


def test_copy_tools_do_not_make_the_bore():
    wheel = make_wheel(shield_diameter_m=6.94)
    copy = replace(wheel.tool_type("scraper"), code="copy", kind="copy tool")
    extra = Position(number=41, tool_type="copy", track_radius_mm=3600.0, angle_deg=0.0, zone="gauge")
    wheel = replace(wheel, tool_types=(*wheel.tool_types, copy), positions=(*wheel.positions, extra))
    layout = layout_at(wheel, 0.0)
    assert overcut_left_mm(wheel, layout, wear_mm=np.zeros(41)) == pytest.approx(30.0)
