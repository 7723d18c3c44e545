"""The drive as a strip of text."""

from __future__ import annotations

from dataclasses import replace

from tests.tui.small import small_site
from wearplan.report.drawing.strip import LABEL, Strip, drive_strip
from wearplan.site.records import ChainageEquation, Drive


def strip_of(**extra: object) -> Strip:
    given = {"width": LABEL + 150, "face_m": 900.0, "stops_m": (1005.0, 1200.0), "plain": True, **extra}
    return drive_strip(small_site(), **given)  # type: ignore[arg-type]


def rows_of(**extra: object) -> dict[str, str]:
    strip = strip_of(**extra)
    lines = strip.sheet.lines()
    return {key: lines[row].ljust(LABEL + 150)[LABEL:] for key, row in strip.rows.items()}


def test_windows_barred_stretches_stops_and_face_stand_where_they_are() -> None:
    rows = rows_of()
    assert rows["windows"][100] == "p"
    assert rows["windows"][40] == "f"
    assert rows["windows"][120:123] == "fff"
    assert rows["barred"][103:110] == "x" * 7
    assert rows["barred"].count("x") == 7
    assert "river" in rows["barred"], "and why"
    assert rows["stops"][90] == "^"
    assert rows["stops"][100] == "1"
    assert rows["stops"][120] == "2"


def test_layers_lie_by_height_and_mixes_by_share() -> None:
    strip = strip_of(ground_rows=10)
    ground = [line.ljust(LABEL + 150)[LABEL:] for line in strip.sheet.lines()[:10]]
    at = [row[85] for row in ground]
    assert at == ["/"] * 6 + ["."] * 4, "clay over gravel from half a metre below the axis of 3.55 m"
    mixed = [row[5] for row in ground]
    assert mixed == ["."] * 7 + ["/"] * 3
    whole = "\n".join(ground)
    assert "SG 70%" in whole
    assert "CL 30%" in whole


def test_the_doubt_of_a_boundary_is_shown_either_side() -> None:
    strip = strip_of(plain=False)
    edges = [c for c in range(150) if any(style == "boundary" for _, style, _ in _at(strip, 0, LABEL + c))]
    assert edges[0] < 70 < edges[-1]
    assert 4 <= edges[-1] - edges[0] <= 6, "nine in ten of 15 m is 25 m either side, 10 m a column"


def _at(strip: Strip, row: int, column: int) -> list[tuple[str, str, str]]:
    at = 0
    for text, style, ground in strip.sheet.rows()[row]:
        if at <= column < at + len(text):
            return [(text, style, ground)]
        at += len(text)
    return []


def test_tools_past_their_limit_are_counted_ahead_only() -> None:
    rows = rows_of(over=([900.0, 1500.0], [0.0, 12.0]))
    assert rows["past"][:88].strip() == ""
    assert rows["past"][149] == "+"
    assert rows["past"][120] == "6"


def test_chainage_ticks_and_pointer() -> None:
    rows = rows_of(cursor_m=500.0)
    assert rows["at"].startswith("|0+100.0")
    assert rows["at"].rstrip().endswith("1+600.0|")
    assert "^ 0+600.0" in rows["here"]
    assert "|3+28.1" in rows_of(feet=True)["at"]


def test_falling_chainage_and_an_equation() -> None:
    drive = Drive(
        start_chainage_m=2000.0, end_chainage_m=400.0, ring_length_m=1.5,
        equations=(ChainageEquation(back_m=1000.0, ahead_m=900.0),),
    )  # fmt: skip
    strip = drive_strip(replace(small_site(), drive=drive), width=100, face_m=900.0)
    text = strip.sheet.lines()[strip.rows["at"]][LABEL:]
    assert text.startswith("|2+000.0")
    assert text.rstrip().endswith("0+400.0|")


def test_columns_and_places_turn_into_one_another() -> None:
    strip = strip_of()
    for column in (0, 17, 149):
        assert strip.column(strip.driven_m(column)) == column


def test_a_stretch_of_a_few_rings() -> None:
    rows = rows_of(from_m=995.0, to_m=1015.0)
    assert set(rows["windows"].strip()) == {"p"}
    assert 70 <= len(rows["windows"].strip()) <= 80


def test_the_legend_names_every_unit_and_a_drive_without_ground_says_so() -> None:
    words = "".join(text for line in strip_of().legend for text, _ in line)
    assert "SG dense sandy gravel" in words
    assert "CL stiff clay" in words
    bare = drive_strip(replace(small_site(), grounds=()), width=90)
    assert "no ground known" in "".join(text for line in bare.legend for text, _ in line)
    assert "ground" not in bare.rows
