"""From the sheet to the record, what looks odd in it, and what it changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar

from wearplan.gate import CONTRADICTED, Finding
from wearplan.report.preview import before_writing, fitting_line, odd_readings, what_it_means
from wearplan.report.trouble import trouble_lines
from wearplan.report.words import listing, plural
from wearplan.site.records import Fitting, Inspection, Measurement, Site
from wearplan.tui.display import Display
from wearplan.tui.entry.expecting import Basis
from wearplan.tui.entry.sheet import Line, Sheet, sheet_of
from wearplan.tui.entry.words import KEYS, MOST_MM, most_wear_mm, read_head, read_wear

if TYPE_CHECKING:
    from wearplan.tui.state import Snapshot

T = TypeVar("T", Measurement, Fitting)


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
    """The record, or sentences on what is missing. An empty line makes no record: it is not read.

    A correction begins from the record it replaces: what the sheet does not show, and what was not touched on it,
    stays as that record has it, to the last digit.
    """
    earlier = corrected_by(sheet, site)
    head, wrong = read_head(sheet.head, site, now)
    method = head.pop("method")
    before = sheet_of(earlier, sheet.order) if earlier else Sheet(order=sheet.order)
    if earlier is not None:
        head |= _untouched_head(sheet, before, earlier)
    measurements: list[Measurement] = []
    fittings: list[Fitting] = []
    for number in _all_places(sheet, earlier):
        line, was = sheet.line(number), before.line(number)
        if earlier is not None and replace(line, kept=None) == replace(was, kept=None):
            same = [one for one in earlier.measurements if one.position == number]
            wrong += _damaged_words(number, same)
            measurements += [_with_method(one, method) for one in same]
            fittings += [one for one in earlier.fittings if one.position == number]
            continue
        made = measurement_of(number, line, method, inch=sheet.inch, most_mm=most_wear_mm(site))
        if isinstance(made, str):
            wrong.append(made)
        elif made is not None:
            measurements.append(_kept_measurement(made, line, was, earlier))
        wrong += _source_missing(number, line)
        fittings += [_fitting_of(number, line, was, earlier)] if line.action else []
    if not measurements and not fittings and not wrong:
        wrong.append("nothing is typed yet: there is nothing to write")
    if wrong:
        return None, wrong
    return _as_record(sheet, head, measurements, fittings, earlier, inspection_id), []


def _source_missing(number: int, line: Line) -> list[str]:
    missing = line.action in ("move", "swap") and line.from_position is None
    return [f"place {number}: {line.action} from which place?"] if missing else []


def _damaged_words(number: int, readings: list[Measurement]) -> list[str]:
    return [
        f"place {number}: its record was damaged ({one.damaged}); type it anew, or say why it was not read"
        for one in readings
        if one.damaged
    ]


def _as_record(
    sheet: Sheet,
    head: dict[str, Any],
    measurements: list[Measurement],
    fittings: list[Fitting],
    earlier: Inspection | None,
    inspection_id: str,
) -> Inspection:
    said: dict[str, Any] = head | {
        "id": inspection_id, "corrects": sheet.corrects, "reason": sheet.head.get("reason", "").strip() or None,
        "measurements": _in_old_order(measurements, earlier.measurements if earlier else ()),
        "fittings": _in_old_order(fittings, earlier.fittings if earlier else ()),
    }  # fmt: skip
    return replace(earlier, **said) if earlier else Inspection(**said)


def corrected_by(sheet: Sheet, site: Site) -> Inspection | None:
    """The record a sheet corrects, if it is still in the folder."""
    return next((one for one in (*site.inspections, *site.corrected) if one.id == sheet.corrects), None)


def _untouched_head(sheet: Sheet, before: Sheet, earlier: Inspection) -> dict[str, Any]:
    """The stop's data that stand on the sheet as the record gave them."""
    kept = {
        key.name: getattr(earlier, key.name)
        for word, key in KEYS.items()
        if sheet.head.get(word, "").strip() == before.head[word].strip()
    }
    return kept | ({"driven_m": earlier.driven_m} if "chainage_m" in kept else {})


