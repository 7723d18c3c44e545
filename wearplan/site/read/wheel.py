"""wheel.toml: the wheel as records, and what in it does not fit together."""

from __future__ import annotations

import math

from wearplan.site.forms.model import made, model_of
from wearplan.site.parse.document import Document, Parsed, parse
from wearplan.site.parse.faults import ALL, PLAN_ON
from wearplan.site.parse.stretches import chainage_fault
from wearplan.site.parse.text import did_you_mean, shown
from wearplan.site.read.left_out import numbers_listed, types_left_out
from wearplan.site.read.wheel_checks import check_housings, check_rows, tool_type_faults
from wearplan.site.records import (
    Drive,
    LayoutChange,
    Position,
    Row,
    StructurePoint,
    ToolType,
    Wheel,
)

_RADIUS_SLACK_MM = 0.5
OPEN_AS = {
    **{("tool_type", key): 0.0 for key in ("price", "lead_time_days")},
    **{("tool_type", key): None for key in ("rebuild_price", "rebuildable_share", "rebuild_days", "change_hours")},
}
"""Money and hours of a tool type: wear is learnt and foretold without them."""


def read_wheel(doc: Document, drive: Drive | None) -> Wheel | None:
    """The wheel; None where none can be told. Without a drive, what lies along it is left out."""
    parsed = parse(doc, model_of(Wheel), lambda loc: ALL, OPEN_AS)
    if parsed is None:
        return None
    model = parsed.model
    _numbers_of_tables(parsed)
    tool_types = _tool_types(parsed)
    rows = _rows(parsed)
    positions = _positions(parsed, tool_types, {row.code for row in rows})
    whole = not parsed.bad.get("position") and numbers_listed(doc) <= set(positions)
    check_rows(rows, positions.values(), doc.log, all_read=whole)
    check_housings(positions.values(), doc.log)
    return made(
        Wheel,
        model,
        tool_types=tuple(tool_types.values()),
        positions=tuple(sorted(positions.values(), key=lambda position: position.number)),
        rows=tuple(rows),
        layout_changes=_layout_changes(parsed, drive, positions, tool_types) if drive else (),
        structure_points=_structure_points(parsed),
        factors=tuple(dict.fromkeys(model.wheel.factors)),
        leave_out=tuple(dict.fromkeys(model.wheel.leave_out)),
    )


def _numbers_of_tables(parsed: Parsed) -> None:
    wheel = parsed.model.wheel
    shield = wheel.shield_diameter_m
    if shield is not None and not 0.7 * wheel.bore_diameter_m < shield <= wheel.bore_diameter_m:
        parsed.fault(
            ("wheel", "shield_diameter_m"),
            f"a shield of {shield:g} m does not go with a bore of {wheel.bore_diameter_m:g} m: the bore is a little "
            f"wider",
            code="diameters",
        )
    for table in ("tool_type", "position"):
        if not getattr(parsed.model, table) and not parsed.bad.get(table):
            parsed.fault((table,), f"there is no [[{table}]]; add the wheel's own", code="to-fill")


def _tool_types(parsed: Parsed) -> dict[str, ToolType]:
    found: dict[str, ToolType] = {}
    for index, item in enumerate(parsed.model.tool_type):
        here = parsed.loc("tool_type", index)
        origin = parsed.origin("tool_type", index)
        if item.code in found:
            parsed.fault(
                (*here, "code"),
                f"{shown(item.code)} is there already in line {found[item.code].origin.line}; give each code once",
                code="doubled",
            )
            continue
        for key, what, forbids in tool_type_faults(item):
            parsed.fault((*here, key), f"{shown(item.code)}: {what}", code="contradiction", forbids=forbids)
        found[item.code] = made(ToolType, item, origin=origin)
    return found


def _rows(parsed: Parsed) -> list[Row]:
    found: dict[str, Row] = {}
    for index, item in enumerate(parsed.model.row):
        if item.code in found:
            parsed.fault(
                parsed.loc("row", index, "code"),
                f"{shown(item.code)} is there already; give each code once",
                code="doubled",
            )
            continue
        found[item.code] = made(Row, item, origin=parsed.origin("row", index))
    return list(found.values())


