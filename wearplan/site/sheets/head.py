"""What a filled sheet, or the command that reads it, says of the stop as a whole."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from wearplan.site import records
from wearplan.site.parse.delimited import Row, head_word, is_empty, moment, number
from wearplan.site.parse.faults import FaultLog
from wearplan.site.parse.safe_text import bare_cell, clean_line, clean_text
from wearplan.site.parse.text import did_you_mean, shown
from wearplan.site.records import Site

HEAD_KEYS = (
    "number", "ring", "chainage_m", "started_at", "ended_at", "mode", "pressure_bar", "entries", "person_hours",
    "parking_angle_deg", "measured_by", "entered_by", "checked_by", "note", "method",
)  # fmt: skip
_ALSO = {
    "chainage": "chainage_m", "started": "started_at", "start": "started_at", "ended": "ended_at", "end": "ended_at",
    "pressure": "pressure_bar", "read by": "measured_by", "gauge": "method", "person hours": "person_hours",
    "parking angle": "parking_angle_deg",
}  # fmt: skip
_STATION = re.compile(r"(\d{1,4})\s*\+\s*(\d{1,3}(?:\.\d+)?)\Z")
_COUNTS = ("number", "ring", "entries")
_NUMBERS = {"pressure_bar": (0.0, 30.0), "person_hours": (0.0, 1e6), "parking_angle_deg": (-360.0, 360.0)}


@dataclass(slots=True)
class SheetHead:
    """The stop's own facts; None where nobody said."""

    number: int | None = None
    ring: int | None = None
    chainage_m: float | None = None
    started_at: datetime | None = None
    ended_at: datetime | None = None
    mode: str | None = None
    pressure_bar: float | None = None
    entries: int | None = None
    person_hours: float | None = None
    parking_angle_deg: float | None = None
    measured_by: str | None = None
    entered_by: str | None = None
    checked_by: str | None = None
    note: str | None = None
    method: str | None = None
    remarks: tuple[str, ...] = field(default=())


def read_head(file: str, rows: Sequence[Row], given: Mapping[str, str], site: Site, log: FaultLog) -> SheetHead:
    """The head from the rows above a sheet's header and from what was given beside it; the latter wins.

    A ring without a chainage, or the other way round, is looked up in the log of rings; a remark says so.
    """
    said: dict[str, tuple[str, int]] = {}
    for row in rows:
        cells = [clean_line(bare_cell(cell)) for cell in row.cells if cell]
        name, separator, value = cells[0].lstrip("#"), ",", " ".join(cells[1:])
        if len(cells) == 1:
            name, separator, value = (part.strip() for part in name.partition(":"))
        key = _key_of(name)
        if key is not None and separator and value and not is_empty(value):
            said[key] = (value, row.line)
    for name, value in given.items():
        key = _key_of(name)
        if key is None:
            log.add(file, 1, name, f"is not known of a stop; {did_you_mean(name, HEAD_KEYS)}", code="unknown-key")
        elif value.strip():
            said[key] = (value, 1)
    head = SheetHead()
    for key, (value, line) in said.items():
        try:
            setattr(head, key, _value(key, value))
        except (ValueError, OverflowError) as error:
            log.add(file, line, key, str(error), code="bad-head")
    for key in ("started_at", "ended_at"):
        _place_in_time(head, key)
    _look_up(head, site)
    for key in ("ring", "chainage_m", "started_at", "mode"):
        if getattr(head, key) is None and key not in said:
            what = f"the stop's {key} is not told: give it beside the file, or in a row {key},... above the header"
            log.add(file, 1, key, what, code="missing-key")
    return head


def _key_of(name: str) -> str | None:
    word = head_word(name)
    return next((key for key in HEAD_KEYS if head_word(key) == word), _ALSO.get(word))


def _value(key: str, text: str) -> object:
    text = text.strip()
    if key in _COUNTS:
        if not re.fullmatch(r"\d{1,7}", text):
            raise ValueError(f"{shown(text)} is no whole number")
        return int(text)
    if key == "chainage_m":
        return chainage(text)
    if key in _NUMBERS:
        value = number(text.replace(",", "."))
        low, high = _NUMBERS[key]
        if not low <= value <= high:
            raise ValueError(f"{value:g} cannot be: it must be from {low:g} to {high:g}")
        return value
    if key in ("started_at", "ended_at"):
        return moment(text)
    if key == "mode":
        if text.casefold() not in records.MODES:
            raise ValueError(f"{shown(text)} is no mode; {did_you_mean(text, records.MODES)}")
        return text.casefold()
    return clean_text(text) if key == "note" else clean_line(text)


def chainage(text: str) -> float:
    """A chainage in metres, as ``512.4`` or ``0+512.4``; `ValueError` if it is none."""
    bare = text.strip().replace(",", ".")
    station = _STATION.match(bare)
    return int(station[1]) * 1000.0 + float(station[2]) if station else number(bare)


def _place_in_time(head: SheetHead, key: str) -> None:
    """A time without an offset is the clock on the wall: this computer's offset is written, and a remark says so."""
    told: datetime | None = getattr(head, key)
    if told is None or told.tzinfo is not None:
        return
    try:
        there = told.astimezone()
    except (OverflowError, OSError, ValueError):
        there = told.replace(tzinfo=UTC)
    setattr(head, key, there)
    name = key.replace("_at", "")
    said = f"{name} {there:%Y-%m-%d %H:%M} tells no offset from UTC: this computer's, {there:%z}, is taken."
    head.remarks += (said,)


def _look_up(head: SheetHead, site: Site) -> None:
    if head.ring is not None and head.chainage_m is None:
        row = next((row for row in site.rings if row.ring == head.ring and row.end_chainage_m is not None), None)
        if row is not None:
            head.chainage_m = row.end_chainage_m
            head.remarks += (f"chainage {row.end_chainage_m:g} m is where ring {head.ring} ends in the log of rings.",)
    elif head.chainage_m is not None and head.ring is None:
        driven_m = site.drive.driven_m(head.chainage_m)
        for row in site.rings:
            if row.start_m is not None and row.end_m is not None and row.start_m < driven_m <= row.end_m + 1e-3:
                head.ring = row.ring
                head.remarks += (f"ring {row.ring} is the one at chainage {head.chainage_m:g} m in the log of rings.",)
                return
