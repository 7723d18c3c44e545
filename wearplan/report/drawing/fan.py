"""A fan of wear along the drive as lines of text: median, half and nine tenths bands, limit and readings."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SIGNS = {"outer": "░", "inner": "▒", "mid": "█", "limit": "╌", "reading": "o", "stop": "│"}
PLAIN_SIGNS = {"outer": ".", "inner": ":", "mid": "#", "limit": "-", "reading": "o", "stop": "|"}


def fan_lines(
    at_m: Sequence[float] | Floats,
    quantiles: Mapping[str, Sequence[float] | Floats],
    *,
    width: int,
    height: int,
    limit: float | None = None,
    top: float | None = None,
    readings: Sequence[tuple[float, float]] = (),
    stops_m: Sequence[float] = (),
    x_text: Callable[[float], str] = lambda value: f"{value:.0f}",
    y_text: Callable[[float], str] = lambda value: f"{value:.0f}",
    y_unit: str = "mm",
    ascii_only: bool = False,
) -> list[str]:
    """Draw a fan.

    Parameters
    ----------
    at_m : sequence of float
        Places (G,), growing.
    quantiles : mapping
        ``p05``, ``p25``, ``p50``, ``p75``, ``p95`` to values (G,). An empty ``at_m`` draws readings alone.
    limit : float, optional
        Drawn across.
    top : float, optional
        Highest value drawn; what lies above is left out. Without it, room for everything.
    readings : sequence of (place, value)
    stops_m : sequence of float
        Places of proposed stops, drawn as upright lines.
    width, height : int
        Characters, axes included; at least 24 by 6.

    Returns
    -------
    list of str
        ``height`` lines, none longer than ``width``.
    """
    signs = PLAIN_SIGNS if ascii_only else SIGNS
    places = np.asarray(at_m, dtype=float)
    span = _span(places, quantiles, readings, limit)
    if span is None:
        return ["nothing to draw yet"]
    bottom, top = span[0], span[1] if top is None else top
    everywhere = [*places.tolist(), *(place for place, _ in readings), *stops_m]
    low, high = min(everywhere), max(everywhere)
    high = high if high > low else low + 1.0
    gutter = max(len(y_text(top)), len(y_text(bottom)), len(y_text(limit or 0.0)), len(y_unit)) + 1
    sheet = _Sheet(low, high, bottom, top, max(8, width - gutter - 1), max(3, height - 2))
    if places.size:
        sheet.bands(places, quantiles, signs)
    for stop in stops_m:
        sheet.upright(stop, signs["stop"])
    if limit is not None:
        sheet.across(limit, signs["limit"], over=(" ", signs["stop"], signs["outer"]))
    for place, value in readings:
        sheet.grid[sheet.row(value)][sheet.column(place)] = signs["reading"]
    heads = {0: y_unit or y_text(top)}
    if limit is not None:
        heads.setdefault(sheet.row(limit), y_text(limit))
    heads |= {sheet.row(0.0): y_text(0.0), sheet.tall - 1: y_text(bottom)}
    lines = [
        f"{heads.get(row, ''):>{gutter - 1}} {'|' if ascii_only else '┤'}{''.join(cells)}".rstrip()
        for row, cells in enumerate(sheet.grid)
    ]
    lines.append(" " * gutter + ("+" + "-" * sheet.wide if ascii_only else "└" + "─" * sheet.wide))
    left, right = x_text(low), x_text(high)
    lines.append(" " * (gutter + 1) + left + right.rjust(sheet.wide - len(left)))
    return [line[:width] for line in lines]


def _span(
    places: Floats,
    quantiles: Mapping[str, Sequence[float] | Floats],
    readings: Sequence[tuple[float, float]],
    limit: float | None,
) -> tuple[float, float] | None:
    """Lowest and highest value there is room for; None where there is nothing to draw."""
    tops = [float(np.max(quantiles["p95"]))] if places.size else []
    tops += [value for _, value in readings] + ([limit] if limit else [])
    if not tops:
        return None
    bottom = min(0.0, float(np.min(quantiles["p05"]))) if places.size else 0.0
    return bottom, 1.08 * max(max(tops), 1e-9)


class _Sheet:
    """Characters to draw on, and which one a place and value falls on."""

    def __init__(self, low: float, high: float, bottom: float, top: float, wide: int, tall: int) -> None:
        self.low, self.high, self.bottom, self.top, self.wide, self.tall = low, high, bottom, top, wide, tall
        self.grid = [[" "] * wide for _ in range(tall)]

    def column(self, place: float) -> int:
        return int(min(self.wide - 1, max(0, round((place - self.low) / (self.high - self.low) * (self.wide - 1)))))

    def row(self, value: float) -> int:
        height = round((value - self.bottom) / (self.top - self.bottom) * (self.tall - 1))
        return min(self.tall - 1, max(0, self.tall - 1 - height))

    def bands(
        self, places: Floats, quantiles: Mapping[str, Sequence[float] | Floats], signs: Mapping[str, str]
    ) -> None:
        """The bands and the middle; what begins above the top is left out."""
        columns = np.linspace(self.low, self.high, self.wide)
        inside = (columns >= places[0] - 1e-9) & (columns <= places[-1] + 1e-9)
        drawn = {key: np.interp(columns, places, np.asarray(values, float)) for key, values in quantiles.items()}
        for column in np.flatnonzero(inside).tolist():
            for sign, under, above in (("outer", "p05", "p95"), ("inner", "p25", "p75"), ("mid", "p50", "p50")):
                if drawn[under][column] > self.top:
                    continue
                for row in range(self.row(drawn[above][column]), self.row(drawn[under][column]) + 1):
                    self.grid[row][column] = signs[sign]

    def upright(self, place: float, sign: str) -> None:
        """A line up the sheet, where nothing stands yet."""
        column = self.column(place)
        for cells in self.grid:
            if cells[column] == " ":
                cells[column] = sign

    def across(self, value: float, sign: str, *, over: tuple[str, ...]) -> None:
        """A line across, over the signs named."""
        cells = self.grid[self.row(value)]
        cells[:] = [sign if each in over else each for each in cells]


def fan_key(*, ascii_only: bool = False) -> str:
    """What the signs mean, in one line."""
    signs = PLAIN_SIGNS if ascii_only else SIGNS
    return (
        f"{signs['mid']} as likely above as below  {signs['inner']} half  {signs['outer']} nine in ten  "
        f"{signs['limit']} limit  {signs['reading']} read"
    )
