"""The drive as a strip of text: ground at crown, axis and invert, windows, keep-outs, stops, tools past their limit.

One column is one slice of the drive. In a well-mixed face the letters of its units alternate in their shares; small
letters mark where a boundary may lie.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearplan.report.words import chainage_text
from wearplan.site.records import Ground, Section, Site, Stops

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
    high = max(site.drive.length_m if to_m is None else to_m, low + 1.0)
    scale = _Scale(low, high, max(10, width - LABEL))
    ground = site.ground()
    letters = unit_letters([unit.code for unit in ground.units]) if ground else {}
    rows = [
        *(_ground_rows(ground, site.wheel.bore_diameter_m / 2, scale, letters) if ground is not None else ()),
        *_access_rows(site.stops, scale),
        StripRow(key="stops", label="stops", text=_stop_marks(face_m, stops_m, scale)),
    ]
    if over is not None and len(over[0]):
        rows.append(StripRow(key="over", label="past lim.", text=_over_signs(over, face_m, scale)))
    rows.append(StripRow(key="ticks", label="chainage", text=_ticks(site, low, high, scale.wide, feet)))
    if cursor_m is not None:
        label = chainage_text(site.drive.chainage_m(cursor_m), feet=feet)
        rows.append(StripRow(key="cursor", label="here", text=_pointer(scale.column(cursor_m), label, scale.wide)))
    return Strip(from_m=low, to_m=high, rows=tuple(rows), legend=_legend(site, letters))


@dataclass(frozen=True, slots=True)
class _Scale:
    """Which column a place falls into."""

    low: float
    high: float
    wide: int

    @property
    def middles(self) -> NDArray[np.float64]:
        edges = np.linspace(self.low, self.high, self.wide + 1)
        return np.asarray((edges[:-1] + edges[1:]) / 2)

    def column(self, place: float) -> int:
        """The column of a place; the nearest one of those shown where it lies outside."""
        return min(self.wide - 1, max(0, int((place - self.low) / (self.high - self.low) * self.wide)))

    def columns(self, from_m: float, to_m: float) -> range:
        return _columns(from_m, to_m, self.low, self.high, self.wide)


def _ground_rows(ground: Ground, radius: float, scale: _Scale, letters: Mapping[str, str]) -> Iterator[StripRow]:
    layered = any(section.strata for section in ground.sections)
    for key, height in _HEIGHTS.items() if layered else (("axis", 0.0),):
        text = "".join(
            _ground_sign(ground.sections, place, column, height * radius, letters)
            for column, place in enumerate(scale.middles.tolist())
        )
        yield StripRow(key=f"ground {key}", label=key if layered else "ground", text=text)


def _access_rows(stops: Stops | None, scale: _Scale) -> Iterator[StripRow]:
    """Windows, how they are entered, and keep-outs."""
    windows, modes, barred = ([" "] * scale.wide for _ in range(3))
    for window in stops.windows if stops else ():
        for column in scale.columns(window.from_m, window.to_m):
            windows[column] = WINDOW_SIGNS.get(window.kind, "O")
            modes[column] = MODE_SIGNS.get(window.mode, "m")
    for keep_out in stops.keep_outs if stops else ():
        for column in scale.columns(keep_out.from_m, keep_out.to_m):
            barred[column] = "x"
    yield StripRow(key="windows", label="windows", text="".join(windows))
    yield StripRow(key="modes", label="entry in", text="".join(modes))
    yield StripRow(key="keep-outs", label="keep out", text="".join(barred))


def _stop_marks(face_m: float | None, stops_m: Sequence[float], scale: _Scale) -> str:
    """What is driven, the face, and the proposed stops by number."""
    marks = [" "] * scale.wide
    if face_m is not None and scale.low <= face_m <= scale.high:
        at = scale.column(face_m)
        marks[:at] = "=" * at
        marks[at] = ">"
    for index, stop in enumerate(stops_m, start=1):
        if scale.low <= stop <= scale.high:
            marks[scale.column(stop)] = str(index) if index < 10 else "+"
    return "".join(marks)


def _over_signs(over: tuple[Sequence[float], Sequence[float]], face_m: float | None, scale: _Scale) -> str:
    """Tools past their limit by column, from the face on."""
    counts = np.interp(scale.middles, over[0], over[1])
    step = (scale.high - scale.low) / scale.wide
    ahead = scale.middles >= (face_m if face_m is not None else scale.low) - step
    return "".join(
        " " if not shown else "+" if count >= 9.5 else str(round(count)) if count >= 0.5 else "."
        for count, shown in zip(counts.tolist(), ahead.tolist(), strict=True)
    )


def _pointer(column: int, label: str, wide: int) -> str:
    """A caret under a column with its label on the side that has room."""
    right = " " * column + "^ " + label
    left = f"{' ' * (column - len(label) - 1)}{label} ^"
    return (right if column + 2 + len(label) <= wide else left).ljust(wide)


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
