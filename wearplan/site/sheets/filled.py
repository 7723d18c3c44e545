"""A sheet that comes back filled, as the inspection it proposes. An empty box means not read; nothing is filled in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from wearplan.site import records
from wearplan.site.parse.delimited import Row, decoded, rows_of, separator_of
from wearplan.site.parse.faults import FaultLog
from wearplan.site.parse.safe_text import bare_cell, clean_line, clean_text
from wearplan.site.parse.text import MARK, clean, did_you_mean, shown
from wearplan.site.parse.typed import value, wear
from wearplan.site.records import Fault, Fitting, Inspection, Measurement, Origin, Site
from wearplan.site.records.key import Described
from wearplan.site.records.naming import new_inspection_id
from wearplan.site.sheets.columns import FITTED, MEASURED, SHEET_COLUMNS, column_of
from wearplan.site.sheets.head import NEEDED, SheetHead, read_head

_MOST_BYTES = 4 * 1024 * 1024
_MOST_MM = 1000.0
_TOO_MANY = "a decimal comma needs quotes round it, or a point in its place, where commas part the cells"
_DASHES = ("-", "--", "–", "—")
"""How people leave a box empty; anything else in it was meant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledSheet:
    """What a filled sheet proposes; with faults it should not be written."""

    inspection: Inspection | None
    """None while its head lacks what an inspection needs."""
    faults: tuple[Fault, ...]
    unread: tuple[int, ...] = ()
    """Places of the wheel that have no reading on this sheet."""
    remarks: tuple[str, ...] = ()


def read_filled_sheet(
    path: Path,
    site: Site,
    *,
    head: Mapping[str, str] | None = None,
    now: datetime,
    inspection_id: str | None = None,
) -> FilledSheet:
    """Read a filled sheet: CSV with any separator, or a Markdown table.

    Parameters
    ----------
    head : mapping of str to str, optional
        What is known of the stop (``ring``, ``chainage_m``, ``started_at``, ``mode`` ... as in the inspection's file,
        and ``method`` for all readings without one). The sheet may say the same in rows above its header, as
        ``ring,262``; what is given here wins.
    now : datetime
        For the new inspection's name.

    Returns
    -------
    FilledSheet
        All faults at once, each at its line. Nothing is written.
    """
    log = FaultLog()
    try:
        with path.open("rb") as file:  # never more: a device has no end
            content = file.read(_MOST_BYTES + 1)
        if len(content) > _MOST_BYTES:
            raise ValueError("it is far too large for a sheet")
        text = decoded(content)
    except (OSError, ValueError) as error:
        log.add(path.name, 1, "", f"cannot be read ({clean(str(error))[:200]})", code="unreadable")
        return FilledSheet(inspection=None, faults=log.faults())
    table = "\n".join(line for line in text.splitlines() if line.lstrip().startswith("|"))
    separator = "|" if table else separator_of(text)
    rows = rows_of(text, separator)
    at = next((at for at, row in enumerate(rows) if _is_header(row)), None)
    if at is None:
        log.add(path.name, 1, "", "has no header with the columns place and wear_mm", code="no-header")
        return FilledSheet(inspection=None, faults=log.faults())
    sheet_head = read_head(path.name, rows[:at], head or {}, site, log)
    reader = _SheetReader(path.name, rows[at], site, sheet_head.method, log)
    for row in rows[at + 1 :]:
        reader.read(row)
    return _filled(reader, sheet_head, site, log, inspection_id or new_inspection_id(now))


def _filled(reader: _SheetReader, head: SheetHead, site: Site, log: FaultLog, inspection_id: str) -> FilledSheet:
    inspection = None
    if all(key in head.said for key in NEEDED):
        inspection = Inspection(
            id=inspection_id,
            driven_m=site.drive.driven_m(head.said["chainage_m"]),
            measurements=tuple(reader.measurements),
            fittings=tuple(reader.fittings),
            **head.said,
        )
    read = {found.position for found in reader.measurements if found.not_read is None}
    unread = tuple(place.number for place in site.wheel.positions if place.number not in read)
    if not log.faults() and not reader.measurements and not reader.fittings:
        log.add(reader.file, 1, "", "holds no reading and nothing fitted", code="empty-sheet")
    return FilledSheet(inspection=inspection, faults=log.faults(), unread=unread, remarks=head.remarks)


def _is_header(row: Row) -> bool:
    return {"place", "wear_mm"} <= {column_of(cell) for cell in row.cells}


