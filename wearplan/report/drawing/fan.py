"""A fan of wear along the drive: middle, half and nine tenths, limits, readings with their error, numbered stops."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wearplan.report.drawing.sheet import Sheet, signs

Floats = NDArray[np.float64]
LEVELS = (0.05, 0.25, 0.5, 0.75, 0.95)
NINE_IN_TEN = 1.645
"""Half of nine in ten of a normal spread, in standard deviations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """What a fan shows; places along it grow."""

    at: Floats
    """(G,) places ahead; empty for readings alone."""
    levels: Floats
    """(5, G) values at `LEVELS`."""
    limit: float | None = None
    damage: float | None = None
    """Damage limit; drawn where there is room for it."""
    top: float | None = None
    """Highest value drawn; what lies above is left out. None: room for everything."""
    readings: tuple[tuple[float, float, float], ...] = ()
    """Place, value, standard error (0: not known)."""
    marks: tuple[tuple[float, str], ...] = ()
    """Places and the sign written over them: proposed stops, deliveries."""
    face: float | None = None
    step: bool = False
    """Values hold until the next place, as a count of things does."""
    names: tuple[str, str] = ("limit", "damage limit")
    below: tuple[tuple[float, str, str], ...] = field(default=())
    """Place, sign and style for the line under the chart."""


