"""inspections/*.toml: one stop each. A damaged measurement or fitting is kept as damaged; its place is then unknown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC
from typing import Any

from wearplan.site.document import Document, Loc, Parsed, parse
from wearplan.site.faults import ALL, NOTHING
from wearplan.site.formats_inspection import WAYS, InspectionFile
from wearplan.site.records import (
    ACTIONS,
    Drive,
    Fitting,
    Inspection,
    Measurement,
    Origin,
    RingRow,
    StructureReading,
    ToolType,
    Wheel,
)
from wearplan.site.stretches import chainage_fault
from wearplan.site.text import did_you_mean, shown

HEAD_NEEDED = ("id", "ring", "chainage_m", "started_at", "mode")
_HEAD_OPTIONAL = (
    "number", "ended_at", "pressure_bar", "entries", "person_hours", "parking_angle_deg", "measured_by", "entered_by",
    "checked_by", "reason", "note",
)  # fmt: skip


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


def _forbids(loc: Loc) -> tuple[str, ...]:
    """What cannot be placed or would be taken twice forbids; a damaged record or a wrong label is only named."""
    head = loc[0] if loc else ""
    if head in ("measurement", "fitting", "structure") and len(loc) > 1:
        return NOTHING
    return NOTHING if head in _HEAD_OPTIONAL else ALL


def read_inspection(doc: Document, known: Known) -> Inspection | None:
    """One inspection; None where it cannot be placed."""
    parsed = parse(doc, InspectionFile, _forbids)
    if parsed is None:
        return None
    model = parsed.model
    near = known.rings.get(model.ring)
    near_m = near.end_m if near is not None and near.end_m is not None else model.ring * known.drive.ring_length_m
    driven_m = known.drive.driven_m(model.chainage_m, near_m=near_m)
    why = chainage_fault(known.drive, model.chainage_m, slack_m=3 * known.drive.ring_length_m)
    if why:
        parsed.fault(("chainage_m",), why, code="outside-drive")
        return None
    _check_head(parsed, known, driven_m)
    started, ended = model.started_at, model.ended_at
    if started.tzinfo is None:
        started = started.replace(tzinfo=UTC)
    if ended is not None and ended.tzinfo is None:
        ended = ended.replace(tzinfo=UTC)
    if ended is not None and ended < started:
        parsed.fault(
            ("ended_at",), "lies before started_at; it is left out", code="ended-before-started", forbids=NOTHING
        )
        ended = None
    head = {name: getattr(model, name) for name in (*HEAD_NEEDED, *_HEAD_OPTIONAL, "corrects")}
    head.update(driven_m=driven_m, started_at=started, ended_at=ended, origin=Origin(doc.file, 1))
    return Inspection(
        **head,
        measurements=tuple(_measurements(parsed, known)),
        fittings=tuple(_fittings(parsed, known)),
        structure=tuple(_structure(parsed, known)),
    )


def _check_head(parsed: Parsed[InspectionFile], known: Known, driven_m: float) -> None:
    model = parsed.model
    for key in ("started_at", "ended_at"):
        value = getattr(model, key)
        if value is not None and value.tzinfo is None:
            parsed.fault((key,), "has no offset from UTC; it is taken as UTC", code="no-offset", forbids=NOTHING)
    if model.mode == "free air" and (model.pressure_bar or 0) > 0:
        parsed.fault(
            ("pressure_bar",), f"free air at {model.pressure_bar:g} bar contradicts itself", code="contradiction",
            forbids=NOTHING,
        )  # fmt: skip
    if model.corrects is not None and not (model.reason or "").strip():
        parsed.fault(
            ("corrects",), "a correction needs its reason; it holds all the same", code="no-reason", forbids=NOTHING
        )
    row = known.rings.get(model.ring)
    slack = 1.5 * known.drive.ring_length_m
    if row is not None and not row.damaged and row.start_m is not None and row.end_m is not None:
        if not row.start_m - slack <= driven_m <= row.end_m + slack:
            parsed.fault(
                ("ring",),
                f"ring {model.ring} runs from {row.start_chainage_m:.3f} to {row.end_chainage_m:.3f} m in advance.csv, "
                f"the stop says {model.chainage_m:.3f} m; the chainage is used",
                code="ring-and-chainage", forbids=NOTHING,
            )  # fmt: skip
    elif known.rings and row is None and model.ring > max(known.rings) + 1:
        parsed.fault(
            ("ring",), f"ring {model.ring} is beyond the last ring of advance.csv ({max(known.rings)})",
            code="ring-beyond-log", forbids=NOTHING,
        )  # fmt: skip


def _raw_position(raw: Any) -> int | None:
    """The position of a record that is otherwise damaged, as far as it can be told."""
    value = raw.get("position") if isinstance(raw, dict) else None
    if isinstance(value, str) and value.strip().isascii() and value.strip().isdigit() and len(value) < 7:
        return int(value)
    return value if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 100_000 else None


def _in_file_order(parsed: Parsed[InspectionFile], table: str) -> list[tuple[int, Any, str | None]]:
    """``(place in the file, model or raw table, what is wrong with it or None)`` of an array of tables."""
    kept = getattr(parsed.model, table)
    places = parsed.kept.get(table) or range(len(kept))
    items: list[tuple[int, Any, str | None]] = [(at, item, None) for at, item in zip(places, kept, strict=True)]
    bad = parsed.bad.get(table)
    if bad:
        raw = parsed.doc.data[table]
        items.extend((at, raw[at], why) for at, why in bad.items())
        items.sort(key=lambda item: item[0])
    return items


def _placed(parsed: Parsed[InspectionFile], known: Known, table: str, at: int, position: int | None) -> bool:
    """Whether the record can be kept at all; if not, that is named."""
    if position is None:
        parsed.fault(
            (table, at, "position"), "which place this record is of cannot be told; it is left out", code="no-place",
            forbids=NOTHING if table == "measurement" else ALL,
        )  # fmt: skip
        return False
    if position not in known.positions:
        parsed.fault(
            (table, at, "position"), f"there is no position {position} in wheel.toml; correct the number by a later "
            f"record",
            code="unknown-position", forbids=NOTHING if table == "measurement" else ALL,
        )  # fmt: skip
        return False
    return True


def _measurements(parsed: Parsed[InspectionFile], known: Known) -> list[Measurement]:
    found: list[Measurement] = []
    seen: dict[int, int] = {}
    file, doc = parsed.doc.file, parsed.doc
    for at, item, why in _in_file_order(parsed, "measurement"):
        position = _raw_position(item) if why else item.position
        if not _placed(parsed, known, "measurement", at, position):
            continue
        origin = Origin(file, doc.line(("measurement", at)))
        who = f"position {position}"
        if why:
            found.append(Measurement(position=position, damaged=why, origin=origin))
            seen.setdefault(position, len(found) - 1)
            continue
        code, what = "", ""
        ways = [way for way in WAYS if getattr(item, way) is not None]
        if position in seen:
            code, what = (
                "doubled-reading",
                f"{who} is read twice in this record, first in line {found[seen[position]].origin.line}",
            )
        elif len(ways) != 1:
            said = "not read in any way" if not ways else f"read in more than one way ({', '.join(ways)})"
            code, what = "ways", f"{who} is {said}; use exactly one of {', '.join(WAYS)}"
        else:
            what = _too_worn(known, position, item)
            code = "impossible-wear" if what else ""
        if what:
            parsed.fault(("measurement", at), f"{what}; its place is unknown from here on", code=code, forbids=NOTHING)
        if item.method is not None and known.methods and item.method not in known.methods:
            parsed.fault(
                ("measurement", at, "method"), f"{who}: no method {shown(item.method)} in [gauging] of wheel.toml; "
                f"{did_you_mean(item.method, known.methods)}", code="unknown-method", forbids=NOTHING,
            )  # fmt: skip
        values = dict(item.__dict__)
        values["points_mm"] = tuple(item.points_mm or ())
        found.append(Measurement(**values, damaged=what or None, origin=origin))
        seen.setdefault(position, len(found) - 1)
    return found


def _too_worn(known: Known, position: int, item: Any) -> str:
    """Wear that no tool of this wheel can have: more than a disc's radius, or than four times any other's limit."""
    worst = max(item.points_mm) if item.points_mm else (item.wear_mm or item.wear_above_mm or 0.0)
    if worst < 100:
        return ""
    most = max((_most_mm(tool_type) for tool_type in known.types.values()), default=worst)
    return f"position {position}: {worst:g} mm is more than any tool of this wheel can lose" if worst > most else ""


def _most_mm(tool_type: ToolType) -> float:
    if tool_type.kind == "disc" and tool_type.diameter_mm:
        return tool_type.diameter_mm / 2
    return 4 * max(tool_type.wear_limit_mm, tool_type.damage_limit_mm or 0.0)


def _fittings(parsed: Parsed[InspectionFile], known: Known) -> list[Fitting]:
    found: list[Fitting] = []
    seen: dict[int, Fitting] = {}
    swapped: set[tuple[int, int]] = set()
    for at, item, why in _in_file_order(parsed, "fitting"):
        position = _raw_position(item) if why else item.position
        if not _placed(parsed, known, "fitting", at, position):
            continue
        origin = Origin(parsed.doc.file, parsed.doc.line(("fitting", at)))
        if why:
            action = item.get("action") if isinstance(item, dict) and item.get("action") in ACTIONS else "change"
            fitting = Fitting(position=position, action=str(action), damaged=why, origin=origin)
            found.append(fitting)
            seen.setdefault(position, fitting)
            continue
        code, what = _fitting_fault(item, known, seen, swapped)
        if what:
            parsed.fault(
                ("fitting", at), f"position {position}: {what}; its place is unknown from here on", code=code,
                forbids=NOTHING,
            )  # fmt: skip
        fitting = Fitting(**item.__dict__, damaged=what or None, origin=origin)
        found.append(fitting)
        seen.setdefault(position, fitting)
        if item.action == "swap" and item.from_position is not None:
            swapped.add((item.position, item.from_position))
    return found


def _fitting_fault(
    item: Any, known: Known, seen: Mapping[int, Fitting], swapped: set[tuple[int, int]]
) -> tuple[str, str]:
    comes = item.action in ("move", "swap")
    if comes and item.from_position is None:
        return "no-origin", f"{item.action} needs the from_position"
    if not comes and item.from_position is not None:
        return "contradiction", f"{item.action} has no from_position; a tool from another place is moved or swapped"
    if comes and item.from_position == item.position:
        return "contradiction", f"{item.action} from the same position"
    if comes and item.from_position not in known.positions:
        return "unknown-position", f"there is no position {item.from_position} in wheel.toml"
    if item.action == "swap" and (item.from_position, item.position) in swapped:
        return "doubled-fitting", f"the swap with {item.from_position} is listed from both sides"
    if item.position in seen:
        return "doubled-fitting", f"something was fitted here already, in line {seen[item.position].origin.line}"
    if item.new_tool_type is not None and item.new_tool_type not in known.types:
        hint = did_you_mean(item.new_tool_type, known.types)
        return (
            "unknown-tool-type",
            f"no [[tool_type]] {shown(item.new_tool_type)} in wheel.toml ({hint})",
        )
    return "", ""


def _structure(parsed: Parsed[InspectionFile], known: Known) -> list[StructureReading]:
    found = []
    for at, item, why in _in_file_order(parsed, "structure"):
        if why:
            continue
        if item.point not in known.points:
            parsed.fault(
                ("structure", at, "point"), f"no [[structure_point]] {shown(item.point)} in wheel.toml; "
                f"{did_you_mean(item.point, known.points)}", code="unknown-point", forbids=NOTHING,
            )  # fmt: skip
            continue
        found.append(
            StructureReading(
                point=item.point,
                thickness_mm=item.thickness_mm,
                origin=Origin(parsed.doc.file, parsed.doc.line(("structure", at))),
            )
        )
    return found
