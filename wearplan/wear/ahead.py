"""The drive ahead: which ground each tool will meet, how far it travels in it, and the doubt in both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from .readings import Floats

if TYPE_CHECKING:
    from wearplan.site.records import Section, Site
    from wearplan.wheel import Layout

GIVEN_PENETRATION_SD, GUESSED_PENETRATION_SD = 0.08, 0.18
"""Doubt (sd of the log) in a section's mean penetration, stated by the site or taken from rings driven: judgement."""
COMMON_PENETRATION_SD = 0.05
RECENT_RINGS = 150


@dataclass(frozen=True, kw_only=True)
class Ahead:
    """Exposure to come of the tools in place, by section."""

    face_m: float
    end_m: float
    ends_m: Floats
    """(S,) where each section ends; the last holds to the end of the drive."""
    ends_sd_m: Floats
    path_km_per_m: Floats
    """(P, S, U) path per metre driven."""
    penetration_mm: Floats
    """(S,)"""
    penetration_sd: Floats
    """(S,) of the log."""
    cut: Floats
    """(S,) bool."""

    def draw(self, count: int, grid_m: Floats, rng: np.random.Generator) -> Floats:
        """Metres driven in each section from the face to each point of the grid, (count, G, S).

        Boundaries move by their doubt (kept in order); a section's metres are weighted by what its penetration
        turns out to be against what is expected, since path goes with its inverse.
        """
        sections = len(self.ends_m)
        ends = self.ends_m + self.ends_sd_m * rng.standard_normal((count, sections))
        ends = np.maximum.accumulate(np.maximum(ends, self.face_m), axis=1)
        ends[:, -1] = np.inf
        starts = np.c_[np.full(count, self.face_m), ends[:, :-1]]
        grid = np.asarray(grid_m, float)[None, :, None]
        metres = np.minimum(grid, ends[:, None, :]) - np.minimum(grid, starts[:, None, :])
        log = COMMON_PENETRATION_SD * rng.standard_normal((count, 1))
        log = log + self.penetration_sd * rng.standard_normal((count, sections))
        return metres * np.exp(log)[:, None, :]


def look_at_drive(site: Site, layout: Layout, units: Sequence[str], rings: Any, face_m: float) -> Ahead:
    """Sections from the face to the end of the drive, with the penetration expected in each.

    Penetration is what the section states; else what the rings driven so far showed in ground that shares most with it.
    Idle turns (path without advance) and the share of turns each way go on as in the last rings.
    """
    from wearplan.ground import path_shares
    from wearplan.wheel import kinematics

    ground = site.ground()
    assert ground is not None
    end_m = site.drive.length_m
    sections = [
        section for section in ground.sections
        if section.to_m + 3.0 * section.boundary_sd_m > face_m and section.from_m < max(end_m, face_m + 1.0)
    ] or [ground.sections[-1]]  # fmt: skip
    measured = _measured_penetration(ground.sections, units, rings)
    penetration, doubt = [], []
    for section in sections:
        if section.penetration_mm_per_rev:
            penetration.append(section.penetration_mm_per_rev)
            doubt.append(GIVEN_PENETRATION_SD)
        else:
            penetration.append(_like(section, units, measured))
            doubt.append(GUESSED_PENETRATION_SD)
    p = np.array(penetration, float)
    recent = slice(-RECENT_RINGS, None)
    boring = float(np.sum(rings.turns_boring[recent])) if len(rings.start_m) else 0.0
    idle = float(np.sum(rings.turns_idle[recent])) / boring if boring > 0 else 0.0
    ccw = float(np.mean(rings.ccw_share[recent])) if len(rings.start_m) else 0.5
    ccw = ccw if np.isfinite(ccw) else 0.5
    ways = np.array([{"cw": 1.0 - ccw, "ccw": ccw}.get(position.cuts, 1.0) for position in layout.positions])
    radius = layout.track_radius_mm
    paths = np.empty((len(radius), len(sections), len(units)))
    for s, section in enumerate(sections):
        per_m = kinematics.path_m(turns=1000.0 / p[s], track_radius_mm=radius, penetration_mm=p[s]) / 1000.0
        per_m = per_m * (1.0 + idle) * ways
        paths[:, s, :] = per_m[:, None] * path_shares(section, track_radius_mm=radius, units=units)
    return Ahead(
        face_m=face_m, end_m=end_m, ends_m=np.array([section.to_m for section in sections], float),
        ends_sd_m=np.array([section.boundary_sd_m for section in sections], float), path_km_per_m=paths,
        penetration_mm=p, penetration_sd=np.array(doubt), cut=np.array([section.cut for section in sections]),
    )  # fmt: skip


def _shares(section: Section, units: Sequence[str]) -> Floats:
    from wearplan.ground import volume_shares

    return np.asarray(volume_shares(section, bore_radius_m=3.0, units=units))


def _measured_penetration(sections: Sequence[Section], units: Sequence[str], rings: Any) -> list[tuple[Floats, float, float]]:
    """(shares, penetration, metres) of the sections driven."""
    out = []
    if not len(rings.start_m):
        return out
    middle = 0.5 * (np.asarray(rings.start_m) + np.asarray(rings.end_m))
    length = np.asarray(rings.end_m) - np.asarray(rings.start_m)
    for section in sections:
        inside = (middle >= section.from_m) & (middle < section.to_m) & ~np.asarray(rings.imputed)
        turns = float(np.asarray(rings.turns_boring)[inside].sum())
        if section.cut and turns > 0:
            out.append((_shares(section, units), 1000.0 * float(length[inside].sum()) / turns, float(length[inside].sum())))
    return out


def _like(section: Section, units: Sequence[str], measured: list[tuple[Floats, float, float]], fallback: float = 12.0) -> float:
    """Penetration of driven ground, weighted by how much of it is the same and by its length."""
    if not measured:
        return fallback
    mine = _shares(section, units)
    weight = np.array([(np.minimum(mine, shares).sum() + 0.02) ** 2 * metres for shares, _, metres in measured])
    return float(np.exp(np.average(np.log([p for _, p, _ in measured]), weights=weight)))
