"""From the sheet to the record, what looks odd in it, and what it changes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.report.words import listing, plural
from wearplan.site.records import Fitting, Inspection, Measurement, Site
from wearplan.tui.display import Display
from wearplan.tui.entry.sheet import Line, Sheet
from wearplan.tui.entry.words import Wear, read_head, read_wear

if TYPE_CHECKING:
    from wearplan.tui.state import Snapshot

BAND = (0.005, 0.995)
"""The expected band asked about: one sound reading in a hundred lies outside."""
GAUGE_SD_MM = 1.0
"""Error of a reading where the site names none, for the question alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What is known of a place before its value is typed; the band is shown only afterwards."""

    last_mm: float | None
    last_chainage_m: float | None
    limit_mm: float
    low_mm: float | None
    high_mm: float | None


def expectations(snapshot: Snapshot, at_m: float) -> dict[int, Expected]:
    """Last reading, limit and the 99 % band of a reading at ``at_m``, by place."""
    site, history, outlook = snapshot.site, snapshot.history, snapshot.outlook
    if site is None or history is None:
        return {}
    bands: dict[int, tuple[float, float]] = {}
    if outlook is not None:
        draws = np.asarray(outlook.wear_at(max(outlook.face_m, min(at_m, outlook.end_m))))
        error = 2.6 * max([gauging.sd_mm for gauging in site.wheel.gauging[:1]] or [GAUGE_SD_MM])
        low, high = np.quantile(draws, BAND, axis=0)
        bands = {
            number: (max(0.0, float(a) - error), float(b) + error)
            for number, a, b in zip(outlook.numbers.tolist(), low, high, strict=True)
        }
    rows = {}
    for index, position in enumerate(history.layout.positions):
        life = history.current.get(position.number)
        readings = [r for r in (life.readings if life else ()) if r.wear_mm is not None and r.driven_m <= at_m + 1e-6]
        last = readings[-1] if readings else None
        low_high = bands.get(position.number, (None, None))
        rows[position.number] = Expected(
            last_mm=last.wear_mm if last else None,
            last_chainage_m=site.drive.chainage_m(last.driven_m) if last else None,
            limit_mm=float(history.layout.limit_mm[index]),
            low_mm=low_high[0],
            high_mm=low_high[1],
        )
    return rows


def odd(wear: Wear, expected: Expected, display: Display) -> str | None:
    """A sentence where a value asks for a second look; None where it does not."""
    worst, middle = wear.worst_mm, wear.middle_mm
    if middle is not None and expected.last_mm is not None and middle < expected.last_mm - GAUGE_SD_MM:
        return f"{display.wear(middle)} is less than the {display.wear(expected.last_mm)} read before"
    if expected.low_mm is None or expected.high_mm is None:
        return None
    band = f"{display.wear(expected.low_mm)} to {display.wear(expected.high_mm)}"
    if middle is not None and not expected.low_mm <= middle <= expected.high_mm:
        return f"{display.wear(middle)} lies outside {band} expected (99 in 100)"
    if wear.above_mm is not None and wear.above_mm > expected.high_mm:
        return f"over {display.wear(worst)} lies outside {band} expected (99 in 100)"
    if wear.below_mm is not None and wear.below_mm < expected.low_mm:
        return f"under {display.wear(wear.below_mm)} lies outside {band} expected (99 in 100)"
    return None


def measurement_of(number: int, line: Line, method: str | None, *, inch: bool = False) -> Measurement | None | str:
    """The measurement of a line: None where nothing was read or said, a sentence where it cannot be read."""
    common: dict[str, Any] = {
        "position": number,
        "condition": line.condition,
        "serial": line.serial if not line.action else None,
        "note": line.note,
    }
    if line.read:
        wear = read_wear(line.wear, inch=inch)
        if isinstance(wear, str):
            return f"place {number}: {wear}"
        return Measurement(
            wear_mm=wear.wear_mm, points_mm=wear.points_mm, wear_below_mm=wear.below_mm, wear_above_mm=wear.above_mm,
            method=line.method or method, **common,
        )  # fmt: skip
    if line.not_read:
        return Measurement(not_read=line.not_read, **common)
    if line.condition or line.serial or line.note:
        # A condition or a serial was seen, so somebody looked; the wear itself was not measured.
        return Measurement(not_read="seen, not measured", **common)
    return None


def record_of(
    sheet: Sheet, site: Site, inspection_id: str, now: datetime
) -> tuple[Inspection | None, list[str]]:
    """The record, or sentences on what is missing. An empty line makes no record: it is not read."""
    head, wrong = read_head(sheet.head, site, now)
    method = head.pop("method")
    measurements, fittings = [], []
    for number in sheet.order:
        line = sheet.line(number)
        made = measurement_of(number, line, method, inch=sheet.inch)
        if isinstance(made, str):
            wrong.append(made)
        elif made is not None:
            measurements.append(made)
        if line.action:
            if line.action in ("move", "swap") and line.from_position is None:
                wrong.append(f"place {number}: {line.action} from which place?")
            fittings.append(
                Fitting(
                    position=number, action=line.action, reason=line.reason, old_serial=line.serial, old_to=line.old_to,
                    new_serial=line.new_serial, new_tool_type=line.new_tool_type, from_position=line.from_position,
                )  # fmt: skip
            )
    if not measurements and not fittings and not wrong:
        wrong.append("nothing is typed yet: there is nothing to write")
    if wrong:
        return None, wrong
    return (
        Inspection(
            id=inspection_id, corrects=sheet.corrects, reason=sheet.head.get("reason", "").strip() or None,
            measurements=tuple(measurements), fittings=tuple(fittings), **head,
        ),
        [],
    )  # fmt: skip


def to_look_at(sheet: Sheet, inspection: Inspection, expected: dict[int, Expected], display: Display) -> list[str]:
    """What deserves a second look before writing."""
    lines = []
    for measurement in inspection.measurements:
        known = expected.get(measurement.position)
        if known is None:
            continue
        wear = Wear(
            wear_mm=measurement.wear_mm, points_mm=measurement.points_mm, below_mm=measurement.wear_below_mm,
            above_mm=measurement.wear_above_mm,
        )  # fmt: skip
        doubt = odd(wear, known, display)
        if doubt:
            lines.append(f"place {measurement.position}: {doubt}")
        if wear.worst_mm is not None and wear.worst_mm >= known.limit_mm and not sheet.line(measurement.position).action:
            lines.append(
                f"place {measurement.position}: at or past its limit of {display.wear(known.limit_mm, unit=True)}, and left"
            )
    return lines


def preview(sheet: Sheet, inspection: Inspection, expected: dict[int, Expected], display: Display) -> list[str]:
    """What will be written, in a few lines."""
    counts = sheet.counts()
    lines = [
        f"Ring {inspection.ring}, chainage {display.chainage(inspection.chainage_m)}, {inspection.mode}"
        + (f", {display.pressure(inspection.pressure_bar)}" if inspection.pressure_bar is not None else "")
        + f", started {inspection.started_at:%Y-%m-%d %H:%M}.",
        sheet.tally() + ".",
    ]
    empty = [str(number) for number in sheet.order if sheet.line(number).empty]
    if counts["empty"]:
        lines.append(f"NOT READ, and so recorded as nothing at all: {listing(empty, 24)}.")
    if inspection.corrects:
        lines.append(f"Takes the place of {inspection.corrects}; that record stays in the folder.")
    second = to_look_at(sheet, inspection, expected, display)
    if second:
        lines += ["", f"{plural(len(second), 'thing')} to look at again:", *(f"  ! {line}" for line in second)]
    return lines


def meaning(before: Snapshot, after: Snapshot, display: Display) -> list[str]:
    """What a new record means for the stretch to the next window, from the outlooks before and after it."""
    site, old, new = after.site, before.outlook, after.outlook
    if site is None or new is None or site.stops is None:
        return []
    window = next((window for window in site.stops.windows if window.from_m > new.face_m), None)
    at_m = window.from_m if window else new.end_m
    where = f"the next window ({window.name}, {display.chainage(window.from_chainage_m)})" if window else "the end of the drive"
    late = {n for n, p in zip(new.numbers.tolist(), new.over_limit_probability(at_m), strict=True) if p >= 0.5}
    known = (
        {n for n, p in zip(old.numbers.tolist(), old.over_limit_probability(max(at_m, old.face_m)), strict=True) if p >= 0.5}
        if old is not None
        else set()
    )
    more, fewer = sorted(late - known), sorted(known - late)
    lines = [f"{plural(len(late), 'tool')} now more likely than not past the limit before {where}."]
    if more:
        lines.append(f"New among them: {listing([str(n) for n in more], 20)}.")
    if fewer:
        lines.append(f"No longer: {listing([str(n) for n in fewer], 20)}.")
    if not more and not fewer:
        lines.append("The same ones as before.")
    return lines
