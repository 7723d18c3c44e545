"""A fan of wear as text."""

from __future__ import annotations

import numpy as np

from wearplan.report.drawing.fan import Fan, fan_key, fan_sheet, tool_fan

AT = np.linspace(1000.0, 2000.0, 11)
MIDDLE = np.linspace(5.0, 25.0, 11)


def lines(plain: bool = False, **extra: object) -> list[str]:
    levels = np.array([MIDDLE * share for share in (0.6, 0.8, 1.0, 1.2, 1.4)])
    fan = Fan(at=AT, levels=levels, **extra)  # type: ignore[arg-type]
    return fan_sheet(fan, width=60, height=14, plain=plain).lines()


def test_size_axes_and_order_of_bands() -> None:
    drawn = lines(limit=20.0)
    assert len(drawn) == 14
    assert all(len(line) <= 60 for line in drawn)
    assert drawn[0].startswith("mm")
    assert drawn[-1].split() == ["1000", "2000"]
    column = "".join(line.ljust(60)[59] for line in drawn[:-1])
    assert column.index("░") < column.index("▒") < column.rindex("▒") < column.rindex("░"), "outer around inner"


def test_the_middle_rises_with_the_values() -> None:
    drawn = lines(plain=True)
    first = next(i for i, line in enumerate(drawn) if "#" in line[:12])
    last = next(i for i, line in enumerate(drawn) if "#" in line[-3:])
    assert last < first


def test_limits_readings_stops_and_the_face_are_drawn() -> None:
    drawn = lines(
        plain=True, limit=20.0, damage=30.0, readings=((900.0, 4.0, 0.5), (950.0, 4.5, 0.5)), marks=((1500.0, "1"),),
        face=1000.0,
    )  # fmt: skip
    assert any("-- --" in line and line.startswith("20") for line in drawn)
    assert any("= =" in line and line.startswith("30") for line in drawn)
    assert sum(line[3:].count("o") for line in drawn[:-1]) == 2
    assert "1" in drawn[0]
    assert "face 1000" in drawn[-1]


def test_the_way_from_the_last_reading_to_the_face_is_shown() -> None:
    reading = ((500.0, 4.0, 0.0),)
    with_reading = fan_sheet(Fan(at=AT, levels=np.tile(MIDDLE, (5, 1)), readings=reading), width=80, height=14)
    styles = {style for row in with_reading.rows() for text, style, _ in row if text.strip()}
    assert "gap" in styles
    without = fan_sheet(Fan(at=AT, levels=np.tile(MIDDLE, (5, 1))), width=80, height=14)
    assert "gap" not in {style for row in without.rows() for _, style, _ in row}


def test_plain_signs_only() -> None:
    text = "\n".join(lines(plain=True, limit=20.0, damage=30.0)) + "".join(text for text, _ in fan_key(plain=True))
    assert text.isascii()


def test_readings_alone_and_nothing_at_all() -> None:
    none = {"at": np.empty(0), "levels": np.empty((5, 0))}
    drawn = fan_sheet(Fan(**none, readings=((100.0, 3.0, 0.2),)), width=40, height=8).lines()  # type: ignore[arg-type]
    assert sum(line.count("o") for line in drawn) == 1
    assert fan_sheet(Fan(**none), width=40, height=8).lines()[0] == "nothing to draw yet"  # type: ignore[arg-type]


def test_values_below_zero_keep_their_place() -> None:
    levels = np.tile([2.0, -4.0], (5, 1))
    drawn = fan_sheet(Fan(at=np.array([0.0, 10.0]), levels=levels, step=True), width=40, height=12).lines()
    zero = next(i for i, line in enumerate(drawn) if line.lstrip().startswith("0 "))
    low = next(i for i, line in enumerate(drawn) if line.lstrip().startswith("-4"))
    assert 0 < zero < low == 10


def test_a_fan_ends_where_nothing_is_decided_any_more() -> None:
    draws = np.linspace(5.0, 100.0, 40)[None, :] * np.array([[0.9], [1.0], [1.1]])
    fan = tool_fan(draws, at_m=np.linspace(0.0, 390.0, 40), limit=18.0, damage=32.0, stops_m=(10.0, 380.0))
    assert fan.at[-1] < 200.0
    assert fan.marks == ((10.0, "1"),)
    assert fan.top is not None
    assert 32.0 < fan.top < 40.0, "room for the damage limit"
