"""What tools travelled from the start of their life up to some point, and the turns they made through layered faces."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.site.records import ZONES, Section, Site

from .readings import Floats

if TYPE_CHECKING:
    from wearplan.history import Life


Stint = tuple[int, Any, float, float]


def life_paths(
    site: Site, lives: Sequence[Life], exposure: Any, until_m: Sequence[float], *, weight: Floats | None = None
) -> Floats:
    """Path (L, Z * U) of each life from its start to ``until_m``, by zone and unit; each ring's path times its
    weight."""
    out = np.zeros((len(lives), len(ZONES), len(exposure.units)))
    for cuts, rows, zone, stretch in by_way(stints_of(site, lives, until_m)):
        if weight is None:
            path = exposure.path_km(**stretch, cuts=cuts)
        else:
            path = exposure.weighted_path_km(weight, **stretch, cuts=cuts)
        np.add.at(out, (rows, zone), path)
    return out.reshape(len(lives), len(ZONES) * len(exposure.units))


def layered_turns(site: Site, lives: Sequence[Life], exposure: Any, until_m: Sequence[float]) -> Floats:
    """Thousands of turns (L, Z) of each life from its start to ``until_m`` that led from one layer into another.

    Counted are the turns a tool cuts in, in layered sections whose layers its own circle meets.
    """
    out = np.zeros((len(lives), len(ZONES)))
    sections = exposure.ground.sections if exposure.ground is not None else ()
    stints = stints_of(site, lives, until_m)
    for section in sections:
        if not section.strata:
            continue
        inside = [
            (row, position, max(low, section.from_m), min(high, section.to_m))
            for row, position, low, high in stints
            if low < section.to_m and high > section.from_m
        ]
        for cuts, rows, zone, stretch in by_way(inside):
            radius = stretch["track_radius_mm"]
            path = exposure.path_km(**stretch, cuts=cuts).sum(axis=1)
            # km of path over the metres of one turn; the pitch of the helix is lost in rounding at such radii
            turns = path / (2e-3 * np.pi * np.maximum(radius, 1.0))
            np.add.at(out, (rows, zone), turns * crosses(section, radius, exposure.units))
    return out


def crosses(section: Section, radius_mm: Floats, units: Sequence[str]) -> Floats:
    """Whether (P,) a tool at each radius meets more than one layer of the section in a turn."""
    from wearplan.ground import path_shares

    if not section.strata or not section.cut:
        return np.zeros(len(radius_mm), bool)
    shares = path_shares(section, track_radius_mm=radius_mm, units=units)
    return np.asarray(shares.max(axis=1) < 1.0 - 1e-9)


def stints_of(site: Site, lives: Sequence[Life], until_m: Sequence[float]) -> list[Stint]:
    """(index of the life, position, from, to) in driven metres, as far as each life is asked about."""
    found = []
    for index, (life, until) in enumerate(zip(lives, until_m, strict=True)):
        for stint in life.stints:
            low, high = stint.from_m, min(until, until if stint.to_m is None else stint.to_m)
            if high > low:
                found.append((index, site.wheel.position(stint.position), low, high))
    return found


def by_way(stints: Sequence[Stint]) -> Iterator[tuple[str, Any, Any, dict[str, Floats]]]:
    """For each way of cutting: the way, lives (R,), zones (R,), and the stretches as exposure takes them."""
    for cuts in dict.fromkeys(position.cuts for _, position, _, _ in stints):
        mine = [stint for stint in stints if stint[1].cuts == cuts]
        rows = np.array([row for row, _, _, _ in mine])
        zone = np.array([ZONES.index(position.zone) for _, position, _, _ in mine])
        stretch = {
            "track_radius_mm": np.array([position.track_radius_mm for _, position, _, _ in mine]),
            "from_m": np.array([low for _, _, low, _ in mine]),
            "to_m": np.array([high for _, _, _, high in mine]),
        }
        yield cuts, rows, zone, stretch