@dataclass(frozen=True, slots=True)
class _Scale:
    low: float
    high: float
    bottom: float
    top: float
    left: int
    wide: int
    tall: int

    def column(self, place: float) -> int:
        return self.left + min(self.wide - 1, max(0, int((place - self.low) / (self.high - self.low) * self.wide)))

    def x(self, place: float) -> float:
        return 2 * self.left + (place - self.low) / (self.high - self.low) * (2 * self.wide - 1)

    def share(self, value: float) -> float:
        """From the top; clipped a little above it, so that what leaves the chart is seen to."""
        return min(1.0, max(0.0, (self.top - value) / (self.top - self.bottom)))

    def y(self, value: float) -> float:
        return self.share(value) * (4 * self.tall - 1)

    def half(self, value: float) -> float:
        return self.share(value) * 2 * self.tall

    def row(self, value: float) -> int:
        return min(self.tall - 1, round(self.y(value)) // 4)


def fan_sheet(
    fan: Fan,
    *,
    width: int,
    height: int,
    x_text: Callable[[float], str] = lambda value: f"{value:.0f}",
    y_text: Callable[[float], str] = lambda value: f"{value:.0f}",
    unit: str = "mm",
    plain: bool = False,
) -> Sheet:
    """Draw a fan on ``height`` rows, the last one for the axis; at least 24 by 5."""
    sheet = Sheet(width, height, plain=plain)
    span = _span(fan)
    if span is None:
        sheet.text(0, 0, "nothing to draw yet", "dim")
        return sheet
    everywhere = [*fan.at.tolist(), *(place for place, *_ in fan.readings)]
    low, high = min(everywhere), max(everywhere)
    if fan.face is not None and len(everywhere) > 1:
        low, high = min(low, fan.face), max(high, fan.face)
    high = high if high > low else low + 1.0
    heads = [
        y_text(span[0]),
        y_text(span[1]),
        unit,
        *(y_text(v) for v in (fan.limit, fan.damage) if v is not None and math.isfinite(v)),
    ]
    left = max(map(len, heads)) + 1
    below = 1 if fan.below else 0
    scale = _Scale(low, high, *span, left, max(8, width - left), max(2, height - 1 - below))
    _axes(sheet, fan, scale, (x_text(low), x_text(high)), y_text)
    _bands(sheet, fan, scale)
    _limits(sheet, fan, scale, y_text)
    _middle(sheet, fan, scale)
    _readings(sheet, fan, scale)
    _uprights(sheet, fan, scale, x_text)
    for place, sign, style in fan.below:
        sheet.text(height - 2, scale.column(place), sign, style)
    if sheet.free(0, 0, len(unit)):
        sheet.text(0, 0, unit, "dim")
    return sheet


def _span(fan: Fan) -> tuple[float, float] | None:
    """Lowest and highest value there is room for; None where there is nothing to draw."""
    tops = [float(np.max(fan.levels[4]))] if fan.at.size else []
    tops += [value for _, value, _ in fan.readings] + ([fan.limit] if fan.limit else [])
    if not fan.at.size and not fan.readings:
        return None
    bottom = min(0.0, float(np.min(fan.levels[0]))) if fan.at.size else 0.0
    top = 1.08 * max(*tops, 1e-9) if fan.top is None else fan.top
    return bottom, max(top, bottom + 1e-9)


def _axes(sheet: Sheet, fan: Fan, scale: _Scale, ends: tuple[str, str], y_text: Callable[[float], str]) -> None:
    zero = scale.y(0.0)
    sheet.line(2 * scale.left, zero, 2 * sheet.width - 1, zero, "zero" if scale.bottom < 0 else "axis", every=2)
    for value in (0.0, scale.bottom):
        row = scale.row(value)
        if sheet.free(row, 0, scale.left):
            sheet.right(row, scale.left - 1, y_text(value), "limit" if value == 0.0 > scale.bottom else "dim")
    last = sheet.height - 1
    sheet.text(last, scale.left, ends[0], "dim")
    sheet.right(last, sheet.width, ends[1], "dim")


def _interpolated(fan: Fan, columns: Floats) -> Floats:
    if fan.step:
        index = np.clip(np.searchsorted(fan.at, columns, side="right") - 1, 0, len(fan.at) - 1)
        return np.asarray(fan.levels[:, index])
    return np.array([np.interp(columns, fan.at, row) for row in fan.levels])


def _bands(sheet: Sheet, fan: Fan, scale: _Scale) -> None:
    """Nine tenths, then half; what begins above the top is left out."""
    if not fan.at.size:
        return
    columns = np.arange(scale.column(float(fan.at[0])), scale.left + scale.wide)
    places = scale.low + (columns - scale.left + 0.5) / scale.wide * (scale.high - scale.low)
    drawn = _interpolated(fan, np.clip(places, fan.at[0], fan.at[-1]))
    for index, column in enumerate(columns.tolist()):
        for style, under, above in (("band", 0, 4), ("half", 1, 3)):
            if drawn[under][index] <= scale.top and drawn[above][index] > drawn[under][index]:
                sheet.band(column, scale.half(drawn[above][index]), scale.half(drawn[under][index]), style)


def _middle(sheet: Sheet, fan: Fan, scale: _Scale) -> None:
    if not fan.at.size:
        return
    places = np.linspace(float(fan.at[0]), float(fan.at[-1]), 2 * scale.wide)
    values = _interpolated(fan, places)[2]
    kept = values <= scale.top
    if fan.step:  # dots without uprights: a count jumps, it does not climb
        for place, value in zip(places[kept].tolist(), values[kept].tolist(), strict=True):
            sheet.dot(round(scale.x(place)), round(scale.y(value)), "middle")
        return
    points = [(scale.x(p), scale.y(v)) for p, v in zip(places[kept].tolist(), values[kept].tolist(), strict=True)]
    sheet.path(points, "middle")


def _limits(sheet: Sheet, fan: Fan, scale: _Scale, y_text: Callable[[float], str]) -> None:
    for value, name, style, every, on in (
        (fan.damage, fan.names[1], "damage", 4, 1), (fan.limit, fan.names[0], "limit", 6, 4)
    ):  # fmt: skip
        if value is None or not math.isfinite(value) or value > scale.top:
            continue
        y, row = scale.y(value), scale.row(value)
        sheet.line(2 * scale.left, y, 2 * sheet.width - 1, y, style, every=every, on=on)
        if sheet.free(row, 0, scale.left):
            sheet.right(row, scale.left - 1, y_text(value), style)
        side = row + 1 if row == 0 else row - 1
        if name and sheet.free(side, scale.left + 1, len(name)) and scale.tall >= 8:
            sheet.text(side, scale.left + 1, name, style)


def _readings(sheet: Sheet, fan: Fan, scale: _Scale) -> None:
    """Readings with nine in ten of their error; a sparse line leads from the last one to where the fan begins."""
    if fan.readings and fan.at.size:
        place, value, _ = fan.readings[-1]
        sheet.line(
            scale.x(place), scale.y(value), scale.x(float(fan.at[0])), scale.y(float(fan.levels[2][0])), "gap", every=4
        )
    for place, value, error in fan.readings:
        x = scale.x(place)
        if error > 0:
            sheet.line(x, scale.y(value + NINE_IN_TEN * error), x, scale.y(value - NINE_IN_TEN * error), "error")
        sheet.text(scale.row(value), scale.column(place), sheet.signs.read, "read")


def _uprights(sheet: Sheet, fan: Fan, scale: _Scale, x_text: Callable[[float], str]) -> None:
    """Stops by number on top of a sparse upright; the face, named under the axis."""
    for place, name in fan.marks:
        if not scale.low <= place <= scale.high:
            continue
        sheet.line(scale.x(place), 2, scale.x(place), 4 * scale.tall - 1, "stop", every=6)
        column = min(scale.column(place), sheet.width - len(name))
        if sheet.free(0, column - 1, len(name) + 1):
            sheet.text(0, column, name, "stop")
    if fan.face is None or not scale.low <= fan.face <= scale.high:
        return
    x, column = scale.x(fan.face), scale.column(fan.face)
    sheet.line(x, 0, x, 4 * scale.tall - 1, "face", every=2)
    words = f"face {x_text(fan.face)}"
    start = min(max(scale.left, column - len(words) // 2), sheet.width - len(words))
    for at in (start, column):
        if sheet.free(sheet.height - 1, at - 1, len(words) + 2):
            sheet.text(sheet.height - 1, at, words, "face")
            break


def fan_key(*, plain: bool = False) -> tuple[tuple[str, str], ...]:
    """What the signs mean, as (text, style) in a row; a style that is a band stands behind its blank."""
    mark = signs(plain)
    half, band = (":", ".") if plain else ("▒", "░")
    middle = "#" if plain else "⠒"
    return (
        (mark.read, "read"), (" read  ", "dim"), (middle, "middle"), (" middle  ", "dim"), (half, "half"),
        (" half  ", "dim"), (band, "band"), (" nine in ten  ", "dim"), ("1 2", "stop"), (" stops", "dim"),
    )  # fmt: skip


def tool_fan(
    draws: Floats,
    *,
    at_m: Floats,
    limit: float,
    damage: float,
    readings: Sequence[tuple[float, float, float]] = (),
    stops_m: Sequence[float] = (),
    far: float = 1.25,
) -> Fan:
    """The fan of one tool's wear if it is left.

    Parameters
    ----------
    draws : (D, G)
        Wear in the unit shown.
    at_m : (G,)
        Driven metres, the first one at the face.
    readings : sequence of (driven m, value, standard error)
    far : float
        Far past the limit nothing is decided any more: the chart ends where even the low band lies this many times over
        the limit.
    """
    levels = np.quantile(draws, LEVELS, axis=0)
    beyond = np.flatnonzero(levels[0] > far * limit)
    kept = slice(0, max(2, int(beyond[0]) + 1) if len(beyond) else levels.shape[1])
    levels, at_m = levels[:, kept], at_m[kept]
    roof = damage if math.isfinite(damage) and float(levels[4].max()) > 0.9 * damage else limit
    return Fan(
        at=at_m, levels=levels, limit=limit, damage=damage, face=float(at_m[0]), readings=tuple(readings),
        top=1.12 * max(roof, float(levels[4][0]), *(value for _, value, _ in readings), 1e-9),
        marks=tuple((m, str(n)) for n, m in enumerate(stops_m, 1) if m <= at_m[-1]),
    )  # fmt: skip
