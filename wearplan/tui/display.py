"""Metric or US display. The folder and the results stay metric; only what is shown is turned."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from wearplan.report.tables.table import Band, Column, Table
from wearplan.report.words import FOOT_M, INCH_MM, PSI_BAR, chainage_text, count_text

MILE_KM = 1.609344
YARD3_M3 = 0.764554857984
_CHAINAGE = re.compile(r"(?<![\d.])(-?)(\d+)\+(\d{3}\.\d)(?!\d)")
_TURNED: tuple[tuple[re.Pattern[str], float, str, int], ...] = (
    (
        re.compile(r"(?<![\w.+])(\d+(?:\.\d+)?)((?: ?(?:–|to|and) ?(\d+(?:\.\d+)?))?) mm\b(?! per)"),
        1 / INCH_MM,
        "in",
        2,
    ),
    (re.compile(r"(?<![\w.+])(\d+(?:\.\d+)?)((?: ?(?:–|to|and) ?(\d+(?:\.\d+)?))?) bar\b"), 1 / PSI_BAR, "psi", 0),
    (re.compile(r"(?<![\w.+])(\d+(?:\.\d+)?)((?: ?(?:–|to|and) ?(\d+(?:\.\d+)?))?) m\b(?!³)"), 1 / FOOT_M, "ft", 0),
)


@dataclass(frozen=True, slots=True)
class Display:
    """How numbers are shown."""

    us: bool = False

    def wear(self, wear_mm: float | None, *, unit: bool = False) -> str:
        """Wear: tenths of a millimetre, or hundredths of an inch."""
        if wear_mm is None:
            return "—"
        text = f"{wear_mm / INCH_MM:.2f}" if self.us else f"{wear_mm:.1f}"
        return f"{text} {self.wear_unit}" if unit else text

    def wear_short(self, wear_mm: float) -> str:
        """Wear in two signs: millimetres, or hundredths of an inch."""
        return str(max(0, min(99, round(wear_mm / INCH_MM * 100 if self.us else wear_mm))))

    @property
    def wear_unit(self) -> str:
        return "in" if self.us else "mm"

    def wear_mm(self, shown: float) -> float:
        """Millimetres of what a user typed in the display's unit."""
        return shown * INCH_MM if self.us else shown

    def chainage(self, chainage_m: float | None) -> str:
        return chainage_text(chainage_m, feet=self.us)

    def length(self, length_m: float) -> str:
        """A length in whole metres or feet, with its unit."""
        return f"{count_text(length_m / FOOT_M)} ft" if self.us else f"{count_text(length_m)} m"

    def pressure(self, pressure_bar: float | None) -> str:
        if pressure_bar is None:
            return "—"
        return f"{pressure_bar / PSI_BAR:.0f} psi" if self.us else f"{pressure_bar:.1f} bar"

    def words(self, text: str) -> str:
        """A sentence with its chainages, millimetres, metres and bars turned."""
        if not self.us:
            return text

        def chainage(match: re.Match[str]) -> str:
            value = 1000.0 * int(match[2]) + float(match[3])
            return chainage_text(-value if match[1] else value, feet=True)

        text = _CHAINAGE.sub(chainage, text)
        for pattern, factor, unit, digits in _TURNED:
            text = pattern.sub(_turner(factor, unit, digits), text)
        return text

    def table(self, table: Table) -> Table:
        """A table with its columns and words turned."""
        if not self.us:
            return table
        columns = tuple(self._column(column) for column in table.columns)
        factors = [_factor(column.key) for column in table.columns]
        rows = tuple(
            tuple(self._cell(value, factor) for value, factor in zip(row, factors, strict=True)) for row in table.rows
        )
        return replace(
            table, title=self.words(table.title), columns=columns, rows=rows,
            notes=tuple(self.words(note) for note in table.notes),
        )  # fmt: skip

    def _column(self, column: Column) -> Column:
        head = column.head
        for metric, us in _HEADS:
            head = head.replace(metric, us)
        form = {"fixed1": "fixed2"}.get(column.form, column.form) if column.key.endswith("_mm") else column.form
        return replace(column, head=self.words(head), form=form)

    def _cell(self, value: Any, factor: float) -> Any:
        if isinstance(value, str):
            return self.words(value)
        if factor == 1.0 or value is None or isinstance(value, bool):
            return value
        if isinstance(value, Band):
            return Band(*(None if part is None else part * factor for part in (value.p05, value.p50, value.p95)))
        return value * factor if isinstance(value, int | float) else value


_HEADS = (
    ("mm per km", "in per mile"),
    ("mm per 1,000 m³", "in per 1,000 yd³"),
    ("m³ per tool", "yd³ per tool"),
    ("1,000 km", "1,000 miles"),
    ("km cut", "miles cut"),
    (" mm", " in"),
    ("bar", "psi"),
)
_FACTORS = {
    "mm_per_km": MILE_KM / INCH_MM,
    "mm_per_1000_m3": YARD3_M3 / INCH_MM,
    "m3_per_tool": 1 / YARD3_M3,
    "per_1000_km": MILE_KM,
    "path_km": 1 / MILE_KM,
    "exposure_km": 1 / MILE_KM,
    "volume_m3": 1 / YARD3_M3,
}


def _factor(key: str) -> float:
    """US over metric for a column's key, by the unit in its name."""
    if key in _FACTORS:
        return _FACTORS[key]
    if key.endswith("_mm"):
        return 1 / INCH_MM
    if key.endswith("_bar"):
        return 1 / PSI_BAR
    return 1 / FOOT_M if key.endswith("_m") else 1.0


def _turner(factor: float, unit: str, digits: int) -> Callable[[re.Match[str]], str]:
    def turn(match: re.Match[str]) -> str:
        first = f"{float(match[1]) * factor:.{digits}f}"
        if match[3]:
            return f"{first}{match[2].replace(match[3], f'{float(match[3]) * factor:.{digits}f}')} {unit}"
        return f"{first} {unit}"

    return turn
