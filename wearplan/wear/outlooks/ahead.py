"""The drive ahead: which ground each tool will meet, how far it travels in it, and the doubt in both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.wear.evidence.paths import crosses
from wearplan.wear.evidence.readings import Floats

if TYPE_CHECKING:
    from wearplan.site.records import Section, Site
    from wearplan.wear.regression.ground_effect import Warp
    from wearplan.wheel import Layout

GIVEN_PENETRATION_SD, GUESSED_PENETRATION_SD = 0.10, 0.20
"""Doubt (sd of the log) in a section's mean penetration, stated by the site or taken from other sections: judgement,
the first corrected by how right the site has been so far."""
COMMON_PENETRATION_SD = 0.03
RING_PENETRATION_SD, RINGS_ALIKE = 0.10, 8.0
"""Scatter of single rings about their section's penetration, and how many in a row go together: judgement."""
RECENT_RINGS = 150


@dataclass(frozen=True, kw_only=True)
class Ahead:
    """Exposure to come of the tools in place, by section."""

    face_m: float
    end_m: float
    ends_m: Floats
    """(S,) where each section ends; the last holds to the end of the drive."""
    ends_sd_m: Floats
    first: int
    """Index of the first of these sections in the ground file."""
    path_km_per_m: Floats
    """(P, S, U) path per metre driven."""
    layered_turns_per_m: Floats
    """(P, S) thousands of turns per metre driven that lead from one layer into another."""
    penetration_mm: Floats
    """(S,)"""
    penetration_sd: Floats
    """(S,) of the log."""
    cut: Floats
    """(S,) bool."""

    def draw(
        self, count: int, grid_m: Floats, rng: np.random.Generator, shift_m: Floats, warp: Warp | None = None
    ) -> tuple[Floats, Floats]:
        """Metres driven in each section from the face to each point of the grid, (count, G, S), and as tools feel them.

        Boundaries move by ``shift_m`` (count, sections of the ground), kept in order; a section's metres are weighted
        by what its penetration turns out to be against what is expected, since path goes with its inverse;
        ``warp`` adds what stretches wear tools by.
        """
        sections = len(self.ends_m)
        ends = self.ends_m + shift_m[:, self.first : self.first + sections]
        ends = np.maximum.accumulate(np.maximum(ends, self.face_m), axis=1)
        ends[:, -1] = np.inf
        starts = np.c_[np.full(count, self.face_m), ends[:, :-1]]
        grid = np.asarray(grid_m, float)[None, :, None]
        metres = np.minimum(grid, ends[:, None, :]) - np.minimum(grid, starts[:, None, :])
        log = COMMON_PENETRATION_SD * rng.standard_normal((count, 1))
        log = log + self.penetration_sd * rng.standard_normal((count, sections))
        turns = np.exp(log)[:, None, :]
        if warp is None:
            return metres * turns, metres * turns
        felt = warp.metres(np.minimum(grid, ends[:, None, :])) - warp.metres(np.minimum(grid, starts[:, None, :]))
        return metres * turns, felt * turns


