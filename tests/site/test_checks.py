"""One thing spoilt at a time: its fault, its line, and which answers fall."""

# ruff: noqa: E501 - one case a line
from __future__ import annotations

import pytest

from tests.site.small_site import (
    ADVANCE,
    FIRST_FILE,
    GROUND_FILE,
    SECOND_FILE,
    by_code,
    changed,
    line_of,
    ring_line,
    spoilt,
    texts,
    write,
)
from wearplan.site import load
from wearplan.site.records import ANSWERS

ALL = ANSWERS
PLAN = ("plan", "demand")
NONE = ()

SITE, WHEEL, STOPS, STORES, RINGS = "site.toml", "wheel.toml", "stops.toml", "stores.toml", "advance.csv"

# file, what is exchanged, for what, code, part of the sentence, place, forbids
CASES = [
    (SITE, "ring_length_m", "ring_lenght_m", "unknown-key", 'did you mean "ring_length_m"?', "[drive] ring_lenght_m", ALL),
    (SITE, "ring_length_m = 1.5\n", "", "missing-key", "ring_length_m is missing", "[drive] ring_length_m", ALL),
    (SITE, "ring_length_m = 1.5", 'ring_length_m = "1.5"', "wrong-type", "write a number", "[drive] ring_length_m", ALL),
    (SITE, "ring_length_m = 1.5", "ring_length_m = nan", "out-of-range", "finite", "[drive] ring_length_m", ALL),
    (SITE, "ring_length_m = 1.5", "ring_length_m = inf", "out-of-range", "finite", "[drive] ring_length_m", ALL),
    (SITE, "ring_length_m = 1.5", "ring_length_m = 1e999", "out-of-range", "finite", "[drive] ring_length_m", ALL),
    (SITE, "ring_length_m = 1.5", "ring_length_m = true", "wrong-type", "write a number", "[drive] ring_length_m", ALL),
    (SITE, "ring_length_m = 1.5", "ring_length_m = 15", "out-of-range", "at most 5", "[drive] ring_length_m", ALL),
    (SITE, "ring_length_m = 1.5", "ring_length_m = 1,5", "not-toml", "is not TOML at column", "", ALL),
    (SITE, "working_days_per_week = 6", "working_days_per_week = 6.0", "wrong-type", "whole number", "[pace] working_days_per_week", ALL),
    (SITE, "2026-12-25", '"2026-12-25"', "wrong-type", "write a date", "[pace] holidays[1]", ALL),
    (SITE, "end_chainage_m = 400.0", "end_chainage_m = 100.0", "no-length", "no length", "[drive] end_chainage_m", ALL),
    (SITE, 'name = "Test drive"', "name = 7", "wrong-type", "text in quotes", "name", ALL),
    (SITE, 'name = "Test drive"', 'name = ""', "wrong-type", "write a name on one line", "name", ALL),
    (WHEEL, "track_radius_mm = 3480.0", "track_radius_mm = 3510.0", "beyond-bore", "3500 mm", "[[position]] track_radius_mm", ALL),
    (WHEEL, "number = 2", "number = 1", "doubled-position", "already in line 33", "[[position]] number", ALL),
    (WHEEL, 'zone = "gauge"', 'zone = "gage"', "unknown-word", 'did you mean "gauge"?', "[[position]] zone", ALL),
    (WHEEL, 'tool_type = "disc-17"\ntrack_radius_mm = 3480.0', 'tool_type = "disk-17"\ntrack_radius_mm = 3480.0', "unknown-tool-type", 'did you mean "disc-17"?', "[[position]] tool_type", ALL),
    (WHEEL, 'row = "S1"', 'row = "S2"', "unknown-row", 'did you mean "S1"?', "[[position]] row", PLAN),
    (WHEEL, "may_be_over = 1", "may_be_over = 2", "row-never-due", "never be due", "[[row]] may_be_over", PLAN),
    (WHEEL, "damage_limit_mm = 32.0", "damage_limit_mm = 20.0", "contradiction", "below the wear limit", "[[tool_type]] damage_limit_mm", ALL),
    (WHEEL, "diameter_mm = 432.0\n", "", "contradiction", "needs its diameter", "[[tool_type]] diameter_mm", ALL),
    (WHEEL, "price = 3200.0", 'price = "?"', "to-fill", "stands open", "[[tool_type]] price", PLAN),
    (WHEEL, "price = 500.0\n", "", "missing-key", "add it", "[[tool_type]] price", PLAN),
    (WHEEL, "rebuild_price = 1100.0\n", "", "contradiction", "rebuild_price", "[[tool_type]] rebuildable_share", PLAN),
    (WHEEL, 'code = "scraper"', 'code = "disc-17"', "doubled", "already in line 12", "[[tool_type]] code", ALL),
    (WHEEL, '"compressed air" = 2.5', '"compresed air" = 2.5', "unknown-word", 'did you mean "compressed air"?', "[[tool_type]] change_hours.compresed air", ALL),
    (WHEEL, "gauge = 0.05", "guage = 0.05", "unknown-word", 'did you mean "gauge"?', "[max_over_limit_probability] guage", ALL),
    (WHEEL, "gauge = 0.05", "gauge = 5", "out-of-range", "at most 1", "[max_over_limit_probability] gauge", ALL),
    (WHEEL, "shield_diameter_m = 6.94", "shield_diameter_m = 7.2", "diameters", "bore", "[wheel] shield_diameter_m", ALL),
    (WHEEL, 'tool_type = "disc-17"\ntrack_radius_mm = 350.0', 'tool_type = "scraper"\ntrack_radius_mm = 350.0', "housing-mixed", "one tool", "[[position]] tool_type", ALL),
    (WHEEL, "from_chainage_m = 250.0", "from_chainage_m = 2500.0", "outside-drive", "outside the drive", "[[layout_change]] from_chainage_m", ALL),
    (WHEEL, "position = 3", "position = 33", "unknown-position", "no position 33", "[[layout_change]] position", ALL),
    (WHEEL, "position = 3\n", "position = 3\nblanked = true\n", "contradiction", "say one thing", "[[layout_change]]", ALL),
    (WHEEL, "thickness_min_mm = 60.0", "thickness_min_mm = 90.0", "contradiction", "not below", "[[structure_point]] thickness_min_mm", ALL),
    (GROUND_FILE, "SG = 0.7", "SG = 0.6", "mix-sum", "0.900", "[[section]] mix", ALL),
    (GROUND_FILE, "SG = 0.7", "SQ = 0.7", "unknown-unit", 'did you mean "SG"?', "[[section]] mix", ALL),
    (GROUND_FILE, 'unit = "SG", top_m = 1.1', 'unit = "XY", top_m = 1.1', "unknown-unit", "[[unit]]", "[[section]] strata", ALL),
    (GROUND_FILE, "top_m = -2.0", "top_m = 2.0", "strata-order", "from the crown down", "[[section]] strata", ALL),
    (GROUND_FILE, 'unit = "CL" }, { unit = "SG"', 'unit = "CL", top_m = 3.0 }, { unit = "SG"', "strata-order", "crown", "[[section]] strata", ALL),
    (GROUND_FILE, "cut = false", "cut = true", "face", "one way", "[[section]]", ALL),
    (GROUND_FILE, "cut = false", "cut = false\nmix = { SG = 1.0 }", "face", "one way", "[[section]]", ALL),
    (GROUND_FILE, "from_chainage_m = 310.0", "from_chainage_m = 311.0", "section-gap", "a gap of 1.000 m", "[[section]] from_chainage_m", ALL),
    (GROUND_FILE, "to_chainage_m = 310.0", "to_chainage_m = 312.0", "section-overlap", "an overlap of 2.000 m", "[[section]] from_chainage_m", ALL),
    (GROUND_FILE, "to_chainage_m = 400.0", "to_chainage_m = 399.0", "section-gap", "1.000 m before the drive", "[[section]] to_chainage_m", ALL),
    (GROUND_FILE, "to_chainage_m = 220.0", "to_chainage_m = 90.0", "outside-drive", "outside", "[[section]] to_chainage_m", ALL),
    (GROUND_FILE, 'code = "CL"', 'code = "SG"', "doubled", "already", "[[unit]] code", ALL),
    (GROUND_FILE, "cai = 2.4", "cai = 240", "out-of-range", "at most 10", "[[unit]] cai", ALL),
    (GROUND_FILE, "factor = 2.5", "factor = 0.5", "out-of-range", "at least 1", "[[unit]] expected_rate[1].factor", ALL),
    (STOPS, "from_chainage_m = 180.0\nto_chainage_m = 186.0", "from_chainage_m = 186.0\nto_chainage_m = 180.0", "stretch-reversed", "rises", "[[window]] to_chainage_m", PLAN),
    (STOPS, "to_chainage_m = 340.0", "to_chainage_m = 440.0", "outside-drive", "outside the drive", "[[window]] to_chainage_m", PLAN),
    (STOPS, "from_chainage_m = 180.0\nto_chainage_m = 186.0", "from_chainage_m = 235.0\nto_chainage_m = 240.0", "window-in-keep-out", "lies inside", "[[window]] from_chainage_m", NONE),
    (STOPS, "to_chainage_m = 186.0", "to_chainage_m = 232.0", "window-in-keep-out", "partly inside", "[[window]] from_chainage_m", NONE),
    (STOPS, "pressure_bar = 1.1", "pressure_bar = 1.4", "no-entry-row", "reaches 1.4 bar", "[[window]] pressure_bar", NONE),
    (STOPS, "pressure_bar = 0.0\nsetup", "pressure_bar = 0.5\nsetup", "contradiction", "free air at 0.5 bar", "[[window]] pressure_bar", PLAN),
    (STOPS, "pressure_bar = 1.1", "pressure_bar = 110", "out-of-range", "at most 30", "[[window]] pressure_bar", PLAN),
    (STOPS, 'name = "block 4"', 'name = "shaft 3"', "doubled", "already in line 26", "[[window]] name", PLAN),
    (STOPS, 'mode = "compressed air"\nup_to_pressure_bar = 1.2', 'mode = "free air"\nup_to_pressure_bar = 0.0', "doubled", "which one is approved", "[[entry]] up_to_pressure_bar", PLAN),
    (STOPS, "late_tool = 18000.0", "late_tool = -1", "out-of-range", "at least 0", "[costs] late_tool", PLAN),
    (STOPS, "late_tool = 18000.0", "late_tool = 18000.0\nsetup_hours = 3.0", "unknown-key", "belong here but under [window]", "[costs] setup_hours", PLAN),
    (STORES, 'tool_type = "disc-17"', 'tool_type = "disc-71"', "unknown-tool-type", 'did you mean "disc-17"?', "[[stock]] tool_type", ("demand",)),
    (STORES, "due = 2026-04-20", 'due = "soon"', "wrong-type", "write a date", "[[stock]] on_order[1].due", ("demand",)),
    (STORES, "no_stockout_probability = 0.95", "no_stockout_probability = 95", "out-of-range", "below 1", "[service] no_stockout_probability", ("demand",)),
    (RINGS, "\n31,145.000", "\n31,145.200", "ring-gap", "a gap of 0.200 m", "start_chainage_m", NONE),
    (RINGS, "\n31,145.000", "\n31,144.900", "ring-overlap", "an overlap of 0.100 m", "start_chainage_m", NONE),
    (RINGS, ring_line(31) + "\n", "", "ring-missing", "ring 31 is missing", "ring", NONE),
    (RINGS, ring_line(31) + "\n" + ring_line(32) + "\n", "", "ring-missing", "rings 31-32 are missing", "ring", NONE),
    (RINGS, ring_line(31), ring_line(31) + "\n" + ring_line(31), "ring-doubled", "already in line 32", "ring", NONE),
    (RINGS, ring_line(31) + "\n" + ring_line(32), ring_line(32) + "\n" + ring_line(31), "ring-order", "ring 31 stands after", "ring", NONE),
    (RINGS, "thrust_kn", "trust_kn", "column-name", "did you mean thrust_kn?", "trust_kn", NONE),
    (RINGS, ",9000,", ",lots,", "bad-cell", '"lots" is no number', "thrust_kn", NONE),
    (RINGS, "ring,", "rings,", "bad-header", 'ring (did you mean "rings"?)', "header", ALL),
    (RINGS, "revolutions_boring", "revs", "bad-header", "revolutions_boring is missing", "header", ALL),
    (RINGS, "\n7,", "\nseven,", "ring-row-left-out", "no whole number", "ring", NONE),
    (FIRST_FILE, "position = 1\n", "position = 41\n", "unknown-position", "no position 41", "[[measurement]] position", NONE),
    (FIRST_FILE, "position = 5\naction", "position = 41\naction", "unknown-position", "no position 41", "[[fitting]] position", ALL),
    (FIRST_FILE, 'method = "gauge"', 'method = "guage"', "unknown-method", 'did you mean "gauge"?', "[[measurement]] method", NONE),
    (FIRST_FILE, "chainage_m = 130.0", "chainage_m = 150.0", "ring-and-chainage", "128.500 to 130.000", "ring", NONE),
    (FIRST_FILE, "chainage_m = 130.0", "chainage_m = 1300.0", "outside-drive", "outside the drive", "chainage_m", ALL),
    (FIRST_FILE, "ended_at = 2025-11-10", "ended_at = 2025-11-08", "ended-before-started", "before started_at", "ended_at", NONE),
    (FIRST_FILE, "number = 1", 'number = "one"', "wrong-type", "whole number", "number", NONE),
    (FIRST_FILE, "number = 1", "nubmer = 1", "unknown-key", 'did you mean "number"?', "nubmer", ALL),
    (FIRST_FILE, 'point = "rim-1"', 'point = "rim-2"', "unknown-point", 'did you mean "rim-1"?', "[[structure]] point", NONE),
    (FIRST_FILE, "+01:00\nended_at", "\nended_at", "no-offset", "UTC", "started_at", NONE),
    (FIRST_FILE, "ring = 20", "ring = 200", "ring-beyond-log", "last ring of advance.csv (60)", "ring", NONE),
    (SECOND_FILE, "wear_mm = 6.0", "wear_mm = 1.0", "falling-wear", "3.5 mm were read in 20251110T0640-aaaa", "[[measurement]] wear_mm", NONE),
    ("sensors.csv", "reported 12.0", "reportd 12.0", "sensor-row", "no word of a sensor", "word", ALL),
    ("sensors.csv", "reported 12.0", "reported 13.0", "sensor-level", "sensors at 12 mm", "word", NONE),
    ("sensors.csv", "3,170.0", "1,170.0", "sensor-none", "no sensor_mm", "position", NONE),
    ("sensors.csv", "3,170.0", "9,170.0", "sensor-row", "no position 9", "position", ALL),
    ("sensors.csv", ",ring,", ",rnig,", "unknown-column", 'did you mean "ring"?', "rnig", NONE),
    ("sensors.csv", "10:00:00+01:00", "10:00:00", "no-offset", "UTC", "at", NONE),
    ("events.csv", ",note", ",remark", "unknown-column", "known:", "remark", NONE),
    (WHEEL, '"free air" = 0.5, "compressed air" = 1.0', '"free air" = 0.5', "no-change-hours", "no hours for compressed air", "[[tool_type]] change_hours", NONE),
    (STORES, 'tool_type = "scraper"', 'tool_type = "disc-17"', "doubled", "already", "[[stock]] tool_type", ("demand",)),
    ("events.csv", "141.0", "1410", "event-row", "outside the drive", "", NONE),
]  # fmt: skip


