"""Records as the TOML of the site folder.

Which keys there are, and in which order, is told beside the records (`wearplan.site.records.key`); whether the values
may stand there is asked of the text itself before it is written (`wearplan.site.parse.conforming`). Here is only what
no model can say: how a value is written, and which records cannot be said at all.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import is_dataclass, replace
from datetime import datetime, time, timedelta, timezone
from typing import Any, cast

import tomli_w

from wearplan.site.parse.safe_text import clean_line, clean_text
from wearplan.site.records import Fitting, Ground, Inspection, Measurement, Section, Site
from wearplan.site.records.key import Described, described, one_way
from wearplan.site.records.naming import INSPECTION_ID


class NotSayable(ValueError):
    """A value that has no place in the file; the message begins with the key."""


def inspection_toml(inspection: Inspection) -> str:
    """One inspection as the text of its file.

    Raises
    ------
    NotSayable
        For a name that is no name, a number that is none, a measurement with no way of reading or more than one, or a
        record that was damaged and has not been entered anew.
    """
    if not INSPECTION_ID.match(inspection.id):
        raise NotSayable("id: letters, digits, - and _ only, at most 64")
    for measurement in inspection.measurements:
        _one_way_of_reading(measurement)
    for fitting in inspection.fittings:
        _a_whole_fitting(fitting)
    said = as_said(inspection)
    tables = {name: said.pop(name) for name in [key for key, value in said.items() if isinstance(value, list)]}
    return toml_text(said, tables)


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


def ground_toml(ground: Ground) -> str:
    """One state of knowledge of the ground as the text of its file."""
    import tomlkit

    def inline(pairs: Mapping[str, Any]) -> Any:
        table = tomlkit.inline_table()
        table.update(pairs)
        return table

    def array(rows: list[Any]) -> Any:
        found = tomlkit.array()
        found.extend(inline(row) if isinstance(row, dict) else row for row in rows)
        return found

    def tables(rows: list[dict[str, Any]]) -> Any:
        found = tomlkit.aot()
        for row in rows:
            table = tomlkit.table()
            for key, value in row.items():
                said = inline(value) if isinstance(value, dict) else array(value) if isinstance(value, list) else value
                table.append(key, said)
            found.append(table)
        return found

    for section in ground.sections:
        _one_face(section)
    said = as_said(ground)
    document = tomlkit.document()
    for key, value in said.items():
        document.append(key, tables(value) if isinstance(value, list) else value)
    text = tomlkit.dumps(document)
    if tomllib.loads(text) != said:
        raise NotSayable("this ground cannot be written so that it reads the same")
    return text


def same_record(site: Site, inspection: Inspection) -> Inspection | None:
    """The inspection of the folder that says the very same under another id."""
    said = as_said(replace(inspection, id=""))
    return next((one for one in site.inspections if as_said(replace(one, id="")) == said), None)


def as_said(record: Any, where: str = "") -> dict[str, Any]:
    """A record as its table says it: what is not set, or is as without the key, is left out.

    Raises
    ------
    NotSayable
        For a number that is none; the message begins with the key.
    """
    found = {}
    for key in described(cast(Any, type(record))):
        value = getattr(record, key.name)
        if value is None or (key.has_default and value == key.default):
            continue
        said = _said(value, key, f"{where}{key.in_file}")
        if said is not None:
            found[key.in_file] = said
    return found


def _said(value: Any, key: Described, where: str) -> Any:
    """One value as TOML can say it; None where nothing is left of it."""
    if isinstance(value, str):
        return (clean_text(value) if key.key.lines else clean_line(value)) or None
    if isinstance(value, datetime):
        return _moment(value)
    if isinstance(value, tuple):
        items = [(as_said(one, f"{where} {at + 1}: ") if is_dataclass(one) else one) for at, one in enumerate(value)]
        return [_number(one, where) for one in items] or None
    if isinstance(value, Mapping):
        return {name: _number(one, where) for name, one in value.items()} or None
    return _number(value, where)


def _number(value: Any, where: str) -> Any:
    if isinstance(value, float):
        if not math.isfinite(value):
            raise NotSayable(f"{where}: {value} is no number")
        return value + 0.0  # no negative zero
    return value


def _one_way_of_reading(record: Measurement) -> None:
    key = f"measurement of position {record.position}"
    if record.damaged:
        raise NotSayable(f"{key}: was damaged ({record.damaged}); enter it anew, or as not read")
    ways = one_way(Measurement, "reading")
    if sum(getattr(record, way) not in (None, ()) for way in ways) != 1:
        raise NotSayable(f"{key}: needs just one of {', '.join(ways[:-1])} and {ways[-1]}")


def _a_whole_fitting(record: Fitting) -> None:
    key = f"fitting of position {record.position}"
    if record.damaged:
        raise NotSayable(f"{key}: was damaged ({record.damaged}); enter it anew")
    if record.action in ("move", "swap") and record.from_position is None:
        raise NotSayable(f"{key}: {record.action} needs the position it came from")


def _one_face(section: Section) -> None:
    if bool(section.mix) == bool(section.strata) and section.cut:
        raise NotSayable(f"section from {section.from_chainage_m}: needs a mix or strata, and only one of them")


def _moment(value: datetime) -> datetime:
    """A time TOML can say: offsets in whole minutes."""
    offset = value.utcoffset()
    if offset is None:
        return datetime.combine(value.date(), time(value.hour, value.minute, value.second, value.microsecond))
    if offset % timedelta(minutes=1):
        return value.astimezone(timezone.utc)  # noqa: UP017
    return value.astimezone(timezone(offset))
