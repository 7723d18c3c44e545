"""Records as the TOML of the site folder. What cannot be said there is refused before anything is written."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from datetime import date, datetime, time, timedelta, timezone
from typing import Any

import tomli_w

from wearplan.site import records
from wearplan.site.parse.safe_text import clean_line, clean_text
from wearplan.site.records import Fitting, Ground, Inspection, Measurement, Section, StructureReading, Unit
from wearplan.site.records.naming import INSPECTION_ID


class NotSayable(ValueError):
    """A value that has no place in the file; the message begins with the key."""


def inspection_toml(inspection: Inspection) -> str:
    """One inspection as the text of its file.

    Raises
    ------
    NotSayable
        For a name that is no name, a number that is none, a word outside the format's lists, a measurement with no
        way of reading or more than one, or a record that was damaged and has not been entered anew.
    """
    if not INSPECTION_ID.match(inspection.id):
        raise NotSayable("id: letters, digits, - and _ only, at most 64")
    head = {
        "id": inspection.id,
        "number": inspection.number,
        "ring": _count("ring", inspection.ring),
        "chainage_m": _number("chainage_m", inspection.chainage_m),
        "started_at": _moment(inspection.started_at),
        "ended_at": _moment(inspection.ended_at),
        "mode": _one_of("mode", inspection.mode, records.MODES),
        "pressure_bar": _number("pressure_bar", inspection.pressure_bar, least=0.0),
        "entries": _count("entries", inspection.entries),
        "person_hours": _number("person_hours", inspection.person_hours, least=0.0),
        "parking_angle_deg": _number("parking_angle_deg", inspection.parking_angle_deg),
        "measured_by": _line(inspection.measured_by),
        "entered_by": _line(inspection.entered_by),
        "checked_by": _line(inspection.checked_by),
        "corrects": inspection.corrects,
        "reason": _text(inspection.reason),
        "note": _text(inspection.note),
        "taken_from": _line(inspection.taken_from),
    }
    tables: dict[str, list[dict[str, Any]]] = {
        "measurement": [_measurement(record) for record in inspection.measurements],
        "fitting": [_fitting(record) for record in inspection.fittings],
        "structure": [_structure(record) for record in inspection.structure],
    }
    return toml_text(_without_none(head), tables)


def toml_text(head: Mapping[str, Any], tables: Mapping[str, list[dict[str, Any]]]) -> str:
    """A head of plain keys and arrays of tables, one value a line so that versions compare well."""
    blocks = [tomli_w.dumps(head)]
    for name, rows in tables.items():
        blocks.extend(f"[[{name}]]\n{tomli_w.dumps(row)}" for row in rows)
    text = "\n".join(blocks)
    said = {**head, **{name: rows for name, rows in tables.items() if rows}}
    if tomllib.loads(text) != said:
        raise NotSayable("this record cannot be written so that it reads the same")
    return text


def _measurement(record: Measurement) -> dict[str, Any]:
    key = f"measurement of position {record.position}"
    if record.damaged:
        raise NotSayable(f"{key}: was damaged ({record.damaged}); enter it anew, or as not read")
    ways = (record.wear_mm, record.points_mm or None, record.wear_below_mm, record.wear_above_mm, record.not_read)
    if sum(way is not None for way in ways) != 1:
        raise NotSayable(f"{key}: needs just one of wear_mm, points_mm, wear_below_mm, wear_above_mm and not_read")
    return _without_none(
        {
            "position": _count(f"{key}: position", record.position),
            "wear_mm": _number(f"{key}: wear_mm", record.wear_mm, least=0.0),
            "points_mm": [_number(f"{key}: points_mm", point, least=0.0) for point in record.points_mm] or None,
            "wear_below_mm": _number(f"{key}: wear_below_mm", record.wear_below_mm, over=0.0),
            "wear_above_mm": _number(f"{key}: wear_above_mm", record.wear_above_mm, least=0.0),
            "not_read": _one_of(f"{key}: not_read", record.not_read, records.NOT_READ),
            "method": _line(record.method),
            "condition": _one_of(f"{key}: condition", record.condition, records.CONDITIONS),
            "serial": _line(record.serial),
            "note": _text(record.note),
            "taken_from": _line(record.taken_from),
        }
    )


def _fitting(record: Fitting) -> dict[str, Any]:
    key = f"fitting of position {record.position}"
    if record.damaged:
        raise NotSayable(f"{key}: was damaged ({record.damaged}); enter it anew")
    if record.action in ("move", "swap") and record.from_position is None:
        raise NotSayable(f"{key}: {record.action} needs the position it came from")
    return _without_none(
        {
            "position": _count(f"{key}: position", record.position),
            "action": _one_of(f"{key}: action", record.action, records.ACTIONS),
            "reason": _one_of(f"{key}: reason", record.reason, records.REASONS),
            "old_serial": _line(record.old_serial),
            "old_to": _one_of(f"{key}: old_to", record.old_to, ("rebuild", "scrap", "shelf")),
            "new_serial": _line(record.new_serial),
            "new_tool_type": _line(record.new_tool_type),
            "new_batch": _line(record.new_batch),
            "new_wear_mm": _number(f"{key}: new_wear_mm", record.new_wear_mm, least=0.0),
            "new_rebuilds": _count(f"{key}: new_rebuilds", record.new_rebuilds),
            "from_position": _count(f"{key}: from_position", record.from_position),
            "taken_from": _line(record.taken_from),
        }
    )


def _structure(record: StructureReading) -> dict[str, Any]:
    return {
        "point": _line(record.point),
        "thickness_mm": _number(f"structure {record.point}: thickness_mm", record.thickness_mm, least=0.0),
    }


def ground_toml(ground: Ground) -> str:
    """One state of knowledge of the ground as the text of its file."""
    import tomlkit

    def inline(pairs: Mapping[str, Any]) -> Any:
        table = tomlkit.inline_table()
        table.update(_without_none(dict(pairs)))
        return table

    def rows(maps: list[dict[str, Any]]) -> Any:
        array = tomlkit.array()
        array.extend(inline(pairs) for pairs in maps)
        return array

    def tables(maps: list[dict[str, Any]]) -> Any:
        array = tomlkit.aot()
        for pairs in maps:
            table = tomlkit.table()
            for key, value in pairs.items():
                if isinstance(value, dict):
                    table.append(key, inline(value))
                elif isinstance(value, list):
                    table.append(key, rows(value))
                else:
                    table.append(key, value)
            array.append(table)
        return array

    said: dict[str, Any] = {"known_on": _day(ground.known_on), "source": clean_line(ground.source)}
    document = tomlkit.document()
    for key, value in said.items():
        document.append(key, value)
    said["unit"] = [_unit(unit) for unit in ground.units]
    said["section"] = [_section(section) for section in ground.sections]
    document.append("unit", tables(said["unit"]))
    document.append("section", tables(said["section"]))
    text = tomlkit.dumps(document)
    if tomllib.loads(text) != said:
        raise NotSayable("this ground cannot be written so that it reads the same")
    return text


def _unit(unit: Unit) -> dict[str, Any]:
    key = f"unit {unit.code}"
    tests = ("cai", "lac_g_per_t", "ucs_mpa", "eqc_pct", "shear_strength_kpa", "d60_mm")
    return _without_none(
        {
            "code": clean_line(unit.code),
            "name": clean_line(unit.name),
            **{name: _number(f"{key}: {name}", getattr(unit, name), least=0.0) for name in tests},
            "boulders": True if unit.boulders else None,
            "expected_rate": [
                {
                    "kind": _one_of(f"{key}: kind", rate.kind, records.KINDS),
                    "mm_per_km": _number(f"{key}: mm_per_km", rate.mm_per_km, least=0.0),
                    "factor": _number(f"{key}: factor", rate.factor, least=1.0),
                }
                for rate in unit.expected_rate
            ]
            or None,
        }
    )


def _section(section: Section) -> dict[str, Any]:
    key = f"section from {section.from_chainage_m}"
    if bool(section.mix) == bool(section.strata) and section.cut:
        raise NotSayable(f"{key}: needs a mix or strata, and only one of them")
    return _without_none(
        {
            "from_chainage_m": _number(f"{key}: from_chainage_m", section.from_chainage_m),
            "to_chainage_m": _number(f"{key}: to_chainage_m", section.to_chainage_m),
            "mix": {unit: _number(f"{key}: mix", share, least=0.0) for unit, share in section.mix.items()} or None,
            "strata": [
                _without_none({"unit": layer.unit, "top_m": _number(f"{key}: top_m", layer.top_m)})
                for layer in section.strata
            ]
            or None,
            "cut": None if section.cut else False,
            "boundary_sd_m": _number(f"{key}: boundary_sd_m", section.boundary_sd_m, least=0.0),
            "penetration_mm_per_rev": _number(f"{key}: penetration", section.penetration_mm_per_rev, least=0.0),
            "required_overcut_mm": _number(f"{key}: required_overcut_mm", section.required_overcut_mm),
            "water_head_m": _number(f"{key}: water_head_m", section.water_head_m),
        }
    )


def _without_none(pairs: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in pairs.items() if value is not None}


def _number(key: str, value: float | None, *, least: float | None = None, over: float | None = None) -> float | None:
    if value is None:
        return None
    number = float(value)
    if not math.isfinite(number):
        raise NotSayable(f"{key}: {value} is no number")
    if least is not None and number < least:
        raise NotSayable(f"{key}: {number:g} is below {least:g}")
    if over is not None and number <= over:
        raise NotSayable(f"{key}: {number:g} is not above {over:g}, so it says nothing")
    return number + 0.0  # no negative zero


def _count(key: str, value: int | None) -> int | None:
    if value is None:
        return None
    if isinstance(value, bool) or int(value) != value or value < 0:
        raise NotSayable(f"{key}: {value!r} is no whole number from 0 on")
    return int(value)


def _one_of(key: str, value: str | None, words: tuple[str, ...]) -> str | None:
    if value is not None and value not in words:
        raise NotSayable(f"{key}: {value!r} is none of {', '.join(words)}")
    return value


def _line(value: str | None) -> str | None:
    return (clean_line(value) or None) if value is not None else None


def _text(value: str | None) -> str | None:
    return (clean_text(value) or None) if value is not None else None


def _day(value: date) -> date:
    return value.date() if isinstance(value, datetime) else value


def _moment(value: datetime | None) -> datetime | None:
    """A time TOML can say: offsets in whole minutes."""
    if value is None:
        return None
    offset = value.utcoffset()
    if offset is None:
        return datetime.combine(value.date(), time(value.hour, value.minute, value.second, value.microsecond))
    if offset % timedelta(minutes=1):
        return value.astimezone(timezone.utc)  # noqa: UP017
    return value.astimezone(timezone(offset))
