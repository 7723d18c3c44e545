"""A small invented drive in memory, to be bent by each test."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from wearplan.site.records import (
    Drive,
    Fitting,
    Gauging,
    Ground,
    Inspection,
    Measurement,
    Pace,
    Position,
    RingRow,
    Section,
    Site,
    Stratum,
    ToolType,
    Unit,
    Wheel,
)

START = datetime(2025, 1, 6, 6, 0, tzinfo=UTC)
RING_M = 1.5


def tool_types() -> tuple[ToolType, ...]:
    return (
        ToolType(
            code="disc-17",
            kind="disc",
            diameter_mm=432.0,
            wear_limit_mm=25.0,
            damage_limit_mm=32.0,
            price=3000.0,
            lead_time_days=70.0,
        ),
        ToolType(
            code="disc-17h", kind="disc", diameter_mm=432.0, wear_limit_mm=28.0, price=3600.0, lead_time_days=70.0
        ),
        ToolType(code="scraper", kind="scraper", wear_limit_mm=20.0, price=400.0, lead_time_days=30.0),
    )


def make_wheel(places: int = 40, **changes) -> Wheel:
    """Discs on rising radii, the last four at the gauge; of every ten places one is a scraper."""
    positions = []
    for number in range(1, places + 1):
        zone = "centre" if number <= 4 else "gauge" if number > places - 4 else "face"
        positions.append(
            Position(
                number=number,
                tool_type="scraper" if number % 10 == 0 else "disc-17",
                track_radius_mm=3500.0 * number / places,
                angle_deg=number * 137.5 % 360.0,
                zone=zone,
                tilt_deg=40.0 if zone == "gauge" else 0.0,
            )
        )
    given = {
        "bore_diameter_m": 7.0,
        "gauging": (
            Gauging(method="gauge", sd_mm=0.5, step_mm=0.5),
            Gauging(method="by eye", sd_mm=2.5, step_mm=5.0),
        ),
        "tool_types": tool_types(),
        "positions": tuple(positions),
        **changes,
    }
    return Wheel(**given)


def make_ground(length_m: float = 1500.0, known_on: date = date(2024, 6, 1)) -> Ground:
    """Well mixed, then a hard invert, then a stretch not cut, then mixed again."""
    units = tuple(Unit(code=code, name=code) for code in ("CL", "SG", "RK"))
    edges = [0.0, 0.3 * length_m, 0.6 * length_m, 0.65 * length_m, length_m]
    contents = [
        {"mix": {"SG": 0.7, "CL": 0.3}, "penetration_mm_per_rev": 20.0},
        {"strata": (Stratum(unit="CL"), Stratum(unit="SG", top_m=1.1), Stratum(unit="RK", top_m=-2.0))},
        {"cut": False, "mix": {"CL": 1.0}},
        {"mix": {"CL": 1.0}},
    ]
    sections = tuple(
        Section(from_chainage_m=100 + a, to_chainage_m=100 + b, from_m=a, to_m=b, **what)
        for a, b, what in zip(edges, edges[1:], contents, strict=False)
    )
    return Ground(known_on=known_on, source="tender investigation", units=units, sections=sections)


def ring(number: int, *, turns: float | None = 75.0, idle: float | None = 3.0, **changes) -> RingRow:
    """Ring ``number`` of `RING_M`, 20 mm a turn."""
    start, end = (number - 1) * RING_M, number * RING_M
    given = {
        "ring": number,
        "start_chainage_m": 100.0 + start,
        "end_chainage_m": 100.0 + end,
        "start_m": start,
        "end_m": end,
        "finished_at": START + timedelta(hours=3 * number),
        "revolutions_boring": turns,
        "revolutions_idle": idle,
        **changes,
    }
    return RingRow(**given)


def stop(at_ring: int, *measurements: Measurement, fittings: tuple[Fitting, ...] = (), **changes) -> Inspection:
    """An inspection with the face at the end of a ring."""
    at = START + timedelta(hours=3 * at_ring)
    given = {
        "id": f"{at:%Y%m%dT%H%M}-r{at_ring}",
        "ring": at_ring,
        "chainage_m": 100.0 + at_ring * RING_M,
        "driven_m": at_ring * RING_M,
        "started_at": at,
        "mode": "free air",
        "measurements": measurements,
        "fittings": fittings,
        **changes,
    }
    return Inspection(**given)


def read(position: int, wear_mm: float | None = None, **changes) -> Measurement:
    return Measurement(position=position, wear_mm=wear_mm, **{"method": "gauge", **changes})


def make_site(count: int = 400, /, *inspections: Inspection, length_m: float = 1500.0, **changes) -> Site:
    given = {
        "name": "a small invented drive",
        "invented": True,
        "drive": Drive(start_chainage_m=100.0, end_chainage_m=100.0 + length_m, ring_length_m=RING_M),
        "pace": Pace(advance_m_per_day=12.0),
        "wheel": make_wheel(),
        "grounds": (make_ground(length_m),),
        "rings": tuple(ring(number) for number in range(1, count + 1)),
        "inspections": inspections,
        **changes,
    }
    return Site(**given)
