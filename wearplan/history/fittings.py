"""What a stop takes off and puts on, carried out on the wheel as it was found."""

from __future__ import annotations

from dataclasses import dataclass, field

from wearplan.history.follow import WheelState
from wearplan.history.gauging import gauging_of, reading_sd_mm
from wearplan.history.tools import Sighting, Tool
from wearplan.site.records import Fitting, Inspection

ROLLING = ("disc",)
"""Kinds whose ring goes all round: turned on the shaft it is no fresher."""


def fit_stop(state: WheelState, inspection: Inspection) -> None:
    """Take off and put on what one stop records, all of it as found before the first of them."""
    fittings = [fitting for fitting in inspection.fittings if fitting.position in state.positions]
    sound = [fitting for fitting in fittings if not fitting.damaged]
    work = _Work(state=state, driven_m=inspection.driven_m, targets={fitting.position for fitting in fittings})
    for fitting in sound:
        # serials first: one row may put on what another takes off
        _name_old(state, work.found.get(fitting.position), fitting)
        if fitting.position in work.found and fitting.action in ("change", "blank"):
            work.leaving[id(work.found[fitting.position])] = fitting
    for fitting in fittings:
        work.take_in(fitting)
    work.doubted += _one_place_each(work.after, work.found, work.why)
    work.doubted += _other_edges(state, work.why, work.targets)
    _carry_out(state, work.found, work.after, work.why, work.driven_m)
    for position, tool in work.fresh.items():
        _measured_on_shelf(state, position, tool, work.why[position], inspection)
    for position in work.doubted:
        _doubt_fitting(state, position, work.driven_m, work.found.get(position))


@dataclass(kw_only=True)
class _Work:
    """What one stop did to the wheel, fitting by fitting."""

    state: WheelState
    driven_m: float
    targets: set[int]
    """Places with a fitting of their own."""
    found: dict[int, Tool] = field(init=False)
    after: dict[int, Tool] = field(init=False)
    leaving: dict[int, Fitting] = field(default_factory=dict)
    """By the id of a tool, the fitting that takes it off."""
    why: dict[int, Fitting] = field(default_factory=dict)
    doubted: list[int] = field(default_factory=list)
    fresh: dict[int, Tool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.found = dict(self.state.at)
        self.after = dict(self.found)

    def take_in(self, fitting: Fitting) -> None:
        """What this fitting leaves at its place and at the one a tool came from."""
        position, source = fitting.position, fitting.from_position
        needs_source = fitting.action in ("move", "swap")
        if fitting.damaged or (needs_source and source not in self.found):
            self.doubted += [place for place in (position, source) if place is not None]
            return
        self.why[position] = fitting
        if needs_source:
            assert source is not None
            self._bring(fitting, source)
        elif fitting.action == "change":
            tool = _taken_up(self.state, fitting, self.driven_m, self.leaving)
            self.after[position] = self.fresh[position] = tool
        elif fitting.action == "turn":
            _put(self.after, position, _turned(self.state, fitting, self.found.get(position), self.driven_m))
        elif fitting.action == "blank":
            self.after.pop(position, None)

    def _bring(self, fitting: Fitting, source: int) -> None:
        self.after[fitting.position] = self.found[source]
        if source in self.targets:
            return
        if fitting.action == "swap":
            _put(self.after, source, self.found.get(fitting.position))
        else:
            self.after.pop(source, None)
            self.doubted.append(source)


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
        reason = _reason(fitting)
        if tool.identity_lost:
            tool.cut_short("unknown")
        else:
            _mark_damage(state, tool, fitting, driven_m)
            tool.end(driven_m, reason, fitting.old_to if fitting else None)
    for position, tool in after.items():
        if found.get(position) is not tool:
            tool.put(position, driven_m)
    state.at = after


def _reason(fitting: Fitting | None) -> str:
    """Why a tool came off, as far as the record says."""
    if fitting is None:
        return "not stated"
    if fitting.action == "turn":
        return "turned"
    return fitting.reason or ("blank" if fitting.action == "blank" else "not stated")


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
