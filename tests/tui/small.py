# ruff: noqa: E501
"""A small invented site in memory, with stand-ins for the rooms that take long, so that the screens can be tried by
themselves. The whole way through the real rooms is tried elsewhere."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from wearplan.plan.records import Alternative, Caution, Change, Deferral, Plan, Policy, Stop, Wishes
from wearplan.site.records import (
    Costs,
    Drive,
    EntryRow,
    Fault,
    Ground,
    Inspection,
    KeepOut,
    Measurement,
    OnOrder,
    Pace,
    Position,
    RingRow,
    Section,
    Site,
    Stock,
    Stops,
    Stores,
    Stratum,
    ToolType,
    Unit,
    Wheel,
    Window,
)  # fmt: skip
from wearplan.tui.rooms import Rooms
from wearplan.tui.state import Snapshot
from wearplan.wear.quantiles import Quantiles
from wearplan.wear.results import DamageRate, Flag, Rate, ZoneFactor

FACE_M = 900.0


def small_site(places: int = 24, inspections: int = 3, folder: Path | None = None) -> Site:
    """A drive of 1,500 m, 900 m of it driven."""
    drive = Drive(start_chainage_m=100.0, end_chainage_m=1600.0, ring_length_m=1.5)
    types = (
        ToolType(code="disc-17", kind="disc", diameter_mm=432.0, wear_limit_mm=25.0, damage_limit_mm=32.0, price=3200.0,
                 rebuild_price=1100.0, rebuildable_share=0.7, lead_time_days=60, rebuild_days=14,
                 change_hours={"free air": 1.0, "compressed air": 2.5}),
        ToolType(code="scraper-a", kind="scraper", wear_limit_mm=40.0, price=400.0, lead_time_days=30,
                 change_hours={"free air": 0.5, "compressed air": 1.0}),
    )  # fmt: skip
    positions = tuple(
        Position(
            number=n,
            tool_type="disc-17" if n % 3 else "scraper-a",
            track_radius_mm=250.0 + 3200.0 * n / places,
            angle_deg=(n * 137.5) % 360,
            zone="centre" if n <= places // 6 else "gauge" if n > places - 4 else "face",
            arm="ABCD"[n % 4],
            sensor_mm=(12.0,) if n == 7 else (),
        )
        for n in range(1, places + 1)
    )
    units = (Unit(code="SG", name="dense sandy gravel", cai=2.4), Unit(code="CL", name="stiff clay"))
    sections = (
        Section(from_chainage_m=100, to_chainage_m=800, from_m=0, to_m=700, mix={"SG": 0.7, "CL": 0.3}, boundary_sd_m=15),
        Section(from_chainage_m=800, to_chainage_m=1600, from_m=700, to_m=1500,
                strata=(Stratum(unit="CL"), Stratum(unit="SG", top_m=-0.5))),
    )  # fmt: skip
    windows = (
        Window(name="shaft 1", kind="shaft", from_chainage_m=500, to_chainage_m=506, from_m=400, to_m=406,
               mode="free air", pressure_bar=0.0, setup_hours=10),
        Window(name="block [2]", kind="treated block", from_chainage_m=1100, to_chainage_m=1110, from_m=1000, to_m=1010,
               mode="compressed air", pressure_bar=1.1, setup_hours=14),
        Window(name="rock 3", kind="competent ground", from_chainage_m=1300, to_chainage_m=1330, from_m=1200, to_m=1230,
               mode="free air", pressure_bar=0.0, setup_hours=8),
    )  # fmt: skip
    started = datetime(2026, 3, 1, 6, tzinfo=UTC)
    stops = tuple(
        Inspection(
            id=f"2026030{k + 1}T0600-aaaa{k}a", number=k + 1, ring=200 * (k + 1), chainage_m=100 + 300.0 * (k + 1),
            driven_m=300.0 * (k + 1), started_at=started + timedelta(days=20 * k), mode="free air",
            measurements=tuple(
                Measurement(position=p.number, wear_mm=round((k + 1) * 0.02 * p.track_radius_mm / 100 * 10, 1), method="gauge",
                            condition="even")
                if p.number % 5 or k % 2 == 0
                else Measurement(position=p.number, not_read="not reached")
                for p in positions if p.number != places
            ),
        )
        for k in range(inspections)
    )  # fmt: skip
    rings = tuple(
        RingRow(ring=r, start_chainage_m=100 + 1.5 * (r - 1), end_chainage_m=100 + 1.5 * r, start_m=1.5 * (r - 1),
                end_m=1.5 * r, revolutions_boring=70.0, finished_at=started + timedelta(hours=2.4 * (r - 200)))
        for r in range(1, int(FACE_M / 1.5) + 1)
    )  # fmt: skip
    return Site(
        name="Small drive [red]", invented=True, drive=drive, pace=Pace(advance_m_per_day=12),
        wheel=Wheel(bore_diameter_m=7.1, tool_types=types, positions=positions,
                    max_over_limit_probability={"gauge": 0.05, "face": 0.15}),
        grounds=(Ground(known_on=date(2025, 3, 1), source="tender investigation", units=units, sections=sections),),
        stops=Stops(costs=Costs(standstill_per_hour=2600, late_tool=18000), windows=windows,
                    keep_outs=(KeepOut(from_chainage_m=1130, to_chainage_m=1200, from_m=1030, to_m=1100, reason="river"),),
                    entry_rows=(EntryRow(mode="compressed air", up_to_pressure_bar=1.2, working_hours_per_entry=4.0,
                                         entries_per_day=2, persons=3, places=2),)),
        stores=Stores(stock=(Stock(tool_type="disc-17", on_hand=4, in_rebuild=2,
                                   on_order=(OnOrder(quantity=6, due=date(2026, 7, 1)),)),
                             Stock(tool_type="scraper-a", on_hand=20))),
        rings=rings, inspections=stops, folder=folder, inputs_sha256="00" * 32,
    )  # fmt: skip


def quantiles(middle: float, spread: float = 0.2) -> Quantiles:
    """A band round a middle."""
    return Quantiles.of(middle * (1 + spread * np.linspace(-2, 2, 401)))


@dataclass
class SmallOutlook:
    """Wear that grows evenly, in the shape of an outlook."""

    site: Site
    layout: Any
    face_m: float
    end_m: float
    draws: int = 60
    doubted_over_limit: tuple[tuple[int, float, float, float], ...] = ()

    def __post_init__(self) -> None:
        random = np.random.default_rng(4)
        self.numbers = self.layout.numbers
        self.limit_mm = self.layout.limit_mm
        self.damage_limit_mm = self.layout.damage_limit_mm
        self.grid_m = np.linspace(self.face_m, self.end_m, 25)
        share = np.linspace(0.1, 1.05, len(self.numbers))
        self.wear_now_mm = share * self.limit_mm * (1 + 0.05 * random.standard_normal((self.draws, len(self.numbers))))
        self._per_m = 0.012 * (1 + 0.15 * random.standard_normal((self.draws, 1)))

    @cached_property
    def wear_mm(self) -> np.ndarray:
        return np.stack([self.wear_at(at) for at in self.grid_m.tolist()], axis=2)

    def wear_at(self, driven_m: float) -> np.ndarray:
        return self.wear_now_mm + self._per_m * (driven_m - self.face_m)

    def quantiles_at(self, driven_m: float) -> tuple[Quantiles, ...]:
        return tuple(Quantiles.of(column) for column in self.wear_at(driven_m).T)

    def over_limit_probability(self, driven_m: float) -> np.ndarray:
        return (self.wear_at(driven_m) >= self.limit_mm).mean(axis=0)

    def over_damage_probability(self, driven_m: float) -> np.ndarray:
        return (self.wear_at(driven_m) >= self.damage_limit_mm).mean(axis=0)

    def limit_m(self) -> np.ndarray:
        at = self.face_m + np.maximum(0.0, self.limit_mm - self.wear_now_mm) / self._per_m
        return np.where(at > self.end_m, np.inf, at)

    def tools(self) -> tuple[Any, ...]:
        rows = []
        limits = self.limit_m()
        seen = {m.position: i for i in self.site.inspections for m in i.measurements if m.wear_mm is not None}
        for index, position in enumerate(self.layout.positions):
            spread = np.quantile(limits[:, index], [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95], method="lower")
            values = [None if np.isinf(v) else self.site.drive.chainage_m(float(v)) for v in spread]
            last = seen.get(position.number)
            rows.append(
                SimpleNamespace(
                    position=position.number, serial=f"D-{position.number:04d}", kind=self.layout.kinds[index],
                    zone=position.zone, limit_mm=float(self.limit_mm[index]), unknown=last is None,
                    last_read=(last.driven_m, last.chainage_m, last.id) if last else None,
                    wear_now_mm=Quantiles.of(self.wear_now_mm[:, index]),
                    limit_chainage_m=Quantiles(*values),
                    limit_driven_m=Quantiles(*(None if np.isinf(v) else float(v) for v in spread)),
                    beyond_drive_probability=float(np.isinf(limits[:, index]).mean()), life=None,
                )
            )  # fmt: skip
        return tuple(rows)


class SmallRooms(Rooms):
    """Stand-ins: quick, and of known numbers. ``calls`` notes what was asked."""

    def __init__(self, site: Site | None = None, faults: tuple[Fault, ...] = ()) -> None:
        self.site = site if site is not None else small_site()
        self.faults = faults
        self.calls: list[str] = []

    def read(self, snapshot: Snapshot, progress: Any, should_stop: Any) -> dict[str, Any]:
        self.calls.append("read")
        return {"site": replace(self.site, folder=snapshot.folder, faults=self.faults), "faults": self.faults}

    def rates(self, snapshot: Snapshot, progress: Any, should_stop: Any) -> dict[str, Any]:
        self.calls.append("rates")
        progress("learning", 0.5)
        rates = tuple(
            Rate(kind=kind, unit=unit, mm_per_km=quantiles(0.02 * k), mm_per_1000_m3=quantiles(0.3 * k),
                 m3_per_tool=quantiles(5000 / k), tools_per_1000_m3=quantiles(0.2 * k), path_km=310.0, volume_m3=22000.0,
                 readings=40 * k, basis="readings")
            for kind in ("disc", "scraper") for k, unit in ((1, "SG"), (2, "CL"))
        )  # fmt: skip
        zones = (ZoneFactor(kind="disc", zone="gauge", factor=quantiles(1.4), basis="readings"),)
        damage = (
            DamageRate(kind="disc", unit="SG", zone="face", per_1000_km=quantiles(0.4), events=2.0, exposure_km=4000),
        )
        flags = (
            (Flag(inspection_id=snapshot.site.inspections[-1].id, position=5, what="wear fell by 2.0 mm"),)
            if snapshot.site and snapshot.site.inspections
            else ()
        )
        return {
            "fit": SimpleNamespace(
                site=snapshot.site, units=("SG", "CL"), kinds=("disc", "scraper"), rates=rates, zones=zones, damage=damage,
                layered_damage=(), types=(), batches=(), flagged=flags, remarks=("The stretch 0+500.0 – 0+560.0 wears 20 % more than the model says.",), factors=(), stretches=(),
                reference_radius_mm=2500.0, reference_penetration_mm=20.0, lives=(), face_m=FACE_M,
            )
        }  # fmt: skip

    def outlook(self, snapshot: Snapshot, progress: Any, should_stop: Any) -> dict[str, Any]:
        assert snapshot.history is not None
        assert snapshot.site is not None
        outlook = SmallOutlook(snapshot.site, snapshot.history.layout, FACE_M, 1500.0)
        over = (outlook.wear_mm > outlook.limit_mm[None, :, None]).mean(axis=0).sum(axis=0)
        return {"outlook": outlook, "tools": {tool.position: tool for tool in outlook.tools()}, "over_ahead": over}

    def plan_first(self, snapshot: Snapshot, progress: Any, should_stop: Any) -> dict[str, Any]:
        return {}

    def plan(self, snapshot: Snapshot, progress: Any, should_stop: Any) -> dict[str, Any]:
        self.calls.append("plan")
        wishes = snapshot.wishes or Wishes()
        plan = small_plan(wishes)
        return {"plan": plan, **({} if snapshot.wishes else {"free_plan": plan})}

    def demand(self, snapshot: Snapshot, progress: Any, should_stop: Any) -> dict[str, Any]:
        return {}

    def backtest(self, snapshot: Snapshot, progress: Any, should_stop: Any) -> dict[str, Any]:
        self.calls.append("backtest")
        score = SimpleNamespace(name="wearplan", coverage_50=0.51, coverage_90=0.9, crps_mm=0.8, bias_mm=0.05, n=120)
        return {"backtest": SimpleNamespace(methods=(score,), sites=(), remarks=())}


CAUTIONS = (
    Caution(code="ground-fall", text="Ground can fall from the face in free air too."),
    Caution(code="isolate", text="Nobody in the chamber while the wheel can turn: isolate and lock out."),
)


def small_plan(wishes: Wishes) -> Plan:
    """Two stops; a wish makes it dearer."""
    change = Change(
        place="23", positions=(23,), zone="gauge", access="chamber", action="change", tool_type="disc-17", fitted="new",
        reason="limit", sentence="23 stands at 24.0 mm (limit 25.0 mm) at 1+100.0.", wear_mm=quantiles(24.0), limit_mm=25.0,
        left_until_m=1200.0, left_until_chainage_m=1300.0, over_limit_probability_if_left=0.62,
        over_damage_probability_if_left=0.04, hours=2.5, cost=3200.0,
        rests_on=("20260301T0600-aaaa0a", "20260303T0600-aaaa2a"), rings=(1, 600), basis="SG: readings; CL: readings",
    )  # fmt: skip
    forced = bool(wishes.forced_m or wishes.forced_windows)
    forbidden = bool(wishes.forbidden_m or wishes.forbidden_windows)

    def stop(driven_m: float, window: str, mode: str, bar: float) -> Stop:
        return Stop(
            driven_m=driven_m, chainage_m=driven_m + 100, ring=int(driven_m / 1.5), window=window, kind="treated block",
            mode=mode, pressure_bar=bar, pressure_source=None, hours=31.0, entries=3,
            entries_under_pressure=3 if bar else 0, person_hours_under_pressure=36.0 if bar else 0.0, person_hours=36.0,
            cost=92000.0, date=date(2026, 6, 1), schedule=(("set-up", 14.0), ("work", 17.0)), cautions=CAUTIONS,
            changes=(change,), not_seen_since=((24, None, None), (20, 660.0, "20260302T0600-aaaa1a")),
            reason="Gauge tools reach their limit before the river.", forced=forced, planning_only=True,
        )  # fmt: skip

    stops = (stop(1200.0, "rock 3", "free air", 0.0),)
    if not forbidden:
        stops = (stop(1005.0, "block [2]", "compressed air", 1.1), *stops)
    extra = 41000.0 if forced or forbidden else None
    return Plan(
        status="least_cost", expected_cost=180000.0 + (extra or 0.0), lower_bound=180000.0, gap=0.0,
        entries_under_pressure=3 if not forbidden else 0, person_hours_under_pressure=36.0 if not forbidden else 0.0,
        stops=stops,
        deferral=(
            Deferral(driven_m=1200.0, chainage_m=1300.0, window="rock 3", ahead_m=195.0, extra_cost=22000.0,
                     over_limit_probability=0.44, over_damage_probability=0.08, gauge_over_damage_probability=0.05,
                     extra_entries=0, drivers=(23, 24), note="past the river"),
        ),
        tradeoff=(
            Alternative(name="least cost", stops_m=(1005.0, 1200.0), stops_chainage_m=(1105.0, 1300.0),
                        windows=("block [2]", "rock 3"), expected_cost=180000.0, extra_cost=0.0, entries_under_pressure=3,
                        person_hours_under_pressure=36.0, changes=2),
            Alternative(name="no hours under pressure", stops_m=(1200.0,), stops_chainage_m=(1300.0,), windows=("rock 3",),
                        expected_cost=221000.0, extra_cost=41000.0, entries_under_pressure=0, person_hours_under_pressure=0.0,
                        changes=1),
        ),
        comparison=(
            Policy(code="every", name="every so many metres", rule="enter every 250 m", expected_cost=240000.0, sd_cost=30000.0,
                   mean_error=1500.0, p10_cost=205000.0, p90_cost=280000.0, over_limit_probability=0.5,
                   over_damage_probability=0.1, late_tools=0.3, stops=4.0, entries_under_pressure=9.0,
                   person_hours_under_pressure=100.0, tools=12.0, draws=400),
        ),
        model_holds=("caps by zone",), met_by_repair=("whole entries",), gap_belongs_to="the exact model",
        cautions=(Caution(code="plan", text="The law in force and the site's approved procedure decide."),),
        forced_extra_cost=extra, wishes=wishes,
    )  # fmt: skip
