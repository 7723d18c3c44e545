"""A fan of wear as text."""

from __future__ import annotations

import numpy as np

from wearplan.report.drawing.fan import fan_key, fan_lines


def fan(**extra: object) -> list[str]:
    at = np.linspace(1000.0, 2000.0, 11)
    middle = np.linspace(5.0, 25.0, 11)
    bands = {"p05": middle * 0.6, "p25": middle * 0.8, "p50": middle, "p75": middle * 1.2, "p95": middle * 1.4}
    return fan_lines(at, bands, width=60, height=14, **extra)  # type: ignore[arg-type]


def test_size_axes_and_order_of_bands() -> None:
    lines = fan(limit=20.0)
    assert len(lines) == 14
    assert all(len(line) <= 60 for line in lines)
    assert lines[0].startswith("mm")
    assert lines[-1].split() == ["1000", "2000"]
    column = "".join(line.ljust(60)[40] for line in lines[:-2])
    assert column.index("░") < column.index("▒") < column.index("█"), "outer above inner above the middle"


def test_the_middle_rises_with_the_values() -> None:
    lines = fan()[:-2]
    first = next(i for i, line in enumerate(lines) if "█" in line[:12])
    last = next(i for i, line in enumerate(lines) if "█" in line[-3:])
    assert last < first


def test_limit_readings_and_stops_are_drawn() -> None:
    lines = fan(limit=20.0, readings=[(900.0, 4.0), (950.0, 4.5)], stops_m=[1500.0])
    assert any("╌" in line and line.startswith("20") for line in lines)
    assert sum(line.count("o") for line in lines[:-1]) == 2
    assert any("│" in line for line in lines)


def test_plain_signs_only() -> None:
    text = "\n".join([*fan(ascii_only=True, limit=20.0), fan_key(ascii_only=True)])
    assert text.isascii()


def test_readings_alone_and_nothing_at_all() -> None:
    lines = fan_lines((), {}, width=40, height=8, readings=[(100.0, 3.0)])
    assert sum(line.count("o") for line in lines) == 1
    assert fan_lines((), {}, width=40, height=8) == ["nothing to draw yet"]


def test_values_below_zero_keep_their_place() -> None:
    bands = {key: [2.0, -4.0] for key in ("p05", "p25", "p50", "p75", "p95")}
    lines = fan_lines([0.0, 10.0], bands, width=40, height=12)
    assert any(line.startswith(" 0") or line.startswith("0") for line in lines), "zero is named where it lies"
    assert lines[9].lstrip().startswith("-4")
