"""Layout, tool types, ground and stock as commented TOML that a person would have written.

What no file holds stands as ``"?"`` with what belongs there, and `check` names each such line.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date
from typing import Any

from wearplan.site import FORMAT
from wearplan.site.records import Drive
from wearplan.take.engine import Taken
from wearplan.take.records.ground import TESTS, GroundTaken, SectionTaken
from wearplan.take.records.wheel import Place, Tool

OPEN = '"?"'


def said(value: Any) -> str:
    """A value as TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return f"{value:g}" if isinstance(value, int) or value != int(value) else f"{value:.1f}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(said(item) for item in value) + "]"
    return json.dumps(str(value), ensure_ascii=False)


def line(key: str, value: Any, comment: str = "") -> str:
    """``key = value  # comment``; an absent value is open."""
    text = f"{key} = {OPEN if value is None else said(value)}"
    return f"{text:<32} # {comment}" if comment else text


def site_text(taken: Taken, drive: Drive | None, facts: Mapping[str, Any]) -> str:
    """site.toml from the ring log, the ground and the answers."""
    start = drive.start_chainage_m if drive else facts.get("start_chainage_m")
    end = facts.get("end_chainage_m", drive.end_chainage_m if drive and taken.ground.sections else None)
    ahead = taken.log.ahead_m or facts.get("face_ahead_of_ring_m")
    lines = [
        '# The drive. "?" is open: only the site can say it; `wearplan check` names each. Chainages are the face\'s.',
        f"format = {FORMAT}",
        line("name", facts.get("name")),
        line("invented", True) if facts.get("invented") else "# invented = true",
        line("currency", facts.get("currency", "EUR"), "a label only"),
        line("jurisdiction", facts["jurisdiction"]) if facts.get("jurisdiction") else '# jurisdiction = "GB"',
        "",
        "[drive]",
        line("start_chainage_m", start, "where the first ring of the log begins"),
        line("end_chainage_m", end, "where the ground's last stretch ends" if "end_chainage_m" not in facts else ""),
        line("ring_length_m", drive.ring_length_m if drive else None, "the usual advance in the log of rings"),
        line("face_ahead_of_ring_m", ahead) if ahead else "# face_ahead_of_ring_m = 9.5",
        "",
        "[pace]",
        line(
            "advance_m_per_day",
            facts.get("advance_m_per_day"),
            f"per working day, net of planned stops{_observed(taken)}",
        ),
        line("working_days_per_week", facts.get("working_days_per_week")),
    ]
    return "\n".join(lines) + "\n"


def _observed(taken: Taken) -> str:
    times = [row.at for row in taken.log.rows if row.at is not None]
    ends = [row.end_m for row in taken.log.rows if row.end_m is not None]
    if len(times) < 2 or len(ends) < 2 or (max(times) - min(times)).days < 2:
        return ""
    per_day = (max(ends) - min(ends)) / max((max(times) - min(times)).days, 1)
    return f"; the log shows {per_day:.1f} m a calendar day, stops included"


def wheel_text(taken: Taken, facts: Mapping[str, Any]) -> str:
    """wheel.toml: tool types and positions."""
    methods = sorted({r.method for stop in taken.stops for r in stop.readings.values() if r.method})
    radius = max((p.track_radius_mm for p in taken.wheel.places if p.track_radius_mm), default=0)
    lines = [
        "# The wheel, from the office's layout and tool types.",
        "[wheel]",
        line(
            "bore_diameter_m",
            facts.get("bore_diameter_m"),
            f"with new gauge tools; the outermost track here has {radius / 500:.3f} m",
        ),
    ]
    if methods:
        lines += [
            "",
            "# [gauging]                     # give the error (sd) and step of each method used: " + ", ".join(methods),
        ]
        lines += [f"# {said(method) if ' ' in method else method} = {{ sd_mm = , step_mm = }}" for method in methods]
    for tool in taken.wheel.tools.values():
        lines += ["", *_tool(tool)]
    for row in sorted({p.row for p in taken.wheel.places if p.row}):
        lines += [
            "",
            "[[row]]",
            line("code", row),
            line("may_be_over", facts.get("row_may_be_over", 0), "so many of its tools may be past their limit"),
        ]
    for place in taken.wheel.places:
        lines += ["", *_place(place)]
    for change in taken.wheel.changes:
        found = taken.wheel.find(change.place)
        from_m = change.from_m if change.from_m is not None or change.ring is None else taken.log.end_of(change.ring)
        lines += ["", f"[[layout_change]]                # {change.source}", line("from_chainage_m", from_m)]
        lines.append(line("position", found.number if found else None))
        lines.append(line("tool_type", change.tool_type) if change.tool_type else "blanked = true")
    return "\n".join(lines) + "\n"


