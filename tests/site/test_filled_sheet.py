"""The sheet comes back filled: what is empty is not read, what is odd is named at its line, nothing is filled in."""

from __future__ import annotations

import csv
import io
import time
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.site.crew import NOW, loaded, small_site
from wearplan.site import records
from wearplan.site.records import Fitting, Site
from wearplan.site.sheets.columns import SHEET_COLUMNS
from wearplan.site.sheets.filled import read_filled_sheet
from wearplan.site.write.writing import write_inspection

HEAD = {"ring": "50", "chainage_m": "175", "started_at": "2025-11-20T06:40:00+01:00", "mode": "free air"}
KEYS = [column.key for column in SHEET_COLUMNS if column.key != "expected_mm"]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    found = loaded(small_site(tmp_path_factory.mktemp("sheet") / "site")).site
    assert found is not None
    return found


def sheet(*rows: dict[str, str], separator: str = ",", keys: list[str] = KEYS) -> str:
    """A sheet with the given boxes filled in; what is given for orientation stands there as it is printed."""
    out = io.StringIO()
    writer = csv.DictWriter(out, keys, delimiter=separator, lineterminator="\n", restval="")
    writer.writeheader()
    for row in rows:
        given = {"radius_mm": "260", "serial": "D-1", "last_wear_mm": "3.5", "limit_mm": "25"}
        writer.writerow({key: value for key, value in {**given, **row}.items() if key in keys})
    return out.getvalue()


def filled(tmp_path: Path, site: Site, text: str, **head: str):
    path = tmp_path / "filled.csv"
    path.write_text(text)
    return read_filled_sheet(path, site, head={**HEAD, **head}, now=NOW)


def test_each_way_to_read_and_nothing_that_was_only_printed(tmp_path: Path, site: Site) -> None:
    text = sheet(
        {"place": "1", "wear_mm": "9.5", "condition": "even", "method": "by eye"},
        {"place": "2", "wear_mm": "9/10.5/9", "note": "groove [photo 12]"},
        {"place": "3", "wear_mm": "<1"},
        {"place": "4", "wear_mm": ">25", "condition": "Chipped"},
        {"place": "5"},
    )
    read = filled(tmp_path, site, text, method="gauge")
    assert read.faults == ()
    assert read.unread == (5,)
    one, two, three, four = read.inspection.measurements
    assert (one.wear_mm, one.condition, one.method, one.serial) == (9.5, "even", "by eye", None)
    assert (two.points_mm, two.note, two.method) == ((9.0, 10.5, 9.0), "groove [photo 12]", "gauge")
    assert three.wear_below_mm == 1.0
    assert (four.wear_above_mm, four.condition) == (25.0, "chipped")
    assert read.inspection.fittings == ()
    assert (read.inspection.ring, read.inspection.driven_m) == (50, 75.0)


