"""Why the plan says what it says, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.report.approval import NOT_APPROVED
from wearplan.report.unseen import unseen_words
from wearplan.report.words import chance_text, count_text, listing, plain
from wearplan.tui.display import Display

if TYPE_CHECKING:
    from wearplan.plan import Change, Plan, Stop
    from wearplan.site.records import Site
    from wearplan.tui.state import Snapshot


def change_words(change: Change, stop: Stop, snapshot: Snapshot, display: Display) -> list[str]:
    """The reason for one change with its numbers, and the records these rest on."""
    wear = change.wear_mm
    lines = [
        plain(change.sentence),
        "",
        f"at {display.chainage(stop.chainage_m)}: wear {display.wear(wear.p50)} "
        f"({display.wear(wear.p05)} to {display.wear(wear.p95)}) of {display.wear(change.limit_mm, unit=True)}",
        f"left until {display.chainage(change.left_until_chainage_m)}: "
        f"past its limit {chance_text(change.over_limit_probability_if_left)}, "
        f"past its damage limit {chance_text(change.over_damage_probability_if_left)}",
        f"{change.action}: {plain(change.fitted)} {plain(change.tool_type)}, old tool to {plain(change.destination)}; "
        f"{change.hours:g} h at one work place",
        f"ground until then: {plain(change.basis) or 'not told'}",
    ]
    if change.rings is not None:
        lines.append(f"path from ring rows {change.rings[0]} to {change.rings[1]}")
    lines.append(f"readings: {listing(change.rests_on, 20) or 'none; the rates alone'}")
    site = snapshot.site
    for inspection in site.inspections if site else ():
        if inspection.id not in change.rests_on:
            continue
        for measurement in inspection.measurements:
            if measurement.position in change.positions and measurement.mean_mm is not None:
                origin = f"  {measurement.origin.file}:{measurement.origin.line}" if measurement.origin.file else ""
                lines.append(
                    f"  {display.chainage(inspection.chainage_m)} place {measurement.position}: "
                    f"{display.wear(measurement.mean_mm, unit=True)}{origin}"
                )
    return [display.words(line) if index == 0 else line for index, line in enumerate(lines)]


def plan_words(plan: Plan, stop: Stop | None, site: Site, display: Display) -> list[str]:
    """Reasons for a stop and what the plan rests on."""
    lines: list[str] = []
    if stop is not None:
        lines += [plain(stop.reason)] if stop.reason else []
        lines += [plain(stop.last_before)] if stop.last_before else []
        if stop.clear_probability is not None:
            lines.append(f"No tool past its limit on the way there: {chance_text(stop.clear_probability)}.")
        steps = ", ".join(f"{plain(step)} {count_text(hours, 1)} h" for step, hours in stop.schedule)
        lines.append(f"Schedule: {steps}.")
        if stop.entry_row:
            lines.append(f"Entries by: {plain(stop.entry_row)}.")
        if stop.mode != "free air":
            source = plain(stop.pressure_source) if stop.pressure_source else NOT_APPROVED
            lines.append(f"Pressure {stop.pressure_bar:.1f} bar: {source}.")
        if stop.not_seen_since:
            unseen = unseen_words(stop, site, chainage=display.chainage)
            lines.append(f"Not seen at the last stop: {unseen}.")
        lines.append("")
    lines += [plain(last.because) for last in plan.last_stops]
    if plan.ground_break is not None:
        lines.append(plain(plan.ground_break.sentence))
    lines += [f"Not usable: {plain(window.window)}: {plain(window.why)}." for window in plan.unusable]
    if plan.model_holds:
        lines.append(f"In the exact model: {listing(plan.model_holds, 20)}.")
    if plan.met_by_repair:
        lines.append(f"Met by repair afterwards: {listing(plan.met_by_repair, 20)}.")
    lines += [plain(plan.gap_belongs_to)] if plan.gap_belongs_to else []
    lines += [plain(remark) for remark in plan.remarks]
    return lines
