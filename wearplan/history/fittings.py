"""What a stop takes off and puts on, carried out on the wheel as it was found."""

from __future__ import annotations

from wearplan.history.follow import WheelState
from wearplan.history.gauging import gauging_of, reading_sd_mm
from wearplan.history.tools import Sighting, Tool
from wearplan.site.records import Fitting, Inspection

ROLLING = ("disc",)
"""Kinds whose ring goes all round: turned on the shaft it is no fresher."""


def fit_stop(state: WheelState, inspection: Inspection) -> None:
    """Take off and put on what one stop records, all of it as found before the first of them."""
    driven_m = inspection.driven_m
    found = dict(state.at)
    after = dict(found)
    fittings = [fitting for fitting in inspection.fittings if fitting.position in state.positions]
    targets = {fitting.position for fitting in fittings}
    leaving = {
        id(found[fitting.position]): fitting
        for fitting in fittings
        if fitting.position in found and fitting.action in ("change", "blank") and not fitting.damaged
    }
    for fitting in fittings:
        # serials first: one row may put on what another takes off
        if not fitting.damaged:
            _name_old(state, found.get(fitting.position), fitting)
    why: dict[int, Fitting] = {}
    doubted: list[int] = []
    fresh: dict[int, Tool] = {}
    for fitting in fittings:
        position, source = fitting.position, fitting.from_position
        needs_source = fitting.action in ("move", "swap")
        if fitting.damaged or (needs_source and source not in found):
            doubted += [place for place in (position, source) if place is not None]
            continue
        why[position] = fitting
        if needs_source:
            assert source is not None
            after[position] = found[source]
            if fitting.action == "swap" and source not in targets:
                _put(after, source, found.get(position))
            elif fitting.action == "move" and source not in targets:
                after.pop(source, None)
                doubted.append(source)
        elif fitting.action == "change":
            after[position] = fresh[position] = _taken_up(state, fitting, driven_m, leaving)
        elif fitting.action == "turn":
            _put(after, position, _turned(state, fitting, found.get(position), driven_m))
        elif fitting.action == "blank":
            after.pop(position, None)
    doubted += _one_place_each(after, found, why)
    doubted += _other_edges(state, why, targets)
    _carry_out(state, found, after, why, driven_m)
    for position, tool in fresh.items():
        _measured_on_shelf(state, position, tool, why[position], inspection)
    for position in doubted:
        _doubt_fitting(state, position, driven_m, found.get(position))


def _other_edges(state: WheelState, why: dict[int, Fitting], targets: set[int]) -> list[int]:
    """Edges of a housing that was changed, without a record of their own: they are changed as one, but how?"""
    others: list[int] = []
    for number, fitting in why.items():
        housing = state.positions[number].housing
        if housing is None or fitting.action == "turn":
            continue
        for other in state.positions.values():
            if other.housing == housing and other.number not in targets and other.number in state.at:
                note = f"{number} in the same housing was fitted ({fitting.action}), no record of {other.number}"
                state.at[other.number].notes.append(note)
                others.append(other.number)
    return others


def _doubt_fitting(state: WheelState, position: int, driven_m: float, before: Tool | None) -> None:
    """Something was done at this place, and the record does not say what.

    Where no known tool is left there, one is taken to stand there half worn, or as worn as the last one was read:
    the place must not look better than before.
    """
    if position not in state.positions:
        return
    if position not in state.at:
        tool_type = state.type_at(position, driven_m)
        limit = state.limit_mm(position, tool_type)
        wear = max(limit / 2.0, before.worst_read_mm if before is not None else 0.0)
        tool = state.new(position, tool_type, start_wear_mm=wear, start_sd_mm=limit / 4.0)
        tool.notes.append("what was put here is not on record")
        state.place(position, tool, driven_m)
    state.doubt(position, driven_m, identity=True)


def _carry_out(
    state: WheelState, found: dict[int, Tool], after: dict[int, Tool], why: dict[int, Fitting], driven_m: float
) -> None:
    """Close and open stints; a tool that is nowhere afterwards has come to its end."""
    staying = {id(tool): position for position, tool in after.items()}
    for position, tool in found.items():
        if after.get(position) is tool:
            continue
        if id(tool) in staying:
            tool.take(driven_m)
            continue
        fitting = why.get(position)
        turned = fitting is not None and fitting.action == "turn"
        reason = "turned" if turned else fitting.reason if fitting and fitting.reason else None
        reason = reason or ("blank" if fitting is not None and fitting.action == "blank" else "not stated")
        if tool.identity_lost:
            tool.cut_short("unknown")
        else:
            _mark_damage(state, tool, fitting, driven_m)
            tool.end(driven_m, reason, fitting.old_to if fitting else None)
    for position, tool in after.items():
        if found.get(position) is not tool:
            tool.put(position, driven_m)
    state.at = after