class _SheetReader:
    """Row by row, readings and fittings with every fault at its line."""

    def __init__(self, file: str, header: Row, site: Site, method: str | None, log: FaultLog) -> None:
        self.file, self._site, self._method, self._log = file, site, method, log
        self.measurements: list[Measurement] = []
        self.fittings: list[Fitting] = []
        self._keys = [column_of(cell) for cell in header.cells]
        self._heads = header.cells
        self._methods = [known.method for known in site.wheel.gauging]
        self._known = {place.number for place in site.wheel.positions}
        self._seen: dict[int, int] = {}
        self._line = header.line
        self._cells: dict[str, str] = {}
        doubled = {key for key in self._keys if key is not None and self._keys.count(key) > 1}
        for key in sorted(doubled):
            self._fault(key, "stands twice in the header; keep one", "column-doubled")

    def read(self, row: Row) -> None:
        self._line = row.line
        self._cells = {}
        if row.cells == (MARK,):
            self._fault("", "cannot be read: a cell is far too long", "unreadable")
            return
        if len(row.cells) > len(self._heads):
            self._fault("", f"has {len(row.cells)} cells under {len(self._heads)} heads: {_TOO_MANY}", "too-many-cells")
            return
        for place, cell in enumerate(row.cells):
            text = clean_line(bare_cell(cell))
            key = self._keys[place]
            if key is not None:
                self._cells[key] = "" if text in _DASHES else text
            elif text and text not in _DASHES:
                head = self._heads[place]
                self._fault(clean(head), f"{shown(text)} stands in a column this sheet does not have", "unknown-column")
        asked = [column.key for column in SHEET_COLUMNS if column.asked and self._cells.get(column.key)]
        if not asked:
            return
        position = self._position("place", must=True)
        if position is None:
            return
        if position in self._seen:
            self._fault("place", f"place {position} stands in line {self._seen[position]} already", "place-doubled")
            return
        self._seen[position] = self._line
        measured = self._measurement(position)
        fitted = self._fitting(position)
        if measured is not None:
            self.measurements.append(measured)
        elif self._cells.get("note"):
            self._fault("note", "a note needs a reading beside it, or why there is none (not read: why)", "note-alone")
        if fitted is not None:
            self.fittings.append(fitted)

    def _fault(self, key: str, what: str, code: str) -> None:
        self._log.add(self.file, self._line, key, what, code=code)

    def _position(self, key: str, *, must: bool = False) -> int | None:
        text = self._cells.get(key, "")
        if not text:
            if must:
                self._fault(key, "says no place for what is filled in here", "no-place")
            return None
        text = text.removesuffix(".0")  # as some spreadsheets write whole numbers
        if not re.fullmatch(r"[0-9]{1,5}", text) or int(text) not in self._known:
            known = [str(known) for known in sorted(self._known)]
            self._fault(key, f"{shown(text)} is no place of the wheel; {did_you_mean(text, known)}", "unknown-place")
            return None
        return int(text)

    def _measurement(self, position: int) -> Measurement | None:
        text = self._cells.get("wear_mm", "")
        not_read = self._value(MEASURED["not_read"])
        condition = self._value(MEASURED["condition"])
        if text.casefold() in records.NOT_READ:
            text, not_read = "", text.casefold()
        elif text and self._cells.get("not_read"):
            self._fault("not_read", f"there is a reading too ({shown(text)}); keep one of the two", "two-readings")
            return None
        if not text and not_read is None:
            if condition is None:
                return None
            not_read = "seen, not measured"
        ways = self._reading(text) if text else {"not_read": not_read}
        if ways is None:
            return None
        if self._too_worn(ways):
            self._fault("wear_mm", f"{shown(text)} is more than any tool of this wheel can lose", "bad-reading")
            return None
        return Measurement(
            position=position,
            method=self._method_of() if text else None,
            condition=condition,
            note=clean_text(self._cells.get("note", "")) or None,
            origin=Origin(self.file, self._line),
            **ways,
        )

    def _method_of(self) -> str | None:
        method = self._cells.get("method") or self._method
        if method and self._methods and method not in self._methods:
            what = f"{shown(method)} is no method of [gauging]; {did_you_mean(method, self._methods)}"
            self._fault("method", what, "unknown-word")
        return method

    def _too_worn(self, ways: Mapping[str, Any]) -> bool:
        worst = max([ways.get("wear_mm") or 0.0, ways.get("wear_above_mm") or 0.0, *ways.get("points_mm", ())])
        return bool(worst > max((known.most_wear_mm for known in self._site.wheel.tool_types), default=_MOST_MM))

    def _reading(self, text: str) -> dict[str, Any] | None:
        """The way of reading it; None with a fault for anything else."""
        try:
            if re.fullmatch(r"\s*[\d.,]+\s*/\s*0+(?:[.,]0+)?\s*", text):
                raise ValueError(
                    f"{shown(text)}: is that the old tool and the new one? then write what was found, and change under "
                    "action; two points of one tool are written 12 and 0"
                )
            return wear(text)
        except ValueError as error:
            self._fault("wear_mm", str(error), "bad-reading")
            return None

    def _value(self, key: Described) -> Any:
        """What stands in the column of a key; None, with a fault where it is no such value."""
        text = self._cells.get(key.name, "")
        if not text:
            return None
        try:
            return value(key, text)
        except ValueError as error:
            self._fault(key.name, str(error), "unknown-word" if key.key.words else "bad-reading")
            return None

    def _fitting(self, position: int) -> Fitting | None:
        if not self._cells.get("action"):
            filled = [key for key in FITTED if self._cells.get(key)]
            if filled:
                are = "is" if len(filled) == 1 else "are"
                what = f"{', '.join(filled)} {are} filled in but no action; say what was done"
                self._fault("action", what, "no-action")
            return None
        said = {name: self._value(key) for name, key in FITTED.items() if name != "from_position"}
        from_position = self._position("from_position")
        if said["action"] in ("move", "swap") and from_position is None and not self._cells.get("from_position"):
            self._fault("from_position", f"{said['action']} needs the place it came from", "no-place")
            return None
        tool_type = said["new_tool_type"]
        codes = [known.code for known in self._site.wheel.tool_types]
        if tool_type is not None and tool_type not in codes:
            what = f"{shown(tool_type)} is no tool type; {did_you_mean(tool_type, codes)}"
            self._fault("new_tool_type", what, "unknown-word")
        if said["action"] is None:
            return None
        return Fitting(position=position, from_position=from_position, origin=Origin(self.file, self._line), **said)
