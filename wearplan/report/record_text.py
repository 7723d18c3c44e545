"""One record of a stop read whole: every key the file holds, in words people know, and what became of it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from wearplan.report.preview import fitting_line
from wearplan.report.words import chainage_text, plain, plural
from wearplan.site.records import Inspection, Measurement, Site
from wearplan.site.records.key import described

_UNITS = {"_bar": " bar", "_deg": "°", "_hours": " h"}
_SAID_APART = ("id", "measurements", "fittings", "structure", "corrects", "reason", "note")


def record_lines(site: Site, record: Inspection) -> list[str]:
    """A record in lines: its head, its note whole, readings in the order of the file, fittings, the wheel itself."""
    lines = [f"{record.id}   ({record.origin.file or 'not written yet'})"]
    if record.corrects:
        lines.append(f"Takes the place of {record.corrects}: {record.reason or 'no reason is kept'}")
    for key in described(Inspection):
        value = getattr(record, key.name, None)
        if key.name not in _SAID_APART and value is not None:
            lines.append(f"{(key.key.head or key.name.replace('_', ' ')):<16} {_said(key.name, value)}")
    if record.note:
        lines += ["", *(f"note: {line}" for line in record.note.splitlines())]
    read = sum(one.not_read is None for one in record.measurements)
    lines += ["", f"{read} of {plural(len(site.wheel.positions), 'place')} read"]
    lines += [_measurement(one) for one in record.measurements]
    if record.fittings:
        lines += ["", plural(len(record.fittings), "fitting"), *map(fitting_line, record.fittings)]
    if record.structure:
        lines += ["", "The wheel itself", *(f"{one.point:>8}  {one.thickness_mm:g} mm" for one in record.structure)]
    return [plain(line) for line in lines]


def _said(name: str, value: Any) -> str:
    if name == "chainage_m":
        return chainage_text(value)
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M %z}".strip()
    unit = next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), "")
    return f"{value:g}{unit}" if isinstance(value, float) else f"{value}{unit}"


def _measurement(one: Measurement) -> str:
    if one.not_read:
        said = one.not_read
    elif one.points_mm:
        said = " / ".join(f"{point:g}" for point in one.points_mm) + " mm"
    elif one.wear_below_mm is not None:
        said = f"under {one.wear_below_mm:g} mm"
    elif one.wear_above_mm is not None:
        said = f"over {one.wear_above_mm:g} mm"
    else:
        said = f"{one.wear_mm:g} mm" if one.wear_mm is not None else "nothing"
    more = [part for part in (one.condition, one.serial, one.method, one.note, one.taken_from) if part]
    damaged = [f"DAMAGED: {one.damaged}"] if one.damaged else []
    return f"{one.position:>4}  " + ", ".join([said, *more, *damaged])
