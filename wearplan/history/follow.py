"""Which tool stands where, from record to record.

A tool's life follows the tool: moves and swaps carry it along; a tool from the shelf goes on where it stopped; a
rebuilt disc begins a new life on an old hub; where a record is damaged the place is unknown until it is read again.
"""

from __future__ import annotations

from collections import Counter

from wearplan.history.gauging import gauging_of, reading_sd_mm
from wearplan.history.tools import Sighting, Tool
from wearplan.site.records import LayoutChange, SensorWord, Wheel
from wearplan.wheel.layout import layout_at, type_in_force


class WheelState:
    """The tools on the wheel at one point of the drive, and all that ever stood on it."""

    def __init__(self, wheel: Wheel) -> None:
        self.wheel = wheel
        self.tools: list[Tool] = []
        self.at: dict[int, Tool] = {}
        self.by_serial: dict[str, Tool] = {}
        self._born: Counter[int] = Counter()
        self.positions = {position.number: position for position in wheel.positions}
        self.kinds = {tool_type.code: tool_type.kind for tool_type in wheel.tool_types}
        for position in layout_at(wheel, 0.0).positions:
            self.place(position.number, self.new(position.number, position.tool_type), 0.0)

    def new(self, position: int, tool_type: str, **facts: object) -> Tool:
        self._born[position] += 1
        tool = Tool(f"{position}-{self._born[position]}", tool_type, **facts)  # type: ignore[arg-type]
        self.tools.append(tool)
        if tool.serial:
            self.by_serial[tool.serial] = tool
        return tool

    def place(self, position: int, tool: Tool, driven_m: float) -> None:
        tool.put(position, driven_m)
        self.at[position] = tool

    def type_at(self, position: int, driven_m: float) -> str:
        """The type the layout gives a place; where it gives none, the last known."""
        code = type_in_force(self.wheel, position, driven_m)
        return code if code is not None else self.positions[position].tool_type

    def limit_mm(self, position: int, tool_type: str) -> float:
        return self.wheel.limit_mm(self.positions[position], tool_type)

    # readings

    def see(self, sighting: Sighting, serial: str | None = None) -> None:
        """Enter what was seen at a place in the life of the tool there."""
        position = sighting.position
        if position not in self.positions:
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
        tool_type = old.tool_type if old is not None else self.type_at(position, sighting.driven_m)
        wear = next(w for w in (sighting.wear_mm, sighting.below_mm, sighting.above_mm) if w is not None)
        tool = self.new(
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
        self.place(position, tool, sighting.driven_m)
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
        tool, position = self.at.get(word.position), self.positions.get(word.position)
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
        if position not in self.positions:
            return
        tool = self.at.get(position)
        code = None if change.blanked else (change.tool_type or self.positions[position].tool_type)
        if tool is not None and code == tool.tool_type and not change.added:
            return
        if tool is not None:
            self.at.pop(position).end(driven_m, "layout")
        if code is not None:
            self.place(position, self.new(position, code, fitted_by=change.origin), driven_m)
