"""What `log` would write, and which readings deserve a second look."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from wearplan import history
from wearplan.report.preview import before_writing, expected_band, limit_of, odd_readings, what_it_means, written
from wearplan.site.records import Fitting, Inspection, Measurement


@pytest.fixture(scope="module")
def current(answers):
    return history.current_lives(history.lives(answers.site))


@pytest.fixture(scope="module")
def read_place(answers, current):
    """A place whose tool was read and has some wear and some way left."""
    for number, life in current.items():
        last = life.last_reading
        if last and last.sound and last.wear_mm and 4 < last.wear_mm < limit_of(answers.site, number) - 6:
            return number
    raise AssertionError("no such place in the drive")


def inspection(answers, *measurements, fittings=()):
    site = answers.site
    return Inspection(
        id="x-1",
        ring=10,
        chainage_m=site.drive.chainage_m(answers.outlook.face_m),
        driven_m=answers.outlook.face_m,
        started_at=datetime(2026, 11, 20, tzinfo=UTC),
        mode="free air",
        measurements=tuple(measurements),
        fittings=tuple(fittings),
    )


def codes(answers, current, *measurements, fittings=(), outlook=True):
    found = odd_readings(
        answers.site,
        inspection(answers, *measurements, fittings=fittings),
        current,
        answers.outlook if outlook else None,
    )
    return [entry.code for entry in found]


def test_a_reading_as_expected_is_not_odd(answers, current, read_place):
    low, high = expected_band(answers.site, answers.outlook, read_place, None)
    assert codes(answers, current, Measurement(position=read_place, wear_mm=(low + high) / 2)) == []


def test_outside_the_band_either_way(answers, current, read_place):
    _, high = expected_band(answers.site, answers.outlook, read_place, None)
    beyond = Measurement(position=read_place, wear_mm=min(high + 0.3, limit_of(answers.site, read_place) - 0.1))
    assert codes(answers, current, beyond) == ["outside"]
    assert codes(answers, current, beyond, outlook=False) == []
    assert "outside" in codes(answers, current, Measurement(position=read_place, wear_above_mm=high + 0.5))
    method = current[read_place].last_reading.method
    fallen = codes(answers, current, Measurement(position=read_place, wear_below_mm=0.5, method=method))
    assert fallen == ["outside", "falling"]


def test_the_band_holds_ninety_nine_readings_in_a_hundred(answers, read_place):
    index = int(np.flatnonzero(answers.outlook.numbers == read_place)[0])
    sd = history.reading_sd_mm(history.gauging_of(answers.site.wheel, None))
    low, high = expected_band(answers.site, answers.outlook, read_place, None)
    rng = np.random.default_rng(3)
    wear = rng.choice(answers.outlook.wear_now_mm[:, index], 20_000) + rng.normal(0, sd, 20_000)
    assert ((wear >= low) & (wear <= high)).mean() == pytest.approx(0.99, abs=0.006)


def test_falling_wear_beyond_the_gauges_error(answers, current, read_place):
    last = current[read_place].last_reading
    fine = history.gauging_of(answers.site.wheel, last.method)
    allowed = history.allowed_fall_mm(fine, fine)
    for fall, odd in ((allowed + 0.1, True), (allowed - 0.1, False)):
        reading = Measurement(position=read_place, wear_mm=last.wear_mm - fall, method=last.method)
        assert ("falling" in codes(answers, current, reading)) == odd


def test_over_the_limit_yet_left(answers, current, read_place):
    limit = limit_of(answers.site, read_place)
    worn = Measurement(position=read_place, points_mm=(limit - 4.0, limit + 1.0))
    assert "left over limit" in codes(answers, current, worn)
    change = Fitting(position=read_place, action="change")
    assert "left over limit" not in codes(answers, current, worn, fittings=[change])


def test_trouble_left_in_place_and_unknown_places(answers, current, read_place):
    chipped = Measurement(position=read_place, wear_mm=5.0, condition="seized")
    assert codes(answers, current, chipped) == ["left in trouble"]
    assert codes(answers, current, Measurement(position=999, wear_mm=5.0)) == ["unknown place"]


def test_what_would_be_written_counts_what_was_not_read(answers, read_place):
    others = [place.number for place in answers.site.wheel.positions if place.number != read_place]
    record = inspection(
        answers,
        Measurement(position=read_place, wear_mm=5.0),
        Measurement(position=others[0], not_read="not reached"),
        fittings=[Fitting(position=read_place, action="change"), Fitting(position=others[1], action="change")],
    )
    total = len(answers.site.wheel.positions)
    lines = written(answers.site, record)
    assert (
        lines[0] == f"1 of {total} places read, 1 with a reason for not reading, {total - 2} not mentioned: NOT READ."
    )
    assert lines[1] == "Fittings: 2 change."


def test_what_it_means_names_the_tools_that_pass_their_limit_before_the_next_window(answers):
    before = answers.outlook
    after = replace(before, limit_mm=np.full_like(before.limit_mm, 1e-3))
    lines = what_it_means(answers.site, before, after)
    assert "more likely than not past the limit before" in lines[0]
    assert lines[1].startswith("New by this inspection: ")
    assert str(int(before.numbers[-1])) in lines[0]


def test_the_same_stop_twice_and_a_missing_method_are_told_before_writing(answers):
    """Written twice, a stop counts twice; a reading without a method is checked against the coarsest only."""
    stop = next(one for one in answers.site.inspections if one.measurements)
    again = replace(stop, id="again")
    (told,) = [line for line in before_writing(answers.site, again) if stop.id in line]
    assert f"ring {stop.ring}" in told
    assert not any(stop.id in line for line in before_writing(answers.site, replace(again, corrects=stop.id)))
    other = tuple(replace(one, position=9000 + one.position) for one in stop.measurements)
    assert not any(stop.id in line for line in before_writing(answers.site, replace(again, measurements=other)))

    bare = replace(again, ring=again.ring + 1, measurements=(Measurement(position=1, wear_mm=2.0),))
    (told,) = before_writing(answers.site, bare)
    assert told.startswith("1 reading without a method")
    known = Measurement(position=1, wear_mm=2.0, method="gauge")
    assert before_writing(answers.site, replace(bare, measurements=(known,))) == []
    unread = Measurement(position=1, not_read="not reached")
    assert before_writing(answers.site, replace(bare, measurements=(unread,))) == []
