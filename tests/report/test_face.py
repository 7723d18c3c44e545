"""The face of the wheel as text."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearplan.report.drawing.face import (
    ASPECT,
    Mark,
    age_texts,
    arm_angles,
    chance_texts,
    crowding,
    lay_out,
    overlaps,
    wear_texts,
    wheel_sheet,
)
from wearplan.report.drawing.profile import Bar, Span, profile_sheet, span_sheet


def mark(number: int, radius_mm: float, angle_deg: float, share: float | None = 0.3) -> Mark:
    return Mark(number=number, track_radius_mm=radius_mm, angle_deg=angle_deg, **wear_texts(share, number))


def test_angles_run_clockwise_from_twelve_and_distances_are_to_scale() -> None:
    marks = [mark(1, 3000, 0, 0.1), mark(2, 3000, 90, 0.2), mark(3, 3000, 180, 0.3), mark(4, 1500, 270, 0.4)]
    face = lay_out(marks, bore_radius_mm=3500, width=60, height=31, size="short")
    at = {placed.mark.number: (placed.row, placed.column) for placed in face.placed}
    assert at[1][0] < 15 < at[3][0]
    assert at[1][1] == at[3][1] == 30 or abs(at[1][1] - 29.5) <= 0.5
    assert at[2][1] > at[1][1] > at[4][1]
    up, right = 15 - at[1][0], (at[2][1] - 29.5) / ASPECT
    assert up == pytest.approx(right, abs=0.6), "a row is as high as two characters are wide"
    assert (29.5 - at[4][1]) / ASPECT == pytest.approx(up / 2, abs=0.6), "half the radius, half the way"


def texts(found: dict[str, str]) -> tuple[str, ...]:
    return found["short"], found["long"], found["level"]


def test_a_mark_says_wear_without_colour() -> None:
    assert texts(wear_texts(0.1, 8)) == ("○", "▁8", "light")
    assert texts(wear_texts(0.34, 8)) == ("◔", "▃8", "fair")
    assert texts(wear_texts(0.5, 12)) == ("◑", "▄12", "worn")
    assert texts(wear_texts(0.88, 22, due=True)) == ("◕", "▇22▼", "near")
    assert texts(wear_texts(1.0, 25)) == ("●", "█25", "over")
    assert texts(wear_texts(0.2, 25, damaged=True)) == ("✖", "✖25", "damaged"), "damaged whatever its wear"
    assert texts(wear_texts(None, 3)) == ("?", "?3", "unseen"), "what was not read is not shown as unworn"
    assert wear_texts(float("nan"), 0)["level"] == "unseen"


def test_plain_signs_never_run_into_a_number() -> None:
    assert texts(wear_texts(0.6, 16, plain=True)) == ("=", "16=", "worn"), "not -16, which reads as minus sixteen"
    assert texts(wear_texts(1.2, 7, due=True, plain=True)) == ("x", "7xv", "over")


def test_a_chance_is_held_against_the_cap_of_its_zone() -> None:
    assert chance_texts(0.04, 0.05, 9)["level"] == "near"
    assert texts(chance_texts(0.06, 0.05, 9)) == ("x", "9:6", "over")
    assert chance_texts(0.06, 0.15, 9)["level"] == "worn"
    assert chance_texts(None, 0.05, 9)["short"] == "?"
    assert chance_texts(0.6, None, 9)["level"] == "over"


def test_never_seen_is_not_seen_long_ago() -> None:
    assert age_texts(None, 4)["short"] == "?"
    assert age_texts(0, 4)["short"] == "0"
    assert texts(age_texts(12, 4)) == ("x", "4:12", "over")


def test_picture_of_four_tools_with_arms() -> None:
    marks = [mark(1, 0, 0, 0.1), mark(2, 2800, 0, 0.55), mark(3, 2800, 90, 1.2), mark(4, 2800, 270, None)]
    face = lay_out(marks, bore_radius_mm=3500, width=24, height=11, size="short")
    drawn = wheel_sheet(face, arms={"A": 0.0, "B": 90.0}, picked=2)
    lines = drawn.lines()
    assert "◑" in lines[1]
    middle = "".join(sign for sign in lines[5] if sign in "?○●B")
    assert middle == "?○●B"
    assert "A" in lines[0]
    assert all(len(line) <= 24 for line in lines)
    assert any(style == "pick" and text == "◑" for text, style, _ in drawn.rows()[1])


def test_an_arm_lies_in_the_middle_of_its_places_across_the_top() -> None:
    angles = arm_angles([("A", 350.0), ("A", 10.0), ("B", 90.0), (None, 45.0)])
    assert angles["A"] % 360 == pytest.approx(0.0, abs=1e-6) or angles["A"] == pytest.approx(360.0)
    assert angles["B"] == pytest.approx(90.0)


def test_the_profile_says_level_limit_and_what_is_changed() -> None:
    bars = [
        Bar(number=1, share=0.2), Bar(number=2, share=0.9, due=True), Bar(number=3, share=None),
        Bar(number=4, share=0.6, later=1.1), Bar(number=5, share=1.2), Bar(number=6, share=0.3, damaged=True),
    ]  # fmt: skip
    sheet = profile_sheet(bars, width=40, height=12, picked=2)
    lines = [line.ljust(40) for line in sheet.lines()]
    column = {bar.number: 6 + 2 * index for index, bar in enumerate(bars)}
    assert lines[10][column[2]] == "▼"
    assert lines[9][column[3]] == "?"
    assert lines[0][column[4]] == "▲"
    assert lines[0][column[5]] == "▲"
    assert lines[0][column[6]] == "✖"
    tall = {number: sum(line[at] in "░▒▓█▄▀" for line in lines[:10]) for number, at in column.items()}
    assert tall[1] < tall[4] < tall[5]
    assert any(line.startswith("limit") for line in lines)


def test_bands_against_their_limits_stand_in_one_column() -> None:
    lines = span_sheet(
        [Span(quantiles=(10, 12, 14, 16, 19), limit=18.0), Span(quantiles=(1, 2, 3, 4, 5), limit=25.0)], width=41
    ).lines()
    assert lines[1][32] == "┊"
    assert lines[0].index("┃") == round(14 / 18 * 32)
    assert lines[0].rstrip().endswith("─")
    assert len(lines[0].rstrip()) > 32, "the upper end passes the limit"


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 3500), st.floats(0, 359.9)), min_size=1, max_size=120),
    st.sampled_from([(40, 19), (88, 42), (60, 24)]),
)
def test_every_tool_is_shown_once_and_none_hides_another(
    tools: list[tuple[float, float]], size: tuple[int, int]
) -> None:
    marks = [mark(n, radius, angle) for n, (radius, angle) in enumerate(tools, start=1)]
    face = lay_out(marks, bore_radius_mm=3560, width=size[0], height=size[1])
    assert sorted(placed.mark.number for placed in face.placed) == list(range(1, len(tools) + 1))
    assert overlaps(face) == []
    for placed in face.placed:
        assert 0 <= placed.row < size[1]
        assert 0 <= placed.column <= size[0] - len(placed.text)


def test_three_hundred_places_stay_near_their_place() -> None:
    marks = [mark(n, 250 + 3250 * n / 300, (n * 137.5) % 360) for n in range(1, 301)]
    assert crowding(lay_out(marks, bore_radius_mm=3560, width=88, height=42)) <= 1.6
    assert crowding(lay_out(marks, bore_radius_mm=3560, width=40, height=19)) <= 2.0


def test_arrows_reach_every_tool_and_come_back() -> None:
    marks = [mark(n, 250 + 3250 * n / 98, (n * 137.5) % 360) for n in range(1, 99)]
    face = lay_out(marks, bore_radius_mm=3560, width=40, height=19)
    reached, edge = {1}, [1]
    while edge:
        here = edge.pop()
        for down, right in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            there = face.neighbour(here, down, right)
            if there not in reached:
                reached.add(there)
                edge.append(there)
    assert reached == set(range(1, 99))


def test_a_click_picks_what_is_under_it_or_beside() -> None:
    face = lay_out([mark(7, 2800, 90)], bore_radius_mm=3500, width=40, height=19, size="short")
    placed = face.placed[0]
    assert face.at(placed.row, placed.column) == 7
    assert face.at(placed.row, placed.column + 1) == 7
    assert face.at(placed.row + 4, placed.column) is None
    assert math.isclose(placed.off_rows, 0, abs_tol=0.71)