@pytest.mark.parametrize(
    ("file", "old", "new", "code", "part", "place", "forbids"),
    CASES,
    ids=[f"{c[0]}:{c[3]}:{c[2][:24]!r}" for c in CASES],
)
def test_fault(tmp_path, file, old, new, code, part, place, forbids):
    found = by_code(spoilt(tmp_path, file, old, new), code)
    assert found, "no such fault"
    fault = next((fault for fault in found if part in fault.what), None)
    assert fault is not None, [str(fault) for fault in found]
    assert (fault.file, fault.place, fault.forbids) == (file, place, forbids)
    before = texts()[file].split(old)[0].count("\n") + 1
    changed_lines = range(before, before + max(old.count("\n"), new.count("\n")) + 4)
    # a fault of a table is told at its header, of a pair at the other one: within the neighbourhood of the change
    assert fault.line in range(before - 8, changed_lines[-1] + 8), fault


def test_the_line_is_the_key_s_own(tmp_path):
    fault = by_code(spoilt(tmp_path, "wheel.toml", "tilt_deg = 60.0", 'tilt_deg = "steep"'), "wrong-type")[0]
    assert fault.line == line_of(texts()["wheel.toml"], "tilt_deg")
    assert str(fault).startswith(f"wheel.toml:{fault.line}: [[position]] tilt_deg: ")


