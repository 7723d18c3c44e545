"""Ring rows out of a machine's export, by a mapping. What cannot be read is named and left empty, never guessed."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from wearplan.site.exports.mapping import Column, MappingFile, RingColumns
from wearplan.site.exports.table import Export, open_export
from wearplan.site.parse.delimited import Row
from wearplan.site.parse.faults import FaultLog
from wearplan.site.parse.safe_text import clean_line
from wearplan.site.parse.text import shown
from wearplan.site.records import Drive, Fault, Origin, RingRow

Value = TypeVar("Value")
_LONGEST_RING_M = 10.0
_TOO_WIDE = "Decimal commas need quotes where commas part the cells"
_OWN_NEEDED = ("ring", "start_chainage_m", "end_chainage_m")


@dataclass(frozen=True, slots=True, kw_only=True)
class RingsRead:
    """Ring rows read from elsewhere, what is wrong with them, and what was done with them."""

    rows: tuple[RingRow, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[str, ...] = ()


def own_mapping() -> MappingFile:
    """The mapping for an export that has our own column names."""
    heads = {name: Column(head=name, optional=name not in _OWN_NEEDED) for name in RingColumns.model_fields}
    return MappingFile(columns=RingColumns(**heads))


def read_rings(path: Path, mapping: MappingFile, drive: Drive) -> RingsRead:
    """Ring rows from an export.

    A row without a ring number or a place is left out and named. Any other cell that cannot be read is left empty and
    named; the ring still counts its advance. A row of units below the header is passed over.

    Returns
    -------
    RingsRead
        With ``rows`` in the file's order; `wearplan.site.write.appending.append_rings` adds those that are new.
    """
    log = FaultLog()
    if mapping.columns is None:
        log.add(path.name, 1, "", "[columns] is missing in the mapping", code="missing-key")
        return RingsRead(rows=(), faults=log.faults())
    sources = {key: source for key in RingColumns.model_fields if (source := getattr(mapping.columns, key)) is not None}
    export = open_export(path, sources, mapping, log)
    if export is None:
        return RingsRead(rows=(), faults=log.faults())
    rows = []
    for place, row in enumerate(export.rows):
        reader = _RowReader(export, row, log)
        if place == 0 and reader.is_units():
            continue
        ring = reader.ring_row(mapping, drive)
        if ring is not None:
            rows.append(ring)
    return RingsRead(rows=tuple(rows), faults=log.faults())


class _RowReader:
    """One row of the export on its way to a ring row."""

    def __init__(self, export: Export, row: Row, log: FaultLog) -> None:
        self._export, self._row, self._log = export, row, log

    def is_units(self) -> bool:
        return not any(character.isdigit() for character in self._export.cell(self._row, "ring"))

    def ring_row(self, mapping: MappingFile, drive: Drive) -> RingRow | None:
        if self._export.too_wide(self._row):
            what = f"has more cells than the {self._export.width} of the header; the row is left out. {_TOO_WIDE}"
            self._log.add(self._export.file, self._row.line, "", what, code="too-many-cells")
            return None
        ring = self._ring()
        place = self._place(drive) if ring is not None else None
        if ring is None or place is None:
            return None
        start_m, end_m, start_chainage_m, end_chainage_m = place
        boring, idle, ccw_share = self._turns()
        regime = clean_line(self._export.cell(self._row, "regime")) or None
        extra = {}
        for key, placed in self._export.extra.items():
            text = clean_line(self._row.cells[placed.place]) if placed.place < len(self._row.cells) else ""
            if text:
                extra[key] = text.replace(",", ".") if self._export.decimal == "," and _is_number(text) else text
        return RingRow(
            ring=ring,
            start_chainage_m=start_chainage_m,
            end_chainage_m=end_chainage_m,
            start_m=start_m,
            end_m=end_m,
            finished_at=self._told("finished_at", lambda: self._export.moment(self._row, "finished_at", "finished_on")),
            revolutions_boring=boring,
            revolutions_idle=idle,
            revolutions_ccw_share=ccw_share,
            regime=mapping.regimes.get(regime, regime) if regime else None,
            thrust_kn=self._number("thrust_kn", least=0.0),
            torque_knm=self._number("torque_knm"),
            face_pressure_bar=self._number("face_pressure_bar"),
            extra=MappingProxyType(extra),
            origin=Origin(self._export.file, self._row.line),
        )

    def _fault(self, key: str, what: str, code: str = "bad-cell") -> None:
        head = self._export.columns[key].head if key in self._export.columns else key
        self._log.add(self._export.file, self._row.line, shown(head).strip('"'), what, code=code)

    def _told(self, key: str, read: Callable[[], Value]) -> Value | None:
        try:
            return read()
        except (ValueError, OverflowError) as error:
            self._fault(key, f"{error}; left empty")
            return None

    def _number(self, key: str, *, least: float | None = None, most: float | None = None) -> float | None:
        value = self._told(key, lambda: self._export.number(self._row, key))
        if value is None:
            return None
        if (least is not None and value < least) or (most is not None and value > most):
            self._fault(key, f"{value:g} cannot be; left empty")
            return None
        return float(f"{value:.10g}")

    def _ring(self) -> int | None:
        text = self._export.cell(self._row, "ring")
        digits = re.findall("[0-9]+", re.split("[.,]", text)[0])
        if len(digits) == 1 and len(digits[0]) < 8:
            return int(digits[0]) * (-1 if text.strip().startswith("-") else 1)
        self._fault("ring", f"{shown(text)} names no ring; the row is left out", "no-ring")
        return None

    def _place(self, drive: Drive) -> tuple[float, float, float, float] | None:
        """Driven and chainage of start and end; whatever of it is not told follows from the rest."""
        start = self._number("start_chainage_m")
        end = self._number("end_chainage_m")
        advance = self._number("advance_m", least=0.0)
        if start is None and end is None:
            self._fault("start_chainage_m", "says not where the ring lies; the row is left out", "no-place")
            return None
        length = advance or drive.ring_length_m
        start_m = drive.driven_m(start) if start is not None else None
        end_m = drive.driven_m(end, near_m=None if start_m is None else start_m + length) if end is not None else None
        if start_m is None:
            start_m = (end_m or 0.0) - length
            start = round(drive.chainage_m(start_m), 4)
        if end_m is None:
            end_m = start_m + length
            end = round(drive.chainage_m(end_m), 4)
        assert start is not None
        assert end is not None
        if end_m < -drive.ring_length_m or start_m > drive.length_m + drive.ring_length_m:
            what = f"{start:g} to {end:g} m lies outside the drive; the row is left out"
            self._fault("end_chainage_m", what, "bad-place")
            return None
        if not 0.0 < end_m - start_m <= _LONGEST_RING_M:
            self._fault(
                "end_chainage_m",
                f"the ring would go from {start:g} to {end:g} m, {end_m - start_m:.2f} m in the direction of the "
                "drive; the row is left out",
                "bad-place",
            )
            return None
        return start_m, end_m, start, end

    def _turns(self) -> tuple[float | None, float | None, float | None]:
        """Turns while boring, idle turns and the share turned counter-clockwise."""
        boring = self._number("revolutions_boring", least=0.0)
        idle = self._number("revolutions_idle", least=0.0)
        total = self._number("revolutions_total", least=0.0)
        speed = self._number("rotation_rpm")
        boring_minutes = self._number("boring_minutes", least=0.0)
        idle_minutes = self._number("idle_minutes", least=0.0)
        if boring is None and speed is not None and boring_minutes is not None:
            boring = abs(speed) * boring_minutes
        if idle is None and speed is not None and idle_minutes is not None:
            idle = abs(speed) * idle_minutes
        if boring is None and total is not None and idle is not None and idle <= total:
            boring = total - idle
        if idle is None and total is not None and boring is not None:
            if total < boring - 0.5:
                self._fault("revolutions_total", f"{total:g} turns in all are fewer than {boring:g} while boring")
            else:
                idle = max(total - boring, 0.0)
        share = self._number("revolutions_ccw_share", least=0.0, most=1.0)
        ccw = self._number("revolutions_ccw", least=0.0)
        turned = (boring or 0.0) + (idle or 0.0)
        if share is None and ccw is not None and turned > 0:
            share = min(ccw / turned, 1.0)
        return _short(boring), _short(idle), _short(share)


def _short(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.8g}")


def _is_number(text: str) -> bool:
    return text.replace(",", "", 1).lstrip("+-").isdigit()
