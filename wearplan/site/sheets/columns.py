"""The columns of the sheet that goes into the chamber and comes back filled.

One list for the writer of the sheet and its reader. ``given`` columns are printed for orientation and are never read
back as facts, except ``place``, which says what a row is about; ``asked`` columns are empty boxes.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """One column: its key in CSV, its head in print, and whether the sheet gives it or asks for it."""

    key: str
    head: str
    asked: bool


SHEET_COLUMNS = (
    SheetColumn("place", "place", False),
    SheetColumn("arm", "arm", False),
    SheetColumn("radius_mm", "radius mm", False),
    SheetColumn("zone", "zone", False),
    SheetColumn("tool_type", "tool", False),
    SheetColumn("serial", "serial", False),
    SheetColumn("last_wear_mm", "last read mm", False),
    SheetColumn("last_chainage", "at", False),
    SheetColumn("limit_mm", "limit mm", False),
    SheetColumn("expected_mm", "expected mm", False),
    SheetColumn("wear_mm", "READING mm", True),
    SheetColumn("method", "method", True),
    SheetColumn("condition", "condition", True),
    SheetColumn("not_read", "not read: why", True),
    SheetColumn("action", "action", True),
    SheetColumn("reason", "reason", True),
    SheetColumn("from_place", "from place", True),
    SheetColumn("old_serial", "old serial", True),
    SheetColumn("old_to", "old goes to", True),
    SheetColumn("new_serial", "new serial", True),
    SheetColumn("new_tool_type", "new tool", True),
    SheetColumn("new_batch", "new batch", True),
    SheetColumn("new_wear_mm", "new tool's wear mm", True),
    SheetColumn("note", "note", True),
)
"""In ``wear_mm`` a bare number is a reading, ``<1`` nothing to be seen below 1 mm, ``>25`` past measuring, and
``9/10.5/9`` several points round a ring."""