def _mark_damage(state: WheelState, tool: Tool, fitting: Fitting | None, driven_m: float) -> None:
    """A change for damage tells of a trouble even where no condition was written down."""
    if fitting is not None and fitting.reason == "damage" and not tool.in_trouble:
        here = [s for s in tool.sightings if s.driven_m >= driven_m - 1e-6 and s.condition]
        tool.damage_m, tool.damage = driven_m, here[-1].condition if here else "damage"


def _name_old(state: WheelState, tool: Tool | None, fitting: Fitting) -> None:
    if tool is None or not fitting.old_serial:
        return
    if tool.serial is None:
        tool.serial = fitting.old_serial
        state.by_serial.setdefault(fitting.old_serial, tool)
    elif tool.serial != fitting.old_serial:
        tool.notes.append(
            f"taken off {fitting.position} as {fitting.old_serial}, on the records until then as {tool.serial}"
        )
    else:
        tool.identity_lost = False


def _taken_up(state: WheelState, fitting: Fitting, driven_m: float, leaving: dict[int, Fitting]) -> Tool:
    """The tool a change puts on: one known from the shelf, a rebuilt one, or one never seen."""
    position, serial = fitting.position, fitting.new_serial
    known = state.by_serial.get(serial) if serial else None
    off = leaving.get(id(known)) if known is not None and known.ended is None else None
    standing = known is not None and known.ended is None and off is None
    tool_type = fitting.new_tool_type or state.type_at(position, driven_m)
    if known is not None and not standing and _same_ring(known, fitting, off):
        return known
    worn = fitting.new_wear_mm
    rebuilds = fitting.new_rebuilds
    if rebuilds is None:
        rebuilds = known.rebuilds + 1 if known is not None and not standing else 0
    tool = state.new(
        position,
        tool_type,
        serial=serial,
        start_wear_mm=worn or 0.0,
        start_sd_mm=reading_sd_mm(gauging_of(state.wheel, None)) if worn else 0.0,
        rebuilds=rebuilds,
        hub_before=None if standing else known,
        fitted_by=fitting.origin,
    )
    if standing and known is not None:
        where = f"at {known.stints[-1][0]}" if known.stints else "elsewhere"
        tool.notes.append(f"{serial} stands {where} by the records, and was put on at {position}")
    return tool


def _measured_on_shelf(state: WheelState, position: int, tool: Tool, fitting: Fitting, inspection: Inspection) -> None:
    if fitting.new_wear_mm is not None and len(tool.stints) > 1:
        tool.sightings.append(
            Sighting(
                inspection.driven_m,
                position,
                inspection.ring,
                inspection.id,
                wear_mm=fitting.new_wear_mm,
                worst_mm=fitting.new_wear_mm,
                source="fitting",
                origin=fitting.origin,
            )
        )


def _turned(state: WheelState, fitting: Fitting, tool: Tool | None, driven_m: float) -> Tool | None:
    """A tool turned to its other edge begins that edge's life; a disc turned on its shaft keeps its ring."""
    if tool is None:
        return None
    if fitting.new_wear_mm is None:
        if state.kinds.get(tool.tool_type) in ROLLING:
            tool.notes.append(f"turned at {fitting.position}; the ring's wear goes on")
            return tool
        if tool.other_edge is not None and tool.other_edge.other_edge is None:
            tool.other_edge.other_edge = tool
            return tool.other_edge
    return state.new(
        fitting.position,
        tool.tool_type,
        serial=tool.serial,
        start_wear_mm=fitting.new_wear_mm or 0.0,
        start_sd_mm=reading_sd_mm(gauging_of(state.wheel, None)) if fitting.new_wear_mm else 0.0,
        rebuilds=tool.rebuilds,
        hub_before=tool,
        other_edge=tool,
        fitted_by=fitting.origin,
    )


def _one_place_each(after: dict[int, Tool], found: dict[int, Tool], why: dict[int, Fitting]) -> list[int]:
    """Where the records of one stop put a tool at several places, leave it at one and return the others.

    A place it was brought to goes before the one where it was found.
    """
    claims: dict[int, list[int]] = {}
    for position, tool in after.items():
        claims.setdefault(id(tool), []).append(position)
    others: list[int] = []
    for positions in claims.values():
        positions.sort(key=lambda position: (position not in why, found.get(position) is after[position], position))
        others += positions[1:]
    for position in others:
        del after[position]
    return others


def _put(places: dict[int, Tool], position: int, tool: Tool | None) -> None:
    if tool is None:
        places.pop(position, None)
    else:
        places[position] = tool


def _same_ring(known: Tool, fitting: Fitting, off: Fitting | None) -> bool:
    """Whether a serial seen before comes back with the ring it left with.

    Taken to the shelf, taken off at this very stop, or measured part-worn with no word of a rebuild; anything else came
    back with a new ring.
    """
    if fitting.new_rebuilds is not None and fitting.new_rebuilds != known.rebuilds:
        return False
    old_to = off.old_to if off is not None else known.old_to
    if old_to == "shelf":
        return True
    measured = fitting.new_wear_mm is not None and fitting.new_wear_mm > 0
    return old_to is None and (measured or off is not None)
