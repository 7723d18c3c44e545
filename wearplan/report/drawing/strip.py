"""The drive as a strip of text: ground at crown, axis and invert, windows, keep-outs, stops, tools past their limit.

One column is one slice of the drive. In a well-mixed face the letters of its units alternate in their shares; small
letters mark where a boundary may lie.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearplan.report.words import chainage_text
from wearplan.site.records import Section, Site

WINDOW_SIGNS = {"shaft": "S", "treated block": "T", "competent ground": "C", "station box": "B", "other": "O"}
MODE_SIGNS = {"free air": "f", "compressed air": "p"}
LABEL = 9
"""Characters before the strip itself."""
_HEIGHTS = {"crown": 0.7, "axis": 0.0, "invert": -0.7}


@dataclass(frozen=True, slots=True, kw_only=True)
class StripRow:
    """One line: ``key`` is for colour and tests."""

    key: str
    label: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """The strip between two places of the drive, in driven metres."""

    from_m: float
    to_m: float
    rows: tuple[StripRow, ...]
    legend: tuple[str, ...]
    label_width: int = LABEL

    def lines(self) -> list[str]:
        """The chart as text, the legend not included."""
        return [f"{row.label:<{LABEL}}{row.text}".rstrip() for row in self.rows]

    def column(self, driven_m: float) -> int:
        """Column of a place within the rows' text (may lie outside)."""
        width = len(self.rows[0].text)
        return int((driven_m - self.from_m) / (self.to_m - self.from_m) * width)

    def driven_m(self, column: int) -> float:
        """Middle of a column, in driven metres."""
        width = len(self.rows[0].text)
        return self.from_m + (column + 0.5) / width * (self.to_m - self.from_m)


def drive_strip(
    site: Site,
    *,
    width: int,
    from_m: float | None = None,
    to_m: float | None = None,
    face_m: float | None = None,
    stops_m: Sequence[float] = (),
    over: tuple[Sequence[float], Sequence[float]] | None = None,
    cursor_m: float | None = None,
    feet: bool = False,
) -> Strip:
    """Draw the drive.

    Parameters
    ----------
    site : Site
    width : int
        Characters, labels included.
    from_m, to_m : float, optional
        Stretch shown, driven metres; the whole drive without them.
    face_m : float, optional
        Where the face is.
    stops_m : sequence of float
        Proposed stops, numbered in this order.
    over : (places (G,), expected number (G,)), optional
        Tools past their limit if left in place.
    cursor_m : float, optional
        A place to point at.
    feet : bool
        Chainage in stations of 100 ft.
    """
    low = 0.0 if from_m is None else from_m
    high = site.drive.length_m if to_m is None else to_m
    high = max(high, low + 1.0)
    wide = max(10, width - LABEL)
    edges = np.linspace(low, high, wide + 1)
    middles = (edges[:-1] + edges[1:]) / 2
    rows = []
    ground = site.ground()
    letters = unit_letters([unit.code for unit in ground.units]) if ground else {}
    if ground is not None:
        radius = site.wheel.bore_diameter_m / 2
        layered = any(section.strata for section in ground.sections)
        for key, height in _HEIGHTS.items() if layered else (("axis", 0.0),):
            text = "".join(
                _ground_sign(ground.sections, place, column, height * radius, letters)
                for column, place in enumerate(middles.tolist())
            )
            rows.append(StripRow(key=f"ground {key}", label=key if layered else "ground", text=text))
    windows, modes = [" "] * wide, [" "] * wide
    stops = site.stops
    for window in stops.windows if stops else ():
        for column in _columns(window.from_m, window.to_m, low, high, wide):
            windows[column] = WINDOW_SIGNS.get(window.kind, "O")
            modes[column] = MODE_SIGNS.get(window.mode, "m")
    rows.append(StripRow(key="windows", label="windows", text="".join(windows)))
    rows.append(StripRow(key="modes", label="entry in", text="".join(modes)))
    barred = [" "] * wide
    for keep_out in stops.keep_outs if stops else ():
        for column in _columns(keep_out.from_m, keep_out.to_m, low, high, wide):
            barred[column] = "x"
    rows.append(StripRow(key="keep-outs", label="keep out", text="".join(barred)))
    marks = [" "] * wide
    if face_m is not None and low <= face_m <= high:
        for column in range(0, min(wide, int((face_m - low) / (high - low) * wide))):
            marks[column] = "="
        marks[min(wide - 1, int((face_m - low) / (high - low) * wide))] = ">"
    for index, stop in enumerate(stops_m, start=1):
        if low <= stop <= high:
            marks[min(wide - 1, int((stop - low) / (high - low) * wide))] = str(index) if index < 10 else "+"
    rows.append(StripRow(key="stops", label="stops", text="".join(marks)))
    if over is not None and len(over[0]):
        counts = np.interp(middles, over[0], over[1])
        ahead = middles >= (face_m if face_m is not None else low) - (high - low) / wide
        text = "".join(
            " " if not shown else "+" if count >= 9.5 else str(round(count)) if count >= 0.5 else "."
            for count, shown in zip(counts.tolist(), ahead.tolist(), strict=True)
        )
        rows.append(StripRow(key="over", label="past lim.", text=text))
    rows.append(StripRow(key="ticks", label="chainage", text=_ticks(site, low, high, wide, feet)))
    if cursor_m is not None:
        column = min(wide - 1, max(0, int((cursor_m - low) / (high - low) * wide)))
        label = chainage_text(site.drive.chainage_m(cursor_m), feet=feet)
        text = " " * column + "^ " + label if column + 2 + len(label) <= wide else " " * (column - len(label) - 1)
        text = text if "^" in text else f"{text}{label} ^"
        rows.append(StripRow(key="cursor", label="here", text=text.ljust(wide)))
    return Strip(from_m=low, to_m=high, rows=tuple(rows), legend=_legend(site, letters))


