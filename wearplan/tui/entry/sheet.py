"""The sheet being typed: what the user typed and nothing else, with undo."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from typing import Any

from wearplan.gate import Finding
from wearplan.site.records import Inspection, Measurement
from wearplan.tui.entry.words import KEYS

ACCEPTED, ACCEPTED_BY = "accepted: ", "accepted_by"
"""In the stop's data of a sheet: the reason a contradiction was accepted for, and who accepted."""


def accepted_key(finding: Finding) -> str:
    """Where a sheet keeps why a finding was accepted; another sentence is another matter and is asked anew."""
    return f"{ACCEPTED}{finding.line}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What was typed for one place. All texts are as typed; ``kept`` is the value the user held to when asked."""

    wear: str = ""
    """A number, several for points round a ring, ``<1`` or ``>25``."""
    not_read: str | None = None
    method: str | None = None
    condition: str | None = None
    serial: str | None = None
    action: str | None = None
    reason: str | None = None
    old_to: str | None = None
    new_serial: str | None = None
    new_tool_type: str | None = None
    new_batch: str | None = None
    from_position: int | None = None
    note: str | None = None
    kept: str | None = None

    @property
    def empty(self) -> bool:
        """True while nothing at all was typed."""
        return self == Line()

    @property
    def read(self) -> bool:
        """True if a wear was typed."""
        return bool(self.wear.strip())


@dataclass(slots=True)
class Sheet:
    """Lines by place in walking order, and the stop's own data.

    Every change goes through `put`, `put_head` or `undo`, so that each can be taken back and saved.
    """

    order: tuple[int, ...]
    lines: dict[int, Line] = field(default_factory=dict)
    head: dict[str, str] = field(default_factory=dict)
    corrects: str | None = None
    inch: bool = False
    """Whether the wears were typed in inches; settled when the sheet is begun."""
    undos: list[tuple[int | None, Any]] = field(default_factory=list)

    def line(self, number: int) -> Line:
        """What was typed for a place."""
        return self.lines.get(number, Line())

    def put(self, number: int, **typed: Any) -> bool:
        """Change a line; False where nothing changes."""
        before = self.line(number)
        after = replace(before, **typed)
        if after == before:
            return False
        self.undos.append((number, before))
        self.lines[number] = after
        return True

    def put_head(self, head: Mapping[str, str]) -> None:
        """Change the stop's data."""
        self.undos.append((None, dict(self.head)))
        self.head = dict(head)

    def undo(self) -> int | None:
        """Take the last change back; the place it was at, None where there is nothing (or it was the stop's data)."""
        if not self.undos:
            return None
        number, before = self.undos.pop()
        if number is None:
            self.head = before
            return None
        self.lines[number] = before
        return number

    def counts(self) -> dict[str, int]:
        """How many are read, not reached, otherwise not read, still empty, and fitted."""
        lines = [self.line(number) for number in self.order]
        read = sum(1 for line in lines if line.read)
        not_reached = sum(1 for line in lines if not line.read and line.not_read == "not reached")
        other = sum(1 for line in lines if not line.read and line.not_read not in (None, "not reached"))
        return {
            "all": len(lines),
            "read": read,
            "not reached": not_reached,
            "otherwise not read": other,
            "empty": len(lines) - read - not_reached - other,
            "fitted": sum(1 for line in lines if line.action),
        }

    def tally(self) -> str:
        """``73 of 98 read, 12 not reached, 13 empty (NOT READ)``."""
        counts = self.counts()
        parts = [f"{counts['read']} of {counts['all']} read"]
        parts += [f"{counts[key]} {key}" for key in ("not reached", "otherwise not read") if counts[key]]
        if counts["empty"]:
            parts.append(f"{counts['empty']} empty (NOT READ)")
        if counts["fitted"]:
            parts.append(f"{counts['fitted']} fitted")
        return ", ".join(parts)

    def values(self) -> dict[str, Any]:
        """Everything typed, as JSON can hold it: what a draft keeps."""
        lines = {
            str(number): {key: value for key, value in asdict(line).items() if value not in (None, "")}
            for number, line in self.lines.items()
            if not line.empty
        }
        return {"head": dict(self.head), "lines": lines, "corrects": self.corrects, "inch": self.inch}


def sheet_from(values: Mapping[str, Any], order: Sequence[int]) -> Sheet:
    """A sheet again from what a draft kept; places no longer on the wheel are kept at its end."""
    lines = {}
    known = set(Line.__dataclass_fields__)
    for number, typed in dict(values.get("lines", {})).items():
        lines[int(number)] = Line(**{key: value for key, value in dict(typed).items() if key in known})
    gone = tuple(number for number in lines if number not in order)
    head = {str(key): str(value) for key, value in dict(values.get("head", {})).items()}
    return Sheet(
        order=(*order, *gone), lines=lines, head=head, corrects=values.get("corrects"), inch=bool(values.get("inch"))
    )


def typed_as(value: float) -> str:
    """A recorded number as one would type it: to a thousandth, without an exponent, whatever its size."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def sheet_of(inspection: Inspection, order: Sequence[int]) -> Sheet:
    """A record as a sheet, to be corrected."""
    lines: dict[int, Line] = {}
    for measurement in inspection.measurements:
        lines[measurement.position] = _line_of(measurement)
    for fitting in inspection.fittings:
        before = lines.get(fitting.position, Line())
        lines[fitting.position] = replace(
            before, action=fitting.action, reason=fitting.reason, old_to=fitting.old_to, new_serial=fitting.new_serial,
            new_tool_type=fitting.new_tool_type, new_batch=fitting.new_batch, from_position=fitting.from_position,
            serial=before.serial or fitting.old_serial,
        )  # fmt: skip
    head = {field: _typed(getattr(inspection, key.name)) for field, key in KEYS.items()}
    gone = tuple(number for number in lines if number not in order)
    return Sheet(order=(*order, *gone), lines=lines, head=head, corrects=inspection.id)


def _typed(value: Any) -> str:
    """A value of the stop's data as one would type it."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(timespec="minutes")
    return typed_as(value) if isinstance(value, float) else str(value)


def _line_of(measurement: Measurement) -> Line:
    if measurement.points_mm:
        wear = " ".join(typed_as(point) for point in measurement.points_mm)
    elif measurement.wear_mm is not None:
        wear = typed_as(measurement.wear_mm)
    elif measurement.wear_below_mm is not None:
        wear = f"<{typed_as(measurement.wear_below_mm)}"
    elif measurement.wear_above_mm is not None:
        wear = f">{typed_as(measurement.wear_above_mm)}"
    else:
        wear = ""
    return Line(
        wear=wear, not_read=measurement.not_read, method=measurement.method, condition=measurement.condition,
        serial=measurement.serial, note=measurement.note, kept=wear or None,
    )  # fmt: skip
