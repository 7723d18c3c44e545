"""Scales and relations: consistent with themselves; as values from memory they are no outside check of anything."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearplan.ground import expected_mm_per_km, relations, scales
from wearplan.site.records import KINDS, Unit


def unit(**tests):
    return Unit(code="U", name="a unit", **tests)


@given(st.floats(0, 3000), st.floats(0, 3000))
def test_more_abrasive_on_one_scale_is_more_abrasive_on_the_other(one, other):
    low, high = sorted((one, other))
    assert 0.0 <= scales.cai_from_lac(low) <= scales.cai_from_lac(high)


def test_the_conversion_goes_through_its_band_edges_and_on_beyond_them():
    for lac, cai in zip(scales.LAC_EDGES, scales.CAI_EDGES, strict=True):
        assert scales.cai_from_lac(lac) == pytest.approx(cai)
    # the last band rises by 2.0 over 750 g/t, and so does what lies beyond it
    assert scales.cai_from_lac(2750.0) == pytest.approx(8.0)


def test_relations_agree_with_their_worked_figures():
    # arithmetic on the recalled formulas, worked out independently of this code
    assert relations.disc_life_km(cai=3.0, diameter_mm=431.8) == pytest.approx(686.0, abs=0.5)
    assert 3500 / relations.ring_loss_g_per_km(cai=3.0) == pytest.approx(568.0, rel=0.002)
    assert relations.soil_abrasivity_index(eqc_pct=60.0, shear_strength_kpa=100.0, d60_mm=10.0) == pytest.approx(360.0)
    assert relations.disc_path_km(sai=500.0) == pytest.approx(386.0, abs=0.5)
    assert relations.scraper_path_km(sai=500.0) == pytest.approx(335.0, abs=0.5)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "tests", [{}, {"cai": 3.0}, {"lac_g_per_t": 700.0}, {"eqc_pct": 60.0, "shear_strength_kpa": 100.0, "d60_mm": 10.0}]
)
def test_every_expectation_says_what_it_rests_on_and_doubts_itself(kind, tests):
    expected = expected_mm_per_km(unit(**tests), kind, 432.0)
    assert 0.001 < expected.mm_per_km < 0.5
    assert expected.factor >= 2.5
    assert "memory" in expected.basis
    assert expected.relations
    assert all(name in relations.STANDING for name in expected.relations)


def test_harder_tests_mean_more_wear_and_outside_the_range_more_doubt():
    rates = [expected_mm_per_km(unit(cai=cai), "disc", 432.0).mm_per_km for cai in (1.0, 2.0, 3.0, 4.5)]
    assert rates == sorted(rates)
    inside, outside = (expected_mm_per_km(unit(cai=cai), "disc", 432.0).factor for cai in (3.0, 6.0))
    assert outside > inside
    from_lac = expected_mm_per_km(unit(lac_g_per_t=875.0), "disc", 432.0)
    assert from_lac.factor > inside


@pytest.mark.parametrize("cai", [0.0, -1.0, float("nan")])
def test_a_test_that_cannot_be_is_not_used(cai):
    assert expected_mm_per_km(unit(cai=cai), "disc", 432.0).relations == ("kind of tool alone",)
