"""What was known when."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from tests.history.small import START, make_ground, make_site, read, ring, stop
from wearplan.history import as_of, face_m, lives
from wearplan.site.records import Event, SensorWord

STOPS = (stop(100, read(20, 4.0)), stop(200, read(20, 8.0)), stop(300, read(20, 12.0)))


def make(**changes):
    later = make_ground(known_on=(START + timedelta(days=30)).date())
    return make_site(400, *STOPS, grounds=(make_ground(), later), **changes)


def test_only_what_had_happened_by_then():
    words = tuple(
        SensorWord(position=20, chainage_m=100 + m, driven_m=m, ring=None, at=None, reported_mm=5.0) for m in (100, 400)
    )
    events = tuple(Event(chainage_m=100 + m, driven_m=m, ring=None, at=None, kind="boulder") for m in (100, 400))
    then = as_of(make(sensor_words=words, events=events), STOPS[1].id)
    assert [each.ring for each in then.inspections] == [100, 200]
    assert face_m(then) == pytest.approx(300.0)
    assert (len(then.rings), len(then.sensor_words), len(then.events)) == (200, 1, 1)
    # the second ground was known a month into the drive, the second stop was on day 25
    assert len(then.grounds) == 1
    assert len(as_of(make(), STOPS[2].id).grounds) == 2


def test_by_metres_and_by_date():
    then = as_of(make(), 310.0, date(2030, 1, 1))
    assert len(then.inspections) == 2
    assert len(then.grounds) == 2
    assert face_m(then) == pytest.approx(309.0)
    assert as_of(make(), 0.0).inspections == ()


def test_a_ground_not_yet_known_is_not_known():
    assert as_of(make(), STOPS[0].id, date(2020, 1, 1)).grounds == ()


def test_a_record_corrected_later_stands_as_first_written():
    first = stop(100, read(20, 14.0))
    correction = replace(stop(100, read(20, 4.0)), id="20250220T0600-fixd", corrects=first.id, reason="a slip")
    site = make_site(400, correction, *STOPS[1:], corrected=(first,))
    assert as_of(site, STOPS[1].id).inspections[0].measurements[0].wear_mm == 14.0
    assert as_of(site, 600.0, date(2025, 3, 1)).inspections[0].measurements[0].wear_mm == 4.0
    # asked by the correction's own id, it stands itself
    assert as_of(site, correction.id).inspections[0].measurements[0].wear_mm == 4.0


def test_damaged_ring_rows_go_with_their_number():
    rows = tuple(ring(n, start_m=None, end_m=None, damaged="x") if n in (150, 250) else ring(n) for n in range(1, 401))
    then = as_of(make(rings=rows), STOPS[1].id)
    assert [row.ring for row in then.rings if row.damaged] == [150]


def test_lives_of_the_past_are_those_of_the_present_cut_off():
    now = next(life for life in lives(make()) if life.id == "20-1")
    then = next(life for life in lives(as_of(make(), STOPS[1].id)) if life.id == "20-1")
    assert [r.wear_mm for r in then.readings] == [r.wear_mm for r in now.readings][:2]
    assert then.readings[1].path_km == pytest.approx(now.readings[1].path_km)


def test_an_unknown_inspection_is_refused():
    with pytest.raises(KeyError):
        as_of(make(), "nobody")
