"""The folder inspections/: all records of stops, and which of them hold."""

from __future__ import annotations

import re
from collections.abc import Sequence

from wearplan.site.corrections import Entry, Standing, resolve
from wearplan.site.document import open_document
from wearplan.site.falling import name_falling_wear
from wearplan.site.faults import ALL, NOTHING, FaultLog
from wearplan.site.files import Folder
from wearplan.site.read_inspections import Known, read_inspection
from wearplan.site.text import clean, shown

_CORRECTS = re.compile(r'^corrects[ \t]*=[ \t]*(?:"([^"\\\n]{1,120})"|\'([^\'\n]{1,120})\')', re.MULTILINE)


def read_stopbook(folder: Folder, names: Sequence[str], known: Known, log: FaultLog) -> Standing:
    """Read every record; what is wrong in one that a later record replaced is settled, and no longer named."""
    book: dict[str, Entry] = {}
    texts: dict[str, str] = {}
    for name in names:
        text = folder.text(name)
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
    name_falling_wear(standing.in_force, known.wheel, log)
    return standing


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
