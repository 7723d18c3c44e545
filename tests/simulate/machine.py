"""Draws a wheel: discs from the centre out, scrapers in rows, bucket tools at the rim."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wearplan.site.records import Gauging, Position, Row, ToolType, Wheel

from .options import Options


def tool_types(*, disc_limit_mm: float = 25.0) -> tuple[ToolType, ...]:
    """Types of a drawn wheel; round figures, invented."""
    hours = {"free air": 1.0, "compressed air": 2.2}
    light = {"free air": 0.5, "compressed air": 1.2}
    return (
        ToolType(
            code="disc-a", kind="disc", diameter_mm=432.0, wear_limit_mm=disc_limit_mm,
            damage_limit_mm=disc_limit_mm + 7.0, price=3000.0, rebuild_price=1100.0, rebuildable_share=0.75,
            lead_time_days=60.0, rebuild_days=14.0, change_hours=hours,
        ),
        ToolType(
            code="disc-t", kind="disc", diameter_mm=432.0, wear_limit_mm=disc_limit_mm,
            damage_limit_mm=disc_limit_mm + 7.0, price=4600.0, rebuild_price=1800.0, rebuildable_share=0.75,
            lead_time_days=70.0, rebuild_days=16.0, change_hours={"free air": 1.6, "compressed air": 3.4},
        ),
        ToolType(
            code="scr-a", kind="scraper", wear_limit_mm=22.0, damage_limit_mm=32.0, price=700.0,
            lead_time_days=35.0, change_hours=light,
        ),
        ToolType(
            code="bkt-a", kind="bucket tool", wear_limit_mm=20.0, damage_limit_mm=30.0, price=950.0,
            lead_time_days=40.0, change_hours=light,
        ),
    )  # fmt: skip


def draw_wheel(options: Options, rng: np.random.Generator) -> Wheel:
    """A wheel of ``options.places`` cutting edges with a bore in keeping with their number."""
    places = options.places
    bore_m = float(np.clip(3.4 + 0.06 * places + rng.uniform(-0.3, 0.3), 4.0, 15.0))
    rim_mm = 500.0 * bore_m
    twins = max(1, places // 25)
    discs = max(2 * twins + 6, int(0.55 * places))
    buckets = max(4, int(0.12 * places))
    scrapers = max(4, places - discs - buckets)
    positions: list[Position] = []
    rows: list[Row] = []
    radius = np.linspace(0.06, 1.0, discs) ** 0.9 * (rim_mm - 15.0)
    gauge_from = 0.9 * rim_mm
    for k in range(discs):
        twin = k < 2 * twins
        zone = "centre" if twin else "gauge" if radius[k] > gauge_from else "face"
        tilt = float(round(70.0 * (radius[k] - gauge_from) / (rim_mm - gauge_from), 0)) if zone == "gauge" else 0.0
        positions.append(
            Position(
                number=k + 1, tool_type="disc-t" if twin else "disc-a", track_radius_mm=float(round(radius[k])),
                angle_deg=float((k * 137) % 360), tilt_deg=tilt, zone=zone,
                wear_limit_mm=16.0 if zone == "gauge" else None, housing=f"C{k // 2 + 1}" if twin else None,
                arm="ABCDEF"[k % 6], sensor_mm=(12.0,) if options.sensors and zone == "gauge" and k % 2 else (),
            )
        )  # fmt: skip
    number = discs
    per_row = 2 if scrapers < 30 else 4
    for k in range(scrapers):
        row = f"S{k // per_row + 1}"
        tracks = max(1, -(-scrapers // per_row))
        at = rim_mm * (0.25 + 0.68 * (k // per_row) / max(1, tracks - 1)) if tracks > 1 else 0.6 * rim_mm
        number += 1
        positions.append(
            Position(
                number=number, tool_type="scr-a", track_radius_mm=float(round(at)),
                angle_deg=float((k * 360 // per_row + 17 * (k // per_row)) % 360),
                zone="gauge" if at > 0.9 * rim_mm else "face", row=row, arm="ABCDEF"[k % 6],
            )
        )  # fmt: skip
    for code in dict.fromkeys(p.row for p in positions if p.row):
        rows.append(Row(code=code, may_be_over=max(1, per_row // 2 - 1)))
    for k in range(buckets):
        number += 1
        inner = k % 2 == 0
        positions.append(
            Position(
                number=number, tool_type="bkt-a", track_radius_mm=float(round(rim_mm * (0.78 if inner else 0.985))),
                angle_deg=float(k * 360 // buckets), zone="face" if inner else "gauge",
                cuts=("cw", "ccw", "both")[k % 3], arm="ABCDEF"[k % 6],
            )
        )  # fmt: skip
    return Wheel(
        bore_diameter_m=round(bore_m, 2), shield_diameter_m=round(bore_m - 0.06, 2),
        gauging=(
            Gauging(method="gauge", sd_mm=options.gauge_sd_mm, step_mm=options.step_mm),
            Gauging(method="by eye", sd_mm=2.5, step_mm=5.0),
        ),
        tool_types=tool_types(), positions=tuple(positions), rows=tuple(rows),
    )  # fmt: skip


OTHER_GRADE = "disc-b"


def with_other_grade(wheel: Wheel) -> Wheel:
    """The wheel with another grade of its plain disc on offer."""
    plain = wheel.tool_type("disc-a")
    return replace(wheel, tool_types=(*wheel.tool_types, replace(plain, code=OTHER_GRADE, price=1.2 * plain.price)))