def test_all_faults_of_all_files_at_once(tmp_path):
    files = texts()
    spoil = {
        "site.toml": ("advance_m_per_day = 12.0", "advance_m_per_day = 0"),
        "wheel.toml": ("number = 5", "number = 4"),
        GROUND_FILE: ("to_chainage_m = 310.0", "to_chainage_m = 312.0"),
        "stops.toml": ("to_chainage_m = 340.0", "to_chainage_m = 440.0"),
        "stores.toml": ("on_hand = 14", 'on_hand = "many"'),
        "advance.csv": ("\n31,", "\nx,"),
        FIRST_FILE: ("wear_mm = 3.5", "wear_mm = nan"),
        SECOND_FILE: ("wear_mm = 6.0", ""),
        "sensors.csv": ("reported", "said"),
        "events.csv": ("141.0", "a"),
    }
    for file, (old, new) in spoil.items():
        assert old in files[file]
        files[file] = files[file].replace(old, new, 1)
    loaded = load(write(tmp_path, files))
    assert {fault.file for fault in loaded.faults} == set(files)
    assert loaded.site is None


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("\n31,145.000,146.500", "\n31,145.000,14.650"),
        ("\n31,145.000,146.500", "\n31,145.000,"),
        ("\n31,145.000,146.500", "\n31,145.000,155.500"),
        ("\n31,145.000,146.500", '\n31,"145.000,146.500'),
        (ring_line(31), ring_line(31)[:40]),
        (ring_line(31), ring_line(31).replace("66.0", "NaN")),
        (ring_line(31), ring_line(31).replace("66.0", "-66.0")),
        (ring_line(31), ring_line(31).replace("66.0", "6_6")),
        (ring_line(31), ring_line(31).replace("66.0", "")),
        (ring_line(31), ring_line(31).replace("0.5", "1.5")),
        (ring_line(31), ring_line(31) + ",,"),
    ],
)
def test_damaged_ring_row_is_kept_named_and_forbids_nothing(tmp_path, old, new):
    loaded = spoilt(tmp_path, "advance.csv", old, new)
    faults = by_code(loaded, "ring-damaged")
    assert [fault.line for fault in faults] == [32]
    assert not any(fault.forbids for fault in loaded.faults)
    damaged = [row for row in loaded.site.rings if row.damaged]
    assert [row.ring for row in damaged] == [31]
    assert len(loaded.site.rings) == 60
    assert damaged[0].damaged in faults[0].what


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("wear_mm = 3.5", "wear_mm = nan"),
        ("wear_mm = 3.5", 'wear_mm = "3.5"'),
        ("wear_mm = 3.5", "wear_mm = -3.5"),
        ("wear_mm = 3.5", "wear_mm = 3500"),
        ("wear_mm = 3.5", "wear_mn = 3.5"),
        ("wear_mm = 3.5", 'wear_mm = 3.5\nnot_read = "not reached"'),
        ("wear_mm = 3.5\n", ""),
        ("wear_mm = 3.5", "points_mm = []"),
        ("wear_mm = 3.5", "wear_mm = true"),
        ('condition = "even"', 'condition = "evn"'),
        ("position = 1\nwear_mm", 'position = "1"\nwear_mm'),
    ],
)
def test_damaged_measurement_is_kept_named_and_forbids_nothing(tmp_path, old, new):
    loaded = spoilt(tmp_path, FIRST_FILE, old, new)
    assert loaded.faults
    assert not any(fault.forbids for fault in loaded.faults)
    first = loaded.site.inspections[0]
    assert [reading.position for reading in first.measurements] == [1, 2, 3, 4, 5]
    assert [bool(reading.damaged) for reading in first.measurements] == [True, False, False, False, False]
    assert first.measurements[0].mean_mm is None or first.measurements[0].damaged


