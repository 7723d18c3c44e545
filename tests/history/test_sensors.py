"""A sensor's word, and its silence once the line is proved."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.history.small import RING_M, make_site, make_wheel, read, stop
from wearplan.history import current_lives, lives
from wearplan.site.records import Fitting, SensorWord


def word(ring, reported_mm=None, position=20):
    return SensorWord(
        position=position,
        chainage_m=100.0 + ring * RING_M,
        driven_m=ring * RING_M,
        ring=ring,
        at=None,
        reported_mm=reported_mm,
    )


def site_with(*words, inspections=(), thresholds=(12.0, 18.0)):
    wheel = make_wheel()
    positions = tuple(replace(p, sensor_mm=thresholds) if p.number == 20 else p for p in wheel.positions)
    return make_site(300, *inspections, wheel=replace(wheel, positions=positions), sensor_words=words)


def told(site, position=20):
    return [(r.ring, r.below_mm, r.above_mm, r.source) for r in current_lives(lives(site))[position].readings]


def test_silence_says_nothing_as_long_as_no_line_was_proved():
    assert told(site_with()) == []


def test_a_proved_line_says_below_there_and_only_there():
    assert told(site_with(word(100))) == [(100, 12.0, None, "sensor silence")]


def test_a_word_says_over_and_silence_then_speaks_of_the_next_step():
    assert told(site_with(word(100), word(150, 12.0), word(160, 12.0), word(200), word(250, 18.0), word(260))) == [
        (100, 12.0, None, "sensor silence"),
        (150, None, 12.0, "sensor"),
        (200, 18.0, None, "sensor silence"),
        (250, None, 18.0, "sensor"),
    ]


def test_words_follow_the_tool_and_a_line_proved_at_a_stop_is_the_new_tools():
    change = Fitting(position=20, action="change", reason="limit")
    site = site_with(
        word(150, 12.0),
        word(200, 18.0),
        word(200),
        inspections=(stop(200, read(20, 19.0), fittings=(change,)),),
    )
    found = lives(site)
    old = next(life for life in found if life.id == "20-1")
    assert [(r.above_mm, r.wear_mm) for r in old.readings] == [(12.0, None), (18.0, None), (None, 19.0)]
    assert told(site) == [(200, 12.0, None, "sensor silence")]
    assert not current_lives(found)[20].readings[0].path_km.any()


def test_a_sensor_word_beyond_a_later_reading_is_doubted():
    site = site_with(word(150, 12.0), inspections=(stop(200, read(20, 5.0)),))
    flagged = [r.flagged for r in current_lives(lives(site))[20].readings]
    assert flagged[0] is None
    assert flagged[1]


def test_a_word_does_not_clear_an_unknown_place():
    bad = read(20, None, damaged="text in a number")
    site = site_with(word(150), inspections=(stop(100, read(20, 4.0)), stop(120, bad)))
    assert current_lives(lives(site))[20].unknown_from_m == pytest.approx(180.0)


@pytest.mark.parametrize("position", [21, 999])
def test_words_for_places_without_a_sensor_are_let_be(position):
    assert lives(site_with(word(100, position=position)))
