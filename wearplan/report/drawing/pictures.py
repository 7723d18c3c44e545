"""The pictures of the page, drawn from results."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from wearplan.report.drawing import svg
from wearplan.report.drawing.drive import chainage_ticks, short_chainage
from wearplan.report.drawing.svg import Frame
from wearplan.report.words import listing, plural

if TYPE_CHECKING:
    from wearplan.demand import StockLine
    from wearplan.wear import Fit, Outlook

ROUND = ("disc", "centre tool")
HALF = 7.5
"""Half the width of a tool's mark."""


def wheel_svg(outlook: Outlook, *, size: float = 520) -> str:
    """The face seen from the machine: every tool at its place, filled as far as it is worn against its limit."""
    layout = outlook.layout
    used = np.median(outlook.wear_now_mm, axis=0) / outlook.limit_mm
    radius_mm = outlook.site.wheel.bore_diameter_m * 500.0
    middle, scale = size / 2, (size / 2 - 14) / radius_mm
    parts = [f'<circle cx="{middle:g}" cy="{middle:g}" r="{radius_mm * scale:.1f}" fill="#fafafa" stroke="{svg.INK}"/>']
    angle = np.radians(layout.angle_deg)
    at = middle + scale * np.column_stack(
        (layout.track_radius_mm * np.sin(angle), -layout.track_radius_mm * np.cos(angle))
    )
    at = apart(at, gap=2 * HALF + 1.5, low=HALF + 1, high=size - HALF - 1)
    for index, position in enumerate(layout.positions):
        x, y = map(float, at[index])
        parts.append(_tool_mark(x, y, float(used[index]), layout.kinds[index], position.number))
    over = [str(layout.positions[i].number) for i in np.flatnonzero(used >= 1)]
    near = [str(layout.positions[i].number) for i in np.flatnonzero((used >= 0.8) & (used < 1))]
    description = (
        f"{plural(len(layout.positions), 'tool')}. Past their limit: {listing(over, 30) or 'none'}. "
        f"Past four fifths of it: {listing(near, 30) or 'none'}."
    )
    return svg.drawing(
        size, size, parts, title="Wear of every tool now, as a share of its limit", description=description
    )


def apart(at: np.ndarray, *, gap: float, low: float, high: float, rounds: int = 60) -> np.ndarray:
    """(P, 2) marks pushed apart until none hides another, each as little as need be.

    Parameters
    ----------
    at : (P, 2)
    gap : float
        Least distance between two marks.
    low, high : float
        Bounds of the picture.
    """
    at = np.array(at, float)
    # a turn of its own for each mark, so that marks at one point part as well
    turn = np.arange(len(at)) * 2.4
    at += 1e-3 * np.column_stack((np.cos(turn), np.sin(turn)))
    for _ in range(rounds):
        away = at[:, None, :] - at[None, :, :]
        distance = np.hypot(away[..., 0], away[..., 1])
        np.fill_diagonal(distance, np.inf)
        push = np.clip(gap - distance, 0.0, None) / 2
        if not push.any():
            break
        at += (away / distance[..., None] * push[..., None]).sum(axis=1) * 0.8
        at = np.clip(at, low, high)
    return at


def _tool_mark(x: float, y: float, used: float, kind: str, number: int) -> str:
    colour = svg.ORANGE if used >= 1 else svg.YELLOW if used >= 0.8 else svg.SKY
    share = min(max(used, 0.0), 1.0)
    half = HALF
    hint = f"<title>place {number}, {kind}: {100 * used:.0f} % of its limit</title>"
    stroke = f'stroke="{svg.INK}" stroke-width="{2.2 if used >= 1 else 0.8}"'
    if kind in ROUND:
        fill = _filled_circle(x, y, half, share, colour)
        ground = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{half:g}" fill="#ffffff"/>'
        edge = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{half:g}" fill="none" {stroke}/>'
    else:
        box = f'x="{x - half:.1f}" y="{y - half:.1f}" width="{2 * half:g}" height="{2 * half:g}"'
        ground = f'<rect {box} fill="#ffffff"/>'
        fill = svg.rect(x - half, y + half - 2 * half * share, 2 * half, 2 * half * share, fill=colour)
        edge = f'<rect {box} fill="none" {stroke}/>'
    return f"<g>{hint}{ground}{fill}{edge}{svg.text(x, y + 3, str(number), anchor='middle', size=8)}</g>"


