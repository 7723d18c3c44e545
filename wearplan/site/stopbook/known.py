"""What the records inside an inspection have in common: what they may refer to, their order, their place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from wearplan.site.parse.document import Parsed
from wearplan.site.parse.faults import ALL, NOTHING
from wearplan.site.read.left_out import LeftOut
from wearplan.site.records import Drive, Origin, RingRow, ToolType, Wheel

UNKNOWN_FROM_HERE = "its place is unknown from here on"


@dataclass(frozen=True)
class Known:
    """What a record may refer to."""

    drive: Drive
    wheel: Wheel
    rings: Mapping[int, RingRow]
    positions: frozenset[int]
    """Of the wheel file, those left out as faulty included."""
    types: Mapping[str, ToolType]
    methods: frozenset[str]
    points: frozenset[str]
    left_out: LeftOut = field(default_factory=LeftOut)

    @classmethod
    def of(cls, drive: Drive, wheel: Wheel, rings: Sequence[RingRow], left_out: LeftOut | None = None) -> Known:
        """From what was read; of a ring logged twice the first row counts."""
        left_out = left_out or LeftOut()
        return cls(
            drive=drive,
            wheel=wheel,
            rings={row.ring: row for row in reversed(rings)},
            positions=frozenset(position.number for position in wheel.positions) | left_out.positions,
            types={tool_type.code: tool_type for tool_type in wheel.tool_types},
            methods=frozenset(gauging.method for gauging in wheel.gauging),
            points=frozenset(point.code for point in wheel.structure_points),
            left_out=left_out,
        )


@dataclass(frozen=True)
class Item:
    """One table of an array, as checked (``model``) or, where that failed, as it stands in the file (``raw``)."""

    at: int
    model: Any
    raw: Any
    wrong: str | None


def items(parsed: Parsed, table: str) -> list[Item]:
    """The tables of an array in the order of the file, sound and damaged ones."""
    kept = getattr(parsed.model, table)
    places = parsed.kept.get(table) or range(len(kept))
    found = [Item(at, model, None, None) for at, model in zip(places, kept, strict=True)]
    bad = parsed.bad.get(table)
    if bad:
        raw = parsed.doc.data[table]
        found.extend(Item(at, None, raw[at], wrong) for at, wrong in bad.items())
        found.sort(key=lambda item: item.at)
    return found


def number_in(raw: Any, key: str) -> int | None:
    """The number of a position in a damaged record, as far as it can be told."""
    value = raw.get(key) if isinstance(raw, dict) else None
    if isinstance(value, str) and len(value) < 7 and value.strip().isascii() and value.strip().isdigit():
        return int(value)
    return value if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 100_000 else None


def place_of(parsed: Parsed, known: Known, table: str, item: Item) -> int | None:
    """The position of a record; None where the record cannot be kept, which is named.

    A reading that is lost leaves its place as it was known before; a fitting that is lost may leave any place with
    another tool, so it forbids.
    """
    position = item.model.position if item.model is not None else number_in(item.raw, "position")
    if position in known.positions:
        return int(position)
    forbids = NOTHING if table == "measurement" else ALL
    if position is None:
        what, code = (
            "which place this record is of cannot be told; it is left out: correct it by a later record",
            "no-place",
        )
    else:
        what, code = f"there is no position {position} in wheel.toml; correct it by a later record", "unknown-position"
    parsed.fault((table, item.at, "position"), what, code=code, forbids=forbids)
    return None


def origin_of(parsed: Parsed, table: str, item: Item) -> Origin:
    return parsed.doc.origin(table, item.at)
