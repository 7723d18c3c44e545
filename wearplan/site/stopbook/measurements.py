"""Readings of a stop. A damaged one is kept as damaged: its place is then unknown."""

from __future__ import annotations

from typing import Any

from wearplan.site.forms.model import made
from wearplan.site.parse.document import Parsed
from wearplan.site.parse.faults import NOTHING
from wearplan.site.parse.text import did_you_mean, shown
from wearplan.site.records import Measurement, StructureReading
from wearplan.site.records.key import one_way
from wearplan.site.stopbook.known import UNKNOWN_FROM_HERE, Item, Known, items, origin_of, place_of


def read_measurements(parsed: Parsed, known: Known) -> list[Measurement]:
    """The readings in the order of the file."""
    found: list[Measurement] = []
    first: dict[int, Measurement] = {}
    for item in items(parsed, "measurement"):
        position = place_of(parsed, known, "measurement", item)
        if position is None:
            continue
        origin = origin_of(parsed, "measurement", item)
        if item.model is None:
            reading = Measurement(position=position, damaged=item.wrong, origin=origin)
        else:
            code, what = _wrong(item.model, known, first)
            if what:
                what = f"position {position} {what}"
                loc = ("measurement", item.at)
                parsed.fault(loc, f"{what}; {UNKNOWN_FROM_HERE}", code=code, forbids=NOTHING)
            _name_method(parsed, item, known)
            reading = made(Measurement, item.model, damaged=what or None, origin=origin)
        found.append(reading)
        first.setdefault(position, reading)
    return found


def _wrong(model: Any, known: Known, first: dict[int, Measurement]) -> tuple[str, str]:
    """Code and wording of why a reading cannot be trusted; empty for a sound one."""
    if model.position in first:
        return "doubled-reading", f"is read twice in this record, first in line {first[model.position].origin.line}"
    all_ways = one_way(Measurement, "reading")
    ways = [way for way in all_ways if getattr(model, way) is not None]
    if len(ways) != 1:
        said = f"is read in more than one way ({', '.join(ways)})" if ways else "is not read in any way"
        return "ways", f"{said}; use exactly one of {', '.join(all_ways)}"
    worst = max(model.points_mm) if model.points_mm else (model.wear_mm or model.wear_above_mm or 0.0)
    most = max((tool_type.most_wear_mm for tool_type in known.types.values()), default=worst)
    if worst > most and not known.left_out.any_type:
        return "impossible-wear", f"has lost {worst:g} mm, more than any tool of this wheel can lose"
    return "", ""


def _name_method(parsed: Parsed, item: Item, known: Known) -> None:
    method = item.model.method
    if method is None or not known.methods or method in known.methods:
        return
    what = (
        f"position {item.model.position}: no method {shown(method)} in [gauging] of wheel.toml, its error is taken as "
        f"that of the coarsest; {did_you_mean(method, known.methods)}"
    )
    parsed.fault(("measurement", item.at, "method"), what, code="unknown-method", forbids=NOTHING)


def read_structure(parsed: Parsed, known: Known) -> list[StructureReading]:
    """Readings of the wheel itself; a damaged one is left out, and named."""
    found = []
    for item in items(parsed, "structure"):
        if item.model is None:
            continue
        if item.model.point not in known.points:
            hint = did_you_mean(item.model.point, known.points)
            what = f"no [[structure_point]] {shown(item.model.point)} in wheel.toml; {hint}"
            parsed.fault(("structure", item.at, "point"), what, code="unknown-point", forbids=NOTHING)
            continue
        found.append(made(StructureReading, item.model, origin=origin_of(parsed, "structure", item)))
    return found
