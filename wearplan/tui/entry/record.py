"""From the sheet to the record, what looks odd in it, and what it changes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from wearplan.history.gauging import allowed_fall_mm, gauging_of
from wearplan.report.preview import before_writing, expected_band, odd_readings, what_it_means
from wearplan.report.words import listing, plural
from wearplan.site.records import Fitting, Inspection, Measurement, Site
from wearplan.tui.display import Display
from wearplan.tui.entry.sheet import Line, Sheet
from wearplan.tui.entry.words import MOST_MM, Wear, most_wear_mm, read_head, read_wear

if TYPE_CHECKING:
    from wearplan.history import Life, Reading
    from wearplan.tui.state import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What is known of a place before its value is typed; the band is shown only afterwards."""

    last_mm: float | None
    last_chainage_m: float | None
    limit_mm: float
    low_mm: float | None = None
    high_mm: float | None = None
    fall_mm: float = 1.0
    """By how much a reading may lie under the one before through the gauge alone."""


class Expectations(Mapping[int, Expected]):
    """Last reading, limit and the 99 % band of a reading by place, each worked out when it is first asked for."""

    def __init__(self, snapshot: Snapshot, at_m: float, method: str | None = None) -> None:
        self._snapshot, self._at_m, self._method = snapshot, at_m, method
        self._known: dict[int, Expected] = {}
        layout = snapshot.history.layout if snapshot.history is not None else None
        self._index = {int(n): i for i, n in enumerate(layout.numbers)} if layout is not None else {}

    def __iter__(self) -> Iterator[int]:
        return iter(self._index)

    def __len__(self) -> int:
        return len(self._index)

    def __getitem__(self, number: int) -> Expected:
        if number not in self._known:
            self._known[number] = self._work_out(number)
        return self._known[number]

    def _work_out(self, number: int) -> Expected:
        site, history, outlook = self._snapshot.site, self._snapshot.history, self._snapshot.outlook
        assert site is not None
        assert history is not None
        last = last_reading(history.current.get(number), self._at_m)
        band = expected_band(site, outlook, number, self._method) if outlook is not None else None
        gauges = (gauging_of(site.wheel, last.method if last else None), gauging_of(site.wheel, self._method))
        return Expected(
            last_mm=last.wear_mm if last else None,
            last_chainage_m=site.drive.chainage_m(last.driven_m) if last else None,
            limit_mm=float(history.layout.limit_mm[self._index[number]]),
            low_mm=band[0] if band else None,
            high_mm=band[1] if band else None,
            fall_mm=allowed_fall_mm(*gauges),
        )


def last_reading(life: Life | None, at_m: float) -> Reading | None:
    """The last value read of a life up to a place."""
    readings = [r for r in (life.readings if life else ()) if r.wear_mm is not None and r.driven_m <= at_m + 1e-6]
    return readings[-1] if readings else None


def odd(wear: Wear, expected: Expected, display: Display) -> str | None:
    """A sentence where a value asks for a second look; None where it does not."""
    worst, middle = wear.worst_mm, wear.middle_mm
    if middle is not None and expected.last_mm is not None and middle < expected.last_mm - expected.fall_mm:
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


def measurement_of(
    number: int, line: Line, method: str | None, *, inch: bool = False, most_mm: float = MOST_MM
) -> Measurement | str | None:
    """The measurement of a line: None where nothing was read or said, a sentence where it cannot be read."""
    common: dict[str, Any] = {
        "position": number,
        "condition": line.condition,
        "serial": line.serial if not line.action else None,
        "note": line.note,
    }
    if line.read:
        wear = read_wear(line.wear, inch=inch, most_mm=most_mm)
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


def record_of(sheet: Sheet, site: Site, inspection_id: str, now: datetime) -> tuple[Inspection | None, list[str]]:
    """The record, or sentences on what is missing. An empty line makes no record: it is not read."""
    head, wrong = read_head(sheet.head, site, now)
    method = head.pop("method")
    measurements, fittings = [], []
    for number in sheet.order:
        line = sheet.line(number)
        made = measurement_of(number, line, method, inch=sheet.inch, most_mm=most_wear_mm(site))
        if isinstance(made, str):
            wrong.append(made)
        elif made is not None:
            measurements.append(made)
        if line.action:
            if line.action in ("move", "swap") and line.from_position is None:
                wrong.append(f"place {number}: {line.action} from which place?")
            fittings.append(
                Fitting(
                    position=number,
                    action=line.action,
                    reason=line.reason,
                    old_serial=line.serial,
                    old_to=line.old_to,
                    new_serial=line.new_serial,
                    new_tool_type=line.new_tool_type,
                    from_position=line.from_position,
                )
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


def preview(sheet: Sheet, inspection: Inspection, snapshot: Snapshot, display: Display) -> list[str]:
    """What will be written, in a few lines, and what to look at again before."""
    site, history = snapshot.site, snapshot.history
    assert site is not None
    lines = [
        f"Ring {inspection.ring}, chainage {display.chainage(inspection.chainage_m)}, {inspection.mode}"
        + (f", {display.pressure(inspection.pressure_bar)}" if inspection.pressure_bar is not None else "")
        + f", started {inspection.started_at:%Y-%m-%d %H:%M}.",
        sheet.tally() + ".",
    ]
    empty = [str(number) for number in sheet.order if sheet.line(number).empty]
    if empty:
        lines.append(f"NOT READ, and so recorded as nothing at all: {listing(empty, 24)}.")
    if inspection.corrects:
        lines.append(f"Takes the place of {inspection.corrects}; that record stays in the folder.")
    for remark in before_writing(site, inspection):
        lines += ["", f"! {display.words(remark)}"]
    second = odd_readings(site, inspection, history.current if history else {}, snapshot.outlook)
    if second:
        lines += ["", f"{plural(len(second), 'thing')} to look at again:"]
        lines += [f"  ! place {one.position}: {display.words(one.what)}" for one in second]
    return lines


def meaning(before: Snapshot, after: Snapshot, display: Display) -> list[str]:
    """What a new record means for the stretch to the next window, from the outlooks before and after it."""
    if after.site is None or after.outlook is None:
        return []
    if before.outlook is None:
        return ["There was no outlook before to compare with."]
    return [display.words(line) for line in what_it_means(after.site, before.outlook, after.outlook)]
