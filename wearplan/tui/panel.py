"""The words beside the wheel about one place, and the list of the worst ones."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual.content import Content

from wearplan.report.drawing.face import WORDS, level_of_share, level_signs
from wearplan.report.drawing.sheet import Sheet
from wearplan.report.reaches import limit_reach, limit_rings, short_reach, stop_reaches
from wearplan.report.words import chance_text, listing, plain, plural
from wearplan.tui.display import Display
from wearplan.tui.marks import PlaceNow
from wearplan.tui.state import why_missing

if TYPE_CHECKING:
    from wearplan.site.records import Site
    from wearplan.tui.state import Snapshot


def place_panel(
    snapshot: Snapshot, row: PlaceNow, display: Display, *, wide: bool = True, plain_signs: bool = False
) -> Content:
    """What a glance should give: wear against limit with its doubt, when it is at its limit, when it is changed."""
    site = snapshot.site
    assert site is not None
    level = "damaged" if row.damaged else level_of_share(row.share)
    head = f"  {plain(row.tool_type)}, {row.zone}" + (f", arm {plain(row.arm)}" if row.arm else "")
    serial = plain(row.serial) if row.serial else "no serial"
    beside = f", with {listing([str(number) for number in row.partners], 6)}" if row.partners else ""
    lines: list[Content] = [
        Content.styled(f"Place {row.number}", "bold $accent") + Content(head),
        wear_line(row, display) + Content(f"  {level_signs(plain_signs)[level]}{f' {WORDS[level]}' if wide else ''}"),
        *(Content(text) for text in _outlook_lines(snapshot, row)),
        Content.styled(plan_line(snapshot, row, display), "bold $accent" if row.stop else ""),
        Content(f"{serial}{beside}; {seen_words(row)}"),
    ]
    lines += _sensor_lines(site, row, display)
    return Content("\n").join(lines)


def wear_line(row: PlaceNow, display: Display) -> Content:
    """Wear now against the limit with nine in ten, or that it is not known."""
    limit = display.wear(row.limit_mm, unit=True)
    if row.unknown and row.wear_mm is None:
        return Content.styled("wear not known", "bold") + Content(f", limit {limit}")
    low, high = row.band_mm
    band = f" ({display.wear(low)} to {display.wear(high)})" if low is not None and high is not None else ""
    label = "wear now " if low is not None else "last read "
    label = "not read; reckoned " if row.unknown else label
    return Content(label) + Content.styled(display.wear(row.wear_mm), "bold") + Content(f" of {limit}{band}")


def seen_words(row: PlaceNow) -> str:
    """How long ago the place was read."""
    if row.stops_ago is None:
        return "never read"
    return "read at the last stop" if row.stops_ago == 0 else f"read {plural(row.stops_ago, 'stop')} before the last"


def _outlook_lines(snapshot: Snapshot, row: PlaceNow) -> list[str]:
    calendar = snapshot.history.calendar if snapshot.history else None
    if snapshot.outlook is None:
        return [why_missing(snapshot, "outlook")]
    tool = snapshot.tools.get(row.number)
    if tool is None or calendar is None:
        return ["no outlook for this place"]
    words = f"reaches its limit {limit_reach(tool, calendar)}"
    return [words + f"; outlives the drive {chance_text(tool.beyond_drive_probability)}"]


def plan_line(snapshot: Snapshot, row: PlaceNow, display: Display) -> str:
    """At which stop the place is changed."""
    plan, history = snapshot.plan, snapshot.history
    if plan is None:
        return f"plan: {why_missing(snapshot, 'plan')}"
    if row.stop is None or row.stop > len(plan.stops) or history is None or history.calendar is None:
        return "plan: stays to the end of the drive"
    stop = plan.stops[row.stop - 1]
    off = short_reach(stop_reaches(plan, history.calendar)[row.stop - 1])
    return f"plan: changed at stop {row.stop}, {display.chainage(stop.chainage_m)}, {off}"


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


def worst_sheet(
    snapshot: Snapshot,
    rows: dict[int, PlaceNow],
    order: Sequence[int],
    display: Display,
    *,
    width: int,
    height: int,
    picked: int = 0,
    plain_signs: bool = False,
) -> Sheet:
    """The worst places: sign and bar of the limit used, wear, rings to the limit, the stop it is changed at."""
    sheet = Sheet(width, height, plain=plain_signs)
    wide = width >= 56
    types = max((len(plain(rows[number].tool_type)) for number in order[: height - 1]), default=0)
    # the bar gives way to the longest name of a type
    bar = min(16, max(8, width - 41 - types)) if wide else 0
    wear_end, left_end = (22 + bar, 34 + bar) if wide else (20, 30)
    sheet.text(0, 0, "Worst first", "head")
    sheet.right(0, wear_end, f"{display.wear_unit} of limit" if wide else display.wear_unit, "dim")
    sheet.right(0, left_end, "limit in", "dim")
    sheet.text(0, left_end + 1, "stop", "dim")
    known = level_signs(plain_signs)
    for line, number in enumerate(order[: height - 1], start=1):
        row = rows[number]
        level = "damaged" if row.damaged else level_of_share(row.share)
        sheet.text(line, 0, ">" if number == picked else " ", "limit")
        sheet.right(line, 6, str(number), "pick" if number == picked else "plain")
        sheet.text(line, 7, known[level], level)
        for column in range(round(min(row.share or 0.0, 1.1) * (bar - 2)) if bar else 0):
            sheet.band(9 + column, 2 * line, 2 * line + 2, level)
        if bar:
            sheet.text(line, 9 + bar - 2, "|" if plain_signs else "┊", "limit")
        wear = "not known" if row.share is None else f"{display.wear(row.wear_mm)} / {display.wear(row.limit_mm)}"
        sheet.right(line, wear_end, wear, "plain")
        sheet.right(line, left_end, _rings_left(snapshot, number, plain_signs), "plain")
        if row.stop is not None:
            sign = sheet.signs.down if row.due else " "
            sheet.text(line, left_end + 1, f"{sign}{row.stop}", "due" if row.due else "dim")
        if wide:
            sheet.text(line, left_end + 6, plain(row.tool_type)[: max(0, width - left_end - 7)], "dim")
    return sheet


def _rings_left(snapshot: Snapshot, number: int, plain_signs: bool) -> str:
    tool, calendar = snapshot.tools.get(number), snapshot.history.calendar if snapshot.history else None
    rings = limit_rings(tool, calendar) if tool is not None and calendar is not None else ""
    rings += " rings" if rings[-1:].isdigit() else ""
    return rings.replace("—", "-") if plain_signs else rings


def level_key(plain_signs: bool) -> tuple[tuple[str, str], ...]:
    """What the signs of wear mean, short."""
    known = level_signs(plain_signs)
    mark = "v" if plain_signs else "▼"
    used = (("light", "<1/4 "), ("fair", "<1/2 "), ("worn", "<4/5 "), ("near", "<1 "), ("over", ">=1 limit "))
    rest = (("damaged", " damaged "), ("unseen", " not read "))
    return (
        *((f"{known[level]}{words}", "dim") for level, words in used),
        *((f"{known[level]}{words}", "dim") for level, words in rest), (f"{mark} next stop", "due"),
    )  # fmt: skip