def look_at_drive(site: Site, layout: Layout, units: Sequence[str], rings: Any, face_m: float) -> Ahead:
    """Sections from the face to the end of the drive, with the penetration expected in each.

    Penetration is what the section states; else what the rings driven so far showed in ground that shares most with
    it. The share of turns each way goes on as in the last rings. Idle turns are in no unit and count no wear, as in
    the past.
    """
    from wearplan.ground import path_shares
    from wearplan.wheel import kinematics

    ground = site.ground()
    assert ground is not None
    end_m = site.drive.length_m
    # a section that should have ended may, within its doubt, still go on
    begun = [k for k, section in enumerate(ground.sections) if section.to_m + 3.0 * section.boundary_sd_m > face_m]
    first = begun[0] if begun else len(ground.sections) - 1
    sections = [s for s in ground.sections[first:] if s.from_m < max(end_m, face_m + 1.0)] or [ground.sections[-1]]
    bore_radius_m = 0.5 * site.wheel.bore_diameter_m
    measured = _measured_penetration(ground.sections, units, rings, bore_radius_m)
    bias, given_sd = _stated_against_measured(site, rings)
    penetration, doubt = [], []
    for section in sections:
        if section.penetration_mm_per_rev:
            guess, sd = section.penetration_mm_per_rev * float(np.exp(bias)), given_sd
        else:
            guess, sd = _like(_shares(section, units, bore_radius_m), measured), GUESSED_PENETRATION_SD
        # a section already begun shows its own penetration
        so_far, rings_in = _measured_in(section, rings)
        if so_far is not None:
            weight_seen = rings_in / (RINGS_ALIKE * RING_PENETRATION_SD**2)
            weight_guess = sd**-2.0
            share = weight_seen / (weight_seen + weight_guess)
            guess = float(np.exp(share * np.log(so_far) + (1.0 - share) * np.log(guess)))
            sd = (weight_seen + weight_guess) ** -0.5
        penetration.append(guess)
        doubt.append(sd)
    p = np.array(penetration, float)
    recent = slice(-RECENT_RINGS, None)
    ccw = float(np.mean(rings.ccw_share[recent])) if len(rings.start_m) else 0.5
    ccw = ccw if np.isfinite(ccw) else 0.5
    ways = np.array([{"cw": 1.0 - ccw, "ccw": ccw}.get(position.cuts, 1.0) for position in layout.positions])
    radius = layout.track_radius_mm
    paths = np.empty((len(radius), len(sections), len(units)))
    strikes = np.empty((len(radius), len(sections)))
    for s, section in enumerate(sections):
        per_m = kinematics.path_m(turns=1000.0 / p[s], track_radius_mm=radius, penetration_mm=p[s]) / 1000.0
        paths[:, s, :] = (per_m * ways)[:, None] * path_shares(section, track_radius_mm=radius, units=units)
        strikes[:, s] = ways * crosses(section, radius, units) / p[s]
    return Ahead(
        face_m=face_m, end_m=end_m, ends_m=np.array([section.to_m for section in sections], float),
        first=first, ends_sd_m=np.array([section.boundary_sd_m for section in sections], float), path_km_per_m=paths,
        layered_turns_per_m=strikes,
        penetration_mm=p, penetration_sd=np.array(doubt), cut=np.array([section.cut for section in sections]),
    )  # fmt: skip


def _shares(section: Section, units: Sequence[str], bore_radius_m: float) -> Floats:
    from wearplan.ground import volume_shares

    return np.asarray(volume_shares(section, bore_radius_m=bore_radius_m, units=units))


def _measured_in(section: Section, rings: Any) -> tuple[float | None, int]:
    """Mean penetration of the logged rings bored in a section, and how many they are."""
    if not section.cut or not len(rings.start_m):
        return None, 0
    middle = 0.5 * (np.asarray(rings.start_m) + np.asarray(rings.end_m))
    inside = (middle >= section.from_m) & (middle < section.to_m) & ~np.asarray(rings.imputed)
    turns = float(np.asarray(rings.turns_boring)[inside].sum())
    if turns <= 0:
        return None, 0
    length = float((np.asarray(rings.end_m) - np.asarray(rings.start_m))[inside].sum())
    return 1000.0 * length / turns, int(inside.sum())


def _measured_penetration(
    sections: Sequence[Section], units: Sequence[str], rings: Any, bore_radius_m: float
) -> list[tuple[Floats, float, float]]:
    """(shares, penetration, rings) of the sections driven."""
    found = [(section, *_measured_in(section, rings)) for section in sections]
    return [(_shares(section, units, bore_radius_m), p, float(count)) for section, p, count in found if p is not None]


def _stated_against_measured(site: Site, rings: Any) -> tuple[float, float]:
    """Mean and sd of log(measured / stated) penetration over the sections driven, leaning on `GIVEN_PENETRATION_SD`.

    Every ground file counts: an early one shows how right a statement was while it was still ahead.
    """
    off = []
    face = float(rings.end_m[-1]) if len(rings.start_m) else 0.0
    for ground in site.grounds:
        for section in ground.sections:
            if section.penetration_mm_per_rev and section.to_m <= face:
                measured, count = _measured_in(section, rings)
                if measured is not None and count >= 5:
                    off.append(np.log(measured / section.penetration_mm_per_rev))
    errors = np.array(off)
    bias = float(errors.sum() / (len(errors) + 4.0)) if len(errors) else 0.0
    spread = float(((errors - bias) ** 2).sum()) if len(errors) else 0.0
    return bias, float(np.sqrt((4.0 * GIVEN_PENETRATION_SD**2 + spread) / (4.0 + len(errors))))


def _like(mine: Floats, measured: list[tuple[Floats, float, float]], fallback: float = 12.0) -> float:
    """Penetration of driven ground, weighted by how much of it is the same and by its length."""
    if not measured:
        return fallback
    weight = np.array([(np.minimum(mine, shares).sum() + 0.02) ** 2 * metres for shares, _, metres in measured])
    return float(np.exp(np.average(np.log([p for _, p, _ in measured]), weights=weight)))