def test_what_comes_back_can_be_written_and_read(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    text = sheet({"place": "1", "wear_mm": "9.5", "action": "change", "reason": "limit", "new_serial": "D-0311"})
    read = filled(tmp_path, loaded(folder).site, text)
    path = write_inspection(folder, read.inspection)
    assert "wear_mm = 9.5" in path.read_text()
    held = next(one for one in loaded(folder).site.inspections if one.id == read.inspection.id)
    assert [one.position for one in held.measurements] == [1]
    assert held.fittings[0].new_serial == "D-0311"


@pytest.mark.parametrize("typed", ["9,5", "9.5", " 9,50 mm", "+9.5", "9.5mm"])
def test_either_decimal_sign(tmp_path: Path, site: Site, typed: str) -> None:
    for separator in ",;\t":
        read = filled(tmp_path, site, sheet({"place": "1", "wear_mm": typed}, separator=separator))
        assert read.faults == ()
        assert read.inspection.measurements[0].wear_mm == 9.5


def test_zero_is_a_reading_and_empty_is_none(tmp_path: Path, site: Site) -> None:
    read = filled(
        tmp_path,
        site,
        sheet({"place": "1", "wear_mm": "0"}, {"place": "2", "wear_mm": " "}, {"place": "3", "wear_mm": "-"}),
    )
    assert [(one.position, one.wear_mm) for one in read.inspection.measurements] == [(1, 0.0)]
    assert read.unread == (2, 3, 4, 5)


def test_not_read_and_why(tmp_path: Path, site: Site) -> None:
    read = filled(
        tmp_path,
        site,
        sheet(
            {"place": "1", "not_read": "not reached"},
            {"place": "2", "wear_mm": "Not looked at"},
            {"place": "3", "condition": "leaking"},
        ),
    )
    assert read.faults == ()
    assert [one.not_read for one in read.inspection.measurements] == [
        "not reached",
        "not looked at",
        "seen, not measured",
    ]
    assert [one.method for one in read.inspection.measurements] == [None] * 3
    assert read.unread == (1, 2, 3, 4, 5)


def test_fittings(tmp_path: Path, site: Site) -> None:
    read = filled(
        tmp_path,
        site,
        sheet(
            {"place": "1", "action": "swap", "from_position": "2", "reason": "preventive"},
            {
                "place": "3", "wear_mm": "24", "action": "change", "reason": "limit", "old_serial": "D-1",
                "old_to": "rebuild", "new_serial": "'=D-2", "new_tool_type": "disc-17", "new_batch": "K 7",
                "new_wear_mm": "7,5",
            },
        ),
    )  # fmt: skip
    assert read.faults == ()
    swap, change = read.inspection.fittings
    assert (swap.position, swap.action, swap.from_position) == (1, "swap", 2)
    assert change == Fitting(
        position=3, action="change", reason="limit", old_serial="D-1", old_to="rebuild", new_serial="=D-2",
        new_tool_type="disc-17", new_batch="K 7", new_wear_mm=7.5, origin=change.origin,
    )  # fmt: skip
    assert (change.origin.file, change.origin.line) == ("filled.csv", 3)


def test_every_fault_at_its_line(tmp_path: Path, site: Site) -> None:
    text = sheet(
        {"place": "1", "wear_mm": "nine"},
        {"place": "2", "wear_mm": "9", "not_read": "not reached"},
        {"place": "77", "wear_mm": "9"},
        {"place": "3", "wear_mm": "9", "condition": "fine"},
        {"place": "3", "wear_mm": "10"},
        {"place": "4", "new_serial": "X"},
        {"place": "5", "note": "greasy"},
        {"wear_mm": "3"},
        {"place": "1", "wear_mm": "-3"},
    )
    read = filled(tmp_path, site, text)
    told = [(fault.line, fault.place, fault.code) for fault in read.faults]
    assert told == [
        (2, "wear_mm", "bad-reading"),
        (3, "not_read", "two-readings"),
        (4, "place", "unknown-place"),
        (5, "condition", "unknown-word"),
        (6, "place", "place-doubled"),
        (7, "action", "no-action"),
        (8, "note", "note-alone"),
        (9, "place", "no-place"),
        (10, "place", "place-doubled"),
    ]


BAD = (
    "<0",
    "1.234,5",
    "5000",
    "300",
    "3/400",
    "-1",
    "9/x",
    "1e9",
    "nan",
    "9//9",
    ">",
    "9;10",
    "1'2",
    "9 5",
    "9\u00a05",
)


@pytest.mark.parametrize("bad", BAD)
def test_bad_readings(tmp_path: Path, site: Site, bad: str) -> None:
    read = filled(tmp_path, site, sheet({"place": "1", "wear_mm": bad}))
    assert [fault.code for fault in read.faults] == ["bad-reading"]
    assert read.inspection.measurements == ()


def test_a_column_nobody_knows_is_not_passed_over(tmp_path: Path, site: Site) -> None:
    text = sheet({"place": "1", "wear_mm": "9"}).replace("condition", "conditon", 1)
    assert filled(tmp_path, site, text).faults == ()
    text = text.replace("D-1", "D-1").replace(",9,,,", ",9,,,even", 1)
    read = filled(tmp_path, site, text)
    assert [fault.code for fault in read.faults] == ["unknown-column"]


def test_a_decimal_comma_among_commas_shifts_nothing_in_silence(tmp_path: Path, site: Site) -> None:
    text = sheet({"place": "1", "wear_mm": "COMMA"}).replace("COMMA", "9,5")
    read = filled(tmp_path, site, text)
    assert [fault.code for fault in read.faults] == ["too-many-cells"]
    assert read.inspection.measurements == ()


def test_an_unknown_method_is_named(tmp_path: Path, site: Site) -> None:
    read = filled(tmp_path, site, sheet({"place": "1.0", "wear_mm": "9", "method": "guage"}))
    assert "did you mean" in read.faults[0].what


def test_a_markdown_table(tmp_path: Path, site: Site) -> None:
    text = (
        "# Test drive: inspection sheet\n\nAn empty box means NOT READ.\n\n"
        "| place | limit mm | READING mm | condition | action | note |\n| --- | --- | --- | --- | --- | --- |\n"
        "| 1 | 25 | 9,5 | even |  | |\n| 2 | 25 |  |  |  |  |\n| 3 | 15 | 14 | | change | tight |\n"
    )
    read = filled(tmp_path, site, text)
    assert read.faults == ()
    assert [(one.position, one.wear_mm, one.note) for one in read.inspection.measurements] == [
        (1, 9.5, None),
        (3, 14.0, "tight"),
    ]
    assert read.inspection.measurements[1].origin.line == 9
    assert read.inspection.fittings[0].action == "change"


def test_the_head_above_the_table(tmp_path: Path, site: Site) -> None:
    text = (
        "ring,50\n# started: 2025-11-20T06:40:00+01:00\nmode;compressed air\n".replace(";", ",")
        + 'pressure,"1,1"\nmeasured_by,A. Person\nentries,3\n'
        + sheet({"place": "1", "wear_mm": "9"})
    )
    path = tmp_path / "filled.csv"
    path.write_text(text)
    read = read_filled_sheet(path, site, head={"entries": "4"}, now=NOW)
    assert read.faults == ()
    found = read.inspection
    assert (found.ring, found.chainage_m, found.mode, found.pressure_bar, found.entries) == (
        50,
        175.0,
        "compressed air",
        1.1,
        4,
    )
    assert found.started_at == datetime(2025, 11, 20, 6, 40, tzinfo=timezone(timedelta(hours=1)))
    assert found.measured_by == "A. Person"
    assert read.remarks == ("chainage 175 m is where ring 50 ends in the log of rings.",)


def test_a_chainage_finds_its_ring(tmp_path: Path, site: Site) -> None:
    read = filled(tmp_path, site, sheet({"place": "1", "wear_mm": "9"}), ring="", chainage_m="0+174.2")
    assert (read.inspection.ring, read.inspection.chainage_m) == (50, 174.2)
    assert "ring 50 is the one at" in read.remarks[0]


def test_a_head_that_is_not_told_is_asked_for(tmp_path: Path, site: Site) -> None:
    path = tmp_path / "filled.csv"
    path.write_text(sheet({"place": "1", "wear_mm": "9"}))
    read = read_filled_sheet(path, site, head={"mode": "by bus", "speed": "5"}, now=NOW)
    assert read.inspection is None
    assert {(fault.place, fault.code) for fault in read.faults} == {
        ("ring", "missing-key"), ("chainage_m", "missing-key"), ("started_at", "missing-key"), ("mode", "bad-head"),
        ("speed", "unknown-key"),
    }  # fmt: skip


def test_a_sheet_left_blank_is_no_inspection(tmp_path: Path, site: Site) -> None:
    read = filled(tmp_path, site, sheet({"place": "1"}, {"place": "2"}))
    assert [fault.code for fault in read.faults] == ["empty-sheet"]


@pytest.mark.parametrize("content", [b"", b"\x00\xff\xfe", b"no table here\n", b"place\n1\n", b"|\n|\n"])
def test_what_is_no_sheet(tmp_path: Path, site: Site, content: bytes) -> None:
    path = tmp_path / "filled.csv"
    path.write_bytes(content)
    read = read_filled_sheet(path, site, head=HEAD, now=NOW)
    assert read.inspection is None
    assert [fault.code for fault in read.faults] == ["no-header"]


def test_no_such_file(tmp_path: Path, site: Site) -> None:
    read = read_filled_sheet(tmp_path / "none.csv", site, head=HEAD, now=NOW)
    assert [fault.code for fault in read.faults] == ["unreadable"]


def test_98_places_61_read(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    wheel = folder / "wheel.toml"
    more = "".join(
        f'\n[[position]]\nnumber = {number}\ntool_type = "disc-17"\ntrack_radius_mm = {300 + 30 * number}.0\n'
        'angle_deg = 0.0\nzone = "face"\n'
        for number in range(6, 99)
    )
    wheel.write_text(wheel.read_text() + more)
    rows = [{"place": str(number), "wear_mm": f"{number / 10}"} for number in range(1, 62)]
    rows += [{"place": str(number), "not_read": "not reached"} for number in range(62, 99)]
    read = filled(tmp_path, loaded(folder).site, sheet(*rows))
    assert read.faults == ()
    assert read.unread == tuple(range(62, 99))
    write_inspection(folder, read.inspection)
    held = next(one for one in loaded(folder).site.inspections if one.id == read.inspection.id)
    assert sum(one.not_read == "not reached" for one in held.measurements) == 37
    assert sum(one.wear_mm is not None for one in held.measurements) == 61


boxes = st.fixed_dictionaries(
    {},
    optional={
        "wear_mm": st.text(max_size=8) | st.sampled_from(("9.5", "<1", "9/9", "")),
        "condition": st.text(max_size=8) | st.sampled_from(records.CONDITIONS),
        "action": st.text(max_size=8) | st.sampled_from(records.ACTIONS),
        "from_position": st.text("0123456789", max_size=6),
        "note": st.text(max_size=20),
        "new_serial": st.text(max_size=10),
        "place": st.text(max_size=4) | st.sampled_from("12345"),
    },
)


@settings(max_examples=80, deadline=None)
@given(rows=st.lists(boxes, max_size=6), separator=st.sampled_from(",;\t"))
def test_whatever_is_typed_is_named_or_can_be_written(tmp_path_factory, site: Site, rows, separator: str) -> None:
    tmp_path = tmp_path_factory.mktemp("any")
    path = tmp_path / "filled.csv"
    path.write_bytes(sheet(*rows, separator=separator).encode("utf-8", "replace"))
    read = read_filled_sheet(path, site, head=HEAD, now=datetime.now(UTC))
    if read.faults:
        assert all(str(fault).startswith("filled.csv:") for fault in read.faults)
        return
    (tmp_path / "site.toml").write_text("format = 1\n")
    assert write_inspection(tmp_path, read.inspection).is_file()


def test_a_time_without_an_offset_takes_this_computers_and_says_so(
    tmp_path: Path, site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "XXX-03:00")
    time.tzset()
    try:
        read = filled(tmp_path, site, sheet({"place": "1", "wear_mm": "9.5"}), started_at="2025-11-20T06:40")
    finally:
        monkeypatch.undo()
        time.tzset()
    assert read.faults == ()
    assert read.inspection.started_at == datetime(2025, 11, 20, 3, 40, tzinfo=UTC)
    assert any("+0300" in remark for remark in read.remarks)
