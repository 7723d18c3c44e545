"""The wheel of the sample: 52 disc edges, 40 scrapers and 16 bucket tools on a bore of 8.84 m. Invented."""

from __future__ import annotations

from wearplan.site.records import Gauging, Position, Row, StructurePoint, ToolType, Wheel

RIM_MM = 4420.0
ARMS = "ABCDEF"

DISC_HOURS = {"free air": 1.0, "compressed air": 2.5}
TWIN_HOURS = {"free air": 1.75, "compressed air": 4.0}
DRAG_HOURS = {"free air": 0.5, "compressed air": 1.25}

TOOL_TYPES = (
    ToolType(
        code="disc-17", kind="disc", diameter_mm=432.0, wear_limit_mm=25.0, damage_limit_mm=32.0, price=3200.0,
        rebuild_price=1150.0, rebuildable_share=0.75, lead_time_days=60.0, rebuild_days=14.0, change_hours=DISC_HOURS,
    ),
    ToolType(
        code="disc-17-wide", kind="disc", diameter_mm=432.0, wear_limit_mm=25.0, damage_limit_mm=32.0, price=3900.0,
        rebuild_price=1400.0, rebuildable_share=0.7, lead_time_days=75.0, rebuild_days=18.0, change_hours=DISC_HOURS,
    ),
    ToolType(
        code="disc-17-twin", kind="disc", diameter_mm=432.0, wear_limit_mm=22.0, damage_limit_mm=30.0, price=6100.0,
        rebuild_price=2500.0, rebuildable_share=0.7, lead_time_days=90.0, rebuild_days=21.0, change_hours=TWIN_HOURS,
    ),
    ToolType(
        code="scraper-flat", kind="scraper", wear_limit_mm=20.0, damage_limit_mm=28.0, price=620.0,
        lead_time_days=35.0, change_hours=DRAG_HOURS,
    ),
    ToolType(
        code="scraper-studded", kind="scraper", wear_limit_mm=24.0, damage_limit_mm=32.0, price=880.0,
        lead_time_days=45.0, change_hours=DRAG_HOURS,
    ),
    ToolType(
        code="bucket-left", kind="bucket tool", wear_limit_mm=18.0, damage_limit_mm=26.0, price=960.0,
        lead_time_days=40.0, change_hours=DRAG_HOURS,
    ),
    ToolType(
        code="bucket-right", kind="bucket tool", wear_limit_mm=18.0, damage_limit_mm=26.0, price=960.0,
        lead_time_days=40.0, change_hours=DRAG_HOURS,
    ),
)  # fmt: skip


def _discs() -> list[Position]:
    positions: list[Position] = []
    # four twin housings across the centre
    for k in range(8):
        positions.append(
            Position(
                number=k + 1, tool_type="disc-17-twin", track_radius_mm=90.0 + 92.0 * k,
                angle_deg=float((k // 2) * 90 % 360), zone="centre", housing=f"C{k // 2 + 1}", arm=ARMS[(k // 2) % 2],
            )
        )  # fmt: skip
    # 34 single discs over the face, the outer ten with wide rings
    for k in range(34):
        number = k + 9
        positions.append(
            Position(
                number=number, tool_type="disc-17-wide" if k >= 24 else "disc-17",
                track_radius_mm=float(round(826.0 + (4010.0 - 826.0) * k / 33.0)), angle_deg=float((k * 60 + 25) % 360),
                zone="face", arm=ARMS[k % 6],
            )
        )  # fmt: skip
    # ten gauge discs on a curve, tilted out to the bore
    for k in range(10):
        number = k + 43
        tilt = 8.0 + 7.0 * k
        radius = float(round(4075.0 + 345.0 * (k / 9.0) ** 0.8))
        positions.append(
            Position(
                number=number, tool_type="disc-17-wide", track_radius_mm=radius,
                angle_deg=float((k * 60 + 40) % 360), tilt_deg=tilt, zone="gauge", wear_limit_mm=18.0,
                sensor_mm=(10.0,) if k in (3, 6, 9) else (), arm=ARMS[k % 6],
            )
        )  # fmt: skip
    return positions


def _drag_tools() -> tuple[list[Position], list[Row]]:
    positions: list[Position] = []
    rows: list[Row] = []
    number = 60
    for k in range(10):
        row = f"S{k + 1}"
        radius = float(round(900.0 + 3250.0 * k / 9.0, -1))
        for m in range(4):
            number += 1
            positions.append(
                Position(
                    number=number, tool_type="scraper-studded" if k >= 6 else "scraper-flat", track_radius_mm=radius,
                    angle_deg=float((m * 90 + 9 * k + 10) % 360), zone="gauge" if k == 9 else "face", row=row,
                    sensor_mm=(12.0, 18.0) if m == 0 and k in (4, 7, 9) else (), arm=ARMS[(m + k) % 6],
                )
            )  # fmt: skip
        rows.append(Row(code=row, may_be_over=2 if k < 6 else 1))
    number = 110
    for row, code, radius, zone, cuts in (
        ("B1", "bucket-left", 3800.0, "face", "ccw"), ("B2", "bucket-right", 3800.0, "face", "cw"),
        ("B3", "bucket-left", 4400.0, "gauge", "ccw"), ("B4", "bucket-right", 4400.0, "gauge", "cw"),
    ):  # fmt: skip
        for m in range(4):
            number += 1
            positions.append(
                Position(
                    number=number, tool_type=code, track_radius_mm=radius,
                    angle_deg=float((m * 90 + (5 if cuts == "cw" else -5)) % 360), zone=zone, row=row, cuts=cuts,
                    arm=ARMS[m % 6],
                )
            )  # fmt: skip
        rows.append(Row(code=row, may_be_over=1))
    return positions, rows


STRUCTURE = tuple(
    StructurePoint(code=code, thickness_new_mm=new, thickness_min_mm=least, track_radius_mm=radius)
    for code, new, least, radius in (
        ("rim-1", 80.0, 60.0, 4380.0), ("rim-2", 80.0, 60.0, 4380.0), ("plate-inner", 60.0, 45.0, 1500.0),
        ("plate-outer", 60.0, 45.0, 3300.0), ("lip-3", 50.0, 35.0, 4100.0), ("port-2", 30.0, 18.0, 2600.0),
    )
)  # fmt: skip


def wheel() -> Wheel:
    drag, rows = _drag_tools()
    return Wheel(
        bore_diameter_m=8.84, shield_diameter_m=8.79, neighbour_step_limit_mm=22.0,
        gauging=(
            Gauging(method="gauge", sd_mm=0.5, step_mm=0.5), Gauging(method="caliper", sd_mm=0.4, step_mm=0.1),
            Gauging(method="by eye", sd_mm=2.5, step_mm=5.0),
        ),
        max_over_limit_probability={"gauge": 0.15, "face": 0.3, "centre": 0.3},
        tool_types=TOOL_TYPES, positions=(*_discs(), *drag), rows=tuple(rows), structure_points=STRUCTURE,
    )  # fmt: skip