def test_place_read_twice_in_a_record(tmp_path):
    loaded = spoilt(tmp_path, FIRST_FILE, "position = 2\n", "position = 1\n")
    assert [bool(reading.damaged) for reading in loaded.site.inspections[0].measurements] == [False, True, *[False] * 3]
    assert by_code(loaded, "doubled-reading")[0].forbids == ()


@pytest.mark.parametrize(
    ("new", "part"),
    [
        ('action = "move"\nfrom_position = 5', "from the same position"),
        ('action = "change"\nfrom_position = 4', "has no from_position"),
        ('action = "chnge"', ""),
        ('action = "change"\nnew_tool_type = "disc"', 'no [[tool_type]] "disc"'),
    ],
)
def test_damaged_fitting_is_kept_named_and_forbids_nothing(tmp_path, new, part):
    loaded = spoilt(tmp_path, FIRST_FILE, 'action = "change"', new)
    assert loaded.faults
    assert not any(fault.forbids for fault in loaded.faults)
    (fitting,) = loaded.site.inspections[0].fittings
    assert fitting.position == 5
    assert fitting.damaged
    assert part in fitting.damaged


def test_swap_may_be_listed_from_both_sides(tmp_path):
    both = 'from_position = 2\n\n[[fitting]]\nposition = 2\naction = "swap"\nfrom_position = 1\n'
    loaded = spoilt(tmp_path, SECOND_FILE, "from_position = 2\n", both)
    assert loaded.faults == ()
    assert not any(fitting.damaged for fitting in loaded.site.inspections[1].fittings)