def _filled_circle(x: float, y: float, radius: float, share: float, colour: str) -> str:
    """The lower part of a circle, up to a share of its height."""
    if share <= 0:
        return ""
    if share >= 1:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" fill="{colour}"/>'
    level = radius - 2 * radius * share
    half = math.sqrt(radius**2 - level**2)
    return (
        f'<path d="M {x - half:.2f} {y + level:.2f} A {radius:g} {radius:g} 0 {int(share > 0.5)} 0 '
        f'{x + half:.2f} {y + level:.2f} Z" fill="{colour}"/>'
    )


def rates_svg(fit: Fit, kind: str, *, width: float = 460) -> str:
    """Rates of one kind by unit: dot at the middle, bar over the 90 % range, logarithmic axis."""
    rates = [rate for rate in fit.rates if rate.kind == kind and rate.mm_per_km.p05 and rate.mm_per_km.p95]
    if not rates:
        return ""
    low = min(rate.mm_per_km.p05 or 1.0 for rate in rates)
    high = max(rate.mm_per_km.p95 or 1.0 for rate in rates)
    ends = (math.floor(math.log10(low)), math.ceil(math.log10(high)))
    frame = Frame(width=width, height=46 + 24 * len(rates) + 14, x=ends, y=(len(rates), 0), left=70, bottom=46)
    for exponent in range(ends[0], ends[1] + 1):
        for factor in (1, 2, 5):
            value = exponent + math.log10(factor)
            if value <= ends[1]:
                x = frame.px(value)
                frame.add(svg.line(x, frame.y0, x, frame.y1, colour="#dddddd"))
                frame.add(svg.text(x, frame.y0 + 16, f"{factor * 10.0**exponent:g}", anchor="middle"))
    for row, rate in enumerate(rates):
        quantiles = rate.mm_per_km
        y = frame.py(row + 0.5)
        x05, x50, x95 = (frame.px(math.log10(v or 1.0)) for v in (quantiles.p05, quantiles.p50, quantiles.p95))
        colour = svg.BLUE if rate.readings else svg.GREY
        frame.add(
            svg.text(frame.x0 - 8, y + 4, rate.unit, anchor="end"), svg.line(x05, y, x95, y, colour=colour, width=5)
        )
        frame.add(f'<circle cx="{x50:.1f}" cy="{y:.1f}" r="5" fill="#ffffff" stroke="{colour}" stroke-width="2"/>')
    frame.add(svg.line(frame.x0, frame.y0, frame.x1, frame.y0))
    frame.add(svg.text((frame.x0 + frame.x1) / 2, frame.height - 8, "mm of wear per km of path", anchor="middle"))
    told = "; ".join(
        f"{r.unit} {r.mm_per_km.p50:.3g} ({r.mm_per_km.p05:.3g} to {r.mm_per_km.p95:.3g})"
        for r in rates
        if r.mm_per_km.p50
    )
    return frame.svg(
        title=f"Wear rates of kind {kind} by unit, mm per km", description=f"{told}. Grey: no readings yet."
    )


