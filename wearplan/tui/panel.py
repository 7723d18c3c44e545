"""The words beside the wheel about one place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from wearplan.report.drawing.face import LEVELS, level_of_share
from wearplan.report.words import chance_text, plain
from wearplan.tui.display import Display
from wearplan.tui.marks import PlaceNow

if TYPE_CHECKING:
    from wearplan.history import Reading
    from wearplan.site.records import Site
    from wearplan.tui.state import Snapshot

BAR = 20


def place_panel(snapshot: Snapshot, row: PlaceNow, display: Display, width: int) -> Content:
    """Everything a glance should give: wear against limit, doubt, last readings, where it reaches its limit."""
    site = snapshot.site
    assert site is not None
    lines: list[Content] = [
        Content.styled(f"Place {row.number}", "bold $accent")
        + Content(f"  {plain(row.tool_type)}, {row.zone}" + (f", arm {plain(row.arm)}" if row.arm else "")),
        Content(f"serial {plain(row.serial) if row.serial else '—'}"),
        wear_line(row, display),
    ]
    share = None if row.unknown or row.wear_mm is None else row.wear_mm / row.limit_mm
    lines.append(Content(wear_bar(row, min(BAR, max(8, width - 12)))))
    sign, words = LEVELS[level_of_share(share)]
    lines.append(Content(f"{sign} {words}"))
    low, high = row.band_mm
    if low is not None and high is not None:
        lines.append(Content(f"nine in ten: {display.wear(low)} to {display.wear(high, unit=True)}"))
    lines.append(Content(""))
    lines += [Content(text) for text in _outlook_lines(snapshot, row, display)]
    lines.append(Content(""))
    lines += _reading_lines(snapshot, row, display, width)
    lines += _plan_lines(snapshot, row, display)
    return Content("\n").join(lines)


def wear_line(row: PlaceNow, display: Display) -> Content:
    """Wear now against the limit, or that it is not known."""
    limit = display.wear(row.limit_mm, unit=True)
    if row.unknown and row.wear_mm is None:
        return Content.styled("wear not known", "bold") + Content(f", limit {limit}")
    label = "wear now " if row.band_mm[0] is not None else "last read "
    label = "not read; reckoned " if row.unknown else label
    return Content(label) + Content.styled(display.wear(row.wear_mm), "bold") + Content(f" of {limit}")


def wear_bar(row: PlaceNow, width: int) -> str:
    """Wear against the limit as a bar of signs, the doubt beside it; the limit is the last sign."""
    if row.wear_mm is None:
        return "[" + "?" * width + "]"
    share = min(1.0, row.wear_mm / row.limit_mm)
    full = round(share * width)
    high = row.band_mm[1]
    doubt = 0 if high is None else max(0, min(width, round(min(1.0, high / row.limit_mm) * width)) - full)
    return "[" + "#" * full + "~" * doubt + "." * (width - full - doubt) + "]"


def _outlook_lines(snapshot: Snapshot, row: PlaceNow, display: Display) -> list[str]:
    outlook = snapshot.outlook
    if outlook is None:
        return ["outlook: not there yet"]
    tool = snapshot.tools.get(row.number)
    if tool is None:
        return ["no outlook for this place"]
    quantiles = tool.limit_chainage_m

    def at(value: float | None) -> str:
        return "beyond the drive" if value is None else f"at {display.chainage(value)}"

    return [
        f"reaches its limit {at(quantiles.p50)}",
        f"  early {at(quantiles.p05)}",
        f"  late  {at(quantiles.p95)}",
        f"outlives the drive: {chance_text(tool.beyond_drive_probability)}",
    ]


def _reading_lines(snapshot: Snapshot, row: PlaceNow, display: Display, width: int) -> list[Content]:
    site, history = snapshot.site, snapshot.history
    life = history.current.get(row.number) if history else None
    if site is None or life is None:
        return [Content("no life known here")]
    lines = [Content.styled("Readings of this tool", "bold")]
    lines += [_reading_line(reading, site, display) for reading in list(life.readings)[-6:][::-1]]
    if not life.readings:
        lines.append(Content("  none yet"))
    lines += _sensor_lines(site, row, display)
    fitted = life.fitted_by
    if fitted is not None and fitted.file:
        lines.append(Content(f"fitted: {plain(fitted.file)}:{fitted.line}"))
    lines.append(Content("Enter: the whole life"))
    return lines


def _reading_line(reading: Reading, site: Site, display: Display) -> Content:
    """One reading: where, how worn, and what else was said of it."""
    if reading.wear_mm is not None:
        text = display.wear(reading.wear_mm, unit=True)
    elif reading.below_mm is not None:
        text = f"under {display.wear(reading.below_mm, unit=True)}"
    elif reading.above_mm is not None:
        text = f"over {display.wear(reading.above_mm, unit=True)}"
    else:
        text = "—"
    marks = [reading.condition or "", "" if reading.sound else "after a fault", "flagged" if reading.flagged else ""]
    source = "" if reading.source == "inspection" else reading.source
    tail = ", ".join(part for part in (*marks, source) if part and part != "even")
    at = display.chainage(site.drive.chainage_m(reading.driven_m))
    return Content(f"  {at:>9}  {text:>9}  {plain(tail)}".rstrip())


def _sensor_lines(site: Site, row: PlaceNow, display: Display) -> list[Content]:
    """What the sensor at a place has said, where there is one."""
    position = next((p for p in site.wheel.positions if p.number == row.number), None)
    if position is None or not position.sensor_mm:
        return []
    steps = ", ".join(display.wear(step) for step in position.sensor_mm)
    last = next((word for word in reversed(site.sensor_words) if word.position == row.number), None)
    said = "no word yet"
    if last is not None:
        what = "line proved" if last.reported_mm is None else f"reported {display.wear(last.reported_mm, unit=True)}"
        said = f"{what} at {display.chainage(last.chainage_m)}"
    return [Content(f"sensor at {steps} {display.wear_unit}: {said}")]


def _plan_lines(snapshot: Snapshot, row: PlaceNow, display: Display) -> list[Content]:
    plan = snapshot.plan
    if plan is None:
        return []
    for stop in plan.stops:
        for change in stop.changes:
            if row.number in change.positions:
                return [
                    Content(""),
                    Content.styled(f"Plan: {change.action} at {display.chainage(stop.chainage_m)}", "bold"),
                    Content(display.words(plain(change.sentence))),
                ]
    return [Content(""), Content("Plan: stays to the end of the drive.")]
