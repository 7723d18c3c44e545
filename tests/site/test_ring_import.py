"""Machines' exports of every make-up become the same ring rows."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.site.crew import small_site
from tests.site.machine import log_lines, simulated
from wearplan.site.exports.guess import propose_mapping
from wearplan.site.exports.mapping import MappingFile, RingColumns, SampleColumns, read_mapping
from wearplan.site.exports.rings import own_mapping, read_rings
from wearplan.site.exports.samples import read_samples
from wearplan.site.parse.delimited import decimal_of, decoded, moment, number, rows_of, separator_of
from wearplan.site.records import ChainageEquation, Drive
from wearplan.site.write.appending import append_rings

DRIVE = Drive(start_chainage_m=100.0, end_chainage_m=400.0, ring_length_m=1.5)
CET = timezone(timedelta(hours=1))
GERMAN_MAPPING = """\
[file]
encoding = "cp1252"
[time]
form = "%d.%m.%Y %H:%M:%S"
offset = "+01:00"
[columns]
ring = "Ring Nr."
end_chainage_m = { head = "Station Ende", add = 9.5 }
advance_m = { head = "Hub", unit = "mm" }
finished_on = "Datum"
finished_at = "Zeit"
rotation_rpm = "Drehzahl [1/min]"
boring_minutes = { head = "Bohrzeit", unit = "s" }
revolutions_total = "Umdrehungen gesamt"
revolutions_ccw = "davon links"
thrust_kn = "Vorschub [MN]"
face_pressure_bar = { head = "Stützdruck", unit = "kPa" }
regime = "Modus"
[extra]
slurry = "Fluss"
[regimes]
A = "closed"
"""
GERMAN = """\
Maschine 1;;;;
Ring Nr.;Station Ende;Hub;Datum;Zeit;Drehzahl [1/min];Bohrzeit;Umdrehungen gesamt;davon links;Vorschub [MN];\
Stützdruck;Modus;Fluss
-;m;mm;;;1/min;s;-;-;MN;kPa;;m3/h
1;92,000;1500;17.11.2025;22:10:00;-2,1;2.400,0;90,5;45,25;12,50;185;A;1,5
2;93,500;1500;17.11.2025;23:10:00;2,1;2400;88;0;12,50;;B;
"""


def export(tmp_path: Path, content: str | bytes, mapping: str, drive: Drive = DRIVE):
    file, rules = tmp_path / "export.csv", tmp_path / "mapping.toml"
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    rules.write_text(mapping)
    found, faults = read_mapping(rules)
    assert not faults
    return read_rings(file, found, drive)


def test_other_heads_units_signs_dates_and_encodings(tmp_path: Path) -> None:
    read = export(tmp_path, GERMAN.encode("cp1252"), GERMAN_MAPPING)
    assert read.faults == ()
    first, second = read.rows
    assert (first.ring, first.start_chainage_m, first.end_chainage_m) == (1, 100.0, 101.5)
    assert first.finished_at == datetime(2025, 11, 17, 22, 10, tzinfo=CET)
    assert first.revolutions_boring == pytest.approx(2.1 * 40)
    assert first.revolutions_idle == pytest.approx(90.5 - 84)
    assert first.revolutions_ccw_share == pytest.approx(0.5)
    assert (first.thrust_kn, first.face_pressure_bar, first.regime) == (12500.0, 1.85, "closed")
    assert first.extra == {"slurry": "1.5"}
    assert (second.face_pressure_bar, second.regime, second.extra) == (None, "B", {})
    assert (second.start_m, second.end_m) == (1.5, 3.0)


def test_an_import_run_twice_adds_nothing_twice(tmp_path: Path) -> None:
    site = small_site(tmp_path / "site")
    (site / "advance.csv").unlink()
    read = export(tmp_path, GERMAN.encode("cp1252"), GERMAN_MAPPING)
    assert append_rings(site, read.rows).added == 2
    before = (site / "advance.csv").read_bytes()
    again = append_rings(site, read.rows)
    assert (again.added, again.already, again.remarks) == (0, 2, ())
    assert (site / "advance.csv").read_bytes() == before


def test_our_own_columns_need_no_mapping(tmp_path: Path) -> None:
    file = tmp_path / "own.tsv"
    file.write_text("ring\tstart_chainage_m\tend_chainage_m\trevolutions_boring\tregime\n7\t109\t110.5\t66.5\tnormal\n")
    (row,) = read_rings(file, own_mapping(), DRIVE).rows
    assert (row.ring, row.start_m, row.end_m, row.revolutions_boring, row.regime) == (7, 9.0, 10.5, 66.5, "normal")
    assert row.revolutions_idle is None


def test_every_bad_cell_is_named_and_left_empty(tmp_path: Path) -> None:
    content = (
        "Ring,From,To,Turns,End\n"
        "1,100,101.5,66.5,2025-11-17T22:10:00Z\n"
        "2,101.5,103,many,2025-11-17T23:10:00Z\n"
        "three,103,104.5,66.5,\n"
        "4,,,66.5,\n"
        "5,107.5,106,66.5,\n"
        "6,107.5,109,-3,yesterday\n"
        "7,9107.5,9109,3,\n"
    )
    mapping = """\