def _tool(tool: Tool) -> list[str]:
    lines = [
        "[[tool_type]]" + (f"                    # {tool.source}" if tool.source else ""),
        line("code", tool.code),
        line("kind", tool.kind),
    ]
    if tool.make:
        lines.append(line("make", tool.make))
    if tool.diameter_mm is not None or tool.kind == "disc":
        lines.append(line("diameter_mm", tool.diameter_mm))
    lines.append(line("wear_limit_mm", tool.wear_limit_mm))
    lines.append(line("damage_limit_mm", tool.damage_limit_mm) if tool.damage_limit_mm else "# damage_limit_mm =")
    if tool.new_height_mm is not None:
        lines.append(f"# a new one is {tool.new_height_mm:g} mm high")
    lines.append(line("price", tool.price))
    lines.append(line("rebuild_price", tool.rebuild_price) if tool.rebuild_price else "# rebuild_price =")
    lines.append(line("lead_time_days", None if tool.lead_time_days is None else round(tool.lead_time_days, 2)))
    hours = {k: v for k, v in (("free air", tool.hours_fa), ("compressed air", tool.hours_ca)) if v is not None}
    if hours:
        lines.append("change_hours = { " + ", ".join(f"{json.dumps(k)} = {said(v)}" for k, v in hours.items()) + " }")
    else:
        lines.append('# change_hours = { "free air" = , "compressed air" = }')
    return lines


def _place(place: Place) -> list[str]:
    lines = [
        f"[[position]]                     # {place.name}, {place.source}",
        line("number", place.number),
        line("tool_type", place.tool_type or None),
    ]
    lines += [line("track_radius_mm", place.track_radius_mm), line("angle_deg", place.angle_deg)]
    if place.tilt_deg:
        lines.append(line("tilt_deg", place.tilt_deg))
    lines.append(line("zone", place.zone))
    for key in ("wear_limit_mm", "housing", "row", "arm", "cuts"):
        if getattr(place, key) is not None:
            lines.append(line(key, getattr(place, key)))
    if place.sensor_mm:
        lines.append(line("sensor_mm", place.sensor_mm))
    return lines


def ground_text(ground: GroundTaken, facts: Mapping[str, Any]) -> str:
    """A file of ground/: units with their tests and spread, then sections."""
    lines = [
        "# The ground along the drive, from the office's sheets.",
        line("known_on", facts.get("ground_known_on"), "a date, without quotes"),
        line("source", facts.get("ground_source"), "such as face mapping, tender investigation"),
    ]
    for unit in ground.units.values():
        lines += [
            "",
            "[[unit]]" + (f"                         # {unit.source}" if unit.source else ""),
            line("code", unit.code),
            line("name", unit.name or unit.code),
        ]
        for key, ours in TESTS.items():
            if key in unit.tests:
                value, comment = unit.value(key)
                spread = unit.spread.get(key)
                lines.append(
                    line(
                        ours,
                        value,
                        comment + (f"; spread within a test {min(spread):g} to {max(spread):g}" if spread else ""),
                    )
                )
        if unit.boulders:
            lines.append("boulders = true")
    for section in ground.sections:
        lines += _section(section)
    if not ground.sections:
        lines += ["", "# [[section]] blocks tile the drive: no sheet held any"]
    if ground.holes:
        lines += ["", "# Evidence, no sections: holes of the AGS file with their chainage and strata (top, base, code)"]
        lines += [
            f"# {hole['hole']} at {hole['chainage']}: " + ", ".join(f"{t} to {b} {g}" for t, b, g in hole["strata"])
            for hole in ground.holes
        ]
    return "\n".join(lines) + "\n"


def _section(section: SectionTaken) -> list[str]:
    lines = [
        "",
        f"[[section]]                      # {section.source}",
        line("from_chainage_m", section.from_m),
        line("to_chainage_m", section.to_m),
    ]
    if not section.cut:
        lines.append("cut = false")
    elif section.mix:
        lines.append("mix = { " + ", ".join(f"{_key(c)} = {said(v)}" for c, v in section.mix.items()) + " }")
    elif section.strata:
        layers = [
            f"{{ unit = {json.dumps(c, ensure_ascii=False)}" + (f", top_m = {said(t)}" if t is not None else "") + " }"
            for c, t in section.strata
        ]
        lines.append("strata = [ " + ", ".join(layers) + " ]")
    else:
        lines.append('mix = "?"')
    lines.append("# boundary_sd_m =                # doubt in where this section ends")
    for key, number in (
        ("penetration_mm_per_rev", section.penetration),
        ("required_overcut_mm", section.overcut),
        ("water_head_m", section.water),
    ):
        if number is not None:
            lines.append(line(key, number))
    return lines


def _key(code: str) -> str:
    return (
        code
        if code.isascii() and code.replace("_", "").replace("-", "").isalnum()
        else json.dumps(code, ensure_ascii=False)
    )


def stores_text(taken: Taken, facts: Mapping[str, Any]) -> str:
    """stores.toml: what is in the store and on order."""
    lines = [
        "# The store, from the office's sheets.",
        "[service]",
        line("no_stockout_probability", facts.get("no_stockout_probability"), "such as 0.95"),
        line("review_days", facts.get("review_days"), "how often orders are looked at"),
    ]
    for stock in taken.stock:
        lines += [
            "",
            f"[[stock]]                        # {stock.source}",
            line("tool_type", stock.tool_type),
            line("on_hand", stock.on_hand),
        ]
        if stock.in_rebuild:
            lines.append(line("in_rebuild", stock.in_rebuild))
        if stock.part_worn:
            worn = [
                (f"serial = {json.dumps(serial)}, " if serial else "") + f"wear_mm = {said(wear)}"
                for serial, wear in stock.part_worn
            ]
            lines.append("part_worn = [ " + ", ".join(f"{{ {w} }}" for w in worn) + " ]")
        if stock.on_order:
            lines.append(
                "on_order = [ " + ", ".join(f"{{ quantity = {n}, due = {due} }}" for n, due in stock.on_order) + " ]"
            )
    return "\n".join(lines) + "\n"
