"""The folder inspections/: all records of stops, and which of them hold."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from wearplan.site.parse.document import open_document
from wearplan.site.parse.faults import ALL, NOTHING, FaultLog
from wearplan.site.parse.files import Folder
from wearplan.site.parse.text import clean, shown
from wearplan.site.records import Inspection
from wearplan.site.stopbook.corrections import Entry, Standing, resolve
from wearplan.site.stopbook.falling import name_falling_wear
from wearplan.site.stopbook.inspections import read_inspection
from wearplan.site.stopbook.known import Known

_SAME_STOP_M = 0.05
_CORRECTS = re.compile(r'^corrects[ \t]*=[ \t]*(?:"([^"\\\n]{1,120})"|\'([^\'\n]{1,120})\')', re.MULTILINE)


def read_stopbook(folder: Folder, names: Sequence[str], known: Known, log: FaultLog) -> Standing:
    """Read every record; what is wrong in one that a later record replaced is settled, and no longer named."""
    book: dict[str, Entry] = {}
    texts: dict[str, str] = {}
    for name in names:
        before = log.count
        text = folder.text(name)
        if text is None and log.count == before:
            log.add(name, 1, "", "went away while the folder was read; read it again", code="went-away", forbids=ALL)
        doc = open_document(name, text, log, ALL) if text is not None else None
        record = read_inspection(doc, known) if doc else None
        stem = clean(name[len("inspections/") : -len(".toml")])
        if record is not None:
            entry = Entry(record.id, record.corrects, name, record)
        else:
            # what it corrects must be known even so: its own target would otherwise come back into force
            said = _CORRECTS.search(text or "")
            entry = Entry(stem, clean(said[1] or said[2]) if said else None, name, None)
        _admit(entry, stem, text or "", book, texts, log)
    standing = resolve(list(book.values()), log)
    for file in standing.settled:
        log.settle(file)
    _name_stops_told_twice(standing.in_force, log)
    name_falling_wear(standing.in_force, known.wheel, log)
    return standing


def _name_stops_told_twice(inspections: Sequence[Inspection], log: FaultLog) -> None:
    """Two records of one stop are well when they tell of different places; of the same ones, one is too many."""
    for one, other in pairwise(inspections):
        if one.ring != other.ring or abs(one.driven_m - other.driven_m) > _SAME_STOP_M:
            continue
        fitted = {fitting.position for fitting in one.fittings} | {fitting.from_position for fitting in one.fittings}
        read = {reading.position for reading in one.measurements if reading.not_read is None} - fitted
        twice = sorted(read & {reading.position for reading in other.measurements if reading.not_read is None})
        if twice:
            places = ", ".join(map(str, twice[:6])) + (", ..." if len(twice) > 6 else "")
            what = (
                f"{shown(one.id)} and {shown(other.id)} are of the same ring and chainage and both read position "
                f"{places}; if it "
                "is one stop, let a record correct one of them"
            )
            log.add(other.origin.file, 1, "", what, code="stop-told-twice", forbids=NOTHING)


def _admit(entry: Entry, stem: str, text: str, book: dict[str, Entry], texts: dict[str, str], log: FaultLog) -> None:
    """Take a record in; of two files with one id, the one of that name stands."""
    other = book.get(entry.id)
    if other is None:
        if stem != entry.id:
            what = f"the id is {shown(entry.id)}, the file has another name; rename the file"
            log.add(entry.file, 1, "id", what, code="id-and-name", forbids=NOTHING)
        book[entry.id], texts[entry.id] = entry, text
        return
    same = texts[entry.id] == text
    what = "the same text: remove one of them"
    if not same:
        what = (
            "different texts: which one is true cannot be told; keep one, and correct it by a later record if need be"
        )
    what = f"{other.file} has the same id {shown(entry.id)} and {what}"
    log.add(entry.file, 1, "id", what, code="id-doubled", forbids=NOTHING if same else ALL)
    if stem == entry.id:
        book[entry.id], texts[entry.id] = entry, text