def fan_svg(outlook: Outlook, number: int, *, width: float = 460, height: float = 240) -> str:
    """Wear ahead of the tool at one place if it is left: middle line, 50 % and 90 % bands, its limits."""
    site, column = outlook.site, outlook.layout.index(number)
    at = np.linspace(outlook.face_m, outlook.end_m, 60)
    bands = np.array([np.quantile(outlook.wear_at(m)[:, column], (0.05, 0.25, 0.5, 0.75, 0.95)) for m in at])
    limit, damage = float(outlook.limit_mm[column]), float(outlook.damage_limit_mm[column])
    roof = limit if not math.isfinite(damage) else damage
    top = min(max(1.15 * roof, float(bands[0].max())), max(float(bands.max()), 1.15 * roof))
    clipped = np.minimum(bands, top)
    frame = Frame(width=width, height=height, x=(outlook.face_m, outlook.end_m), y=(0.0, top))
    frame.axes(
        x_name="chainage",
        y_name="wear, mm",
        x_text=lambda m: short_chainage(site, m),
        x_ticks=chainage_ticks(site, outlook.face_m, outlook.end_m),
    )
    frame.band(at, clipped[:, 0], clipped[:, 4], colour=svg.BLUE, opacity=0.18)
    frame.band(at, clipped[:, 1], clipped[:, 3], colour=svg.BLUE, opacity=0.30)
    frame.curve(at, clipped[:, 2], colour=svg.BLUE)
    for value, name in ((limit, "limit"), (damage, "damage limit")):
        if math.isfinite(value) and value <= top:
            y = frame.py(value)
            frame.add(svg.line(frame.x0, y, frame.x1, y, colour=svg.ORANGE, dash="6 3"))
            frame.add(svg.text(frame.x1 - 4, y - 4, f"{name} {value:g} mm", anchor="end"))
    end = bands[-1]
    return frame.svg(
        title=f"Wear ahead at place {number} if the tool is left, mm against chainage",
        description=f"Now {bands[0][2]:.1f} mm ({bands[0][0]:.1f} to {bands[0][4]:.1f}); at the end of the drive "
        f"{end[2]:.1f} mm ({end[0]:.1f} to {end[4]:.1f}); limit {limit:g} mm. Bands: 50 % and 90 %.",
    )


def past_limit_svg(outlook: Outlook, *, width: float = 460, height: float = 220) -> str:
    """Tools past their limit against chainage if nothing is changed: middle and 90 % band over the draws."""
    site = outlook.site
    at = np.linspace(outlook.face_m, outlook.end_m, 60)
    counts = np.array([np.quantile((outlook.wear_at(m) > outlook.limit_mm).sum(axis=1), (0.05, 0.5, 0.95)) for m in at])
    frame = Frame(width=width, height=height, x=(outlook.face_m, outlook.end_m), y=(0.0, max(float(counts.max()), 1.0)))
    frame.axes(
        x_name="chainage",
        y_name="tools",
        x_text=lambda m: short_chainage(site, m),
        x_ticks=chainage_ticks(site, outlook.face_m, outlook.end_m),
    )
    frame.band(at, counts[:, 0], counts[:, 2], colour=svg.ORANGE, opacity=0.2)
    frame.curve(at, counts[:, 1], colour=svg.ORANGE)
    return frame.svg(
        title="Tools past their limit against chainage, if nothing is changed",
        description=f"From {counts[0][1]:.0f} now to {counts[-1][1]:.0f} ({counts[-1][0]:.0f} to {counts[-1][2]:.0f}) "
        "at the end of the drive.",
    )


def stock_svg(shelf: StockLine, *, width: float = 460, height: float = 200) -> str:
    """Tools of one type on the shelf by date if nothing more is ordered."""
    days = [(when - shelf.dates[0]).days for when in shelf.dates]
    low, high = min(0.0, *shelf.p05), max(1.0, *shelf.p95)
    frame = Frame(width=width, height=height, x=(0, max(days[-1], 1)), y=(low, high))
    start = shelf.dates[0].toordinal()
    months = [d for d in range(days[-1] + 1) if type(shelf.dates[0]).fromordinal(start + d).day == 1]
    step = max(1, len(months) // 8 + 1)
    frame.axes(
        x_name="date",
        y_name="tools on the shelf",
        x_ticks=months[::step],
        x_text=lambda d: type(shelf.dates[0]).fromordinal(start + int(d)).strftime("%Y-%m"),
    )
    frame.band(days, shelf.p05, shelf.p95, colour=svg.BLUE, opacity=0.2)
    frame.curve(days, shelf.p50, colour=svg.BLUE)
    frame.add(svg.line(frame.x0, frame.py(0), frame.x1, frame.py(0), colour=svg.ORANGE, dash="6 3"))
    return frame.svg(
        title=f"{shelf.tool_type}: tools on the shelf by date, if nothing more is ordered",
        description=f"From {shelf.p50[0]:.0f} to {shelf.p50[-1]:.0f} "
        f"({shelf.p05[-1]:.0f} to {shelf.p95[-1]:.0f}) at the last date.",
    )
