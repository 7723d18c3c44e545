"""The sheet's keys, without a screen."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tests.tui.small import small_site
from wearplan.site.records import ChainageEquation, Drive, Inspection, Measurement
from wearplan.tui.entry.expecting import Expected
from wearplan.tui.entry.keys import ACTION_KEYS, CONDITION_KEYS, NOT_READ_KEYS, key_notes
from wearplan.tui.entry.record import measurement_of, record_of
from wearplan.tui.entry.sheet import Line, Sheet, sheet_from, sheet_of
from wearplan.tui.entry.typing import Typist
from wearplan.tui.entry.words import Wear, later_than_now, most_wear_mm, read_head, read_wear

NOW = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)


def typist(places: int = 98) -> Typist:
    known = {
        n: Expected(last_mm=5.0, last_chainage_m=900.0, limit_mm=25.0, low_mm=6.0, high_mm=14.0) for n in range(1, 999)
    }
    return Typist(sheet=Sheet(order=tuple(range(1, places + 1))), expected=known, methods=("gauge", "by eye"))


def type_in(one: Typist, text: str) -> None:
    names = {"\n": "enter", "\b": "backspace", "^": "up", "~": "delete"}
    for sign in text:
        one.press(names.get(sign, sign), None if sign in names else sign)


def test_a_hundred_readings_cost_one_key_each_beyond_the_digits() -> None:
    one = typist(98)
    for n in range(98):
        type_in(one, f"{6.5 + n % 7}\n")
    assert one.sheet.counts()["read"] == 98
    digits = sum(len(one.sheet.line(n).wear) for n in one.sheet.order)
    assert one.counted - digits <= 1.0 * 98
    type_in(one, "")
    assert one.sheet.tally().startswith("98 of 98 read")


def test_keys_beyond_the_digits_in_a_real_mix_stay_under_one_and_a_half_a_reading() -> None:
    one = typist(98)
    digits = 0
    for n in range(98):
        if n % 8 == 7:
            type_in(one, "n")
        else:
            value = "9.5" if n % 20 else "19.5"
            type_in(one, f"{value}\n" if n % 20 else f"{value}\n\n")
            digits += len(value)
    counts = one.sheet.counts()
    assert counts["not reached"] == 12
    assert counts["read"] == 86
    assert (one.counted - digits) / counts["read"] <= 1.5
    assert one.sheet.tally() == "86 of 98 read, 12 not reached"


def test_an_empty_line_is_not_read_and_writes_nothing() -> None:
    one = typist(3)
    type_in(one, "\n7\n\n")
    assert one.sheet.counts() == {
        "all": 3, "read": 1, "not reached": 0, "otherwise not read": 0, "empty": 2, "fitted": 0,
    }  # fmt: skip
    assert "2 empty (NOT READ)" in one.sheet.tally()
    assert measurement_of(1, one.sheet.line(1), "gauge") is None


def test_a_value_outside_is_asked_about_once() -> None:
    one = typist(3)
    type_in(one, "24\n")
    assert one.at == 0
    assert "outside 6.0 to 14.0" in one.said
    type_in(one, "\n")
    assert one.at == 1
    assert one.sheet.line(1).wear == "24"
    assert one.sheet.line(1).kept == "24"
    type_in(one, "^24\n")
    assert one.at == 1, "a value held to is not asked about again"


def test_the_first_digit_after_a_doubt_replaces_the_value_and_is_heard() -> None:
    one = typist(3)
    type_in(one, "24\n")
    assert one.rang
    type_in(one, "1")
    assert (one.buffer, one.rang) == ("1", True)
    assert "24 is gone" in one.said
    type_in(one, "2")
    assert (one.buffer, one.rang) == ("12", False)
    type_in(one, "\n")
    assert (one.sheet.line(1).wear, one.at) == ("12", 1)


def test_a_letter_asks_before_it_takes_the_place_of_a_reading() -> None:
    one = typist(3)
    type_in(one, "9\n^n")
    assert (one.sheet.line(1).wear, one.sheet.line(1).not_read, one.rang) == ("9", None, True)
    assert "9 stands at 1" in one.said
    type_in(one, "o")
    assert one.sheet.line(1).wear == "9", "another letter asks again"
    type_in(one, "\n^nn")
    assert (one.sheet.line(1).wear, one.sheet.line(1).not_read) == ("", "not reached")
    type_in(one, "8n")
    assert (one.at, one.buffer) == (1, "8"), "what is being typed counts as well"


def test_a_fitting_that_stands_is_not_begun_anew_without_a_question() -> None:
    one = typist(3)
    type_in(one, "9Crlnew-1\n^C")
    assert one.sheet.line(1).new_serial == "new-1"
    assert "change new-1 stands at 1" in one.said
    type_in(one, "C")
    assert one.sheet.line(1).new_serial is None


def test_a_letter_after_a_doubtful_value_asks_first_unless_it_tells_why() -> None:
    one = typist(3)
    type_in(one, "24e")
    assert (one.sheet.line(1).wear, one.sheet.line(1).condition) == ("", None)
    assert "e again keeps it" in one.said
    type_in(one, "e\n")
    assert (one.sheet.line(1).wear, one.sheet.line(1).condition) == ("24", "even")
    type_in(one, "24k\n")
    assert (one.sheet.line(2).wear, one.sheet.line(2).condition) == ("24", "cracked")


@pytest.mark.parametrize("typed", ["12 5", "12. 5", "9 9"])
def test_a_blank_that_may_be_a_decimal_point_is_asked_about(typed: str) -> None:
    one = typist(3)
    type_in(one, f"{typed}\n")
    assert one.at == 0
    assert "as two points, or" in one.said
    type_in(one, "\n")
    assert (one.at, one.sheet.line(1).wear) == (1, typed)


def test_points_that_cannot_be_a_decimal_are_not_asked_about() -> None:
    one = typist(3)
    type_in(one, "9 10.5 9\n12 11\n")
    assert one.at == 2


def test_a_time_that_has_not_come_is_asked_about() -> None:
    assert later_than_now({"started": "07:59"}, NOW) == []
    assert "yesterday 23:59?" in later_than_now({"started": "23:59"}, NOW)[0]
    assert "ended: 2027-05-04 06:00" in later_than_now({"started": "", "ended": "04.05.2027 06:00"}, NOW)[0]
    assert later_than_now({"started": "no time"}, NOW) == []


@pytest.mark.parametrize("said", ["20.11.2026 06:10", "20.11.2026, 06:10", "2026-11-20 06:10", "2026-11-20T06:10"])
def test_dates_as_people_write_them(said: str) -> None:
    later = datetime(2026, 11, 26, tzinfo=UTC)
    head, _ = read_head({"ring": "600", "started": said, "mode": "f"}, small_site(), later)
    assert head["started_at"] == datetime(2026, 11, 20, 6, 10, tzinfo=UTC)


def test_the_band_is_not_told_before_a_value_is_typed() -> None:
    one = typist(3)
    assert "6.0" not in one.line_below()
    type_in(one, "9")
    assert "14.0" not in one.line_below()
    type_in(one, "\n")
    assert "6.0 to 14.0" in one.said


def test_less_than_before_is_asked_about() -> None:
    one = typist(2)
    type_in(one, "3\n")
    assert "less than the 5.0 read before" in one.said


def test_what_is_no_number_stays_where_it_is() -> None:
    one = typist(2)
    type_in(one, "7.2.3\n")
    assert one.at == 0
    assert "is no wear" in one.said
    type_in(one, "\b\b9\n")
    assert one.sheet.line(1).wear == "7.29"


@pytest.mark.parametrize(("key", "word"), list(CONDITION_KEYS.items()))
def test_condition_keys(key: str, word: str) -> None:
    one = typist(2)
    type_in(one, f"9{key}\n")
    assert one.sheet.line(1) == Line(wear="9", condition=word)
    assert one.at == 1


@pytest.mark.parametrize(("key", "word"), list(NOT_READ_KEYS.items()))
def test_not_read_keys_go_on_by_themselves(key: str, word: str) -> None:
    one = typist(2)
    type_in(one, key)
    assert one.sheet.line(1).not_read == word
    assert one.at == 1


def test_a_change_asks_where_to_why_and_which_serial() -> None:
    one = typist(2)
    type_in(one, "12CrlD-0311\n\n")
    line = one.sheet.line(1)
    assert (line.wear, line.action, line.old_to, line.reason, line.new_serial) == (
        "12",
        "change",
        "rebuild",
        "limit",
        "D-0311",
    )
    assert one.at == 1


def test_a_move_asks_from_where_and_knows_the_places() -> None:
    one = typist(40)
    type_in(one, "M77\n")
    assert "no place 77" in one.said
    type_in(one, "31\np\n")
    assert one.sheet.line(1).from_position == 31
    assert one.sheet.line(1).reason == "preventive"
    type_in(one, "^X")
    assert one.sheet.line(1).action is None


def test_every_answer_may_stay_unsaid() -> None:
    one = typist(2)
    type_in(one, "12C\n\n\n")
    line = one.sheet.line(1)
    assert line.action == "change"
    assert line.old_to is None
    assert line.reason is None
    assert line.new_serial is None


def test_serial_note_method_and_going_to_a_place() -> None:
    one = typist(50)
    type_in(one, "9iD-7\nadirty\ny")
    line = one.sheet.line(1)
    assert (line.serial, line.note, line.method) == ("D-7", "dirty", "gauge")
    type_in(one, "g42\n")
    assert one.number == 42
    type_in(one, "g99\n")
    assert one.number == 42
    assert "no place 99" in one.said


def test_undo_goes_back_step_by_step() -> None:
    one = typist(3)
    type_in(one, "7\n8c\n")
    assert one.undo()
    assert one.number == 2
    assert one.sheet.line(2).condition is None
    one.undo()
    assert one.sheet.line(2).wear == ""
    one.undo()
    assert one.sheet.lines[1].empty
    assert not one.undo()
    assert one.said == "nothing to take back"


def test_delete_empties_a_line_and_can_be_taken_back() -> None:
    one = typist(2)
    type_in(one, "9c~")
    assert one.sheet.line(1).empty
    one.undo()
    assert one.sheet.line(1).condition == "chipped"


def test_no_key_means_two_things() -> None:
    keys = [*CONDITION_KEYS, *NOT_READ_KEYS, *ACTION_KEYS, "X", "i", "a", "y", "g"]
    assert len(keys) == len(set(keys))
    assert "NOT READ" in key_notes()


@pytest.mark.parametrize(
    ("typed", "wear"),
    [
        ("12.5", Wear(wear_mm=12.5)),
        ("12,5", Wear(wear_mm=12.5)),
        ("0", Wear(wear_mm=0.0)),
        ("9 10.5 9", Wear(points_mm=(9.0, 10.5, 9.0))),
        ("<1", Wear(below_mm=1.0)),
        (">25", Wear(above_mm=25.0)),
    ],
)
def test_wear_as_typed(typed: str, wear: Wear) -> None:
    assert read_wear(typed) == wear


@pytest.mark.parametrize("typed", ["", "-3", "nan", "1e9", "abc", "<1 2", "12..5", "900", "<"])
def test_what_is_no_wear_gets_a_sentence(typed: str) -> None:
    answer = read_wear(typed)
    assert isinstance(answer, str)
    assert len(answer) > 10


def test_inches_become_millimetres_once() -> None:
    assert read_wear("0.5", inch=True) == Wear(wear_mm=12.7)


def test_the_stops_data_from_few_keys() -> None:
    head, wrong = read_head({"ring": "600", "started": "22:10", "mode": "f"}, small_site(), NOW)
    assert wrong == []
    assert head["chainage_m"] == 1000.0
    assert head["driven_m"] == pytest.approx(900.0)
    assert head["started_at"] == NOW.replace(hour=22, minute=10)
    assert head["mode"] == "free air"
    head, wrong = read_head(
        {"chainage": "0+700.0", "started": "yesterday 21:00", "mode": "compressed air"}, small_site(), NOW
    )
    assert wrong == []
    assert head["ring"] == 401
    assert head["started_at"].day == 3


def test_the_stops_data_says_all_that_is_missing() -> None:
    _, wrong = read_head({}, small_site(), NOW)
    assert len(wrong) == 3
    _, wrong = read_head({"ring": "9999", "started": "soon", "mode": "z", "entries": "many"}, small_site(), NOW)
    assert len(wrong) == 4


def test_a_draft_gives_the_same_sheet_again() -> None:
    one = typist(10)
    type_in(one, "7\n8c\nn24\n\n9CsdZ-1\n\n")
    one.sheet.put_head({"ring": "600", "mode": "f"})
    again = sheet_from(one.sheet.values(), one.sheet.order)
    assert {n: line for n, line in one.sheet.lines.items() if not line.empty} == again.lines
    assert again.head == one.sheet.head
    assert again.tally() == one.sheet.tally()


def test_a_draft_of_a_place_that_is_gone_keeps_it() -> None:
    again = sheet_from({"lines": {"3": {"wear": "7"}, "77": {"wear": "9"}}}, (1, 2, 3))
    assert again.order == (1, 2, 3, 77)
    assert again.line(77).wear == "9"


def test_the_record_made_of_a_sheet() -> None:
    site = small_site()
    one = typist(24)
    one.expected = {}
    type_in(one, "9\n<1\n>25\n8 9 10c\nnk\n12Crlnew-1\n\n")
    one.sheet.put_head({"ring": "600", "started": "06:00", "mode": "f", "measured_by": "A"})
    record, wrong = record_of(one.sheet, site, "x", NOW)
    assert wrong == []
    assert isinstance(record, Inspection)
    by = {m.position: m for m in record.measurements}
    assert by[1].wear_mm == 9.0
    assert by[2].wear_below_mm == 1.0
    assert by[3].wear_above_mm == 25.0
    assert by[4].points_mm == (8.0, 9.0, 10.0)
    assert by[4].condition == "chipped"
    assert by[5].not_read == "not reached"
    assert by[6].not_read == "seen, not measured", "a condition was seen, so somebody looked"
    assert by[7].wear_mm == 12.0
    assert [(f.position, f.action, f.old_to, f.reason, f.new_serial) for f in record.fittings] == [
        (7, "change", "rebuild", "limit", "new-1")
    ]
    assert set(by) == set(range(1, 8)), "places left empty are in no record"


def test_a_record_becomes_the_same_sheet_and_record_again() -> None:
    site = small_site()
    first = site.inspections[0]
    sheet = sheet_of(first, tuple(p.number for p in site.wheel.positions))
    sheet.head["reason"] = "typed wrong"
    record, wrong = record_of(sheet, site, "y", NOW)
    assert wrong == []
    assert record is not None
    assert record.corrects == first.id
    assert [(m.position, m.wear_mm, m.not_read, m.condition) for m in record.measurements] == sorted(
        (m.position, m.wear_mm, m.not_read, m.condition) for m in first.measurements
    )


def test_nothing_typed_is_nothing_to_write() -> None:
    one = typist(5)
    one.sheet.put_head({"ring": "600", "started": "06:00", "mode": "f"})
    record, wrong = record_of(one.sheet, small_site(), "x", NOW)
    assert record is None
    assert "nothing is typed" in wrong[0]


def test_below_nothing_is_refused_where_it_is_typed() -> None:
    one = typist(2)
    type_in(one, "<0\n")
    assert one.at == 0
    assert "nothing is below 0" in one.said
    type_in(one, "\b8\n")
    assert one.sheet.line(1).wear == "<8"


def test_more_than_any_tool_of_the_wheel_can_lose_is_refused_where_it_is_typed() -> None:
    site = small_site()
    assert most_wear_mm(site) == 216.0
    one = typist(2)
    one.most_mm = most_wear_mm(site)
    type_in(one, "217\n")
    assert "more than any tool has" in one.said
    said = measurement_of(1, Line(wear="217"), "gauge", most_mm=216.0)
    assert isinstance(said, str)


def test_a_record_on_the_sheet_keeps_every_digit() -> None:
    first = small_site().inspections[0]
    readings = (Measurement(position=1, wear_mm=112.345), Measurement(position=2, wear_below_mm=0.125))
    record = replace(first, chainage_m=12345.678, person_hours=1234.567, measurements=readings)
    sheet = sheet_of(record, (1, 2))
    assert sheet.head["chainage"] == "12345.678"
    assert sheet.head["person_hours"] == "1234.567"
    back = [measurement_of(n, sheet.line(n), None) for n in (1, 2)]
    assert [(m.wear_mm, m.wear_below_mm) for m in back if isinstance(m, Measurement)] == [
        (112.345, None),
        (None, 0.125),
    ]


def test_the_stop_s_data_are_refused_where_the_folder_would_refuse_them() -> None:
    site = small_site()
    jump = ChainageEquation(back_m=800.0, ahead_m=900.0)
    site = replace(
        site, drive=Drive(start_chainage_m=100.0, end_chainage_m=1700.0, ring_length_m=1.5, equations=(jump,))
    )
    head = {"ring": "300", "started": "2026-04-01 22:10", "mode": "f"}
    for chainage, told in (("850", "jumps over it"), ("1800", "outside the drive"), ("799", "")):
        wrong = read_head({**head, "chainage": chainage}, site, NOW)[1]
        assert (told in " ".join(wrong)) if told else not wrong
    _, wrong = read_head({**head, "chainage": "799", "pressure": "1.2"}, site, NOW)
    assert wrong == ["pressure: in free air there is none; leave it empty, or name another mode"]
    assert not read_head({**head, "chainage": "799", "pressure": "1.2", "mode": "c"}, site, NOW)[1]


def test_the_batch_of_a_new_tool_is_asked_by_its_own_key_and_goes_with_its_action() -> None:
    one = typist(3)
    type_in(one, "d")
    assert "C first" in one.said
    type_in(one, "Cr\n\nd")
    assert one.asks
    type_in(one, "K 7\n")
    assert (one.sheet.line(1).action, one.sheet.line(1).new_batch) == ("change", "K 7")
    type_in(one, "X")
    assert one.sheet.line(1).empty


def test_the_number_pad_s_own_keys_type_a_wear() -> None:
    """As terminals send them that give every key a name: the decimal key carries no character."""
    one = typist(3)
    for key, character in (("9", "9"), ("decimal", None), ("5", "5"), ("enter", "\r")):
        one.press(key, character)
    assert one.sheet.line(1).wear == "9.5"
    assert one.at == 1