def unit_letters(codes: Sequence[str]) -> Mapping[str, str]:
    """One capital letter for each unit: of its code where free, else the next free of the alphabet."""
    letters: dict[str, str] = {}
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    for code in codes:
        wished = [sign for sign in code.upper() if sign in alphabet] + list(alphabet)
        letters[code] = next((sign for sign in wished if sign not in letters.values()), "#")
    return letters


def _ground_sign(
    sections: Sequence[Section], place: float, column: int, height_m: float, letters: Mapping[str, str]
) -> str:
    """Letter of the unit at a place and height; small near a doubtful boundary; ``_`` where nothing is cut."""
    for index, section in enumerate(sections):
        if not (section.from_m <= place < section.to_m or (index == len(sections) - 1 and place >= section.to_m)):
            continue
        if not section.cut:
            return "_"
        unit = _unit_at(section, height_m) if section.strata else _mixed(section.mix, column)
        sign = letters.get(unit, "#")
        before = sections[index - 1].boundary_sd_m if index else 0.0
        last = index == len(sections) - 1
        doubtful = place - section.from_m < before or (not last and section.to_m - place < section.boundary_sd_m)
        return sign.lower() if doubtful else sign
    return " "


def _unit_at(section: Section, height_m: float) -> str:
    """Unit of a layered face at a height above the axis; strata run from the crown down."""
    found = section.strata[0].unit
    for stratum in section.strata:
        if stratum.top_m is None or height_m <= stratum.top_m:
            found = stratum.unit
    return found


def _mixed(mix: Mapping[str, float], column: int) -> str:
    """Unit of a mix for one column, so that columns in a row show the shares (low-discrepancy steps)."""
    if not mix:
        return ""
    at = (0.5 + column * 0.6180339887498949) % 1.0 * sum(mix.values())
    for unit, share in mix.items():
        at -= share
        if at <= 0:
            return unit
    return next(iter(mix))


def _columns(from_m: float, to_m: float, low: float, high: float, wide: int) -> range:
    """Columns a stretch touches; at least one when it lies within."""
    if to_m < low or from_m > high:
        return range(0)
    first = int((max(from_m, low) - low) / (high - low) * wide)
    last = int(np.ceil((min(to_m, high) - low) / (high - low) * wide)) - 1
    return range(min(first, wide - 1), min(max(first, last), wide - 1) + 1)


def _ticks(site: Site, low: float, high: float, wide: int, feet: bool) -> str:
    """Chainage written at even places, as many as fit."""
    text = [" "] * wide
    size = max(
        len(chainage_text(site.drive.chainage_m(low), feet=feet)),
        len(chainage_text(site.drive.chainage_m(high), feet=feet)),
    )
    count = max(2, min(9, wide // (size + 6) + 1))
    for index in range(count):
        place = low + (high - low) * index / (count - 1)
        label = chainage_text(site.drive.chainage_m(place), feet=feet)
        at = round((wide - 1) * index / (count - 1))
        last = index == count - 1
        written = f"{label}|" if last else f"|{label}"
        first = wide - len(written) if last else at
        if not last and first + len(written) > wide - size - 2:
            continue
        text[first : first + len(written)] = written
    return "".join(text)[:wide]


def _legend(site: Site, letters: Mapping[str, str]) -> tuple[str, ...]:
    """What the signs mean."""
    ground = site.ground()
    names: dict[str, Any] = {unit.code: unit.name for unit in ground.units} if ground else {}
    units = "  ".join(f"{sign} {code} {names.get(code, '')}".rstrip() for code, sign in letters.items())
    kinds = {window.kind for window in site.stops.windows} if site.stops else set()
    windows = "  ".join(f"{sign} {kind}" for kind, sign in WINDOW_SIGNS.items() if kind in kinds)
    return (
        units + "  (small: the boundary may lie here; _ not cut)" if units else "no ground known",
        (windows + "  " if windows else "") + "f free air  p compressed air  m other  x keep out  > face  1.. stops",
    )
