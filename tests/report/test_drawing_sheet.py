"""The sheet that every chart is drawn on."""

from __future__ import annotations

import pytest

from wearplan.report.drawing.sheet import FULL, PLAIN, Sheet, must_be_plain


def test_dots_share_a_cell_and_the_last_style_counts() -> None:
    sheet = Sheet(3, 2)
    sheet.dot(0, 0, "middle")
    sheet.dot(1, 3, "limit")
    assert sheet.rows()[0][0] == (chr(0x2800 + 0x01 + 0x80), "limit", "")


def test_words_stand_over_dots_and_both_over_a_band() -> None:
    sheet = Sheet(3, 1)
    sheet.band(0, 0, 2, "half")
    sheet.band(1, 0, 2, "half")
    sheet.dot(2, 0, "middle")
    sheet.text(0, 0, "x", "read")
    assert sheet.rows()[0] == [("x", "read", "half"), ("⠁", "middle", "half"), (" ", "", "")]


def test_half_a_cell_of_a_band_and_two_bands_in_one_cell() -> None:
    sheet = Sheet(2, 1)
    sheet.band(0, 1, 2, "band")
    sheet.band(1, 0, 1, "band")
    sheet.band(1, 1, 2, "half")
    assert sheet.rows()[0] == [("▄", "band", ""), ("▀", "band", "half")]


def test_without_colour_bands_differ_by_shade() -> None:
    sheet = Sheet(2, 1)
    sheet.band(0, 0, 2, "band")
    sheet.band(1, 0, 2, "half")
    assert sheet.lines() == ["░▒"]


def test_what_falls_outside_is_left_out() -> None:
    sheet = Sheet(4, 2)
    sheet.text(5, 0, "no")
    sheet.text(0, 2, "abcd")
    sheet.dot(-1, 99, "middle")
    sheet.line(-10, -10, 50, 50, "limit")
    sheet.band(9, -4, 40, "half")
    assert len(sheet.lines()) == 2
    assert all(len(line) <= 4 for line in sheet.lines())
    assert not sheet.free(0, 2)
    assert not sheet.free(0, -1)


def test_the_plain_form_is_ascii_whatever_is_drawn() -> None:
    sheet = Sheet(12, 3, plain=True)
    for style in ("middle", "limit", "stop", "rim", "something new"):
        sheet.line(0, 0, 23, 11, style)
    sheet.band(3, 0, 6, "half")
    sheet.text(1, 0, sheet.signs.down + sheet.signs.block(0.4) + "".join(sheet.signs.levels))
    assert "\n".join(sheet.lines()).isascii()
    assert all(ground == "" for row in sheet.rows() for _, _, ground in row)


def test_a_pasted_sheet_keeps_words_dots_and_bands() -> None:
    small, large = Sheet(2, 1), Sheet(4, 2)
    small.text(0, 0, "a", "read")
    small.dot(2, 0, "middle")
    small.band(1, 0, 2, "half")
    large.paste(small, 1, 2)
    assert large.rows()[1] == [("  ", "", ""), ("a", "read", ""), ("⠁", "middle", "half")]


def test_plain_by_itself_where_the_encoding_has_no_room(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("LC_ALL", raising=False)
    assert must_be_plain("ISO-8859-1")
    assert must_be_plain("ANSI_X3.4-1968")
    assert not must_be_plain("UTF-8")
    assert not must_be_plain("utf8")
    monkeypatch.setenv("LC_ALL", "C")
    assert must_be_plain("UTF-8")
    assert len(FULL.levels) == len(PLAIN.levels) == 5
