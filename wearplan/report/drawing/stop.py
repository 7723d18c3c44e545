"""The next stop for paper: the wheel with what is changed, and the bands of wear against their limits."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from wearplan.report.drawing import svg
from wearplan.report.drawing.face import arm_angles
from wearplan.report.drawing.pictures import apart
from wearplan.report.words import listing, plain

if TYPE_CHECKING:
    from wearplan.demand import StockLine
    from wearplan.plan import Change, Stop
    from wearplan.wear import Outlook

LIKELY = 0.5


def changes_svg(outlook: Outlook, stop: Stop, *, size: float = 330) -> str:
    """The wheel seen from the machine; changed places numbered, black where likely past their limit if left."""
    layout = outlook.layout
    radius_mm = outlook.site.wheel.bore_diameter_m * 500.0
    middle, scale = size / 2, (size / 2 - 24) / radius_mm
    chance = _chances(stop)

    def spot(radius: float, angle_deg: float) -> tuple[float, float]:
        turn = math.radians(angle_deg)
        return middle + radius * scale * math.sin(turn), middle - radius * scale * math.cos(turn)

    parts = [
        f'<circle cx="{middle:g}" cy="{middle:g}" r="{radius_mm * scale:.1f}" fill="#fff" stroke="#000" '
        'stroke-width="1.5"/>'
    ]
    for arm, angle in arm_angles((place.arm, place.angle_deg) for place in layout.positions).items():
        parts.append(svg.line(*spot(0.14 * radius_mm, angle), *spot(0.98 * radius_mm, angle), colour="#ccc", width=5))
        x, y = spot(radius_mm + 13 / scale, angle)
        parts.append(svg.text(x, y + 4, plain(arm), anchor="middle"))
    used = np.clip(np.median(outlook.wear_now_mm, axis=0) / outlook.limit_mm, 0.0, 1.0)
    due = []
    for index, place in enumerate(layout.positions):
        x, y = spot(place.track_radius_mm, place.angle_deg)
        if place.number in chance:
            due.append((place.number, x, y))
            continue
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="#fff" stroke="#777" stroke-width=".7"/>')
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{2.6 * math.sqrt(used[index]):.1f}" fill="#777"/>')
    if due:
        at = apart(np.array([(x, y) for _, x, y in due]), gap=17, low=10, high=size - 10)
        for (number, _, _), (x, y) in zip(due, at.tolist(), strict=True):
            parts.append(_numbered(x, y, number, black=chance[number] > LIKELY))
    return svg.drawing(
        size, size, parts, title=f"Places to change at {plain(stop.window)}",
        description=f"To change: {listing([str(n) for n in sorted(chance)], 60)}. Black: more likely than not past the "
        "limit before the next stop if left.",
    )  # fmt: skip


def _chances(stop: Stop) -> Mapping[int, float]:
    return {place: c.over_limit_probability_if_left for c in stop.changes for place in c.positions}


def _numbered(x: float, y: float, number: int, *, black: bool) -> str:
    fill, ink = ("#000", "#fff") if black else ("#fff", "#000")
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8.5" fill="{fill}" stroke="#000" stroke-width="1.6"/>'
        f'<text x="{x:.1f}" y="{y + 3.5:.1f}" font-size="10" font-weight="bold" text-anchor="middle" fill="{ink}">'
        f"{number}</text>"
    )


def span_svg(change: Change, *, width: float = 120, height: float = 11) -> str:
    """The band of wear expected of one change: thin nine in ten, thick half, notch the middle; dashed the limit."""
    at_limit, wear, y = 0.8 * width, change.wear_mm, height / 2
    x05, x25, x50, x75, x95 = (
        min(width, max(0.0, (value or 0.0) / change.limit_mm * at_limit))
        for value in (wear.p05, wear.p25, wear.p50, wear.p75, wear.p95)
    )
    parts = [
        svg.line(at_limit, 0, at_limit, height, dash="3 2"), svg.line(x05, y, x95, y, width=1.2),
        svg.line(x25, y, x75, y, width=5), svg.line(x50, 0.5, x50, height - 0.5, colour="#fff", width=1.6),
    ]  # fmt: skip
    known = wear.p05 is not None and wear.p95 is not None
    told = f"{wear.p05:.1f} to {wear.p95:.1f} of {change.limit_mm:g} mm" if known else ""
    places = ", ".join(map(str, change.positions))
    return svg.drawing(
        width, height, parts, title=f"Wear at {places}", description=f"Nine in ten: {told or 'not known'}."
    )


def shelf_svg(line: StockLine, *, width: float = 170, height: float = 62, points: int = 60) -> str:
    """A small chart of one type: middle and nine in ten of the shelf by date, zero dashed."""
    index = np.unique(np.linspace(0, len(line.dates) - 1, points).astype(int))
    days = np.array([(day - line.dates[0]).days for day in line.dates], float)[index]
    low, mid, high = (np.array(values, float)[index] for values in (line.p05, line.p50, line.p95))
    bottom, top = min(0.0, float(low.min())), max(1.0, float(high.max()))
    frame = svg.Frame(
        width=width,
        height=height,
        x=(0.0, max(float(days[-1]), 1.0)),
        y=(bottom, top),
        left=22,
        right=2,
        top=4,
        bottom=4,
    )
    frame.band(days, low, high, colour="#bbb", opacity=1)
    frame.curve(days, mid, colour="#000")
    frame.add(svg.line(frame.x0, frame.py(0), frame.x1, frame.py(0), dash="4 2"))
    for value in {0.0, bottom, top}:
        frame.add(svg.text(frame.x0 - 3, min(frame.py(value) + 4, height - 1), f"{value:.0f}", anchor="end", size=9))
    return frame.svg(
        title=f"{plain(line.tool_type)} on the shelf, if nothing more is ordered",
        description=f"{mid[0]:.0f} now, {mid[-1]:.0f} ({low[-1]:.0f} to {high[-1]:.0f}) at the last date.",
    )
