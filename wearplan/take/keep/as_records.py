"""What was taken as records of the site folder, each with the cell it came from."""

from __future__ import annotations

from datetime import UTC, datetime
from types import MappingProxyType

from wearplan.site import new_inspection_id
from wearplan.site.records import Drive, Fitting, Inspection, Measurement, RingRow, Site
from wearplan.take.engine import Taken
from wearplan.take.records.stops import Change, Reading, Stop

_EXTRA = ("revolutions_total", "rotation_rpm", "boring_minutes")


def drive_of(taken: Taken, site: Site | None) -> Drive | None:
    """The drive that stands, else as far as the ring log and the ground tell it."""
    if site is not None:
        return site.drive
    rows = [row for row in taken.log.rows if row.start_m is not None and row.end_m is not None]
    if not rows:
        return None
    first, last = min(rows, key=lambda r: r.ring), max(rows, key=lambda r: r.ring)
    ends = [section.to_m for section in taken.ground.sections]
    assert first.start_m is not None
    assert last.end_m is not None
    far = [end for end in ends if taken.log.sign * (end - last.end_m) > 0]
    end = max(far, key=lambda end: taken.log.sign * end) if far else last.end_m
    return Drive(
        start_chainage_m=first.start_m,
        end_chainage_m=end,
        ring_length_m=taken.log.length_m,
        face_ahead_of_ring_m=taken.log.ahead_m,
    )


def ring_rows(taken: Taken, drive: Drive) -> list[RingRow]:
    """Rows for advance.csv; a row without any place is left out and was named."""
    out = []
    for row in taken.log.rows:
        if not row.source or (row.start_m is None and row.end_m is None):
            continue
        start, end = row.start_m, row.end_m
        start = end - taken.log.sign * taken.log.length_m if start is None and end is not None else start
        end = start + taken.log.sign * taken.log.length_m if end is None and start is not None else end
        assert start is not None
        assert end is not None
        start_m = drive.driven_m(start)
        values = dict(row.values)
        boring, idle, total = (
            values.get("revolutions_boring"),
            values.get("revolutions_idle"),
            values.get("revolutions_total"),
        )
        if boring is None and total is not None:
            boring = total - (idle or 0.0)
        if boring is None and "rotation_rpm" in values and "boring_minutes" in values:
            boring = values["rotation_rpm"] * values["boring_minutes"]
        file, sha = taken.sha_of(row.source)
        out.append(
            RingRow(
                ring=row.ring,
                start_chainage_m=start,
                end_chainage_m=end,
                start_m=start_m,
                end_m=drive.driven_m(end, near_m=start_m),
                finished_at=_aware(row.at, taken),
                revolutions_boring=boring,
                revolutions_idle=idle,
                thrust_kn=values.get("thrust_kn"),
                torque_knm=values.get("torque_knm"),
                face_pressure_bar=values.get("face_pressure_bar"),
                extra=MappingProxyType({"taken_from": origin(file, row.source, sha)}),
            )
        )
    return out


def inspections(taken: Taken, drive: Drive, take_id: str, now: datetime) -> list[Inspection]:
    """One inspection a stop; stops with an open question, or without a place or a mode, wait."""
    out = []
    for stop in taken.stops:
        if stop.open or stop.ring is None or stop.chainage_m is None or stop.mode is None or stop.day is None:
            continue
        out.append(_inspection(stop, taken, drive, take_id, now))
    return out


def waiting(taken: Taken) -> list[str]:
    """Why stops are not written yet."""
    lines = []
    for stop in taken.stops:
        lacks = [
            name
            for name, value in (
                ("ring", stop.ring),
                ("chainage", stop.chainage_m),
                ("day", stop.day),
                ("mode", stop.mode),
            )
            if value is None
        ]
        if stop.open or lacks:
            why = "a question about it is open" if stop.open else f"no {', '.join(lacks)} is told"
            lines.append(f"the stop of {stop.source} (ring {stop.ring}) waits: {why}")
    return lines


def origin(file: str, source: str, sha: str) -> str:
    """File, sheet, cell and hash as the one value of ``taken_from``."""
    sheet, _, cell = source.rpartition("!")
    where = cell if sheet == file else f"{sheet}!{cell}"
    return f"{file} | {where} | sha256 {sha}"


def _aware(at: datetime | None, taken: Taken) -> datetime | None:
    if at is None:
        return None
    return at if at.tzinfo is not None else at.replace(tzinfo=taken.log.offset or UTC)


def _inspection(stop: Stop, taken: Taken, drive: Drive, take_id: str, now: datetime) -> Inspection:
    assert stop.ring is not None
    assert stop.chainage_m is not None
    assert stop.day is not None
    assert stop.mode is not None
    span = taken.log.days_of(stop.ring)
    start, said = stop.day, None
    if start.time() == datetime.min.time():
        said = "The file tells the day only"
        if span is not None and span[0].date() == start.date():
            start, said = span[0], f"{said}; the clock is that of the ring's end in the ring log."
        else:
            said = f"{said}; no clock is known, 00:00 stands for it."
    file, sha = taken.sha_of(stop.source)
    return Inspection(
        id=new_inspection_id(now),
        number=stop.number,
        ring=stop.ring,
        chainage_m=round(stop.chainage_m, 4),
        driven_m=drive.driven_m(stop.chainage_m),
        started_at=start.replace(tzinfo=taken.log.offset or UTC) if start.tzinfo is None else start,
        mode=stop.mode,
        pressure_bar=stop.pressure_bar,
        note=said,
        taken_from=f"{take_id} | {origin(file, stop.source, sha)}",
        measurements=tuple(_measurement(r, taken) for _, r in sorted(stop.readings.items())),
        fittings=tuple(_fitting(c, taken) for _, c in sorted(stop.changes.items())),
    )


def _measurement(reading: Reading, taken: Taken) -> Measurement:
    file, sha = taken.sha_of(reading.source)
    came = origin(file, reading.source, sha)
    if not reading.wear:
        return Measurement(
            position=reading.place,
            not_read=reading.not_read or "not looked at",
            condition=reading.condition,
            taken_from=came,
        )
    below = reading.wear[0] if reading.sign == "<" else None
    above = reading.wear[0] if reading.sign == ">" else None
    points = reading.wear if len(reading.wear) > 1 and not reading.sign else ()
    exact = reading.wear[0] if not points and not reading.sign else None
    return Measurement(
        position=reading.place,
        wear_mm=exact,
        points_mm=points,
        wear_below_mm=below,
        wear_above_mm=above,
        method=reading.method,
        condition=reading.condition,
        taken_from=came,
    )


def _fitting(change: Change, taken: Taken) -> Fitting:
    file, sha = taken.sha_of(change.source)
    return Fitting(
        position=change.place,
        action=change.action,
        reason=change.reason,
        old_serial=None if change.open else change.old_serial,
        old_to=change.old_to,
        new_serial=None if change.open else change.new_serial,
        new_tool_type=change.new_type,
        new_batch=change.batch,
        from_position=change.from_place,
        taken_from=origin(file, change.source, sha),
    )
