"""A sheet that comes back filled, as the inspection it proposes. An empty box means not read; nothing is filled in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from wearplan.site import records
from wearplan.site.parse.delimited import Row, decoded, head_word, rows_of, separator_of
from wearplan.site.parse.faults import FaultLog
from wearplan.site.parse.safe_text import bare_cell, clean_line, clean_text
from wearplan.site.parse.text import MARK, clean, did_you_mean, shown
from wearplan.site.records import Fault, Fitting, Inspection, Measurement, Origin, Site
from wearplan.site.records.naming import new_inspection_id
from wearplan.site.sheets.columns import SHEET_COLUMNS
from wearplan.site.sheets.head import SheetHead, read_head

_ALSO = {
    "position": "place",
    "reading": "wear_mm",
    "reading mm": "wear_mm",
    "wear": "wear_mm",
    "from position": "from_place",
}
_MOST_BYTES = 4 * 1024 * 1024
_MOST_MM = 1000.0
_TOO_MANY = "a decimal comma needs quotes round it, or a point in its place, where commas part the cells"
_MM = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)\Z", re.ASCII)
_DASHES = ("-", "--", "–", "—")
"""How people leave a box empty; anything else in it was meant."""
_OLD_TO = ("rebuild", "scrap", "shelf")


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
        content = path.read_bytes()
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
    if head.ring is not None and head.chainage_m is not None and head.started_at is not None and head.mode is not None:
        inspection = Inspection(
            id=inspection_id,
            number=head.number,
            ring=head.ring,
            chainage_m=head.chainage_m,
            driven_m=site.drive.driven_m(head.chainage_m),
            started_at=head.started_at,
            ended_at=head.ended_at,
            mode=head.mode,
            pressure_bar=head.pressure_bar,
            entries=head.entries,
            person_hours=head.person_hours,
            parking_angle_deg=head.parking_angle_deg,
            measured_by=head.measured_by,
            entered_by=head.entered_by,
            checked_by=head.checked_by,
            note=head.note,
            measurements=tuple(reader.measurements),
            fittings=tuple(reader.fittings),
        )
    read = {found.position for found in reader.measurements if found.not_read is None}
    unread = tuple(place.number for place in site.wheel.positions if place.number not in read)
    if not log.faults() and not reader.measurements and not reader.fittings:
        log.add(reader.file, 1, "", "holds no reading and nothing fitted", code="empty-sheet")
    return FilledSheet(inspection=inspection, faults=log.faults(), unread=unread, remarks=head.remarks)


def _key_of(cell: str) -> str | None:
    word = head_word(cell)
    for column in SHEET_COLUMNS:
        if word in (head_word(column.key), head_word(column.head)):
            return column.key
    return _ALSO.get(word)


def _is_header(row: Row) -> bool:
    return {"place", "wear_mm"} <= {_key_of(cell) for cell in row.cells}


class _SheetReader:
    """Row by row, readings and fittings with every fault at its line."""

    def __init__(self, file: str, header: Row, site: Site, method: str | None, log: FaultLog) -> None:
        self.file, self._site, self._method, self._log = file, site, method, log
        self.measurements: list[Measurement] = []
        self.fittings: list[Fitting] = []
        self._keys = [_key_of(cell) for cell in header.cells]
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
        not_read = self._word("not_read", records.NOT_READ)
        condition = self._word("condition", records.CONDITIONS)
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
        """``9.5``, ``9,5``, ``<1``, ``>25`` or ``9/10.5/9``; None with a fault for anything else."""
        bare = re.sub(r"\s*mm\s*\Z", "", text)
        try:
            if bare.startswith("<"):
                below = _mm(bare[1:])
                if below <= 0:
                    raise ValueError("nothing can be below 0 mm")
                return {"wear_below_mm": below}
            if bare.startswith(">"):
                return {"wear_above_mm": _mm(bare[1:])}
            if re.fullmatch(r"\s*[\d.,]+\s*/\s*0+(?:[.,]0+)?\s*", bare):
                raise ValueError(
                    "is that the old tool and the new one? then write what was found, and change under action; "
                    "two points of one tool are written 12 and 0"
                )
            if "/" in bare or " and " in bare:
                return {"points_mm": tuple(_mm(part) for part in re.split(r"/| and ", bare))}
            return {"wear_mm": _mm(bare)}
        except ValueError as error:
            self._fault("wear_mm", f"{shown(text)}: {error}; write 9.5, <1, >25 or 9/10.5/9", "bad-reading")
            return None

    def _word(self, key: str, words: tuple[str, ...]) -> str | None:
        text = self._cells.get(key, "")
        if not text:
            return None
        if text.casefold() in words:
            return text.casefold()
        self._fault(key, f"{shown(text)} is none of the words known here; {did_you_mean(text, words)}", "unknown-word")
        return None

    def _fitting(self, position: int) -> Fitting | None:
        after = ("old_serial", "old_to", "new_serial", "new_tool_type", "new_batch", "new_wear_mm")
        asked = ("reason", "from_place", *after)
        if not self._cells.get("action"):
            filled = [key for key in asked if self._cells.get(key)]
            if filled:
                are = "is" if len(filled) == 1 else "are"
                what = f"{', '.join(filled)} {are} filled in but no action; say what was done"
                self._fault("action", what, "no-action")
            return None
        action = self._word("action", records.ACTIONS)
        from_position = self._position("from_place")
        if action in ("move", "swap") and from_position is None and not self._cells.get("from_place"):
            self._fault("from_place", f"{action} needs the place it came from", "no-place")
            return None
        tool_type = self._cells.get("new_tool_type") or None
        codes = [known.code for known in self._site.wheel.tool_types]
        if tool_type is not None and tool_type not in codes:
            what = f"{shown(tool_type)} is no tool type; {did_you_mean(tool_type, codes)}"
            self._fault("new_tool_type", what, "unknown-word")
        new_wear_mm = None
        if self._cells.get("new_wear_mm"):
            try:
                new_wear_mm = _mm(self._cells["new_wear_mm"])
            except ValueError as error:
                self._fault("new_wear_mm", str(error), "bad-reading")
        if action is None:
            return None
        return Fitting(
            position=position,
            action=action,
            reason=self._word("reason", records.REASONS),
            old_serial=self._cells.get("old_serial") or None,
            old_to=self._word("old_to", _OLD_TO),
            new_serial=self._cells.get("new_serial") or None,
            new_tool_type=tool_type,
            new_batch=self._cells.get("new_batch") or None,
            new_wear_mm=new_wear_mm,
            from_position=from_position,
            origin=Origin(self.file, self._line),
        )


def _mm(text: str) -> float:
    """A wear in mm with either decimal sign; wear never has thousands to group."""
    bare = text.strip().replace(",", ".")
    if not _MM.match(bare):
        raise ValueError("is no number")
    value = float(bare)
    if not 0 <= value <= _MOST_MM:
        raise ValueError(f"{value:g} mm cannot be")
    return value + 0.0
