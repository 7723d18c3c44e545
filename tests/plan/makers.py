"""Small invented sites and outlooks in memory, so that the plan can be tried without a fit."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np

from wearplan.site.records import (
    Costs,
    Drive,
    EntryRow,
    ForcedStop,
    Ground,
    KeepOut,
    Pace,
    Position,
    RingRow,
    Row,
    Section,
    Site,
    Stops,
    ToolType,
    Unit,
    Wheel,
    Window,
)
from wearplan.wheel import Layout, layout_at


@dataclass(frozen=True)
class MadeOutlook:
    """What the plan needs of an outlook, and no more."""

    site: Site = field(repr=False)
    layout: Layout = field(repr=False)
    face_m: float
    end_m: float
    grid_m: Any
    numbers: Any
    limit_mm: Any
    damage_limit_mm: Any
    wear_now_mm: Any
    life_factor: Any
    potential_mm: Any
    damage_hazard: Any
    life_sd: Any
    step_mm: Any
    lives: tuple = ()
    unknown: Any = None


DISC = ToolType(
    code="disc-17",
    kind="disc",
    diameter_mm=432.0,
    wear_limit_mm=25.0,
    damage_limit_mm=32.0,
    price=3200.0,
    rebuild_price=1100.0,
    rebuildable_share=0.75,
    lead_time_days=70.0,
    rebuild_days=14.0,
    change_hours={"free air": 1.0, "compressed air": 2.5},
)
SCRAPER = ToolType(
    code="scraper-a",
    kind="scraper",
    wear_limit_mm=30.0,
    damage_limit_mm=45.0,
    price=600.0,
    lead_time_days=30.0,
    change_hours={"free air": 0.3, "compressed air": 0.7},
)
AIR = EntryRow(
    mode="compressed air",
    up_to_pressure_bar=1.2,
    working_hours_per_entry=4.0,
    entries_per_day=2.0,
    persons=3,
    places=2,
    document="invented, not for use",
    approved_by="nobody",
    approved_on=date(2026, 1, 1),
)
FREE = EntryRow(
    mode="free air",
    up_to_pressure_bar=0.0,
    working_hours_per_entry=8.0,
    entries_per_day=3.0,
    persons=3,
    places=3,
    document="invented, not for use",
    approved_by="nobody",
)


def window(name: str, from_m: float, to_m: float, **over: Any) -> Window:
    """A window of an invented drive whose chainage is the driven length."""
    given: dict[str, Any] = {
        "kind": "shaft",
        "mode": "free air",
        "pressure_bar": 0.0,
        "pressure_source": "invented",
        "setup_hours": 12.0,
    }
    given.update(over)
    return Window(name=name, from_chainage_m=from_m, to_chainage_m=to_m, from_m=from_m, to_m=to_m, **given)


def air_window(name: str, from_m: float, to_m: float, pressure_bar: float = 1.0, **over: Any) -> Window:
    """The same in compressed air."""
    return window(
        name, from_m, to_m, **{"kind": "treated block", "mode": "compressed air", "pressure_bar": pressure_bar, **over}
    )


def keep_out(from_m: float, to_m: float, reason: str = "below the river") -> KeepOut:
    return KeepOut(from_chainage_m=from_m, to_chainage_m=to_m, from_m=from_m, to_m=to_m, reason=reason)


def forced_stop(from_m: float, to_m: float, hours: float = 400.0) -> ForcedStop:
    return ForcedStop(from_m=from_m, to_m=to_m, from_chainage_m=from_m, to_chainage_m=to_m, hours=hours)


def make_site(
    *,
    discs: int = 12,
    gauge: int = 2,
    scrapers: int = 0,
    housings: int = 0,
    may_be_over: int = 1,
    windows: tuple[Window, ...] = (),
    rows: tuple[EntryRow, ...] = (AIR, FREE),
    keep_outs: tuple[KeepOut, ...] = (),
    forced_stops: tuple[ForcedStop, ...] = (),
    face_m: float = 300.0,
    end_m: float = 1000.0,
    costs: Costs | None = None,
    steps: dict[str, float] | None = None,
    caps: dict[str, float] | None = None,
    neighbour_step_mm: float | None = None,
    jurisdiction: str | None = None,
    shield_diameter_m: float | None = None,
    required_overcut_mm: float | None = None,
    disc: ToolType = DISC,
) -> Site:
    """A site whose discs stand at even radii, the last ``gauge`` of them gauge tools; scrapers in rows of four."""
    positions = []
    for i in range(discs):
        zone = "gauge" if i >= discs - gauge else "face"
        positions.append(
            Position(
                number=i + 1,
                tool_type=disc.code,
                track_radius_mm=300.0 + 3200.0 * i / max(1, discs - 1),
                angle_deg=(137.5 * i) % 360.0,
                zone=zone,
                housing=f"C{i // 2 + 1}" if i < 2 * housings else None,
            )
        )
    codes = []
    for i in range(scrapers):
        code = f"S{i // 4 + 1}"
        codes.append(code)
        positions.append(
            Position(
                number=101 + i,
                tool_type=SCRAPER.code,
                track_radius_mm=800.0 + 350.0 * (i // 4),
                angle_deg=(90.0 * i) % 360.0,
                zone="face",
                row=code,
            )
        )
    wheel = Wheel(
        bore_diameter_m=7.12,
        shield_diameter_m=shield_diameter_m,
        neighbour_step_limit_mm=neighbour_step_mm,
        max_over_limit_probability={"gauge": 0.05, "face": 0.15} if caps is None else caps,
        tool_types=(disc, SCRAPER),
        positions=tuple(positions),
        rows=tuple(Row(code=c, may_be_over=may_be_over) for c in dict.fromkeys(codes)),
    )
    section = Section(
        from_chainage_m=0.0,
        to_chainage_m=end_m,
        from_m=0.0,
        to_m=end_m,
        mix={"SG": 1.0},
        required_overcut_mm=required_overcut_mm,
    )
    ring = 1.5
    count = round(face_m / ring)
    return Site(
        name="invented",
        invented=True,
        jurisdiction=jurisdiction,
        drive=Drive(start_chainage_m=0.0, end_chainage_m=end_m, ring_length_m=ring),
        pace=Pace(advance_m_per_day=12.0),
        wheel=wheel,
        grounds=(
            Ground(
                known_on=date(2026, 1, 1),
                source="invented",
                units=(Unit(code="SG", name="dense sandy gravel"),),
                sections=(section,),
            ),
        ),
        stops=Stops(
            costs=costs or Costs(standstill_per_hour=2600.0, late_tool=18000.0, late_tool_per_m=60.0),
            forced_stops=forced_stops,
            steps={"lower_level": 4.0, "air_support": 10.0, "clean_and_look": 2.0, "refill": 5.0}
            if steps is None
            else steps,
            entry_rows=rows,
            windows=windows,
            keep_outs=keep_outs,
        ),
        rings=tuple(
            RingRow(
                ring=k + 1,
                start_chainage_m=k * ring,
                end_chainage_m=(k + 1) * ring,
                start_m=k * ring,
                end_m=(k + 1) * ring,
                revolutions_boring=75.0,
            )
            for k in range(count)
        ),
    )


def make_outlook(
    site: Site,
    *,
    mm_per_100m: float = 5.0,
    wear_now_mm: float | dict[int, float] = 8.0,
    draws: int = 120,
    rate_sd: float = 0.1,
    life_sd: float = 0.12,
    step_mm: float = 0.3,
    wear_sd: float = 0.5,
    hazard_per_km: float = 0.0,
    seed: int = 1,
    factor: float = 1.0,
) -> MadeOutlook:
    """Rates grow with radius (gauge tools wear about as fast again); one rate draw shared by all tools."""
    rng = np.random.default_rng(seed)
    face = max((r.end_m or 0.0) for r in site.rings) if site.rings else 0.0
    end = site.drive.length_m
    layout = layout_at(site.wheel, face)
    grid = np.unique(np.concatenate([np.arange(face, end, 3.0), [face, end]]))
    places = len(layout.positions)
    radius = layout.track_radius_mm / layout.track_radius_mm.max()
    kind = np.array([1.0 if k == "disc" else 0.7 for k in layout.kinds])
    base = mm_per_100m / 100.0 * factor * (0.4 + 0.6 * radius) * kind
    rate = base[None, :] * np.exp(rate_sd * rng.standard_normal((draws, 1)))
    potential = (rate[:, :, None] * (grid - face)).astype(np.float32)
    if isinstance(wear_now_mm, dict):
        mean = np.array([wear_now_mm.get(int(n), 2.0) for n in layout.numbers], dtype=float)
    else:
        mean = np.full(places, float(wear_now_mm))
    now = np.maximum(mean + wear_sd * rng.standard_normal((draws, places)), 0.0)
    shape = 1.0 / max(life_sd, 1e-6) ** 2
    return MadeOutlook(
        site=site,
        layout=layout,
        face_m=face,
        end_m=end,
        grid_m=grid,
        numbers=layout.numbers,
        limit_mm=layout.limit_mm,
        damage_limit_mm=layout.damage_limit_mm,
        wear_now_mm=now,
        life_factor=rng.gamma(shape, 1.0 / shape, (draws, places)),
        potential_mm=potential,
        damage_hazard=np.broadcast_to((hazard_per_km * (grid - face) / 1000.0).astype(np.float32), potential.shape),
        life_sd=np.full((draws, places), life_sd),
        step_mm=np.full((draws, places), step_mm),
        lives=(None,) * places,
        unknown=np.zeros(places, dtype=bool),
    )
