"""The truth a world is run from: wheel, ground as it is, process, log of turns. Plain records, no behaviour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from wearplan.site.records import Drive, Ground, Pace, Stops, Stores, Wheel

from .options import Options


@dataclass(frozen=True, kw_only=True)
class TrueUnit:
    """A unit as it is: what it truly costs each kind of tool."""

    code: str
    mm_per_km: Mapping[str, float]
    """By kind, for a face tool of life factor 1."""
    damage_per_1000_km: Mapping[str, float] = field(default_factory=dict)
    """By kind, for a face tool."""
    penetration_mm: float = 20.0


@dataclass(frozen=True, kw_only=True)
class TrueSection:
    """A stretch of ground as it is, between its true boundaries."""

    from_m: float
    to_m: float
    mix: Mapping[str, float] = field(default_factory=dict)
    strata: tuple[tuple[str, float | None], ...] = ()
    """(unit, top above the axis in metres) from the crown down; None for the first."""
    cut: bool = True
    penetration_mm: float = 20.0


@dataclass(frozen=True, kw_only=True)
class Blueprint:
    """Everything that does not depend on what the crew decides."""

    name: str
    invented: bool = True
    options: Options
    drive: Drive
    pace: Pace
    wheel: Wheel
    units: tuple[TrueUnit, ...]
    sections: tuple[TrueSection, ...]
    zone_factor: Mapping[str, Mapping[str, float]]
    """Wear by kind and zone against zone face."""
    damage_zone_factor: Mapping[str, float]
    grounds: tuple[tuple[float, Ground], ...]
    """(driven metres from which it is known, ground)."""
    ring_edges_m: np.ndarray
    """(N + 1,) ends of the rings in driven metres, the first is 0."""
    turns: np.ndarray
    idle_turns: np.ndarray
    ccw_share: np.ndarray
    regime: tuple[str, ...] = ()
    """By ring, as logged; empty: not logged."""
    hidden_factor: np.ndarray | None = None
    """(N,) factor on wear that nothing in the log shows; (N, U) where each unit has its own."""
    boulder_rings: tuple[int, ...] = ()
    """Ring indices (from 0) where boulders break tools at once."""
    stops: Stops | None = None
    stores: Stores | None = None
    start: str = "2025-01-06"
    """Date of the first ring."""
