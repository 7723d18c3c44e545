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
    tops = [float(np.max(quantiles["p95"]))] if places.size else []
    tops += [value for _, value in readings] + ([limit] if limit else [])
    if not tops:
        return ["nothing to draw yet"]
    top = 1.08 * max(max(tops), 1e-9) if top is None else top
    bottom = min(0.0, float(np.min(quantiles["p05"]))) if places.size else 0.0
    everywhere = [*places.tolist(), *(place for place, _ in readings), *stops_m]
    low, high = min(everywhere), max(everywhere)
    high = high if high > low else low + 1.0
    gutter = max(len(y_text(top)), len(y_text(bottom)), len(y_text(limit or 0.0)), len(y_unit)) + 1
    wide, tall = max(8, width - gutter - 1), max(3, height - 2)
    grid = [[" "] * wide for _ in range(tall)]

    def column_of(place: float) -> int:
        return int(min(wide - 1, max(0, round((place - low) / (high - low) * (wide - 1)))))

    def row_of(value: float) -> int:
        return min(tall - 1, max(0, tall - 1 - round((value - bottom) / (top - bottom) * (tall - 1))))

    if places.size:
        columns = np.linspace(low, high, wide)
        inside = (columns >= places[0] - 1e-9) & (columns <= places[-1] + 1e-9)
        drawn = {key: np.interp(columns, places, np.asarray(values, float)) for key, values in quantiles.items()}
        for column in np.flatnonzero(inside).tolist():
            for sign, (under, above) in (("outer", ("p05", "p95")), ("inner", ("p25", "p75")), ("mid", ("p50", "p50"))):
                if drawn[under][column] > top:
                    continue
                for row in range(row_of(drawn[above][column]), row_of(drawn[under][column]) + 1):
                    grid[row][column] = signs[sign]
    for stop in stops_m:
        for row in range(tall):
            if grid[row][column_of(stop)] == " ":
                grid[row][column_of(stop)] = signs["stop"]
    if limit is not None:
        for column in range(wide):
            if grid[row_of(limit)][column] in (" ", signs["stop"], signs["outer"]):
                grid[row_of(limit)][column] = signs["limit"]
    for place, value in readings:
        grid[row_of(value)][column_of(place)] = signs["reading"]
    lines = []
    for row in range(tall):
        head = (
            y_unit or y_text(top) if row == 0 else y_text(limit) if limit is not None and row == row_of(limit) else ""
        )
        head = y_text(bottom) if row == tall - 1 else y_text(0.0) if row == row_of(0.0) else head
        lines.append(f"{head:>{gutter - 1}} {'|' if ascii_only else '┤'}{''.join(grid[row])}".rstrip())
    lines.append(" " * gutter + ("+" + "-" * wide if ascii_only else "└" + "─" * wide))
    left, right = x_text(low), x_text(high)
    lines.append(" " * (gutter + 1) + left + right.rjust(wide - len(left)))
    return [line[:width] for line in lines]


def fan_key(*, ascii_only: bool = False) -> str:
    """What the signs mean, in one line."""
    signs = PLAIN_SIGNS if ascii_only else SIGNS
    return (
        f"{signs['mid']} as likely above as below  {signs['inner']} half  {signs['outer']} nine in ten  "
        f"{signs['limit']} limit  {signs['reading']} read"
    )
