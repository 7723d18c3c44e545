"""Puts the sample together: truth, crew, the log with its gaps, the texts of the folder."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from tests.simulate.blueprint import Blueprint
from tests.simulate.options import Options
from tests.simulate.process import Process
from tests.simulate.run import Run
from tests.simulate.stretch import ring_turns
from tests.simulate.world import Truth
from tests.simulate.write import folder_texts, write_folder
from wearplan.site.records import Drive, LayoutChange, Pace, RingRow, Site

from . import ahead, ground, machine
from .crew import SampleCrew

SEED = 20261120
RINGS = 1200
LAST_STOP_RING = 1172
BOULDER_RINGS = (437, 541, 1190)
START = "2026-05-29"
MISSING = (214, 215, 216, 611, 612, 613, 614, 977)
DOUBLED = 615
SPOILT = {(902, "revolutions_boring"): "n/a"}
RETYPED = {31: "disc-17-wide", 32: "disc-17-wide"}
"""Places that got a wide ring when first changed in the gravel."""

HEADS = {
    "site.toml": "An invented drive. Nothing in this folder was measured anywhere; use none of its figures.",
    "wheel.toml": "The wheel, from the centre out: discs 1-52, scrapers 61-100, bucket tools 111-126.",
    "stops.toml": "Where the drive may stop and what that costs. Entry rows and pressures are INVENTED, NOT FOR USE:\n"
    "a site writes its own approved figures here, with the document they come from.",
    "stores.toml": "The store, counted on Friday evening.",
}


@dataclass(frozen=True)
class Sample:
    """The sample's site in memory (rings as logged) and the truth behind it."""

    site: Site
    truth: Truth


def blueprint() -> Blueprint:
    rng = np.random.default_rng([SEED, 1])
    drive = Drive(start_chainage_m=180.0, end_chainage_m=3180.0, ring_length_m=1.5, face_ahead_of_ring_m=9.0)
    pace = Pace(
        advance_m_per_day=13.5, advance_doubt=0.2, working_days_per_week=6,
        holidays=(date(2026, 12, 24), date(2026, 12, 25), date(2026, 12, 26), date(2027, 1, 1)),
    )  # fmt: skip
    sections = ground.true_sections()
    edges = np.arange(2001) * 1.5
    turns, idle, side = ring_turns(edges, sections, rng, spread=0.08)
    regime = tuple("half chamber" if 1020.0 < edge < 1415.0 else "full chamber" for edge in edges[:-1])
    days = (date(2025, 10, 15), date(2026, 8, 3), date(2026, 11, 16))
    return Blueprint(
        name="Quernby crossing (invented)",
        options=Options(
            missing_rings=0, doubled_rings=0, theta_mm=0.08, swap_share=0.03, missed_share=0.15, go_no_go_share=0.05,
            gauge_sd_mm=0.5, boldness=0.92,
        ),
        drive=drive, pace=pace, wheel=machine.wheel(), units=ground.TRUE_UNITS, sections=sections,
        zone_factor={
            "disc": {"face": 1.0, "gauge": 1.35, "centre": 2.4},
            "scraper": {"face": 1.0, "gauge": 1.2, "centre": 1.0},
            "bucket tool": {"face": 1.0, "gauge": 1.3, "centre": 1.0},
        },
        damage_zone_factor={"face": 1.0, "gauge": 1.4, "centre": 1.2},
        grounds=ground.grounds(drive, rng, days), ring_edges_m=edges, turns=turns, idle_turns=idle, ccw_share=side,
        regime=regime, boulder_rings=BOULDER_RINGS, stops=ahead.stops(drive), stores=ahead.stores(), start=START,
    )  # fmt: skip


def logged(rows: tuple[RingRow, ...]) -> tuple[RingRow, ...]:
    """The ring log as the machine left it."""
    kept = [row for row in rows if row.ring not in MISSING]
    at = next(k for k, row in enumerate(kept) if row.ring == DOUBLED)
    return (*kept[: at + 1], *kept[at:])


def build() -> Sample:
    """The sample up to its face."""
    process = Process(blueprint(), np.random.default_rng([SEED, 2]))
    run = Run(process, np.random.default_rng([SEED, 3]))
    run.tells_of_metal = True
    crew = SampleCrew(run, np.random.default_rng([SEED, 4]))
    crew.drive_sample(RINGS, last_stop_ring=LAST_STOP_RING, retype_at=560, retypes=RETYPED)
    changes = tuple(
        LayoutChange(from_chainage_m=i.chainage_m, from_m=i.driven_m, position=f.position, tool_type=f.new_tool_type)
        for i in run.inspections
        for f in i.fittings
        if f.new_tool_type
    )
    site = run.site()
    site = replace(
        site, currency="EUR", jurisdiction="GB", wheel=replace(site.wheel, layout_changes=changes),
        rings=logged(site.rings),
    )  # fmt: skip
    return Sample(site, Truth(run))


def texts() -> dict[str, str]:
    """All files of the folder by name."""
    return folder_texts(build().site, spoilt=SPOILT, heads=HEADS)


def write(folder: Path) -> None:
    write_folder(build().site, folder, spoilt=SPOILT, heads=HEADS)
