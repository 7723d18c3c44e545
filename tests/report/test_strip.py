"""The drive as a strip of text."""

from __future__ import annotations

from dataclasses import replace

from tests.tui.small import small_site
from wearplan.report.drawing.strip import LABEL, drive_strip, unit_letters
from wearplan.site.records import ChainageEquation, Drive


def rows_of(**extra: object) -> dict[str, str]:
    strip = drive_strip(small_site(), width=LABEL + 150, face_m=900.0, stops_m=(1005.0, 1200.0), **extra)  # type: ignore[arg-type]
    return {row.key: row.text for row in strip.rows}


def test_windows_keep_outs_stops_and_face_stand_where_they_are() -> None:
    rows = rows_of()
    assert rows["windows"][100] == "T"
    assert rows["windows"][40] == "S"
    assert rows["windows"][120:123] == "CCC"
    assert rows["modes"][100] == "p"
    assert rows["modes"][40] == "f"
    assert rows["keep-outs"][103:110] == "x" * 7
    assert rows["keep-outs"].count("x") == 7
    assert rows["stops"][90] == ">"
    assert rows["stops"][100] == "1"
    assert rows["stops"][120] == "2"


def test_layers_show_at_crown_axis_and_invert_and_mixes_by_share() -> None:
    rows = rows_of()
    ahead = slice(90, 150)
    assert set(rows["ground crown"][ahead]) == {"C"}
    assert set(rows["ground invert"][ahead]) == {"S"}
    mixed = rows["ground axis"][:60]
    assert abs(mixed.count("S") / 60 - 0.7) < 0.06


def test_small_letters_where_the_boundary_may_lie() -> None:
    crown = rows_of()["ground crown"]
    assert crown[69].islower()
    assert crown[70].islower()
    assert crown[60].isupper()
    assert crown[80].isupper()


def test_tools_past_their_limit_are_counted_ahead_only() -> None:
    rows = rows_of(over=([900.0, 1500.0], [0.0, 12.0]))
    assert rows["over"][:88].strip() == ""
    assert rows["over"][149] == "+"
    assert rows["over"][120] == "6"


def test_chainage_ticks_and_pointer() -> None:
    rows = rows_of(cursor_m=500.0)
    assert rows["ticks"].startswith("|0+100.0")
    assert rows["ticks"].rstrip().endswith("1+600.0|")
    assert "^ 0+600.0" in rows["cursor"]
    assert "|3+28.1" in rows_of(feet=True)["ticks"]


def test_falling_chainage_and_an_equation() -> None:
    drive = Drive(
        start_chainage_m=2000.0, end_chainage_m=400.0, ring_length_m=1.5,
        equations=(ChainageEquation(back_m=1000.0, ahead_m=900.0),),
    )  # fmt: skip
    strip = drive_strip(replace(small_site(), drive=drive), width=100, face_m=900.0)
    text = next(row.text for row in strip.rows if row.key == "ticks")
    assert text.startswith("|2+000.0")
    assert text.rstrip().endswith("0+400.0|")


def test_columns_and_places_turn_into_one_another() -> None:
    strip = drive_strip(small_site(), width=LABEL + 150)
    for column in (0, 17, 149):
        assert strip.column(strip.driven_m(column)) == column


def test_two_units_never_share_a_letter() -> None:
    letters = unit_letters(["SG", "SD", "SS", "GS", "4"])
    assert len(set(letters.values())) == 5


def test_a_stretch_of_a_few_rings() -> None:
    strip = drive_strip(small_site(), width=80, from_m=995.0, to_m=1015.0)
    rows = {row.key: row.text for row in strip.rows}
    assert rows["windows"].strip() == "T" * len(rows["windows"].strip())
    assert 30 <= len(rows["windows"].strip()) <= 40
