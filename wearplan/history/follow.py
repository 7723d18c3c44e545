"""Which tool stands where, from record to record.

A tool's life follows the tool: moves and swaps carry it along; a tool from the shelf goes on where it stopped; a
rebuilt disc begins a new life on an old hub; where a record is damaged the place is unknown until it is read again.
"""

from __future__ import annotations

from collections import Counter

from wearplan.history.gauging import gauging_of, reading_sd_mm
from wearplan.history.tools import Sighting, Tool
from wearplan.site.records import Fitting, Inspection, LayoutChange, SensorWord, Wheel
from wearplan.wheel.layout import layout_at, type_in_force

ROLLING = ("disc",)
"""Kinds whose ring goes all round: turned on the shaft it is no fresher."""


class WheelState:
    """The tools on the wheel at one point of the drive, and all that ever stood on it."""

    def __init__(self, wheel: Wheel) -> None:
        self.wheel = wheel
        self.tools: list[Tool] = []
        self.at: dict[int, Tool] = {}
        self.by_serial: dict[str, Tool] = {}
        self._born: Counter[int] = Counter()
        self._positions = {position.number: position for position in wheel.positions}
        self._kinds = {tool_type.code: tool_type.kind for tool_type in wheel.tool_types}
        for position in layout_at(wheel, 0.0).positions:
            self._place(position.number, self._new(position.number, position.tool_type), 0.0)

    def _new(self, position: int, tool_type: str, **facts: object) -> Tool:
        self._born[position] += 1
        tool = Tool(f"{position}-{self._born[position]}", tool_type, **facts)  # type: ignore[arg-type]
        self.tools.append(tool)
        if tool.serial:
            self.by_serial[tool.serial] = tool
        return tool

    def _place(self, position: int, tool: Tool, driven_m: float) -> None:
        tool.put(position, driven_m)
        self.at[position] = tool

    def _type_at(self, position: int, driven_m: float) -> str:
        """The type the layout gives a place; where it gives none, the last known."""
        code = type_in_force(self.wheel, position, driven_m)
        return code if code is not None else self._positions[position].tool_type

    # readings

    def see(self, sighting: Sighting, serial: str | None = None) -> None:
        """Enter what was seen at a place in the life of the tool there."""
        position = sighting.position
        if position not in self._positions:
            return
        tool = self.at.get(position)
        if tool is not None and serial:
            if tool.serial is None and not tool.identity_lost:
                tool.serial = serial
                self.by_serial.setdefault(serial, tool)
            elif tool.serial == serial:
                tool.identity_lost = False
            else:
                tool.notes.append(f"the tool seen at {position} bears {serial}, the records say {tool.serial}")
                tool.identity_lost = True
                # it was changed at some time since it was last seen, or one of the serials is a slip
                if tool.unknown_from_m is None:
                    tool.unknown_from_m = tool.last_seen_m
        if tool is None or tool.identity_lost:
            if not sighting.read:
                return
            tool = self._begin_at_reading(position, sighting, serial)
        elif sighting.read:
            tool.unknown_from_m = None
        tool.sightings.append(sighting)
        if sighting.source == "sensor" and sighting.above_mm is not None:
            tool.reported_mm = max(tool.reported_mm, sighting.above_mm)

    def _begin_at_reading(self, position: int, sighting: Sighting, serial: str | None) -> Tool:
        """A life whose beginning is not on record starts from what was read."""
        old = self.at.get(position)
        if old is not None:
            old.cut_short("unknown")
        tool_type = old.tool_type if old is not None else self._type_at(position, sighting.driven_m)
        wear = next(w for w in (sighting.wear_mm, sighting.below_mm, sighting.above_mm) if w is not None)
        tool = self._new(
            position,
            tool_type,
            serial=serial,
            start_wear_mm=wear,
            start_sd_mm=reading_sd_mm(gauging_of(self.wheel, sighting.method)),
            # "past measuring" bounds the wear from one side only
            unknown_from_m=sighting.driven_m if sighting.above_mm is not None else None,
            fitted_by=sighting.origin,
        )
        tool.notes.append("which tool this is, and since when, is not on record; it is followed from this reading")
        self._place(position, tool, sighting.driven_m)
        return tool

    def doubt(self, position: int, driven_m: float, *, identity: bool = False) -> None:
        """A record of this place is damaged: it is unknown from here on."""
        tool = self.at.get(position)
        if tool is None:
            return
        if tool.unknown_from_m is None:
            tool.unknown_from_m = driven_m
        tool.identity_lost = tool.identity_lost or identity

    # sensors

    def hear(self, word: SensorWord) -> None:
        """A word of a sensor. A proved line that has not reported says: below, here. What comes after is not proved."""
        tool, position = self.at.get(word.position), self._positions.get(word.position)
        if tool is None or position is None or tool.identity_lost:
            return
        sighting = Sighting(
            word.driven_m, word.position, word.ring, method="sensor", origin=word.origin, source="sensor"
        )
        if word.reported_mm is not None:
            if word.reported_mm <= tool.reported_mm:
                return
            sighting.above_mm = word.reported_mm
        else:
            silent = [threshold for threshold in position.sensor_mm if threshold > tool.reported_mm]
            if not silent:
                return
            sighting.below_mm, sighting.source = min(silent), "sensor silence"
        unknown = tool.unknown_from_m
        self.see(sighting)
        tool.unknown_from_m = unknown

    # layout

    def change_layout(self, change: LayoutChange) -> None:
        """A position is blanked, added or gets another type, unless a fitting has seen to it already."""
        position, driven_m = change.position, change.from_m
        if position not in self._positions:
            return
        tool = self.at.get(position)
        code = None if change.blanked else (change.tool_type or self._positions[position].tool_type)
        if tool is not None and code == tool.tool_type and not change.added:
            return
        if tool is not None:
            self.at.pop(position).end(driven_m, "layout")
        if code is not None:
            self._place(position, self._new(position, code, fitted_by=change.origin), driven_m)

    # fittings

    def fit(self, inspection: Inspection) -> None:
        """Take off and put on what one stop records, all of it as found before the first of them."""
        driven_m = inspection.driven_m
        found = dict(self.at)
        after = dict(found)
        fittings = [fitting for fitting in inspection.fittings if fitting.position in self._positions]
        targets = {fitting.position for fitting in fittings}
        leaving = {
            id(found[fitting.position]): fitting
            for fitting in fittings
            if fitting.position in found and fitting.action in ("change", "blank") and not fitting.damaged
        }
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
            self._name_old(found.get(position), fitting)
            if needs_source:
                assert source is not None
                after[position] = found[source]
                if fitting.action == "swap" and source not in targets:
                    _put(after, source, found.get(position))
                elif fitting.action == "move" and source not in targets:
                    after.pop(source, None)
                    doubted.append(source)
            elif fitting.action == "change":
                after[position] = fresh[position] = self._taken_up(fitting, driven_m, leaving)
            elif fitting.action == "turn":
                _put(after, position, self._turned(fitting, found.get(position), driven_m))
            elif fitting.action == "blank":
                after.pop(position, None)
        doubted += _one_place_each(after, found, why)
        doubted += self._other_edges(why, targets)
        self._carry_out(found, after, why, driven_m)
        for position, tool in fresh.items():
            self._measured_on_shelf(position, tool, why[position], inspection)
        for position in doubted:
            self._doubt_fitting(position, driven_m)

    def _other_edges(self, why: dict[int, Fitting], targets: set[int]) -> list[int]:
        """Edges of a housing that was changed, without a record of their own: they are changed as one, but how?"""
        others: list[int] = []
        for number, fitting in why.items():
            housing = self._positions[number].housing
            if housing is None or fitting.action == "turn":
                continue
            for other in self._positions.values():
                if other.housing == housing and other.number not in targets and other.number in self.at:
                    note = f"{number} in the same housing was fitted ({fitting.action}), no record of {other.number}"
                    self.at[other.number].notes.append(note)
                    others.append(other.number)
        return others

    def _doubt_fitting(self, position: int, driven_m: float) -> None:
        """Something was done at this place, and the record does not say what."""
        if position not in self._positions:
            return
        if position not in self.at:
            tool = self._new(position, self._type_at(position, driven_m))
            tool.notes.append("what was put here is not on record")
            self._place(position, tool, driven_m)
        self.doubt(position, driven_m, identity=True)

    def _carry_out(
        self, found: dict[int, Tool], after: dict[int, Tool], why: dict[int, Fitting], driven_m: float
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
                self._mark_damage(tool, fitting, driven_m)
                tool.end(driven_m, reason, fitting.old_to if fitting else None)
        for position, tool in after.items():
            if found.get(position) is not tool:
                tool.put(position, driven_m)
        self.at = after

    def _mark_damage(self, tool: Tool, fitting: Fitting | None, driven_m: float) -> None:
        """A change for damage tells of a trouble even where no condition was written down."""
        if fitting is not None and fitting.reason == "damage" and not tool.in_trouble:
            here = [s for s in tool.sightings if s.driven_m >= driven_m - 1e-6 and s.condition]
            tool.damage_m, tool.damage = driven_m, here[-1].condition if here else "damage"

    def _name_old(self, tool: Tool | None, fitting: Fitting) -> None:
        if tool is None or not fitting.old_serial:
            return
        if tool.serial is None:
            tool.serial = fitting.old_serial
            self.by_serial.setdefault(fitting.old_serial, tool)
        elif tool.serial != fitting.old_serial:
            tool.notes.append(
                f"taken off {fitting.position} as {fitting.old_serial}, on the records until then as {tool.serial}"
            )
        else:
            tool.identity_lost = False

    def _taken_up(self, fitting: Fitting, driven_m: float, leaving: dict[int, Fitting]) -> Tool:
        """The tool a change puts on: one known from the shelf, a rebuilt one, or one never seen."""
        position, serial = fitting.position, fitting.new_serial
        known = self.by_serial.get(serial) if serial else None
        off = leaving.get(id(known)) if known is not None and known.ended is None else None
        standing = known is not None and known.ended is None and off is None
        tool_type = fitting.new_tool_type or self._type_at(position, driven_m)
        if known is not None and not standing and _same_ring(known, fitting, off):
            return known
        worn = fitting.new_wear_mm
        rebuilds = fitting.new_rebuilds
        if rebuilds is None:
            rebuilds = known.rebuilds + 1 if known is not None and not standing else 0
        tool = self._new(
            position,
            tool_type,
            serial=serial,
            start_wear_mm=worn or 0.0,
            start_sd_mm=reading_sd_mm(gauging_of(self.wheel, None)) if worn else 0.0,
            rebuilds=rebuilds,
            hub_before=None if standing else known,
            fitted_by=fitting.origin,
        )
        if standing and known is not None:
            where = f"at {known.stints[-1][0]}" if known.stints else "elsewhere"
            tool.notes.append(f"{serial} stands {where} by the records, and was put on at {position}")
        return tool

    def _measured_on_shelf(self, position: int, tool: Tool, fitting: Fitting, inspection: Inspection) -> None:
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

    def _turned(self, fitting: Fitting, tool: Tool | None, driven_m: float) -> Tool | None:
        """A tool turned to its other edge begins that edge's life; a disc turned on its shaft keeps its ring."""
        if tool is None:
            return None
        if fitting.new_wear_mm is None:
            if self._kinds.get(tool.tool_type) in ROLLING:
                tool.notes.append(f"turned at {fitting.position}; the ring's wear goes on")
                return tool
            if tool.other_edge is not None and tool.other_edge.other_edge is None:
                tool.other_edge.other_edge = tool
                return tool.other_edge
        return self._new(
            fitting.position,
            tool.tool_type,
            serial=tool.serial,
            start_wear_mm=fitting.new_wear_mm or 0.0,
            start_sd_mm=reading_sd_mm(gauging_of(self.wheel, None)) if fitting.new_wear_mm else 0.0,
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