def test_place_fitted_twice_in_a_record_is_damaged(tmp_path):
    twice = 'action = "change"\n\n[[fitting]]\nposition = 5\naction = "blank"'
    loaded = spoilt(tmp_path, FIRST_FILE, 'action = "change"', twice)
    assert [bool(fitting.damaged) for fitting in loaded.site.inspections[0].fittings] == [False, True]


@pytest.mark.parametrize(
    ("new", "position", "forbids"),
    [
        ('action = "swap"\nfrom_position = "4"', 4, NONE),
        ('action = "swp"\nfrom_position = 4', 4, NONE),
        ('action = "move"\nfrom_position = 4\nnew_rebuilds = -1', 4, NONE),
        ('action = "move"', None, ALL),
        ('action = "move"\nfrom_positon = 4', None, ALL),
        ('action = "swap"\nfrom_position = "there"', None, ALL),
        ('action = "swap"\nfrom_position = 77', 77, ALL),
    ],
)
def test_damaged_move_makes_both_places_unknown(tmp_path, new, position, forbids):
    """Where the other place cannot be told, some place is not as the records have it: that forbids."""
    loaded = spoilt(tmp_path, FIRST_FILE, 'action = "change"', new)
    (fitting,) = loaded.site.inspections[0].fittings
    assert fitting.damaged
    assert fitting.from_position == position
    assert {fault.forbids for fault in by_code(loaded, "no-source")} == ({ALL} if forbids else set())
    assert any(fault.forbids for fault in loaded.faults) == bool(forbids)


