"""Samples reduced to rings, held against a simulated machine whose true turns are known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.site.machine import log_lines, simulated
from wearplan.site.exports.mapping import MappingFile, SampleColumns, SampleTable
from wearplan.site.exports.sample_files import seconds_by_form, seconds_by_iso
from wearplan.site.exports.samples import read_samples
from wearplan.site.records import ChainageEquation, Drive

DRIVE = Drive(start_chainage_m=120.0, end_chainage_m=900.0, ring_length_m=1.5)
ARRAYS, TRUTH = simulated(6)
EVERY = np.ones(len(ARRAYS["ring"]), dtype=bool)
TEXT = log_lines(ARRAYS, EVERY)
PLACES = {
    "ring and chainage": ({"ring": "Ring", "chainage_m": "Chainage [m]"}, {}),
    "chainage alone": ({"chainage_m": "Chainage [m]"}, {"first_ring": 1, "first_start_chainage_m": 120.0}),
    "ring and stroke": ({"ring": "Ring", "stroke_m": "Stroke [mm]"}, {"first_start_chainage_m": 120.0}),
    "stroke alone": ({"stroke_m": "Stroke [mm]"}, {"first_ring": 1, "first_start_chainage_m": 120.0}),
}


def mapping(place: str = "ring and chainage", **more: object) -> MappingFile:
    columns, sampling = PLACES[place]
    return MappingFile(
        samples=SampleColumns(time="Time", rotation_rpm="Rotation [rpm]", thrust_kn="Thrust [MN]", **columns),
        sampling=SampleTable(**{**sampling, **more}),
    )


def reduced(tmp_path: Path, text: str, rules: MappingFile, drive: Drive = DRIVE, **more):
    path = tmp_path / "samples.csv"
    path.write_text(text)
    return read_samples(path, rules, drive, **more)


@pytest.mark.parametrize("place", PLACES)
def test_turns_and_places_are_those_of_the_machine(tmp_path: Path, place: str) -> None:
    read = reduced(tmp_path, TEXT, mapping(place))
    assert (read.faults, read.remarks) == ((), ())
    assert [row.ring for row in read.rows] == [1, 2, 3, 4, 5, 6]
    for row in read.rows:
        assert row.revolutions_boring == pytest.approx(TRUTH.boring[row.ring], rel=0.005)
        assert row.revolutions_idle == pytest.approx(TRUTH.idle[row.ring], abs=0.15)
        assert row.revolutions_ccw_share == pytest.approx(TRUTH.ccw[row.ring], abs=0.002)
        assert row.start_m == pytest.approx(TRUTH.start_m[row.ring], abs=0.0021)
        assert row.end_m - row.start_m == pytest.approx(1.5, abs=0.0021)
        assert row.thrust_kn == pytest.approx(12000, rel=0.002)
    assert [row.start_m for row in read.rows[1:]] == [row.end_m for row in read.rows[:-1]]


def test_decimal_commas_and_other_separators_change_nothing(tmp_path: Path) -> None:
    plain = reduced(tmp_path, TEXT, mapping())
    other = reduced(tmp_path, log_lines(ARRAYS, EVERY, decimal=",", separator=";"), mapping())
    assert other == plain


def test_date_and_time_of_day_in_two_columns_change_nothing(tmp_path: Path) -> None:
    head, *lines = TEXT.rstrip("\n").split("\n")
    at = head.split(",").index("Time")
    rows = [line.split(",") for line in lines]
    parted = [[*row[:at], *row[at].replace("T", " ").split(" "), *row[at + 1 :]] for row in rows]
    heads = [*head.split(",")[:at], "Date", "Time", *head.split(",")[at + 1 :]]
    text = "\n".join(",".join(row) for row in [heads, *parted]) + "\n"
    rules = mapping()
    assert rules.samples is not None
    two = rules.model_copy(update={"samples": rules.samples.model_copy(update={"date": "Date"})})
    assert reduced(tmp_path, text, two) == reduced(tmp_path, TEXT, rules)


def test_a_ring_may_begin_in_one_file_and_end_in_the_next(tmp_path: Path) -> None:
    whole = reduced(tmp_path, TEXT, mapping())
    early = np.arange(len(EVERY)) < 7000
    paths = [tmp_path / "b.csv", tmp_path / "a.csv"]
    paths[0].write_text(log_lines(ARRAYS, early))
    paths[1].write_text(log_lines(ARRAYS, ~early))
    parts = read_samples(paths[::-1], mapping(), DRIVE)  # given in the wrong order
    assert [row.revolutions_boring for row in parts.rows] == [row.revolutions_boring for row in whole.rows]


def test_unfinished_rings_are_left_out_and_named(tmp_path: Path) -> None:
    middle = (np.arange(len(EVERY)) > 800) & (np.arange(len(EVERY)) < 15600)
    read = reduced(tmp_path, log_lines(ARRAYS, middle), mapping())
    assert [row.ring for row in read.rows] == [2, 3, 4, 5]
    assert [remark.split(" is")[0] for remark in read.remarks] == ["ring 1", "ring 6"]


def test_a_gap_in_the_advance_leaves_the_turns_empty_and_keeps_the_place(tmp_path: Path) -> None:
    gap = ~((np.arange(len(EVERY)) > 6200) & (np.arange(len(EVERY)) < 6500))
    read = reduced(tmp_path, log_lines(ARRAYS, gap), mapping())
    assert [row.ring for row in read.rows] == [1, 2, 3, 4, 5, 6]
    third = read.rows[2]
    assert (third.revolutions_boring, third.revolutions_idle) == (None, None)
    assert third.end_m - third.start_m == pytest.approx(1.5, abs=0.002)
    assert "ring 3: samples are missing over 0.30 m" in read.remarks[0]
    assert all(row.revolutions_boring is not None for row in read.rows if row.ring != 3)


def test_a_gap_while_the_machine_stands_costs_nothing(tmp_path: Path) -> None:
    index = np.arange(len(EVERY)) % 3000
    read = reduced(tmp_path, log_lines(ARRAYS, ~((index > 2000) & (index < 2800))), mapping())
    assert read.remarks == ()
    assert [row.revolutions_boring for row in read.rows] == pytest.approx(
        [TRUTH.boring[row.ring] for row in read.rows], rel=0.005
    )


def test_bad_cells_spikes_and_a_clock_running_back(tmp_path: Path) -> None:
    lines = TEXT.splitlines()
    for at in (500, 501, 9000):
        cells = lines[at].split(",")
        lines[at] = ",".join([*cells[:4], "ERR", cells[5]])
    cells = lines[4000].split(",")
    lines[4000] = ",".join([*cells[:2], "9999.999", *cells[3:]])
    lines[700] = lines[700].split(",")[0]
    lines[9500] = "2025-11-1" + lines[9500][9:].replace(" ", "?", 1)
    lines[12000] = lines[11990]
    read = reduced(tmp_path, "\n".join(lines), mapping())
    assert [(fault.line, fault.place, fault.code) for fault in read.faults] == [(501, "Rotation [rpm]", "bad-cell")]
    assert read.faults[0].what.startswith("3 cells")
    for row in read.rows:
        assert row.revolutions_boring == pytest.approx(TRUTH.boring[row.ring], rel=0.01)
        assert row.end_m - row.start_m == pytest.approx(1.5, abs=0.0021)


def test_jitter_of_the_stroke_while_standing_is_no_boring(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    shaky = dict(ARRAYS, stroke=ARRAYS["stroke"] + rng.normal(0, 0.0007, len(EVERY)))
    read = reduced(tmp_path, log_lines(shaky, EVERY), mapping("stroke alone"))
    for row in read.rows:
        assert row.revolutions_boring == pytest.approx(TRUTH.boring[row.ring], rel=0.03)
        assert row.revolutions_idle == pytest.approx(TRUTH.idle[row.ring], abs=1.0)


def test_the_log_of_rings_says_where_the_first_one_began(tmp_path: Path) -> None:
    columns, _ = PLACES["ring and stroke"]
    rules = MappingFile(samples=SampleColumns(time="Time", rotation_rpm="Rotation [rpm]", **columns))
    read = reduced(tmp_path, TEXT, rules)
    assert read.rows == ()
    assert "where ring 1 began" in read.faults[0].what
    read = reduced(tmp_path, TEXT, rules, known_ends={0: 150.0})
    assert read.rows[0].start_chainage_m == 150.0


def test_a_falling_drive_with_an_equation(tmp_path: Path) -> None:
    drive = Drive(
        start_chainage_m=500.0, end_chainage_m=100.0, ring_length_m=1.5,
        equations=(ChainageEquation(back_m=497.0, ahead_m=490.0),),
    )  # fmt: skip
    lines = TEXT.splitlines()
    for at in range(1, len(lines)):
        cells = lines[at].split(",")
        cells[2] = f"{drive.chainage_m(float(cells[2]) - 120.0):.3f}"
        lines[at] = ",".join(cells)
    read = reduced(tmp_path, "\n".join(lines), mapping(), drive)
    assert [row.start_m for row in read.rows] == pytest.approx([1.5 * at for at in range(6)], abs=0.0021)
    assert read.rows[1].end_chainage_m == pytest.approx(497.0, abs=0.002)
    assert read.rows[2].end_chainage_m == pytest.approx(488.5, abs=0.002)


def test_decimal_commas_among_commas_are_not_taken_for_cells(tmp_path: Path) -> None:
    read = reduced(tmp_path, log_lines(ARRAYS, EVERY, decimal=","), mapping())
    assert read.rows == ()
    assert read.faults[0].code == "too-many-cells"


def test_thrust_may_say_what_is_boring(tmp_path: Path) -> None:
    read = reduced(tmp_path, TEXT, mapping(least_thrust_kn=20000.0))
    assert all(row.revolutions_boring == 0 for row in read.rows)
    assert all(row.revolutions_idle > 40 for row in read.rows)


def test_times_of_fixed_width() -> None:
    times = np.array(
        [b"2025-11-17T22:10:05", b"2025-11-17 22:10:05.250", b"2025-11-17T22:10:05+01:00", b"2025-13-17T00:00:00", b""]
    )
    seconds = seconds_by_iso(times.astype("S35"))
    whole = 1763417405.0
    assert seconds[:3].tolist() == [whole, whole + 0.25, whole]
    assert np.isnan(seconds[3:]).all()
    day_first = np.array([b"17.11.2025 22:10:05", b"31.11.2025 22:10:05", b"17.11.2025 22:10:05x"]).astype("S35")
    seconds = seconds_by_form(day_first, "%d.%m.%Y %H:%M:%S")
    assert seconds[0] == whole
    assert np.isnan(seconds[1:]).all()