[columns]
ring = "Ring"
start_chainage_m = "From"
end_chainage_m = "To"
revolutions_boring = "Turns"
finished_at = "End"
"""
    read = export(tmp_path, content, mapping)
    assert [row.ring for row in read.rows] == [1, 2, 6]
    assert [row.revolutions_boring for row in read.rows] == [66.5, None, None]
    assert read.rows[0].finished_at == datetime(2025, 11, 17, 22, 10, tzinfo=UTC)
    told = [(fault.line, fault.place, fault.code) for fault in read.faults]
    assert told == [
        (3, "Turns", "bad-cell"),
        (4, "Ring", "no-ring"),
        (5, "From", "no-place"),
        (6, "To", "bad-place"),
        (7, "Turns", "bad-cell"),
        (7, "End", "bad-cell"),
        (8, "To", "bad-place"),
    ]


def test_a_falling_drive_with_an_equation(tmp_path: Path) -> None:
    drive = Drive(
        start_chainage_m=400.0, end_chainage_m=100.0, ring_length_m=1.5,
        equations=(ChainageEquation(back_m=398.0, ahead_m=390.0),),
    )  # fmt: skip
    content = "Ring;End\n1;398,5\n2;389,0\n"
    read = export(tmp_path, content, '[columns]\nring = "Ring"\nend_chainage_m = "End"\n', drive)
    assert [(row.start_m, row.end_m, row.start_chainage_m) for row in read.rows] == [
        (0.0, 1.5, 400.0),
        (1.5, 3.0, 398.5),
    ]


def test_a_wrong_head_is_answered_with_those_that_are_there(tmp_path: Path) -> None:
    read = export(
        tmp_path, "Ring No,Chainage end\n1,101.5\n", '[columns]\nring = "Ring"\nend_chainage_m = "Chainage end"\n'
    )
    assert read.rows == ()
    (fault,) = read.faults
    assert (fault.line, fault.code) == (1, "no-column")
    assert '"Ring No"' in fault.what


@pytest.mark.parametrize(
    ("mapping", "told"),
    [
        ('[columns]\nringg = "x"\nstart_chainage_m = "y"\n', "did you mean"),
        ('[columns]\nring = "x"\n', "no ring has a place"),
        ("", "[columns]"),
        ('[columns]\nring = "x"\nend_chainage_m = "y"\n[time]\noffset = "one"\n', "no offset"),
        ("[columns\n", "is not TOML"),
    ],
)
def test_a_mapping_is_checked(tmp_path: Path, mapping: str, told: str) -> None:
    rules = tmp_path / "mapping.toml"
    rules.write_text(mapping)
    found, faults = read_mapping(rules)
    assert found is None
    assert any(told in str(fault) for fault in faults)


def test_decimal_commas_among_commas_are_not_taken_for_cells(tmp_path: Path) -> None:
    read = export(tmp_path, "R,E,T\n1,101,5,66,5\n", '[columns]\nring = "R"\nend_chainage_m = "E"\n')
    assert read.rows == ()
    assert read.faults[0].code == "too-many-cells"


def test_an_unknown_unit_is_refused(tmp_path: Path) -> None:
    mapping = '[columns]\nring = "R"\nend_chainage_m = "E"\nthrust_kn = { head = "T", unit = "bar" }\n'
    read = export(tmp_path, "R,E,T\n1,101.5,3\n", mapping)
    assert read.rows == ()
    assert "no unit of thrust_kn" in read.faults[0].what


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("1,5", ",", 1.5), ("1.234,5", ",", 1234.5), ("1 234,5", ",", 1234.5), ("1.5", ",", 1.5), ("-0,25", ",", -0.25),
        ("1,234.5", ".", 1234.5), ("1'234.5", ".", 1234.5), ("1e3", ".", 1000.0), ("−2", ".", -2.0), (".5", ".", 0.5),
    ],
)  # fmt: skip
def test_numbers_as_people_write_them(text: str, decimal: str, value: float) -> None:
    assert number(text, decimal) == value


@pytest.mark.parametrize("text", ["", "x", "1,2,3", "nan", "inf", "1e999", "0x10", "1.2.3", "--1", "١"])
def test_what_is_no_number(text: str) -> None:
    with pytest.raises(ValueError, match="is no number"):
        number(text, ".")


@given(st.floats(-1e9, 1e9).map(lambda value: round(value, 3)))
def test_a_number_is_read_alike_with_either_sign(value: float) -> None:
    assert number(f"{value:.3f}") == number(f"{value:.3f}".replace(".", ","), ",") == value
    assert number(f"{value:,.3f}") == value


@given(st.text(max_size=200), st.sampled_from(";,|\t"))
def test_any_text_makes_rows_of_a_kind(text: str, separator: str) -> None:
    for row in rows_of(text, separator):
        assert row.line >= 1
        assert any(row.cells)


def test_what_a_table_is_made_of_is_seen() -> None:
    assert separator_of("a;b;c\n1,5;2,5;3\n") == ";"
    assert separator_of("title\n\na\tb\n1,5\t2\n") == "\t"
    assert separator_of("a,b\n1.5,2\n") == ","
    assert decimal_of(["1,5", "2", "x"], ";") == ","
    assert decimal_of(["1.5", "2", "x"], ";") == "."
    assert decoded("ä".encode("utf-16")) == decoded("ä".encode()) == decoded("ä".encode("cp1252")) == "ä"
    assert moment("2025-11-17 22:10", offset="+01:00") == datetime(2025, 11, 17, 22, 10, tzinfo=CET)


def test_a_mapping_is_proposed_from_the_heads_and_works(tmp_path: Path) -> None:
    file, rules = tmp_path / "export.csv", tmp_path / "mapping.toml"
    file.write_text(
        "Report;;;\nRing No.;Chainage start [m];Chainage end [m];End of ring;Revolutions;Idle revolutions;"
        "Thrust [MN];x\n"
        "1;100,0;101,5;17.11.2025 22:10:00;66,5;3;12,5;1\n2;101,5;103,0;17.11.2025 23:10:00;60,5;2;12,5;1\n"
    )
    text = propose_mapping(file)
    assert text is not None
    rules.write_text(text)
    found, faults = read_mapping(rules)
    assert not faults
    read = read_rings(file, found, DRIVE)
    assert read.faults == ()
    second = read.rows[1]
    assert (second.ring, second.start_m, second.end_m) == (2, 1.5, 3.0)
    assert (second.revolutions_boring, second.revolutions_idle, second.thrust_kn) == (60.5, 2.0, 12500.0)
    assert second.finished_at == datetime(2025, 11, 17, 23, 10)


def test_an_end_in_metres_is_a_place(tmp_path: Path) -> None:
    file = tmp_path / "export.csv"
    file.write_text("Ring;From (m);End [m];End\n1;100;101,5;2025-11-17T22:10:00Z\n")
    lines = propose_mapping(file).splitlines()
    assert lines[1:] == [
        "[columns]",
        'ring = "Ring"',
        'start_chainage_m = "From (m)"',
        'end_chainage_m = "End [m]"',
        'finished_at = "End"',
    ]


def test_samples_are_told_from_rings(tmp_path: Path) -> None:
    arrays, truth = simulated(3)
    file, rules = tmp_path / "samples.csv", tmp_path / "mapping.toml"
    file.write_text(log_lines(arrays, arrays["ring"] > 0))
    text = propose_mapping(file)
    assert text is not None
    rules.write_text(text)
    found, faults = read_mapping(rules)
    assert not faults
    assert found is not None
    read = read_samples(file, found, Drive(start_chainage_m=120.0, end_chainage_m=400.0, ring_length_m=1.5))
    assert [row.ring for row in read.rows] == [1, 2, 3]
    assert read.rows[0].revolutions_boring == pytest.approx(truth.boring[1], rel=0.01)


@pytest.mark.parametrize("content", ["", "a,b\n1,2\n", "Ring\n1\n", "\x00\x01", "Ring,Time\n1,x\n"])
def test_nothing_is_proposed_out_of_nothing(tmp_path: Path, content: str) -> None:
    file = tmp_path / "export.csv"
    file.write_text(content)
    assert propose_mapping(file) is None


cells = st.text(max_size=12) | st.sampled_from(("1", "101.5", "1e308", "-1", "nan", "2025-11-17T22:10:00Z", '"', "1,5"))
tables = st.lists(st.lists(cells, max_size=6), max_size=12)


@settings(max_examples=150, deadline=None)
@given(tables, st.sampled_from(",;\t"))
def test_no_export_is_beyond_reading(tmp_path_factory: pytest.TempPathFactory, rows, separator: str) -> None:
    file = tmp_path_factory.getbasetemp() / "any.csv"
    heads = ["Ring", "From", "To", "Turns", "Time"]
    text = "\n".join(separator.join(row) for row in [heads, *rows])
    file.write_bytes(text.encode("utf-8", "surrogatepass"))
    columns = RingColumns(
        ring="Ring", start_chainage_m="From", end_chainage_m="To", revolutions_boring="Turns", finished_at="Time"
    )
    for row in read_rings(file, MappingFile(columns=columns), DRIVE).rows:
        assert 0 < row.end_m - row.start_m <= 10
    samples = SampleColumns(time="Time", ring="Ring", chainage_m="From", rotation_rpm="Turns")
    for row in read_samples(file, MappingFile(samples=samples), DRIVE).rows:
        assert row.end_m >= row.start_m
        assert row.revolutions_boring is None or row.revolutions_boring >= 0
    propose_mapping(file)