def test_wear_that_falls_is_judged_by_tool_and_gauge(tmp_path):
    """After a swap the lower wear is the other tool's; a fall within the gauge's error is none."""
    third = texts()[SECOND_FILE].replace("bbbb", "cccc").replace("ring = 40", "ring = 50").replace("160.0", "175.0")
    third = third[: third.index("[[fitting]]")]
    files = texts()
    swapped = third.replace("wear_mm = 6.0", "wear_mm = 8.5").replace("wear_mm = 8.0", "wear_mm = 5.5")
    files["inspections/20251118T0640-cccc.toml"] = swapped
    assert load(write(tmp_path / "swapped", files)).faults == ()
    files["inspections/20251118T0640-cccc.toml"] = swapped.replace("wear_mm = 8.5", "wear_mm = 6.5")
    assert load(write(tmp_path / "within", files)).faults == ()
    files["inspections/20251118T0640-cccc.toml"] = swapped.replace("wear_mm = 8.5", "wear_mm = 5.0")
    (fault,) = load(write(tmp_path / "fallen", files)).faults
    assert (fault.code, "position 1" in fault.what) == ("falling-wear", True)


def test_falling_wear_is_measured_as_the_history_measures_it():
    from wearplan.history import allowed_fall_mm
    from wearplan.site.records import Gauging
    from wearplan.site.stopbook.falling import may_fall_mm

    coarse, fine = Gauging(method="a", sd_mm=2.5, step_mm=5.0), Gauging(method="b", sd_mm=0.3, step_mm=0.1)
    for pair in ((coarse, coarse), (coarse, fine), (fine, fine)):
        assert may_fall_mm(*pair) == pytest.approx(allowed_fall_mm(*pair))


