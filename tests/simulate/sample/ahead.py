"""Where the sample's drive may stop, what that costs, and what its store holds. Invented, not for use."""

from __future__ import annotations

from datetime import date

from wearplan.site.records import (
    Costs,
    Drive,
    EntryRow,
    ForcedStop,
    KeepOut,
    OnOrder,
    PartWorn,
    Stock,
    Stops,
    Stores,
    Window,
)

INVENTED = "invented example, not for use"
APPROVED = "face stability note, invented"

# name, kind, from and to in driven metres, mode, bar, source, set-up hours, fixed cost
WINDOWS: tuple[tuple[str, str, float, float, str, float, str | None, float, float], ...] = (
    ("shaft 1", "shaft", 300.0, 306.0, "free air", 0.0, APPROVED, 12.0, 0.0),
    ("block 2", "treated block", 640.0, 648.0, "free air", 0.0, APPROVED, 16.0, 0.0),
    ("shaft 3", "shaft", 1010.0, 1016.0, "free air", 0.0, APPROVED, 12.0, 0.0),
    ("mudstone reach", "competent ground", 1100.0, 1230.0, "free air", 0.0, APPROVED, 14.0, 0.0),
    ("till bench", "competent ground", 1804.0, 1815.0, "compressed air", 1.1, APPROVED, 18.0, 0.0),
    ("block 4", "treated block", 1878.0, 1884.0, "free air", 0.0, APPROVED, 16.0, 62000.0),
    ("meadow pad", "other", 1938.0, 1944.0, "compressed air", 1.4, APPROVED, 20.0, 8000.0),
    ("vent shaft 4", "shaft", 2001.0, 2007.0, "free air", 0.0, APPROVED, 12.0, 15000.0),
    ("north bank block", "treated block", 2082.0, 2090.0, "compressed air", 1.8, APPROVED, 18.0, 48000.0),
    ("south bank block", "treated block", 2292.0, 2298.0, "compressed air", 2.0, APPROVED, 18.0, 48000.0),
    ("sandstone cap", "competent ground", 2311.0, 2321.0, "free air", 0.0, APPROVED, 14.0, 0.0),
    ("deep pad", "other", 2340.0, 2344.0, "compressed air", 2.4, APPROVED, 24.0, 0.0),
    ("quarry lane", "competent ground", 2402.0, 2411.0, "compressed air", 1.5, None, 18.0, 0.0),
    ("mudstone south", "competent ground", 2494.0, 2506.0, "free air", 0.0, APPROVED, 14.0, 0.0),
    ("orchard pad", "other", 2604.0, 2610.0, "compressed air", 1.2, APPROVED, 20.0, 5000.0),
    ("vent shaft 5", "shaft", 2667.0, 2673.0, "free air", 0.0, APPROVED, 12.0, 15000.0),
    ("till south", "competent ground", 2750.0, 2762.0, "compressed air", 0.9, APPROVED, 18.0, 0.0),
    ("works yard", "treated block", 2856.0, 2862.0, "compressed air", 1.0, APPROVED, 18.0, 30000.0),
    ("reception block", "treated block", 2940.0, 2948.0, "free air", 0.0, APPROVED, 16.0, 20000.0),
)

KEEP_OUTS = ((1450.0, 1475.0, "below the railway"), (2096.0, 2286.0, "below the river"))
FORCED = ((0.0, 2074.0, 170.0), (2074.0, 2297.0, 700.0), (2297.0, 3000.0, 190.0))


def stops(drive: Drive) -> Stops:
    def at(driven_m: float) -> float:
        return round(drive.chainage_m(driven_m), 3)

    return Stops(
        costs=Costs(
            standstill_per_hour=2400.0, late_tool=18000.0, late_tool_per_m=60.0, compressed_air_per_person_hour=60.0,
            max_compressed_air_entries=60,
        ),
        forced_stops=tuple(
            ForcedStop(from_m=a, to_m=b, hours=h, from_chainage_m=at(a), to_chainage_m=at(b)) for a, b, h in FORCED
        ),
        steps={"lower_level": 4.0, "air_support": 8.0, "clean_and_look": 3.0, "refill": 5.0},
        entry_rows=tuple(
            EntryRow(
                mode=mode, up_to_pressure_bar=bar, working_hours_per_entry=hours, entries_per_day=day, persons=persons,
                places=places, document=INVENTED, approved_by="nobody: " + INVENTED, approved_on=date(2026, 2, 2),
            )
            for mode, bar, hours, day, persons, places in (
                ("free air", 0.0, 8.0, 3.0, 4, 2),
                ("compressed air", 1.2, 4.0, 3.0, 3, 2),
                ("compressed air", 1.6, 3.0, 3.0, 3, 2),
                ("compressed air", 2.1, 2.0, 3.0, 3, 2),
            )
        ),
        windows=tuple(
            Window(
                name=name, kind=kind, from_m=a, to_m=b, from_chainage_m=at(a), to_chainage_m=at(b), mode=mode,
                pressure_bar=bar, pressure_source=source, setup_hours=setup, fixed_cost=cost,
            )
            for name, kind, a, b, mode, bar, source, setup, cost in WINDOWS
        ),
        keep_outs=tuple(
            KeepOut(from_m=a, to_m=b, from_chainage_m=at(a), to_chainage_m=at(b), reason=why) for a, b, why in KEEP_OUTS
        ),
    )  # fmt: skip


def stores() -> Stores:
    return Stores(
        no_stockout_probability=0.95, review_days=7.0, holding_per_year=0.15, hurry_factor=1.6,
        stock=(
            Stock(
                tool_type="disc-17", on_hand=14, in_rebuild=6,
                part_worn=(PartWorn(serial="D-0905", wear_mm=7.0), PartWorn(serial="D-0917", wear_mm=11.5)),
                on_order=(OnOrder(quantity=20, due=date(2027, 1, 18), due_doubt_days=10.0),),
            ),
            Stock(
                tool_type="disc-17-wide", on_hand=9, in_rebuild=5,
                part_worn=(PartWorn(serial="D-0933", wear_mm=6.0),),
                on_order=(OnOrder(quantity=12, due=date(2026, 12, 14), due_doubt_days=7.0),),
            ),
            Stock(tool_type="disc-17-twin", on_hand=2, in_rebuild=1),
            Stock(tool_type="scraper-flat", on_hand=18),
            Stock(
                tool_type="scraper-studded", on_hand=8,
                on_order=(OnOrder(quantity=16, due=date(2027, 1, 11), due_doubt_days=5.0),),
            ),
            Stock(tool_type="bucket-left", on_hand=5),
            Stock(tool_type="bucket-right", on_hand=3),
        ),
    )  # fmt: skip
