"""A small invented office: twelve places, four stops, eighty rings; written in several layouts and languages.

``TRUE`` is what every layout means; each writer says the same in other words.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

NAMES = [f"{n}" for n in range(1, 13)]
DISCS, OTHERS = range(1, 9), range(9, 13)
RINGS = [20, 40, 60, 80]
BEGAN = datetime(2025, 3, 3, 8, 0)
LIMIT = {True: 25.0, False: 20.0}


def is_disc(place: int) -> bool:
    return place in DISCS


def wear(place: int, stop: int) -> float | None:
    """Wear of a place at a stop; place 4 is changed at the second stop, place 7 is never read at the third."""
    if place == 7 and stop == 2:
        return None
    path = stop + 1 if not (place == 4 and stop > 1) else stop - 1
    return round((1.0 + 0.5 * (place % 4)) * path, 1)


CHANGED = {(4, 1): ("D-004", "D-104")}


def ring_end(ring: int) -> float:
    return 100.0 + 1.5 * ring


def ring_time(ring: int) -> datetime:
    return BEGAN + timedelta(hours=5 * ring)


def radius(place: int) -> float:
    return 200.0 * place


def layout(
    heads: list[str],
    *,
    scale: float = 1.0,
    names: list[str] | None = None,
    types=("disc 17", "scraper"),
    zones=("centre", "face", "gauge"),
):
    rows: list[list[Any]] = [heads]
    for place in range(1, 13):
        zone = zones[0] if place == 1 else zones[2] if place == 12 else zones[1]
        kind = types[0] if is_disc(place) else types[1]
        rows.append(
            [(names or NAMES)[place - 1], kind, radius(place) * scale, 30.0 * (place - 1), zone, LIMIT[is_disc(place)]]
        )
    return rows


def ring_log(heads: list[str], *, back: float = 0.0, when=lambda t: t, number=lambda x: x):
    rows: list[list[Any]] = [heads]
    for ring in range(1, 85):
        rows.append(
            [
                ring,
                number(ring_end(ring - 1) - back),
                number(ring_end(ring) - back),
                when(ring_time(ring)),
                number(50.0),
                number(9000.0),
            ]
        )
    return rows


def save(
    path: Path,
    sheets: dict[str, list[list[Any]]],
    *,
    fills: dict[tuple[str, str], str] | None = None,
    hidden: tuple[str, ...] = (),
) -> Path:
    import openpyxl
    from openpyxl.styles import PatternFill

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
        if name in hidden:
            sheet.sheet_state = "hidden"
    for (name, cell), colour in (fills or {}).items():
        book[name][cell].fill = PatternFill("solid", fgColor=colour)
    book.save(path)
    return path


def readings(taken) -> dict[tuple[int, int], float]:
    """(ring, place) -> wear of every reading taken."""
    return {(stop.ring, r.place): r.wear[0] for stop in taken.stops for r in stop.readings.values() if r.wear}


def true_readings() -> dict[tuple[int, int], float]:
    return {
        (RINGS[stop], place): value
        for stop in range(4)
        for place in range(1, 13)
        if (value := wear(place, stop)) is not None
    }