def test_thirds_are_taken_for_one(tmp_path):
    loaded = spoilt(tmp_path, GROUND_FILE, "SG = 0.7, CL = 0.3", "SG = 0.333, CL = 0.666")
    assert loaded.faults == ()
    assert sum(loaded.site.ground().sections[0].mix.values()) == pytest.approx(1.0, abs=1e-15)


def test_older_ground_at_fault_falls_out_of_backtests_only(tmp_path):
    files = texts()
    files["ground/0002-mapping.toml"] = files[GROUND_FILE].replace("2025-03-01", "2025-09-01")
    files[GROUND_FILE] = files[GROUND_FILE].replace("SG = 0.7", "SG = 0.6")
    loaded = load(write(tmp_path, files))
    assert [fault.forbids for fault in loaded.faults] == [("backtest",)]
    assert len(loaded.site.grounds) == 1


def test_faults_that_forbid_leave_the_part_out(tmp_path):
    loaded = spoilt(tmp_path / "a", "stops.toml", "late_tool = 18000.0", "late_tool = -1")
    assert loaded.site.stops is None
    assert loaded.site.forbidding("plan")
    assert not loaded.site.forbidding("rates")
    loaded = spoilt(tmp_path / "b", "stores.toml", "on_hand = 14", "on_hand = -1")
    assert loaded.site.stores is None
    assert loaded.site.stops is not None


def test_rings_of_a_finished_drive(tmp_path):
    rings = ADVANCE + "".join(ring_line(ring) + "\n" for ring in range(61, 201))
    loaded = changed(tmp_path, advance__csv=rings)
    assert [fault.code for fault in loaded.faults] == ["drive-finished"]
    assert loaded.faults[0].forbids == ()


def test_tool_type_that_the_store_does_not_list_is_named(tmp_path):
    loaded = spoilt(tmp_path, "stores.toml", '[[stock]]\ntool_type = "scraper"\non_hand = 3\n', "")
    (fault,) = loaded.faults
    assert (fault.code, fault.forbids) == ("no-stock", ())
    assert '"scraper"' in fault.what


def test_doubled_ring_with_other_figures_says_so(tmp_path):
    other = ring_line(31).replace("66.0", "99.0")
    loaded = spoilt(tmp_path, "advance.csv", ring_line(31), ring_line(31) + "\n" + other)
    assert "other figures" in by_code(loaded, "ring-doubled")[0].what


@pytest.mark.parametrize(("wear", "possible"), [("150.0", True), ("215.0", True), ("217.0", False), ("999.0", False)])
def test_wear_beyond_the_radius_of_a_disc_is_damaged(tmp_path, wear, possible):
    loaded = spoilt(tmp_path, FIRST_FILE, "wear_mm = 3.5", f"wear_mm = {wear}")
    assert (loaded.site.inspections[0].measurements[0].damaged is None) == possible
    assert bool(by_code(loaded, "impossible-wear")) != possible


def test_stop_told_twice_by_two_people(tmp_path):
    files = texts()
    again = texts()[FIRST_FILE].replace("20251110T0640-aaaa", "20251110T0655-zzzz")
    files["inspections/20251110T0655-zzzz.toml"] = again
    (fault,) = by_code(load(write(tmp_path, files)), "stop-told-twice")
    assert fault.forbids == ()
    assert "position 1, 2, 4;" in fault.what


def test_layout_changes_blank_and_add(tmp_path):
    new = "blanked = true\n\n[[layout_change]]\nfrom_chainage_m = 280.0\nposition = 3\nadded = true\n"
    loaded = spoilt(tmp_path, "wheel.toml", 'position = 3\ntool_type = "scraper"\n', f"position = 3\n{new}")
    assert loaded.faults == ()
    assert [(c.from_m, c.blanked, c.added) for c in loaded.site.wheel.layout_changes] == [
        (150.0, True, False),
        (180.0, False, True),
    ]