def _positions(parsed: Parsed, types: dict[str, ToolType], rows: set[str]) -> dict[int, Position]:
    found: dict[int, Position] = {}
    left_out = types_left_out(parsed.doc, types)
    most_mm = parsed.model.wheel.bore_diameter_m * 500
    for index, item in enumerate(parsed.model.position):
        who = f"position {item.number}"
        here = parsed.loc("position", index)
        if item.number in found:
            line = found[item.number].origin.line
            parsed.fault(
                (*here, "number"),
                f"{who} is there already in line {line}; give each number once",
                code="doubled-position",
            )
            continue
        if item.tool_type not in types and not left_out.may_be_type(item.tool_type):
            parsed.fault(
                (*here, "tool_type"),
                f"{who}: no [[tool_type]] {shown(item.tool_type)}; {did_you_mean(item.tool_type, types)}",
                code="unknown-tool-type",
            )
            continue
        if item.track_radius_mm > most_mm + _RADIUS_SLACK_MM:
            parsed.fault(
                (*here, "track_radius_mm"),
                f"{who}: {item.track_radius_mm:g} mm is beyond the bore, whose radius is {most_mm:g} mm",
                code="beyond-bore",
            )
            continue
        if item.row is not None and item.row not in rows:
            parsed.fault(
                (*here, "row"),
                f"{who}: no [[row]] {shown(item.row)}; {did_you_mean(item.row, rows)}",
                code="unknown-row",
                forbids=PLAN_ON,
            )
        if item.tool_type not in types:
            continue  # its tool type was named as faulty
        damage = types[item.tool_type].damage_limit_mm
        if item.wear_limit_mm is not None and damage is not None and item.wear_limit_mm > damage:
            parsed.fault(
                (*here, "wear_limit_mm"),
                f"{who}: {item.wear_limit_mm:g} mm is above the damage limit of its tool type, {damage:g} mm",
                code="contradiction",
            )
        found[item.number] = made(
            Position,
            item,
            sensor_mm=tuple(sorted(set(item.sensor_mm))),
            angle_deg=item.angle_deg % 360.0,
            origin=parsed.origin("position", index),
        )
    return found


def _layout_changes(
    parsed: Parsed, drive: Drive, positions: dict[int, Position], types: dict[str, ToolType]
) -> tuple[LayoutChange, ...]:
    found = []
    left_out, listed = types_left_out(parsed.doc, types), numbers_listed(parsed.doc)
    for index, item in enumerate(parsed.model.layout_change):
        here = parsed.loc("layout_change", index)
        why = chainage_fault(drive, item.from_chainage_m)
        if why:
            parsed.fault((*here, "from_chainage_m"), why, code="outside-drive")
            continue
        if item.position not in positions and item.position in listed:
            continue  # the position was named as faulty
        if item.position not in positions:
            parsed.fault(
                (*here, "position"),
                f"there is no position {item.position} on this wheel; list it",
                code="unknown-position",
            )
            continue
        if item.tool_type is not None and item.tool_type not in types:
            if left_out.may_be_type(item.tool_type):
                continue  # the tool type was named as faulty
            parsed.fault(
                (*here, "tool_type"),
                f"no [[tool_type]] {shown(item.tool_type)}; {did_you_mean(item.tool_type, types)}",
                code="unknown-tool-type",
            )
            continue
        if item.blanked == (item.added or item.tool_type is not None):
            parsed.fault(
                here, "say one thing: another tool_type, blanked = true, or added = true", code="contradiction"
            )
            continue
        from_m = drive.driven_m(item.from_chainage_m)
        found.append(made(LayoutChange, item, from_m=from_m, origin=parsed.origin("layout_change", index)))
    found.sort(key=lambda change: change.from_m)
    return tuple(found)


def _structure_points(parsed: Parsed) -> tuple[StructurePoint, ...]:
    found: dict[str, StructurePoint] = {}
    most_mm = math.ceil(parsed.model.wheel.bore_diameter_m * 500)
    for index, item in enumerate(parsed.model.structure_point):
        here = parsed.loc("structure_point", index)
        if item.code in found:
            parsed.fault((*here, "code"), f"{shown(item.code)} is there already; give each code once", code="doubled")
            continue
        if item.thickness_min_mm >= item.thickness_new_mm:
            parsed.fault(
                (*here, "thickness_min_mm"), "the least thickness is not below the new one", code="contradiction"
            )
            continue
        if item.track_radius_mm > most_mm:
            parsed.fault(
                (*here, "track_radius_mm"), f"lies beyond the bore's radius of {most_mm} mm", code="beyond-bore"
            )
            continue
        found[item.code] = made(StructurePoint, item, origin=parsed.origin("structure_point", index))
    return tuple(found.values())
