"""The story of a tool or a place, with the records it rests on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.history.small import RING_M, make_site, make_wheel, read, stop
from wearplan.history import tell_life
from wearplan.site.records import Fitting, Origin, SensorWord

FILE = "inspections/one.toml"


def here(line, file=FILE):
    return Origin(file, line)


def make():
    swap = Fitting(position=12, action="swap", reason="preventive", from_position=31, origin=here(20))
    change = Fitting(
        position=12,
        action="change",
        reason="damage",
        old_serial="D-1",
        old_to="rebuild",
        new_serial="D-2",
        origin=here(30, "inspections/two.toml"),
    )
    first = stop(100, read(12, 7.0, origin=here(5)), read(31, 16.0, origin=here(9)), fittings=(swap,))
    second = stop(
        150,
        read(12, 19.0, condition="chipped", origin=here(5, "inspections/two.toml")),
        read(31, 9.0),
        fittings=(change,),
    )
    third = stop(200, read(12, None, not_read="not reached"), read(31, 3.0))
    word = SensorWord(
        position=31,
        chainage_m=355.0,
        driven_m=170 * RING_M,
        ring=170,
        at=None,
        reported_mm=None,
        origin=here(2, "sensors.csv"),
    )
    wheel = make_wheel()
    positions = tuple(replace(p, sensor_mm=(12.0,)) if p.number == 31 else p for p in wheel.positions)
    return make_site(250, first, second, third, sensor_words=(word,), wheel=replace(wheel, positions=positions))


def test_a_place_is_told_tool_by_tool():
    account = tell_life(make(), position=12)
    assert [chapter.life.id for chapter in account.chapters] == ["12-1", "31-1", "12-2"]
    lines = [[(line.what, line.text) for line in chapter.lines] for chapter in account.chapters]
    assert lines[0] == [
        ("put on", "on the wheel when the drive began, taken as new"),
        ("read", "7.0 mm (gauge)"),
        ("moved", "swap (preventive) to 31"),
    ]
    assert lines[1] == [
        ("put on", "swap from 31"),
        ("read", "19.0 mm (gauge, chipped); after a trouble, says nothing of abrasion"),
        ("taken off", "change (damage), to rebuild"),
    ]
    assert lines[2][0] == ("put on", "change: disc-17 D-2 put on new")
    assert lines[2][1][0] == "not read"
    assert "chipped seen at 0+325.0, begun after 0+250.0" in account.chapters[1].remarks[0]


def test_a_tool_is_told_over_its_places_with_every_record():
    account = tell_life(make(), serial="D-1")
    (chapter,) = account.chapters
    assert [(line.position, line.what) for line in chapter.lines] == [
        (31, "put on"),
        (31, "read"),
        (31, "moved"),
        (12, "put on"),
        (12, "read"),
        (12, "taken off"),
    ]
    assert [str(o.line) + o.file for o in account.rests_on] == [
        f"9{FILE}",
        f"20{FILE}",
        "5inspections/two.toml",
        "30inspections/two.toml",
    ]
    assert chapter.lines[1].path_km == pytest.approx(chapter.life.readings[0].path_km.sum())


def test_doubts_and_sensor_words_are_told():
    chapter = tell_life(make(), position=31).chapters[-1]
    texts = [line.text for line in chapter.lines]
    assert "the sensor's line proved live" in texts
    assert any("doubted: 6.0 mm less wear than read at ring 150 before" in text for text in texts)


def test_a_replaced_record_is_shown_beside_its_correction():
    first = stop(100, read(20, 14.0, origin=here(7)))
    again = replace(stop(100, read(20, 4.0)), id="20250301T0600-abcd", corrects=first.id, reason="read at 21")
    account = tell_life(make_site(200, again, corrected=(first,)), position=20)
    texts = [(line.what, line.text) for line in account.chapters[0].lines]
    assert ("replaced record", f"first written as 14.0 mm; replaced by {again.id}: read at 21") in texts
    assert ("read", "4.0 mm (gauge)") in texts
    assert here(7) in account.rests_on


def test_damaged_records_are_told():
    bad = read(20, None, damaged="text in a number")
    chapter = tell_life(make_site(200, stop(100, bad)), position=20).chapters[0]
    assert ("damaged record", "text in a number: the place is unknown from here until it is read again") in [
        (line.what, line.text) for line in chapter.lines
    ]
    assert "unknown from 0+250.0" in chapter.remarks[0]


def test_no_record_of_a_place_is_left_out():
    blank = Fitting(position=20, action="blank")
    site = make_site(
        300,
        stop(100, read(20, 5.0), fittings=(blank,)),
        stop(200, read(20, None, not_read="not looked at", method=None, origin=here(3))),
    )
    account = tell_life(site, position=20)
    assert [(line.what, line.text) for line in account.others] == [("not read", "not looked at")]
    assert here(3) in account.rests_on
    assert tell_life(make(), position=12).others == ()


def test_unknown_names_are_refused_with_what_is_near():
    with pytest.raises(LookupError, match="near it: D-1"):
        tell_life(make(), serial="D-11")
    with pytest.raises(LookupError, match="no position 99; it has 1 to 40"):
        tell_life(make(), position=99)
    with pytest.raises(ValueError, match="either"):
        tell_life(make())
