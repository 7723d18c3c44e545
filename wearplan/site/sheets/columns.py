"""The columns of the sheet that goes into the chamber and comes back filled.

One list for the writer of the sheet and its reader. Columns that are not ``asked`` are printed for orientation and are
never read back as facts, except ``place``, which says what a row is about; the asked ones are empty boxes, and follow
from the keys of a measurement and of a fitting that have a ``head``.
"""

from __future__ import annotations

from dataclasses import dataclass

from wearplan.site.parse.delimited import head_word
from wearplan.site.records import Fitting, Measurement
from wearplan.site.records.key import Described, described


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """One column: its key in CSV, its head in print, and whether the sheet gives it or asks for it."""

    key: str
    head: str
    asked: bool
    also: tuple[str, ...] = ()
    """Other heads it is known by."""


def _asked(keys: list[Described]) -> list[SheetColumn]:
    return [SheetColumn(found.name, found.key.head, True, found.key.also) for found in keys]


MEASURED = {found.name: found for found in described(Measurement) if found.key.head}
FITTED = {found.name: found for found in described(Fitting) if found.key.head}
SHEET_COLUMNS = (
    SheetColumn("place", "place", False, ("position",)),
    SheetColumn("arm", "arm", False),
    SheetColumn("radius_mm", "radius mm", False),
    SheetColumn("zone", "zone", False),
    SheetColumn("tool_type", "tool", False),
    SheetColumn("serial", "serial", False),
    SheetColumn("last_wear_mm", "last read mm", False),
    SheetColumn("last_chainage", "at", False),
    SheetColumn("limit_mm", "limit mm", False),
    SheetColumn("expected_mm", "expected mm", False),
    *_asked([found for name, found in MEASURED.items() if name != "note"]),
    *_asked(list(FITTED.values())),
    *_asked([MEASURED["note"]]),
)
"""In ``wear_mm`` a bare number is a reading, ``<1`` nothing to be seen below 1 mm, ``>25`` past measuring, and
``9/10.5/9`` several points round a ring."""


def column_of(head: str) -> str | None:
    """The key of the column with such a head; None for a column the sheet does not have."""
    word = head_word(head)
    for column in SHEET_COLUMNS:
        if word in map(head_word, (column.key, column.head, *column.also)):
            return column.key
    return None
