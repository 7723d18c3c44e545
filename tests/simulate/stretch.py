"""Draws the turns of the wheel by ring, and what lies ahead of the face: windows, keep-outs, costs, stock."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from wearplan.site.records import (
    Costs,
    Drive,
    EntryRow,
    ForcedStop,
    KeepOut,
    Stock,
    Stops,
    Stores,
    Window,
)

from .blueprint import TrueSection
from .options import Options


def ring_turns(
    edges_m: np.ndarray, sections: Sequence[TrueSection], rng: np.random.Generator, *, spread: float = 0.07
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(turns while boring, idle turns, share counter-clockwise) by ring."""
    lengths = np.diff(edges_m)
    rings = len(lengths)
    noise = np.zeros(rings)
    for n in range(1, rings):
        noise[n] = 0.8 * noise[n - 1] + rng.normal(0.0, spread * 0.6)
    turns = np.zeros(rings)
    for section in sections:
        over = np.maximum(np.minimum(edges_m[1:], section.to_m) - np.maximum(edges_m[:-1], section.from_m), 0.0)
        if section.cut:
            turns += 1000.0 * over / (section.penetration_mm * np.exp(noise))
        else:
            turns += 1000.0 * over / 150.0
    idle = rng.gamma(1.2, 0.02, rings) * turns
    side = np.clip(0.5 + 0.12 * np.sin(np.arange(rings) / 7.0) + rng.normal(0.0, 0.1, rings), 0.0, 1.0)
    # rounded as logged, so that a site that reads them sees no other turns than the truth used
    return np.round(turns, 1), np.round(idle, 1), np.round(side, 2)


def draw_stops(options: Options, drive: Drive, rng: np.random.Generator) -> Stops:
    """Windows every so many metres from the face on, one keep-out, free and compressed air."""
    face_m = options.length_m * options.driven_share
    at = face_m + float(rng.uniform(5.0, 20.0))
    windows: list[Window] = []
    kinds = ("treated block", "competent ground", "shaft")
    while at < options.length_m - 15.0:
        at = round(at, 1)
        length = float(round(rng.uniform(4.0, 9.0), 1))
        end = round(at + length, 1)
        kind = kinds[int(rng.choice(3, p=[0.4, 0.4, 0.2]))]
        free = kind == "shaft" or (kind == "treated block" and rng.random() < 0.4)
        windows.append(
            Window(
                name=f"{kind} {len(windows) + 1}", kind=kind, from_m=at, to_m=end,
                from_chainage_m=round(drive.chainage_m(at), 3), to_chainage_m=round(drive.chainage_m(end), 3),
                mode="free air" if free else "compressed air",
                pressure_bar=0.0 if free else float(round(rng.uniform(0.8, 1.8), 1)), pressure_source="invented",
                setup_hours=float(round(rng.uniform(8.0, 24.0))),
                fixed_cost=40000.0 if kind == "treated block" else 5000.0 if kind == "competent ground" else 0.0,
            )
        )  # fmt: skip
        at += float(rng.uniform(0.6, 1.4)) * options.window_every_m
    keep: list[KeepOut] = []
    if len(windows) > 6:
        k = len(windows) // 2
        a, b = round(windows[k].to_m + 2.0, 1), round(windows[k + 1].from_m - 2.0, 1)
        if b - a > 10.0:
            keep.append(
                KeepOut(
                    from_m=a, to_m=b, from_chainage_m=round(drive.chainage_m(a), 3),
                    to_chainage_m=round(drive.chainage_m(b), 3), reason="below a canal",
                )
            )  # fmt: skip
    return Stops(
        costs=Costs(
            standstill_per_hour=options.standstill_per_hour, late_tool=options.late_tool,
            late_tool_per_m=options.late_tool_per_m,
        ),
        forced_stops=(
            ForcedStop(
                from_m=0.0, to_m=drive.length_m, hours=150.0, from_chainage_m=drive.start_chainage_m,
                to_chainage_m=drive.end_chainage_m,
            ),
        ),
        steps={"lower_level": 3.0, "air_support": 6.0, "clean_and_look": 2.0, "refill": 4.0},
        entry_rows=(
            EntryRow(
                mode="free air", up_to_pressure_bar=0.0, working_hours_per_entry=8.0, entries_per_day=3.0, persons=4,
                places=2, document="invented, not for use",
            ),
            EntryRow(
                mode="compressed air", up_to_pressure_bar=1.2, working_hours_per_entry=4.0, entries_per_day=3.0,
                persons=3, places=2, document="invented, not for use",
            ),
            EntryRow(
                mode="compressed air", up_to_pressure_bar=2.0, working_hours_per_entry=3.0, entries_per_day=3.0,
                persons=3, places=2, document="invented, not for use",
            ),
        ),
        windows=tuple(windows), keep_outs=tuple(keep),
    )  # fmt: skip


def draw_stores(start: date) -> Stores:
    """A store with something of everything."""
    return Stores(
        stock=(
            Stock(tool_type="disc-a", on_hand=12, in_rebuild=4), Stock(tool_type="disc-t", on_hand=3),
            Stock(tool_type="scr-a", on_hand=20), Stock(tool_type="bkt-a", on_hand=6),
        )
    )  # fmt: skip
