"""The simulator itself: reproducible, adds up, and says in the records what it did in truth."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.simulate import World
from tests.simulate.blueprint import TrueSection
from tests.simulate.process import shares
from tests.simulate.seeds import OUTSIDE, PLANNER, QUIET, TUNING, TUNING_PLANNER, TUNING_WORLDS, WITHIN, WORLDS

SMALL = {"places": 30, "length_m": 700.0, "wear_scale": 1.6}


def test_same_seed_same_world():
    one, two = World(5, **SMALL), World(5, **SMALL)
    assert one.site == two.site
    assert World(6, **SMALL).site != one.site


def test_seeds_are_distinct_and_as_many_as_said():
    worlds = [case for cases in (*WORLDS.values(), *TUNING_WORLDS.values()) for case in cases]
    cases = [*WITHIN, *OUTSIDE, *PLANNER, *TUNING, *TUNING_PLANNER, *worlds, *QUIET]
    assert len({case.seed for case in cases}) == len(cases)
    assert (len(WITHIN), len(OUTSIDE), len(PLANNER)) == (24, 24, 12)
    assert all(case.outside for case in OUTSIDE)
    assert not any(case.outside for case in WITHIN)


def test_shares_of_a_layered_face():
    section = TrueSection(from_m=0.0, to_m=1.0, strata=(("top", None), ("base", 1.0)))
    assert shares(section, 0.5) == {"top": 0.0, "base": 1.0}
    # a circle of radius 2 lies above height 1 over 120 of its 360 degrees
    assert shares(section, 2.0)["top"] == pytest.approx(1 / 3)
    assert sum(shares(section, 3.0).values()) == pytest.approx(1.0)


def test_path_follows_turns_and_ground():
    world = World(7, **SMALL)
    process = world.truth.process
    i = 5
    position = world.site.wheel.positions[i]
    turns = process.blueprint.turns.sum()
    assert process.path_km[i].sum() == pytest.approx(turns * 2 * math.pi * position.track_radius_mm / 1e6, rel=1e-3)
    assert process.unit_path_km[i].sum() == pytest.approx(process.path_km[i].sum(), rel=1e-9)


def test_rings_tile_the_driven_length():
    world = World(8, falling=True, equation_m=12.0, missing_rings=0, doubled_rings=0, **SMALL)
    site = world.site
    drive = site.drive
    assert sum(r.end_m - r.start_m for r in site.rings) == pytest.approx(world.face_m)
    assert drive.chainage_m(drive.length_m) == pytest.approx(drive.end_chainage_m)
    assert drive.start_chainage_m > drive.end_chainage_m
    for ground in site.grounds:
        assert ground.sections[0].from_m == 0.0
        assert ground.sections[-1].to_m == pytest.approx(drive.length_m)
        for a, b in zip(ground.sections, ground.sections[1:], strict=False):
            assert a.to_m == b.from_m > a.from_m


def test_readings_scatter_about_the_truth_as_told():
    offs = []
    for seed in range(40, 48):
        world = World(seed, damage_scale=0.0, go_no_go_share=0.0, swap_share=0.5, places=60, length_m=1200.0)
        for inspection in world.site.inspections:
            for m in inspection.measurements:
                if m.wear_mm:
                    offs.append(m.wear_mm - world.truth.wear_mm(m.position, inspection.driven_m))
    expected = math.sqrt(0.45**2 + 0.35**2 + 0.5**2 / 12)
    assert len(offs) > 500
    assert abs(np.mean(offs)) < 0.15
    assert np.std(offs) == pytest.approx(expected, rel=0.12)


def test_wear_of_a_fleet_is_its_mean_and_spread():
    # (wear / mean) has mean 1 and variance sd^2 + theta / mean for tools never changed
    ratios, spread = [], []
    for seed in range(60, 66):
        world = World(seed, damage_scale=0.0, boldness=1000.0, places=60, length_m=1200.0)
        state = world.truth.run.state
        worn = state.mean_mm > 3.0
        ratios += list(state.wear_mm[worn] / state.mean_mm[worn])
        spread += list(0.12**2 + 0.10 / state.mean_mm[worn])
    assert len(ratios) > 150
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.03)
    assert np.var(ratios) == pytest.approx(np.mean(spread), rel=0.3)


def test_following_is_one_truth_for_all_decisions():
    world = World(9, **SMALL)
    windows = world.site.stops.windows
    one, two = world.follow(), world.follow()
    at = windows[0].from_m + 1.0
    read_one, read_two = one.advance_to(at), two.advance_to(at)
    assert read_one == read_two
    one.change(())
    two.change([p.number for p in world.site.wheel.positions])
    last = world.site.wheel.positions[-1].number
    one.finish()
    two.finish()
    i = one.run.index[last]
    assert one.run.state.wear_mm[i] == pytest.approx(world.truth.wear_mm(last, world.site.drive.length_m))
    assert two.run.state.wear_mm[i] < one.run.state.wear_mm[i]
    assert one.account.total != two.account.total


def test_foresight_table_agrees_with_the_run():
    world = World(10, **SMALL)
    start = world.truth.run.ring
    rings = np.array([start, start + 40, world.truth.process.rings])
    table = world.truth.interval_wear_mm(rings)
    follower = world.follow()
    follower.run.drive_to(int(rings[1]))
    assert follower.run.state.wear_mm == pytest.approx(table[:, 0, 1])
    for i in range(len(table)):
        follower.run.process.fit(follower.run.state, i, int(rings[1]))
    follower.run.drive_to(int(rings[2]))
    assert follower.run.state.wear_mm == pytest.approx(table[:, 1, 2])
