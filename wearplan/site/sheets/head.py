"""What a filled sheet, or the command that reads it, says of the stop as a whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from wearplan.site.parse.delimited import Row, head_word, is_empty
from wearplan.site.parse.faults import FaultLog
from wearplan.site.parse.safe_text import bare_cell, clean_line
from wearplan.site.parse.text import did_you_mean
from wearplan.site.parse.typed import value
from wearplan.site.records import Inspection, Measurement, Site
from wearplan.site.records.clock import placed
from wearplan.site.records.key import described

ASKED = {
    **{found.name: found for found in described(Inspection) if found.key.head},
    **{found.name: found for found in described(Measurement) if found.name == "method"},
}
"""What is told of a stop, and the method of all its readings that have none of their own."""
NEEDED = ("ring", "chainage_m", "started_at", "mode")


@dataclass(slots=True)
class SheetHead:
    """The stop's own facts, by the key of the record; what nobody said is not in it."""

    said: dict[str, Any] = field(default_factory=dict)
    method: str | None = None
    remarks: tuple[str, ...] = ()


def read_head(file: str, rows: Sequence[Row], given: Mapping[str, str], site: Site, log: FaultLog) -> SheetHead:
    """The head from the rows above a sheet's header and from what was given beside it; the latter wins.

    A ring without a chainage, or the other way round, is looked up in the log of rings; a remark says so.
    """
    told: dict[str, tuple[str, int]] = {}
    for row in rows:
        cells = [clean_line(bare_cell(cell)) for cell in row.cells if cell]
        name, separator, text = cells[0].lstrip("#"), ",", " ".join(cells[1:])
        if len(cells) == 1:
            name, separator, text = (part.strip() for part in name.partition(":"))
        key = _key_of(name)
        if key is not None and separator and text and not is_empty(text):
            told[key] = (text, row.line)
    for name, text in given.items():
        key = _key_of(name)
        if key is None:
            log.add(file, 1, name, f"is not known of a stop; {did_you_mean(name, ASKED)}", code="unknown-key")
        elif text.strip():
            told[key] = (text, 1)
    head = SheetHead()
    for key, (text, line) in told.items():
        try:
            head.said[key] = value(ASKED[key], text)
        except (ValueError, OverflowError) as error:
            log.add(file, line, key, str(error), code="bad-head")
    head.method = head.said.pop("method", None)
    for key in ("started_at", "ended_at"):
        _place_in_time(head, key, site, file, log)
    _look_up(head, site)
    for key in NEEDED:
        if key not in head.said and key not in told:
            what = f"the stop's {key} is not told: give it beside the file, or in a row {key},... above the header"
            log.add(file, 1, key, what, code="missing-key")
    return head


def _key_of(name: str) -> str | None:
    word = head_word(name)
    for key, found in ASKED.items():
        if word in map(head_word, (key, found.key.head, *found.key.also)):
            return key
    return None


def _place_in_time(head: SheetHead, key: str, site: Site, file: str, log: FaultLog) -> None:
    """A time without an offset is of the site's clock; where the folder tells none, of this computer's, and said."""
    told: datetime | None = head.said.get(key)
    if told is None or told.tzinfo is not None:
        return
    try:
        there = placed(told, site.zone)
    except ValueError as error:
        del head.said[key]
        log.add(file, 1, key, str(error), code="bad-head")
        return
    head.said[key] = there
    if site.zone is None:
        name = key.replace("_at", "")
        head.remarks += (
            f"{name} {there:%Y-%m-%d %H:%M} tells no offset from UTC: this computer's, {there:%z}, is taken. "
            f"The site's own is time_zone in site.toml.",
        )


def _look_up(head: SheetHead, site: Site) -> None:
    ring, chainage_m = head.said.get("ring"), head.said.get("chainage_m")
    if ring is not None and chainage_m is None:
        row = next((row for row in site.rings if row.ring == ring and row.end_chainage_m is not None), None)
        if row is not None:
            head.said["chainage_m"] = row.end_chainage_m
            head.remarks += (f"chainage {row.end_chainage_m:g} m is where ring {ring} ends in the log of rings.",)
    elif chainage_m is not None and ring is None:
        driven_m = site.drive.driven_m(chainage_m)
        for row in site.rings:
            if row.start_m is not None and row.end_m is not None and row.start_m < driven_m <= row.end_m + 1e-3:
                head.said["ring"] = row.ring
                head.remarks += (f"ring {row.ring} is the one at chainage {chainage_m:g} m in the log of rings.",)
                return