def _all_places(sheet: Sheet, earlier: Inspection | None) -> list[int]:
    """The places of the sheet, and what else the corrected record speaks of."""
    records: tuple[Measurement | Fitting, ...] = (*earlier.measurements, *earlier.fittings) if earlier else ()
    return list(dict.fromkeys([*sheet.order, *(one.position for one in records)]))


def _in_old_order(made: list[T], old: tuple[T, ...]) -> tuple[T, ...]:
    """Records of places in the order of those they replace (that of fittings matters), new ones after them."""
    at = {one.position: place for place, one in reversed(list(enumerate(old)))}
    return tuple(sorted(made, key=lambda one: at.get(one.position, len(old))))


def _with_method(one: Measurement, method: str | None) -> Measurement:
    return replace(one, method=method) if method and one.method is None and one.not_read is None else one


def _kept_measurement(made: Measurement, line: Line, was: Line, earlier: Inspection | None) -> Measurement:
    """A reading typed anew, with what the earlier record says of its place beyond what was changed."""
    old = next((one for one in earlier.measurements if one.position == made.position), None) if earlier else None
    if old is None:
        return made
    values = {name: getattr(made, name) for name in _READ}
    if (line.wear, line.not_read) == (was.wear, was.not_read):
        values = {name: getattr(old, name) for name in _READ}
    for name in ("method", "condition", "note"):
        if getattr(line, name) != getattr(was, name):
            values[name] = getattr(made, name)
    if (line.serial, line.action) != (was.serial, was.action):
        values["serial"] = made.serial
    return replace(old, **values, damaged=None)


def _fitting_of(number: int, line: Line, was: Line, earlier: Inspection | None) -> Fitting:
    """A fitting as typed; the same action corrected keeps what the sheet does not show of it."""
    typed: dict[str, Any] = {name: getattr(line, name) for name in _FITTED}
    olds = [one for one in earlier.fittings if one.position == number] if earlier else []
    if not olds or olds[-1].action != line.action:
        return Fitting(position=number, old_serial=line.serial, **typed)
    if line.serial != was.serial:
        typed["old_serial"] = line.serial
    return replace(olds[-1], **typed, damaged=None)


_READ = ("wear_mm", "points_mm", "wear_below_mm", "wear_above_mm", "not_read")
_FITTED = ("action", "reason", "old_to", "new_serial", "new_tool_type", "new_batch", "from_position")


def preview(
    sheet: Sheet, inspection: Inspection, site: Site, basis: Basis, display: Display, findings: Sequence[Finding] = ()
) -> list[str]:
    """What will be written, in a few lines, and what to look at again before."""
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
    if inspection.fittings:
        lines += ["", "Fittings, to be read back against the paper:", *map(fitting_line, inspection.fittings)]
    for finding in findings:
        said = "CONTRADICTED, and accepted" if finding.kind == CONTRADICTED else "ODD"
        lines += ["", f"! {said}: {display.words(finding.line)}"]
    for remark in before_writing(site, inspection):
        lines += ["", f"! {display.words(remark)}"]
    if basis.outlook is None:
        lines += ["", f"! No reading was held against what is expected: {basis.why_off}"]
    second = odd_readings(site, inspection, basis.current, basis.outlook)
    if second:
        lines += ["", f"{plural(len(second), 'thing')} to look at again:"]
        lines += [f"  ! place {one.position}: {display.words(one.what)}" for one in second]
    return lines


def meaning(before: Snapshot, after: Snapshot, display: Display) -> list[str]:
    """What a new record means for the stretch to the next window, from the outlooks before and after it."""
    current = after.history.current if after.history is not None else {}
    if after.site is None or after.outlook is None:
        return trouble_lines(current)
    if before.outlook is None:
        return [*trouble_lines(current), "There was no outlook before to compare with."]
    return [display.words(line) for line in what_it_means(after.site, before.outlook, after.outlook, current)]
