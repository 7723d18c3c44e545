"""The program's exposure and lives against the simulator's own plain reckoning of the same drive."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulate import World
from wearplan.ground import unit_codes
from wearplan.history import clean_rings, current_lives, face_m, lives, measure_exposure

EXACT = {"boundary_sd_m": 0.0, "boundary_seen_sd_m": 0.0, "missing_rings": 0, "doubled_rings": 0}
CASES = [
    (11, {}),
    (12, {"falling": True}),
    (13, {"equation_m": 12.0}),
    (14, {"falling": True, "equation_m": -7.0, "layered_share": 1.0}),
]


@pytest.fixture(scope="module", params=CASES, ids=str)
def world(request) -> World:
    seed, options = request.param
    return World(seed, places=45, length_m=1000.0, wear_scale=1.6, swap_share=0.2, **EXACT, **options)


def by_unit(world: World, position: int, from_m: float, to_m: float) -> np.ndarray:
    """(U,) true path of a place over a stretch between ring ends."""
    run = world.truth.run
    edges = run.process.edges_m
    a, b = (int(np.argmin(np.abs(edges - m))) for m in (from_m, to_m))
    return run.process.unit_path_km[run.index[position], a:b].sum(axis=0)


def test_face_and_driven_length(world):
    rings = clean_rings(world.site)
    assert face_m(world.site) == pytest.approx(world.face_m, abs=1e-6)
    assert (rings.end_m - rings.start_m).sum() == pytest.approx(world.face_m, abs=1e-3)


def test_path_by_unit(world):
    exposure = measure_exposure(world.site, clean_rings(world.site))
    codes = [u.code for u in world.truth.run.blueprint.units]
    order = [codes.index(u) for u in exposure.units]
    for position in world.site.wheel.positions:
        found = exposure.path_km(
            track_radius_mm=[position.track_radius_mm], from_m=30.0, to_m=world.face_m, cuts=position.cuts
        )
        assert found[0] == pytest.approx(by_unit(world, position.number, 30.0, world.face_m)[order], rel=1e-6, abs=1e-9)


def test_lives_follow_the_tools(world):
    true = {(life.stints[0][0], round(life.stints[0][1], 3)): life for life in world.truth.lives}
    found = lives(world.site)
    assert len(found) == len(true)
    codes = [u.code for u in world.truth.run.blueprint.units]
    for life in found:
        twin = true[life.stints[0].position, round(life.stints[0].from_m, 3)]
        assert [(s.position, round(s.from_m, 3)) for s in life.stints] == [(p, round(a, 3)) for p, a, _ in twin.stints]
        assert life.rebuilds == twin.rebuilds
        assert life.open == (twin.stints[-1][2] is None)
        if life.serial is not None:
            assert life.serial == twin.serial
        for reading in life.readings:
            expected = np.zeros(len(codes))
            for position, from_m, to_m in twin.stints:
                end = min(reading.driven_m, to_m if to_m is not None else np.inf)
                if end > from_m:
                    expected += by_unit(world, position, from_m, end)
            assert dict(zip(codes, expected, strict=True)) == pytest.approx(
                dict(zip(unit_codes(world.site), reading.path_km, strict=True)), rel=1e-6, abs=1e-9
            )


def test_tools_in_place(world):
    now = current_lives(lives(world.site))
    fitted = world.truth.run.fitted_m()
    index = world.truth.run.index
    assert sorted(now) == sorted(index)
    for number, life in now.items():
        assert life.from_m == pytest.approx(float(fitted[index[number]]), abs=1e-6)
