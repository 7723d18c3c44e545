"""Damage of tools that strike from one layer into another."""

from dataclasses import replace

import numpy as np
import pytest

from tests.simulate.options import Options
from tests.simulate.world import World
from wearplan import history, wear
from wearplan.site.records import ZONES
from wearplan.wear.evidence.paths import crosses, layered_turns


@pytest.fixture(scope="module")
def site():
    return World(79, Options(places=40, length_m=1000.0, layered_share=0.6, units=3)).site


def test_turns_between_layers_are_those_of_the_wheel_where_the_circle_meets_two(site):
    exposure = history.measure_exposure(site, history.clean_rings(site))
    lives = history.lives(site, exposure)
    face_m = history.face_m(site)
    found = layered_turns(site, lives, exposure, [face_m] * len(lives))
    for life, row in zip(lives, found, strict=True):
        wanted = np.zeros(len(ZONES))
        for stint in life.stints:
            position = site.wheel.position(stint.position)
            for section in site.ground().sections:
                low, high = max(stint.from_m, section.from_m), min(stint.to_m or face_m, section.to_m)
                heights = [stratum.top_m for stratum in section.strata[1:]]
                meets = any(abs(height) < position.track_radius_mm / 1000.0 for height in heights)
                if high > low and meets and section.cut and position.cuts == "both":
                    wanted[ZONES.index(position.zone)] += float(exposure.turns(low, high)[0]) / 1000.0
        if all(site.wheel.position(s.position).cuts == "both" for s in life.stints):
            assert row == pytest.approx(wanted, rel=2e-3, abs=1e-6)


def test_a_tool_whose_circle_stays_in_one_layer_strikes_nothing(site):
    section = next(s for s in site.ground().sections if s.strata)
    height = abs(section.strata[1].top_m)
    units = tuple(u.code for u in site.ground().units)
    inside, outside = crosses(section, np.array([900.0 * height, 1100.0 * height]), units)
    assert not inside
    assert outside


def test_events_in_layered_faces_raise_the_rate_there_and_the_hazard_ahead(site):
    """Breaking more tools where the face is layered, and no more elsewhere, is learnt as such."""
    ground = site.ground()
    layered = [s for s in ground.sections if s.strata and s.cut]

    def in_layers(driven_m):
        return any(s.from_m < driven_m <= s.to_m for s in layered)

    struck = []
    for inspection in site.inspections:
        hit = in_layers(inspection.driven_m - 5.0)
        rows = tuple(
            replace(m, condition="chipped") if hit and k % 4 == 0 and m.wear_mm is not None else m
            for k, m in enumerate(inspection.measurements)
        )
        struck.append(replace(inspection, measurements=rows))
    plain, broken = wear.learn(site), wear.learn(replace(site, inspections=tuple(struck)))

    def between(fit):
        return sum(d.events for d in fit.layered_damage)

    def share(fit):
        return between(fit) / (between(fit) + sum(d.events for d in fit.damage))

    assert between(broken) > between(plain) + 1.0
    assert share(broken) > share(plain)
    before, after = (wear.look_ahead(site, fit, draws=100) for fit in (plain, broken))
    ahead = [s for s in ground.sections if s.strata and s.from_m > before.face_m]
    if ahead:
        end = ahead[0].to_m
        assert after.damage_probability(end).sum() > before.damage_probability(end).sum()


def test_without_layers_there_are_no_such_cells():
    site = World(72, Options(places=40, length_m=800.0, layered_share=0.0)).site
    fit = wear.learn(site)
    assert fit.layered_damage == ()
    assert all(len(d.events) == len(ZONES) * len(fit.units) for d in fit.damage_by_kind.values())
