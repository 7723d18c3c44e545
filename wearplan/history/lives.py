"""Lives of tools out of measurements, fittings and sensor words, with what each had travelled at each reading."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import UTC

import numpy as np
from numpy.typing import NDArray

from wearplan.history.exposure import Exposure, measure_exposure
from wearplan.history.fittings import fit_stop
from wearplan.history.follow import WheelState
from wearplan.history.records import Life, Reading, Stint
from wearplan.history.rings import face_m
from wearplan.history.soundness import falling, is_sound, trouble_of
from wearplan.history.tools import Sighting, Tool
from wearplan.site.records import ZONES, Inspection, LayoutChange, SensorWord, Site
from wearplan.wheel.layout import Layout, layout_at

Array = NDArray[np.float64]

REALISED = 2.0
"""A layout change is taken as carried out by a fitting of the place within so many ring lengths of it."""


def _moment(inspection: Inspection) -> float:
    at = inspection.started_at
    return (at if at.tzinfo else at.replace(tzinfo=UTC)).timestamp()


def in_order(inspections: Iterable[Inspection]) -> list[Inspection]:
    """By the drive first, by the clock only among those at one face."""
    return sorted(inspections, key=lambda each: (each.driven_m, _moment(each), each.id))


def _timeline(site: Site, until_m: float) -> list[tuple[float, int, Inspection | SensorWord | LayoutChange]]:
    """Everything that bears on a tool, in the order of the drive.

    At one face: what a sensor reported there concerns the tool the inspection then finds; a line is proved after the
    fitting. A layout change waits for the fitting nearby that carries it out; those ahead of the face are still plans.
    """
    entries: list[tuple[float, int, Inspection | SensorWord | LayoutChange]] = []
    fitted: dict[int, list[float]] = defaultdict(list)
    for order, inspection in enumerate(in_order(site.inspections)):
        entries.append((inspection.driven_m, 1 + order, inspection))
        for fitting in inspection.fittings:
            fitted[fitting.position].append(inspection.driven_m)
    last = len(entries) + 1
    for word in site.sensor_words:
        entries.append((word.driven_m, 0 if word.reported_mm is not None else last, word))
    reach = REALISED * site.drive.ring_length_m
    for change in site.wheel.layout_changes:
        near = [m for m in fitted[change.position] if change.from_m <= m <= change.from_m + reach]
        if change.from_m <= until_m:
            entries.append((min(near, default=change.from_m), last + 1, change))
    return sorted(entries, key=lambda entry: entry[:2])


def follow(site: Site, until_m: float) -> WheelState:
    """Play the records through up to the face and return the wheel as they leave it."""
    state = WheelState(site.wheel)
    for driven_m, _, entry in _timeline(site, until_m):
        if isinstance(entry, SensorWord):
            state.hear(entry)
        elif isinstance(entry, LayoutChange):
            state.change_layout(entry)
        else:
            for measurement in entry.measurements:
                if measurement.damaged:
                    state.doubt(measurement.position, driven_m)
                elif measurement.not_read is None or measurement.condition or measurement.serial:
                    sighting = Sighting.of(measurement, driven_m=driven_m, ring=entry.ring, inspection_id=entry.id)
                    state.see(sighting, measurement.serial)
            fit_stop(state, entry)
    return state


def lives(site: Site, exposure: Exposure | None = None) -> tuple[Life, ...]:
    """Every tool's life on this drive, open and ended, in the order of where and when it began.

    Parameters
    ----------
    site
        Inspections in force, sensor words and layout.
    exposure
        What was travelled; measured from the site by default.
    """
    exposure = exposure if exposure is not None else measure_exposure(site)
    state = follow(site, min(exposure.face_m, face_m(site)))
    tools = [tool for tool in state.tools if tool.stints]
    for tool in tools:
        tool.sightings.sort(key=lambda sighting: sighting.driven_m)
    travelled = _Travelled(site, exposure, tools)
    kinds = {tool_type.code: tool_type.kind for tool_type in site.wheel.tool_types}
    found = [_close(site, exposure, tool, travelled, kinds.get(tool.tool_type, "disc")) for tool in tools]
    return tuple(sorted(found, key=lambda life: (life.stints[0].position, life.from_m, life.id)))


class _Travelled:
    """Paths of all tools up to all their sightings, in a few look-ups for the whole wheel.

    Marks of a tool: one for each sighting, then one where its sound life stops, then one for its end or the face.
    """

    def __init__(self, site: Site, exposure: Exposure, tools: list[Tool]) -> None:
        positions = {position.number: position for position in site.wheel.positions}
        self.zone = {number: ZONES.index(position.zone) for number, position in positions.items()}
        self.first: dict[int, int] = {}
        self.trouble = {id(tool): trouble_of(tool) for tool in tools}
        groups: dict[str, list[tuple[int, float, float, float, int]]] = defaultdict(list)
        count = 0
        for tool in tools:
            self.first[id(tool)] = count
            seen = self.trouble[id(tool)][0]
            marks = [s.driven_m for s in tool.sightings] + [_seen_sound_until(tool, seen), exposure.face_m]
            for mark, driven_m in enumerate(marks):
                for number, from_m, to_m in tool.stints:
                    end = driven_m if to_m is None else min(to_m, driven_m)
                    if end > from_m:
                        position = positions[number]
                        groups[position.cuts].append(
                            (count + mark, from_m, end, position.track_radius_mm, self.zone[number])
                        )
            count += len(marks)
        self.path = np.zeros((count, len(ZONES), len(exposure.units)))
        self.idle, self.turns = np.zeros(count), np.zeros(count)
        self.imputed, self.doubt = np.zeros(count), np.zeros(count)
        for cuts, rows in groups.items():
            mark_of, start, stop, radius, zone = (np.array(column) for column in zip(*rows, strict=True))
            path = exposure.path_km(track_radius_mm=radius, from_m=start, to_m=stop, cuts=cuts)
            np.add.at(self.path, (mark_of, zone), path)
            turns = exposure.turns(start, stop)
            np.add.at(self.idle, mark_of, exposure.idle_km(track_radius_mm=radius, from_m=start, to_m=stop))
            np.add.at(self.turns, mark_of, turns)
            np.add.at(self.imputed, mark_of, turns * exposure.imputed_share(start, stop))
            np.add.at(self.doubt, mark_of, turns * exposure.path_rel_sd(start, stop))

    def share(self, part: Array, mark: int) -> float:
        return float(part[mark] / self.turns[mark]) if self.turns[mark] > 0 else 0.0


def _seen_sound_until(tool: Tool, trouble_from_m: float | None) -> float:
    """How far it would have been noticed if the tool had come to grief: a trouble out of sight is no event yet."""
    if trouble_from_m is not None:
        return trouble_from_m
    if tool.ended_m is not None:
        return tool.ended_m
    return max((s.driven_m for s in tool.sightings if s.source == "inspection"), default=tool.stints[0][1])


def _close(site: Site, exposure: Exposure, tool: Tool, travelled: _Travelled, kind: str) -> Life:
    first = travelled.first[id(tool)]
    trouble_from, trouble_after, condition = travelled.trouble[id(tool)]
    sound = [is_sound(sighting, tool, trouble_from) for sighting in tool.sightings]
    abrasion = [i for i, ok in enumerate(sound) if ok and tool.sightings[i].read]
    doubts = falling([tool.sightings[i] for i in abrasion], tool.start_wear_mm, tool.start_sd_mm, site.wheel)
    flagged = {abrasion[j]: why for j, why in doubts.items()}
    readings = []
    for i, sighting in enumerate(tool.sightings):
        if not sighting.read:
            continue
        mark = first + i
        readings.append(
            Reading(
                inspection_id=sighting.inspection_id,
                ring=sighting.ring or exposure.rings.ring_at(sighting.driven_m),
                driven_m=sighting.driven_m,
                position=sighting.position,
                zone=ZONES[travelled.zone[sighting.position]],
                wear_mm=sighting.wear_mm,
                worst_mm=sighting.worst_mm,
                below_mm=sighting.below_mm,
                above_mm=sighting.above_mm,
                points=sighting.points,
                method=sighting.method,
                condition=sighting.condition,
                sound=sound[i],
                flagged=flagged.get(i),
                path_km=travelled.path[mark].sum(axis=0),
                path_km_by_zone=travelled.path[mark],
                idle_km=float(travelled.idle[mark]),
                imputed_share=travelled.share(travelled.imputed, mark),
                path_rel_sd=travelled.share(travelled.doubt, mark),
                source=sighting.source,
                origin=sighting.origin,
            )
        )
    end = first + len(tool.sightings)
    return Life(
        id=tool.id,
        serial=tool.serial,
        tool_type=tool.tool_type,
        kind=kind,
        stints=tuple(Stint(position=number, from_m=from_m, to_m=to_m) for number, from_m, to_m in tool.stints),
        start_wear_mm=tool.start_wear_mm,
        start_sd_mm=tool.start_sd_mm,
        rebuilds=tool.rebuilds,
        readings=tuple(readings),
        ended=tool.ended,
        ended_m=tool.ended_m,
        old_to=tool.old_to,
        trouble_from_m=trouble_from,
        trouble_after_m=trouble_after,
        trouble_condition=condition,
        conditions=frozenset(sighting.condition for sighting in tool.sightings if sighting.condition),
        seen_until_m=_seen_sound_until(tool, trouble_from),
        open=tool.ended is None,
        unknown_from_m=tool.unknown_from_m,
        path_km=travelled.path[end + 1].sum(axis=0),
        sound_path_km_by_zone=travelled.path[end],
        idle_km=float(travelled.idle[end + 1]),
        hub_path_km=_hub_path(tool, travelled),
        fitted_by=tool.fitted_by,
        notes=tuple(tool.notes),
    )


def _hub_path(tool: Tool | None, travelled: _Travelled) -> float:
    """Boring and idle path of this ring and of those the hub carried before."""
    total, seen = 0.0, set()
    while tool is not None and id(tool) not in seen:
        seen.add(id(tool))
        mark = travelled.first[id(tool)] + len(tool.sightings) + 1
        total += float(travelled.path[mark].sum() + travelled.idle[mark])
        tool = tool.hub_before
    return total


def current_lives(lives: Iterable[Life]) -> dict[int, Life]:
    """The life at each position that holds a tool."""
    return {life.position: life for life in sorted(lives, key=lambda life: life.from_m) if life.open}


def fitted_layout(site: Site, lives: Iterable[Life], driven_m: float | None = None) -> Layout:
    """The layout in force with the tool types that stand there by the records; places left blank are out.

    ``driven_m`` says which layout changes count; by default those up to the last stint on record.
    """
    current = current_lives(lives)
    at = max((life.stints[-1].from_m for life in current.values()), default=0.0) if driven_m is None else driven_m
    layout = layout_at(site.wheel, at)
    return layout.with_tool_types(
        {int(n): current[int(n)].tool_type if int(n) in current else None for n in layout.numbers}
    )


def last_seen(site: Site) -> dict[int, tuple[float, str]]:
    """Where each position was last read, or seen without measuring: (driven metres, inspection id).

    A damaged record shows nothing; a place that only got another tool was seen.
    """
    seen: dict[int, tuple[float, str]] = {}
    for inspection in in_order(site.inspections):
        here = (inspection.driven_m, inspection.id)
        for measurement in inspection.measurements:
            if not measurement.damaged and measurement.not_read in (None, "seen, not measured"):
                seen[measurement.position] = here
        for fitting in inspection.fittings:
            if not fitting.damaged:
                seen[fitting.position] = here
                if fitting.action == "swap" and fitting.from_position is not None:
                    seen[fitting.from_position] = here
    return seen
