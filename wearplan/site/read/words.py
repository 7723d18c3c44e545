"""sensors.csv and events.csv."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime

from wearplan.site.parse.cells import BadCell, Rows, has_no_offset, moment, number, whole
from wearplan.site.parse.faults import ALL, NOTHING, FaultLog
from wearplan.site.parse.stretches import chainage_fault
from wearplan.site.parse.text import did_you_mean, shown
from wearplan.site.read.left_out import LeftOut
from wearplan.site.records import Drive, Event, Origin, SensorWord, Wheel
from wearplan.site.records.key import columns, limits, needed

SENSORS, EVENTS = "sensors.csv", "events.csv"
EVENT_KINDS = ("boulder", "steel", "pile", "metal in muck", "torque jump")
_LIMITS = limits(SensorWord)
_WORD = re.compile(r"(?:(reported)\s+(\S+?)(?:\s*mm)?|line\s+proved)\Z")


def read_sensor_words(
    text: str, drive: Drive, wheel: Wheel, log: FaultLog, left_out: LeftOut | None = None
) -> tuple[SensorWord, ...]:
    """What sensors said, in the order of the drive.

    A row that cannot be read forbids every answer: were it left out, a sensor that reported would count as silent,
    and its tool would look better than it is.
    """
    rows = Rows(SENSORS, text, log, needed=needed(SensorWord), forbids=ALL)
    if not rows.usable:
        return ()
    _name_columns(rows, log, columns(SensorWord))
    naive = False
    positions = {position.number: position for position in wheel.positions}
    found = []
    for line, cells, why in rows:
        column = "position"
        try:
            if why:
                raise BadCell(why)
            position = whole(cells[rows.columns["position"]], *map(int, _LIMITS["position"]))
            if position not in positions and left_out is not None and position in left_out.positions:
                continue  # the place was named as faulty
            if position not in positions:
                raise BadCell(f"there is no position {'' if position is None else position} in wheel.toml")
            column = "chainage_m"
            chainage_m, driven_m, ring, at = _place(rows, cells, drive)
            column = "word"
            reported = _word(cells[rows.columns["word"]])
        except BadCell as error:
            log.add(
                SENSORS, line, column, f"{error}; correct the row: left out, the sensor would count as silent",
                code="sensor-row", forbids=ALL,
            )  # fmt: skip
            continue
        naive = naive or _name_offset(rows, cells, line, log)
        levels = positions[position].sensor_mm
        at_mm = ", ".join(f"{level:g}" for level in levels)
        if reported is not None and levels and min(abs(level - reported) for level in levels) > 0.05:
            log.add(
                SENSORS, line, "word", f"position {position} has sensors at {at_mm} mm, "
                f"none at {reported:g} mm; it is taken as reported", code="sensor-level", forbids=NOTHING,
            )  # fmt: skip
        if not levels:
            log.add(
                SENSORS, line, "position", f"position {position} has no sensor_mm in wheel.toml", code="sensor-none",
                forbids=NOTHING,
            )  # fmt: skip
        found.append(
            SensorWord(
                position=position, chainage_m=chainage_m, driven_m=driven_m, ring=ring, at=at, reported_mm=reported,
                origin=Origin(SENSORS, line),
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda word: word.driven_m))


def _name_columns(rows: Rows, log: FaultLog, known: Sequence[str]) -> None:
    for name in rows.columns:
        if name not in known:
            what = f"is no column of this file and is not read; {did_you_mean(name, known)}"
            log.add(rows.file, 1, name, what, code="unknown-column", forbids=NOTHING)


def _name_offset(rows: Rows, cells: Sequence[str], line: int, log: FaultLog) -> bool:
    """Whether the row's time has no offset; the first such row of a file is named."""
    if "at" not in rows.columns or not has_no_offset(cells[rows.columns["at"]]):
        return False
    what = "has no offset from UTC, here and perhaps below; such times are taken as UTC"
    log.add(rows.file, line, "at", what, code="no-offset", forbids=NOTHING)
    return True


def _word(text: str) -> float | None:
    said = _WORD.match(text.strip())
    if not said:
        raise BadCell(f'{shown(text.strip())} is no word of a sensor; write "reported 12.0" or "line proved"')
    return number(said.group(2), 0, 1000) if said.group(1) else None


def _place(rows: Rows, cells: Sequence[str], drive: Drive) -> tuple[float, float, int | None, datetime | None]:
    def cell(name: str) -> str:
        return cells[rows.columns[name]] if name in rows.columns else ""

    chainage_m = number(cell("chainage_m"), *_LIMITS["chainage_m"])
    if chainage_m is None:
        raise BadCell("the chainage is missing")
    why = chainage_fault(drive, chainage_m, slack_m=3 * drive.ring_length_m)
    if why:
        raise BadCell(why)
    ring = whole(cell("ring"), *map(int, _LIMITS["ring"]))
    near = None if ring is None else ring * drive.ring_length_m
    return chainage_m, drive.driven_m(chainage_m, near_m=near), ring, moment(cell("at"))


def read_events(text: str, drive: Drive, log: FaultLog) -> tuple[Event, ...]:
    """Events in the order of the drive; a row that cannot be read is named, since it only opens a question."""
    rows = Rows(EVENTS, text, log, needed=needed(Event), forbids=NOTHING)
    if not rows.usable:
        return ()
    _name_columns(rows, log, columns(Event))
    naive = False
    found = []
    for line, cells, why in rows:
        kind = cells[rows.columns["kind"]].strip()[:120]
        try:
            if why:
                raise BadCell(why)
            chainage_m, driven_m, ring, at = _place(rows, cells, drive)
            if not kind:
                raise BadCell(f"the kind is missing; {did_you_mean('', EVENT_KINDS)}")
        except BadCell as error:
            log.add(EVENTS, line, "", f"{error}; the row is left out", code="event-row", forbids=NOTHING)
            continue
        naive = naive or _name_offset(rows, cells, line, log)
        note = cells[rows.columns["note"]].strip()[:10_000] if "note" in rows.columns else ""
        found.append(
            Event(
                chainage_m=chainage_m, driven_m=driven_m, ring=ring, at=at, kind=kind, note=note or None,
                origin=Origin(EVENTS, line),
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda event: event.driven_m))
